//! The pitches that are weighed, and where in a spectrum each has its partials.

use std::array;

use crate::dsp::spectrum::USABLE;

/// Pitches are this far apart.
pub const STEP_CENTS: f64 = 24.0;
/// The lowest.
const LOWEST_HZ: f64 = 90.0;
/// The highest.
const HIGHEST_HZ: f64 = 2000.0;
/// Partials of each.
const PARTIALS: usize = 12;
/// Partials higher than this say little and are the first that noise covers.
const TOP_HZ: f64 = 4600.0;
/// Power under this is the room's in most rooms.
const LEAST_HZ: f64 = 330.0;
/// Partials over this are missing in voices heard through a wall, and present in reeds.
const BRIGHT_HZ: f64 = 2000.0;
/// Power is lifted in proportion to frequency from here up: partials of a reed fall less steeply
/// than the noise of rooms.
const LIFT_HZ: f64 = 400.0;
/// States in an octave.
pub const OCTAVE: usize = 50;
/// The two tones of a crow may stand this far off 2:1 (96 cents).
const OFF_OCTAVE: usize = 4;

/// Places for the bins of a spectrum that are looked at, of which there are fewer: a power of two, so that a
/// mask keeps every place within them.
pub const PLACES: usize = 512;
/// The place that holds nothing.
const NOWHERE: u16 = PLACES as u16 - 1;

/// Places of one pitch's partials.
#[derive(Debug)]
struct Teeth {
    hz: f64,
    /// How many partials it has there.
    count: usize,
    /// Bin of each partial, and its weight.
    own: [u16; PARTIALS],
    weights: [f32; PARTIALS],
    /// Bins half way and a third of the way between partials.
    between: [Between; 3],
    /// Bins of the partials over [`BRIGHT_HZ`].
    bright: Vec<u32>,
    /// First bin and end of the power of odd partials, and of even ones; of nothing where there are fewer.
    odd: Bands,
    even: Bands,
}

/// First bins and ends of so many bands.
type Bands = [[u16; 2]; PARTIALS / 2];

/// Bins between partials.
#[derive(Debug)]
struct Between {
    bins: [u16; PARTIALS],
    /// One over how many there are.
    share: f32,
}

/// A value at each of some places.
fn values_at(values: &[f32; PLACES], places: [u16; PARTIALS]) -> [f32; PARTIALS] {
    places.map(|place| values[usize::from(place) % PLACES])
}

/// What is worked out on the way to the power that each pitch explains.
#[derive(Debug)]
pub struct Room {
    /// `[states]` power of odd partials, and of all.
    odd: Vec<f32>,
    all: Vec<f32>,
    /// The greatest of those near each.
    near: Vec<f32>,
}

impl Room {
    pub fn new(states: usize) -> Self {
        Self { odd: vec![0.0; states], all: vec![0.0; states], near: Vec::new() }
    }
}

/// All pitches for one width of bins.
#[derive(Debug)]
pub struct Comb {
    bin_hz: f64,
    bins: usize,
    counted: (usize, usize),
    teeth: Vec<Teeth>,
}

impl Comb {
    /// A twelfth and an octave, in states: a crow's third or second partial may stand out alone.
    pub const UNDER: [usize; 2] = [79, OCTAVE];

    /// For bins `bin_hz` wide of samples at `sample_rate_hz`.
    pub fn new(bin_hz: f64, sample_rate_hz: f64) -> Self {
        let top_hz = TOP_HZ.min(USABLE * sample_rate_hz);
        let bins = ((top_hz + 500.0).min(0.5 * sample_rate_hz) / bin_hz) as usize;
        debug_assert!(bins < PLACES, "{bins}");
        let count = (1200.0 * (HIGHEST_HZ / LOWEST_HZ).log2() / STEP_CENTS) as usize + 1;
        let place = |hz: f64| ((hz / bin_hz).round() as usize).min(bins - 2) as u32;
        let teeth = (0..count)
            .map(|state| {
                let hz = LOWEST_HZ * f64::exp2(state as f64 * STEP_CENTS / 1200.0);
                let at = |shift: f64| -> Vec<(usize, f64)> {
                    let all = (1..=PARTIALS).map(|n| (n, (n as f64 - shift) * hz));
                    all.filter(|(_, f)| *f < top_hz && *f > 80.0).collect()
                };
                let own = at(0.0);
                let sum: f64 = own.iter().map(|(n, _)| 1.0 / (*n as f64).sqrt()).sum();
                let weigh = |n: usize| (1.0 / (n as f64).sqrt() / sum) as f32;
                let places = |of: &[(usize, f64)]| -> [u16; PARTIALS] {
                    array::from_fn(|i| of.get(i).map_or(NOWHERE, |(_, f)| place(*f) as u16))
                };
                let between = |shift| {
                    let of = at(shift);
                    Between { bins: places(&of), share: 1.0 / of.len().max(1) as f32 }
                };
                // As wide as the window's main lobe and half a state.
                let bands = |parity: usize| -> Bands {
                    let counts = |(n, f): &&(usize, f64)| n % 2 == parity && *f > LEAST_HZ;
                    let mut bands = own.iter().filter(counts).map(|(_, f)| {
                        let half = 1.6 + 0.008 * f / bin_hz;
                        let from = (f / bin_hz - half).round().max(0.0) as u16;
                        [from, place(f + half * bin_hz) as u16 + 1]
                    });
                    array::from_fn(|_| bands.next().unwrap_or_default())
                };
                Teeth {
                    hz,
                    odd: bands(1),
                    even: bands(0),
                    bright: own
                        .iter()
                        .filter(|(_, f)| *f > BRIGHT_HZ)
                        .map(|p| place(p.1))
                        .collect(),
                    between: [0.5, 1.0 / 3.0, 2.0 / 3.0].map(between),
                    weights: array::from_fn(|i| own.get(i).map_or(0.0, |(n, _)| weigh(*n))),
                    own: places(&own),
                    count: own.len(),
                }
            })
            .collect();
        let counted =
            ((LEAST_HZ / bin_hz).ceil() as usize, bins.min((TOP_HZ / bin_hz) as usize + 6));
        Self { bin_hz, bins, counted, teeth }
    }

    /// Bins of a spectrum that are looked at.
    pub fn bins(&self) -> usize {
        self.bins
    }

    /// Number of pitches.
    pub fn states(&self) -> usize {
        self.teeth.len()
    }

    /// Frequency of a pitch.
    pub fn hz(&self, state: usize) -> f64 {
        self.teeth[state].hz
    }

    /// Weighted mean of `over_floor` at the partials of a pitch.
    pub fn height(&self, state: usize, over_floor: &[f32; PLACES]) -> f32 {
        let teeth = &self.teeth[state];
        values_at(over_floor, teeth.own).iter().zip(&teeth.weights).map(|(o, w)| o * w).sum()
    }

    /// The best of the means in between.
    pub fn height_between(&self, state: usize, over_floor: &[f32; PLACES]) -> f32 {
        let mean = |between: &Between| {
            values_at(over_floor, between.bins).iter().sum::<f32>() * between.share
        };
        self.teeth[state].between.iter().map(mean).fold(f32::MIN, f32::max)
    }

    /// Mean of what stands over the floor at the partials over 2 kHz.
    pub fn bright(&self, state: usize, over_floor: &[f32]) -> f32 {
        let bins = &self.teeth[state].bright;
        bins.iter().map(|bin| over_floor[*bin as usize].max(0.0)).sum::<f32>()
            / bins.len().max(1) as f32
    }

    /// Weight of a bin's power.
    pub fn lift(&self, bin: usize) -> f32 {
        (bin as f64 * self.bin_hz / LIFT_HZ).max(1.0) as f32
    }

    /// Power that each pitch explains, of its own partials or with those of a tone about an octave
    /// above or below, and all the power there is.
    ///
    /// * `sums`: lifted power under each bin and under the end of the last.
    /// * `explained`: receives `[states]`.
    pub fn explained(
        &self,
        sums: &[f32; PLACES],
        Room { odd, all, near }: &mut Room,
        explained: &mut [f32],
    ) -> f32 {
        let under = |place: u16| sums[usize::from(place) % PLACES];
        // As many for each pitch, of nothing where there are fewer: quicker than to count them.
        let within = |bands: Bands| -> f32 {
            bands.map(|[from, to]| under(to) - under(from)).into_iter().sum()
        };
        for ((teeth, odd), all) in self.teeth.iter().zip(odd.iter_mut()).zip(all.iter_mut()) {
            *odd = within(teeth.odd);
            *all = *odd + within(teeth.even);
        }
        explained.copy_from_slice(all);
        greatest_near(all, near);
        for ((explained, odd), above) in explained.iter_mut().zip(&*odd).zip(&near[OCTAVE..]) {
            *explained = explained.max(odd + above);
        }
        greatest_near(odd, near);
        for ((explained, all), below) in
            explained[OCTAVE..].iter_mut().zip(&all[OCTAVE..]).zip(&*near)
        {
            *explained = explained.max(all + below);
        }
        sums[self.counted.1] - sums[self.counted.0]
    }

    /// Frequency near a pitch by its partials that stand out, each at the middle of its power.
    pub fn refined_hz(&self, state: usize, density: &[f32], over_floor: &[f32]) -> f64 {
        let teeth = &self.teeth[state];
        let (mut sum, mut weights) = (0.0, 0.0);
        for &bin in teeth.own.iter().take(teeth.count.min(8)) {
            let place = f64::from(bin) * self.bin_hz;
            let number = (place / teeth.hz).round();
            let reach = 1 + (0.014 * number * teeth.hz / self.bin_hz) as usize;
            let bin = usize::from(bin);
            let near = bin.saturating_sub(reach).max(1)..(bin + reach + 1).min(self.bins - 1);
            let Some(peak) = near.max_by(|a, b| density[*a].total_cmp(&density[*b])) else {
                continue;
            };
            let (left, middle, right) = (density[peak - 1], density[peak], density[peak + 1]);
            if over_floor[peak] < 3.0
                || left > middle
                || right > middle
                || left <= 0.0
                || right <= 0.0
            {
                continue;
            }
            // Of a Hann window the logarithms of three bins lie near a parabola.
            let (a, b, c) = (left.ln(), middle.ln(), right.ln());
            let off = f64::from(0.5 * (a - c) / (a - 2.0 * b + c).min(-1e-6));
            let weight = number * f64::from(over_floor[peak]);
            sum += weight * (peak as f64 + off.clamp(-0.5, 0.5)) * self.bin_hz / number;
            weights += weight;
        }
        if weights > 0.0 { sum / weights } else { teeth.hz }
    }
}

/// The greatest of the values within [`OFF_OCTAVE`] of each place, also of those places beyond the last.
fn greatest_near(values: &[f32], greatest: &mut Vec<f32>) {
    greatest.clear();
    greatest.resize(values.len() + OFF_OCTAVE, 0.0);
    for shift in 0..=OFF_OCTAVE {
        let before = values.iter().skip(shift);
        greatest.iter_mut().zip(before).for_each(|(most, value)| *most = greater(*most, *value));
        let after = greatest.iter_mut().skip(shift);
        after.zip(values).for_each(|(most, value)| *most = greater(*most, *value));
    }
}

/// The greater of two numbers, in one instruction.
pub fn greater(one: f32, other: f32) -> f32 {
    if other > one { other } else { one }
}
