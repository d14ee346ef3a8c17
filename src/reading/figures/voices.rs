//! Which octaves of a crow are heard as tones of their own: how far the even partials stand out over
//! the odd ones, and which of the two families comes in first.
//!
//! Every harmonic tone has even partials, so that a rung sounds says little. A listener hears the
//! octave above as a tone of its own where its partials stand over the line through their neighbours
//! (Patterson, Music Perception 8:203, 1990; Warren et al., PNAS 100:10038, 2003), or where they come
//! in apart.

use std::ops::Range;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::dsp::statistics::{median, sample_sd};
use crate::reading::track::family::{Family, NoiseProfile};
use crate::reading::track::orders::Orders;
use crate::reading::track::rungs::RungCourse;

/// Which octaves are heard as tones of their own: of the lowest pair that is expected.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Voices {
    /// How far the upper octave stands out: the median of L_m − ½(L_{m−1} + L_{m+1}) over the
    /// partials 2, 4, 6, 8 of the lower tone, in decibels.
    pub stand_out_db: Option<f64>,
    /// Half width of its 95 % interval.
    pub ci95_db: Option<f64>,
    /// Entry of the odd partials minus entry of the even ones, in milliseconds; positive: the upper
    /// octave comes first.
    pub lead_ms: Option<f64>,
    /// Chance that a maker calls it octaves, 0 … 1.
    pub octaves: Option<f64>,
    /// The octave that is there, too weak to be heard as a pitch.
    pub faint: Option<Faint>,
    /// The same of the pair above: the upper octave and the one over it.
    #[serde(default)]
    pub above: Above,
}

/// The octave over the upper one, as [`Voices`] tell of the upper one.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Above {
    /// How far it stands out over the upper octave's own partials, in decibels.
    pub stand_out_db: Option<f64>,
    /// Half width of its 95 % interval.
    pub ci95_db: Option<f64>,
    /// Chance that a maker hears it as a tone of its own, 0 … 1.
    pub octaves: Option<f64>,
}

/// An octave that is there, too weak to be heard as a pitch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Faint {
    /// The low one.
    Low,
}

/// Partials of the upper octave that are held against their neighbours.
const EVEN: [usize; 4] = [2, 4, 6, 8];
/// So many of them must be known.
const LEAST_KNOWN: usize = 3;
/// No partial counts as weaker than this, relative to the strongest.
const LEAST_LEVEL_DB: f64 = -45.0;
/// Standard deviation of a stand-out with the place in the room: 1.2 to 1.5 dB in simulated rooms whose
/// tails hold 4 to 14 dB less than the direct sound (the evaluation's table), more where they hold as much.
pub const PLACE_DB: f64 = 2.0;
/// From this stand-out on, the low octave is too weak to be heard as a pitch: it stands for pulses
/// of which every other differs by 10 % (Bergan & Titze, J. Voice 15:165, 2001: listeners change over
/// between 10 and 30 %).
pub const FAINT_DB: f64 = 20.0;
/// Blocks that a stand-out is scattered over within one crow …
const BLOCKS: usize = 6;
/// … each of at least this length.
const BLOCK_S: f64 = 0.08;

/// Periods of the lower tone in a frame of entries: as few as keep odd from even.
pub const ENTRY_PERIODS: usize = 4;
/// Partials of each family that entries are read from.
pub const ENTRY_PARTIALS: usize = 8;
/// A family has entered when it stands at this, relative to its own steady level, …
const ENTRY_DB: f64 = -15.0;
/// … for this long.
const ENTRY_HOLDS_S: f64 = 0.02;
/// Its steady level stands at least this far over the noise, …
const ENTRY_OVER_NOISE_DB: f64 = 20.0;
/// … or this far, where its entry is taken so far over the noise …
const LEAST_OVER_NOISE_DB: f64 = 12.0;
const ENTERS_OVER_NOISE_DB: f64 = 5.0;
/// … and lies at least this far from the other family's: less is not told from what the noise does.
const LEAST_TOLD_S: f64 = 0.05;

/// How far the upper octave of a pair stands out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandOut {
    /// Median of L_m − ½(L_{m−1} + L_{m+1}) over the even partials m.
    pub db: f64,
    /// Half width of its 95 % interval.
    pub ci95_db: f64,
}

/// The half width of the 95 % interval of a stand-out that scatters by `sd_db` over `count` looks at
/// it, all from one place in the room.
pub fn ci95_db(sd_db: f64, count: usize) -> f64 {
    2.0 * (sd_db * sd_db / count.max(1) as f64 + PLACE_DB * PLACE_DB).sqrt()
}

/// How far the octave over rung `lower` stands out over the steady part; `None` where too few of its
/// partials are known.
///
/// * `courses`: those of all rungs, lowest first.
/// * `lower`: which of them the lower tone is.
pub fn stand_out(
    orders: &Orders,
    noise: &NoiseProfile,
    courses: &[RungCourse],
    lower: u32,
    steady: Range<usize>,
) -> Option<StandOut> {
    let families: Vec<Family<'_>> =
        courses.iter().map(|course| course.family(orders, noise)).collect();
    let db = stand_out_db(&families, lower, steady.clone())?;
    let least = (BLOCK_S / orders.hop_s()).ceil() as usize;
    let count = (steady.len() / least.max(1)).clamp(1, BLOCKS);
    let block = |i: usize| {
        steady.start + i * steady.len() / count..steady.start + (i + 1) * steady.len() / count
    };
    let each: Vec<f64> =
        (0..count).filter_map(|i| stand_out_db(&families, lower, block(i))).collect();
    Some(StandOut { db, ci95_db: ci95_db(sample_sd(&each).unwrap_or(0.0), each.len()) })
}

fn stand_out_db(families: &[Family<'_>], lower: u32, frames: Range<usize>) -> Option<f64> {
    // The partial of the lower tone is that of the rung it belongs to, which is another tone's where
    // the octave is off.
    let power = |m: usize| {
        let multiple = m << lower;
        let family = families.get(multiple.trailing_zeros() as usize)?;
        let inside = multiple as f64 * family.base_bins < family.orders.bins as f64;
        let floor = family.noise.at(multiple);
        inside.then(|| (family.partial_power(multiple, frames.clone()), floor))
    };
    let highest = EVEN.last()? + 1;
    let known: Vec<(f64, f64)> = (1..=highest).map_while(power).collect();
    let strongest = known.iter().map(|(power, _)| *power).fold(0.0, f64::max);
    if !(strongest > 0.0) {
        return None;
    }
    let least = strongest * 10.0_f64.powf(LEAST_LEVEL_DB / 10.0);
    // Half the mean square is the noise's power: the floor lies 3 dB over that.
    let level = |m: usize| {
        known.get(m - 1).map(|(power, floor)| 10.0 * power.max(least).max(*floor).log10())
    };
    let over = |m: &usize| Some(level(*m)? - 0.5 * (level(m - 1)? + level(m + 1)?));
    let each: Vec<f64> = EVEN.iter().filter_map(over).collect();
    if each.len() < LEAST_KNOWN {
        return None;
    }
    median(each)
}

/// The steady levels of the two families of a pair: sums of |Z|² over the partials that entries are
/// read from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SteadyLevels {
    /// Of the odd partials.
    pub odd: f64,
    /// Of the even ones.
    pub even: f64,
    /// How far the weaker stands over the noise, in decibels.
    pub over_noise_db: f64,
}

/// Steady levels of the families of the pair over rung `lower`; `None` where one of them is not
/// clear of the noise in frames of [`ENTRY_PERIODS`].
pub fn steady_levels(
    orders: &Orders,
    noise: &NoiseProfile,
    courses: &[RungCourse],
    lower: u32,
    steady: Range<usize>,
) -> Option<SteadyLevels> {
    // Shorter frames have wider bins.
    let wider = (orders.bins_per_unit << lower) as f64 / ENTRY_PERIODS as f64;
    let level = |first: usize| {
        let (mut sum, mut beside) = (0.0, 0.0);
        for m in (first..).step_by(2).take(ENTRY_PARTIALS) {
            let multiple = m << lower;
            let Some(course) = courses.get(multiple.trailing_zeros() as usize) else { break };
            let family = course.family(orders, noise);
            if multiple as f64 * family.base_bins >= orders.bins as f64 {
                break;
            }
            sum += 2.0 * family.partial_power(multiple, steady.clone());
            beside += noise.at(multiple) * wider;
        }
        let over_noise_db = 10.0 * (sum / beside).log10();
        (over_noise_db > LEAST_OVER_NOISE_DB).then_some((sum, over_noise_db))
    };
    let ((odd, odd_over_db), (even, even_over_db)) = (level(1)?, level(2)?);
    Some(SteadyLevels { odd, even, over_noise_db: odd_over_db.min(even_over_db) })
}

/// Entry of the odd partials minus entry of the even ones, in seconds; `None` where one of them
/// sounds from the first frame on, or the noise leaves less than that untold.
///
/// * `onset`: the onset along the lower tone, in frames of [`ENTRY_PERIODS`].
pub fn lead_s(onset: &Orders, levels: SteadyLevels) -> Option<f64> {
    let holds = (ENTRY_HOLDS_S / onset.hop_s()).ceil().max(1.0) as usize;
    let is_clear = levels.over_noise_db > ENTRY_OVER_NOISE_DB;
    let entry_db = if is_clear { ENTRY_DB } else { ENTERS_OVER_NOISE_DB - levels.over_noise_db };
    let entry = |first: usize, level: f64| {
        let mut power = vec![0.0; onset.frames()];
        for m in (first..).step_by(2).take(ENTRY_PARTIALS) {
            let bin = onset.bin(m * onset.bins_per_unit, 0..onset.frames());
            power.iter_mut().zip(bin).for_each(|(sum, z)| *sum += f64::from(z.norm_sqr()));
        }
        let least = level * 10.0_f64.powf(entry_db / 10.0);
        let at = power.windows(holds).position(|run| run.iter().all(|power| *power >= least))?;
        (at > 0).then(|| onset.time_s[at])
    };
    let lead_s = entry(1, levels.odd)? - entry(2, levels.even)?;
    (is_clear || lead_s.abs() >= LEAST_TOLD_S).then_some(lead_s)
}
