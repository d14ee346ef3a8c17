//! Bad input: one clear line on standard error, exit code 1, nothing on disk touched.

use std::fs;
use std::time::Duration;

use reedcrow::take::TakeError;
use reedcrow::take::wav::{self, SampleFormat};

use crate::{Bench, ending};

/// A header of 44 bytes for 16-bit samples, with four of its fields as given.
fn header(channels: u16, rate_hz: u32, bits: u16, data_bytes: u32) -> Vec<u8> {
    let mut bytes = b"RIFF".to_vec();
    bytes.extend_from_slice(&data_bytes.wrapping_add(36).to_le_bytes());
    bytes.extend_from_slice(b"WAVEfmt \x10\0\0\0\x01\0");
    bytes.extend_from_slice(&channels.to_le_bytes());
    bytes.extend_from_slice(&rate_hz.to_le_bytes());
    bytes.extend_from_slice(&rate_hz.wrapping_mul(2).to_le_bytes());
    bytes.extend_from_slice(&(channels * (bits / 8)).to_le_bytes());
    bytes.extend_from_slice(&bits.to_le_bytes());
    bytes.extend_from_slice(b"data");
    bytes.extend_from_slice(&data_bytes.to_le_bytes());
    bytes
}

#[test]
fn each_unreadable_recording_gets_one_clear_line() {
    let bench = Bench::new();
    bench.bytes("words.wav", b"These are words, not a recording.");
    bench.bytes("empty.wav", b"");
    bench.bytes("cut.wav", &header(1, 48_000, 16, 100)[..30]);
    bench.bytes("mute.wav", &header(0, 48_000, 16, 100));
    bench.bytes("still.wav", &header(1, 0, 16, 100));
    bench.bytes("slow.wav", &header(1, 4_000, 16, 100));
    bench.bytes("odd.wav", &header(1, 48_000, 13, 100));
    bench.bytes("none.wav", &header(1, 48_000, 16, 0));
    fs::create_dir(bench.path("folder.wav")).unwrap();
    let before = bench.names();
    let mut said = String::new();
    for name in [
        "words.wav",
        "empty.wav",
        "cut.wav",
        "mute.wav",
        "still.wav",
        "slow.wav",
        "odd.wav",
        "none.wav",
        "folder.wav",
        "missing.wav",
    ] {
        let end = ending(&mut bench.reedcrow(&["analyse", name]));
        assert_eq!((end.code, end.output.as_str()), (Some(1), ""), "{name}");
        assert_eq!(end.errors.lines().count(), 1, "{name}: {}", end.errors);
        said += &end.errors;
    }
    insta::assert_snapshot!(said, @r"
    reedcrow: words.wav: is not a recording that can be read (WAV, FLAC, MP3, M4A, MP4, MOV, 3GP, Ogg, Opus, WebM, AIFF, CAF); convert it to WAV and try again
    reedcrow: empty.wav: is empty; record it again
    reedcrow: cut.wav: ends inside its header, before any sound; copy it again or record it again
    reedcrow: mute.wav: has 0 channels by its header; save it again as WAV, or record it again
    reedcrow: still.wav: has a sample rate of 0 Hz by its header; record it again at 8000 to 192000 Hz
    reedcrow: slow.wav: has a sample rate of 4000 Hz by its header; record it again at 8000 to 192000 Hz
    reedcrow: odd.wav: has integer samples of 13 bits by its header; save it again as 16 or 24-bit integer or 32-bit float
    reedcrow: none.wav: holds no samples; record it again
    reedcrow: folder.wav: is a folder; name the recordings in it, or read all of it with 'reedcrow batch'
    reedcrow: missing.wav: there is no such file; check its name and folder
    ");
    assert_eq!(bench.names(), before);
}

#[cfg(unix)]
#[allow(clippy::print_stderr, reason = "a skipped test must be seen")]
#[test]
fn a_file_without_permission_is_said() {
    use std::os::unix::fs::PermissionsExt;
    let bench = Bench::new();
    bench.crow("locked.wav", 1.5);
    let path = bench.path("locked.wav");
    fs::set_permissions(&path, fs::Permissions::from_mode(0o000)).unwrap();
    if fs::File::open(&path).is_ok() {
        eprintln!("SKIPPED: this user may read everything, so no file can be locked");
        return;
    }
    let end = ending(&mut bench.reedcrow(&["analyse", "locked.wav"]));
    assert_eq!(end.code, Some(1));
    assert_eq!(end.errors, format!("reedcrow: locked.wav: {}\n", TakeError::NoPermission));
}

#[test]
fn headers_that_claim_too_much_cost_neither_time_nor_memory() {
    let bench = Bench::new();
    let sound = [0u8, 0x10].repeat(12_000);
    for (name, channels, data_bytes) in
        [("long.wav", 1, u32::MAX - 40), ("wide.wav", 12_000, u32::MAX), ("huge.wav", 1, 1 << 31)]
    {
        let mut bytes = header(channels, 48_000, 16, data_bytes);
        bytes.extend_from_slice(&sound);
        bench.bytes(name, &bytes);
        let end =
            ending(bench.reedcrow(&["analyse", "--json", name]).timeout(Duration::from_secs(20)));
        assert_eq!(end.code, Some(0), "{name}: {}", end.errors);
    }
}

#[test]
fn what_is_readable_in_part_is_read_in_part() {
    let bench = Bench::new();
    bench.crow("take.wav", 2.0);
    let bytes = fs::read(bench.path("take.wav")).unwrap();
    bench.bytes("cut.wav", &bytes[..bytes.len() / 2]);
    wav::write(
        &bench.path("broken.wav"),
        &[0.1, f32::NAN, f32::INFINITY, 0.1].repeat(6_000),
        48_000,
        1,
        SampleFormat::F32,
    )
    .unwrap();
    for (name, code) in [("cut.wav", "cut-off"), ("broken.wav", "not-finite")] {
        let end = ending(&mut bench.reedcrow(&["analyse", "--json", name]));
        assert_eq!(end.code, Some(0), "{name}");
        let take: serde_json::Value = serde_json::from_str(&end.output).unwrap();
        let codes: Vec<&str> = take["warnings"]
            .as_array()
            .unwrap()
            .iter()
            .map(|warning| warning["code"].as_str().unwrap())
            .collect();
        assert!(codes.contains(&code), "{name}: {codes:?}");
    }
}
