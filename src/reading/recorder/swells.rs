//! Whether a gain goes up in the pauses.
//!
//! A gain forgets a crow at its own rate, so the room swells alike in every pause, and the next crow pulls
//! it down again. A street swells too, each time differently.

use super::BLOCK_S;
use crate::dsp::statistics::median;

/// Levels right before and right after a crow are medians over this.
const BESIDE_S: f64 = 0.12;
/// A gain swells by more than this …
const SWELLS_DB_PER_S: f64 = 0.7;
/// … and the first crow pulls it down by at least this.
const LEAST_PULLED_DB: f64 = 0.3;
/// Blocks of which one point of a pause is the median.
const PER_POINT: usize = 5;
/// A pause without so many points says nothing.
const LEAST_POINTS: usize = 3;
/// How far a point lies off by itself, in decibels: the noise of 50 ms of a room.
const OF_A_POINT_DB: f64 = 0.17;
/// A pause tells its slope by the sum of its squared times about their middle, in s²; one that tells less
/// than this is not a witness, …
const LEAST_TELLING: f64 = 0.03;
/// … and all together tell at least this.
const LEAST_TELLING_ALL: f64 = 0.3;
/// How many times its own error the common slope must be, for 2, 3, 4, and 5 or more pauses. Tried on
/// levels made up: gains that take 1, 2 and 4 s over a room −20 to −45 dB under the crow are told in 78,
/// 59 and 33 %, streets, passing cars and taps called so in 0 to 0.4 %.
const SURE: [f64; 4] = [30.0, 9.0, 6.0, 5.0];

/// A gain that is quick swells by more than this in every pause, the last one too, before which nobody draws
/// breath, …
const STEEP_DB_PER_S: f64 = 4.0;
/// … and every crow pulls it down by at least this.
const STEEPLY_PULLED_DB: f64 = 3.0;
/// It is told by pauses of so many points, …
const LEAST_STEEP_POINTS: usize = 4;
/// … of which it may have reached the end of its reach after this long (0.6 s).
const STEEP_BLOCKS: usize = 60;

/// Whether the room swells so steeply in every pause, and is pulled down so far by every crow, that short
/// pauses tell it too.
///
/// * `pauses`: as [`alike`] takes them.
pub(super) fn steeply(pauses: &[&[f32]]) -> bool {
    let begins = |pause: &&[f32]| {
        let begins = pause.get(..STEEP_BLOCKS).unwrap_or(pause);
        Slope::over(begins, LEAST_STEEP_POINTS)
    };
    let slopes: Vec<Option<Slope>> = pauses.iter().skip(1).map(begins).collect();
    let ends_with_one = slopes.last().is_some_and(Option::is_some);
    let known: Vec<Slope> = slopes.into_iter().flatten().collect();
    // Before the first crow the gain may stand where the recorder was switched on.
    let pulled = pulled_db(pauses);
    let pulled = pulled.get(usize::from(pulled.len() > 2)..).unwrap_or_default();
    ends_with_one
        && known.len() >= 2
        && pulled.len() >= 2
        && known.iter().all(|slope| slope.db_per_s > STEEP_DB_PER_S)
        && pulled.iter().all(|db| *db > STEEPLY_PULLED_DB)
}

/// Whether the room swells at one rate in the pauses after crows, and is pulled down by them.
///
/// * `pauses`: levels of blocks in decibels, before the first crow, between each two, and after the last.
pub(super) fn alike(pauses: &[&[f32]]) -> bool {
    let slopes = pauses.iter().skip(1).filter_map(|pause| Slope::over(pause, LEAST_POINTS));
    let slopes: Vec<Slope> = slopes.filter(|slope| slope.telling > LEAST_TELLING).collect();
    let telling: f64 = slopes.iter().map(|slope| slope.telling).sum();
    let Some(&sure) = slopes.len().checked_sub(2).map(|at| SURE.get(at).unwrap_or(&SURE[3])) else {
        return false;
    };
    if telling < LEAST_TELLING_ALL {
        return false;
    }
    let rate = slopes.iter().map(|slope| slope.telling * slope.db_per_s).sum::<f64>() / telling;
    let scatter = slopes.iter().map(|slope| slope.telling * (slope.db_per_s - rate).powi(2));
    let scatter = (scatter.sum::<f64>() / (slopes.len() - 1) as f64).sqrt().max(OF_A_POINT_DB);
    let pulled = pulled_db(pauses);
    let first = pulled.first().is_some_and(|db| *db > LEAST_PULLED_DB);
    rate > SWELLS_DB_PER_S
        && rate * telling.sqrt() > sure * scatter
        && first
        && pulled.len() >= 2
        && pulled.iter().sum::<f64>() > 0.0
}

/// How the level of a pause goes.
struct Slope {
    db_per_s: f64,
    /// Sum of the squared times about their middle, in s².
    telling: f64,
}

impl Slope {
    /// `None` under so many points.
    fn over(pause: &[f32], least_points: usize) -> Option<Self> {
        let points: Vec<f64> = pause.chunks_exact(PER_POINT).filter_map(level).collect();
        if points.len() < least_points {
            return None;
        }
        let middle = 0.5 * (points.len() - 1) as f64;
        let at_s = |at: usize| (at as f64 - middle) * PER_POINT as f64 * BLOCK_S;
        let telling: f64 = (0..points.len()).map(|at| at_s(at).powi(2)).sum();
        let rises: f64 = points.iter().enumerate().map(|(at, db)| at_s(at) * db).sum();
        (telling > 0.0).then_some(Self { db_per_s: rises / telling, telling })
    }
}

/// By how much each crow leaves the room quieter than it found it, in decibels.
fn pulled_db(pauses: &[&[f32]]) -> Vec<f64> {
    let beside = (BESIDE_S / BLOCK_S) as usize;
    let pairs = pauses.windows(2).filter_map(|pair| {
        let found = pair[0].get(pair[0].len().checked_sub(beside)?..)?;
        let left = pair[1].get(..beside)?;
        Some(level(found)? - level(left)?)
    });
    pairs.collect()
}

fn level(blocks: &[f32]) -> Option<f64> {
    median(blocks.iter().map(|db| f64::from(*db)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_room_that_swells_alike_after_every_crow_is_gain_control() {
        let swelling: Vec<f32> = (0..80).map(|i| -60.0 + 0.1 * i as f32).collect();
        let falling: Vec<f32> = swelling.iter().rev().copied().collect();
        let level = vec![-55.0_f32; 80];
        assert!(alike(&[&level, &swelling, &swelling, &swelling]));
        // A street that swells all the time goes on where it was, after a crow as before.
        let higher: Vec<f32> = swelling.iter().map(|db| db + 8.0).collect();
        assert!(!alike(&[&swelling, &higher, &higher]));
        assert!(!alike(&[&swelling, &falling, &swelling]));
        assert!(!alike(&[&level, &level, &level]));
        assert!(!alike(&[&level, &swelling]));
        assert!(!alike(&[&swelling, &[], &swelling, &[]]));
        // So does one that swells each time by another amount.
        let faster: Vec<f32> = (0..80).map(|i| -60.0 + 0.2 * i as f32).collect();
        assert!(!alike(&[&level, &swelling, &faster, &swelling]));
    }

    /// 1.1 dB a second: a gain that takes four.
    #[test]
    fn a_slow_gain_is_told_by_its_constancy() {
        let pause = |seed: u32| -> Vec<f32> {
            let ripple = |i: u32| 0.3 * ((i * 7 + seed * 13) as f32 * 1.7).sin();
            (0..110).map(|i| -60.0 + 0.011 * i as f32 + ripple(i)).collect()
        };
        let before = vec![-57.0_f32; 80];
        let pauses = [pause(1), pause(2), pause(3)];
        assert!(alike(&[&before, &pauses[0], &pauses[1], &pauses[2]]));
    }

    /// Pauses of a third of a second, as in a row of crows.
    #[test]
    fn a_quick_gain_is_told_by_short_pauses_and_a_breath_drawn_is_none() {
        let rising = |from: f32| -> Vec<f32> { (0..34).map(|i| from + 0.24 * i as f32).collect() };
        let before = vec![-46.0_f32; 60];
        assert!(steeply(&[&before, &rising(-65.0), &rising(-64.0), &rising(-62.0)]));
        // Before each crow somebody draws breath, and after the last one nobody does.
        let after = vec![-65.0_f32; 80];
        assert!(!steeply(&[&rising(-65.0), &rising(-65.0), &rising(-65.0), &after]));
        // A street that rises and falls.
        let falling: Vec<f32> = rising(-65.0).into_iter().rev().collect();
        assert!(!steeply(&[&before, &rising(-65.0), &falling, &rising(-62.0)]));
        assert!(!steeply(&[&before, &rising(-65.0), &[]]));
    }

    /// A gain that reaches the end of its reach within the pause; before the first crow it stood low.
    #[test]
    fn a_gain_that_has_swelled_as_far_as_it_goes_is_told_by_how_it_began() {
        let pause: Vec<f32> = (0..200).map(|i| -62.0 + 0.2 * i.min(60) as f32).collect();
        let before = vec![-62.0_f32; 60];
        assert!(steeply(&[&before, &pause, &pause, &pause]));
        let level = vec![-62.0_f32; 200];
        assert!(!steeply(&[&before, &pause, &level, &pause]));
    }
}
