//! Fewer crows than the profile wants.

use super::*;
use crate::profile::load;

#[test]
fn fewer_crows_than_are_wanted_are_told_and_count() {
    for (kind, cents) in [(Kind::Octaves, -46.0), (Kind::Split, 0.0), (Kind::Octaves, 0.0)] {
        for crows in [1, 2] {
            let case = given(kind, cents, easy()).crows(crows);
            assert_eq!(case.advice().next, Move::Recrow, "{kind:?} {cents} {crows}");
            assert!(case.says().contains("where 3 are wanted"), "{}", case.says());
            assert!(case.advice().confidence < 0.7);
        }
        let three = given(kind, cents, easy());
        assert_ne!(three.advice().next, Move::Recrow);
        assert!(!three.says().contains("are wanted"), "{}", three.says());
    }
}

/// Missing crows count as if they had differed; what is plain all the same need not wait for them.
#[test]
fn four_of_five_wanted_crows_are_enough_where_it_is_plain() {
    let mut profile = load("american-oboe").unwrap();
    profile.advice.crows_wanted = 5.0;
    let of = |cents: f64, crows: usize| {
        let case = given(Kind::Octaves, cents, easy()).crows(crows);
        let (measured, seen) = (Measurements::default(), Inspection::default());
        advise(&case.reading, &measured, &seen, &profile, &Effects::default())
    };
    let plain = of(-90.0, 4);
    assert_eq!(plain.next, Move::Clip);
    assert!(plain.because.iter().any(|reason| reason.says.starts_with("4 crows where 5")));
    assert_eq!(of(-18.0, 4).next, Move::Recrow);
    assert_eq!(of(-90.0, 3).next, Move::Recrow);
}

/// Under the profile's least confidence a reed is not said to be left alone and then crowed again.
#[test]
fn leaving_it_alone_that_is_doubtful_is_crowing_again() {
    let case = given(Kind::Octaves, -14.5, easy());
    let advice = case.advice();
    assert_eq!(advice.next, Move::Recrow);
    assert!(case.says().contains("nothing asks for a cut so far; only"), "{}", case.says());
    assert!(advice.then.starts_with("Crow three more times"), "{}", advice.then);
}

/// Half a decibel either side of a limit is the same reed.
#[test]
fn doubt_near_a_limit_shows() {
    let at = |level_db| given(Kind::Octaves, 0.0, with_low(level_db, 1.0));
    assert_eq!(at(-20.0).advice().next, Move::Leave);
    for level_db in [-29.5, -30.5] {
        assert_eq!(at(level_db).advice().next, Move::Recrow, "{level_db}");
        assert!(at(level_db).advice().confidence < 0.7);
    }
    assert!(at(-29.5).says().contains("29.5 dB under the whole, near what counts as weak"));
    assert_eq!(at(-40.0).advice().next, Move::Tip);
}
