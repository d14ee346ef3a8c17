//! Where the input was driven too far: samples held at full scale, or cut flat under it.

/// Full scale, less half a step of 16 bits.
const FULL_SCALE: f32 = 0.999_95;
/// So many samples in a row, of one sign, are a stretch.
const STRETCH: u32 = 3;
/// Samples that lie flat at the highest level of a take are cut there from this level on …
const LEAST_LEVEL: f32 = 0.3;
/// … when the step up to them is this share of it: the top of a quiet wave in few bits is flat too,
/// but is not reached by a jump …
const STEEP: f32 = 0.03;
/// … and that happens this often.
const LEAST_STRETCHES: u64 = 5;

/// Stretches in which the input was cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overload {
    /// How many.
    pub stretches: u64,
    /// Where it was cut, 1 being full scale.
    pub level: f32,
}

/// Counts stretches, piece by piece.
#[derive(Debug, Default)]
pub struct OverloadCount {
    /// The highest level so far.
    highest: f32,
    /// The last sample, how long it has been held, and the step that led to it.
    last: f32,
    run: u32,
    step: f32,
    /// Stretches at that level, and those at full scale.
    flat: u64,
    full: u64,
}

impl OverloadCount {
    /// Takes the next samples.
    pub fn push(&mut self, samples: &[f32]) {
        // Mostly there is nothing to count, and that is told without looking at each.
        for piece in samples.chunks(64) {
            if highest(piece) < self.highest.min(FULL_SCALE) {
                self.run = 0;
                self.last = piece.last().copied().unwrap_or(self.last);
            } else {
                piece.iter().for_each(|sample| self.count(*sample));
            }
        }
    }

    fn count(&mut self, sample: f32) {
        let level = sample.abs();
        if level > self.highest {
            self.highest = level;
            self.flat = 0;
        }
        // At full scale converters let a sample vary by a step.
        let full = level >= FULL_SCALE;
        let held = if full && self.last.abs() >= FULL_SCALE {
            sample.is_sign_negative() == self.last.is_sign_negative()
        } else {
            sample == self.last
        };
        if self.run == 0 || !held {
            self.step = (sample - self.last).abs();
        }
        self.run = if level < self.highest.min(FULL_SCALE) {
            0
        } else if held {
            self.run + 1
        } else {
            1
        };
        self.last = sample;
        if self.run == STRETCH {
            self.full += u64::from(full);
            self.flat += u64::from(self.step >= STEEP * level);
        }
    }

    /// What was cut so far, if anything.
    pub fn overload(&self) -> Option<Overload> {
        if self.full > 0 {
            return Some(Overload { stretches: self.full, level: 1.0 });
        }
        (self.flat >= LEAST_STRETCHES && self.highest >= LEAST_LEVEL)
            .then_some(Overload { stretches: self.flat, level: self.highest })
    }
}

/// The highest level of `samples`, eight of them side by side.
fn highest(samples: &[f32]) -> f32 {
    let mut most = [0.0_f32; 8];
    for piece in samples.chunks(8) {
        for (most, sample) in most.iter_mut().zip(piece) {
            let level = sample.abs();
            *most = if level > *most { level } else { *most };
        }
    }
    most.into_iter().fold(0.0, f32::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wave(peak: f32, cut: f32) -> Vec<f32> {
        let sample = |n: u32| {
            let phase = f64::from(n) * 523.0 / 48_000.0 * std::f64::consts::TAU;
            (f64::from(peak) * (phase.sin() + 0.5 * (2.0 * phase).sin())) as f32
        };
        (0..48_000).map(|n| sample(n).clamp(-cut, cut)).collect()
    }

    fn overload(samples: &[f32]) -> Option<Overload> {
        let mut count = OverloadCount::default();
        samples.chunks(777).for_each(|piece| count.push(piece));
        count.overload()
    }

    #[test]
    fn a_cut_is_found_at_full_scale_and_under_it() {
        for cut in [1.0, 0.7, 0.4] {
            let found = overload(&wave(1.5 * cut, cut)).unwrap();
            assert_eq!(found.level, cut);
            // Once in each half of a period; where the cut begins just before a sample, the step up
            // to it is small.
            assert!((700..=1046).contains(&found.stretches), "{found:?}");
        }
    }

    #[test]
    fn whole_waves_are_not_cut_in_however_few_bits() {
        for bits in [7_i32, 11, 15] {
            let steps = 2.0_f32.powi(bits);
            let coarse: Vec<f32> =
                wave(0.6, 1.0).iter().map(|s| (s * steps).round() / steps).collect();
            assert_eq!(overload(&coarse), None, "{bits}");
        }
        assert_eq!(overload(&[]), None);
        assert_eq!(overload(&[0.5; 48_000]), None);
    }
}
