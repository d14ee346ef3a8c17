//! What common practice asks for.

use super::*;
use crate::comparison::Effect;
use crate::reed::{Bark, Heart, Leak};

/// Common practice, no source: clipping raises the pitch; a crow around B has room to clip; and
/// our own limit, a first clip of 0.3 mm at most.
#[test]
fn a_flat_crow_in_octaves_is_clipped_and_never_by_more_than_0_3_mm() {
    for cents in [-20.0, -38.0, -100.0, -290.0] {
        let advice = given(Kind::Octaves, cents, easy()).advice();
        assert_eq!(advice.next, Move::Clip, "{cents}");
        let amount = advice.amount_mm.unwrap();
        assert!((0.1..=0.3).contains(&amount), "{cents}: {amount}");
        assert!(advice.because.iter().any(|reason| reason.figure == "fundamental.target_cents"));
    }
}

/// Common practice, no source: tip work organises the octaves and lets the pitch fall.
#[test]
fn unlocked_octaves_a_peep_and_a_sharp_crow_ask_for_tip_work() {
    for (kind, cents, figures) in
        [(Kind::Split, 0.0, easy()), (Kind::Single, 20.0, peep()), (Kind::Octaves, 40.0, easy())]
    {
        assert_eq!(given(kind, cents, figures).advice().next, Move::Tip, "{kind:?}");
    }
}

/// Common practice, no source: after thinning the tip the crow can vanish, and a small clip brings
/// it back. It is crowed again first.
#[test]
fn a_crow_lost_after_tip_work_is_crowed_again_and_then_clipped_a_little() {
    let mut case = given(Kind::Octaves, 0.0, easy()).after(Cut::TipSurface);
    case.reading = blown_in_vain();
    let advice = case.advice();
    assert_eq!(advice.next, Move::Recrow);
    assert!(advice.then.contains("clip 0.1 mm"), "{}", advice.then);
}

/// Only air that goes through without a crow hints at a leak; where nothing was heard, nothing is
/// known.
#[test]
fn a_take_in_which_not_even_air_is_heard_hints_at_no_leak_and_no_clip() {
    for case in
        [given(Kind::Octaves, 0.0, easy()), given(Kind::Octaves, 0.0, easy()).after(Cut::TipSides)]
    {
        let of = |reading: Reading| {
            let advice = Given { reading, ..case.clone() }.advice();
            assert_eq!(advice.next, Move::Recrow);
            let because = advice.because.iter().map(|reason| reason.says.as_str());
            because.chain([advice.then.as_str()]).collect::<Vec<_>>().join("; ")
        };
        let air = of(blown_in_vain());
        assert!(air.contains("leak") || air.contains("tight"), "{air}");
        let nothing = of(reading(Kind::Octaves, None, 0, Figures::default()));
        for word in ["leak", "tight", "clip"] {
            assert!(!nothing.contains(word), "{word}: {nothing}");
        }
    }
}

/// Common practice, no source: a leak low by the winding can be sealed with tape, one beside the
/// heart rarely; too thin a heart or bark lost below it cannot be scraped better.
#[test]
fn what_cannot_be_mended_is_not_scraped() {
    let look = Inspection::default();
    for (seen, next) in [
        (Inspection { leak: Some(Leak::Low), ..look }, Move::Seal),
        (Inspection { leak: Some(Leak::Heart), ..look }, Move::Recrow),
        (Inspection { heart: Some(Heart::Thin), ..look }, Move::Recrow),
        (Inspection { bark: Some(Bark::Gone), ..look }, Move::Recrow),
    ] {
        assert_eq!(given(Kind::Split, 10.0, easy()).seen(seen).advice().next, next, "{seen:?}");
    }
}

/// A clip never takes the reed under the profile's shortest length (67 mm here).
#[test]
fn a_short_reed_is_clipped_less_or_not_at_all() {
    let at = |mm| given(Kind::Octaves, -90.0, easy()).sizes(length(mm)).advice();
    assert_eq!(at(70.0).amount_mm, Some(0.3));
    assert_eq!(at(67.2).amount_mm, Some(0.2));
    assert_eq!(at(66.8).amount_mm, None);
}

/// At 67.1 mm a ruler that reads to 0.2 mm does not tell whether a clip is left: nothing is given up
/// on that, and nothing is clipped either.
#[test]
fn no_reed_is_given_up_on_a_length_that_a_ruler_does_not_tell() {
    for mm in [66.95, 67.0, 67.1] {
        let advice = given(Kind::Octaves, -90.0, easy()).sizes(length(mm)).advice();
        assert_eq!(advice.next, Move::Recrow, "{mm}");
        assert!(advice.then.starts_with("Measure it again"), "{}", advice.then);
        let said = format!("{mm} mm long: the smallest clip, 0.1 mm, leaves");
        assert!(advice.because.iter().any(|reason| reason.says.starts_with(&said)), "{advice:?}");
    }
}

/// One reading of a ruler may be a slip: giving up on it asks for more crows than a cut does, is never
/// quite sure, and begins with measuring once more. What no oboe reed can be is queried.
#[test]
fn giving_up_takes_more_than_one_reading() {
    let at =
        |mm, crows| given(Kind::Octaves, -90.0, easy()).sizes(length(mm)).crows(crows).advice();
    assert_eq!(at(66.5, 3).next, Move::Recrow);
    let stop = at(66.5, 6);
    assert_eq!(stop.next, Move::Stop);
    assert!(stop.confidence <= 0.9, "{}", stop.confidence);
    assert!(stop.then.starts_with("Measure the length once more first"), "{}", stop.then);
    let slip = at(57.0, 6);
    assert_eq!(slip.next, Move::Recrow);
    assert!(slip.then.starts_with("Measure it again"), "{}", slip.then);
    let look = Inspection::default();
    for (seen, first) in [
        (Inspection { heart: Some(Heart::Thin), ..look }, "Look once more first"),
        (Inspection { leak: Some(Leak::Heart), ..look }, "Look once more first"),
        (Inspection { bark: Some(Bark::Gone), ..look }, "Look once more first"),
    ] {
        let case = given(Kind::Split, 10.0, easy()).seen(seen).crows(9);
        let advice = case.advice();
        assert_eq!(advice.next, Move::Recrow);
        assert!(case.says().contains("off the octave") || case.says().contains("no octave"));
        assert!(case.says().contains("10 cents sharp of C5"), "{}", case.says());
        assert!(advice.confidence <= 0.9, "{}", advice.confidence);
        assert!(advice.then.starts_with(first), "{}", advice.then);
    }
}

#[test]
fn flat_and_hard_shows_both_sides() {
    let advice = given(Kind::Octaves, -40.0, stuffy()).advice();
    assert_eq!((advice.next, advice.amount_mm), (Move::Clip, Some(0.1)));
    let figures: Vec<&str> = advice.because.iter().map(|reason| reason.figure.as_str()).collect();
    assert!(figures.contains(&"fundamental.target_cents"), "{figures:?}");
    assert!(figures.contains(&"response.onset_s"), "{figures:?}");
    assert!(advice.because.iter().any(|reason| reason.says.starts_with("two sides")));
}

#[test]
fn past_clips_set_the_amount_and_are_quoted() {
    let mut case = given(Kind::Octaves, -40.0, easy());
    case.effects.cuts.push(Effect {
        cut: Cut::Clip,
        count: 12,
        pitch_cents: Some(30.0),
        pitch_cents_per_mm: Some(190.0),
        pitch_rose: 11,
        level_adjusted: 0,
        octaves_came: None,
        without_octaves: 0,
        octaves_lost: None,
        with_octaves: 0,
    });
    let advice = case.advice();
    // Cuts that do what they are for are no reason for doubt.
    assert!(!case.says().contains("less sure"), "{}", case.says());
    case.effects.cuts[0].pitch_rose = 5;
    assert!(case.says().contains("of 12 such cuts before, 5 did what this one is for"));
    // 0.7 · 40 cents / 190 cents per mm = 0.147 mm, down to a step of 0.05.
    assert_eq!(advice.amount_mm, Some(0.1));
    let said =
        "12 earlier clips raised the pitch by 190 cents a millimetre on the median; after 11";
    assert!(advice.because.iter().any(|reason| reason.says.starts_with(said)), "{advice:?}");
}

/// A choke hides what a cut does: it is named first, and mended first.
#[test]
fn a_choked_reed_in_octaves_is_looked_at_before_it_is_cut() {
    let wound = Sizes { staple_mm: Some(47.0), wound_to_mm: Some(48.0), ..Sizes::default() };
    let free = given(Kind::Octaves, -41.0, easy()).advice();
    let choked = given(Kind::Octaves, -41.0, easy()).sizes(wound).advice();
    assert_eq!((free.next, choked.next), (Move::Clip, Move::Recrow));
    assert!(choked.confidence < 0.6 * free.confidence, "{}", choked.confidence);
    assert!(choked.because[0].says.contains("past the end of the 47 mm staple"), "{choked:?}");
    assert!(choked.then.starts_with("Look at the winding first"), "{}", choked.then);
}

/// Common practice, no source: winding past the staple's end chokes the reed. Where only air comes
/// of it and the measurements say why, that is the reason, and not that nothing can be judged.
#[test]
fn air_alone_from_a_reed_wound_past_its_staple_is_explained() {
    let wound = Sizes { staple_mm: Some(47.0), wound_to_mm: Some(48.0), ..Sizes::default() };
    let mut choked = given(Kind::Octaves, 0.0, easy()).sizes(wound);
    choked.reading = reading(Kind::Octaves, None, 0, Figures::default());
    // Nothing blown says nothing about the winding.
    assert_eq!(choked.rule(), "silent");
    choked.reading = blown_in_vain();
    let advice = choked.advice();
    assert_eq!(advice.next, Move::Recrow);
    assert!(advice.then.contains("tie it again lower"), "{}", advice.then);
    assert!(advice.because.iter().any(|reason| reason.says.contains("47 mm staple")));
    choked.sizes.wound_to_mm = Some(46.5);
    assert_eq!(choked.advice().next, Move::Recrow);
}
