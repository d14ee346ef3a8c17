//! Broken off and gone on with: the same bytes as a run that was left alone.

use std::process::{Child, Stdio};
use std::time::{Duration, Instant};

#[cfg(unix)]
use crate::Ran;
use crate::{Workshop, rows};

const TAKES: usize = 30;

fn workshop() -> Workshop {
    let workshop = Workshop::new();
    for index in 0..TAKES {
        workshop.take(&format!("takes/{index:03}.wav"), 480.0 + index as f64, 1.0);
    }
    let ran = workshop.batch(&["takes", "--out", "whole.csv"]);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    workshop
}

/// Starts a batch and waits until a few rows are on disk.
fn begun(workshop: &Workshop, arguments: &[&str]) -> Child {
    let mut child =
        workshop.command(arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let begun = Instant::now();
    let part = workshop.path("table.csv.part");
    let rows =
        || std::fs::read(&part).map_or(0, |bytes| bytes.iter().filter(|&&b| b == b'\n').count());
    while rows() < 4 && child.try_wait().unwrap().is_none() {
        assert!(begun.elapsed() < Duration::from_secs(60), "no row was written");
        std::thread::sleep(Duration::from_millis(1));
    }
    child
}

#[cfg(unix)]
fn send(child: &Child, signal: &str) {
    std::process::Command::new("kill").args([signal, &child.id().to_string()]).status().unwrap();
}

#[cfg(unix)]
#[test]
fn stopped_by_ctrl_c_the_table_is_whole_and_goes_on() {
    let workshop = workshop();
    let child = begun(&workshop, &["takes", "--out", "table.csv", "--jobs", "2"]);
    send(&child, "-INT");
    let ran = Ran::new(child.wait_with_output().unwrap());
    let there = rows(&workshop.path("table.csv")).len();
    println!("stopped with {there} of {TAKES} rows, exit code {:?}", ran.code);
    assert!(ran.code == Some(130) || there == TAKES, "{ran:?}");
    assert!(!workshop.path("table.csv.part").exists());
    // Stopped again, while it goes on: nothing that was there is lost.
    let child = begun(&workshop, &["takes", "--out", "table.csv", "--resume"]);
    send(&child, "-TERM");
    child.wait_with_output().unwrap();
    assert!(rows(&workshop.path("table.csv")).len() >= there);
    let ran = workshop.batch(&["takes", "--out", "table.csv", "--resume"]);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    assert_eq!(workshop.text("table.csv"), workshop.text("whole.csv"));
}

#[test]
fn killed_it_goes_on_from_what_it_had_written() {
    let workshop = workshop();
    for _ in 0..3 {
        let mut child = begun(&workshop, &["takes", "--out", "table.csv", "--resume"]);
        child.kill().unwrap();
        child.wait().unwrap();
    }
    let ran = workshop.batch(&["takes", "--out", "table.csv", "--resume"]);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    assert!(ran.earlier() > 0, "{}", ran.out);
    assert_eq!(workshop.text("table.csv"), workshop.text("whole.csv"));
}

/// The content decides whether a row is current, not the time of the file; and so do the
/// settings.
#[test]
fn a_row_is_read_again_when_its_recording_or_the_settings_changed() {
    let workshop = workshop();
    let resume = |more: &[&str]| {
        let arguments = [&["takes", "--out", "whole.csv", "--resume"], more].concat();
        let ran = workshop.batch(&arguments);
        ran.earlier()
    };
    workshop.take("takes/007.wav", 700.0, 1.0);
    workshop.take("takes/000-new.wav", 650.0, 1.0);
    assert_eq!(resume(&[]), TAKES - 1);
    assert_eq!(rows(&workshop.path("whole.csv")).len(), TAKES + 1);
    assert_eq!(resume(&[]), TAKES + 1);
    assert_eq!(resume(&["--a4", "442"]), 0);
    assert_eq!(resume(&["--a4", "442"]), TAKES + 1);
    assert_eq!(resume(&["--a4", "442", "--channel", "1"]), 0);
    workshop.batch(&["takes", "--out", "fresh.csv", "--a4", "442", "--channel", "1"]);
    assert_eq!(workshop.text("fresh.csv"), workshop.text("whole.csv"));
}
