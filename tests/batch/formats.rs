//! Every format against the reference decoder.

use std::path::{Path, PathBuf};

use reedcrow::take::wav::{self, SampleFormat};
use reedcrow::take::{self, Channel, TakeError, Unread};

use crate::converter;

const RATE_HZ: u32 = 44_100;

/// Two channels that differ, so that a swap shows: 2 s of a low octave, swelling, with a click
/// every 0.25 s so that a shift shows as well.
fn stereo(folder: &Path) -> PathBuf {
    stereo_at(folder, RATE_HZ)
}

fn stereo_at(folder: &Path, rate_hz: u32) -> PathBuf {
    let mut samples = Vec::new();
    for n in 0..2 * rate_hz {
        let t = f64::from(n) / f64::from(rate_hz);
        let swell = 0.3 + 0.1 * (std::f64::consts::TAU * 3.0 * t).sin();
        let tone = |hz: f64| (std::f64::consts::TAU * hz * t).sin();
        let click = if n % (rate_hz / 4) < 20 { 0.3 } else { 0.0 };
        samples.push((swell * (tone(515.0) + 0.5 * tone(1030.0)) + click) as f32);
        samples.push((0.2 * tone(1545.0) + 0.5 * click) as f32);
    }
    let path = folder.join("stereo.wav");
    wav::write(&path, &samples, rate_hz, 2, SampleFormat::I16).unwrap();
    path
}

/// One channel of interleaved stereo.
fn channel(samples: &[f32], number: usize) -> Vec<f32> {
    samples.iter().skip(number - 1).step_by(2).copied().collect()
}

/// The shift, up to 4 096 samples either way, at which `ours` fits `reference` best, and the RMS
/// of what is left there relative to the reference's own.
fn best_fit(ours: &[f32], reference: &[f32]) -> (i64, f64) {
    let middle = 8_000..reference.len().min(ours.len()) - 8_000;
    let residual = |shift: i64, step: usize| {
        let (mut difference, mut power) = (0.0, 0.0);
        for n in middle.clone().step_by(step) {
            let wanted = f64::from(reference[n]);
            let got = f64::from(ours[(n as i64 + shift) as usize]);
            difference += (got - wanted).powi(2);
            power += wanted.powi(2);
        }
        (difference / power).sqrt()
    };
    let shift =
        (-4096..=4096).min_by(|&a, &b| residual(a, 307).total_cmp(&residual(b, 307))).unwrap();
    (shift, residual(shift, 1))
}

/// Converts `source` to each of `forms` (a name, and the options that make it) in its folder, and
/// calls `check` with the name, our channel and the reference decoder's, for both channels.
fn each_channel(
    source: &Path,
    forms: &[(&str, &[&str])],
    check: impl Fn(&str, &take::Take, &[f32]),
) {
    each_channel_at(RATE_HZ, source, forms, check);
}

fn each_channel_at(
    rate_hz: u32,
    source: &Path,
    forms: &[(&str, &[&str])],
    check: impl Fn(&str, &take::Take, &[f32]),
) {
    for (name, options) in forms {
        let path = source.with_file_name(name);
        if !converter::convert(source, options, &path) {
            continue;
        }
        let reference = converter::decode(&path);
        for number in [1, 2] {
            let ours = take::read(&path, Channel::Number(number)).unwrap_or_else(|error| {
                panic!("{name}: {error}");
            });
            assert_eq!((ours.sample_rate_hz, ours.channels), (rate_hz, 2), "{name}");
            assert_eq!(ours.faults, Default::default(), "{name}");
            check(name, &ours, &channel(&reference, usize::from(number)));
        }
    }
}

/// Lossless coding gives the very samples, whichever decoder reads them.
#[test]
fn lossless_formats_decode_to_the_reference_samples() {
    if !converter::is_there("decoding of lossless formats") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let forms = [
        ("a.flac", &["-c:a", "flac"][..]),
        ("24.flac", &["-c:a", "flac", "-sample_fmt", "s32"]),
        ("alac.m4a", &["-c:a", "alac"]),
        ("flac.ogg", &["-c:a", "flac", "-f", "ogg"]),
        ("flac.mka", &["-c:a", "flac"]),
        ("be16.aiff", &["-c:a", "pcm_s16be"]),
        ("be24.aiff", &["-c:a", "pcm_s24be"]),
        ("le16.caf", &["-c:a", "pcm_s16le"]),
        ("f32.caf", &["-c:a", "pcm_f32le"]),
        ("alac.caf", &["-c:a", "alac"]),
        ("s16.w64", &["-c:a", "pcm_s16le"]),
        ("f32.w64", &["-c:a", "pcm_f32le"]),
        ("s24.rf64.wav", &["-c:a", "pcm_s24le", "-rf64", "always"]),
        ("s24.wav", &["-c:a", "pcm_s24le"]),
        ("mulaw.wav", &["-c:a", "pcm_mulaw"]),
        ("qt.mov", &["-c:a", "pcm_s16le"]),
    ];
    each_channel(&stereo(folder.path()), &forms, |name, ours, reference| {
        assert_eq!(ours.samples, reference, "{name}");
    });
}

/// A lossy stream decodes to the reference within rounding, at the same times. −60 dB is far under
/// what coding itself loses, and far over the rounding of either decoder.
#[test]
fn lossy_formats_decode_to_the_reference_within_rounding() {
    if !converter::is_there("decoding of lossy formats") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let source = stereo(folder.path());
    let told = [
        ("cbr.mp3", &["-c:a", "libmp3lame", "-b:a", "128k"][..]),
        ("vbr.mp3", &["-c:a", "libmp3lame", "-q:a", "4"]),
        ("aac.m4a", &["-c:a", "aac", "-b:a", "160k"]),
        ("front.m4a", &["-c:a", "aac", "-b:a", "96k", "-movflags", "+faststart"]),
        ("film.mp4", &film(&["-c:a", "aac", "-b:a", "128k"])),
        ("film.mov", &film(&["-c:a", "aac", "-b:a", "128k"])),
        ("memo.3gp", &["-c:a", "aac", "-b:a", "96k"]),
        ("vorbis.ogg", &["-c:a", "libvorbis", "-q:a", "5"]),
        ("ima.wav", &["-c:a", "adpcm_ima_wav"]),
    ];
    let untold = [
        (
            "bare.mp3",
            &["-c:a", "libmp3lame", "-q:a", "4", "-write_xing", "0", "-id3v2_version", "0"][..],
        ),
        ("pieces.mp4", &["-c:a", "aac", "-movflags", "frag_keyframe+empty_moov"]),
        ("bare.aac", &["-c:a", "aac", "-b:a", "128k"]),
    ];
    let original = converter::decode(&source);
    let check = |name: &str, ours: &take::Take, reference: &[f32]| {
        let (shift, residual) = best_fit(&ours.samples, reference);
        let wanted = channel(&original, usize::from(ours.channel));
        // The second channel is a tone like any other of its periods, as far as coding lets it be.
        let late = if ours.channel == 1 { best_fit(&ours.samples, &wanted).0 } else { shift };
        println!(
            "{name} {}: {shift} samples from the reference, {late} from the original, {:.0} dB, {} \
             of {} samples",
            ours.channel,
            20.0 * residual.log10(),
            ours.samples.len(),
            reference.len()
        );
        assert!(residual < 1e-3, "{name}: {residual} left at a shift of {shift}");
        (shift, late, ours.samples.len().abs_diff(wanted.len()))
    };
    // What the encoder put before the sound is written in the file, and cut off: times are those
    // of the original to the sample, and its length within the last packet.
    each_channel(&source, &told, |name, ours, reference| {
        let (shift, late, longer) = check(name, ours, reference);
        assert_eq!((shift, late), (0, 0), "{name}");
        assert!(longer <= 1152, "{name}: {longer}");
    });
    // Where no one wrote it down, sound is late by the encoder's delay, at most 2 112 samples.
    each_channel(&source, &untold, |name, ours, reference| {
        let (_, late, longer) = check(name, ours, reference);
        assert!((0..=2112).contains(&late), "{name}: {late}");
        assert!(longer <= 4096, "{name}: {longer}");
    });
}

/// The options that put a picture beside the sound: small, and any will do.
fn film<'a>(sound: &[&'a str]) -> Vec<&'a str> {
    const PICTURE: [&str; 10] = [
        "-f",
        "lavfi",
        "-i",
        "color=d=2:s=64x64:r=10",
        "-map",
        "0:a",
        "-map",
        "1:v",
        "-c:v",
        "mpeg4",
    ];
    [&PICTURE[..], sound].concat()
}

/// Opus decodes to what the reference decoder makes of it, at the times of the original: what comes
/// before the sound by its head or its container is cut off once. −50 dB: the reference decoder is
/// another program than the encoder's own, and RFC 6716 lets decoders differ by more.
#[test]
fn opus_decodes_to_the_reference_in_every_container() {
    if !converter::is_there("decoding of Opus") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let source = stereo_at(folder.path(), 48_000);
    let original = converter::decode(&source);
    let mut film = film(&["-c:a", "libopus", "-b:a", "96k"]);
    film[9] = "libvpx";
    let forms = [
        ("a.opus", &["-c:a", "libopus", "-b:a", "96k"][..]),
        ("long packets.ogg", &["-c:a", "libopus", "-b:a", "96k", "-frame_duration", "60"]),
        ("short packets.ogg", &["-c:a", "libopus", "-b:a", "160k", "-frame_duration", "2.5"]),
        ("a.webm", &["-c:a", "libopus", "-b:a", "96k"]),
        // As a browser records: no length anywhere, and pieces of a second.
        (
            "live.webm",
            &["-c:a", "libopus", "-b:a", "96k", "-live", "1", "-cluster_time_limit", "1000"],
        ),
        ("film.webm", &film),
        ("a.mka", &["-c:a", "libopus", "-b:a", "96k"]),
        ("a.mp4", &["-c:a", "libopus", "-b:a", "96k"]),
        ("a.caf", &["-c:a", "libopus", "-b:a", "96k"]),
    ];
    each_channel_at(48_000, &source, &forms, |name, ours, reference| {
        let (shift, residual) = best_fit(&ours.samples, reference);
        let wanted = channel(&original, usize::from(ours.channel));
        let late = if ours.channel == 1 { best_fit(&ours.samples, &wanted).0 } else { 0 };
        let longer = ours.samples.len() as i64 - wanted.len() as i64;
        println!(
            "{name} {}: {shift} from the reference, {late} from the original, {:.0} dB, {longer} longer",
            ours.channel,
            20.0 * residual.log10()
        );
        assert!(residual < 3e-3, "{name}: {residual} left at a shift of {shift}");
        // The reference's CAF has no head of Opus, so nothing says what its encoder put first (6.5 ms).
        let untold = if name == "a.caf" && ours.channel == 1 { 312 } else { 0 };
        assert_eq!((shift, late), (0, untold), "{name}");
        // A packet at most: a film's container does not say where its last one ends.
        assert!((0..=2880).contains(&longer), "{name}: {longer}");
    });
}

/// Speech is coded another way (SILK), which the reference decoder of the other formats resamples in a
/// way of its own: here libopus itself is the reference.
#[test]
fn opus_of_voice_messages_decodes_as_its_own_library_does() {
    if !converter::is_there("decoding of voice messages") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("voice.oga");
    let options = ["-c:a", "libopus", "-b:a", "24k", "-ac", "1", "-application", "voip"];
    if !converter::convert(&stereo_at(folder.path(), 48_000), &options, &path) {
        return;
    }
    let ours = take::read(&path, Channel::Strongest).unwrap();
    let reference = converter::decode_by(&["-c:a", "libopus"], &path);
    assert_eq!((ours.channels, ours.samples.len()), (1, reference.len()));
    let (shift, residual) = best_fit(&ours.samples, &reference);
    assert!(shift == 0 && residual < 3e-3, "{shift}, {residual}");
}

/// RFC 7845, 5.1: the head says how much comes before the sound, which may be many packets, and a gain
/// that players apply.
#[test]
fn the_head_of_opus_says_where_its_sound_begins_and_how_loud_it_is() {
    if !converter::is_there("heads of Opus") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let source = stereo_at(folder.path(), 48_000);
    let path = folder.path().join("a.ogg");
    if !converter::convert(&source, &["-c:a", "libopus", "-b:a", "96k"], &path) {
        return;
    }
    let plain = take::read(&path, Channel::Number(1)).unwrap().samples;
    let mut bytes = std::fs::read(&path).unwrap();
    let head = bytes.windows(8).position(|eight| eight == b"OpusHead").unwrap();
    let (skip, gain) = (head + 10..head + 12, head + 16..head + 18);
    let before = u16::from_le_bytes(bytes[skip.clone()].try_into().unwrap());
    // Four packets of 20 ms, and −6 dB in steps of 1/256 dB.
    bytes[skip].copy_from_slice(&3840_u16.to_le_bytes());
    bytes[gain].copy_from_slice(&(-1536_i16).to_le_bytes());
    // The head is the only packet of the first page; pages carry a sum of themselves at byte 22.
    let end = head + 19;
    bytes[22..26].fill(0);
    let sum = page_sum(&bytes[..end]);
    bytes[22..26].copy_from_slice(&sum.to_le_bytes());
    std::fs::write(&path, &bytes).unwrap();
    let ours = take::read(&path, Channel::Number(1)).unwrap().samples;
    let cut = usize::from(3840 - before);
    assert_eq!(ours.len(), plain.len() - cut);
    let reference = channel(&converter::decode(&path), 1);
    let gain = 10.0_f32.powf(-6.0 / 20.0);
    for (n, sample) in ours.iter().enumerate() {
        assert!((sample - gain * plain[n + cut]).abs() < 1e-6, "{n}: {sample}");
    }
    let (shift, residual) = best_fit(&ours, &reference);
    assert!(shift == 0 && residual < 3e-3, "{shift}, {residual}");
}

/// RFC 3533, 6: the polynomial 0x04c11db7, no reflection, from 0.
fn page_sum(page: &[u8]) -> u32 {
    page.iter().fold(0_u32, |sum, byte| {
        (0..8).fold(sum ^ u32::from(*byte) << 24, |sum, _| {
            let carry = sum & 0x8000_0000 != 0;
            sum << 1 ^ if carry { 0x04c1_1db7 } else { 0 }
        })
    })
}

/// AMR as phones wrote it: speech frames of 12.2 kbit/s (3GPP TS 26.101, from memory: 0x3c and 31
/// bytes), bare and in 3GP. There is no decoder of it here, and the line says what to do.
#[test]
fn amr_is_named_and_a_converter_beside_it() {
    if !converter::is_there("AMR") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let bare = folder.path().join("memo.amr");
    let frame = [&[0x3c][..], &[0x55; 31]].concat();
    std::fs::write(&bare, [&b"#!AMR\n"[..], &frame.repeat(100)].concat()).unwrap();
    let film = folder.path().join("memo.3gp");
    converter::convert(&bare, &["-c:a", "copy"], &film);
    for path in [bare, film] {
        let error = take::read(&path, Channel::Strongest).unwrap_err();
        assert!(matches!(error, TakeError::NotRead(Unread::Amr)), "{path:?}: {error}");
        assert!(error.to_string().contains("ffmpeg -i FILE out.wav"), "{error}");
    }
}

/// The content decides: an ending that lies changes nothing.
#[test]
fn a_wrong_ending_changes_nothing() {
    if !converter::is_there("wrong endings") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let source = stereo(folder.path());
    for (right, wrong) in
        [("a.flac", "a.mp3"), ("b.mp3", "b.wav"), ("c.ogg", "c.txt"), ("d.aiff", "d")]
    {
        let (right, wrong) = (folder.path().join(right), folder.path().join(wrong));
        converter::convert(&source, &[], &right);
        std::fs::copy(&right, &wrong).unwrap();
        let right = take::read(&right, Channel::Strongest).unwrap();
        assert_eq!(take::read(&wrong, Channel::Strongest).unwrap().samples, right.samples);
        assert_eq!(right.channel, 1);
    }
}

/// What is known and not read says what it is; what is no recording says so.
#[test]
fn formats_that_are_not_read_are_named() {
    if !converter::is_there("formats that are not read") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let source = stereo(folder.path());
    for (name, options, said) in [
        ("a.wma", &["-c:a", "wmav2"][..], "Windows Media"),
        ("a.spx", &["-c:a", "libspeex", "-ar", "32000"], "Speex"),
        ("a.wv", &["-c:a", "wavpack"], "WavPack"),
        ("a.mp2", &["-c:a", "mp2"], "MPEG layer II"),
        ("a.ac3", &["-c:a", "ac3"], "not a recording that can be read"),
        ("a.au", &["-c:a", "pcm_s16be"], "Sun audio"),
    ] {
        let path = folder.path().join(name);
        if !converter::convert(&source, options, &path) {
            continue;
        }
        let error = take::read(&path, Channel::Strongest).unwrap_err();
        let line = error.to_string();
        assert!(line.contains(said) && !line.contains('\n'), "{name}: {line}");
        assert!(matches!(error, TakeError::NotRead(_) | TakeError::NotRecording), "{name}: {line}");
    }
}
