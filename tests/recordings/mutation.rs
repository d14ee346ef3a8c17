//! Inputs changed at random, and what is watched while they are read.

use std::fs;
use std::io::Write;
use std::time::{Duration, Instant};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// How many inputs of all kinds together, without being told.
const USUAL: usize = 1_500;

/// The longest that one input may take.
const LONGEST: Duration = Duration::from_secs(5);

/// What one process may use at its peak.
const MOST_MEMORY_KB: u64 = 300 << 10;

/// `bytes` with one to four changes of the kinds that damage and malice make.
pub fn mutated(bytes: &[u8], random: &mut ChaCha8Rng) -> Vec<u8> {
    const TELLING: [u32; 10] =
        [0, 1, 2, 0x7f, 0xff, 0x7fff, 0xffff, 0x7fff_ffff, 0x8000_0000, 0xffff_ffff];
    let mut bytes = bytes.to_vec();
    for _ in 0..random.random_range(1..=4) {
        if bytes.is_empty() {
            break;
        }
        // Headers decide more than what follows.
        let end = if random.random_bool(0.6) { bytes.len().min(600) } else { bytes.len() };
        let at = random.random_range(0..end);
        let span = random.random_range(1..=64).min(bytes.len() - at);
        match random.random_range(0..7) {
            0 => bytes[at] ^= 1 << random.random_range(0..8),
            1 => bytes[at] = random.random_range(0..=255),
            2 => {
                let number = TELLING[random.random_range(0..TELLING.len())];
                let four = if random.random_bool(0.5) {
                    number.to_le_bytes()
                } else {
                    number.to_be_bytes()
                };
                let room = 4.min(bytes.len() - at);
                bytes[at..at + room].copy_from_slice(&four[..room]);
            }
            3 => drop(bytes.drain(at..at + span)),
            4 => {
                let again = bytes[at..at + span].to_vec();
                bytes.splice(at..at, again);
            }
            5 => bytes.truncate(at),
            _ => {
                let from = random.random_range(0..bytes.len() - span + 1);
                bytes.copy_within(from..from + span, at);
            }
        }
    }
    bytes
}

/// The peak of a process's memory, by Linux (proc(5), VmHWM).
///
/// * `process`: its number, or `self`.
pub fn peak_kb(process: &str) -> Option<u64> {
    let status = fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// Feeds changed forms of `corpus` to `read`, which panics where it should not.
///
/// * `percent`: how many of all inputs are of this kind; what takes long gets few.
/// * `process`: whose memory is watched: its number, or `self`.
pub fn feed(
    name: &str,
    percent: usize,
    process: &str,
    corpus: &[Vec<u8>],
    read: impl FnMut(&[u8]) -> bool,
) {
    feed_changed(mutated, name, percent, process, corpus, read);
}

/// The same with forms that `change` makes.
pub fn feed_changed(
    change: fn(&[u8], &mut ChaCha8Rng) -> Vec<u8>,
    name: &str,
    percent: usize,
    process: &str,
    corpus: &[Vec<u8>],
    mut read: impl FnMut(&[u8]) -> bool,
) {
    let all = std::env::var("REEDCROW_MUTATIONS").ok();
    let all: usize = all.and_then(|count| count.parse().ok()).unwrap_or(USUAL);
    let count = (all * percent / 100).max(20);
    let mut random = ChaCha8Rng::seed_from_u64(18);
    let (mut longest, mut understood) = (Duration::ZERO, 0);
    for number in 0..count {
        let bytes = change(&corpus[number % corpus.len()], &mut random);
        let start = Instant::now();
        understood += usize::from(read(&bytes));
        let took = start.elapsed();
        assert!(took < LONGEST, "{name}, input {number}: took {took:?}");
        longest = longest.max(took);
    }
    let peak = peak_kb(process).unwrap_or(0);
    assert!(peak < MOST_MEMORY_KB, "{name}: {peak} kB");
    let line = format!(
        "*** {name}: {count} inputs, {understood} understood, the longest {longest:.1?}, peak {} MB\n",
        peak >> 10
    );
    std::io::stderr().write_all(line.as_bytes()).unwrap();
}
