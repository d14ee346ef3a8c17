//! A case for each rule, so that none is there that never applies.

use std::collections::BTreeSet;

use super::super::rules::RULES;
use super::*;
use crate::reading::{Warning, WarningCode};
use crate::reed::{Bark, Corners, Heart, Leak};

/// One case for each rule, by the rule's name.
fn cases() -> Vec<(&'static str, Given)> {
    use Kind::{Octaves, Single, Split, Unsettled};
    let look = Inspection::default();
    let thick = Inspection { heart: Some(Heart::Thick), ..look };
    let mut silent = given(Octaves, 0.0, easy());
    silent.reading = reading(Kind::Octaves, None, 0, Figures::default());
    let mut silent_after = given(Octaves, 0.0, easy()).after(Cut::TipSurface);
    silent_after.reading = blown_in_vain();
    let mut air = given(Octaves, 0.0, easy());
    air.reading = blown_in_vain();
    let mut in_two_octaves = given(Octaves, 3.0, easy());
    for (crow, hz) in in_two_octaves.reading.crows.iter_mut().zip([523.0, 131.0, 1046.0]) {
        crow.figures.fundamental.hz = Some(hz);
    }
    let mut nothing = given(Octaves, 0.0, easy());
    nothing.reading.summary.figures.fundamental.target_cents = None;
    let high = Sizes { tip_start_mm: Some(68.0), heart_bottom_mm: Some(63.0), ..length(70.0) };
    let wound = Sizes { staple_mm: Some(47.0), wound_to_mm: Some(48.0), ..Sizes::default() };
    vec![
        (
            "leak-low",
            given(Octaves, 0.0, easy()).seen(Inspection { leak: Some(Leak::Low), ..look }),
        ),
        (
            "leak-by-heart",
            given(Split, 0.0, easy()).seen(Inspection { leak: Some(Leak::Heart), ..look }),
        ),
        ("unheard", unheard()),
        ("silent-after-tip", silent_after),
        ("air-only", air),
        ("silent", silent),
        ("far-from-target", given(Single, -310.0, easy())),
        ("wound-past-staple", given(Split, 0.0, easy()).sizes(wound)),
        ("octaves-differ", in_two_octaves),
        ("other-register", given(Octaves, 3.0, in_register(-2))),
        ("in-tune-for-some", given(Octaves, -98.0, easy()).held_to("english-horn")),
        ("between-notes", given(Octaves, -50.0, easy()).held_to("english-horn")),
        ("measure-again", given(Octaves, -40.0, easy()).sizes(length(57.0))),
        ("wide-and-flat", given(Octaves, -40.0, easy()).sizes(opening(1.5))),
        ("closed-and-sharp", given(Octaves, 40.0, easy()).sizes(opening(0.2))),
        ("glides", given(Octaves, -40.0, gliding(-210.0))),
        ("nothing-to-mend", given(Octaves, 3.0, easy())),
        (
            "chipped-corner",
            given(Split, -20.0, easy())
                .seen(Inspection { corners: Some(Corners::Chipped), ..look }),
        ),
        ("flat-too-short", given(Octaves, -40.0, easy()).sizes(length(66.5))),
        ("flat-and-hard", given(Octaves, -40.0, stuffy())),
        ("flat", given(Octaves, -40.0, easy())),
        (
            "scraped-out",
            given(Split, 0.0, easy()).seen(Inspection { bark: Some(Bark::Gone), ..look }),
        ),
        ("sharp-heart-thick", given(Octaves, 40.0, easy()).seen(thick)),
        ("sharp-after-tip", given(Octaves, 40.0, stuffy()).after(Cut::TipSides)),
        ("sharp-and-hard", given(Octaves, 40.0, stuffy())),
        ("sharp-and-easy-after-tip", given(Octaves, 40.0, easy()).seen(tip_thin())),
        ("sharp-and-easy", given(Octaves, 40.0, easy())),
        ("wild-after-tip", given(Octaves, 0.0, wild()).after(Cut::TipSides)),
        ("wild", given(Octaves, 0.0, wild())),
        ("low-octave-hard-after-tip", given(Octaves, 0.0, late()).seen(tip_thin())),
        ("low-octave-late", given(Octaves, 0.0, late())),
        ("octaves-take-turns", given(Octaves, 0.0, turning())),
        ("low-octave-goes", given(Octaves, 0.0, with_low(-6.0, 0.5))),
        ("low-octave-weak", given(Octaves, 0.0, with_low(-40.0, 1.0))),
        ("hard-heart-thick", given(Octaves, 0.0, stuffy()).seen(thick)),
        ("hard-after-tip", given(Octaves, 0.0, stuffy()).after(Cut::TipCorners)),
        ("hard", given(Octaves, 0.0, stuffy())),
        ("disordered-very-flat-too-short", given(Split, -120.0, easy()).sizes(length(66.5))),
        ("disordered-very-flat", given(Split, -120.0, easy())),
        ("lost-after-tip", given(Unsettled, -20.0, easy()).after(Cut::TipSurface)),
        ("disordered-set-too-high", given(Split, 0.0, easy()).sizes(high)),
        ("split-after-tip", given(Split, 0.0, easy()).after(Cut::TipSides)),
        ("split", given(Split, 0.0, easy())),
        ("peep-heart-thick", given(Single, 10.0, peep()).seen(thick)),
        ("peep-after-tip", given(Single, 10.0, peep()).after(Cut::TipSides)),
        ("peep", given(Single, 10.0, peep())),
        ("deep-and-flat", given(Single, -40.0, easy())),
        ("one-tone", given(Single, 0.0, easy())),
        ("unsettled", given(Unsettled, 0.0, easy())),
        ("no-verdict", nothing),
    ]
}

#[test]
fn every_rule_can_fire() {
    let mut fired = BTreeSet::new();
    for (name, case) in cases() {
        assert_eq!(case.rule(), name);
        assert!(!case.advice().because.is_empty(), "{name}");
        fired.insert(name);
    }
    let all: BTreeSet<&str> = RULES.iter().map(|rule| rule.name).collect();
    assert_eq!(fired, all);
}

#[test]
fn every_rule_says_why_where_it_comes_from_and_what_comes_next() {
    for rule in RULES {
        for text in [rule.because, rule.from, rule.then] {
            assert!(!text.is_empty(), "{}", rule.name);
        }
    }
}

#[test]
fn every_cut_warns_of_the_blade_every_seal_of_the_lips_and_all_of_sharing() {
    for (name, case) in cases() {
        let advice = case.advice();
        let said = advice.cautions.join(" ");
        assert!(said.contains("one mouth") && said.contains("local"), "{name}");
        assert_eq!(advice.next.is_cut(), said.contains("fingers"), "{name}");
        let sealed = advice.next == Move::Seal || name == "leak-by-heart";
        assert_eq!(sealed, said.contains("sealers"), "{name}");
    }
}

/// A take of a muted microphone, of a reed whose tip was just thinned.
fn unheard() -> Given {
    let mut case = given(Kind::Octaves, 0.0, easy()).after(Cut::TipSides);
    case.reading = reading(Kind::Octaves, None, 0, Figures::default());
    let silent = Warning { code: WarningCode::Silent, text: "muted?".into() };
    case.reading.warnings = vec![silent];
    case
}

/// Of a reed that was not heard nothing follows, whatever its leaks and measurements would say.
#[test]
fn a_muted_microphone_costs_no_reed_its_tip_nor_its_life() {
    let look = Inspection::default();
    let wound = Sizes { staple_mm: Some(47.0), wound_to_mm: Some(48.0), ..Sizes::default() };
    for case in [
        unheard(),
        unheard().seen(Inspection { leak: Some(Leak::Heart), ..look }),
        unheard().sizes(wound),
    ] {
        let advice = case.advice();
        assert_eq!(advice.next, Move::Recrow);
        assert!(advice.because[0].says.contains("muted?"), "{:?}", advice.because);
        assert!(!advice.then.contains("clip"), "{}", advice.then);
    }
}
