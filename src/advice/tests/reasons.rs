//! What is named among the reasons, whatever the move.

use super::*;
use crate::profile::load;

#[test]
fn a_tone_far_off_is_crowed_again_and_named_in_its_own_octave() {
    let mut case = given(Kind::Single, 553.0, easy());
    case.reading.summary.figures.fundamental.register = Some(-2);
    assert_eq!(case.advice().next, Move::Recrow);
    assert!(case.says().contains("553 cents sharp of C3"), "{}", case.says());
}

#[test]
fn a_rattle_measurements_and_turns_are_named_though_the_move_stays() {
    let mut figures = easy();
    figures.steadiness.rattle_depth = Some(0.41);
    figures.rungs[1].switches_per_s = 1.1;
    let sizes = Sizes { staple_mm: Some(47.0), wound_to_mm: Some(48.0), ..length(70.4) };
    let case = given(Kind::Octaves, 3.0, figures).sizes(sizes);
    assert_eq!(case.advice().next, Move::Leave);
    let said = case.says();
    for words in
        ["41 % deep", "goes out and comes back 1.1 times", "past the end of the 47 mm staple"]
    {
        assert!(said.contains(words), "{words}: {said}");
    }
    assert!(!said.contains("together"), "{said}");
}

/// What a reason says must be so of these crows: a low octave that comes late is not in order.
#[test]
fn a_flat_crow_whose_low_octave_is_late_or_weak_is_not_said_to_be_in_order() {
    for (figures, locked, said) in [
        (late(), "the octaves lock once both sound", "the low octave comes 600 ms after"),
        (with_low(-36.0, 1.0), "the octaves are locked", "the low octave is weak, 36 dB under"),
    ] {
        let case = given(Kind::Octaves, -40.0, figures);
        assert_eq!(case.rule(), "flat");
        let because = case.says();
        assert!(because.contains(said), "{because}");
        assert!(because.contains(locked), "{because}");
        for wrong in ["in order", "sound together"] {
            assert!(!because.contains(wrong), "{because}");
        }
    }
    // A low octave that is there from the beginning does not lock "once" it sounds.
    let weak = given(Kind::Octaves, 0.0, with_low(-36.0, 1.0));
    assert_eq!(weak.rule(), "low-octave-weak");
    for wrong in ["once", "at once"] {
        assert!(!weak.says().contains(wrong), "{}", weak.says());
    }
}

/// Octaves that take turns are told so once, and of a low octave that is there at once it is not
/// said that it will come at once.
#[test]
fn octaves_that_take_turns_or_go_have_their_own_reasons() {
    let turns = given(Kind::Octaves, 0.0, turning());
    assert_eq!((turns.rule(), turns.advice().next), ("octaves-take-turns", Move::Tip));
    assert_eq!(turns.says().matches("take turns").count(), 1, "{}", turns.says());
    let goes = given(Kind::Octaves, 0.0, with_low(-6.0, 0.5));
    assert_eq!(goes.rule(), "low-octave-goes");
    for case in [turns, goes] {
        assert!(!case.says().contains("at once"), "{}", case.says());
    }
    assert!(given(Kind::Octaves, 0.0, late()).says().contains("come at once"));
}

/// One crow in octaves, one single, one split: how far the split one is off is its own figure.
#[test]
fn how_far_off_the_octave_is_quoted_from_the_crows_of_that_kind() {
    let mut mixed = given(Kind::Split, 0.0, easy());
    for (crow, (kind, cents)) in mixed.reading.crows.iter_mut().zip([
        (Kind::Octaves, Some(0.2)),
        (Kind::Single, None),
        (Kind::Split, Some(21.0)),
    ]) {
        crow.kind = kind;
        crow.figures.alignment.cents = cents;
    }
    mixed.reading.summary.figures.alignment.cents = Some(10.6);
    let said = mixed.says();
    assert!(said.starts_with("two tones sound 21 cents off the octave (1 of 3 crows)"), "{said}");
}

/// A rattle that deep is plain to hear, whatever is done first.
#[test]
fn a_wild_rattle_is_named_whatever_the_rule() {
    for (kind, cents) in [(Kind::Octaves, -40.0), (Kind::Octaves, 40.0), (Kind::Single, 0.0)] {
        let mut figures = easy();
        figures.steadiness.rattle_depth = Some(0.83);
        let said = given(kind, cents, figures).says();
        assert!(said.contains("it rattles, 83 % deep, past the 50 %"), "{cents}: {said}");
    }
}

#[test]
fn without_a_target_pitch_is_no_reason() {
    for name in ["european-oboe", "bassoon"] {
        let profile = load(name).unwrap();
        let mut figures = easy();
        figures.fundamental.register = None;
        let reading = reading(Kind::Octaves, None, 3, figures);
        let advice = advise(
            &reading,
            &Measurements::default(),
            &Inspection::default(),
            &profile,
            &Effects::default(),
        );
        assert_eq!(advice.next, Move::Leave, "{name}");
        assert!(advice.because.iter().all(|reason| !reason.figure.starts_with("fundamental")));
    }
}
