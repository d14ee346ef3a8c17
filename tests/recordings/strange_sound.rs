//! Sound that no reed makes, through the whole reading: nothing panics, nothing that is not a number
//! comes out, and each reading is a line of JSON that reads back as the same reading.

use std::f32::consts::TAU;

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use reedcrow::pitch::A4;
use reedcrow::profile::Profile;
use reedcrow::reading::{self, Reading, WarningCode};
use reedcrow::report::{json, terminal};
use reedcrow::take::Take;

fn reading(samples: Vec<f32>, sample_rate_hz: u32) -> Reading {
    let take = Take {
        source: "strange".into(),
        sample_rate_hz,
        channels: 1,
        channel: 1,
        samples,
        ..Take::default()
    };
    reading::read(&take, &Profile::default(), A4::default()).reading
}

/// Checks what holds of every reading.
fn check(name: &str, reading: &Reading) {
    let style = terminal::Style::default();
    let card = terminal::card(reading, None, &Profile::default(), &style);
    assert!(!card.contains("NaN") && !card.contains("inf"), "{name}: {card}");
    let line = json::line(reading, None);
    assert_eq!(line.lines().count(), 1, "{name}");
    let read_back: Reading = serde_json::from_str(&line).unwrap();
    assert_eq!(json::line(&read_back, None), line, "{name}");
    for crow in &reading.crows {
        assert!(crow.start_s <= crow.end_s && crow.end_s <= reading.duration_s + 1e-6, "{name}");
    }
}

#[test]
fn sound_that_no_reed_makes_is_read_without_harm() {
    let mut random = ChaCha8Rng::seed_from_u64(1046);
    for rate_hz in [8_000, 48_000, 192_000] {
        let count = rate_hz as usize * 2 / 5;
        let time = move |index: usize| index as f32 / rate_hz as f32;
        let tone = move |hz: f32| move |index: usize| (TAU * hz * time(index)).sin();
        let kinds: [(&str, Vec<f32>); 12] = [
            ("one sample", vec![1.0]),
            ("two samples", vec![1.0, -1.0]),
            ("silence", vec![0.0; count]),
            ("full scale", vec![1.0; count]),
            ("far over full scale", (0..count).map(|i| 1e20 * tone(523.0)(i)).collect()),
            (
                "the greatest floats",
                (0..count).map(|i| if i % 90 < 45 { f32::MAX } else { f32::MIN }).collect(),
            ),
            ("the least floats", vec![f32::from_bits(1); count]),
            ("square", (0..count).map(|i| tone(523.0)(i).signum()).collect()),
            ("highest tone", (0..count).map(|i| if i % 2 == 0 { 0.9 } else { -0.9 }).collect()),
            ("one click", (0..count).map(|i| f32::from(u8::from(i == count / 2))).collect()),
            ("below 20 Hz", (0..count).map(tone(7.0)).collect()),
            ("noise", (0..count).map(|_| random.random_range(-1.0..1.0)).collect()),
        ];
        for (name, samples) in kinds {
            check(&format!("{name} at {rate_hz} Hz"), &reading(samples, rate_hz));
        }
    }
}

#[test]
fn random_bits_as_samples_are_read_without_harm() {
    let mut random = ChaCha8Rng::seed_from_u64(523);
    for case in 0..8 {
        let samples = (0..12_000).map(|_| f32::from_bits(random.next_u32()));
        let finite: Vec<f32> = samples.map(|s| if s.is_finite() { s } else { 0.0 }).collect();
        check(&format!("case {case}"), &reading(finite, 16_000));
    }
}

#[test]
fn too_little_to_be_a_crow_is_a_reading_with_no_crow_and_a_warning() {
    let mut random = ChaCha8Rng::seed_from_u64(262);
    let mut room = |count: usize| -> Vec<f32> {
        (0..count).map(|_| random.random_range(-1e-4..1e-4)).collect()
    };
    let short_tone = (0..2_400).map(|i| 0.2 * (TAU * 523.25 * i as f32 / 48_000.0).sin());
    let mut with_short_tone = room(24_000);
    with_short_tone.extend(short_tone.clone());
    with_short_tone.extend(room(24_000));
    for (name, samples) in [
        ("silence", vec![0.0; 48_000]),
        ("room noise", room(48_000)),
        ("0.05 s of tone alone", short_tone.collect()),
        ("0.05 s of tone in a quiet room", with_short_tone),
    ] {
        let reading = reading(samples, 48_000);
        assert_eq!(reading.summary.crow_count, 0, "{name}");
        let warned = reading.warnings.iter().any(|warning| warning.code == WarningCode::NoCrow);
        assert!(warned, "{name}: {:?}", reading.warnings);
    }
}
