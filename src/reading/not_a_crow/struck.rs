//! What is struck and dies away: knocks, metal that rings, bells.

use std::ops::Range;

use crate::dsp::power;
use crate::dsp::statistics::line;
use crate::reading::track::orders::Orders;
use crate::reading::track::rungs::RungCourse;

/// What is struck dies away faster than this; a held crow does not.
const DYING_DB_PER_S: f64 = -70.0;
/// A crow's tail in a room does as well, but its tone has been held before: within 6 dB of the
/// highest level, longer than something that dies away so fast is.
const HELD_SHARE: f64 = 0.25;
const LONGEST_STRUCK_S: f64 = 0.15;
/// A bell or a plate rings on: it falls faster than this, …
const RINGING_DB_PER_S: f64 = -6.0;
/// … by this at least, …
const RINGING_DB: f64 = 10.0;
/// … near to one line (within this, or this share of the fall: high modes die away first) while it is within
/// this of its loudest …
const RINGING_SD_DB: f64 = 2.0;
const RINGING_SD_SHARE: f64 = 0.1;
const HEARD_DB: f64 = 30.0;
/// … and so far over what is left of it in the end, the room, …
const OVER_ROOM_DB: f64 = 6.0;
/// … with this share of the fall in either half: a gain that is turned down comes to rest, …
const RINGING_HALF: f64 = 0.2;
/// … its level taken over so long, this often, …
const LEVEL_S: f64 = 0.04;
const LEVEL_HOP_S: f64 = 0.02;
/// … and is at its loudest within this of where its tone is first heard, …
const RINGING_PEAK_S: f64 = 0.15;
/// … which took no longer than this: a reed that is blown needs several periods to sound.
const STRIKE_S: f64 = 0.01;
const STRIKE_DB: f64 = 12.0;
/// It is loud at once: within 6 dB of its loudest.
const STRIKE_SHARE: f64 = 0.25;
/// Where it rises by this it is struck again.
const AGAIN_DB: f64 = 5.0;
/// Metal has few modes that last. What is blown on a reed has so many partials …
const BLOWN_PARTIALS: usize = 10;
/// … within this of its strongest.
const BLOWN_PARTIALS_DB: f64 = 40.0;
/// What is shorter says nothing.
const SHORTEST_RING_S: f64 = 0.2;
/// The strike lies within this of where its tone is first heard.
const ABOUT_STRIKE_S: f64 = 0.15;

/// Whether the level falls through the middle half of the tone as that of something struck, which is
/// never held.
pub fn dies_away(orders: &Orders, rungs: &[RungCourse], tone: &Range<usize>) -> bool {
    let power = |b: usize| rungs.iter().map(|rung| rung.power[b]).sum::<f64>();
    let highest = tone.clone().map(power).fold(0.0, f64::max);
    let held = tone.clone().filter(|b| power(*b) > HELD_SHARE * highest).count();
    if held as f64 * orders.hop_s() > LONGEST_STRUCK_S {
        return false;
    }
    let quarter = tone.len() / 4;
    let (time_s, level_db): (Vec<f64>, Vec<f64>) = (tone.start + quarter..tone.end - quarter)
        .map(|b| (orders.time_s[b], power(b)))
        .filter(|(_, power)| *power > 0.0)
        .map(|(time_s, power)| (time_s, 10.0 * power.log10()))
        .unzip();
    line(&time_s, &level_db).is_some_and(|fit| fit.slope < DYING_DB_PER_S)
}

/// Whether a tone rings, as metal does that was struck: loud at once, and dying away steadily from then on.
///
/// * `samples`: the sound, at `sample_rate_hz`.
/// * `tone_s`: where its tone begins and ends, in seconds from the first sample.
pub fn rings(samples: &[f32], sample_rate_hz: f64, tone_s: (f64, f64)) -> bool {
    let at = |seconds: f64| ((seconds.max(0.0) * sample_rate_hz) as usize).min(samples.len());
    let about = at(tone_s.0 - ABOUT_STRIKE_S)..at(tone_s.0 + ABOUT_STRIKE_S);
    if !is_strike(&samples[about], sample_rate_hz) {
        return false;
    }
    let tone = at(tone_s.0)..at(tone_s.1).max(at(tone_s.0));
    let powers = powers(&samples[tone], sample_rate_hz, LEVEL_S, LEVEL_HOP_S);
    let level_db: Vec<f64> =
        powers.iter().map(|power| 10.0 * power.max(f64::MIN_POSITIVE).log10()).collect();
    rings_between(&level_db).is_some_and(|rings| rings.iter().all(|ring| dies_steadily(ring)))
}

/// Whether a tone has more partials than metal that rings, as a reed's tone does.
///
/// * `partials`: frequency in hertz and power of each.
pub fn is_rich(partials: &[(f64, f64)]) -> bool {
    let strongest = partials.iter().map(|(_, power)| *power).fold(0.0, f64::max);
    let least = strongest * 10.0_f64.powf(-BLOWN_PARTIALS_DB / 10.0);
    partials.iter().filter(|(_, power)| *power > least).count() >= BLOWN_PARTIALS
}

/// What rings from each strike on until the next, or until the room takes over. `None` where the first
/// strike comes late, or nothing rings.
///
/// * `level_db`: every [`LEVEL_HOP_S`].
fn rings_between(level_db: &[f64]) -> Option<Vec<&[f64]>> {
    let hops = |seconds: f64| (seconds / LEVEL_HOP_S).round() as usize;
    let loudest_after = |from: usize| {
        let to = (from + hops(RINGING_PEAK_S)).min(level_db.len());
        (from..to).max_by(|a, b| level_db[*a].total_cmp(&level_db[*b]))
    };
    let mut rings = Vec::new();
    let mut next = Some(0);
    while let Some(peak) = next.and_then(loudest_after) {
        let ring = &level_db[peak..];
        let rises = (2..ring.len()).find(|i| ring[*i] - ring[*i - 2] > AGAIN_DB);
        next = rises.map(|again| peak + again);
        let ring = &ring[..rises.map_or(ring.len(), |again| again - 1)];
        let room_db = ring.iter().copied().fold(f64::INFINITY, f64::min);
        let least_db = (room_db + OVER_ROOM_DB).max(ring[0] - HEARD_DB);
        let heard = ring.iter().position(|db| *db < least_db).unwrap_or(ring.len());
        if heard >= hops(SHORTEST_RING_S) {
            rings.push(&ring[..heard]);
        }
    }
    let is_prompt = loudest_after(0).is_some_and(|peak| {
        level_db.iter().take(peak + hops(SHORTEST_RING_S)).all(|db| *db <= level_db[peak])
    });
    (is_prompt && !rings.is_empty()).then_some(rings)
}

/// Power of stretches `length_s` long that begin every `hop_s`; of differences, so that rumble hides
/// nothing.
fn powers(samples: &[f32], sample_rate_hz: f64, length_s: f64, hop_s: f64) -> Vec<f64> {
    let length = ((length_s * sample_rate_hz) as usize).max(2);
    let hop = ((hop_s * sample_rate_hz) as usize).max(1);
    samples
        .windows(length)
        .step_by(hop)
        .map(|stretch| power::of_differences(stretch.iter()).unwrap_or_default())
        .collect()
}

/// * `level_db`: every [`LEVEL_HOP_S`].
fn dies_steadily(level_db: &[f64]) -> bool {
    let time_s: Vec<f64> = (0..level_db.len()).map(|i| i as f64 * LEVEL_HOP_S).collect();
    let fall_db = |part: Range<usize>| {
        let length_s = part.len() as f64 * LEVEL_HOP_S;
        line(&time_s[part.clone()], &level_db[part]).map(|fit| -fit.slope * length_s)
    };
    let (n, half) = (level_db.len(), level_db.len() / 2);
    let Some(fit) = line(&time_s, level_db) else { return false };
    let away = time_s.iter().zip(level_db).map(|(t, db)| (db - fit.at(*t)).powi(2)).sum::<f64>();
    let sd_db = (away / n as f64).sqrt();
    let all_db = -fit.slope * n as f64 * LEVEL_HOP_S;
    let halves = [fall_db(0..half), fall_db(half..n)];
    fit.slope < RINGING_DB_PER_S
        && all_db > RINGING_DB
        && sd_db < RINGING_SD_DB.max(RINGING_SD_SHARE * all_db)
        && halves.iter().all(|fall| fall.is_some_and(|db| db > RINGING_HALF * all_db))
}

/// Whether `samples` become loud within [`STRIKE_S`].
fn is_strike(samples: &[f32], sample_rate_hz: f64) -> bool {
    let powers = powers(samples, sample_rate_hz, STRIKE_S, 0.25 * STRIKE_S);
    let loudest = powers.iter().copied().fold(0.0, f64::max);
    let rise = 10.0_f64.powf(STRIKE_DB / 10.0);
    powers.windows(5).any(|five| five[4] > STRIKE_SHARE * loudest && five[4] > rise * five[0])
}
