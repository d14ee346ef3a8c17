//! The adviser against common practice, and what holds of it for any reed.

use std::collections::BTreeSet;

use proptest::prelude::*;

use super::*;
use crate::reading::{Crow, Figures, Kind, Other, Rung, Summary, What, Why};
use crate::reed::{Bark, Corners, Heart, Leak, Sizes};

#[path = "../../tests/adviser/made.rs"]
mod made;

use made::{Made, made, reading};

fn long() -> Measurements {
    Measurements::new(Sizes {
        length_mm: Some(70.5),
        staple_mm: Some(47.0),
        wound_to_mm: Some(47.0),
        tip_start_mm: Some(66.0),
        heart_bottom_mm: Some(61.0),
        opening_mm: Some(0.8),
        ..Sizes::default()
    })
    .unwrap()
}

fn told(crows: &[Made], seen: Inspection) -> Advice {
    advise(&reading(crows), &long(), &seen, &Profile::default(), &Effects::default())
}

/// Common practice, no source: a crow in C octaves that is in tune is left alone.
#[test]
fn a_good_reed_is_left_alone() {
    let advice = told(&[made(Kind::Octaves, 2.0); 3], Inspection::default());
    assert_eq!(advice.next, Move::Leave, "{advice:#?}");
}

/// Common practice, no source: a crow around B has room to clip.
#[test]
fn a_crow_in_octaves_around_b_is_clipped_by_no_more_than_is_needed() {
    let advice = told(&[made(Kind::Octaves, -70.0); 3], Inspection::default());
    assert_eq!((advice.next, advice.r#where.clone()), (Move::Clip, Where::At(Place::End)));
    let amount = advice.amount_mm.unwrap();
    assert!((0.2..=0.5).contains(&amount), "{amount}");
    let pitch = &advice.expected[0];
    assert!(pitch.low < pitch.value && pitch.value < 0.0 && pitch.high < 25.0, "{pitch:?}");
}

#[test]
fn what_is_not_flat_is_never_clipped_for_its_pitch() {
    for cents in [-14.9, -5.0, 0.0, 20.0, 60.0] {
        let advice = told(&[made(Kind::Octaves, cents); 3], Inspection::default());
        assert_ne!(advice.next, Move::Clip, "{cents}");
    }
}

/// Of three crows one that differs may be the one that is right; of nine it is a stray.
#[test]
fn a_clip_waits_where_the_crows_do_not_agree() {
    let crows = |cents: &[f64]| {
        let crows: Vec<Made> = cents.iter().map(|cents| made(Kind::Octaves, *cents)).collect();
        told(&crows, Inspection::default()).next
    };
    assert_eq!(crows(&[7.0, -35.0, -41.0]), Move::Recrow);
    assert_eq!(crows(&[-38.0, -35.0, -41.0]), Move::Clip);
    let of_nine = [7.0, -40.0, -38.0, -35.0, -41.0, -37.0, -39.0, -36.0, -40.0];
    assert_eq!(crows(&of_nine), Move::Clip);
}

/// A voice's breath is no crow that did not come.
#[test]
fn breath_beside_what_was_set_aside_is_no_crow() {
    let mut take = reading(&[made(Kind::Breath, 0.0)]);
    let advised = |take: &Reading| {
        advise(take, &long(), &Inspection::default(), &Profile::default(), &Effects::default())
    };
    assert_eq!(advised(&take).because[0].figure, "kind");
    take.others.push(Other {
        what: What::Speech,
        from_s: 0.9,
        to_s: 1.6,
        hz: None,
        why: Why::Glides,
    });
    assert_eq!(advised(&take).because[0].figure, "crow_count");
}

/// No oboe reed crows two octaves over its target, where a telephone beeps, or under it, where a bassoon plays.
#[test]
fn no_cut_rests_on_a_tone_that_no_such_reed_has() {
    for (register, count) in [(2, 6), (3, 3), (-2, 3)] {
        let beep = Made { register, ..made(Kind::Single, -201.0) };
        let advice = told(&vec![beep; count], Inspection::default());
        assert!(!advice.next.is_work(), "{register}: {advice:#?}");
    }
}

/// The card of such a crow is headed by C6; C5 did not sound.
#[test]
fn a_peep_is_told_against_the_note_of_its_own_octave() {
    let peep = Made { register: 1, ..made(Kind::Single, 18.0) };
    let low = made(Kind::Octaves, 18.0);
    let pitch = |crows: &[Made]| {
        let advice = told(crows, Inspection::default());
        let reason = advice.because.iter().find(|one| one.figure == "fundamental.target_cents");
        reason.unwrap().says.clone()
    };
    assert!(pitch(&[peep; 3]).contains("C6"));
    assert!(pitch(&[low, peep, peep]).contains("C6"));
    // As many low as high: the pitch is that of the low ones, as on the card.
    assert!(pitch(&[peep, low]).contains("C5"));
}

#[test]
fn what_gives_air_alone_is_not_counted_as_crows() {
    let advice = told(&[made(Kind::Breath, 0.0); 3], Inspection::default());
    assert_eq!(advice.because[0].says, says::Speaks::OnlyAir.to_string());
}

/// Common practice, no source: a leak by the winding can be sealed, and comes before the knife.
#[test]
fn a_leak_is_sealed_before_anything_is_cut() {
    let seen = Inspection { leak: Some(Leak::Low), ..Inspection::default() };
    let advice = told(&[made(Kind::Breath, 0.0); 3], seen);
    assert_eq!((advice.next, advice.r#where), (Move::Seal, Where::At(Place::Low)));
}

/// Common practice, no source: too thin a heart cannot be scraped better.
#[test]
fn a_reed_without_heart_and_bark_is_given_up() {
    let seen =
        Inspection { heart: Some(Heart::Thin), bark: Some(Bark::Gone), ..Inspection::default() };
    let advice = told(&[made(Kind::Single, -60.0); 3], seen);
    assert_eq!(advice.next, Move::Stop, "{advice:#?}");
    // What to do on the next one is that of a cause that was seen.
    let practice = Practice::in_use();
    let next = |cause| practice.of(cause).next.clone().unwrap();
    let is_named =
        [Cause::HeartThin, Cause::Bark].into_iter().any(|c| advice.then.contains(&next(c)));
    assert!(is_named, "{}", advice.then);
}

/// Common practice, no source: thinner sides and corners of the tip let the low octave come.
#[test]
fn a_low_octave_that_comes_late_asks_for_work_on_the_tip() {
    let late = Made { low_delay_s: 0.3, ..made(Kind::Octaves, 5.0) };
    let seen =
        Inspection { tip_sides: Some(crate::reed::TipSides::Thick), ..Inspection::default() };
    let advice = told(&[late; 4], seen);
    assert_eq!(advice.next, Move::Tip, "{advice:#?}");
}

#[test]
fn a_clip_that_would_leave_too_little_is_not_proposed() {
    let short = Measurements::new(Sizes { length_mm: Some(67.1), ..*long() }).unwrap();
    let crows = reading(&[made(Kind::Octaves, -70.0); 3]);
    let none = Inspection::default();
    let advice = advise(&crows, &short, &none, &Profile::default(), &Effects::default());
    assert_ne!(advice.next, Move::Clip);
}

/// A slip of the ruler or the keyboard is no reason to give a reed up.
#[test]
fn a_length_near_the_shortest_is_measured_again_before_a_reed_is_given_up_for_it() {
    for length_mm in [66.0, 66.5, 67.2] {
        let short =
            Measurements::new(Sizes { length_mm: Some(length_mm), ..Sizes::default() }).unwrap();
        let crows = reading(&[made(Kind::Octaves, -45.0); 3]);
        let stage = Stage { takes: vec![crows], ..Stage::default() };
        let story = Story { stages: vec![stage], measured: short, ..Story::default() };
        let advice = advise_on(&story, &Profile::default(), &Effects::default());
        assert_ne!(advice.next, Move::Stop, "{length_mm}: {advice:#?}");
    }
}

/// Of a recording nobody can be asked to measure again: it is told at once, with that as the first thing to do.
#[test]
fn a_recording_of_a_reed_too_short_to_clip_says_so_and_to_measure_before_it_is_given_up() {
    let short = Measurements::new(Sizes { length_mm: Some(66.5), ..Sizes::default() }).unwrap();
    let crows = reading(&[made(Kind::Octaves, -45.0); 3]);
    let none = Inspection::default();
    let advice = advise(&crows, &short, &none, &Profile::default(), &Effects::default());
    assert_eq!(advice.next, Move::Stop, "{advice:#?}");
    assert!(advice.because.iter().any(|reason| reason.figure == "length_mm"));
    let then =
        Then { next: Move::Stop, place: None, by_ear: false, crows: 3, lost: Lost::TooShort };
    assert_eq!(advice.then, then.to_string());
}

/// Common practice, no source: too thin a heart or bark that is gone cannot be scraped better.
#[test]
fn nothing_is_scraped_where_the_maker_saw_that_nothing_is_left() {
    let sharp = [made(Kind::Octaves, 45.0); 3];
    let thin = Inspection { heart: Some(Heart::Thin), ..Inspection::default() };
    let gone = Inspection { bark: Some(Bark::Gone), ..Inspection::default() };
    for (seen, never) in [(thin, Move::Heart), (gone, Move::Back)] {
        let advice = told(&sharp, seen);
        assert_ne!(advice.next, never, "{advice:#?}");
        assert!(advice.otherwise.iter().all(|other| other.next != never), "{advice:#?}");
    }
}

#[test]
fn a_corner_that_was_seen_chipped_is_believed_and_warned_of() {
    use crate::reed::Corners;
    let seen = Inspection { corners: Some(Corners::Chipped), ..Inspection::default() };
    let advice = told(&[made(Kind::Octaves, -41.0); 3], seen);
    assert_eq!(advice.next, Move::Clip, "{advice:#?}");
    assert!(advice.cautions.contains(&Caution::Splinter.to_string()), "{advice:#?}");
}

/// Where no crow comes, a leak and the winding are asked for, also of a recording: nothing is mended that
/// nobody looked at.
#[test]
fn of_a_recording_without_a_crow_leak_and_winding_are_asked_for() {
    let choked = reading(&[made(Kind::Breath, 0.0); 3]);
    let (size, none) = (Measurements::default(), Inspection::default());
    let advice = advise(&choked, &size, &none, &Profile::default(), &Effects::default());
    assert!(matches!(advice.next, Move::Look | Move::Measure), "{advice:#?}");
}

/// A reed of which nothing is known but that it crows sharp has cane that nobody measured.
#[test]
fn a_reed_is_not_given_up_for_its_pitch_alone() {
    for cents in [80.0, 100.0, 150.0] {
        let crows = reading(&[made(Kind::Octaves, cents); 3]);
        let (size, none) = (Measurements::default(), Inspection::default());
        let advice = advise(&crows, &size, &none, &Profile::default(), &Effects::default());
        assert_ne!(advice.next, Move::Stop, "{cents}: {advice:#?}");
    }
}

#[test]
fn at_most_three_reasons_and_the_caution_of_the_move_first() {
    let advice = told(&[made(Kind::Octaves, -70.0); 3], Inspection::default());
    assert!(!advice.because.is_empty() && advice.because.len() <= 3);
    assert_eq!(advice.cautions[0], says::Caution::Clip.to_string());
}

fn any_crow() -> impl Strategy<Value = Made> {
    let kinds = prop::sample::select(vec![
        Kind::Octaves,
        Kind::Single,
        Kind::Split,
        Kind::Unsettled,
        Kind::Breath,
    ]);
    (kinds, -400.0..400.0_f64, 0..2_i32, 0.0..0.4_f64).prop_map(
        |(kind, cents, register, low_delay_s)| Made { register, low_delay_s, ..made(kind, cents) },
    )
}

/// How a round of the maker goes: the crows, and whether what was told is done.
fn any_round() -> impl Strategy<Value = (Vec<Made>, bool)> {
    (prop::collection::vec(any_crow(), 0..4), any::<bool>())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, ..ProptestConfig::default() })]

    /// Whatever is heard, and whether or not the maker does or answers what was told.
    #[test]
    fn nothing_is_told_three_times_running_and_asking_comes_to_an_end(
        rounds in prop::collection::vec(any_round(), 12),
    ) {
        let mut story = Story { stages: vec![Stage::default()], ..Story::default() };
        let mut asked_in_a_row = 0;
        let mut last: Vec<(Move, Where)> = Vec::new();
        for (crows, does) in rounds {
            story.stages.last_mut().unwrap().takes.push(reading(&crows));
            let advice = advise_on(&story, &Profile::default(), &Effects::default());
            let this = (advice.next, advice.r#where.clone());
            if advice.next.ends() {
                break;
            }
            prop_assert!(
                last.len() < 2 || last[last.len() - 2..].iter().any(|told| *told != this),
                "{last:?} {this:?}"
            );
            last.push(this.clone());
            story.stages.last_mut().unwrap().told.push(this.clone());
            match Cut::at(this.0, this.1.place()) {
                Some(cut) => {
                    asked_in_a_row = 0;
                    if does {
                        story.stages.last_mut().unwrap().work = Some((cut, advice.amount_mm));
                        story.stages.push(Stage::default());
                    }
                }
                None => asked_in_a_row += 1,
            }
            // Looks and measurements are asked for several at once, each once; crowing again twice.
            prop_assert!(asked_in_a_row <= 7, "{last:?}");
        }
        let asked: BTreeSet<_> = last.iter().map(|told| told.0).collect();
        prop_assert!(asked.len() <= 12);
    }
}

/// A folder of recordings is read with nobody there to answer.
#[test]
fn no_cause_is_guessed_where_nothing_was_heard() {
    let (measured, seen) = (Measurements::default(), Inspection::default());
    let guesses = |crows: &[Made]| {
        let heard = reading(crows);
        let advice = advise(&heard, &measured, &seen, &Profile::default(), &Effects::default());
        advice.because.iter().any(|reason| reason.figure == "belief")
    };
    assert!(!guesses(&[]));
    assert!(guesses(&[made(Kind::Single, 0.0); 3]));
}

#[test]
fn of_a_recording_alone_nothing_is_asked_that_only_the_reed_could_tell() {
    for (kind, cents) in [(Kind::Octaves, 2.0), (Kind::Octaves, -41.0), (Kind::Single, -10.0)] {
        let crows = reading(&[made(kind, cents); 3]);
        let (measured, seen) = (Measurements::default(), Inspection::default());
        let advice = advise(&crows, &measured, &seen, &Profile::default(), &Effects::default());
        assert!(!matches!(advice.next, Move::Look | Move::Measure), "{cents}: {advice:#?}");
    }
    // Common practice, no source: flat and in octaves is clipped.
    let flat = reading(&[made(Kind::Octaves, -41.0); 3]);
    let (measured, seen) = (Measurements::default(), Inspection::default());
    let advice = advise(&flat, &measured, &seen, &Profile::default(), &Effects::default());
    assert_eq!(advice.next, Move::Clip, "{advice:#?}");
}

/// Common practice, no source: a leak the maker sees is sealed before anything is cut, sealed before
/// or not.
#[test]
fn a_leak_seen_after_a_seal_is_sealed_again_and_twice_in_vain_is_enough() {
    let leaks = Inspection { leak: Some(Leak::Low), ..Inspection::default() };
    let flat = || reading(&[made(Kind::Octaves, -45.0); 3]);
    let sealed = |takes: Vec<Reading>, looks: Vec<Inspection>| Stage {
        takes,
        looks,
        work: Some((Cut::Seal, None)),
        ..Stage::default()
    };
    let first = sealed(vec![reading(&[made(Kind::Breath, 0.0); 3])], vec![leaks]);
    let now = Stage { takes: vec![flat()], looks: vec![leaks], ..Stage::default() };
    let mut story = Story { stages: vec![first, now], measured: long(), ..Story::default() };
    let advice = advise_on(&story, &Profile::default(), &Effects::default());
    assert_eq!((advice.next, advice.r#where), (Move::Seal, Where::At(Place::Low)));
    story.stages[1].work = Some((Cut::SealLow, None));
    story.stages.push(Stage { takes: vec![flat()], looks: vec![leaks], ..Stage::default() });
    let advice = advise_on(&story, &Profile::default(), &Effects::default());
    assert!(!advice.next.is_cut() && advice.next != Move::Seal, "{advice:#?}");
    // Found tight, it is a flat reed like any other.
    story.stages[2].looks.push(Inspection { leak: Some(Leak::None), ..Inspection::default() });
    let advice = advise_on(&story, &Profile::default(), &Effects::default());
    assert_eq!(advice.next, Move::Clip, "{advice:#?}");
}

/// What was entered wrongly of a part is put right by looking again.
#[test]
fn the_last_look_at_a_part_counts_alone() {
    let look = |corners| Inspection { corners: Some(corners), ..Inspection::default() };
    let advised = |looks: Vec<Inspection>| {
        let takes = vec![reading(&[made(Kind::Split, 0.0); 3])];
        let now = Stage { takes, looks, ..Stage::default() };
        let story = Story { stages: vec![now], measured: long(), ..Story::default() };
        advise_on(&story, &Profile::default(), &Effects::default())
    };
    let (thick, thin) = (look(Corners::Thick), look(Corners::Thin));
    assert_eq!(advised(vec![thick, thin]), advised(vec![thin]));
    assert_eq!(advised(vec![thin, thick]), advised(vec![thick]));
}

/// Common practice, no source: a clip closes no leak.
#[test]
fn a_leak_that_was_seen_before_a_clip_is_not_passed_over_after_it() {
    for leak in [Leak::Heart, Leak::Low] {
        let leaks = Inspection { leak: Some(leak), ..Inspection::default() };
        let flat = |cents| vec![reading(&[made(Kind::Octaves, cents); 3])];
        let before = Stage {
            takes: flat(-57.0),
            looks: vec![leaks],
            work: Some((Cut::Clip, Some(0.3))),
            ..Stage::default()
        };
        let now = Stage { takes: flat(-35.0), ..Stage::default() };
        let story = Story { stages: vec![before, now], measured: long(), ..Story::default() };
        let advice = advise_on(&story, &Profile::default(), &Effects::default());
        let place = if leak == Leak::Low { Place::Low } else { Place::Heart };
        let next = (advice.next, advice.r#where);
        assert_eq!(next, (Move::Seal, Where::At(place)), "after a look at {leak:?}");
    }
}

/// Common practice, no source: a leak low by the winding can be sealed, which costs no cane.
#[test]
fn a_leak_is_sealed_before_a_reed_is_given_up() {
    let short = Measurements::new(Sizes { length_mm: Some(66.5), ..Sizes::default() }).unwrap();
    let leaks = Inspection { leak: Some(Leak::Low), ..Inspection::default() };
    let flat = reading(&[made(Kind::Octaves, -60.0); 3]);
    let advice = advise(&flat, &short, &leaks, &Profile::default(), &Effects::default());
    assert_eq!((advice.next, advice.r#where), (Move::Seal, Where::At(Place::Low)));
}

#[test]
fn after_a_seal_that_did_not_hold_the_leak_is_looked_for_again() {
    let leaks = Inspection { leak: Some(Leak::Low), ..Inspection::default() };
    let (air, wild) = (made(Kind::Breath, 0.0), made(Kind::Unsettled, 0.0));
    let take = reading(&[wild, air, wild, air]);
    let sealed = Stage {
        takes: vec![take.clone()],
        looks: vec![leaks],
        told: vec![
            (Move::Look, Where::Wanted(vec![Wanted::Leak])),
            (Move::Seal, Where::At(Place::Low)),
        ],
        work: Some((Cut::SealLow, None)),
        ..Stage::default()
    };
    let now = Stage { takes: vec![take], ..Stage::default() };
    let story = Story { stages: vec![sealed, now], measured: long(), ..Story::default() };
    let advice = advise_on(&story, &Profile::default(), &Effects::default());
    assert_eq!(advice.next, Move::Look, "{advice:#?}");
    let is_leak = |at: &Where| matches!(at, Where::Wanted(each) if each.contains(&Wanted::Leak));
    assert!(is_leak(&advice.r#where), "{advice:#?}");
}

#[test]
fn what_hardly_is_a_crow_of_this_kind_is_asked_about_and_not_given_up() {
    let mut story =
        of_recording(&reading(&[made(Kind::Octaves, -400.0); 3]), &long(), &Inspection::default());
    for _ in 0..8 {
        let advice = advise_on(&story, &Profile::default(), &Effects::default());
        assert_ne!(advice.next, Move::Stop, "{advice:#?}");
        assert!(advice.because.iter().any(|one| one.figure == "fundamental.register"));
        story.stages[0].told.push((advice.next, advice.r#where));
    }
}

#[test]
fn the_profile_says_how_sure_a_cut_has_to_be() {
    let mut profile = Profile::default();
    let split = reading(&[made(Kind::Split, 0.0); 3]);
    let next = |profile: &Profile| {
        advise(&split, &long(), &Inspection::default(), profile, &Effects::default()).next
    };
    assert!(next(&profile).is_cut());
    profile.advice.least_confidence = 0.99;
    assert!(!next(&profile).is_cut());
}

#[test]
fn one_crow_is_too_few_and_crows_that_differ_are_said_to() {
    let last = |crows: &[Made]| {
        let advice = told(crows, Inspection::default());
        advice.because.last().map(|one| one.figure.clone())
    };
    let of = |cents: f64| made(Kind::Octaves, cents);
    assert_eq!(last(&[of(-40.0)]).as_deref(), Some("crow_count"));
    assert_eq!(last(&[of(-20.0), of(0.0), of(20.0)]).as_deref(), Some(BETWEEN_CROWS));
}
