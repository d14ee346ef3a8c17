//! Damage of every kind: each damaged file is read, read in part, or refused with one line.
//! Nothing panics, and nothing is held that the file does not have.

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use reedcrow::take::{Channel, HeaderFault, TakeError};

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
    let error = outcome.unwrap_err();
    let looked = HeaderFault::NoSound { looked_through_mib: 64 };
    assert!(matches!(error, TakeError::Header(fault) if fault == looked), "{error}");
}

/// How samples are written: bits of each, how many of them, from the highest, are used, whether they are
/// numbers with a point, channels.
type Written = (u16, u16, bool, u16);

/// Half a second of two tones and some noise, as loud as takes are.
fn sound((bits, used, is_float, channels): Written) -> (Vec<f32>, Vec<u8>) {
    let mut random = ChaCha8Rng::seed_from_u64(5);
    let (mut samples, mut bytes) = (Vec::new(), Vec::new());
    for n in 0..24_000 {
        let at = f64::from(n) / 48_000.0 * std::f64::consts::TAU;
        let noise = random.random_range(-0.002..0.002);
        let sound = 0.25 * (510.0 * at).sin() + 0.2 * (1020.0 * at).sin() + noise;
        samples.push(sound as f32);
        let whole = ((sound * f64::from(1u32 << (used - 1))).round() as i64) << (bits - used);
        for _ in 0..channels {
            match (is_float, bits) {
                (true, 64) => bytes.extend_from_slice(&sound.to_le_bytes()),
                (true, _) => bytes.extend_from_slice(&(sound as f32).to_le_bytes()),
                _ => bytes.extend_from_slice(&whole.to_le_bytes()[..usize::from(bits / 8)]),
            }
        }
    }
    (samples, bytes)
}

/// A byte too many or too few, and all behind it was read as noise at full scale: a reed of one tone.
#[test]
fn samples_that_are_some_bytes_off_are_read_where_they_are_and_it_is_told() {
    let whole = [(16, 16, false, 1), (24, 24, false, 1), (16, 16, false, 2), (32, 32, false, 1)];
    let empty_below = [(24, 16, false, 1), (32, 16, false, 1), (32, 24, false, 1)];
    let with_a_point = [(32, 32, true, 1), (64, 32, true, 1)];
    for written in whole.into_iter().chain(empty_below).chain(with_a_point) {
        let (bits, _, is_float, channels) = written;
        let (samples, whole) = sound(written);
        let frame = usize::from(bits / 8 * channels);
        let read_of = |data: Vec<u8>| {
            let code = if is_float { 3 } else { 1 };
            let parts = Parts { code, bits, channels, data, ..Parts::default() };
            read(parts.bytes(), Channel::Number(1)).unwrap()
        };
        let unharmed = read_of(whole.clone());
        assert_eq!((unharmed.faults.lost, unharmed.samples.len()), (0, samples.len()));
        for (at, what) in [(9_000usize, 1i32), (9_000, -1), (20, 1), (17_001, 3)] {
            let mut data = whole.clone();
            match what {
                -1 => drop(data.remove(at * frame)),
                more => drop(data.splice(at * frame..at * frame, vec![0x3c; more as usize])),
            }
            let take = read_of(data);
            // Of three bytes more than a frame of three there is nothing to be seen but one frame.
            let is_off = what.rem_euclid(i32::from(bits / 8)) != 0;
            let whence = format!("{written:?}, {what} at {at}");
            assert_eq!(take.faults.lost > 0, is_off, "{whence}");
            // Which of two channels comes first cannot be told, so the last frame may lack its half.
            let is_as_it_was = |less: usize| {
                let (end, wanted_end) = (take.samples.len() - 100, samples.len() - 100 - less);
                let wanted = &samples[wanted_end - 5_000..wanted_end];
                let near = |(a, b): (&f32, &f32)| (a - b).abs() < 1e-3;
                wanted.iter().zip(&take.samples[end - 5_000..end]).all(near)
            };
            assert!(is_as_it_was(0) || channels == 2 && is_as_it_was(1), "{whence}");
            let loudest = take.samples.iter().map(|sample| sample.abs()).fold(0.0, f32::max);
            assert!(loudest < 0.6, "{whence}: {loudest}");
        }
    }
}

/// What is noise, or has empty last bits, or jumps from one end to the other, is as it is.
#[test]
fn sound_that_only_looks_some_bytes_off_is_left_as_it_is() {
    let mut random = ChaCha8Rng::seed_from_u64(6);
    let noise = (0..20_000).map(|_| random.random::<i16>());
    let noise: Vec<u8> = noise.flat_map(i16::to_le_bytes).collect();
    let of_8_bits = (0..20_000).map(|n| ((f64::from(n) * 1.9).sin() * 127.0) as i16 * 256);
    let of_8_bits: Vec<u8> = of_8_bits.flat_map(i16::to_le_bytes).collect();
    let jumps = (0..20_000).map(|n| if n % 2 == 0 { i16::MAX } else { i16::MIN });
    let jumps: Vec<u8> = jumps.flat_map(i16::to_le_bytes).collect();
    // The recorder's gain is changed, and what was 16 bits wide uses 24 from then on.
    let wider =
        (0..20_000i32).map(|n| if n < 9_000 { (n * 7_919 % 9_001) << 8 } else { n * 7_919 });
    let wider: Vec<u8> = wider.flat_map(|n| n.to_le_bytes().into_iter().take(3)).collect();
    for (bits, data) in [(16, noise), (16, of_8_bits), (16, jumps), (24, wider)] {
        let parts = Parts { bits, data, ..Parts::default() };
        let take = read(parts.bytes(), Channel::Strongest).unwrap();
        assert_eq!((take.faults.lost, take.samples.len()), (0, 20_000));
    }
}
