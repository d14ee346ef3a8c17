//! Long recordings and many of them: memory stays where it was.

use std::fs::{self, File};
use std::io::{BufWriter, Seek, SeekFrom, Write};
use std::process::Stdio;
use std::time::{Duration, Instant};

use crate::{RATE_HZ, Ran, Workshop, rows, tone};

/// Runs a batch, and looks at the most memory it had resident (VmHWM, in KiB) until it ended.
pub fn run_measured(workshop: &Workshop, arguments: &[&str]) -> (Ran, u64) {
    let err = File::create(workshop.path("stderr.txt")).unwrap();
    let mut child = workshop.command(arguments).stdout(Stdio::null()).stderr(err).spawn().unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut most_kb = 0;
    let end = loop {
        if let Ok(status) = fs::read_to_string(&status) {
            let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
            let kb = line.and_then(|line| line.trim().split(' ').next()?.parse().ok());
            most_kb = most_kb.max(kb.unwrap_or(0));
        }
        if let Some(end) = child.try_wait().unwrap() {
            break end;
        }
        std::thread::sleep(Duration::from_millis(5));
    };
    let err = workshop.text("stderr.txt");
    assert!(!err.contains("panicked"), "{err}");
    (Ran { code: end.code(), out: String::new(), err }, most_kb)
}

/// Writes an RF64 file at 48 kHz, 16 bits, mono: silence but for a tone at the start of every
/// `every_s` seconds. The silence is a hole in the file, so that the disk hardly notices.
fn sparse_recording(workshop: &Workshop, name: &str, seconds: u64, every_s: u64) {
    const RATE: u64 = 48_000;
    let bytes = seconds * RATE * 2;
    let mut out = BufWriter::new(File::create(workshop.path(name)).unwrap());
    let mut header = Vec::new();
    header.extend(b"RF64\xff\xff\xff\xffWAVEds64\x1c\0\0\0");
    header.extend((bytes + 72).to_le_bytes());
    header.extend(bytes.to_le_bytes());
    header.extend((seconds * RATE).to_le_bytes());
    header.extend([0; 4]);
    header.extend(b"fmt \x10\0\0\0\x01\0\x01\0");
    header.extend((RATE as u32).to_le_bytes());
    header.extend((RATE as u32 * 2).to_le_bytes());
    header.extend([2, 0, 16, 0]);
    header.extend(b"data\xff\xff\xff\xff");
    let start = header.len() as u64;
    out.write_all(&header).unwrap();
    let crow: Vec<u8> = tone(520.0 * f64::from(RATE_HZ) / RATE as f64, 3.0)
        .iter()
        .flat_map(|sample| ((sample * 32_767.0) as i16).to_le_bytes())
        .collect();
    for at_s in (1..seconds.saturating_sub(4)).step_by(every_s as usize) {
        out.seek(SeekFrom::Start(start + at_s * RATE * 2)).unwrap();
        out.write_all(&crow).unwrap();
    }
    out.flush().unwrap();
    out.get_ref().set_len(start + bytes).unwrap();
}

/// Whether the machine may be kept busy for minutes.
fn at_full_size() -> bool {
    let asked = std::env::var_os("REEDCROW_TEST_LARGE").is_some();
    if !asked {
        println!("a fraction of the full size; set REEDCROW_TEST_LARGE=1 for all of it");
    }
    asked
}

/// Two hours (five minutes unless `REEDCROW_TEST_LARGE` is set) take no more memory than
/// one minute, within what an allocator keeps, and less than 64 MiB.
#[test]
fn hours_take_no_more_memory_than_a_minute() {
    let workshop = Workshop::new();
    let long_s = if at_full_size() { 7200 } else { 300 };
    sparse_recording(&workshop, "short.wav", 60, 20);
    sparse_recording(&workshop, "long.wav", long_s, 60);
    let (_, short_kb) = run_measured(&workshop, &["short.wav", "--out", "short.csv"]);
    let begun = Instant::now();
    let (ran, long_kb) = run_measured(&workshop, &["long.wav", "--out", "long.csv"]);
    let took_s = begun.elapsed().as_secs_f64();
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    println!(
        "1 minute: {short_kb} KiB resident; {} minutes: {long_kb} KiB, read at {:.0} times real time",
        long_s / 60,
        long_s as f64 / took_s
    );
    assert!(long_kb < 64 * 1024, "{long_kb} KiB");
    assert!(long_kb < short_kb + 8 * 1024, "{short_kb} KiB, {long_kb} KiB");
}

/// Memory does not grow with the number of files. Ten thousand with `REEDCROW_TEST_LARGE` set,
/// two thousand without.
#[test]
fn thousands_of_short_files_take_no_more_memory_than_a_hundred() {
    let workshop = Workshop::new();
    let (count, seconds) = if at_full_size() { (10_000, 0.5) } else { (2_000, 0.1) };
    let take = fs::read(workshop.take("one.wav", 520.0, seconds)).unwrap();
    for index in 0..count {
        let folder = workshop.path(&format!("takes/{:02}", index / 100));
        fs::create_dir_all(&folder).unwrap();
        fs::write(folder.join(format!("{index}.wav")), &take).unwrap();
    }
    let (_, few_kb) = run_measured(&workshop, &["takes/00", "--out", "few.csv"]);
    let begun = Instant::now();
    let (ran, many_kb) = run_measured(&workshop, &["takes", "-r", "--out", "many.csv"]);
    let took_ms = begun.elapsed().as_secs_f64() * 1e3;
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    println!(
        "100 files: {few_kb} KiB resident; {count} files: {many_kb} KiB, {:.2} ms each",
        took_ms / f64::from(count)
    );
    assert_eq!(rows(&workshop.path("many.csv")).len(), count as usize);
    assert!(many_kb < few_kb + 8 * 1024, "{few_kb} KiB, {many_kb} KiB");
}
