//! What was seen and measured beside the crow.

use super::*;
use crate::advice::{Place, Where};
use crate::reed::{Corners, Overlap};

/// Where the corners are thin and the sides thinnest, nobody is told to thin them.
#[test]
fn a_tip_that_was_seen_thin_is_done() {
    for (kind, cents, figures) in [
        (Kind::Octaves, 0.0, late()),
        (Kind::Octaves, 0.0, with_low(-40.0, 1.0)),
        (Kind::Single, 10.0, peep()),
        (Kind::Split, 0.0, easy()),
        (Kind::Octaves, 40.0, easy()),
        (Kind::Octaves, 40.0, stuffy()),
        (Kind::Octaves, 0.0, stuffy()),
        (Kind::Octaves, 0.0, wild()),
    ] {
        let before = given(kind, cents, figures.clone());
        let done = given(kind, cents, figures).seen(tip_thin());
        assert_ne!(done.advice().r#where, Where::At(Place::Corners));
        assert!(done.says().contains("were seen thin"), "{}", done.says());
        assert_eq!(before.advice().next, Move::Tip, "{}", before.rule());
    }
}

#[test]
fn a_chipped_corner_is_no_place_to_scrape() {
    let chipped = Inspection { corners: Some(Corners::Chipped), ..Inspection::default() };
    for figures in [easy(), stuffy(), late()] {
        let advice = given(Kind::Octaves, 40.0, figures).seen(chipped).advice();
        assert_eq!(advice.next, Move::Tip);
        assert_eq!(advice.r#where, Where::At(Place::Sides), "{advice:?}");
        assert!(advice.then.contains("a clip past the chipped corner"), "{}", advice.then);
    }
}

#[test]
fn a_clip_of_a_short_tip_says_that_its_step_moves_down_after_it() {
    let tip = |mm| Sizes { tip_start_mm: Some(mm), ..Sizes::default() };
    let of = |mm| given(Kind::Octaves, -40.0, easy()).sizes(tip(mm)).advice();
    assert_eq!(of(68.0).next, Move::Clip);
    assert!(of(68.0).then.contains("move its step down towards 66 mm"), "{}", of(68.0).then);
    assert!(!of(66.0).then.contains("step"), "{}", of(66.0).then);
}

/// oboeinsight.com, adjustments: hard and sharp, take cane off; easy and sharp, usually too late.
#[test]
fn sharp_and_easy_is_less_sure_and_a_smaller_step_than_sharp_and_hard() {
    let easy = given(Kind::Octaves, 40.0, easy());
    let hard = given(Kind::Octaves, 40.0, stuffy()).advice();
    assert_eq!((easy.advice().next, hard.next), (Move::Tip, Move::Tip));
    assert!(easy.advice().confidence < hard.confidence - 0.05, "{}", easy.advice().confidence);
    assert!(easy.advice().then.contains("One light stroke"), "{}", easy.advice().then);
    assert!(easy.says().contains("it speaks easily, after 30 ms of breath"), "{}", easy.says());
    assert!(hard.because.iter().all(|reason| !reason.says.contains("speaks easily")));
}

/// What does not lead to the move stands apart, after the reasons and the rule.
#[test]
fn what_is_no_reason_for_the_move_is_told_as_a_remark_after_the_reasons() {
    let backwards = Inspection { overlap: Some(Overlap::Backwards), ..Inspection::default() };
    let case = given(Kind::Octaves, -40.0, easy()).seen(backwards);
    let last = case.advice().because.pop().unwrap().says;
    assert_eq!(last, "also seen: the blades overlap backwards");
    let held = case.crows(1).advice().because.pop().unwrap().says;
    assert_eq!(held, last);
    // What leads to the place is a reason.
    let thick = Inspection { corners: Some(Corners::Thick), ..Inspection::default() };
    let place = given(Kind::Split, 0.0, easy()).seen(thick);
    assert!(!place.says().contains("also"), "{}", place.says());
}

/// Nothing that was measured is dropped without a word.
#[test]
fn every_measurement_outside_the_usual_is_named() {
    let none = Sizes::default();
    for (sizes, said) in [
        (
            Sizes { heart_bottom_mm: Some(57.0), ..none },
            "the heart ends at 57 mm, 4 mm less than the usual 61 mm",
        ),
        (
            Sizes { window_bottom_mm: Some(46.0), ..none },
            "the windows begin at 46 mm, below the staple's end at 47 mm (the usual one; measure \
             it): measure it again",
        ),
        (
            Sizes { window_bottom_mm: Some(55.0), ..none },
            "the windows begin at 55 mm, 5 mm more than the usual 50 mm",
        ),
        (Sizes { staple_mm: Some(44.0), ..none }, "the staple is 44 mm, 3 mm less than the usual"),
        (
            Sizes { staple_mm: Some(47.0), wound_to_mm: Some(44.0), ..none },
            "the winding stops at 44 mm, 3 mm short of the end of the 47 mm staple",
        ),
        (length(74.0), "the reed is 74 mm, 4 mm more than the usual 70 mm"),
        (
            Sizes { throat_width_mm: Some(9.0), ..none },
            "not judged, since the profile says nothing usual of it: throat width 9 mm",
        ),
    ] {
        for cents in [0.0, -40.0, 40.0] {
            let case = given(Kind::Octaves, cents, easy()).sizes(sizes);
            assert!(case.says().contains(said), "{said}\n{}", case.says());
        }
    }
}

#[test]
fn a_winding_past_the_staple_of_a_reed_that_crows_well_is_told_and_left() {
    let wound = Sizes { staple_mm: Some(47.0), wound_to_mm: Some(48.5), ..Sizes::default() };
    let case = given(Kind::Octaves, 3.0, easy()).sizes(wound);
    assert_eq!(case.advice().next, Move::Leave);
    assert!(case.says().contains("yet it crows well"), "{}", case.says());
    assert!(!case.says().contains("chokes"), "{}", case.says());
}

#[test]
fn a_chipped_corner_warns_of_lips_and_only_what_can_follow_is_promised() {
    let chipped = Inspection { corners: Some(Corners::Chipped), ..Inspection::default() };
    let short = given(Kind::Octaves, 0.0, late()).seen(chipped).sizes(length(66.0));
    let advice = short.advice();
    assert!(advice.cautions.iter().any(|caution| caution.contains("cut a lip")), "{advice:?}");
    assert!(!advice.then.contains("low enough"), "{}", advice.then);
    assert!(!short.says().contains("sides and corners"), "{}", short.says());
}

#[test]
fn corners_seen_thin_are_left_alone() {
    let thin = Inspection { corners: Some(Corners::Thin), ..Inspection::default() };
    let place = given(Kind::Octaves, 0.0, late()).seen(thin).advice().r#where;
    assert_eq!(place, Where::At(Place::Sides));
}
