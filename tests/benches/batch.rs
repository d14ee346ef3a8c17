//! How fast folders are read: the program as a whole, from its start to its end, beside decoding
//! alone. Throughput is in milliseconds of audio, so 1 Kelem/s is real time.

#![allow(clippy::print_stderr, reason = "a benchmark tells what it skipped")]

use std::path::Path;
use std::process::{Command, Stdio};

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use reedcrow::take::decode::{Program, decode_in_child};
use reedcrow::take::wav::{SampleFormat, write};
use reedcrow::take::{self, Channel};
use reedcrow_synth::{Colour, CrowSound, Scene, Sound, Source};

const RATE_HZ: u32 = 48_000;

/// A crow of 0.8 s every 4 s, as at a bench; shorter ones are half crow.
fn take_into(path: &Path, duration_s: f64) {
    let crow = CrowSound::octaves(523.2511, 0.8f64.min(duration_s / 2.0), -6.0);
    let mut scene = Scene::new(duration_s, 1).in_noise(Colour::Pink, 35.0);
    let starts = (0..(duration_s / 4.0).ceil() as u32).map(|i| 0.1 + 4.0 * f64::from(i));
    scene.sounds = starts
        .filter(|start_s| start_s + 0.8 < duration_s || duration_s < 4.0)
        .map(|start_s| Sound { start_s, source: Source::Crow(crow.clone()) })
        .collect();
    let take = scene.render().take("bench");
    write(path, &take.samples, RATE_HZ, 1, SampleFormat::I16).expect("room for a take");
}

fn reedcrow(folder: &Path, arguments: &[&str]) {
    let status = Command::new(env!("CARGO_BIN_EXE_reedcrow"))
        .current_dir(folder)
        .args(arguments)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    assert!(status.is_ok_and(|status| status.success()), "{arguments:?}");
}

/// From the start of the program to its end, for one take of half a second.
fn start_up(criterion: &mut Criterion) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    take_into(&folder.path().join("take.wav"), 0.5);
    let mut group = criterion.benchmark_group("start-up");
    group.bench_function("--version", |b| b.iter(|| reedcrow(folder.path(), &["--version"])));
    group.bench_function("analyse 0.5 s", |b| {
        b.iter(|| reedcrow(folder.path(), &["analyse", "take.wav"]));
    });
    group.finish();
}

/// Jobs against each other, and many short files.
fn folders(criterion: &mut Criterion) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (name, count, duration_s) in [("long", 40, 16.0), ("short", 400, 0.5)] {
        let takes = folder.path().join(name);
        std::fs::create_dir(&takes).expect("an empty folder");
        take_into(&takes.join("0.wav"), duration_s);
        for index in 1..count {
            std::fs::copy(takes.join("0.wav"), takes.join(format!("{index}.wav"))).expect("room");
        }
        let mut group = criterion.benchmark_group(format!("{count} takes of {duration_s} s"));
        group.sample_size(10);
        group.throughput(Throughput::Elements((f64::from(count) * duration_s * 1e3) as u64));
        for jobs in ["1", "2"] {
            group.bench_function(format!("jobs {jobs}"), |b| {
                b.iter(|| reedcrow(folder.path(), &["batch", name, "--jobs", jobs]));
            });
        }
        group.finish();
    }
}

/// Decoding alone, of every format there is an encoder for.
fn decoding(criterion: &mut Criterion) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let whole = folder.path().join("take.wav");
    take_into(&whole, 60.0);
    let mut group = criterion.benchmark_group("decoding");
    group.sample_size(10);
    group.throughput(Throughput::Elements(60_000));
    for name in
        ["take.wav", "take.flac", "take.mp3", "aac.m4a", "take.ogg", "take.aiff", "take.w64"]
    {
        let path = folder.path().join(name);
        let encoder = Command::new("ffmpeg")
            .args(["-loglevel", "error", "-nostdin", "-i"])
            .arg(&whole)
            .arg(&path)
            .status();
        if !path.exists() {
            eprintln!("SKIPPED: {name} needs ffmpeg with its encoder ({encoder:?})");
            continue;
        }
        let read = || take::read(&path, Channel::Number(1)).expect("a take just written");
        group.bench_function(name, |b| b.iter(read));
        // As the program does it; what that costs more is to be held against the reading of the folder.
        let program = Program {
            path: env!("CARGO_BIN_EXE_reedcrow").into(),
            arguments: vec!["decode".into()],
        };
        decode_in_child(Some(program));
        group.bench_function(format!("{name} in a child"), |b| b.iter(read));
        decode_in_child(None);
    }
    group.finish();
}

criterion_group!(benches, start_up, folders, decoding);
criterion_main!(benches);
