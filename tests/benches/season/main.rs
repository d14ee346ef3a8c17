//! An invented season as a log, and how long the log takes to answer over it.
//!
//!   cargo bench --bench season -- FOLDER [REEDS [TAKES]]
//!
//! Writes FOLDER/season.db (made anew) and prints, for each question, its time beside that of reading
//! the cards alone.

#![allow(clippy::print_stdout, reason = "it prints tables")]

mod invented;

use std::io::Write;
use std::path::PathBuf;
use std::time::Instant;

use reedcrow::log::questions::{Condition, Field, conditions, cuts, groups, trust};
use reedcrow::log::{Facts, Log, effects};

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    let Some(folder) = arguments.first().map(PathBuf::from) else {
        println!(
            "season: name a folder for it: cargo bench --bench season -- FOLDER [REEDS [TAKES]]"
        );
        return;
    };
    let number = |at: usize, usual| arguments.get(at).map_or(usual, |text| text.parse().unwrap());
    let (reeds, takes) = (number(1, 60), number(2, 2));
    std::fs::create_dir_all(&folder).unwrap();
    let export = folder.join("export");
    let _ = std::fs::remove_dir_all(&export);
    std::fs::create_dir(&export).unwrap();
    let mut lines = std::fs::File::create(export.join("log.jsonl")).unwrap();
    invented::lines(reeds, takes, 7).for_each(|line| lines.write_all(line.as_bytes()).unwrap());
    for ending in ["db", "db-wal", "db-shm"] {
        let _ = std::fs::remove_file(folder.join("season").with_extension(ending));
    }
    let mut log = Log::open(&folder.join("season.db")).unwrap();
    let start = Instant::now();
    log.import(&export).unwrap();
    println!("{reeds} reeds imported in {:.1} s", start.elapsed().as_secs_f64());

    let start = Instant::now();
    let cards = log.reeds().unwrap().len();
    let alone = start.elapsed();
    println!("{:<28} {:>7.0} ms", format!("{cards} cards"), alone.as_secs_f64() * 1e3);
    let told = |what: &str, ask: &dyn Fn(&[Facts]) -> usize| {
        let start = Instant::now();
        let facts = log.facts(|_| true).unwrap().whole;
        let found = ask(&facts);
        let took = start.elapsed();
        let ratio = took.as_secs_f64() / alone.as_secs_f64();
        println!(
            "{what:<28} {:>7.0} ms  {ratio:>5.1} × the cards  ({found})",
            took.as_secs_f64() * 1e3
        );
    };
    told("list", &|facts| {
        facts.iter().map(|f| f.way.iter().map(|p| p.heard.len()).sum::<usize>()).sum()
    });
    told("groups by cane", &|facts| groups(facts, Field::Cane).groups.len());
    told("groups by owner", &|facts| groups(facts, Field::Owner).groups.len());
    told("what cuts did", &|facts| cuts(facts, None, Some(Field::Maker)).cuts.len());
    told("what they teach the adviser", &|facts| effects(facts).past.len());
    told("what was foretold", &|facts| trust(facts, |_| 10.0).all.len());
    told("weather", &|facts| conditions(facts, &Condition::ALL).influences.len());
}
