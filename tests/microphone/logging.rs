//! A reed on the bench: crows go to its card, cuts are typed between them.

use std::io::Write;
use std::path::Path;
use std::process::Stdio;

use serde_json::Value;

use crate::bench::{Bench, Running, Told, text};

const BEFORE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/mirek-12-before.wav");
const AFTER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/mirek-12-after.wav");

#[test]
fn crows_go_to_the_step_they_were_heard_at_and_the_change_is_told() {
    let Some(bench) = Bench::start() else { return };
    let log = bench.path("reeds.db");
    let reed = |arguments: &[&str]| {
        let output = bench.reedcrow().env("REEDCROW_LOG", &log).args(arguments).output().unwrap();
        assert!(output.status.success(), "{output:?}");
        text(&output.stdout)
    };
    reed(&["reed", "new", "Mirek 12"]);
    reed(&["reed", "measure", "Mirek 12", "--length-mm", "70.5"]);

    let mut listening = bench.reedcrow();
    listening.env("REEDCROW_LOG", &log).args(["listen", "--reed", "Mirek 12", "--pause", "60"]);
    let mut listening = Running::start(listening.stdin(Stdio::piped()));
    let mut typed = listening.stdin();
    // What is played may reach the program seconds later where the machine is busy: every step
    // waits for what the program says of the one before.
    let (said, told) = (Told::begin(listening.stdout()), Told::begin(listening.stderr()));
    told.wait_for("Listening to", 1);
    bench.play(Path::new(BEFORE));
    said.wait_for("  3  ", 1);
    // The pause is not over: the cut closes the take.
    typed.write_all(b"c 0.3: a sliver\n").unwrap();
    said.wait_for("Written down: cut 1, ", 1);
    bench.play(Path::new(AFTER));
    said.wait_for("  3  ", 2);
    typed.write_all(b"n speaks\nq\n").unwrap();
    let output = listening.ended(300);
    assert!(output.status.success(), "{output:?} {}", told.whole());
    let said = said.whole();
    // A crow is told once, as it ends.
    assert!(!said.contains("\n    1  "), "{said}");
    for part in ["take 1, as it came", "cut 1, clip 0.3 mm: a sliver", "take 2, after step 1"] {
        assert!(said.contains(part), "{part} is not in\n{said}");
    }
    let mut told = said.lines().skip_while(|line| !line.starts_with("since"));
    let mut told = told.by_ref().take_while(|line| !line.starts_with("cut "));
    assert!(told.next().is_some_and(|since| since.contains("clip 0.3 mm")), "{said}");
    assert!(told.all(|line| line.chars().count() <= 80), "{said}");
    let compared: Value =
        serde_json::from_str(&reed(&["compare", "--reed", "Mirek 12", "--json"])).unwrap();
    let mut changes = compared["changes"].as_array().unwrap().iter();
    let pitch = changes.find(|change| change["figure"] == "fundamental.target_cents").unwrap();
    assert_eq!(pitch["verdict"], "rose", "{compared}");

    let history: Value =
        serde_json::from_str(&reed(&["reed", "show", "Mirek 12", "--json"])).unwrap();
    let stages: Vec<_> =
        history["takes"].as_array().unwrap().iter().map(|t| &t["after_step"]).collect();
    assert_eq!(stages, [0, 1]);
    assert!(history["takes"][0]["reading"]["advice"]["move"].is_string());
    let checked: Value = serde_json::from_str(&reed(&["log", "check", "--json"])).unwrap();
    assert_eq!((&checked["recordings"], &checked["faults"]), (&2.into(), &serde_json::json!([])));
    assert!(reed(&["log", "effects"]).contains("clip"));
}
