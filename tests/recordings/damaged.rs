//! Damage of every kind: each damaged file is read, read in part, or refused with one line.
//! Nothing panics, and nothing is held that the file does not have.

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use reedcrow::take::Channel;

use crate::{Parts, read, read_piped};

/// Small files of every form, to be damaged.
fn originals() -> Vec<Vec<u8>> {
    let mut extension = vec![22, 0, 16, 0, 0, 0, 0, 0, 1, 0];
    extension.extend_from_slice(&[0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71]);
    let mut wide = b"ds64\x1c\0\0\0".to_vec();
    wide.extend_from_slice(&200u64.to_le_bytes());
    wide.extend_from_slice(&8u64.to_le_bytes());
    wide.extend_from_slice(&[0; 12]);
    let sound: Vec<u8> = (0..=255).collect();
    vec![
        Parts::default().bytes(),
        Parts { bits: 8, data: sound.clone(), ..Parts::default() }.bytes(),
        Parts { bits: 24, channels: 2, data: sound[..252].to_vec(), ..Parts::default() }.bytes(),
        Parts { code: 3, bits: 32, data: sound.clone(), ..Parts::default() }.bytes(),
        Parts { code: 3, bits: 64, data: sound, ..Parts::default() }.bytes(),
        Parts { code: 0xfffe, extension, ..Parts::default() }.bytes(),
        Parts {
            id: *b"RF64",
            riff_bytes: Some(u32::MAX),
            before: wide,
            data_bytes: Some(u32::MAX),
            after: b"LIST\x03\0\0\0abc\0".to_vec(),
            ..Parts::default()
        }
        .bytes(),
    ]
}

/// One way to damage a file.
fn damage(bytes: &mut Vec<u8>, random: &mut ChaCha8Rng) {
    if bytes.is_empty() {
        return;
    }
    let at = random.random_range(0..bytes.len());
    match random.random_range(0..7) {
        0 => bytes[at] ^= 1 << random.random_range(0..8),
        1 => bytes[at] = random.random(),
        2 => bytes.truncate(at),
        3 => {
            bytes.remove(at);
        }
        4 => bytes.insert(at, random.random()),
        5 => {
            // A size or field of the worst kind.
            let worst =
                [0, 1, 0x7fff_ffff, 0x8000_0000, 0xffff_fffe, 0xffff_ffff, random.next_u32()];
            let value: u32 = worst[random.random_range(0..worst.len())];
            for (byte, new) in bytes[at..].iter_mut().zip(value.to_le_bytes()) {
                *byte = new;
            }
        }
        _ => {
            let from = random.random_range(0..bytes.len());
            let piece = bytes[from..(from + 12).min(bytes.len())].to_vec();
            bytes.splice(at..at, piece);
        }
    }
}

#[test]
fn thousands_of_damaged_files_are_read_or_refused_in_one_line() {
    let mut random = ChaCha8Rng::seed_from_u64(440);
    let originals = originals();
    let (mut read_in_part, mut refused) = (0, 0);
    for case in 0..12_000 {
        let mut bytes = originals[case % originals.len()].clone();
        for _ in 0..random.random_range(1..6) {
            damage(&mut bytes, &mut random);
        }
        for outcome in [read(bytes.clone(), Channel::Strongest), read_piped(bytes.clone())] {
            match outcome {
                Ok(take) => {
                    read_in_part += 1;
                    // 8-bit samples are the smallest: a byte each.
                    assert!(take.samples.len() <= bytes.len(), "case {case}");
                    assert!(!take.samples.is_empty(), "case {case}");
                    assert!(take.samples.iter().all(|sample| sample.is_finite()), "case {case}");
                }
                Err(error) => {
                    refused += 1;
                    assert_eq!(error.to_string().lines().count(), 1, "case {case}: {error}");
                }
            }
        }
    }
    // The damage must be of both kinds, or the loop tests one half only.
    assert!(read_in_part > 2_000 && refused > 2_000, "{read_in_part} read, {refused} refused");
}

#[test]
fn a_file_cut_anywhere_in_its_header_is_refused_and_after_it_read_in_part() {
    let whole = Parts::default().bytes();
    for length in 0..whole.len() {
        let outcome = read(whole[..length].to_vec(), Channel::Strongest);
        // The header is 44 bytes; the first whole sample ends at 46.
        assert_eq!(outcome.is_ok(), length >= 46, "{length} bytes: {outcome:?}");
        if let Ok(take) = outcome {
            assert!(take.faults.cut_off, "{length}");
        }
    }
}

#[test]
fn a_stream_that_never_comes_to_its_sound_ends() {
    struct Endless(Vec<u8>, usize);
    impl std::io::Read for Endless {
        fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
            for byte in buffer.iter_mut() {
                *byte = self.0.get(self.1).copied().unwrap_or(0);
                self.1 += 1;
            }
            Ok(buffer.len())
        }
    }
    let endless = Endless(b"RIFF\0\0\0\0WAVE".to_vec(), 0);
    let outcome = reedcrow::take::wav::WavStream::piped(endless).map(|_| ());
    let error = outcome.unwrap_err().to_string();
    assert!(error.contains("no sound in its first 64 MiB"), "{error}");
}
