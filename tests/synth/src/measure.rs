//! The truth of one crow, from what it was made of.

use super::bound::bounds;
use super::crow::{Air, CrowSound};
use super::envelope::{fall, rise};
use super::noise::Colour;
use super::scene::Hum;
use super::tones::{Partial, Tone};
use super::truth::{CrowTruth, RungTruth};
use reedcrow::reading::Kind;

/// Step of the times in a truth.
const STEP_S: f64 = 0.001;
/// 6 dB over the floor: sound and floor together have four times the floor's power.
const OVER_FLOOR: f64 = 2.981;
/// A rung sounds at −30 dB relative to all partials or more …
const SOUNDS: f64 = 1e-3;
/// … and 6 dB over the noise in 20 Hz about each partial.
const OWN_BIN_HZ: f64 = 20.0;
/// A rung has entered once it sounds this long.
const ENTERED_S: f64 = 0.05;
/// The steady part keeps this distance from the tone's ends.
const STEADY_INSET_S: f64 = 0.05;
/// Octaves that come in so far apart are two tones.
const APART_S: f64 = 0.025;
/// A crow is made in octaves that stands out by this …
const TWO_DB: f64 = 11.0;
/// … and as one tone under this.
const ONE_DB: f64 = 2.0;
/// No partial counts as weaker than this, relative to the strongest.
const LEAST_DB: f64 = -45.0;
/// Frames of the frequency track.
const FRAME_S: f64 = 0.05;
/// Edges of the octave bands 125 Hz … 8 kHz: IEC 61260-1, 1000·10^(0.3·(k ± ½)) Hz.
fn bands() -> impl Iterator<Item = (f64, f64)> {
    (-3..=3).map(|k| {
        let edge = |half: f64| 1000.0 * 10f64.powf(0.3 * (f64::from(k) + half));
        (edge(-0.5), edge(0.5))
    })
}

/// The noise a crow stands in.
#[derive(Debug, Clone, Copy)]
pub(super) struct Surroundings {
    pub sample_rate_hz: f64,
    pub colour: Colour,
    /// Mean square of the noise.
    pub noise_power: f64,
    pub hum: Option<Hum>,
}

impl Surroundings {
    /// Expected noise power from `low_hz` to `high_hz`, hum included.
    pub(super) fn power(&self, low_hz: f64, high_hz: f64) -> f64 {
        let hum = self.hum.map_or(0.0, |hum| {
            (1..=hum.harmonics)
                .filter(|&n| (low_hz..high_hz).contains(&(hum.mains_hz * f64::from(n))))
                .map(|n| 0.5 * 10f64.powf((hum.level_dbfs - 5.0 * f64::from(n - 1)) / 10.0))
                .sum()
        });
        hum + self.noise_power * self.colour.share(low_hz, high_hz, self.sample_rate_hz)
    }
}

impl CrowSound {
    /// Expected power of its breath noise from `low_hz` to `high_hz`, at full gain.
    pub(super) fn air_power(&self, low_hz: f64, high_hz: f64, sample_rate_hz: f64) -> f64 {
        self.air.map_or(0.0, |air| {
            self.mean_square()
                * 10f64.powf(air.level_db / 10.0)
                * air.colour.share(low_hz, high_hz, sample_rate_hz)
        })
    }
}

impl Air {
    /// Gain of the breath noise; `t_s` counts from the tone's start.
    pub(super) fn gain(&self, tone_s: f64, t_s: f64) -> f64 {
        rise(t_s, -self.lead_s, self.ramp_s) * fall(t_s, tone_s + self.tail_s, self.ramp_s)
    }
}

/// The truth of a crow whose tone starts at `start_s`; `dry` is the tone with its breath, which
/// comes `lead_s` before it.
pub(super) fn crow_truth(
    crow: &CrowSound,
    tone: &Tone,
    dry: &[f64],
    lead_s: f64,
    start_s: f64,
    surroundings: &Surroundings,
) -> CrowTruth {
    let rate = surroundings.sample_rate_hz;
    let (from_s, to_s) = audible(crow, tone, surroundings);
    let steady = (STEADY_INSET_S, (crow.duration_s - STEADY_INSET_S).max(STEADY_INSET_S));
    let mean_low_hz = mean(slice(&tone.f_low_hz, steady, rate)).unwrap_or(crow.f_low_hz);
    let rungs = rungs(crow, tone, surroundings, steady, from_s, mean_low_hz / crow.f_low_hz);
    let sustained: Vec<&RungTruth> = rungs.iter().filter(|rung| rung.present >= 0.5).collect();
    let lowest = rungs.first().map_or(0, |rung| rung.rung);
    let lowest_two_sustained = sustained.iter().filter(|rung| rung.rung <= lowest + 1).count() == 2;
    let alignment_cents = (sustained.len() >= 2)
        .then(|| crow.unlocked.filter(|_| sustained[0].rung == 0))
        .map(|unlocked| {
            let half_up_hz = mean(slice(&tone.half_up_hz, steady, rate));
            unlocked.and(half_up_hz).map_or(0.0, |hz| 1200.0 * (hz / mean_low_hz).log2())
        });
    // A low octave that is too faint to sound is there all the same.
    let made_lowest = crow.rungs.iter().position(Option::is_some).unwrap_or(0);
    let stand_out_db = stand_out_db(crow, tone, made_lowest, steady);
    let entries: Vec<f64> = rungs.iter().take(2).map(|rung| rung.entry_s).collect();
    let apart = entries.windows(2).any(|pair| (pair[1] - pair[0]).abs() >= APART_S);
    let takes_turns = crow.rungs.iter().flatten().any(|rung| rung.turns.is_some());
    let kind = match (alignment_cents, stand_out_db) {
        _ if !lowest_two_sustained => Kind::Single,
        (Some(cents), _) if cents.abs() > 5.0 => Kind::Split,
        _ if apart || takes_turns => Kind::Octaves,
        (_, Some(db)) if db >= TWO_DB => Kind::Octaves,
        (_, Some(db)) if db < ONE_DB => Kind::Single,
        _ => Kind::Blended,
    };
    let (drift, spread) = straight_line(slice(&tone.f_low_hz, steady, rate), rate);
    let steady_dry = slice(dry, (steady.0 + lead_s, steady.1 + lead_s), rate);
    let steady_tone = slice(&tone.samples, steady, rate);
    let level_power = mean_square(steady_dry);
    let tone_power = mean_square(steady_tone);
    let breath_db = crow
        .air
        .filter(|_| tone_power > 0.0)
        .map(|_| 10.0 * (crow.air_power(100.0, 10_000.0, rate) / tone_power).log10());
    let bounds = bounds(crow, tone, surroundings, steady);
    CrowTruth {
        start_s: start_s + from_s,
        end_s: start_s + to_s,
        tone_start_s: start_s,
        tone_end_s: start_s + crow.duration_s,
        kind,
        fundamental_hz: sustained.first().map_or(mean_low_hz, |rung| rung.hz),
        fundamental_bound_cents: bounds.fundamental,
        alignment_cents,
        alignment_bound_cents: bounds.alignment.filter(|_| alignment_cents.is_some()),
        stand_out_db,
        rungs,
        drift_cents_per_s: drift,
        spread_cents: spread,
        rattle_hz: crow.rattle.map(|rattle| rattle.hz),
        rattle_depth: crow.rattle.map(|rattle| rattle.depth),
        level_dbfs: (level_power > 0.0).then(|| 10.0 * (2.0 * level_power).log10()),
        breath_db,
    }
}

/// How far the octave over rung `lowest` stands out: the median over its partials 2, 4, 6, 8 of the
/// level less the mean of both neighbours', as the partials were made.
fn stand_out_db(crow: &CrowSound, tone: &Tone, lowest: usize, steady: (f64, f64)) -> Option<f64> {
    let base_hz = crow.f_low_hz * f64::exp2(lowest as f64);
    let steps = 50;
    let at = |step: usize| steady.0 + (steady.1 - steady.0) * (step as f64 + 0.5) / steps as f64;
    let power = |m: usize| -> f64 {
        let is_near = |p: &&Partial| {
            p.rung.is_some() && (p.hz / (m as f64 * base_hz) - 1.0).abs() < 0.4 / m as f64
        };
        let own: Vec<&Partial> = tone.partials.iter().filter(is_near).collect();
        let sum: f64 = (0..steps).map(|i| power_at(crow, own.iter().copied(), at(i))).sum();
        sum / steps as f64
    };
    let powers: Vec<f64> = (1..=9).map(power).collect();
    let strongest = powers.iter().copied().fold(0.0, f64::max);
    let highest = tone.partials.iter().map(|p| p.hz).fold(0.0, f64::max);
    let level = |m: usize| {
        let least = strongest * 10f64.powf(LEAST_DB / 10.0);
        (m as f64 * base_hz <= 1.05 * highest).then(|| 10.0 * powers[m - 1].max(least).log10())
    };
    let mut each: Vec<f64> = [2, 4, 6, 8]
        .into_iter()
        .filter_map(|m| Some(level(m)? - 0.5 * (level(m - 1)? + level(m + 1)?)))
        .collect();
    each.sort_by(f64::total_cmp);
    let middle = each.len() / 2;
    match each.len() {
        0..3 => None,
        even if even % 2 == 0 => Some(0.5 * (each[middle - 1] + each[middle])),
        _ => Some(each[middle]),
    }
}

/// First and last moment, from the tone's start, at which the sound stands 6 dB over the noise in
/// any octave band; without noise where it begins and ends.
fn audible(crow: &CrowSound, tone: &Tone, surroundings: &Surroundings) -> (f64, f64) {
    let (lead_s, tail_s) = crow.air.map_or((0.0, 0.0), |air| (air.lead_s, air.tail_s));
    let whole = (-lead_s, crow.duration_s + tail_s);
    if surroundings.noise_power <= 0.0 && surroundings.hum.is_none() {
        return whole;
    }
    let bands: Vec<Band> = bands()
        .map(|(low_hz, high_hz)| {
            let mut tones = vec![0.0; crow.rungs.len()];
            for partial in &tone.partials {
                if (low_hz..high_hz).contains(&partial.hz) {
                    tones[partial.source] += partial.power;
                }
            }
            let air = crow.air_power(low_hz, high_hz, surroundings.sample_rate_hz);
            Band { tones, air, noise: surroundings.power(low_hz, high_hz) }
        })
        .collect();
    let sounds = |t_s: f64| {
        let gains: Vec<f64> =
            (0..crow.rungs.len()).map(|source| crow.gain(source, t_s).powi(2)).collect();
        let air_gain = crow.air.map_or(0.0, |air| air.gain(crow.duration_s, t_s).powi(2));
        bands.iter().any(|band| {
            let tones: f64 = band.tones.iter().zip(&gains).map(|(power, gain)| power * gain).sum();
            tones + air_gain * band.air > OVER_FLOOR * band.noise
        })
    };
    let steps = ((whole.1 - whole.0) / STEP_S).ceil() as usize;
    let time = |step: usize| whole.0 + step as f64 * STEP_S;
    let first = (0..=steps).map(time).find(|&t_s| sounds(t_s)).unwrap_or(whole.0);
    let last = (0..=steps).rev().map(time).find(|&t_s| sounds(t_s)).unwrap_or(whole.1);
    (first, last)
}

struct Band {
    /// Power of each source rung in the band.
    tones: Vec<f64>,
    air: f64,
    noise: f64,
}

/// The rungs that sound somewhere in the steady part. `moved` is the mean frequency over the
/// stated one.
fn rungs(
    crow: &CrowSound,
    tone: &Tone,
    surroundings: &Surroundings,
    steady: (f64, f64),
    start_s: f64,
    moved: f64,
) -> Vec<RungTruth> {
    let highest = tone.partials.iter().filter_map(|partial| partial.rung).max().unwrap_or(0);
    let times: Vec<f64> =
        (0..(crow.duration_s / STEP_S) as usize).map(|step| step as f64 * STEP_S).collect();
    let totals: Vec<f64> = times
        .iter()
        .map(|&t_s| power_at(crow, tone.partials.iter().filter(|p| p.rung.is_some()), t_s))
        .collect();
    let mut found = Vec::new();
    for rung in 0..=highest {
        let own = || tone.partials.iter().filter(|partial| partial.rung == Some(rung));
        let Some(lowest) = own().next() else { continue };
        let half_bin = OWN_BIN_HZ / 2.0;
        let noise: f64 = own().map(|p| surroundings.power(p.hz - half_bin, p.hz + half_bin)).sum();
        let powers: Vec<f64> = times.iter().map(|&t_s| power_at(crow, own(), t_s)).collect();
        let sounds: Vec<bool> = powers
            .iter()
            .zip(&totals)
            .map(|(&power, &total)| {
                power > 0.0 && power >= SOUNDS * total && power >= OVER_FLOOR * noise
            })
            .collect();
        let steady_steps = || {
            times
                .iter()
                .enumerate()
                .filter(|(_, t_s)| (steady.0..steady.1).contains(*t_s))
                .map(|(step, _)| step)
        };
        let count = steady_steps().count();
        let on: Vec<usize> = steady_steps().filter(|&step| sounds[step]).collect();
        let Some(entry_s) = entry(&sounds) else { continue };
        if on.is_empty() {
            continue;
        }
        let power: f64 = on.iter().map(|&step| powers[step]).sum();
        let total: f64 = on.iter().map(|&step| totals[step]).sum();
        found.push(RungTruth {
            rung,
            hz: lowest.hz * moved,
            level_db: 10.0 * (power / total).log10(),
            present: on.len() as f64 / count as f64,
            entry_s: entry_s - start_s,
        });
    }
    found
}

/// First moment after which it sounds for 50 ms, from the tone's start.
fn entry(sounds: &[bool]) -> Option<f64> {
    let needed = (ENTERED_S / STEP_S).round() as usize;
    sounds.windows(needed).position(|run| run.iter().all(|&on| on)).map(|i| i as f64 * STEP_S)
}

fn power_at<'a>(crow: &CrowSound, partials: impl Iterator<Item = &'a Partial>, t_s: f64) -> f64 {
    let gains: Vec<f64> =
        (0..crow.rungs.len()).map(|source| crow.gain(source, t_s).powi(2)).collect();
    partials.map(|partial| partial.power * gains[partial.source]).sum()
}

/// Drift in cents per second, and the standard deviation of 50 ms means about it.
fn straight_line(hz: &[f64], rate: f64) -> (f64, Option<f64>) {
    let frame = (FRAME_S * rate) as usize;
    let Some(reference) = mean(hz) else { return (0.0, None) };
    let points: Vec<(f64, f64)> = hz
        .chunks_exact(frame.max(1))
        .enumerate()
        .filter_map(|(i, chunk)| {
            mean(chunk).map(|hz| (i as f64 * FRAME_S, 1200.0 * (hz / reference).log2()))
        })
        .collect();
    if points.len() < 3 {
        return (0.0, None);
    }
    let count = points.len() as f64;
    let time = points.iter().map(|point| point.0).sum::<f64>() / count;
    let cents = points.iter().map(|point| point.1).sum::<f64>() / count;
    let across: f64 = points.iter().map(|p| (p.0 - time) * (p.1 - cents)).sum();
    let slope = across / points.iter().map(|p| (p.0 - time).powi(2)).sum::<f64>();
    let rest: f64 = points.iter().map(|p| (p.1 - cents - slope * (p.0 - time)).powi(2)).sum();
    (slope, Some((rest / (count - 2.0)).sqrt()))
}

fn slice(samples: &[f64], (from_s, to_s): (f64, f64), rate: f64) -> &[f64] {
    let at = |t_s: f64| ((t_s * rate).round().max(0.0) as usize).min(samples.len());
    samples.get(at(from_s)..at(to_s)).unwrap_or(&[])
}

fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

fn mean_square(values: &[f64]) -> f64 {
    values.iter().map(|x| x * x).sum::<f64>() / values.len().max(1) as f64
}
