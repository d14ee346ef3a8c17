//! Which octaves sound at this moment, for a live display. Rough: the figures of a crow come from its
//! whole steady part, these from the last tenth of a second.

use std::f64::consts::TAU;

use crate::dsp::spectrum::USABLE;

/// One octave of what sounds now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OctaveNow {
    /// Its frequency in hertz.
    pub hz: f64,
    /// Power of its partials relative to all partials looked at, in decibels.
    pub level_db: f64,
}

/// What sounds now.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct OctavesNow {
    /// Its octaves, lowest first; empty where there is no sound.
    pub octaves: Vec<OctaveNow>,
    /// Whether the partials of the lowest one stand where those of the others let them stand: two tones
    /// that are some 20 cents off an octave or more, and what begins or ends, do not.
    pub is_aligned: bool,
}

/// Partials looked at: enough for three octaves, and near enough that a period some cents off does not
/// miss them.
const PARTIALS: u32 = 8;

/// An octave under this is not told of: what a window lets through from its neighbours is lower, and
/// so is what an ear would miss (our choice).
const LEAST_DB: f64 = -30.0;

/// What lies an octave under a tone is an octave of its own where it stands this far over what lies
/// between; breath stays under 9 dB nine times out of ten, a faint low octave stands at 13 to 15 dB (the
/// demo takes).
const OVER_BETWEEN_DB: f64 = 11.0;

/// Partials stand where they are looked for where they are this far over what lies just outside the window's
/// lobe. Those of two tones beat with each other, and stay under 10 dB (the demo takes).
const CLEAR_DB: f64 = 10.0;

/// Where it is outside the main lobe of the window, in spacings of its bins: that ends two bins away.
const OUTSIDE_BINS: f64 = 2.5;

/// No tone is sought under this, as hum and rumble are there.
const LOWEST_HZ: f64 = 100.0;

/// How often the period may be that of a higher octave than the lowest.
const HIGHER: u32 = 2;

/// The octaves of a tone.
///
/// * `samples`: the last tenth of a second, full scale ±1.
/// * `hz`: rate at which they repeat, of whatever octave.
///
/// Partial n counts for octave k where 2^k is the largest power of two that divides n.
pub fn octaves_now(samples: &[f32], sample_rate_hz: f64, hz: f64) -> OctavesNow {
    let sound = Sound { samples, sample_rate_hz };
    let mut hz = sound.refined(hz);
    for _ in 0..HIGHER {
        // Where the upper octave is much the stronger, the sound all but repeats with its period.
        if !sound.has_octave_under(hz) {
            break;
        }
        hz /= 2.0;
    }
    let mut powers = [0.0_f64; 3];
    for order in 1..=PARTIALS {
        let octave = (order.trailing_zeros() as usize).min(powers.len() - 1);
        powers[octave] += sound.power_at(hz * f64::from(order));
    }
    let all: f64 = powers.iter().sum();
    // Also where it is not a number.
    if !(all > 0.0) {
        return OctavesNow::default();
    }
    let octaves = powers.into_iter().enumerate().map(|(octave, power)| OctaveNow {
        hz: hz * f64::from(1_u32 << octave),
        level_db: decibels(power / all),
    });
    OctavesNow {
        octaves: octaves.filter(|octave| octave.level_db >= LEAST_DB).collect(),
        is_aligned: sound.stands_out_db(hz, 1) >= CLEAR_DB
            && sound.stands_out_db(hz, 2) >= CLEAR_DB,
    }
}

fn decibels(power: f64) -> f64 {
    10.0 * power.log10()
}

/// Sound with a tone in it.
struct Sound<'a> {
    samples: &'a [f32],
    sample_rate_hz: f64,
}

impl Sound<'_> {
    /// The place of the peak that a period leads to: the vertex of the parabola through the logarithm of the
    /// power at three places within the window's lobe.
    fn refined(&self, hz: f64) -> f64 {
        let step = 0.5 * self.bin_hz();
        let [before, at, after] = [-1.0, 0.0, 1.0].map(|k| decibels(self.power_at(hz + k * step)));
        let bend = before - 2.0 * at + after;
        let shift = 0.5 * (before - after) / bend;
        // Also where it is not a number.
        if bend < 0.0 && shift.abs() <= 1.0 { hz + shift * step } else { hz }
    }

    fn has_octave_under(&self, hz: f64) -> bool {
        let under = hz / 2.0;
        if under < LOWEST_HZ {
            return false;
        }
        let halves = |first: u32| (first..=PARTIALS).step_by(2).map(|n| under * f64::from(n));
        let sum = |places: &mut dyn Iterator<Item = f64>| -> f64 {
            places.map(|hz| self.power_at(hz)).sum()
        };
        let (odd, even) = (sum(&mut halves(1)), sum(&mut halves(2)));
        let aside = sum(&mut halves(1).map(|hz| hz + self.outside_hz()))
            .max(sum(&mut halves(1).map(|hz| hz - self.outside_hz())));
        // As many places below the partials as above, since breath is not alike everywhere.
        let between = sum(&mut halves(1).flat_map(|hz| [hz - under / 2.0, hz + under / 2.0])) / 2.0;
        decibels(odd / (odd + even)) >= LEAST_DB
            && decibels((odd + aside) / between) >= OVER_BETWEEN_DB
    }

    /// How far every second partial from `first` on stands over what is just outside their lobes, in decibels.
    fn stands_out_db(&self, hz: f64, first: u32) -> f64 {
        let sum = |off_hz: f64| -> f64 {
            let orders = (first..=PARTIALS).step_by(2);
            orders.map(|order| self.power_at(hz * f64::from(order) + off_hz)).sum()
        };
        decibels(sum(0.0) / sum(self.outside_hz()).max(sum(-self.outside_hz())))
    }

    fn bin_hz(&self) -> f64 {
        self.sample_rate_hz / self.samples.len().max(1) as f64
    }

    fn outside_hz(&self) -> f64 {
        OUTSIDE_BINS * self.bin_hz()
    }

    /// Power of the Hann-windowed samples at a frequency, in no particular unit; 0 where it is too high.
    fn power_at(&self, hz: f64) -> f64 {
        if !(hz < USABLE * self.sample_rate_hz) {
            return 0.0;
        }
        let n = self.samples.len() as f64;
        // A rotating pointer instead of a sine for each sample.
        let (turn_sin, turn_cos) = (TAU * hz / self.sample_rate_hz).sin_cos();
        let (mut cos, mut sin) = (1.0, 0.0);
        let (step_sin, step_cos) = (TAU / n.max(1.0)).sin_cos();
        let (mut window_cos, mut window_sin) = (1.0_f64, 0.0);
        let (mut real, mut imaginary) = (0.0, 0.0);
        for &sample in self.samples {
            let weighted = f64::from(sample) * (0.5 - 0.5 * window_cos);
            real += weighted * cos;
            imaginary += weighted * sin;
            (cos, sin) = (cos * turn_cos - sin * turn_sin, sin * turn_cos + cos * turn_sin);
            (window_cos, window_sin) = (
                window_cos * step_cos - window_sin * step_sin,
                window_sin * step_cos + window_cos * step_sin,
            );
        }
        real * real + imaginary * imaginary
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::Reader;

    fn tone(partials: &[(f64, f64)]) -> Vec<f32> {
        let at = |i: usize| {
            partials
                .iter()
                .map(move |(hz, amplitude)| amplitude * (TAU * hz * i as f64 / 48e3).sin())
        };
        // A room is never silent.
        (0..4800).map(|i| (at(i).sum::<f64>() + 1e-5 * (i * i) as f64 % 1e-4) as f32).collect()
    }

    #[test]
    fn each_octave_is_told_with_its_share_of_the_power() {
        let found = octaves_now(&tone(&[(520.0, 0.3), (1040.0, 0.3)]), 48e3, 520.0).octaves;
        assert_eq!(found.len(), 2, "{found:?}");
        assert!((found[1].hz - 1040.0).abs() < 1.0);
        // Half the power each.
        assert!(found.iter().all(|octave| (octave.level_db + 3.01).abs() < 0.1), "{found:?}");
    }

    #[test]
    fn a_tone_without_even_partials_is_one_octave_and_silence_is_none() {
        let found = octaves_now(&tone(&[(520.0, 0.3), (1560.0, 0.1)]), 48e3, 520.0).octaves;
        assert_eq!(found.len(), 1, "{found:?}");
        let nothing = OctavesNow::default();
        assert_eq!(octaves_now(&[0.0; 4800], 48e3, 520.0), nothing);
        assert_eq!(octaves_now(&[], 48e3, 520.0), nothing);
    }

    /// The period is that of the stronger octave.
    #[test]
    fn the_low_octave_is_told_where_it_is_the_weaker_one() {
        let upper = [(1040.0, 0.3), (2080.0, 0.15), (3120.0, 0.1)];
        let lowest = |low: &[(f64, f64)]| {
            let found = octaves_now(&tone(&[&upper[..], low].concat()), 48e3, 1042.0);
            (found.octaves[0].hz, found.is_aligned)
        };
        let (hz, is_aligned) = lowest(&[(520.0, 0.06), (1560.0, 0.04)]);
        assert!((hz - 520.0).abs() < 0.5 && is_aligned, "{hz} {is_aligned}");
        let (hz, _) = lowest(&[]);
        assert!((hz - 1040.0).abs() < 1.0, "{hz}");
        // 28 cents too wide.
        let (hz, is_aligned) = lowest(&[(511.7, 0.06), (1535.1, 0.04), (2558.5, 0.03)]);
        assert!(hz < 600.0 && !is_aligned, "{hz} {is_aligned}");
    }

    /// The practice takes of the bench, as their truth has them; only the first crow, as it goes on.
    #[test]
    fn a_crow_is_shown_as_it_was_made() {
        for (name, octave_hz, is_aligned) in [
            ("anouk-7-good", 523.3, Some(true)),
            ("bram-4-unlocked", 523.3, Some(false)),
            ("bram-5-peep", 1046.5, None),
        ] {
            let file = format!("{}/demo-data/{name}.wav", env!("CARGO_MANIFEST_DIR"));
            let take = crate::take::read(file.as_ref(), Default::default()).unwrap();
            let mut reader =
                Reader::new(take.sample_rate_hz, &Default::default(), Default::default());
            let seconds = |s: f64| (s * f64::from(take.sample_rate_hz)) as usize;
            let mut shown = Vec::new();
            for piece in take.samples[..seconds(1.5)].chunks(seconds(0.1)) {
                reader.push(piece);
                shown.extend(Some(reader.octaves_now()).filter(|now| !now.octaves.is_empty()));
            }
            assert!(shown.len() >= 6, "{name}: {shown:?}");
            // While the octaves set in it may be shown otherwise.
            let steady = &shown[shown.len() - 5..];
            for now in steady {
                let cents = 1200.0 * (now.octaves[0].hz / octave_hz).log2();
                assert!(cents.abs() < 60.0, "{name}: {now:?}");
                assert!(is_aligned.is_none_or(|is| is == now.is_aligned), "{name}: {now:?}");
            }
        }
    }
}
