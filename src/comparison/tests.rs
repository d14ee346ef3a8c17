mod blowing;

use proptest::prelude::*;
use rand::SeedableRng;
use rand_distr::{Distribution, Normal};
use serde_json::Value;

use super::estimate::{median_variance_ratio, median_widening};
use super::figures::{Sample, Samples};
use super::welch::{Difference, half_width, of_medians, variance};
use super::*;
use crate::dsp::statistics::{median, t_975};
use crate::reading::{Band, Crow, Kind, testing};

/// Made by fixtures/made/comparison.py from scipy 1.17 and statsmodels 0.15.
fn reference() -> Value {
    serde_json::from_str(include_str!("../../fixtures/made/comparison.json")).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

fn samples(values: &[f64], levels: &[f64], own_ci95: Option<f64>) -> Samples {
    let level = |index: usize| levels.get(index).copied();
    let each = values.iter().enumerate();
    Samples(
        each.map(|(index, value)| Sample { value: *value, own_ci95, level_dbfs: level(index) })
            .collect(),
    )
}

/// The reference prints nine digits; the quantile search ends well before that.
const RELATIVE: f64 = 1e-6;

/// A prior so wide that least squares remain.
const NOTHING_KNOWN: level::Slope = level::Slope { mean: 0.0, sd: 1e8 };

fn near(found: f64, expected: f64) -> bool {
    (found - expected).abs() <= RELATIVE * expected.abs().max(1.0)
}

/// scipy.stats.ttest_ind(equal_var=False).confidence_interval(0.95), of means.
#[test]
fn the_interval_of_means_matches_scipy() {
    for case in reference()["welch"].as_array().unwrap() {
        let (before, after) = (numbers(&case["before"]), numbers(&case["after"]));
        let of_mean =
            |values: &[f64]| (variance(values).unwrap() / values.len() as f64, values.len());
        let half = half_width(of_mean(&before), of_mean(&after));
        assert!(near(half, case["ci95"].as_f64().unwrap()), "{half} {case}");
    }
}

/// differs: on purpose from scipy's interval of means from five crows a side on, since the
/// difference is one of medians; with up to four a side both are the same.
#[test]
fn the_interval_of_medians_is_scipy_s_of_means_up_to_four_crows_and_wider_from_five_on() {
    for case in reference()["welch"].as_array().unwrap() {
        let (before, after) = (numbers(&case["before"]), numbers(&case["after"]));
        let found = of_medians(&samples(&before, &[], None), &samples(&after, &[], None));
        let means = case["ci95"].as_f64().unwrap();
        let ratio = found.ci95.unwrap() / means;
        if before.len() <= 4 && after.len() <= 4 {
            assert!(near(found.ci95.unwrap(), means));
        } else if before.len() > 4 && after.len() > 4 {
            // At most the square root of π/2; with other weights the degrees of freedom move too,
            // hence a tenth.
            assert!(ratio > 1.0 && ratio < 1.1 * std::f64::consts::FRAC_PI_2.sqrt(), "{ratio}");
        }
    }
}

/// statsmodels OLS of pitch on side and level: coefficient and interval of the side.
#[test]
fn pitch_at_one_level_matches_least_squares() {
    for case in reference()["level"].as_array().unwrap() {
        let side = |name: &str| {
            samples(&numbers(&case[name]), &numbers(&case[format!("{name}_levels")]), None)
        };
        let (before, after) = (side("before"), side("after"));
        let levels = |side: &Samples| side.levels().unwrap();
        let (found, slope_per_db) =
            level::covariance(&before, &after, &levels(&before), &levels(&after), NOTHING_KNOWN)
                .unwrap();
        assert!(near(found.difference, case["difference"].as_f64().unwrap()), "{case}");
        assert!(near(found.ci95.unwrap(), case["ci95"].as_f64().unwrap()), "{case}");
        assert!(near(slope_per_db, case["slope_per_db"].as_f64().unwrap()), "{case}");
    }
}

/// Order statistics of the normal distribution, integrated with scipy.
#[test]
fn the_variance_of_a_median_matches_the_order_statistics() {
    for (index, ratio) in numbers(&reference()["median_variance_ratio"]).into_iter().enumerate() {
        assert!((median_variance_ratio(index + 1) - ratio).abs() < 5e-5, "{}", index + 1);
    }
}

/// scipy.stats.t.ppf(0.975, n), nine digits.
#[test]
fn the_students_points_match_scipy() {
    for (freedom, expected) in reference()["student_975"].as_object().unwrap() {
        let found = t_975(freedom.parse().unwrap());
        assert!(near(found, expected.as_f64().unwrap()), "{freedom}: {found}");
    }
}

/// 4000 comparisons of normal crows: 95 % of the intervals hold the truth. Two standard errors of
/// such a share are 0.7 %; for the rest, Satterthwaite's approximation itself holds 93.5 to 96.5 %
/// for means of so few values (200 000 trials).
#[test]
fn the_interval_holds_the_truth_19_times_in_20() {
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(7);
    for (before, after, spread_before, spread_after) in
        [(3, 3, 4.0, 4.0), (4, 4, 4.0, 2.0), (5, 5, 4.0, 4.0), (4, 8, 4.0, 6.0), (9, 9, 2.0, 5.0)]
    {
        let first = Normal::new(-38.0, spread_before).unwrap();
        let second = Normal::new(-12.0, spread_after).unwrap();
        let mut side = |normal: &Normal<f64>, count: usize| {
            let values: Vec<f64> = (0..count).map(|_| normal.sample(&mut rng)).collect();
            samples(&values, &[], None)
        };
        let held = (0..4000)
            .filter(|_| {
                let found = of_medians(&side(&first, before), &side(&second, after));
                (found.difference - 26.0).abs() <= found.ci95.unwrap()
            })
            .count();
        let share = held as f64 / 4000.0;
        assert!((0.93..=0.97).contains(&share), "{before} {after}: {share}");
    }
}

#[test]
fn the_interval_is_never_narrower_than_the_crows_own() {
    let found =
        of_medians(&samples(&[1.0; 3], &[], Some(3.0)), &samples(&[2.0; 3], &[], Some(4.0)));
    // √(3² + 4²) / √3
    assert!((found.ci95.unwrap() - 5.0 / 3f64.sqrt()).abs() < 1e-9);
}

#[test]
fn crows_needed_is_enough_were_the_spread_to_stay() {
    let found =
        of_medians(&samples(&[-3.0, 0.0, 3.0], &[], None), &samples(&[1.0, 4.0, 7.0], &[], None));
    let (verdict, needed) = verdict::of(&found, 5.0);
    assert_eq!(verdict, Verdict::Unclear);
    let needed = needed.unwrap();
    let settled = |count: usize| {
        let variance = 9.0 * median_widening(count) / count as f64;
        half_width((variance, count), (variance, count)) < 4.0
    };
    assert!(settled(needed) && !settled(needed - 1), "{needed}");
}

#[test]
fn verdicts_follow_the_interval() {
    let verdict =
        |difference, ci95| verdict::of(&Difference { difference, ci95, plan: None }, 5.0).0;
    assert_eq!(verdict(10.0, Some(4.0)), Verdict::Rose);
    assert_eq!(verdict(-10.0, Some(4.0)), Verdict::Fell);
    assert_eq!(verdict(1.0, Some(4.0)), Verdict::Same);
    assert_eq!(verdict(1.0, Some(4.1)), Verdict::Unclear);
    assert_eq!(verdict(10.0, None), Verdict::Unclear);
    // For sure another, however little that is.
    assert_eq!(verdict(2.0, Some(1.0)), Verdict::Rose);
}

fn take(crows: &[(f64, f64)]) -> Reading {
    testing::take(crows.iter().map(|(cents, level)| crow(*cents, *level)).collect())
}

fn crow(cents: f64, level: f64) -> Crow {
    let mut crow = testing::crow(Kind::Octaves, cents);
    let hz = crow.figures.fundamental.hz.unwrap();
    let figures = &mut crow.figures;
    figures.rungs = [hz, 2.0 * hz].map(|hz| testing::rung(hz, -3.0 + cents / 100.0, 0.1)).into();
    figures.fundamental.ci95_cents = Some(0.5);
    figures.fundamental.note = Some("C5".into());
    figures.fundamental.note_cents = Some(cents);
    figures.balance.bands_db = vec![Band { centre_hz: 125.0, db: Some(-20.0) }];
    figures.balance.centroid_hz = Some(1500.0 + level);
    figures.level_dbfs = Some(level);
    crow
}

fn of(before: &[Reading], after: &[Reading]) -> Comparison {
    compare(before, after, &Profile::default())
}

fn change<'a>(found: &'a Comparison, figure: &str) -> Option<&'a Change> {
    found.changes.iter().find(|change| change.figure == figure)
}

fn noted(found: &Comparison, code: NoteCode) -> bool {
    found.notes.iter().any(|note| note.code == code)
}

const EVEN: [(f64, f64); 4] = [(-38.0, -20.0), (-36.0, -20.0), (-40.0, -20.0), (-38.5, -20.0)];
const RAISED: [(f64, f64); 4] = [(-12.0, -20.0), (-13.0, -20.0), (-11.0, -20.0), (-12.5, -20.0)];

#[test]
fn a_clip_that_raised_the_pitch_is_seen() {
    let found = of(&[take(&EVEN)], &[take(&RAISED)]);
    let pitch = change(&found, "fundamental.target_cents").unwrap();
    assert_eq!((pitch.before, pitch.after, pitch.difference), (-38.25, -12.25, 26.0));
    assert_eq!((pitch.verdict, pitch.level_adjusted), (Verdict::Rose, false));
    assert_eq!(change(&found, "fundamental.register").unwrap().verdict, Verdict::Same);
    assert_eq!((found.before.crow_count, found.after.kind), (4, Some(Kind::Octaves)));
}

#[test]
fn one_crow_on_a_side_leaves_every_verdict_unclear() {
    let found = of(&[take(&EVEN[..1])], &[take(&RAISED)]);
    assert!(found.changes.iter().all(|change| change.verdict == Verdict::Unclear));
    assert!(found.changes.iter().all(|change| change.ci95.is_none()));
    assert!(noted(&found, NoteCode::OneCrow));
}

#[test]
fn a_side_without_a_crow_compares_nothing_and_says_so() {
    let found = of(&[take(&[])], &[take(&RAISED)]);
    assert_eq!(found.changes, []);
    assert!(noted(&found, NoteCode::NoCrow));
}

/// Both sides lie on one line of −2.5 cents per dB: blown harder, not cut.
#[test]
fn a_pitch_that_only_followed_the_level_did_not_change() {
    let blown = |levels: [f64; 4]| {
        // Without a trend of its own over these levels.
        let jitter = [0.3, -0.3, 0.3, -0.3];
        let crows: Vec<(f64, f64)> = levels
            .iter()
            .zip(jitter)
            .map(|(level, jitter)| (-38.0 - 2.5 * (level + 20.0) + jitter, *level))
            .collect();
        take(&crows)
    };
    let found = of(&[blown([-24.0, -20.0, -18.0, -22.0])], &[blown([-21.5, -17.5, -15.5, -19.5])]);
    let pitch = change(&found, "fundamental.target_cents").unwrap();
    assert!(pitch.level_adjusted);
    assert!((pitch.after - pitch.before + 6.25).abs() < 0.5, "{pitch:?}");
    assert_eq!(pitch.verdict, Verdict::Same, "{pitch:?}");
    let note = found.notes.iter().find(|note| note.code == NoteCode::LevelAdjusted).unwrap();
    assert!(note.text.contains("−2.5 "), "{}", note.text);
    assert!(!noted(&found, NoteCode::LevelsApart));
}

/// The same crows through a lower gain: a slope within the sides must not become a pitch.
#[test]
fn a_microphone_moved_away_is_no_change_of_pitch() {
    let crows = [(-57.4, -16.6), (-53.7, -16.1), (-61.4, -17.5)];
    for gain in [-0.5, -1.0, -3.0, -10.0, 6.0] {
        let away = take(&crows.map(|(cents, level)| (cents, level + gain)));
        let found = of(&[take(&crows)], &[away]);
        let pitch = change(&found, "fundamental.target_cents").unwrap();
        assert!(!matches!(pitch.verdict, Verdict::Rose | Verdict::Fell), "{gain} {pitch:?}");
        assert_eq!(noted(&found, NoteCode::LevelsApart), gain.abs() >= 1.0, "{gain}");
        // The interval holds what is found at one level too.
        assert!(pitch.level_adjusted, "{gain}");
    }
}

#[test]
fn a_recording_against_itself_is_said_to_be_the_same() {
    assert!(noted(&of(&[take(&EVEN)], &[take(&EVEN)]), NoteCode::SameRecording));
    assert!(!noted(&of(&[take(&EVEN)], &[take(&RAISED)]), NoteCode::SameRecording));
}

#[test]
fn what_cannot_be_compared_is_left_out_and_said() {
    let before = [take(&EVEN)];
    let other_a4 = [Reading { a4_hz: 442.0, ..take(&RAISED) }];
    let found = of(&before, &other_a4);
    assert!(noted(&found, NoteCode::DifferentA4));
    assert!(change(&found, "fundamental.target_cents").is_none());
    assert!(change(&found, "fundamental.hz").is_some());

    let other_profile = [Reading { profile: "bassoon".into(), ..take(&RAISED) }];
    let found = of(&before, &other_profile);
    assert!(noted(&found, NoteCode::DifferentProfile));
    assert!(change(&found, "fundamental.target_cents").is_none());

    let slow = [Reading { sample_rate_hz: 16_000, ..take(&RAISED) }];
    let found = of(&before, &slow);
    assert!(noted(&found, NoteCode::DifferentSampleRate));
    assert!(change(&found, "balance.centroid_hz").is_none());
    assert!(change(&found, "balance.bands_db[0].db").is_none());
    assert!(change(&found, "rungs[0].level_db").is_none());
    assert!(change(&found, "rungs[0].present").is_some());

    let other_channel = [Reading { channels: 2, channel: 2, ..take(&RAISED) }];
    let found = of(&before, &other_channel);
    assert!(noted(&found, NoteCode::DifferentChannel));
    assert!(change(&found, "level_dbfs").is_none());
    assert!(found.changes.iter().all(|change| !change.level_adjusted));
}

#[test]
fn rungs_are_compared_by_octave_and_not_by_place() {
    let mut peep = take(&RAISED);
    for crow in &mut peep.crows {
        crow.figures.rungs.remove(0);
    }
    let found = of(&[peep], &[take(&RAISED)]);
    let low = change(&found, "rungs[0].present").unwrap();
    assert_eq!((low.before, low.after, low.verdict), (0.0, 1.0, Verdict::Rose));
    assert!(change(&found, "rungs[0].level_db").is_none());
    assert!(change(&found, "rungs[1].hz").unwrap().difference.abs() < 1e-9);
}

#[test]
fn how_late_the_lowest_octave_comes_is_compared_only_where_it_is_the_same_octave() {
    let with_delay = |mut reading: Reading, hz_times: f64| {
        for figures in reading.crows.iter_mut().map(|crow| &mut crow.figures) {
            figures.fundamental.hz = figures.fundamental.hz.map(|hz| hz * hz_times);
            figures.response.low_delay_s = Some(0.05);
        }
        reading
    };
    let crowed = with_delay(take(&RAISED), 1.0);
    let found = of(std::slice::from_ref(&crowed), std::slice::from_ref(&crowed));
    assert!(change(&found, "response.low_delay_s").is_some());
    assert!(!noted(&found, NoteCode::DifferentOctave));
    let found = of(&[with_delay(take(&EVEN), 2.0)], &[crowed]);
    assert!(change(&found, "response.low_delay_s").is_none());
    assert!(noted(&found, NoteCode::DifferentOctave));
}

#[test]
fn the_change_of_pitch_alone_is_the_one_of_the_whole_comparison() {
    let louder: Vec<(f64, f64)> =
        RAISED.iter().zip([-18.0, -23.0, -19.5, -21.0]).map(|((c, _), db)| (*c, db)).collect();
    for after in [take(&RAISED), take(&louder)] {
        let found = of(&[take(&EVEN)], std::slice::from_ref(&after));
        let whole = change(&found, "fundamental.target_cents").unwrap();
        let alone = pitch_change(&[take(&EVEN)], &[after], None).unwrap();
        assert_eq!((alone.cents, alone.level_adjusted), (whole.difference, whole.level_adjusted));
    }
    // Without a target on one side, of the frequency: RAISED lies 26 cents over EVEN.
    let mut no_target = take(&RAISED);
    for crow in &mut no_target.crows {
        crow.figures.fundamental.target_cents = None;
    }
    let alone = pitch_change(&[take(&EVEN)], &[no_target], None).unwrap();
    assert!((alone.cents - 26.0).abs() < 0.05, "{alone:?}");
    assert_eq!(pitch_change(&[take(&EVEN)], &[take(&[])], None), None);
}

#[test]
fn pitches_on_both_sides_of_the_tritone_are_near_each_other() {
    let before = [take(&[(595.0, -20.0), (596.0, -20.0), (594.0, -20.0)])];
    let mut after = [take(&[(-595.0, -20.0), (-594.0, -20.0), (-596.0, -20.0)])];
    // Of the octave over the target, so that a few cents lie between.
    for crow in &mut after[0].crows {
        crow.figures.fundamental.hz = crow.figures.fundamental.hz.map(|hz| 2.0 * hz);
    }
    let pitch = of(&before, &after);
    let pitch = change(&pitch, "fundamental.target_cents").unwrap();
    assert!((pitch.difference - 10.0).abs() < 1e-9);
    assert_eq!((pitch.before, pitch.after), (595.0, -595.0));
}

#[test]
fn a_comparison_reads_back_from_its_line() {
    let found = of(&[take(&EVEN)], &[take(&RAISED)]);
    let line = serde_json::to_string(&found).unwrap();
    let back: Comparison = serde_json::from_str(&line).unwrap();
    assert_eq!(back.changes.len(), found.changes.len());
    assert_eq!(back.notes, found.notes);
}

prop_compose! {
    fn any_take()(
        crows in proptest::collection::vec((-80.0..80.0_f64, -40.0..-5.0_f64), 0..6),
    ) -> Reading {
        take(&crows)
    }
}

proptest! {
    #[test]
    fn comparing_a_reading_with_itself_finds_nothing(reading in any_take()) {
        let same = std::slice::from_ref(&reading);
        for change in of(same, same).changes {
            prop_assert_eq!(change.before, change.after);
            prop_assert!(change.difference.abs() < 1e-9, "{:?}", change);
            prop_assert!(!matches!(change.verdict, Verdict::Rose | Verdict::Fell), "{:?}", change);
        }
    }

    #[test]
    fn swapping_the_sides_negates_every_difference(before in any_take(), after in any_take()) {
        let there = of(std::slice::from_ref(&before), std::slice::from_ref(&after));
        let back = of(std::slice::from_ref(&after), std::slice::from_ref(&before));
        prop_assert_eq!(there.changes.len(), back.changes.len());
        for (a, b) in there.changes.iter().zip(&back.changes) {
            prop_assert_eq!(&a.figure, &b.figure);
            prop_assert!((a.difference + b.difference).abs() < 1e-6, "{:?} {:?}", a, b);
            let halves = a.ci95.unwrap_or(0.0) - b.ci95.unwrap_or(0.0);
            prop_assert!(halves.abs() <= 1e-6 * a.ci95.unwrap_or(1.0).max(1.0), "{:?} {:?}", a, b);
            let opposite = match a.verdict {
                Verdict::Rose => Verdict::Fell,
                Verdict::Fell => Verdict::Rose,
                other => other,
            };
            prop_assert_eq!(opposite, b.verdict);
        }
    }
}
