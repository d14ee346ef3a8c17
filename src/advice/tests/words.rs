//! How figures are told.

use super::super::words::{against_target, cents, of_limit, percent, signed};
use super::*;

#[test]
fn rounding_never_hides_on_which_side_of_a_limit_a_figure_lies() {
    assert_eq!(of_limit(15.3, 15.0), "15.3 cents");
    assert_eq!(of_limit(15.04, 15.0), "15.04 cents");
    assert_eq!(of_limit(-14.7, 15.0), "15 cents");
    assert_eq!(of_limit(40.6, 15.0), "41 cents");
    assert_eq!(percent(0.699), "69 %");
    assert_eq!(percent(0.7), "70 %");
}

#[test]
fn one_is_singular_nothing_has_no_side_and_minus_is_a_minus() {
    let told = |value| against_target(value, &Profile::default(), Some(0));
    assert_eq!(told(0.3), "on C5, as near as a cent");
    assert_eq!(told(-1.2), "1 cent flat of C5, within the 15 that count as in tune");
    assert_eq!(told(15.3), "15.3 cents sharp of C5, past the 15 that count as in tune");
    assert_eq!(cents(-1.0), "1 cent");
    assert_eq!((signed(-0.2), signed(-3.4), signed(2.0)), ("0".into(), "−3".into(), "+2".into()));
}

#[test]
fn lengths_are_told_as_a_bench_measures_them() {
    let case = given(Kind::Octaves, -90.0, easy()).sizes(length(66.548));
    assert!(case.says().contains("66.55 mm long"), "{}", case.says());
}

/// A smallest clip typed in inches is no reason for a clip of 0.1016 mm.
#[test]
fn clips_are_told_in_steps_that_can_be_cut() {
    let mut profile = Profile::default();
    profile.advice.smallest_clip_mm = 0.1016;
    let reading = given(Kind::Octaves, -22.0, easy()).crows(9).reading;
    let (measured, seen) = (Measurements::default(), Inspection::default());
    let advice = advise(&reading, &measured, &seen, &profile, &Effects::default());
    assert_eq!(advice.amount_mm, Some(0.1));
}
