//! hound 3.5.1 writes, we read; we write, hound reads. Integer samples must agree exactly: both
//! hold the same integers.

use std::io::Cursor;

use hound::{SampleFormat as Form, WavReader, WavSpec, WavWriter};
use reedcrow::take::Channel;
use reedcrow::take::wav::{self, SampleFormat};
use tempfile::TempDir;

use crate::read;

/// Integers over the whole range of a word of `bits`, the extremes among them.
fn integers(bits: u16) -> Vec<i32> {
    let half = 1i64 << (bits - 1);
    let steps = (0..200).map(|step| -half + step * (2 * half - 1) / 199);
    steps.map(|value| value as i32).collect()
}

#[test]
fn integers_that_hound_wrote_are_read_exactly() {
    for (bits, channels) in [(8, 1), (16, 1), (16, 2), (24, 1), (24, 3), (32, 1), (32, 6)] {
        let spec = WavSpec {
            channels,
            sample_rate: 44_100,
            bits_per_sample: bits,
            sample_format: Form::Int,
        };
        let mut file = Cursor::new(Vec::new());
        let mut writer = WavWriter::new(&mut file, spec).unwrap();
        let values = integers(bits);
        for &value in &values {
            for channel in 0..channels {
                // The second channel is the strongest of those it has.
                writer
                    .write_sample(if channel == channels.min(2) - 1 { value } else { 0 })
                    .unwrap();
            }
        }
        writer.finalize().unwrap();
        let take = read(file.into_inner(), Channel::Strongest).unwrap();
        assert_eq!((take.sample_rate_hz, take.channels), (44_100, channels));
        assert_eq!(take.channel, channels.min(2));
        let scale = f64::from(bits - 1).exp2();
        let expected: Vec<f32> =
            values.iter().map(|&value| (f64::from(value) / scale) as f32).collect();
        assert_eq!(take.samples, expected, "{bits} bits, {channels} channels");
        assert!(!take.faults.cut_off);
    }
}

#[test]
fn floats_that_hound_wrote_are_read_exactly() {
    let spec = WavSpec {
        channels: 1,
        sample_rate: 96_000,
        bits_per_sample: 32,
        sample_format: Form::Float,
    };
    let mut file = Cursor::new(Vec::new());
    let mut writer = WavWriter::new(&mut file, spec).unwrap();
    let values = [0.0, 1.0, -1.0, 0.1, 1.5, f32::MIN_POSITIVE];
    values.iter().for_each(|&value| writer.write_sample(value).unwrap());
    writer.finalize().unwrap();
    assert_eq!(read(file.into_inner(), Channel::Strongest).unwrap().samples, values);
}

#[test]
fn hound_reads_what_is_written_here() {
    let folder = TempDir::new().unwrap();
    let samples = [0.0, 0.5, -0.5, -1.0, 0.25, 0.99];
    for format in SampleFormat::ALL.into_iter().filter(|&format| format != SampleFormat::F64) {
        for channels in [1, 2, 3] {
            let path = folder.path().join("take.wav");
            wav::write(&path, &samples, 48_000, channels, format).unwrap();
            let mut reader = WavReader::open(&path).unwrap();
            let spec = reader.spec();
            assert_eq!((spec.channels, spec.sample_rate), (channels, 48_000), "{format:?}");
            assert_eq!(usize::from(spec.bits_per_sample), 8 * format.bytes());
            assert_eq!(reader.len() as usize, samples.len());
            if format.is_float() {
                let read: Vec<f32> = reader.samples().map(Result::unwrap).collect();
                assert_eq!(read, samples);
            } else {
                let scale = f64::from(spec.bits_per_sample - 1).exp2();
                let read: Vec<i32> = reader.samples().map(Result::unwrap).collect();
                let expected: Vec<i32> =
                    samples.iter().map(|&s| (f64::from(s) * scale).round() as i32).collect();
                assert_eq!(read, expected, "{format:?}");
            }
        }
    }
}
