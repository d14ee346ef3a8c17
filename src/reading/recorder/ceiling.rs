//! Whether crows end at a ceiling: cut flat somewhere on the way and then made softer or encoded, or bent
//! by an input that saturates.
//!
//! What a recorder bends ends at one level, on both sides of zero, however loud the moment is: where
//! the power rises by a decibel the tops rise by far less, all of them lie close together, and they
//! are broad. A reed's own tops rise with its power, and the two sides of zero are not alike. Nothing here
//! hangs on how loud the recording is.

use crate::dsp::statistics::{mean, median, quantile_in_place};

/// Length of a block: two periods of the lowest crow at least.
const BLOCK_S: f64 = 0.02;
/// Blocks kept: a minute and more of crows.
const MOST_BLOCKS: usize = 4000;
/// The top of a block is the mean of this share of its samples, so that what an encoder adds to a flat
/// top does not count.
const TOP_SHARE: f64 = 0.015;
/// Blocks this far under the loud ones are no part of it: there a ceiling is not reached.
const LOUD_DB: f64 = 6.0;
/// So many blocks must be left (0.6 s), …
const LEAST_BLOCKS: usize = 30;
/// … whose louder third has at least so much more power than the softer one.
const LEAST_RISE_DB: f64 = 0.5;
/// Of that, the tops rise by no more than this share. This and the next two by our choice: how often they
/// tell, and how often falsely, stands in DEVELOPERS.
const MOST_RISE_SHARE: f64 = 0.45;
/// Nine tenths of the tops of both sides lie within this range, in decibels.
const MOST_SPREAD_DB: f64 = 1.6;
/// So much of the time is spent within 1 dB of the top: a crow as it is spends 1 to 5 %.
const LEAST_FLAT: f64 = 0.07;
/// 1 dB under.
const NEAR_TOP: f32 = 0.891;

/// What is kept of a block.
#[derive(Debug, Clone, Copy)]
struct Block {
    power_db: f64,
    /// Tops over and under zero, in decibels.
    tops_db: [f64; 2],
    /// Share of the samples near the higher top.
    flat: f64,
}

/// Gathers the tops of crows.
#[derive(Debug, Default)]
pub(super) struct Ceiling {
    blocks: Vec<Block>,
}

impl Ceiling {
    /// Takes the samples of a crow.
    pub(super) fn push(&mut self, samples: &[f32], sample_rate_hz: f64) {
        let n = ((sample_rate_hz * BLOCK_S).round() as usize).max(16);
        let middle =
            samples.iter().map(|x| f64::from(*x)).sum::<f64>() / samples.len().max(1) as f64;
        let mut block = vec![0.0_f32; n];
        for piece in samples.chunks_exact(n) {
            if self.blocks.len() >= MOST_BLOCKS {
                return;
            }
            block.iter_mut().zip(piece).for_each(|(to, x)| *to = x - middle as f32);
            self.blocks.extend(Block::of(&mut block));
        }
    }

    /// Whether the crows end at one.
    pub(super) fn is_reached(&self) -> bool {
        let mut powers: Vec<f64> = self.blocks.iter().map(|block| block.power_db).collect();
        let Some(loud_db) = quantile_in_place(&mut powers, 0.9) else { return false };
        let mut loud: Vec<Block> =
            self.blocks.iter().filter(|b| b.power_db > loud_db - LOUD_DB).copied().collect();
        if loud.len() < LEAST_BLOCKS {
            return false;
        }
        loud.sort_by(|a, b| a.power_db.total_cmp(&b.power_db));
        let third = loud.len() / 3;
        let (softer, louder) = (&loud[..third], &loud[loud.len() - third..]);
        let rises = |of: fn(&Block) -> f64| {
            let mean = |blocks: &[Block]| mean(&blocks.iter().map(of).collect::<Vec<_>>());
            mean(louder).zip(mean(softer)).map_or(0.0, |(louder, softer)| louder - softer)
        };
        let power_rises = rises(|block| block.power_db);
        let tops_rise = rises(|block| 0.5 * (block.tops_db[0] + block.tops_db[1]));
        let mut tops: Vec<f64> = loud.iter().flat_map(|block| block.tops_db).collect();
        let range = quantile_in_place(&mut tops, 0.9).zip(quantile_in_place(&mut tops, 0.1));
        let is_broad =
            median(loud.iter().map(|block| block.flat)).is_some_and(|flat| flat > LEAST_FLAT);
        power_rises > LEAST_RISE_DB
            && tops_rise < MOST_RISE_SHARE * power_rises
            && range.is_some_and(|(high, low)| high - low < MOST_SPREAD_DB)
            && is_broad
    }
}

impl Block {
    /// `None` where nothing sounds on one side of zero. Reorders `samples`.
    fn of(samples: &mut [f32]) -> Option<Self> {
        let power =
            samples.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / samples.len() as f64;
        let count = ((samples.len() as f64 * TOP_SHARE).round() as usize).max(1);
        let mean = |part: &[f32]| part.iter().sum::<f32>() / part.len().max(1) as f32;
        let (lowest, _, _) = samples.select_nth_unstable_by(count, f32::total_cmp);
        let under = -mean(lowest);
        let (_, _, highest) =
            samples.select_nth_unstable_by(samples.len() - count - 1, f32::total_cmp);
        let over = mean(highest);
        let near = NEAR_TOP * over.max(under);
        let flat = samples.iter().filter(|x| x.abs() > near).count() as f64 / samples.len() as f64;
        let db = |top: f32| 20.0 * f64::from(top).log10();
        (over > 0.0 && under > 0.0).then(|| Self {
            power_db: 10.0 * power.log10(),
            tops_db: [db(over), db(under)],
            flat,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 16_000.0;

    /// A second of a tone that comes and goes, bent by `bend`.
    fn is_bent(gain: f64, bend: impl Fn(f64) -> f64) -> bool {
        let samples: Vec<f32> = (0..16_000)
            .map(|n| {
                let t = f64::from(n) / RATE_HZ;
                let phase = std::f64::consts::TAU * 262.0 * t;
                let wave: f64 =
                    (1..12).map(|k| (f64::from(k) * phase + f64::from(k * k)).cos()).sum();
                let loud = (std::f64::consts::PI * t).sin();
                (gain * bend(0.12 * loud * wave)) as f32
            })
            .collect();
        let mut ceiling = Ceiling::default();
        samples.chunks(8000).for_each(|crow| ceiling.push(crow, RATE_HZ));
        ceiling.is_reached()
    }

    #[test]
    fn what_is_cut_or_bent_is_told_at_any_level_and_what_is_whole_is_not() {
        for gain in [1.0, 0.01] {
            assert!(is_bent(gain, |x| x.clamp(-0.2, 0.2)), "{gain}");
            assert!(is_bent(gain, |x| (6.0 * x).tanh()), "{gain}");
            assert!(!is_bent(gain, |x| x), "{gain}");
            // What a reed does: one side alone gives way.
            assert!(!is_bent(gain, |x| if x > 0.0 { (6.0 * x).tanh() / 6.0 } else { x }), "{gain}");
        }
        // As loud throughout, nothing tells whether the tops would rise.
        let mut steady = Ceiling::default();
        let tone = (0..32_000).map(|n| (f64::from(n) * 0.1).sin().clamp(-0.7, 0.7) as f32);
        steady.push(&tone.collect::<Vec<_>>(), RATE_HZ);
        assert!(!steady.is_reached());
        assert!(!Ceiling::default().is_reached());
    }
}
