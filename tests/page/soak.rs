//! A long day at the bench: memory stays flat.
//!
//! A short one by default. With REEDCROW_SOAK=whole a thousand crows and ten thousand live frames, which
//! takes a quarter of an hour.

use std::io::Write;
use std::time::{Duration, Instant};

use crate::served::{Answer, Served};
use crate::stream::Stream;

/// Crows of one recording.
const CROWS: usize = 3;
/// Reeds are changed after so many takes: what stands on one card is shown whole.
const TAKES_OF_A_REED: usize = 8;
/// Memory may grow by this, KiB: what an allocator keeps for later.
const GROWTH_KIB: u64 = 24_000;

#[test]
fn a_long_day_takes_no_more_memory_than_a_short_one() {
    let is_whole = std::env::var_os("REEDCROW_SOAK").is_some_and(|is| is == "whole");
    let (crows, frames): (usize, usize) = if is_whole { (1000, 10_000) } else { (24, 40) };
    let folder = tempfile::tempdir().unwrap();
    let bench = Served::start(Served::deaf(), &folder.path().join("reeds.db"));
    let token = bench.token();
    let recording =
        std::fs::read(concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/anouk-9-flat.wav")).unwrap();
    let stream = Stream::open(&bench);
    let takes = crows / CROWS + 1;
    let (mut live, mut early_kib) = (0, 0);
    let mut practising = Instant::now() - Duration::from_secs(60);
    let mut take = 0;
    while take < takes || live < frames {
        // Something sounds all the time.
        if practising.elapsed() > Duration::from_secs(12) {
            bench.say(&token, "practice flat");
            practising = Instant::now();
        }
        if take < takes {
            if take % TAKES_OF_A_REED == 0 {
                bench.say(&token, &format!("new soak {take}"));
                practising -= Duration::from_secs(60);
            }
            let answer = sent(&bench, &token, take, &recording);
            assert_eq!(answer.status, 200, "{answer:?}");
            take += 1;
        } else {
            std::thread::sleep(Duration::from_millis(200));
        }
        live += stream.so_far().filter(|sent| sent.name == "live").count();
        if early_kib == 0 && take >= takes / 3 {
            early_kib = bench.memory_kib();
        }
    }
    let late_kib = bench.memory_kib();
    let crows = take * CROWS;
    let told = format!("{crows} crows, {live} frames: {early_kib} KiB, then {late_kib} KiB");
    writeln!(std::io::stderr(), "{told}").unwrap();
    assert!(late_kib < early_kib + GROWTH_KIB, "{early_kib} KiB, then {late_kib} KiB");
}

/// Drops a recording on the page, each one another by its last sample.
fn sent(bench: &Served, token: &str, take: usize, recording: &[u8]) -> Answer {
    let mut recording = recording.to_vec();
    let last = recording.len() - 1;
    recording[last] = (take % 2) as u8;
    recording[last - 1] = (take / 2 % 256) as u8;
    let head = format!(
        "POST /recording HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nX-Token: {token}\r\nX-Name: day.wav\r\n\
         Connection: close\r\nContent-Length: {}\r\n\r\n",
        bench.port,
        recording.len()
    );
    bench.raw(&[head.as_bytes(), &recording].concat())
}
