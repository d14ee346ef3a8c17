//! Laws that hold for every reading.

use proptest::prelude::*;

use super::*;
use crate::profile::load;
use crate::reading::{Warning, WarningCode};
use crate::reed::{Bark, Heart, Leak, Symmetry, TipSides};

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
        WarningCode::Silent,
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
