//! Doubt stays the knife.

use super::*;
use crate::reading::{Warning, WarningCode};

#[test]
fn doubt_leads_to_crowing_again() {
    let mut wide = given(Kind::Octaves, -38.0, easy());
    for figures in wide.reading.crows.iter_mut().map(|crow| &mut crow.figures) {
        figures.fundamental.ci95_cents = Some(150.0);
    }
    let mut noisy = given(Kind::Octaves, -38.0, easy());
    noisy.reading = reading(Kind::Octaves, Some(-38.0), 1, easy());
    for code in [WarningCode::NoisyRoom, WarningCode::Overload] {
        noisy.reading.warnings = vec![Warning { code, text: "doubtful".into() }];
        assert_eq!(noisy.advice().next, Move::Recrow, "{code:?}");
    }
    let advice = wide.advice();
    assert_eq!((advice.next, advice.amount_mm), (Move::Recrow, None));
    assert!(advice.confidence < 0.7, "{}", advice.confidence);
}

#[test]
fn one_crow_is_never_enough_for_a_cut_and_two_make_it_less_sure_than_three() {
    let of = |crows| {
        let mut case = given(Kind::Octaves, -60.0, easy());
        case.reading = reading(Kind::Octaves, Some(-60.0), crows, easy());
        case.advice()
    };
    assert_eq!((of(1).next, of(2).next, of(3).next), (Move::Recrow, Move::Clip, Move::Clip));
    assert!(of(1).because.iter().any(|reason| reason.says.contains("no spread")));
    assert!(of(2).confidence < of(3).confidence);
}
