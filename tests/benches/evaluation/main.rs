//! Accuracy of the readings on synthetic takes with exact truth, as tables.
//!
//! `scripts/evaluate` runs it. `--quick` takes fewer trials and fails when a figure falls under its
//! floor; `--write FOLDER` writes the takes of some tables for other estimators to read; any other
//! word picks the tables whose name holds it. Everything but `frames` goes through
//! `reading::read`, so it measures what users get. `--speed` compares the cost with another pitch
//! tracker's in the same run; no times are printed, since machines differ.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "it prints tables")]

mod coverage;
mod disturbances;
mod frames;
mod locked;
mod octaves;
mod realistic;
mod rooms;
mod speed;
mod splits;
mod table;
mod trial;
mod voices;
mod written;

use std::process::ExitCode;

use table::Table;

fn main() -> ExitCode {
    let mut words = std::env::args().skip(1).filter(|word| word != "--bench");
    let mut quick = false;
    let mut in_rooms = false;
    let mut wanted = Vec::new();
    while let Some(word) = words.next() {
        match word.as_str() {
            "--quick" => quick = true,
            "--rooms" => in_rooms = true,
            "--speed" => return speed::compare(),
            "--write" => {
                let Some(folder) = words.next() else {
                    eprintln!("evaluation: --write needs a folder");
                    return ExitCode::FAILURE;
                };
                if in_rooms {
                    return rooms::write(folder.as_ref(), &words.collect::<Vec<_>>());
                }
                return written::write(folder.as_ref());
            }
            _ => wanted.push(word),
        }
    }
    let trials = |full: usize| if quick { (full / 40).max(6) } else { full };
    type Made = fn(usize) -> Table;
    let tables: [(&str, usize, Made); 10] = [
        ("frames", 400, frames::table),
        ("octaves", 300, octaves::low_octave),
        ("pure-upper", 600, octaves::pure_upper),
        ("splits", 120, splits::table),
        ("voices", 200, voices::table),
        ("locked", 400, locked::table),
        ("realistic", 200, realistic::table),
        ("coverage", 600, coverage::table),
        ("disturbances", 200, disturbances::table),
        ("rates", 60, octaves::rates),
    ];
    let mut failed = false;
    if in_rooms {
        let (takes, minutes) = if quick { (6, 4) } else { (20, 40) };
        for table in rooms::tables(takes, minutes, &wanted) {
            println!("{table}");
            failed |= quick && table.report_losses();
        }
        return if failed { ExitCode::FAILURE } else { ExitCode::SUCCESS };
    }
    for (name, full, make) in tables {
        let chosen = match wanted.as_slice() {
            // Twenty-four sets, half of them at high rates: too long for the short form.
            [] => !(quick && name == "rates"),
            words => words.iter().any(|word| name.contains(word.as_str())),
        };
        if !chosen {
            continue;
        }
        let table = make(trials(full));
        println!("{table}");
        failed |= quick && table.report_losses();
    }
    if failed { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}
