//! What is written is read back: exactly where the format can hold it, within half a step of the
//! integer formats otherwise.

use proptest::prelude::*;
use reedcrow::take::wav::{self, SampleFormat};
use reedcrow::take::{Channel, read};
use tempfile::TempDir;

/// The largest error of a rounded sample within ±1, one step less than full scale included.
fn tolerance(format: SampleFormat) -> f32 {
    match format {
        SampleFormat::U8 => 1.0 / 128.0,
        SampleFormat::I16 => 1.0 / 32_768.0,
        // One step of 24 bits; an f32 near 1 has steps of half that.
        SampleFormat::I24 | SampleFormat::I32 => 1.0 / 8_388_608.0,
        SampleFormat::F32 | SampleFormat::F64 => 0.0,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_written_take_reads_back_the_same(
        samples in prop::collection::vec(-1.0f32..1.0, 1..400),
        rate_hz in 8_000u32..=192_000,
        which in 0usize..6,
    ) {
        let folder = TempDir::new().unwrap();
        let path = folder.path().join("take.wav");
        let format = SampleFormat::ALL[which];
        wav::write(&path, &samples, rate_hz, 1, format).unwrap();
        let take = read(&path, Channel::Strongest).unwrap();
        prop_assert_eq!(take.sample_rate_hz, rate_hz);
        prop_assert_eq!(take.samples.len(), samples.len());
        prop_assert!(!take.faults.cut_off);
        for (read, written) in take.samples.iter().zip(&samples) {
            prop_assert!((read - written).abs() <= tolerance(format), "{} {}", read, written);
        }
    }

    #[test]
    fn each_channel_reads_back_as_itself(
        frames in prop::collection::vec(prop::array::uniform5(-1.0f32..1.0), 1..80),
        channel in 1u16..=5,
    ) {
        let folder = TempDir::new().unwrap();
        let path = folder.path().join("take.wav");
        let samples: Vec<f32> = frames.iter().flatten().copied().collect();
        wav::write(&path, &samples, 48_000, 5, SampleFormat::F32).unwrap();
        let take = read(&path, Channel::Number(channel)).unwrap();
        let expected: Vec<f32> =
            frames.iter().map(|frame| frame[usize::from(channel) - 1]).collect();
        prop_assert_eq!(take.samples, expected);
    }
}
