//! How steady pitch and level of a crow are over its steady part.

use rustfft::num_complex::Complex;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::dsp::modulation::strongest_modulation;
use crate::dsp::statistics::{correlation_widening, line, mean, median, sample_sd, t_975};
use crate::reading::track::steady::DROP_DB;

/// How steady pitch and level are over the steady part.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Steadiness {
    /// Standard deviation of the frequency track about its straight line.
    pub spread_cents: Option<f64>,
    /// Slope of that line.
    pub drift_cents_per_s: Option<f64>,
    /// Standard deviation of the 50 ms level.
    pub level_sd_db: Option<f64>,
    /// Rate of the strongest periodic amplitude modulation, 10 … 100 Hz.
    pub rattle_hz: Option<f64>,
    /// Its depth: peak deviation over mean, 0 … 1.
    pub rattle_depth: Option<f64>,
    /// What repeats from one moment to the next against what does not (harmonics-to-noise ratio,
    /// Boersma 1993): 0 where a wild reed has as much of the one as of the other.
    #[serde(default)]
    pub harmonicity_db: Option<f64>,
    /// How far the pitch goes with the level, as both stand about their straight lines in time: positive
    /// where it rises when it is blown harder. `None` where the crow neither swells nor dies away enough
    /// to tell.
    #[serde(default)]
    pub bend_cents_per_db: Option<f64>,
}

/// Length of the frames of track and level.
pub const FRAME_S: f64 = 0.05;
/// Where amplitude modulation is heard as a rattle.
const RATTLE_HZ: (f64, f64) = (10.0, 100.0);
/// The envelope is taken at about this rate.
const ENVELOPE_HZ: f64 = 500.0;
/// A reed that rattles does so in all its partials at once: low and high ones are modulated alike, within
/// this factor …
const ALIKE: f64 = 3.0;
/// … and in step, as the cosine of what they are apart tells. What beats with a voice or a note in the
/// room does so in some partials, in each at a rate of its own.
const IN_STEP: f64 = 0.7;
/// High partials are those about a third of this frequency.
const FEW_HZ: f64 = 16_000.0;

/// Spread and drift of a frequency track.
///
/// * `track`: moments in seconds and frequencies in hertz of 50 ms frames.
pub fn pitch_steadiness(track: &[(f64, f64)]) -> (Option<f64>, Option<f64>) {
    let Some(&(_, first)) = track.first() else { return (None, None) };
    let (x, cents): (Vec<f64>, Vec<f64>) =
        track.iter().map(|(t, hz)| (*t, 1200.0 * (hz / first).log2())).unzip();
    let Some(drift) = line(&x, &cents) else { return (None, None) };
    let residual: Vec<f64> = x.iter().zip(&cents).map(|(t, c)| c - drift.at(*t)).collect();
    // A line through two points leaves nothing to spread.
    let spread = if track.len() >= 3 { sample_sd(&residual) } else { None };
    (spread, Some(drift.slope))
}

/// A level that stands less far about its line than this (standard deviation) tells nothing of how the pitch
/// goes with it: a crow held as evenly as a player can swells by a few tenths.
const LEAST_SWELL_DB: f64 = 1.5;
/// Known to no better than this, half width of its 95 % interval, it is not told.
const MOST_BEND_CI95: f64 = 1.0;

/// How the pitch of a crow goes with its level, in cents per decibel: least squares of the one on the other,
/// each about its line in time, so that a drift is not taken for it.
///
/// * `track`: `[n]` moments in seconds and frequencies in hertz of 50 ms frames;
/// * `level_db`: `[n]` levels at these, relative to anything.
pub fn bend_cents_per_db(track: &[(f64, f64)], level_db: &[f64]) -> Option<f64> {
    let first = track.first()?.1;
    let (time_s, cents): (Vec<f64>, Vec<f64>) =
        track.iter().map(|(t, hz)| (*t, 1200.0 * (hz / first).log2())).unzip();
    let about_line = |values: &[f64]| -> Option<Vec<f64>> {
        let fit = line(&time_s, values)?;
        Some(time_s.iter().zip(values).map(|(t, value)| value - fit.at(*t)).collect())
    };
    let (pitch, level) = (about_line(&cents)?, about_line(level_db)?);
    let fit = line(&level, &pitch)?;
    let left: Vec<f64> = level.iter().zip(&pitch).map(|(l, p)| p - fit.at(*l)).collect();
    let squares = |values: &[f64]| values.iter().map(|value| value * value).sum::<f64>();
    // Of each a mean and a slope in time are taken off, and then the slope that is sought.
    let freedom = track.len().checked_sub(3).filter(|freedom| *freedom > 0)? as f64;
    let sd = (squares(&left) / freedom / squares(&level)).sqrt() * correlation_widening(&left);
    let is_told = sample_sd(&level)? > LEAST_SWELL_DB && t_975(freedom) * sd < MOST_BEND_CI95;
    is_told.then_some(fit.slope)
}

/// Standard deviation of the 50 ms level, in decibels, frames 10 dB under the median left out;
/// `noise` is the mean square of the room.
pub fn level_sd_db(samples: &[f32], sample_rate_hz: f64, noise: f64) -> Option<f64> {
    let n = (FRAME_S * sample_rate_hz).round() as usize;
    let levels: Vec<f64> = samples
        .chunks_exact(n.max(1))
        .map(|frame| frame.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / n as f64 - noise)
        .filter(|power| *power > 0.0)
        .map(|power| 10.0 * power.log10())
        .collect();
    let least = median(levels.iter().copied())? - DROP_DB;
    let held: Vec<f64> = levels.into_iter().filter(|level| *level >= least).collect();
    sample_sd(&held)
}

/// Codecs of speech take packets of 20 and 10 ms (RFC 6716, 3GPP TS 26.071), and leave their rate in what
/// they pass on, …
const PACKETS_HZ: [f64; 2] = [50.0, 100.0];
/// … as near as this, which no reed that rattles keeps, …
const PACKETS_REACH_HZ: f64 = 0.3;
/// … and no deeper.
const PACKETS_DEPTH: f64 = 0.1;

/// Rate and depth of the rattle of `samples`, a tone with the period 1/`base_hz`; `noise` is the
/// mean square of everything that is not tone.
pub fn rattle(
    samples: &[f32],
    sample_rate_hz: f64,
    base_hz: f64,
    noise: f64,
) -> Option<(f64, f64)> {
    // Whole periods of the tone leave no ripple of its own in the envelope.
    let periods = (base_hz / ENVELOPE_HZ).round().max(1.0);
    let span = sample_rate_hz * periods / base_hz;
    let whole = envelope(samples.iter().map(|s| f64::from(*s)), span, noise);
    let found = strongest_modulation(&whole, sample_rate_hz / span, RATTLE_HZ)?;
    // Means over a few samples leave the high partials off, differences of them the low ones and what
    // lies over the crow's.
    let few = ((sample_rate_hz / FEW_HZ).round() as usize).max(1);
    let sums = running(samples.iter().map(|s| f64::from(*s)));
    let means = |count: usize| -> Vec<f64> {
        let ends = sums.get(count..).unwrap_or_default();
        sums.iter().zip(ends).map(|(start, end)| end - start).collect()
    };
    let (low, high) = (means(3 * few), means(few));
    let low = envelope(low.into_iter(), span, 0.0);
    let high =
        envelope(high.iter().zip(&high[few.min(high.len())..]).map(|(a, b)| b - a), span, 0.0);
    let turns = found.rate_hz * span / sample_rate_hz;
    let of_packets = found.depth < PACKETS_DEPTH
        && PACKETS_HZ.iter().any(|hz| (found.rate_hz - hz).abs() < PACKETS_REACH_HZ);
    (is_in_step(&low, &high, turns) && !of_packets).then_some((found.rate_hz, found.depth))
}

/// Sums of the values before each and after the last.
fn running(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut sums = Vec::with_capacity(values.size_hint().0 + 1);
    sums.push(0.0);
    let mut sum = 0.0;
    sums.extend(values.map(|value| {
        sum += value;
        sum
    }));
    sums
}

/// Amplitude over each stretch of `span` samples, with a power of `noise` taken off.
fn envelope(samples: impl Iterator<Item = f64>, span: f64, noise: f64) -> Vec<f64> {
    let running = running(samples.map(|sample| sample.powi(2)));
    let at = |position: f64| {
        let index = position.floor() as usize;
        let low = running.get(index)?;
        let high = running.get(index + 1).unwrap_or(low);
        Some(low + (high - low) * position.fract())
    };
    (0..)
        .map_while(|i| {
            let start = i as f64 * span;
            Some((at(start + span)? - at(start)?) / span)
        })
        .map(|power| (power - noise).max(0.0).sqrt())
        .collect()
}

/// Whether two envelopes are modulated alike and in step at `turns` cycles a value.
fn is_in_step(one: &[f64], other: &[f64], turns: f64) -> bool {
    let modulation = |envelope: &[f64]| {
        let mean = mean(envelope).filter(|mean| *mean > 0.0)?;
        let turned = envelope.iter().enumerate().map(|(i, value)| {
            Complex::from_polar(value / mean - 1.0, -std::f64::consts::TAU * turns * i as f64)
        });
        Some(turned.sum::<Complex<f64>>())
    };
    let Some((one, other)) = modulation(one).zip(modulation(other)) else { return false };
    let in_step = (one * other.conj()).re / (one.norm() * other.norm()).max(f64::MIN_POSITIVE);
    let deeper = one.norm() / other.norm().max(f64::MIN_POSITIVE);
    in_step > IN_STEP && (1.0 / ALIKE..ALIKE).contains(&deeper)
}

/// Puts the parts together.
pub fn steadiness(
    track: &[(f64, f64)],
    track_level_db: &[f64],
    level_sd_db: Option<f64>,
    rattle: Option<(f64, f64)>,
    harmonicity_db: Option<f64>,
) -> Steadiness {
    let (spread_cents, drift_cents_per_s) = pitch_steadiness(track);
    Steadiness {
        spread_cents,
        drift_cents_per_s,
        level_sd_db,
        rattle_hz: rattle.map(|(hz, _)| hz),
        rattle_depth: rattle.map(|(_, depth)| depth),
        harmonicity_db,
        bend_cents_per_db: bend_cents_per_db(track, track_level_db),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Packets of 20 ms leave 50 Hz; a reed that rattles as shallowly does so at its own rate, one that
    /// rattles deeply at any.
    #[test]
    fn what_keeps_the_rate_of_packets_is_no_rattle_unless_it_is_deep() {
        let found = |rate_hz: f64, depth: f64| {
            let sample = |n: i32| {
                let t = f64::from(n) / 48_000.0;
                let tone: f64 = (1..9)
                    .map(|m| {
                        (std::f64::consts::TAU * 520.0 * f64::from(m) * t).sin() / f64::from(m)
                    })
                    .sum();
                (0.1 * (1.0 + depth * (std::f64::consts::TAU * rate_hz * t).sin()) * tone) as f32
            };
            let samples: Vec<f32> = (0..48_000).map(sample).collect();
            rattle(&samples, 48_000.0, 520.0, 0.0).is_some()
        };
        assert!(!found(50.0, 0.07));
        assert!(found(47.0, 0.07));
        assert!(found(50.0, 0.3));
    }
}
