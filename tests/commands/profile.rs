//! `reedcrow profile`.

use std::fs;

use serde_json::Value;

use crate::golden::held;
use crate::{Bench, ending};

#[test]
fn the_built_in_profiles_are_listed_and_shown_with_where_values_come_from() {
    let bench = Bench::new();
    let list = ending(&mut bench.reedcrow(&["profile", "list"]));
    assert_eq!(list.code, Some(0));
    let names: Vec<&str> =
        list.output.lines().filter_map(|line| line.split_whitespace().next()).collect();
    assert_eq!(names, ["american-oboe", "european-oboe", "oboe-damore", "english-horn", "bassoon"]);
    for name in names {
        let shown = ending(&mut bench.reedcrow(&["profile", "show", name]));
        assert_eq!((shown.code, shown.errors.as_str()), (Some(0), ""));
        assert!(shown.output.contains("from = "), "{name}");
    }
}

#[test]
fn a_new_profile_can_be_used_at_once_and_is_never_overwritten() {
    let bench = Bench::new();
    let made = ending(&mut bench.reedcrow(&["profile", "new", "mine.toml", "--like", "bassoon"]));
    assert_eq!((made.code, made.errors.as_str()), (Some(0), ""));
    let text = fs::read_to_string(bench.path("mine.toml")).unwrap();
    assert!(text.contains("name = \"mine\""));
    bench.crow("take.wav", 1.5);
    let read =
        ending(&mut bench.reedcrow(&["analyse", "--json", "--profile", "mine.toml", "take.wav"]));
    let read: Value = serde_json::from_str(&read.output).unwrap();
    assert_eq!(read["profile"], "mine");

    fs::write(bench.path("mine.toml"), "kept").unwrap();
    let again = ending(&mut bench.reedcrow(&["profile", "new", "mine.toml"]));
    assert_eq!(again.code, Some(1));
    assert_eq!(fs::read_to_string(bench.path("mine.toml")).unwrap(), "kept");
    let nowhere = ending(&mut bench.reedcrow(&["profile", "new", "no/such/mine.toml"]));
    held("goldens", "profile-not-written", &(again.errors + &nowhere.errors));
}

/// What comes through a pipe comes once: it was read for its faults, and then nothing was shown.
#[cfg(unix)]
#[test]
fn a_profile_that_comes_through_a_pipe_is_shown() {
    let bench = Bench::new();
    ending(&mut bench.reedcrow(&["profile", "new", "mine.toml", "--like", "bassoon"]));
    let text = fs::read_to_string(bench.path("mine.toml")).unwrap();
    let mut show = bench.reedcrow(&["profile", "show", "/dev/stdin"]);
    let shown = ending(show.write_stdin(text.clone()));
    assert_eq!((shown.code, shown.output), (Some(0), text));
}

/// A note is named as the profile's owner writes it; JSON keeps to sharps.
#[test]
fn a_target_written_with_a_flat_is_told_with_flats() {
    let bench = Bench::new();
    let text = "name = \"mine\"\n[crow]\ntarget = \"Db5\"\nregisters = [0, 1]\n";
    bench.bytes("mine.toml", text.as_bytes());
    bench.crow("take.wav", 2.0);
    let read = |extra: &[&str]| {
        let arguments = ["analyse", "--profile", "mine.toml", "--a4", "415.3", "take.wav"];
        ending(&mut bench.reedcrow(&[&arguments[..], extra].concat())).output
    };
    let card = read(&[]);
    assert!(!card.contains('#'), "{card}");
    held("goldens", "card-with-flats", &card);
    let read: Value = serde_json::from_str(&read(&["--json"])).unwrap();
    assert_eq!(read["summary"]["fundamental"]["note"], "C#5");
}

#[test]
fn a_wrong_profile_gets_one_line_that_names_the_line() {
    let bench = Bench::new();
    let whole = "name = \"mine\"\n[crow]\ntarget = \"C5\"\nregisters = [0, 1]\n[tolerance]\n";
    let mut told = String::new();
    for last in ["target_cents = 9000\n", "target_sents = 9\n", "target_cents = \n"] {
        bench.bytes("mine.toml", format!("{whole}{last}").as_bytes());
        bench.crow("take.wav", 1.5);
        let end = ending(&mut bench.reedcrow(&["analyse", "--profile", "mine.toml", "take.wav"]));
        assert_eq!((end.code, end.output.as_str()), (Some(1), ""), "{last}");
        assert_eq!(end.errors.lines().count(), 1, "{}", end.errors);
        told.push_str(&end.errors);
    }
    held("goldens", "wrong-profiles", &told);
    bench.bytes("noise.toml", &[0xff, 0xfe, 0x00]);
    for name in ["noise.toml", "nowhere.toml", "."] {
        let end = ending(&mut bench.reedcrow(&["profile", "show", name]));
        assert_eq!((end.code, end.errors.lines().count()), (Some(1), 1), "{}", end.errors);
    }
}

#[test]
fn a_makers_own_tables_stand_behind_the_advice_and_faulty_ones_are_told_in_one_line() {
    let bench = Bench::new();
    let made = ending(&mut bench.reedcrow(&["profile", "practice", "mine.toml"]));
    assert_eq!((made.code, made.errors.as_str()), (Some(0), ""));
    assert!(made.output.contains("REEDCROW_PRACTICE"), "{}", made.output);
    let text = fs::read_to_string(bench.path("mine.toml")).unwrap();
    assert_eq!(ending(&mut bench.reedcrow(&["profile", "practice"])).output, text);

    bench.crow("take.wav", 1.5);
    let explained = |arguments: &[&str]| {
        ending(bench.reedcrow(arguments).env("REEDCROW_PRACTICE", bench.path("mine.toml")))
    };
    let own = text.replace("the sides of the tip are thick", "the wings are heavy");
    fs::write(bench.path("mine.toml"), own).unwrap();
    let told = explained(&["explain", "take.wav"]);
    assert!(told.code == Some(0) && told.output.contains("the wings are heavy"), "{told:?}");

    fs::write(bench.path("mine.toml"), text.replace("chance = 0.36", "chance = 36")).unwrap();
    let refused = explained(&["explain", "take.wav"]);
    assert_eq!(refused.code, Some(1));
    assert_eq!(refused.errors.lines().count(), 1, "{refused:?}");
    assert!(refused.errors.contains("cause.sides.chance is 36"), "{refused:?}");
    // What is kept stays within reach: the built-in tables answer.
    ending(&mut bench.reedcrow(&["reed", "new", "A"]));
    let waiting = explained(&["log", "waiting"]);
    assert!(waiting.code == Some(0) && waiting.errors.contains("cause.sides"), "{waiting:?}");
}
