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
    for words in ["41 % deep", "take turns", "past the end of the 47 mm staple"] {
        assert!(said.contains(words), "{words}: {said}");
    }
    assert!(!said.contains("together"), "{said}");
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
