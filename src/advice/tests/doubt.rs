//! Doubt stays the knife.

use super::*;
use crate::comparison::Effect;
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

/// Crows that far apart say nothing of where the reed's pitch is, whatever their median.
#[test]
fn crows_that_differ_widely_lead_to_crowing_again_and_not_to_the_knife() {
    for (middle, kind) in
        [(-41.0, Kind::Octaves), (45.0, Kind::Octaves), (0.0, Kind::Octaves), (-41.0, Kind::Single)]
    {
        let advice = given(kind, middle, easy()).spread([-60.0, 0.0, 60.0]).advice();
        assert_eq!(advice.next, Move::Recrow, "{middle}");
        let said = |words: &str| advice.because.iter().any(|reason| reason.says.contains(words));
        assert!(said("the crows spread by 60 cents"), "{advice:?}");
        assert!(advice.then.contains("the same from crow to crow"), "{}", advice.then);
    }
    // Nor is such a reed said to need nothing where a profile names no target.
    let wide = given(Kind::Octaves, -41.0, easy()).spread([-60.0, 0.0, 60.0]);
    let held_to_none = Profile { target: None, ..Profile::default() };
    let advice = advise(
        &wide.reading,
        &Measurements::default(),
        &Inspection::default(),
        &held_to_none,
        &Effects::default(),
    );
    assert_eq!(advice.next, Move::Recrow, "{advice:?}");
    let usual = given(Kind::Octaves, -41.0, easy()).spread([-4.0, 0.0, 5.0]).advice();
    assert_eq!(usual.next, Move::Clip);
}

/// A pitch move wants the pitch known to what counts as in tune (15 cents) or to half of how far it
/// is off, whichever is more.
#[test]
fn a_cut_on_pitch_waits_until_the_pitch_is_known() {
    let known_to = |cents: f64, ci95: f64, kind: Kind| {
        let mut case = given(kind, cents, easy());
        let crows = case.reading.crows.iter_mut().map(|crow| &mut crow.figures);
        for figures in crows.chain([&mut case.reading.summary.figures]) {
            figures.fundamental.ci95_cents = Some(ci95);
        }
        case.advice()
    };
    // Student's factor of three crows makes these about 1.6 times as wide.
    assert_eq!(known_to(-60.0, 15.0, Kind::Octaves).next, Move::Clip);
    let advice = known_to(-25.0, 15.0, Kind::Octaves);
    assert_eq!(advice.next, Move::Recrow);
    let said = advice.because.iter().find(|reason| reason.figure == "fundamental.ci95_cents");
    assert!(said.unwrap().says.ends_with("must be known to ±15, so 'clip' waits"), "{said:?}");
    // What does not rest on pitch does not wait for it.
    assert_eq!(known_to(-25.0, 15.0, Kind::Split).next, Move::Tip);
}

#[test]
fn a_crow_that_glides_is_crowed_again_and_how_fast_it_glides_is_said() {
    for (kind, cents, drift) in [
        (Kind::Octaves, -40.0, -150.0),
        (Kind::Octaves, 0.0, 300.0),
        (Kind::Single, -120.0, -200.0),
    ] {
        let advice = given(kind, cents, gliding(drift)).advice();
        assert_eq!(advice.next, Move::Recrow, "{drift}");
        let way = if drift < 0.0 { "falls" } else { "rises" };
        let said = format!("the pitch {way} by {:.0} cents a second while it sounds", drift.abs());
        assert!(advice.because.iter().any(|reason| reason.says == said), "{advice:?}");
    }
    assert_eq!(given(Kind::Octaves, -40.0, gliding(-30.0)).advice().next, Move::Clip);
}

/// In tune two octaves away is not in tune.
#[test]
fn a_crow_in_another_register_is_not_on_target() {
    for (register, said) in [
        (-2, "the lowest tone is near C3, two octaves below the target C5"),
        (2, "the lowest tone is near C7, two octaves above the target C5"),
    ] {
        for kind in [Kind::Octaves, Kind::Single] {
            let advice = given(kind, 1.0, in_register(register)).advice();
            assert_eq!(advice.next, Move::Recrow, "{register} {kind:?}");
            assert!(advice.because.iter().any(|reason| reason.says == said), "{advice:?}");
            assert!(advice.then.contains("profile"), "{}", advice.then);
        }
    }
    // The upper octave alone, also where upper octaves lock over it.
    for kind in [Kind::Octaves, Kind::Single] {
        let advice = given(kind, 1.0, peep()).advice();
        assert_eq!(advice.next, Move::Tip, "{kind:?}");
        let said = "near C6, an octave above the target C5; the low octave is missing";
        assert!(advice.because.iter().any(|reason| reason.says.contains(said)), "{advice:?}");
    }
}

/// A crow stands on the octaves that are expected; a faint tone under them neither makes it another
/// reed's nor hides what is to be done.
#[test]
fn a_growl_under_the_octaves_does_not_decide() {
    let over_a_growl = |level_db: f64, low_db: f64| {
        let mut figures = in_register(-1);
        let at = |hz: f64, level_db: f64| Rung { hz, ..rung(level_db, 1.0) };
        figures.rungs = vec![at(261.0, level_db), at(522.0, low_db), at(1044.0, -2.0)];
        figures
    };
    for (cents, next) in [(0.0, Move::Leave), (-40.0, Move::Clip), (40.0, Move::Tip)] {
        let advice = given(Kind::Octaves, cents, over_a_growl(-32.0, -6.0)).advice();
        assert_eq!(advice.next, next, "{cents}");
        let said = "a growl near C4 is left out of account, 32 dB under the whole";
        assert!(advice.because.iter().any(|reason| reason.says == said), "{advice:?}");
    }
    let strong = given(Kind::Octaves, -40.0, over_a_growl(-8.0, -6.0)).advice();
    assert_eq!(strong.next, Move::Recrow, "{strong:?}");
    let weak = given(Kind::Octaves, 0.0, over_a_growl(-34.0, -36.0)).advice();
    assert_eq!(weak.next, Move::Tip, "{weak:?}");
}

#[test]
fn confidence_moves_with_the_interval_the_crows_their_octaves_and_past_cuts() {
    let of = |crows: usize, ci95: f64, alignment: f64, rose: Option<usize>| {
        let mut figures = easy();
        figures.alignment.cents = Some(0.0);
        figures.alignment.ci95_cents = Some(alignment);
        let mut case = given(Kind::Octaves, -26.0, easy());
        case.reading = reading(Kind::Octaves, Some(-26.0), crows, figures);
        let crows = case.reading.crows.iter_mut().map(|crow| &mut crow.figures);
        for figures in crows.chain([&mut case.reading.summary.figures]) {
            figures.fundamental.ci95_cents = Some(ci95);
        }
        case.effects.cuts.extend(rose.map(|pitch_rose| Effect {
            cut: Cut::Clip,
            count: 8,
            pitch_cents: None,
            pitch_cents_per_mm: None,
            pitch_rose,
            level_adjusted: 0,
            octaves_came: None,
            without_octaves: 0,
            octaves_lost: None,
            with_octaves: 0,
        }));
        case.advice().confidence
    };
    let plain = of(3, 1.0, 0.1, None);
    assert!((0.7..0.87).contains(&plain), "{plain}");
    for (surer, less_sure) in [
        (plain, of(3, 9.0, 0.1, None)),
        (of(4, 1.0, 0.1, None), plain),
        (of(9, 1.0, 0.1, None), of(4, 1.0, 0.1, None)),
        (plain, of(3, 1.0, 6.0, None)),
        (of(3, 1.0, 0.1, Some(8)), plain),
        (plain, of(3, 1.0, 0.1, Some(5))),
        (of(3, 1.0, 0.1, Some(5)), of(3, 1.0, 0.1, Some(0))),
    ] {
        assert!(surer > less_sure + 0.003, "{surer} {less_sure}");
    }
}

#[test]
fn one_crow_is_never_enough_for_a_cut_and_two_make_it_less_sure_than_three() {
    let of = |crows| {
        let mut case = given(Kind::Split, 0.0, easy());
        case.reading = reading(Kind::Split, Some(0.0), crows, easy());
        case.advice()
    };
    assert_eq!((of(1).next, of(2).next, of(3).next), (Move::Recrow, Move::Recrow, Move::Tip));
    assert!(of(1).because.iter().any(|reason| reason.says.contains("no spread")));
    assert!(of(2).confidence < of(3).confidence);
}
