//! From where to where the tone goes, and its steady part.

use std::ops::Range;

use super::ladder::frames_between;
use super::orders::Orders;
use super::rungs::RungCourse;
use crate::dsp::statistics::median;

/// The steady part begins and ends this far inside the tone.
const TRIM_S: f64 = 0.05;
/// Frames this far under the median level are not steady.
pub const DROP_DB: f64 = 10.0;
/// Fewest frames of a steady part.
const LEAST_FRAMES: usize = 4;

/// From where to where a tone goes.
#[derive(Debug, Clone)]
pub struct Extent {
    /// The frames in which it sounds.
    pub tone: Range<usize>,
    /// Its steady part, from end to end …
    pub steady: Range<usize>,
    /// … and those of its frames that are not far under the median level.
    pub held: Vec<usize>,
}

/// The extent of the tone of `rungs`; `None` where no rung sounds long enough, or nothing is left
/// between the ends.
pub fn extent(orders: &Orders, rungs: &[RungCourse]) -> Option<Extent> {
    // Rungs heard by averaging are blurred at their ends; the sharpest ones draw the tone's.
    let sharpest = rungs.iter().filter(|r| r.entry(orders).is_some()).map(|r| r.average).min()?;
    let sharp = || rungs.iter().filter(|rung| rung.average == sharpest);
    let sounds = |b: usize| sharp().any(|rung| rung.sounds[b]);
    let first = sharp().filter_map(|rung| rung.entry(orders)).min()?;
    let last = (first..orders.frames()).rev().find(|b| sounds(*b))?;
    let (from, to) = (orders.time_s[first] + TRIM_S, orders.time_s[last] - TRIM_S);
    let mut steady = frames_between(orders, from, to);
    // Frames well under the median level at either end do not belong to it.
    let power = |b: usize| rungs.iter().map(|rung| rung.power[b].max(0.0)).sum::<f64>();
    let typical = median(steady.clone().map(power))?;
    let low = typical * 10.0_f64.powf(-DROP_DB / 10.0);
    while !steady.is_empty() && power(steady.start) < low {
        steady.start += 1;
    }
    while !steady.is_empty() && power(steady.end - 1) < low {
        steady.end -= 1;
    }
    let held: Vec<usize> = steady.clone().filter(|b| power(*b) >= low).collect();
    (held.len() >= LEAST_FRAMES).then_some(Extent { tone: first..last + 1, steady, held })
}
