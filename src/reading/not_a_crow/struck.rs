//! What is struck and dies away: knocks, metal that rings, bells.

use std::ops::Range;

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
const RINGING_DB_PER_S: f64 = -8.0;
/// … by this at least, …
const RINGING_DB: f64 = 7.0;
/// … near to one line while it is within this of its loudest, …
const HEARD_DB: f64 = 30.0;
const RINGING_SD_DB: f64 = 3.0;
/// … with this share of the fall in either half: a gain that is turned down comes to rest, …
const RINGING_HALF: f64 = 0.2;
/// … and is at its loudest within this of its beginning, …
const RINGING_PEAK_S: f64 = 0.1;
/// … which took no longer than this: a reed that is blown needs several periods to sound.
const STRIKE_S: f64 = 0.01;
const STRIKE_DB: f64 = 12.0;
/// It is loud at once: within 6 dB of its loudest.
const STRIKE_SHARE: f64 = 0.25;
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
    let (time_s, level_db) = levels(orders, rungs, tone.start + quarter..tone.end - quarter);
    line(&time_s, &level_db).is_some_and(|fit| fit.slope < DYING_DB_PER_S)
}

/// Moments of `blocks`, in seconds of the take, and the level of all rungs there, in decibels.
fn levels(orders: &Orders, rungs: &[RungCourse], blocks: Range<usize>) -> (Vec<f64>, Vec<f64>) {
    blocks
        .map(|b| (orders.time_s[b], rungs.iter().map(|rung| rung.power[b]).sum::<f64>()))
        .filter(|(_, power)| *power > 0.0)
        .map(|(time_s, power)| (time_s, 10.0 * power.log10()))
        .unzip()
}

/// Whether a tone rings, as metal does that was struck: loud at once, and dying away steadily from then on.
///
/// * `samples`: the sound, at `sample_rate_hz`, from `offset_s` of the take on.
pub fn rings(
    (samples, sample_rate_hz, offset_s): (&[f32], f64, f64),
    orders: &Orders,
    rungs: &[RungCourse],
    tone: &Range<usize>,
) -> bool {
    let (time_s, level_db) = levels(orders, rungs, tone.clone());
    let peak = (0..level_db.len()).max_by(|a, b| level_db[*a].total_cmp(&level_db[*b]));
    let Some(peak) = peak.filter(|peak| time_s[*peak] - time_s[0] < RINGING_PEAK_S) else {
        return false;
    };
    // Farther down the room takes over.
    let ring = &level_db[peak..];
    let over = ring.iter().position(|db| *db < ring[0] - HEARD_DB).unwrap_or(ring.len());
    let at = |seconds: f64| ((seconds - offset_s).max(0.0) * sample_rate_hz) as usize;
    let from = at(time_s[0] - ABOUT_STRIKE_S);
    let to = at(time_s[0] + ABOUT_STRIKE_S).min(samples.len());
    dies_steadily(&time_s[peak..peak + over], &ring[..over])
        && samples.get(from..to).is_some_and(|about| is_strike(about, sample_rate_hz))
}

fn dies_steadily(time_s: &[f64], level_db: &[f64]) -> bool {
    let fall_db = |from: usize, to: usize| {
        let fit = line(&time_s[from..to], &level_db[from..to])?;
        let away = (from..to).map(|i| (level_db[i] - fit.at(time_s[i])).powi(2)).sum::<f64>();
        let sd_db = (away / (to - from) as f64).sqrt();
        Some((fit.slope, fit.slope * (time_s[from] - time_s[to - 1]), sd_db))
    };
    let (n, half) = (level_db.len(), level_db.len() / 2);
    let (Some(all), Some(first), Some(second)) =
        (fall_db(0, n), fall_db(0, half), fall_db(half, n))
    else {
        return false;
    };
    all.0 < RINGING_DB_PER_S
        && all.1 > RINGING_DB
        && all.2 < RINGING_SD_DB
        && first.1.min(second.1) > RINGING_HALF * all.1
}

/// Whether `samples` become loud within [`STRIKE_S`].
fn is_strike(samples: &[f32], sample_rate_hz: f64) -> bool {
    let length = ((STRIKE_S * sample_rate_hz) as usize).max(2);
    // Of differences, so that rumble hides nothing.
    let powers: Vec<f64> = (0..)
        .map(|piece| piece * length / 4)
        .take_while(|from| from + length <= samples.len())
        .map(|from| samples[from..from + length].windows(2))
        .map(|pairs| pairs.map(|pair| f64::from(pair[1] - pair[0]).powi(2)).sum())
        .collect();
    let loudest = powers.iter().copied().fold(0.0, f64::max);
    let rise = 10.0_f64.powf(STRIKE_DB / 10.0);
    powers.windows(5).any(|five| five[4] > STRIKE_SHARE * loudest && five[4] > rise * five[0])
}
