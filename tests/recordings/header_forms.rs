//! The forms a sound header takes. Sources: RIFF and WAVE (Multimedia Programming Interface and
//! Data Specifications 1.0, 1991), RF64 (EBU Tech 3306), BW64 (ITU-R BS.2088), the extensible
//! format and its GUID; all from memory.

use crate::{Parts, read, read_piped};
use reedcrow::take::{Channel, HeaderFault, TakeError};

const SAMPLES: [f32; 4] = [0.0, 0.5, -0.5, 0.0];

/// The part of an extensible format that follows the sixteen common bytes.
fn extension(valid_bits: u16, code: u16) -> Vec<u8> {
    let mut bytes = vec![22, 0];
    bytes.extend_from_slice(&valid_bits.to_le_bytes());
    bytes.extend_from_slice(&[0; 4]);
    bytes.extend_from_slice(&code.to_le_bytes());
    bytes.extend_from_slice(&[0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71]);
    bytes
}

fn wide_sizes(riff_bytes: u64, data_bytes: u64) -> Vec<u8> {
    let mut chunk = b"ds64\x1c\0\0\0".to_vec();
    chunk.extend_from_slice(&riff_bytes.to_le_bytes());
    chunk.extend_from_slice(&data_bytes.to_le_bytes());
    chunk.extend_from_slice(&[0; 12]);
    chunk
}

#[test]
fn an_extensible_format_is_read_by_the_code_in_its_guid() {
    let parts = Parts { code: 0xfffe, extension: extension(16, 1), ..Parts::default() };
    assert_eq!(parts.read().unwrap().samples, SAMPLES);
    let float = Parts {
        code: 0xfffe,
        bits: 32,
        extension: extension(32, 3),
        data: 0.25f32.to_le_bytes().to_vec(),
        ..Parts::default()
    };
    assert_eq!(float.read().unwrap().samples, [0.25]);
}

#[test]
fn unknown_chunks_are_skipped_with_the_pad_byte_of_odd_ones() {
    let before = b"LIST\x03\0\0\0abc\0junk\x02\0\0\0xy".to_vec();
    let after = b"cue \x04\0\0\0abcd".to_vec();
    let take = Parts { before, after, ..Parts::default() }.read().unwrap();
    assert_eq!(take.samples, SAMPLES);
    assert!(!take.faults.cut_off);
}

#[test]
fn rf64_and_bw64_take_their_sizes_from_ds64() {
    for id in [*b"RF64", *b"BW64"] {
        let parts = Parts {
            id,
            riff_bytes: Some(u32::MAX),
            before: wide_sizes(80, 8),
            data_bytes: Some(u32::MAX),
            after: b"LIST\x02\0\0\0ab".to_vec(),
            ..Parts::default()
        };
        let take = parts.read().unwrap();
        assert_eq!(take.samples, SAMPLES);
        assert!(!take.faults.cut_off);
    }
}

#[test]
fn a_pipe_whose_length_is_not_known_is_read_to_its_end_without_complaint() {
    for data_bytes in [0, u32::MAX, 0x7fff_ffff, 0x8000_0000] {
        let riff_bytes = Some(if data_bytes == 0 { 0 } else { u32::MAX });
        let parts = Parts { riff_bytes, data_bytes: Some(data_bytes), ..Parts::default() };
        let take = read_piped(parts.bytes()).unwrap();
        assert_eq!(take.samples, SAMPLES, "{data_bytes:#x}");
        assert!(!take.faults.cut_off, "{data_bytes:#x}");
    }
}

#[test]
fn a_pipe_that_ends_before_its_length_is_cut_off() {
    let take = read_piped(Parts { data_bytes: Some(800), ..Parts::default() }.bytes()).unwrap();
    assert_eq!(take.samples, SAMPLES);
    assert!(take.faults.cut_off);
}

#[test]
fn a_file_whose_recorder_never_wrote_its_sizes_is_read_to_its_end_and_marked() {
    for data_bytes in [0, u32::MAX] {
        let parts = Parts { riff_bytes: Some(0), data_bytes: Some(data_bytes), ..Parts::default() };
        let take = parts.read().unwrap();
        assert_eq!(take.samples, SAMPLES);
        assert!(take.faults.cut_off);
    }
}

#[test]
fn sizes_that_lie_are_told_from_what_is_there() {
    let too_long = Parts { data_bytes: Some(0x7fff_fff0), ..Parts::default() }.read().unwrap();
    assert_eq!(too_long.samples, SAMPLES);
    assert!(too_long.faults.cut_off);
    let data: Vec<u8> = [0x00u8, 0x40].repeat(100);
    let too_short = Parts { data_bytes: Some(20), data, ..Parts::default() }.read().unwrap();
    assert_eq!(too_short.samples, [0.5; 100]);
    assert!(too_short.faults.cut_off);
    let half_a_sample = Parts { data: vec![0, 0x40, 0], ..Parts::default() }.read().unwrap();
    assert_eq!(half_a_sample.samples, [0.5]);
    assert!(half_a_sample.faults.cut_off);
}

#[test]
fn the_channel_asked_for_is_read() {
    let parts = Parts { channels: 2, ..Parts::default() };
    let take = read(parts.bytes(), Channel::Number(1)).unwrap();
    assert_eq!(take.samples, [0.0, -0.5]);
    let error = read(parts.bytes(), Channel::Number(3)).unwrap_err();
    assert!(matches!(error, TakeError::NoSuchChannel { asked: 3, channels: 2 }), "{error:?}");
}

#[test]
fn a_header_that_cannot_be_read_says_why() {
    let refused = |parts: Parts| parts.read().unwrap_err().to_string();
    let sane = Parts::default;
    for (parts, begins) in [
        (Parts { channels: 0, ..sane() }, "has 0 channels by its header"),
        (Parts { rate_hz: 0, ..sane() }, "has a sample rate of 0 Hz"),
        (Parts { rate_hz: 7_999, ..sane() }, "has a sample rate of 7999 Hz"),
        (Parts { rate_hz: 192_001, ..sane() }, "has a sample rate of 192001 Hz"),
        (Parts { bits: 13, ..sane() }, "has integer samples of 13 bits by its header"),
        (Parts { bits: 0, ..sane() }, "has integer samples of 0 bits by its header"),
        (Parts { code: 3, ..sane() }, "has float samples of 16 bits by its header"),
        (Parts { code: 0x55, ..sane() }, "holds MP3 (format code 85)"),
        (Parts { code: 7, bits: 8, ..sane() }, "holds mu-law (format code 7)"),
        (Parts { id: *b"RIFX", ..sane() }, "is not a WAV recording"),
        (Parts { data: Vec::new(), ..sane() }, "holds no samples; record it again"),
    ] {
        let text = refused(parts);
        assert!(text.starts_with(begins), "{text}");
    }
    let error = read(b"RIFF\x04\0\0\0WAVEdata\0\0\0\0".to_vec(), Channel::Strongest).unwrap_err();
    assert!(matches!(error, TakeError::Header(HeaderFault::NoFormat)), "{error}");
    assert!(matches!(read(Vec::new(), Channel::Strongest), Err(TakeError::Empty)));
}

#[test]
fn every_rate_from_8_to_192_khz_is_kept() {
    for rate_hz in [8_000, 11_025, 22_050, 44_100, 48_000, 96_000, 192_000] {
        assert_eq!(Parts { rate_hz, ..Parts::default() }.read().unwrap().sample_rate_hz, rate_hz);
    }
}
