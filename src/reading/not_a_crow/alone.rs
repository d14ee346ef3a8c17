//! What a tone shows by itself of being no crow: a voice, a hinge, noise that only seems to have one.

use crate::dsp::statistics::{line, median};
use crate::reading::figures::steadiness::{FRAME_S, pitch_steadiness};
use crate::reading::track::coarse::CoarseTrack;

/// Frames are tested for periodicity this often.
const TONAL_TEST_S: f64 = 0.01;
/// Share of the tests between the first and last tonal one that must be tonal.
const LEAST_DENSITY: f64 = 0.4;
/// Voices lie under this …
pub const HIGHEST_VOICE_HZ: f64 = 360.0;
/// … and move smoothly: this share of their frames follows one course, …
const VOICE_AGREEMENT: f64 = 0.25;
/// … drift faster than this, …
const VOICE_DRIFT_CENTS_PER_S: f64 = 120.0;
/// … waver more than this share of what is unsteady in a reed, however long (unless they stay where
/// they are, as the averages over a wave of vibrato tell), …
const VOICE_WAVER: f64 = 1.5;
const VIBRATO_S: f64 = 0.2;
/// … or spread more than this share of it within a word.
const VOICE_SPREAD: f64 = 0.7;
const VOICE_WORD_S: f64 = 1.0;
/// A glide keeps this near to a straight line …
const GLIDE_CENTS: f64 = 50.0;
/// … that is steeper than this, …
const GLIDE_CENTS_PER_S: f64 = 300.0;
/// … or than this and travels so far: a reed drifts by no semitone and a half in one breath.
const SLOW_GLIDE_CENTS_PER_S: f64 = 120.0;
const SLOW_GLIDE_CENTS: f64 = 150.0;

/// Whether the tonal frames are strewn over the sound instead of making up one tone.
///
/// * `tonal_frames`: frames that passed the test for periodicity.
pub fn is_scattered(coarse: &CoarseTrack, tonal_frames: usize) -> bool {
    let (Some(first), Some(last)) = (coarse.knots.first(), coarse.knots.last()) else {
        return true;
    };
    let frames = (last.0 - first.0) / TONAL_TEST_S + 1.0;
    (tonal_frames as f64) < LEAST_DENSITY * frames
}

/// Whether a low tone moves as a voice's does: smoothly and far, or so much in so short a time that
/// nobody holds it. A reed that wavers does it in jumps, and a reed that is held is held longer.
///
/// * `coarse`: its course.
/// * `track`: moments and frequencies of 50 ms frames, empty where no tone is sustained.
/// * `tone_s`: its length.
/// * `unsteady_cents`: what counts as unsteady in the reeds expected; some are meant to rattle low.
pub fn is_voice(
    coarse: &CoarseTrack,
    track: &[(f64, f64)],
    tone_s: f64,
    unsteady_cents: f64,
) -> bool {
    let low =
        median(coarse.knots.iter().map(|(_, hz)| *hz)).is_some_and(|hz| hz < HIGHEST_VOICE_HZ);
    if !low || coarse.agreement < VOICE_AGREEMENT {
        return false;
    }
    let (spread, drift) = pitch_steadiness(track);
    // Of what is too short for frames of its own the rough course tells.
    let spread = spread.or_else(|| pitch_steadiness(&coarse.knots).0);
    // What is held longer than a word may have vibrato, but stays where it is.
    let held = tone_s >= VOICE_WORD_S;
    let stays = held && slow_spread(track).is_some_and(|s| s < VOICE_SPREAD * unsteady_cents);
    match (drift, spread) {
        (None, _) => track.is_empty(),
        (Some(drift), spread) => {
            drift.abs() > VOICE_DRIFT_CENTS_PER_S
                || (!stays && spread.is_some_and(|s| s > VOICE_WAVER * unsteady_cents))
                || (!held && spread.is_some_and(|s| s > VOICE_SPREAD * unsteady_cents))
        }
    }
}

/// Spread of a track averaged over [`VIBRATO_S`], in cents; `None` where too few averages make it up.
fn slow_spread(track: &[(f64, f64)]) -> Option<f64> {
    let frames = (VIBRATO_S / FRAME_S).round() as usize;
    let averages: Vec<(f64, f64)> = track
        .chunks_exact(frames)
        .map(|part| {
            let mean =
                |of: fn(&(f64, f64)) -> f64| part.iter().map(of).sum::<f64>() / frames as f64;
            (mean(|(t, _)| *t), mean(|(_, hz)| *hz))
        })
        .collect();
    pitch_steadiness(&averages).0
}

/// The nose sounds through closed lips: what is hummed has nearly all of its power under this, where a
/// reed's lies in higher partials however low it sounds, …
const HUMMED_HZ: f64 = 450.0;
/// … but for this share, …
const HUMMED_SHARE: f64 = 0.15;
/// … and wavers more than this, in cents, as a device does not.
const HUMMED_CENTS: f64 = 3.0;

/// Whether a low tone is hummed through closed lips, also where its vibrato seems to be a second tone.
///
/// * `partials`: frequency in hertz and power of each, the lowest first.
/// * `spread_cents`: of its pitch.
pub fn is_hummed(partials: &[(f64, f64)], spread_cents: Option<f64>) -> bool {
    let is_low = partials.first().is_some_and(|(hz, _)| *hz < HIGHEST_VOICE_HZ);
    let power = |above_hz: f64| -> f64 {
        partials.iter().filter(|(hz, _)| *hz > above_hz).map(|(_, power)| power).sum()
    };
    is_low
        && power(HUMMED_HZ) < HUMMED_SHARE * power(0.0)
        && spread_cents.is_some_and(|cents| cents > HUMMED_CENTS)
}

/// What is whistled with the lips has no overtones to speak of: under this share of its power.
const WHISTLED_SHARE: f64 = 0.01;

/// Whether a tone has no overtones to speak of, as one that is whistled.
///
/// * `partials`: frequency in hertz and power of each, the lowest first.
pub fn is_pure(partials: &[(f64, f64)]) -> bool {
    let all: f64 = partials.iter().map(|(_, power)| power).sum();
    partials.first().is_some_and(|(_, power)| all - power < WHISTLED_SHARE * all)
}

/// Whether the pitch glides straight and fast or far, as a hinge's or a chair's does.
pub fn is_glide(coarse: &CoarseTrack) -> bool {
    let (x, cents): (Vec<f64>, Vec<f64>) =
        coarse.knots.iter().map(|(t, hz)| (*t, 1200.0 * hz.log2())).unzip();
    line(&x, &cents).is_some_and(|fit| {
        let near = x.iter().zip(&cents).filter(|(t, c)| (*c - fit.at(**t)).abs() < GLIDE_CENTS);
        let slope = fit.slope.abs();
        let travels = slope > SLOW_GLIDE_CENTS_PER_S && slope * coarse.span_s() > SLOW_GLIDE_CENTS;
        (slope > GLIDE_CENTS_PER_S || travels) && near.count() as f64 > 0.8 * x.len() as f64
    })
}
