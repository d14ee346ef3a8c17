//! What the floor and the finder promise, on rooms and tones made by rule.

use std::f64::consts::TAU;

use super::finder::Finder;
use super::floor::{Floor, FloorTracker, LEAST_DENSITY};
use super::frames::BANDS;

const RATE_HZ: u32 = 16_000;

/// White noise of that amplitude, and a tone of eight partials at 500 Hz while one of `spans` lasts.
fn room(length_s: f64, noise: f64, spans: &[(f64, f64)]) -> Vec<f32> {
    let mut random = 1u32;
    (0..(length_s * f64::from(RATE_HZ)) as usize)
        .map(|n| {
            // A linear congruential generator (Numerical Recipes' constants, from memory).
            random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let hiss = noise * (2.0 * f64::from(random) / f64::from(u32::MAX) - 1.0);
            let time_s = n as f64 / f64::from(RATE_HZ);
            let sounds = spans.iter().any(|(from, to)| (*from..*to).contains(&time_s));
            let tone: f64 = (1..=8)
                .map(|m| 0.1 / f64::from(m) * (TAU * 500.0 * f64::from(m) * time_s).sin())
                .sum();
            (hiss + if sounds { tone } else { 0.0 }) as f32
        })
        .collect()
}

/// Bounds of the sounds that a finder hands out, fed in pieces.
fn found(samples: &[f32], piece: usize) -> Vec<(f64, f64)> {
    let mut finder = Finder::new(RATE_HZ);
    let mut sounds: Vec<_> = samples.chunks(piece).flat_map(|piece| finder.push(piece)).collect();
    sounds.extend(finder.finish());
    sounds.iter().map(|sound| (sound.start_s, sound.end_s)).collect()
}

/// A window of 5 ms places the edges.
fn assert_near(found: &[(f64, f64)], spans: &[(f64, f64)]) {
    assert_eq!(found.len(), spans.len(), "{found:?}");
    for (one, other) in found.iter().zip(spans) {
        assert!((one.0 - other.0).abs() < 0.01 && (one.1 - other.1).abs() < 0.01, "{found:?}");
    }
}

#[test]
fn a_sound_is_found_where_it_is() {
    let spans = [(0.8, 1.9), (3.0, 3.4)];
    assert_near(&found(&room(4.5, 1e-3, &spans), 480), &spans);
}

/// READING: sounds with at least 0.15 s at the floor between them are two.
#[test]
fn a_pause_of_three_twentieths_of_a_second_parts_two_sounds() {
    for (pause_s, count) in [(0.08, 1), (0.12, 1), (0.2, 2), (0.4, 2)] {
        let spans = [(0.8, 1.5), (1.5 + pause_s, 2.5)];
        let found = found(&room(3.5, 1e-3, &spans), 480);
        assert_eq!(found.len(), count, "{pause_s} s: {found:?}");
    }
}

#[test]
fn a_take_that_begins_within_a_sound_gives_it_from_the_first_moment() {
    assert_near(&found(&room(3.0, 1e-3, &[(0.0, 1.2)]), 480), &[(0.0, 1.2)]);
}

#[test]
fn the_pieces_in_which_samples_come_change_no_bound() {
    let samples = room(3.0, 1e-3, &[(0.8, 1.9)]);
    let whole = found(&samples, samples.len());
    for piece in [1, 37, 4096] {
        assert_eq!(found(&samples, piece), whole, "{piece}");
    }
}

#[test]
fn a_room_without_sounds_gives_none() {
    assert_eq!(found(&room(4.0, 1e-3, &[]), 480), []);
}

/// Blocks of these levels, alike in all bands.
fn tracked(levels: impl IntoIterator<Item = f32>) -> FloorTracker {
    let mut tracker = FloorTracker::default();
    for (index, level) in levels.into_iter().enumerate() {
        tracker.push(10 * index as u64, [level; BANDS], vec![level; 4]);
    }
    tracker
}

#[test]
fn what_sounds_now_and_then_does_not_lift_the_floor() {
    let levels = (0..60).map(|n| if n % 3 == 0 { 1e-8 } else { 1e-6 });
    let floor = tracked(levels).floor().unwrap();
    assert!(floor.bands.iter().all(|band| (band / 1e-8 - 1.0).abs() < 1e-3), "{:?}", floor.bands);
    assert_eq!(floor.density, [1e-8; 4]);
}

#[test]
fn one_block_is_no_room_yet() {
    assert_eq!(tracked([1e-8]).floor(), None);
    assert!(tracked([1e-8; 2]).floor().is_some());
}

/// What a recorder writes before it hears is forgotten once the room is known.
#[test]
fn silence_at_the_beginning_says_nothing_of_the_room() {
    let levels = std::iter::repeat_n(0.0, 15).chain(std::iter::repeat_n(1e-8, 30));
    let floor = tracked(levels).floor().unwrap();
    assert!(floor.bands.iter().all(|band| (band / 1e-8 - 1.0).abs() < 1e-3), "{:?}", floor.bands);
    assert!(tracked([0.0; 30]).floor().unwrap().is_silent());
}

/// 6 dB, in any band to be heard, in every one to be another room.
#[test]
fn a_frame_is_heard_from_6_db_over_the_floor_in_one_band() {
    let floor = Floor { bands: [1e-8; BANDS], density: Vec::new() };
    let with = |one: f32, others: f32| {
        let mut bands = [others; BANDS];
        bands[2] = one;
        bands
    };
    assert!(!floor.hears(&with(3.9e-8, 1e-8)) && floor.hears(&with(4.1e-8, 1e-8)));
    assert!(!floor.is_under(&with(4.1e-8, 1e-8)) && floor.is_under(&[4.1e-8; BANDS]));
    assert!(Floor { bands: [LEAST_DENSITY; BANDS], density: Vec::new() }.is_silent());
}

/// A fan that is switched on: so much louder for a second and a half, it is the room.
#[test]
fn a_room_that_stays_louder_is_the_room_from_where_it_rose() {
    let levels = |louder| std::iter::repeat_n(1e-8, 40).chain(std::iter::repeat_n(1e-7, louder));
    assert_eq!(tracked(levels(20)).risen_since(400), None);
    let mut tracker = tracked(levels(31));
    assert_eq!(tracker.risen_since(400), Some(400));
    tracker.forget_before(400);
    let bands = tracker.bands().unwrap();
    assert!(bands.iter().all(|band| (band / 1e-7 - 1.0).abs() < 1e-3), "{bands:?}");
}
