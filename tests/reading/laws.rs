//! Changes of a take that may change only some figures.

use reedcrow::pitch::A4;
use reedcrow::profile::Profile;
use reedcrow::reading::{Figures, Reader, read};
use reedcrow::take::{Faults, Take};
use reedcrow_synth::{Air, CrowSound, Rattle, Sound, Source};
use reedcrow_synth::{Background, Colour, Noise, NoiseLevel, Scene};

use super::{cents, only_crow, reading_of, take_of};

fn lively_crow() -> CrowSound {
    let mut crow = CrowSound::octaves(519.0, 1.2, -6.0);
    crow.rattle = Some(Rattle { hz: 31.0, depth: 0.3 });
    crow.air = Some(Air { lead_s: 0.1, tail_s: 0.05, ..Air::default() });
    crow
}

/// Three crows in one take, the last cut off by its end.
fn take_of_three() -> Take {
    let mut scene = Scene::new(5.0, 7);
    scene.background = Background {
        noise: Some(Noise { colour: Colour::Pink, level: NoiseLevel::Dbfs(-62.0) }),
        ..Background::default()
    };
    for (start_s, f_low_hz) in [(0.6, 519.0), (2.2, 521.0), (4.1, 523.0)] {
        let crow = CrowSound { f_low_hz, ..lively_crow() };
        scene.sounds.push(Sound { start_s, source: Source::Crow(crow) });
    }
    scene.render().take("three")
}

#[test]
fn pieces_of_any_size_give_the_same_reading() {
    let take = take_of_three();
    let whole = read(&take, &Profile::default(), A4::default()).reading;
    assert_eq!(whole.summary.crow_count, 3);
    for size in [1, 64, 480, 4096, 100_000] {
        let mut reader = Reader::new(take.sample_rate_hz, &Profile::default(), A4::default());
        let mut live = Vec::new();
        for piece in take.samples.chunks(size) {
            live.extend(reader.push(piece));
        }
        let pieces = reader.finish("three", 1, 1, Faults::default()).reading;
        assert_eq!(pieces, whole, "in pieces of {size}");
        for ((crow, _), same) in live.iter().zip(&whole.crows) {
            assert_eq!(crow, same, "as it ended, in pieces of {size}");
        }
    }
}

/// 20·log10(2) = 6.0206 dB; samples are rounded to 24 bits, hence the tolerances.
#[test]
fn half_the_amplitude_changes_only_the_level() {
    let loud = take_of(lively_crow(), 40.0, 3);
    let quiet = Take { samples: loud.samples.iter().map(|s| 0.5 * s).collect(), ..loud.clone() };
    let (loud, quiet) = (reading_of(&loud), reading_of(&quiet));
    let (a, b) = (only_crow(&loud), only_crow(&quiet));
    let level = |figures: &Figures| figures.level_dbfs.unwrap();
    assert!((level(&a.figures) - level(&b.figures) - 6.0206).abs() < 0.001);
    assert_eq!(a.kind, b.kind);
    assert!((a.start_s - b.start_s).abs() < 1e-9 && (a.end_s - b.end_s).abs() < 1e-9);
    let numbers = |figures: &Figures| {
        [
            figures.fundamental.hz,
            figures.alignment.cents,
            figures.balance.centroid_hz,
            figures.balance.tilt_db_per_octave,
            figures.steadiness.spread_cents,
            figures.steadiness.level_sd_db,
            figures.steadiness.rattle_hz,
            figures.steadiness.rattle_depth,
            figures.response.onset_s,
            figures.breath.noise_db,
        ]
        .map(|number| number.unwrap())
    };
    for (x, y) in numbers(&a.figures).iter().zip(numbers(&b.figures)) {
        assert!((x - y).abs() <= 1e-4 * x.abs().max(1.0), "{x} {y}");
    }
    assert_eq!(a.figures.rungs.len(), b.figures.rungs.len());
}

#[test]
fn silence_in_front_moves_only_times() {
    let take = take_of(lively_crow(), 40.0, 4);
    // The room's own noise in front, not digital silence, which would be another room.
    let quiet: Vec<f32> = take.samples[..16_000].to_vec();
    let later = Take { samples: [quiet, take.samples.clone()].concat(), ..take.clone() };
    let (first, second) = (reading_of(&take), reading_of(&later));
    let (a, b) = (only_crow(&first), only_crow(&second));
    let moved_s = 16_000.0 / 48_000.0;
    assert!((b.start_s - a.start_s - moved_s).abs() < 0.006, "{} {}", a.start_s, b.start_s);
    assert!((b.end_s - a.end_s - moved_s).abs() < 0.006);
    let hz = |crow: &reedcrow::reading::Crow| crow.figures.fundamental.hz.unwrap();
    assert!(cents(hz(b), hz(a)).abs() < 0.05);
    assert_eq!(a.kind, b.kind);
}

#[test]
fn another_sample_rate_keeps_the_pitch() {
    for sample_rate_hz in [16_000, 22_050, 44_100, 96_000, 192_000] {
        let mut scene = Scene::of_crow(CrowSound::octaves(523.25, 1.0, -6.0), 0.5, 5);
        scene.sample_rate_hz = sample_rate_hz;
        let take = scene.in_noise(Colour::White, 40.0).render().take("rate");
        let reading = reading_of(&take);
        let found = only_crow(&reading).figures.fundamental.hz.unwrap();
        assert!(cents(found, 523.25).abs() < 0.01, "{sample_rate_hz}: {found}");
    }
}

/// Recorders begin with zeros now and then; that is not the room.
#[test]
fn zeros_in_front_do_not_join_the_crows() {
    let take = take_of_three();
    for seconds in [0.3, 1.0, 2.0] {
        let zeros = vec![0.0; (seconds * 48_000.0) as usize];
        let later = Take { samples: [zeros, take.samples.clone()].concat(), ..take.clone() };
        let reading = reading_of(&later);
        assert_eq!(reading.summary.crow_count, 3, "{seconds} s: {:?}", reading.crows);
    }
}

/// A sound that falls back to the floor for 0.15 s has ended; a shorter gap is in one crow.
#[test]
fn a_gap_of_0_15_s_parts_two_crows() {
    for (gap_s, crows) in [(0.08, 1), (0.17, 2), (0.4, 2)] {
        let mut scene = Scene::new(4.0, 3);
        scene.background = Background {
            noise: Some(Noise { colour: Colour::White, level: NoiseLevel::Dbfs(-65.0) }),
            ..Background::default()
        };
        for start_s in [0.6, 0.6 + 1.0 + gap_s] {
            let crow = CrowSound::octaves(523.0, 1.0, -6.0);
            scene.sounds.push(Sound { start_s, source: Source::Crow(crow) });
        }
        let reading = reading_of(&scene.render().take("gap"));
        assert_eq!(reading.summary.crow_count, crows, "{gap_s} s: {:?}", reading.crows.len());
    }
}

/// What a take does not show is not told: when a crow that was sounding already began, and came in.
#[test]
fn a_take_that_begins_inside_a_crow_has_no_onset() {
    let take = take_of(lively_crow(), 40.0, 6);
    let inside = Take { samples: take.samples[48_000..].to_vec(), ..take.clone() };
    let reading = reading_of(&inside);
    let figures = &only_crow(&reading).figures;
    assert_eq!(figures.response.onset_s, None);
    assert_eq!(figures.response.low_delay_s, None);
    assert!(figures.rungs.iter().all(|rung| rung.entry_s.is_none()), "{:?}", figures.rungs);
    assert!(figures.fundamental.hz.is_some());
}

/// A maker is shown what a crow was 0.2 s after its end; 0.13 s of that are for hearing that it is over.
#[test]
fn a_crow_is_seen_soon_after_its_end_and_is_then_what_it_will_be() {
    let take = take_of_three();
    let mut reader = Reader::new(take.sample_rate_hz, &Profile::default(), A4::default());
    let (mut seen, mut heard_s) = (Vec::new(), 0.0);
    for piece in take.samples.chunks(take.sample_rate_hz as usize / 100) {
        let _ = reader.push(piece);
        heard_s += piece.len() as f64 / f64::from(take.sample_rate_hz);
        seen.extend(reader.first_look().map(|crow| (heard_s, crow)));
    }
    let reading = reader.finish("three", 1, 1, Faults::default()).reading;
    // The third ends with the take.
    let told = |(at_s, crow): &(f64, reedcrow::reading::Crow)| (*at_s, crow.start_s, crow.end_s);
    let told: Vec<_> = seen.iter().map(told).collect();
    let bounds = reading.crows.iter().map(|crow| (crow.start_s, crow.end_s)).collect::<Vec<_>>();
    assert_eq!((seen.len(), reading.crows.len()), (2, 3), "{told:?} {bounds:?}");
    for ((at_s, first), crow) in seen.iter().zip(&reading.crows) {
        let late_s = at_s - crow.end_s;
        assert!((0.0..0.13).contains(&late_s), "{late_s} s after its end");
        assert_eq!(first.kind, crow.kind);
        let hz = |figures: &Figures| figures.fundamental.hz.unwrap();
        assert!(cents(hz(&first.figures), hz(&crow.figures)).abs() < 1.0);
    }
}
