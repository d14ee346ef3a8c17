//! Which channel of a live stream is read: the one with the most power, as in a file.

/// Power of a channel without its constant offset: an input with nothing plugged in can have a
/// large offset and no sound.
pub(super) fn alternating_power(samples: &[f32]) -> f64 {
    if samples.is_empty() {
        return 0.0;
    }
    let count = samples.len() as f64;
    let mean = samples.iter().map(|&x| f64::from(x)).sum::<f64>() / count;
    samples.iter().map(|&x| (f64::from(x) - mean).powi(2)).sum::<f64>() / count
}

/// Follows the strongest channel while nothing is being taken.
///
/// Before a crow the channels hold room noise and hum, which says little about where the reed
/// will be heard: so the choice follows whatever channel gets clearly louder, which the crow's
/// own channel does within some ten milliseconds.
#[derive(Debug)]
pub(super) struct Strongest {
    powers: Vec<f64>,
    chosen: usize,
    smoothing: f64,
}

/// Another channel must be this many times stronger to be followed: 3 dB, so that equal
/// channels of a stereo microphone do not take turns.
const CLEARLY: f64 = 2.0;

impl Strongest {
    /// `block_s`: length of the blocks that `push` gets.
    pub fn new(channels: usize, block_s: f64) -> Self {
        // Averaged over about 100 ms.
        Self { powers: vec![0.0; channels], chosen: 0, smoothing: (block_s / 0.1).min(1.0) }
    }

    /// Takes the next block, interleaved, and returns the channel to listen to, from 0.
    pub fn push(&mut self, block: &[f32]) -> usize {
        let channels = self.powers.len();
        for (channel, power) in self.powers.iter_mut().enumerate() {
            let samples: Vec<f32> = block.iter().skip(channel).step_by(channels).copied().collect();
            *power += self.smoothing * (alternating_power(&samples) - *power);
        }
        let loudest = loudest(&self.powers);
        if self.powers[loudest] > CLEARLY * self.powers[self.chosen] {
            self.chosen = loudest;
        }
        self.chosen
    }
}

/// Index of the largest, the first of equals; 0 where there is none.
pub(super) fn loudest(powers: &[f64]) -> usize {
    let mut best = 0;
    for (index, &power) in powers.iter().enumerate() {
        if power > powers[best] {
            best = index;
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_constant_offset_is_no_power() {
        assert!(alternating_power(&[0.5; 100]) < 1e-12);
        assert!((alternating_power(&[0.5, -0.5, 0.5, -0.5]) - 0.25).abs() < 1e-12);
    }

    #[test]
    fn the_channel_that_begins_to_sound_is_followed_and_equals_do_not_take_turns() {
        let mut strongest = Strongest::new(2, 0.01);
        let block = |left: f32, right: f32| -> Vec<f32> {
            (0..100)
                .flat_map(|n| if n % 2 == 0 { [left, right] } else { [-left, -right] })
                .collect()
        };
        for n in 0..20 {
            let tilt = if n % 2 == 0 { 1.05 } else { 0.95 };
            assert_eq!(strongest.push(&block(0.01, 0.01 * tilt)), 0);
        }
        let followed = (0..10).map(|_| strongest.push(&block(0.01, 0.3))).position(|c| c == 1);
        assert!(followed.is_some_and(|blocks| blocks <= 3), "{followed:?}");
    }
}
