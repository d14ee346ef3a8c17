//! What is told of a reed again says the same, until something new is known.

use reedcrow::log::HeardAs;
use reedcrow::reed::Move;

use super::Workshop;
use super::work::sentence;

fn next(said: &str) -> String {
    said.lines()
        .skip_while(|line| !line.starts_with("  Next"))
        .take_while(|line| !line.starts_with("  because"))
        .collect()
}

/// The afternoon of the README: after a second clip in a row the card says what the take said, and the ruler
/// ends what it was asked for.
#[test]
fn a_card_says_again_what_its_last_take_said() {
    let workshop = Workshop::with_a_reed();
    workshop.says(&["reed", "measure", "A", "length", "70.6", "staple", "47", "wound", "46.8"]);
    workshop.takes("A", "mirek-12-before");
    workshop.says(&["reed", "step", "A", "clip", "0.3"]);
    let told = next(&workshop.takes("A", "mirek-12-after"));
    assert_eq!(workshop.advised("A", 1)["move"], "clip");
    // The amount, too: what this cut did was known to the take already.
    assert_eq!(next(&workshop.says(&["reed", "show", "A"])), told);
    assert_eq!(next(&workshop.says(&["reed", "show", "A"])), told);
    let explained = workshop.says(&["explain", "A"]);
    assert!(explained.starts_with(Move::Clip.code()), "{explained}");
    let measured = next(&workshop.says(&["reed", "measure", "A", "length", "70.3"]));
    assert_eq!(workshop.waits("A")["advice"]["move"], "clip");
    assert_eq!(next(&workshop.says(&["reed", "show", "A"])), measured);
}

/// A crow is named also once its reed is closed: ears are taught by reeds that are done, too.
#[test]
fn a_crow_of_a_closed_reed_can_be_named() {
    let workshop = Workshop::with_a_reed();
    workshop.takes("A", "anouk-9-flat");
    workshop.says(&["reed", "close", "A", "done"]);
    let said = workshop.says(&["reed", "heard", "A", "octaves"]);
    let heard = workshop.log().history("A").unwrap().takes[0].heard.clone();
    assert_eq!((heard.len(), heard[0].heard), (1, HeardAs::Octaves));
    workshop.golden("heard-of-a-closed-reed", &said);
}

#[test]
fn reeds_of_two_owners_make_no_one_account() {
    let workshop = Workshop::with_a_reed();
    workshop.says(&["reed", "edit", "A", "--owner", "Ilse"]);
    workshop.says(&["reed", "new", "B", "--owner", "Bram"]);
    let output = workshop.reedcrow(&["reed", "account", "A", "B"]).output().unwrap();
    let refusal = String::from_utf8(output.stderr).unwrap();
    assert_eq!((output.status.code(), refusal.lines().count()), (Some(1), 1), "{refusal}");
    workshop.says(&["reed", "edit", "B", "--owner", "Ilse"]);
    workshop.says(&["reed", "account", "A", "B"]);
}

/// Of a crow that may be octaves or one tone nobody knows whether the octaves were lost.
#[test]
fn octaves_that_the_sound_leaves_open_are_not_told_as_lost() {
    let workshop = Workshop::with_a_reed();
    workshop.takes("A", "anouk-7-good");
    workshop.says(&["reed", "step", "A", "tip", "sides"]);
    workshop.takes("A", "ilse-9-blended");
    let changed = || {
        let facts = workshop.log().facts(|_| true).unwrap().whole.remove(0);
        let changed = facts.way.last().unwrap().changed.unwrap();
        (changed.octaves_before, changed.octaves_after)
    };
    assert_eq!(changed(), (Some(true), None));
    let account = workshop.says(&["reed", "account", "A"]);
    assert!(!account.contains(&sentence("octaves-lost")), "{account}");
    // Nor is it known of the next cut whether it brought them.
    workshop.says(&["reed", "step", "A", "tip", "corners"]);
    workshop.takes("A", "anouk-9-flat");
    assert_eq!(changed(), (None, Some(true)));
    let account = workshop.says(&["reed", "account", "A"]);
    assert!(!account.contains(&sentence("octaves-came")), "{account}");
}
