//! The opening: what costs nothing comes first.

use super::*;

/// Freihofner, woodwind.org 12801: flat, hold it shut; sharp, weaken the cane, or open it.
#[test]
fn an_opening_that_is_off_the_wrong_way_is_pressed_before_anything_is_cut() {
    for (kind, cents, mm, word) in [
        (Kind::Octaves, -40.0, 1.5, "closed"),
        (Kind::Split, -120.0, 1.5, "closed"),
        (Kind::Octaves, 40.0, 0.2, "open"),
    ] {
        let case = given(kind, cents, easy()).sizes(opening(mm));
        let advice = case.advice();
        assert_eq!(advice.next, Move::Recrow, "{cents}");
        assert!(case.says().contains(word) && case.says().contains("costs no cane"));
        assert!(case.says().contains("usually about 0.8 mm"), "{}", case.says());
        assert!(advice.then.contains("gently") && advice.then.contains("cut comes next"));
        let cautions = advice.cautions.join(" ");
        assert!(cautions.contains("plaque") && cautions.contains("lips"), "{cautions}");
        // It was tried, and did not help: then the cut.
        assert!(case.after(Cut::Opening).advice().next.is_cut());
    }
}

#[test]
fn an_opening_whose_mending_would_make_it_worse_is_told_and_left() {
    for (cents, mm, said) in [
        (-40.0, 0.2, "opening it would lower the pitch further"),
        (40.0, 1.5, "pressing it closed would raise the pitch further"),
    ] {
        let case = given(Kind::Octaves, cents, easy()).sizes(opening(mm));
        assert!(case.advice().next.is_cut(), "{cents}");
        assert!(case.says().contains(said), "{}", case.says());
    }
}

/// A reed that only a clip would mend and that has nothing to clip is pressed before it is given up.
#[test]
fn a_wide_opening_is_pressed_before_a_reed_is_given_up() {
    let sizes = Sizes { opening_mm: Some(1.5), ..length(66.3) };
    let advice = given(Kind::Octaves, -90.0, easy()).crows(9).sizes(sizes).advice();
    assert_eq!(advice.next, Move::Recrow);
    assert!(advice.then.contains("press the blades"), "{}", advice.then);
}

#[test]
fn a_sharp_reed_is_opened_before_it_is_scraped_unless_it_is_wide() {
    let sharp = given(Kind::Octaves, 40.0, easy());
    let advice = sharp.advice();
    assert_eq!(advice.next, Move::Tip);
    assert!(advice.then.starts_with("First wet it through, open the tip"), "{}", advice.then);
    assert!(advice.then.contains("Only if that does not help, cut."), "{}", advice.then);
    assert!(advice.cautions.iter().any(|caution| caution.contains("plaque taken out")));
    let wide = sharp.sizes(opening(1.5)).advice();
    assert!(!wide.then.contains("open the tip"), "{}", wide.then);
}

#[test]
fn no_cut_is_promised_that_the_length_rules_out() {
    let sizes = Sizes { opening_mm: Some(1.5), ..length(66.0) };
    let advice = given(Kind::Octaves, -40.0, easy()).sizes(sizes).advice();
    assert!(!advice.then.contains("the cut comes next"), "{}", advice.then);
}
