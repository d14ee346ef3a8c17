//! What was foretold against what came.

use super::Workshop;

/// The demo's clip of 0.3 mm brought the pitch nearer, and into the interval that was foretold.
#[test]
fn a_clip_made_as_advised_is_held_against_what_was_foretold() {
    let workshop = Workshop::with_a_reed();
    workshop.says(&["reed", "measure", "A", "--length-mm", "70.5"]);
    workshop.takes("A", "mirek-12-before");
    workshop.says(&["reed", "step", "A", "clip", "0.3"]);
    workshop.takes("A", "mirek-12-after");
    let said = workshop.says(&["log", "trust"]);
    assert!(!said.contains("Brier"), "{said}");
    workshop.golden("trust", &said);
    let line = workshop.says(&["log", "trust", "--single", "--json"]);
    let one: serde_json::Value = serde_json::from_str(&line).unwrap();
    assert_eq!((&one["cut"], &one["came"]), (&"clip".into(), &true.into()), "{one}");
    let (low, high) = (&one["foretold_cents"][0], &one["foretold_cents"][1]);
    let came = one["came_cents"].as_f64().unwrap();
    assert!(low.as_f64().unwrap() <= came && came <= high.as_f64().unwrap(), "{one}");
}

#[test]
fn without_advised_moves_there_is_nothing_to_hold_it_to() {
    let workshop = Workshop::with_a_reed();
    assert_eq!(workshop.says(&["log", "trust", "--single", "--json"]), "");
}

/// The move that stands is the one told last, whether a take, the ruler or an eye brought it.
#[test]
fn a_move_first_told_after_a_look_is_held_against_what_came() {
    let workshop = Workshop::with_a_reed();
    workshop.takes("A", "bram-8-faint-low");
    workshop.says(&["reed", "inspect", "A", "leak", "low"]);
    assert_eq!(workshop.waits("A")["advice"]["move"], "seal");
    workshop.says(&["reed", "step", "A", "seal", "low"]);
    workshop.takes("A", "anouk-7-good");
    let line = workshop.says(&["log", "trust", "--single", "--json"]);
    let one: serde_json::Value = serde_json::from_str(&line).unwrap();
    assert_eq!((&one["cut"], &one["number"]), (&"seal-low".into(), &1.into()), "{line}");
}

/// What was told before no longer stands once something else is.
#[test]
fn a_move_that_stood_no_more_when_it_was_made_is_not_held_against_the_adviser() {
    let workshop = Workshop::with_a_reed();
    workshop.says(&["reed", "measure", "A", "--length-mm", "70.5"]);
    workshop.takes("A", "mirek-12-before");
    assert_eq!(workshop.advised("A", 0)["move"], "clip");
    workshop.says(&["reed", "inspect", "A", "leak", "low"]);
    assert_eq!(workshop.waits("A")["advice"]["move"], "seal");
    workshop.says(&["reed", "step", "A", "clip", "0.3"]);
    workshop.takes("A", "mirek-12-after");
    assert_eq!(workshop.says(&["log", "trust", "--single", "--json"]), "");
}
