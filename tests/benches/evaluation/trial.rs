//! One synthetic take read, and the crow of the reading that answers to the one that was made.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use reedcrow::pitch::A4;
use reedcrow::profile::Profile;
use reedcrow::reading::{Analysis, Crow, CrowTracks, Kind, read};
use reedcrow_synth::{CrowSound, CrowTruth, Scene, Truth};

/// Background on both sides of a crow.
pub const MARGIN_S: f64 = 0.5;

/// A take as it was made and as it was read.
pub struct Trial {
    pub truth: Truth,
    pub analysis: Analysis,
}

impl Trial {
    pub fn of(scene: &Scene) -> Self {
        let rendered = scene.render();
        let take = rendered.take("synthetic");
        let analysis = read(&take, &Profile::default(), A4::default());
        Self { truth: rendered.truth, analysis }
    }

    /// The crow that was made.
    pub fn made(&self) -> &CrowTruth {
        &self.truth.crows[0]
    }

    /// The crow of the reading that overlaps it most, and its tracks; breath apart.
    pub fn heard(&self) -> Option<(&Crow, &CrowTracks)> {
        let made = self.made();
        let overlap =
            |crow: &Crow| crow.end_s.min(made.tone_end_s) - crow.start_s.max(made.tone_start_s);
        let crows = self.analysis.reading.crows.iter().zip(&self.analysis.tracks);
        crows
            .filter(|(crow, _)| crow.kind != Kind::Breath && overlap(crow) > 0.0)
            .max_by(|(a, _), (b, _)| overlap(a).total_cmp(&overlap(b)))
    }

    /// Error of the fundamental in cents; `None` where none was given.
    pub fn fundamental_error(&self) -> Option<f64> {
        let hz = self.heard()?.0.figures.fundamental.hz?;
        Some(cents(hz, self.made().fundamental_hz))
    }
}

/// From `reference` up to `hz`.
pub fn cents(hz: f64, reference: f64) -> f64 {
    1200.0 * (hz / reference).log2()
}

/// Runs `count` trials of the scenes that `make` draws, on all cores; the same `label` and number
/// give the same scene.
pub fn trials(
    label: &str,
    count: usize,
    make: impl Fn(&mut ChaCha8Rng, u64) -> Scene + Sync,
) -> Vec<Trial> {
    (0..count as u64).into_par_iter().map(|number| Trial::of(&draw(label, number, &make))).collect()
}

/// The scene of one trial.
pub fn draw(label: &str, number: u64, make: impl Fn(&mut ChaCha8Rng, u64) -> Scene) -> Scene {
    // FNV-1a (Fowler, Noll, Vo), so that tables do not share their random numbers.
    let hash = label.bytes().fold(0xcbf2_9ce4_8422_2325u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    });
    let seed = hash.wrapping_add(number.wrapping_mul(0x9e37_79b9_7f4a_7c15));
    make(&mut ChaCha8Rng::seed_from_u64(seed), seed)
}

/// A frequency drawn evenly on a logarithmic scale.
pub fn any_hz(rng: &mut ChaCha8Rng, low_hz: f64, high_hz: f64) -> f64 {
    low_hz * (high_hz / low_hz).powf(rng.random::<f64>())
}

/// A lowest tone that an oboe's crow may have: about C5, in the target's register.
pub fn oboe_hz(rng: &mut ChaCha8Rng) -> f64 {
    any_hz(rng, 440.0, 620.0)
}

/// The crow with breath before, within and after it and the slow attack of a real one.
pub fn realistic(mut crow: CrowSound, rng: &mut ChaCha8Rng) -> CrowSound {
    use reedcrow_synth::{Air, Motion, Rattle};
    crow.attack_s = 0.1;
    crow.decay_s = 0.08;
    crow.motion = Motion { drift_cents_per_s: rng.random_range(-40.0..40.0), ..Motion::default() };
    crow.rattle = Some(Rattle { hz: 35.0, depth: 0.4 });
    crow.air = Some(Air { level_db: -25.0, lead_s: 0.25, tail_s: 0.2, ..Air::default() });
    crow
}
