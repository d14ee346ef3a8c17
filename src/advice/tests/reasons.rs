//! What is named among the reasons, whatever the move.

use super::*;
use crate::profile::load;

fn says(case: &Given) -> String {
    case.advice().because.iter().map(|reason| reason.says.as_str()).collect::<Vec<_>>().join("; ")
}

#[test]
fn a_tone_far_off_is_crowed_again_and_named_in_its_own_octave() {
    let mut case = given(Kind::Single, 553.0, easy());
    case.reading.summary.figures.fundamental.register = Some(-2);
    assert_eq!(case.advice().next, Move::Recrow);
    assert!(says(&case).contains("553 cents sharp of C3"), "{}", says(&case));
}

#[test]
fn a_rattle_measurements_and_turns_are_named_though_the_move_stays() {
    let mut figures = easy();
    figures.steadiness.rattle_depth = Some(0.41);
    figures.rungs[1].switches_per_s = 1.5;
    let sizes = Sizes { staple_mm: Some(47.0), wound_to_mm: Some(48.0), ..length(70.4) };
    let case = given(Kind::Octaves, 3.0, figures).sizes(sizes);
    assert_eq!(case.advice().next, Move::Leave);
    let said = says(&case);
    for words in
        ["41 % deep", "goes out and comes back 1.5 times", "past the end of the 47 mm staple"]
    {
        assert!(said.contains(words), "{words}: {said}");
    }
    assert!(!said.contains("together"), "{said}");
}

/// What a reason says must be so of these crows: a low octave that comes late is not in order.
#[test]
fn a_flat_crow_whose_low_octave_is_late_or_weak_is_not_said_to_be_in_order() {
    let mut weak = easy();
    weak.rungs[0].level_db = -36.0;
    for (figures, said) in [
        (late(), "the low octave comes 600 ms after the first tone"),
        (weak, "the low octave is weak, 36 dB under the whole"),
    ] {
        let case = given(Kind::Octaves, -40.0, figures);
        assert_eq!(case.rule(), "flat");
        let because = says(&case);
        assert!(because.contains(said), "{because}");
        assert!(because.contains("the octaves lock once both sound"), "{because}");
        for wrong in ["in order", "sound together"] {
            assert!(!because.contains(wrong), "{because}");
        }
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
