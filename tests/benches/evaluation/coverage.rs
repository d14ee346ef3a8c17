//! Do the 95 % intervals hold the truth 95 times in 100, and are they no wider than need be?

use rand_chacha::ChaCha8Rng;
use reedcrow_synth::{Colour, CrowSound, CrowTruth, Motion, Rattle, Room, RungSound, Scene};

use super::octaves::period_doubled;
use super::realistic;
use super::splits::unlocked;
use super::table::{Table, percent, quantile, show, show_percent};
use super::trial::{MARGIN_S, Trial, oboe_hz, trials};

type Make = fn(&mut ChaCha8Rng, u64) -> Scene;

fn octaves(rng: &mut ChaCha8Rng, seed: u64, colour: Colour, snr_db: f64) -> Scene {
    Scene::of_crow(CrowSound::octaves(oboe_hz(rng), 0.5, -6.0), MARGIN_S, seed)
        .in_noise(colour, snr_db)
}

fn moving(rng: &mut ChaCha8Rng, seed: u64, motion: Motion, rattle: Option<Rattle>) -> Scene {
    let mut crow = CrowSound::octaves(oboe_hz(rng), 0.8, -6.0);
    crow.motion = motion;
    crow.rattle = rattle;
    Scene::of_crow(crow, MARGIN_S, seed).in_noise(Colour::White, 30.0)
}

/// A crow that wanders a little, in a room whose reflections keep something of where it was.
fn in_a_room(rng: &mut ChaCha8Rng, seed: u64) -> Scene {
    let mut crow = CrowSound::octaves(oboe_hz(rng), 0.8, -6.0);
    crow.motion = Motion { spread_cents: 4.0, spread_time_s: 0.1, ..Motion::default() };
    crow.room = Some(Room { decay_s: 0.2, level_db: -10.0 });
    Scene::of_crow(crow, MARGIN_S, seed).in_noise(Colour::Pink, 30.0)
}

fn unlocked_and_wandering(rng: &mut ChaCha8Rng, seed: u64) -> Scene {
    let mut crow = CrowSound::split(oboe_hz(rng), 0.8, 50.0);
    crow.motion = Motion { spread_cents: 5.0, spread_time_s: 0.1, ..Motion::default() };
    Scene::of_crow(crow, MARGIN_S, seed).in_noise(Colour::White, 30.0)
}

fn each_by_its_own(rng: &mut ChaCha8Rng, seed: u64) -> Scene {
    let mut crow = CrowSound::split(oboe_hz(rng), 0.8, 25.0);
    let own = Motion { spread_cents: 1.5, spread_time_s: 0.1, ..Motion::default() };
    crow.motion = own;
    if let Some(unlocked) = &mut crow.unlocked {
        unlocked.own = own;
    }
    Scene::of_crow(crow, MARGIN_S, seed).in_noise(Colour::White, 30.0)
}

/// Each tone by its own, the lower with its own even partials beside the weaker upper's.
fn beside_its_own_octave(rng: &mut ChaCha8Rng, seed: u64, deviation_cents: f64) -> Scene {
    let mut crow = CrowSound::split(oboe_hz(rng), 0.8, deviation_cents);
    let own = Motion { spread_cents: 1.5, spread_time_s: 0.1, ..Motion::default() };
    crow.motion = own;
    // The lower tone leads by 9 dB; of its even partials, all are its own.
    crow.rungs[0] = crow.rungs[0].map(|rung| RungSound { level_db: 9.0, ..rung });
    if let Some(unlocked) = &mut crow.unlocked {
        unlocked.own = own;
        unlocked.all_lower_multiples = true;
        unlocked.combination_db = None;
    }
    Scene::of_crow(crow, MARGIN_S, seed).in_noise(Colour::White, 30.0)
}

const CASES: [(&str, Make); 16] = [
    ("octaves, white 40 dB", |rng, seed| octaves(rng, seed, Colour::White, 40.0)),
    ("octaves, white 20 dB", |rng, seed| octaves(rng, seed, Colour::White, 20.0)),
    ("octaves, pink 30 dB", |rng, seed| octaves(rng, seed, Colour::Pink, 30.0)),
    ("octaves, pink 15 dB", |rng, seed| octaves(rng, seed, Colour::Pink, 15.0)),
    ("odd −20 dB, 0.3 s, pink 15 dB", |rng, seed| {
        period_doubled(rng, seed, -20.0, Colour::Pink, 15.0)
    }),
    ("drift 60 cents/s", |rng, seed| {
        moving(rng, seed, Motion { drift_cents_per_s: 60.0, ..Motion::default() }, None)
    }),
    ("jitter 10 cents, 20 ms", |rng, seed| {
        let motion = Motion { spread_cents: 10.0, spread_time_s: 0.02, ..Motion::default() };
        moving(rng, seed, motion, None)
    }),
    ("rattle 30 Hz, depth 0.5", |rng, seed| {
        moving(rng, seed, Motion::default(), Some(Rattle { hz: 30.0, depth: 0.5 }))
    }),
    ("unlocked 30 cents, 0.5 s", |rng, seed| unlocked(rng, seed, 30.0, 0.5)),
    ("unlocked 85 cents, 0.5 s", |rng, seed| unlocked(rng, seed, 85.0, 0.5)),
    ("unlocked 50 cents, wandering 5 cents", unlocked_and_wandering),
    ("unlocked 25 cents, each wandering 1.5 cents", each_by_its_own),
    ("15 cents beside the lower's own octave", |rng, seed| beside_its_own_octave(rng, seed, 15.0)),
    ("−120 cents beside it", |rng, seed| beside_its_own_octave(rng, seed, -120.0)),
    (ROOM, in_a_room),
    ("realistic, pink 15 dB", realistic::scene),
];
/// Its reflections are part of no model: the interval knows of them only by the scatter.
const ROOM: &str = "wandering 4 cents, in a room";
/// Fewest truths inside, in percent, elsewhere and there.
const INSIDE: (f64, f64) = (88.0, 70.0);

/// Value minus truth, half width, bound.
struct Interval {
    error: f64,
    half_width: f64,
    bound: Option<f64>,
}

fn fundamental(trial: &Trial) -> Option<Interval> {
    let error = trial.fundamental_error().filter(|error| error.abs() < 50.0)?;
    let half_width = trial.heard()?.0.figures.fundamental.ci95_cents?;
    Some(Interval { error, half_width, bound: trial.made().fundamental_bound_cents })
}

fn alignment(trial: &Trial) -> Option<Interval> {
    let made: &CrowTruth = trial.made();
    let alignment = &trial.heard()?.0.figures.alignment;
    Some(Interval {
        error: alignment.cents? - made.alignment_cents?,
        half_width: alignment.ci95_cents?,
        bound: made.alignment_bound_cents,
    })
}

/// Coverage and width of the intervals of fundamental and alignment.
pub fn table(count: usize) -> Table {
    let columns = ["crow", "figure", "given", "truth inside", "half width ÷ best", "median cents"];
    let title = format!(
        "95 % intervals, {count} each (goal 93 … 97 % inside, width ≤ 1.5 × 1.96 × the bound; \
         jitter widens beyond what noise alone asks)"
    );
    let mut table = Table::new(title, &columns);
    for (name, make) in CASES {
        let all = trials(&format!("coverage {name}"), count, make);
        type Figure = fn(&Trial) -> Option<Interval>;
        let figures: [(&str, Figure); 2] = [("fundamental", fundamental), ("alignment", alignment)];
        for (figure, of) in figures {
            let given: Vec<Interval> = all.iter().filter_map(of).collect();
            let inside = given.iter().filter(|i| i.error.abs() <= i.half_width).count();
            let widths: Vec<f64> = given.iter().map(|i| i.half_width).collect();
            let ratios: Vec<f64> =
                given.iter().filter_map(|i| Some(i.half_width / (1.96 * i.bound?))).collect();
            table.row(vec![
                name.into(),
                figure.into(),
                show_percent(given.len(), count),
                show_percent(inside, given.len()),
                show(quantile(&ratios, 0.5)),
                show(quantile(&widths, 0.5)),
            ]);
            let what = format!("{figure} of {name} inside its interval");
            let least = if name == ROOM { INSIDE.1 } else { INSIDE.0 };
            table.at_least(&what, percent(inside, given.len()), least, given.len().max(1));
        }
    }
    table
}
