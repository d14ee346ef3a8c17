use std::collections::BTreeSet;

use super::case::Case;
use super::rules::{RULES, first_that_holds};
use super::*;
use crate::comparison::{Cut, Effect};
use crate::profile::load;
use crate::reading::{Crow, Figures, Kind, Reading, Rung, Summary, Warning, WarningCode};
use crate::reed::{Bark, Corners, Heart, Leak, Sizes, Symmetry, TipSides};
use proptest::prelude::*;

/// A reading of `crows` crows that are all alike.
fn reading(kind: Kind, cents: Option<f64>, crows: usize, figures: Figures) -> Reading {
    let mut figures = figures;
    figures.fundamental.target_cents = cents;
    figures.fundamental.ci95_cents = cents.map(|_| 1.0);
    let crow = Crow { start_s: 0.0, end_s: 1.0, kind, figures: figures.clone() };
    Reading {
        schema: 1,
        source: "made by hand".into(),
        sample_rate_hz: 48_000,
        channels: 1,
        channel: 1,
        duration_s: 5.0,
        a4_hz: 440.0,
        profile: "american-oboe".into(),
        crows: vec![crow; crows],
        summary: Summary {
            crow_count: crows,
            kind: (crows > 0).then_some(kind),
            figures: if crows > 0 { figures } else { Figures::default() },
        },
        warnings: Vec::new(),
    }
}

fn rung(level_db: f64, present: f64) -> Rung {
    Rung { hz: 520.0, level_db, present, switches_per_s: 0.0, entry_s: Some(0.0), sustained: true }
}

/// Figures of a crow that answers at once and stands still.
fn easy() -> Figures {
    let mut figures =
        Figures { rungs: vec![rung(-6.0, 1.0), rung(-2.0, 1.0)], ..Figures::default() };
    figures.fundamental.register = Some(0);
    figures.steadiness.spread_cents = Some(3.0);
    figures.response.onset_s = Some(0.03);
    figures.response.low_delay_s = Some(0.02);
    figures.breath.noise_db = Some(-30.0);
    figures
}

fn peep() -> Figures {
    let mut figures = easy();
    figures.fundamental.register = Some(1);
    figures
}

fn stuffy() -> Figures {
    let mut figures = easy();
    figures.response.onset_s = Some(0.6);
    figures
}

fn wild() -> Figures {
    let mut figures = easy();
    figures.steadiness.spread_cents = Some(60.0);
    figures
}

fn late() -> Figures {
    let mut figures = easy();
    figures.response.low_delay_s = Some(0.6);
    figures
}

fn after(cut: Cut) -> Effects {
    Effects { cuts: Vec::new(), last: Some(cut) }
}

fn length(mm: f64) -> Sizes {
    Sizes { length_mm: Some(mm), ..Sizes::default() }
}

struct Given {
    reading: Reading,
    sizes: Sizes,
    seen: Inspection,
    effects: Effects,
}

fn given(kind: Kind, cents: f64, figures: Figures) -> Given {
    Given {
        reading: reading(kind, Some(cents), 3, figures),
        sizes: Sizes::default(),
        seen: Inspection::default(),
        effects: Effects::default(),
    }
}

impl Given {
    fn seen(self, seen: Inspection) -> Self {
        Self { seen, ..self }
    }
    fn sizes(self, sizes: Sizes) -> Self {
        Self { sizes, ..self }
    }
    fn after(self, cut: Cut) -> Self {
        Self { effects: after(cut), ..self }
    }
    fn rule(&self) -> &'static str {
        let measured = Measurements::new(self.sizes).unwrap();
        let profile = Profile::default();
        let case = Case {
            reading: &self.reading,
            measured: &measured,
            seen: &self.seen,
            profile: &profile,
            effects: &self.effects,
        };
        first_that_holds(&case.facts()).rule.name
    }
    fn advice(&self) -> Advice {
        let measured = Measurements::new(self.sizes).unwrap();
        advise(&self.reading, &measured, &self.seen, &Profile::default(), &self.effects)
    }
}

/// One case for each rule, by the rule's name.
fn cases() -> Vec<(&'static str, Given)> {
    use Kind::{Octaves, Single, Split, Unsettled};
    let look = Inspection::default();
    let thick = Inspection { heart: Some(Heart::Thick), ..look };
    let mut silent = given(Octaves, 0.0, easy());
    silent.reading = reading(Kind::Octaves, None, 0, Figures::default());
    let mut silent_after = given(Octaves, 0.0, easy()).after(Cut::TipSurface);
    silent_after.reading = silent.reading.clone();
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
        ("silent-after-tip", silent_after),
        ("silent", silent),
        ("far-from-target", given(Single, -310.0, easy())),
        ("wound-past-staple", given(Split, 0.0, easy()).sizes(wound)),
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
        ("sharp", given(Octaves, 40.0, easy())),
        ("wild-after-tip", given(Octaves, 0.0, wild()).after(Cut::TipSides)),
        ("wild", given(Octaves, 0.0, wild())),
        ("low-octave-hard", given(Octaves, 0.0, late())),
        ("hard-heart-thick", given(Octaves, 0.0, stuffy()).seen(thick)),
        ("hard-after-tip", given(Octaves, 0.0, stuffy()).after(Cut::TipCorners)),
        ("hard", given(Octaves, 0.0, stuffy())),
        ("disordered-very-flat-too-short", given(Split, -120.0, easy()).sizes(length(66.5))),
        ("disordered-very-flat", given(Split, -120.0, easy())),
        ("lost-after-tip", given(Unsettled, -20.0, easy()).after(Cut::TipSurface)),
        ("disordered-set-too-high", given(Split, 0.0, easy()).sizes(high)),
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
    case.reading = reading(Kind::Octaves, None, 0, Figures::default());
    let advice = case.advice();
    assert_eq!(advice.next, Move::Recrow);
    assert!(advice.then.contains("clip 0.1 mm"), "{}", advice.then);
}

/// Common practice, no source: a leak low by the winding can be sealed with tape, one beside the
/// heart rarely; too thin a heart or bark lost below it cannot be scraped better.
#[test]
fn what_cannot_be_mended_is_not_scraped() {
    let look = Inspection::default();
    for (seen, next) in [
        (Inspection { leak: Some(Leak::Low), ..look }, Move::Seal),
        (Inspection { leak: Some(Leak::Heart), ..look }, Move::Stop),
        (Inspection { heart: Some(Heart::Thin), ..look }, Move::Stop),
        (Inspection { bark: Some(Bark::Gone), ..look }, Move::Stop),
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
    assert_eq!(at(67.0).next, Move::Stop);
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
        level_adjusted: 0,
        octaves_came: None,
        without_octaves: 0,
        octaves_lost: None,
        with_octaves: 0,
    });
    let advice = case.advice();
    // 0.7 · 40 cents / 190 cents per mm = 0.147 mm, down to a step of 0.05.
    assert_eq!(advice.amount_mm, Some(0.1));
    assert!(advice.because.iter().any(|reason| reason.says.contains("12 earlier clips")));
}

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

#[test]
fn every_cut_warns_of_the_blade_every_seal_of_the_lips_and_all_of_sharing() {
    for (name, case) in cases() {
        let advice = case.advice();
        let said = advice.cautions.join(" ");
        assert!(said.contains("one mouth") && said.contains("local"), "{name}");
        assert_eq!(advice.next.is_cut(), said.contains("fingers"), "{name}");
        assert_eq!(advice.next == Move::Seal, said.contains("sealers"), "{name}");
    }
}

fn any_figure() -> impl Strategy<Value = Option<f64>> {
    prop_oneof![
        Just(None),
        (-700.0..700.0_f64).prop_map(Some),
        (-1.0..1.0_f64).prop_map(Some),
        any::<f64>().prop_map(Some),
    ]
}

prop_compose! {
    fn any_figures()(
        list in proptest::collection::vec(any_figure(), 12),
        register in proptest::option::of(-3..5_i32),
        rungs in proptest::collection::vec((any::<f64>(), any::<f64>(), any::<bool>()), 0..4),
    ) -> Figures {
        let mut figures = Figures::default();
        figures.fundamental.target_cents = list[0];
        figures.fundamental.ci95_cents = list[1];
        figures.fundamental.register = register;
        figures.alignment.cents = list[2];
        figures.steadiness.spread_cents = list[3];
        figures.steadiness.rattle_depth = list[4];
        figures.response.onset_s = list[5];
        figures.response.low_delay_s = list[6];
        figures.breath.noise_db = list[7];
        figures.rungs = rungs
            .into_iter()
            .map(|(level_db, present, sustained)| Rung {
                sustained, ..rung(level_db, present)
            })
            .collect();
        figures
    }
}

prop_compose! {
    fn any_reading()(
        crows in proptest::collection::vec((any_kind(), any_figures()), 0..5),
        kind in proptest::option::of(any_kind()),
        summary in any_figures(),
        count in 0..5_usize,
        codes in proptest::collection::vec(any_code(), 0..4),
    ) -> Reading {
        let mut reading = reading(Kind::Octaves, None, 0, Figures::default());
        reading.crows = crows
            .into_iter()
            .map(|(kind, figures)| Crow { start_s: 0.0, end_s: 1.0, kind, figures })
            .collect();
        reading.summary = Summary { crow_count: count, kind, figures: summary };
        reading.warnings =
            codes.into_iter().map(|code| Warning { code, text: "doubtful".into() }).collect();
        reading
    }
}

fn any_kind() -> impl Strategy<Value = Kind> {
    proptest::sample::select(vec![
        Kind::Octaves,
        Kind::Single,
        Kind::Split,
        Kind::Unsettled,
        Kind::Breath,
    ])
}

fn any_code() -> impl Strategy<Value = WarningCode> {
    proptest::sample::select(vec![
        WarningCode::Overload,
        WarningCode::Quiet,
        WarningCode::NoisyRoom,
        WarningCode::NoCrow,
        WarningCode::LostSamples,
    ])
}

fn any_inspection() -> impl Strategy<Value = Inspection> {
    (
        proptest::option::of(proptest::sample::select(vec![Leak::None, Leak::Low, Leak::Heart])),
        proptest::option::of(proptest::sample::select(vec![
            Heart::Good,
            Heart::Thick,
            Heart::Thin,
        ])),
        proptest::option::of(Just(Bark::Gone)),
        proptest::option::of(Just(TipSides::Thick)),
        proptest::option::of(Just(Symmetry::Uneven)),
    )
        .prop_map(|(leak, heart, bark, tip_sides, symmetry)| Inspection {
            leak,
            heart,
            bark,
            tip_sides,
            symmetry,
            ..Inspection::default()
        })
}

proptest! {
    #[test]
    fn no_reading_is_left_without_a_move(
        reading in any_reading(), seen in any_inspection(),
        length in proptest::option::of(60.0..80.0_f64),
        name in proptest::sample::select(vec!["american-oboe", "english-horn", "bassoon"]),
    ) {
        let profile = load(name).unwrap();
        let sizes = Sizes { length_mm: length, ..Sizes::default() };
        let measured = Measurements::new(sizes).unwrap();
        let advice = advise(&reading, &measured, &seen, &profile, &Effects::default());
        prop_assert!((0.0..=1.0).contains(&advice.confidence));
        prop_assert!(!advice.because.is_empty());
        prop_assert!(!advice.then.is_empty());
        prop_assert_eq!(advice.amount_mm.is_some(), advice.next == Move::Clip);
        if let Some(amount) = advice.amount_mm {
            prop_assert!(amount > 0.0 && amount <= 0.3);
        }
        prop_assert!(!advice.next.is_cut() || advice.confidence >= profile.advice.least_confidence);
        let line = serde_json::to_string(&advice).unwrap();
        prop_assert!(serde_json::from_str::<Advice>(&line).is_ok());
    }

    #[test]
    fn a_wider_interval_never_makes_it_surer(
        cents in -200.0..200.0_f64, narrow in 0.1..100.0_f64, more in 0.0..100.0_f64,
        crows in 1..6_usize, in_octaves in any::<bool>(),
    ) {
        let kind = if in_octaves { Kind::Octaves } else { Kind::Split };
        let sure = |ci: f64| {
            let mut case = given(kind, cents, easy());
            case.reading = reading(kind, Some(cents), crows, easy());
            case.reading.summary.figures.fundamental.ci95_cents = Some(ci);
            for crow in &mut case.reading.crows {
                crow.figures.fundamental.ci95_cents = Some(ci);
            }
            case.advice().confidence
        };
        prop_assert!(sure(narrow + more) <= sure(narrow) + 1e-9);
    }
}
