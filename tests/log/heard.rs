//! What a maker hears of a crow is kept, can be taken back, goes along with the log, and teaches.

use std::process::Output;

use serde_json::Value;

use super::Workshop;

/// A take of the demo with three crows of one tone each.
const ONE_TONE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/ilse-8-one-tone.wav");

fn ran(workshop: &Workshop, arguments: &[&str]) -> Output {
    workshop.reedcrow(arguments).output().unwrap()
}

fn done(workshop: &Workshop, arguments: &[&str]) -> String {
    let output = ran(workshop, arguments);
    assert!(output.status.success(), "{arguments:?}: {output:?}");
    String::from_utf8(output.stdout).unwrap()
}

fn ear(workshop: &Workshop) -> Value {
    serde_json::from_str(&done(workshop, &["log", "ear", "--json"])).unwrap()
}

fn with_a_take() -> Workshop {
    let workshop = Workshop::with_a_reed();
    done(&workshop, &["reed", "take", "A", ONE_TONE]);
    workshop
}

#[test]
fn a_word_is_kept_with_its_crow_and_taken_back_by_undo() {
    let workshop = with_a_take();
    done(&workshop, &["reed", "heard", "A", "octaves", "--crow", "1"]);
    done(&workshop, &["reed", "heard", "A", "low"]);
    let told = ear(&workshop);
    assert_eq!(told["words"], 2);
    let of = |heard: &str| {
        let rows = told["table"].as_array().unwrap();
        rows.iter().find(|row| row["heard"] == heard).map(|row| row["count"].clone())
    };
    assert_eq!((of("octaves"), of("low")), (Some(1.into()), Some(1.into())));

    done(&workshop, &["reed", "undo", "A"]);
    assert_eq!(ear(&workshop)["words"], 1);
    // The later word of one crow counts.
    done(&workshop, &["reed", "heard", "A", "low", "--crow", "1"]);
    let told = ear(&workshop);
    assert_eq!((&told["words"], &told["table"][0]["heard"]), (&1.into(), &"low".into()));
}

#[test]
fn a_crow_or_a_take_that_is_not_there_is_refused_and_nothing_is_kept() {
    let workshop = with_a_take();
    let mut told = String::new();
    for arguments in [
        &["reed", "heard", "A", "low", "--crow", "4"][..],
        &["reed", "heard", "A", "low", "--take", "2"],
        &["reed", "heard", "B", "low"],
    ] {
        let output = ran(&workshop, arguments);
        let err = String::from_utf8(output.stderr).unwrap();
        assert_eq!((output.status.code(), err.lines().count()), (Some(1), 1), "{err}");
        told.push_str(&err);
    }
    workshop.golden("nothing-to-be-heard", &told);
    assert_eq!(ear(&workshop)["words"], 0);
}

#[test]
fn what_was_heard_goes_along_with_an_export_and_comes_back() {
    let workshop = with_a_take();
    done(&workshop, &["reed", "heard", "A", "octaves", "--crow", "2"]);
    let folder = workshop.path("out");
    done(&workshop, &["reed", "export", folder.to_str().unwrap()]);
    let other = Workshop::new();
    done(&other, &["reed", "import", folder.to_str().unwrap()]);
    assert_eq!(ear(&other)["table"], ear(&workshop)["table"]);
    assert_eq!(ear(&other)["words"], 1);
}

#[test]
fn named_crows_are_passed_on_without_anything_that_names_a_reed_or_a_person() {
    let workshop = with_a_take();
    done(&workshop, &["reed", "edit", "A", "--owner", "Ilse Verhoeven"]);
    done(&workshop, &["reed", "heard", "A", "low"]);
    let file = workshop.path("named.jsonl");
    done(&workshop, &["log", "ear", "--export", file.to_str().unwrap()]);
    let text = std::fs::read_to_string(&file).unwrap();
    let row: Value = serde_json::from_str(text.lines().next().unwrap()).unwrap();
    assert_eq!((&row["heard"], &row["kind"]), (&"low".into(), &"single".into()));
    assert!(!text.contains("Ilse") && !text.contains("ilse") && !text.contains("\"A\""), "{text}");
    // What is there is not written over.
    let again = ran(&workshop, &["log", "ear", "--export", file.to_str().unwrap()]);
    assert_eq!(again.status.code(), Some(1), "{again:?}");
    assert_eq!(std::fs::read_to_string(&file).unwrap(), text);
    let nowhere = ran(&workshop, &["log", "ear", "--export", "no/such/named.jsonl"]);
    let told = [again, nowhere].map(|ran| String::from_utf8(ran.stderr).unwrap());
    workshop.golden("ear-not-exported", &told.concat());
}
