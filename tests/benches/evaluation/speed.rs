//! The whole reading against aubio's yinfft pitch track alone, on the same WAV in the same run.
//!
//! Both are the programs as users start them, held to one core, taking turns; the ratio of the
//! fastest runs counts, since other work on the machine can only slow a run. Machines differ, so
//! no time is printed.

use std::path::Path;
use std::process::{Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, ensure};
use reedcrow::take::wav::{SampleFormat, write};
use reedcrow_synth::{Colour, CrowSound, Scene, Sound, Source};

/// Length of the take.
const TAKE_S: f64 = 120.0;
/// Runs of each.
const RUNS: usize = 7;

/// Prints the ratios for a bench's take (a crow in every 4 s) and for crows without a pause.
pub fn compare() -> ExitCode {
    println!("### Whole reading on one core against aubio's yinfft (2048) pitch track alone\n");
    println!("| take | audio read per time, aubio = 1 |\n| --- | --- |");
    for (name, tone_s, every_s) in
        [("a crow of 0.8 s every 4 s", 0.8, 4.0), ("a crow of 3.5 s every 4 s", 3.5, 4.0)]
    {
        match ratio(tone_s, every_s) {
            Ok(ratio) => println!("| {name} | {ratio:.2} |"),
            Err(error) => {
                eprintln!("evaluation: {error:#}");
                return ExitCode::FAILURE;
            }
        }
    }
    ExitCode::SUCCESS
}

fn ratio(tone_s: f64, every_s: f64) -> anyhow::Result<f64> {
    let crow = CrowSound::octaves(523.2511, tone_s, -6.0);
    let mut scene = Scene::new(TAKE_S, 1).in_noise(Colour::Pink, 35.0);
    let mut start_s = 0.4;
    while start_s + tone_s < TAKE_S {
        scene.sounds.push(Sound { start_s, source: Source::Crow(crow.clone()) });
        start_s += every_s;
    }
    let folder = tempfile::tempdir()?;
    let path = folder.path().join("take.wav");
    let rendered = scene.render();
    write(&path, &rendered.samples, scene.sample_rate_hz, 1, SampleFormat::I16)?;
    let (mut ours, mut theirs) = (Duration::MAX, Duration::MAX);
    for _ in 0..RUNS {
        ours = ours.min(timed(env!("CARGO_BIN_EXE_reedcrow"), &["analyse", "--json"], &path)?);
        theirs = theirs.min(timed("aubiopitch", &["-p", "yinfft", "-B", "2048", "-i"], &path)?);
    }
    Ok(theirs.as_secs_f64() / ours.as_secs_f64())
}

fn timed(program: &str, words: &[&str], path: &Path) -> anyhow::Result<Duration> {
    let start = Instant::now();
    let status = Command::new("taskset")
        .args(["-c", "0", program])
        .args(words)
        .arg(path)
        .stdout(Stdio::null())
        .status()
        .context("taskset: cannot be started; it comes with util-linux")?;
    let time = start.elapsed();
    ensure!(status.success(), "{program} failed; aubiopitch comes with Debian's aubio-tools");
    Ok(time)
}
