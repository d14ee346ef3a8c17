//! Where a recording was cut and joined, or lost or doubled some of its samples, within a crow.
//!
//! A tone repeats itself from period to period. Where samples are missing, all its partials jump in
//! phase at once, by as much time: for exactly one period the sound differs from what it was a period
//! before, and from then on repeats again, at another place of its period. A knock or a cough differs
//! too, and afterwards the tone stands where it would have stood; a reed that changes its mind goes over
//! to another sound, which is not the one before. Neither is a splice.

use std::ops::Range;

use super::find::sound::Sound;
use crate::dsp::statistics::median;

/// Partials over this say little here and are the first to differ from period to period, in hertz.
const TOP_HZ: f64 = 3000.0;
/// Periods to either side in which the tone must repeat.
const ROUND: usize = 8;
/// Least share of the power that differs in the period after a splice …
const LEAST: f64 = 0.004;
/// … and how many times more it is than in any period around.
const TIMES: f64 = 6.0;
/// What repeats no better than this is not a tone to judge by, as a share of the power that differs.
const MOST: f64 = 0.15;
/// Both sides are the same tone, moved: what is left when one is laid over the other at the best place is
/// at most this share of what is left at the place where it would have been.
const MOVED: f64 = 0.35;
/// The octave below may come in again on its other foot, half a period on; that is the reed's doing. In
/// shares of a period.
const HALF: f64 = 0.04;
/// One of so many samples tells how well a period fits, at least as many as a cubic goes through.
const EVERY: usize = 5;
/// Smaller moves are no jump, in samples of the thinned sound.
const LEAST_MOVE: f64 = 0.7;

/// The sound without what lies beyond its splices: the longest stretch between two of them, with the
/// bounds of the whole; and whether there were any.
pub fn without_splices(sound: Sound, sample_rate_hz: f64) -> (Sound, bool) {
    let found = splices(&sound, sample_rate_hz);
    if found.is_empty() {
        return (sound, false);
    }
    let at = |seconds: f64| ((seconds - sound.offset_s) * sample_rate_hz).max(0.0) as usize;
    let (start, end) = (at(sound.start_s), at(sound.end_s).min(sound.samples.len()));
    let bounds: Vec<usize> =
        std::iter::once(start).chain(found.iter().copied()).chain([end]).collect();
    let stretches = bounds.windows(2).map(|pair| pair[0]..pair[1]);
    let Some(longest) = stretches.max_by_key(ExactSizeIterator::len) else { return (sound, false) };
    // Places are told to a period; a crow's longest is under 10 ms.
    let room = (0.01 * sample_rate_hz) as usize;
    let from = if longest.start == start { 0 } else { longest.start + room };
    let to = if longest.end == end { sound.samples.len() } else { longest.end - room };
    if to <= from {
        return (sound, true);
    }
    (part(sound, from..to, sample_rate_hz), true)
}

fn part(sound: Sound, kept: Range<usize>, sample_rate_hz: f64) -> Sound {
    let from_s = sound.offset_s + kept.start as f64 / sample_rate_hz;
    let to_s = sound.offset_s + kept.end as f64 / sample_rate_hz;
    let periods = sound.periods.iter().filter(|(at, _)| (from_s..=to_s).contains(at));
    Sound {
        periods: periods.copied().collect(),
        samples: sound.samples.get(kept.clone()).unwrap_or_default().to_vec(),
        offset_s: from_s,
        // How it began is not in what is left.
        by_tone: sound.by_tone || kept.start > 0,
        ..sound
    }
}

/// Places of splices in the samples of a sound, to about a period.
fn splices(sound: &Sound, sample_rate_hz: f64) -> Vec<usize> {
    // Nothing over the partials looked at needs more samples than these.
    let thinned = ((sample_rate_hz / (4.0 * TOP_HZ)).floor() as usize).max(1);
    let smooth = smoothed(&sound.samples, sample_rate_hz, thinned);
    let hz = median(sound.periods.iter().map(|(_, period)| period.hz));
    let period = hz.and_then(|hz| period(&smooth, sample_rate_hz / thinned as f64 / hz));
    let Some(period) = period else { return Vec::new() };
    let found = moves(&smooth, period);
    found.into_iter().map(|place| place * thinned).collect()
}

/// Where the sound jumps from one place of its period to another.
fn moves(smooth: &[f64], period: f64) -> Vec<usize> {
    let sums = running(differing(smooth, period).into_iter().zip(smooth.iter().map(|x| x * x)));
    let long = period.round() as usize;
    let step = (long / 8).max(1);
    // The share of power that differs within the period that begins at each step.
    let shares: Vec<f64> = (0..smooth.len().saturating_sub(2 * long) / step)
        .map(|n| {
            let (from, to) = (n * step + long, n * step + 2 * long);
            let (rest, power) = (sums[to].0 - sums[from].0, sums[to].1 - sums[from].1);
            if power > 0.0 { rest / power } else { f64::INFINITY }
        })
        .collect();
    let mut found: Vec<usize> = Vec::new();
    let side = ROUND * long / step;
    // A window that touches the splice at all differs; those a period and a half away do not.
    let clear = long * 3 / 2 / step;
    let mut n = side;
    while n + side < shares.len() {
        let here = shares[n];
        let is_peak = || shares[n - clear.min(n)..n + clear].iter().all(|other| *other <= here);
        let around = || {
            let before = &shares[n - side..n - clear];
            let after = &shares[n + clear..n + side];
            before.iter().chain(after).copied().fold(0.0, f64::max)
        };
        if here >= LEAST && is_peak() {
            let around = around();
            let place = n * step + long;
            if around <= MOST && here >= TIMES * around && is_moved(smooth, place, period) {
                found.push(place);
                n += side;
                continue;
            }
        }
        n += 1;
    }
    found
}

/// Sums of two series before each place and after the last.
fn running(values: impl Iterator<Item = (f64, f64)>) -> Vec<(f64, f64)> {
    let mut sums = (0.0, 0.0);
    let after = values.map(|(one, other)| {
        sums = (sums.0 + one, sums.1 + other);
        sums
    });
    std::iter::once((0.0, 0.0)).chain(after).collect()
}

/// The period of the tone in samples: about `told`, or twice that where the sound repeats only then.
fn period(smooth: &[f64], told: f64) -> Option<f64> {
    let middle = smooth.len() / 4..smooth.len() * 3 / 4;
    [1.0, 2.0]
        .into_iter()
        .map(|times| fine(smooth, middle.clone(), told * times))
        // The longer one must be clearly better: a single tone repeats after two periods as well.
        .reduce(|one, two| if two.1 < 0.5 * one.1 { two } else { one })
        .map(|(period, _)| period)
        .filter(|period| *period >= 4.0)
}

/// The period near `about` after which the sound within `range` differs least, and by how much.
fn fine(samples: &[f64], range: Range<usize>, about: f64) -> (f64, f64) {
    let (coarse, fine) = ((5e-3, 8), (1e-3, 4));
    let reach = |(step, steps): (f64, i32)| step * f64::from(steps);
    let farthest = |sign: f64| about * (1.0 + sign * reach(coarse)) * (1.0 + sign * reach(fine));
    let products = Products::new(samples, range, farthest(-1.0)..farthest(1.0));
    let best = |about: f64, (step, steps): (f64, i32)| {
        let tried = (-steps..=steps).map(|n| about * (1.0 + f64::from(n) * step));
        let tried = tried.map(|period| (period, products.rest(period)));
        tried.reduce(|one, two| if two.1 < one.1 { two } else { one }).unwrap_or((about, 0.0))
    };
    best(best(about, coarse).0, fine)
}

/// Sums of products of some of the samples and of those some periods before, of which what they differ by
/// follows for any period: they are fewer than periods are tried.
struct Products {
    /// The sum of the squares of those samples.
    own: f64,
    /// The samples before lie from so many before on …
    reach: usize,
    /// … up to the nearest: of each, in this order, the sum of products with the sample itself …
    with_own: Vec<f64>,
    /// … and with those that lie 0, 1, 2 and 3 later.
    with_next: [Vec<f64>; 4],
}

impl Products {
    /// For periods within `periods`.
    fn new(samples: &[f64], range: Range<usize>, periods: Range<f64>) -> Self {
        let reach = Before::new(periods.end).reach;
        let count = reach + 4 - Before::new(periods.start).reach;
        let mut own = 0.0;
        let mut with_own = vec![0.0; count];
        let mut with_next = std::array::from_fn(|_| vec![0.0; count]);
        for at in range.step_by(EVERY) {
            let Some(before) =
                at.checked_sub(reach).and_then(|from| samples.get(from..from + count))
            else {
                continue;
            };
            let Some(here) = samples.get(at) else { break };
            own += here * here;
            for (sum, before) in with_own.iter_mut().zip(before) {
                *sum += here * before;
            }
            for (later, sums) in with_next.iter_mut().enumerate() {
                let pairs = before.iter().zip(&before[later..]);
                sums.iter_mut().zip(pairs).for_each(|(sum, (one, other))| *sum += one * other);
            }
        }
        Self { own, reach, with_own, with_next }
    }

    /// The sum of squares of what the samples differ by from the sound one `period` before.
    fn rest(&self, period: f64) -> f64 {
        let Before { reach, weights } = Before::new(period);
        let first = self.reach - reach;
        let mut rest = self.own;
        for (i, weight) in weights.iter().enumerate() {
            rest -= 2.0 * weight * self.with_own[first + i];
            for (j, other) in weights.iter().enumerate().skip(i) {
                let times = if i == j { 1.0 } else { 2.0 };
                rest += times * weight * other * self.with_next[j - i][first + i];
            }
        }
        rest
    }
}

/// Squares of what each sample differs by from the sound one period before, the pitch followed.
fn differing(samples: &[f64], period: f64) -> Vec<f64> {
    let block = (24.0 * period) as usize;
    let mut squares = Vec::with_capacity(samples.len());
    while squares.len() < samples.len() {
        let range = squares.len()..(squares.len() + block.max(1)).min(samples.len());
        let (local, _) = fine(samples, range.clone(), period);
        let before = Before::new(local);
        squares.extend(range.map(|at| {
            let there = at.checked_sub(before.reach).and_then(|from| samples.get(from..));
            there.map_or(0.0, |there| (samples[at] - before.of(there)).powi(2))
        }));
    }
    squares
}

/// The sound one period before, along a cubic through the four samples about it.
struct Before {
    /// The first of the four lies so many samples before.
    reach: usize,
    weights: [f64; 4],
}

impl Before {
    fn new(period: f64) -> Self {
        let whole = period.floor();
        let part = period - whole;
        let (square, cube) = (part * part, part * part * part);
        Self {
            reach: whole as usize + 2,
            weights: [
                0.5 * (cube - square),
                0.5 * (part + 4.0 * square - 3.0 * cube),
                1.0 + 0.5 * (3.0 * cube - 5.0 * square),
                0.5 * (2.0 * square - cube - part),
            ],
        }
    }

    /// What it was, where `samples` begins with the first of the four.
    fn of(&self, samples: &[f64]) -> f64 {
        let four = samples.first_chunk().unwrap_or(&[0.0; 4]);
        let [a, b, c, d] = std::array::from_fn(|i| self.weights[i] * four[i]);
        (a + b) + (c + d)
    }
}

/// Without what lies over [`TOP_HZ`], by a Hann window; each so many samples one is kept.
fn smoothed(samples: &[f32], sample_rate_hz: f64, thinned: usize) -> Vec<f64> {
    let half = ((sample_rate_hz / TOP_HZ / 2.0).round() as usize).max(1);
    let weights: Vec<f64> = (0..=2 * half)
        .map(|n| {
            let turn = std::f64::consts::TAU * (n + 1) as f64 / (2 * half + 2) as f64;
            1.0 - turn.cos()
        })
        .collect();
    let whole: f64 = weights.iter().sum();
    (0..samples.len())
        .step_by(thinned)
        .map(|at| {
            let from = at.saturating_sub(half);
            let about = samples.get(from..(at + half + 1).min(samples.len())).unwrap_or_default();
            // At the ends a part of the window hangs over.
            weighted(&weights[half - (at - from)..], about) / whole
        })
        .collect()
}

/// The sum of `samples`, each by its weight.
fn weighted(weights: &[f64], samples: &[f32]) -> f64 {
    // Four sums side by side do not wait for each other.
    let mut sums = [0.0; 4];
    let (fours, of_fours) = (weights.as_chunks::<4>(), samples.as_chunks::<4>());
    for (weights, samples) in fours.0.iter().zip(of_fours.0) {
        for i in 0..4 {
            sums[i] += weights[i] * f64::from(samples[i]);
        }
    }
    let place = 4 * fours.0.len().min(of_fours.0.len());
    let rest = weights[place..].iter().zip(&samples[place..]);
    sums.iter().sum::<f64>() + rest.map(|(w, x)| w * f64::from(*x)).sum::<f64>()
}

/// Whether the sound after `place` is the one before it, at another place of its period.
fn is_moved(samples: &[f64], place: usize, period: f64) -> bool {
    let round = place.saturating_sub((6.0 * period) as usize)..place;
    let (period, _) = fine(samples, round, period);
    let long = period.round() as usize;
    // From half a period after the join on, so that wherever exactly it lies it is in neither.
    let (before, after) = (place.checked_sub(3 * long), place + 2 * long);
    let (Some(before), Some(after)) = (
        before.and_then(|from| samples.get(from..from + 2 * long)),
        samples.get(after..after + 3 * long),
    ) else {
        return false;
    };
    let rest = |lag: usize| -> f64 {
        before.iter().zip(&after[lag..]).map(|(a, b)| (a - b).powi(2)).sum::<f64>()
    };
    let Some((best, least)) = (0..long)
        .map(|lag| (lag, rest(lag)))
        .reduce(|one, two| if two.1 < one.1 { two } else { one })
    else {
        return false;
    };
    // Where it would stand without a splice: some whole periods on.
    let due = (5.0 * period).round() - 5.0 * long as f64;
    let due = due.rem_euclid(period);
    let apart = (best as f64 - due).rem_euclid(period);
    let apart = apart.min(period - apart);
    let power: f64 = before.iter().map(|x| x * x).sum();
    let half = (apart / period - 0.5).abs() < HALF;
    let unmoved = rest((due.round() as usize).min(long - 1));
    apart > LEAST_MOVE && !half && least <= MOVED * unmoved && least <= MOST * power
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dsp::periodicity::Period;

    const RATE: f64 = 48_000.0;

    /// Partials of `hz`, the odd ones weaker, with breath and a drift, all phases from one course.
    fn crow(hz: f64, noise: f64, cents_per_s: f64) -> Vec<f32> {
        let mut seed = 7_u64;
        let mut phase = 0.0;
        (0..48_000)
            .map(|n| {
                let s = f64::from(n) / RATE;
                phase += hz * (cents_per_s * s / 1200.0).exp2() / RATE;
                let tone: f64 = (1..=12)
                    .map(|m| {
                        let level = if m % 2 == 1 { 0.2 } else { 1.0 } / f64::from(m);
                        level * (std::f64::consts::TAU * phase * f64::from(m) + f64::from(m)).sin()
                    })
                    .sum();
                // Knuth's MMIX constants, from memory.
                seed = seed
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                let even = (seed >> 11) as f64 / (1_u64 << 53) as f64 - 0.5;
                (0.2 * tone + noise * even) as f32
            })
            .collect()
    }

    fn sound(samples: Vec<f32>, hz: f64) -> Sound {
        let end_s = samples.len() as f64 / RATE;
        let frames = (end_s * 100.0) as usize;
        Sound {
            start_s: 0.0,
            end_s,
            offset_s: 0.0,
            samples,
            before: Vec::new(),
            periods: (0..frames)
                .map(|n| (n as f64 / 100.0, Period { hz, correlation: 0.95 }))
                .collect(),
            floor: None,
            tonal: true,
            crest: 1.0,
            high_share: 0.5,
            cut: false,
            by_tone: false,
            followed: false,
        }
    }

    /// Wherever and however much: missing samples, doubled ones, of clean and of airy crows, also where
    /// the frames tell the upper octave's period.
    #[test]
    fn missing_and_doubled_samples_are_found_where_they_are() {
        for (hz, told) in [(512.0, 1024.0), (512.0, 512.0), (466.2, 932.4), (233.1, 466.2)] {
            for (at, by) in
                [(20_000, -37), (20_011, -20), (15_000, 500), (30_123, 26), (24_000, -4321)]
            {
                let mut samples = crow(hz, 0.02, 0.0);
                if by < 0 {
                    samples.drain(at..at + (-by as usize));
                } else {
                    let doubled = samples[at - by as usize..at].to_vec();
                    samples.splice(at..at, doubled);
                }
                let moved = (f64::from(by).abs() / RATE * hz).fract();
                let apart = moved.min(1.0 - moved);
                if (0.44..=0.56).contains(&apart) || apart < 0.05 {
                    continue;
                }
                let found = splices(&sound(samples, told), RATE);
                assert_eq!(found.len(), 1, "{hz} Hz, {by} at {at}: {found:?}");
                let off = found[0].abs_diff(at) as f64;
                assert!(off < 1.2 * RATE / hz, "{hz} Hz, {by} at {at}: {found:?}");
            }
        }
    }

    #[test]
    fn what_is_whole_is_left_whole() {
        for (hz, noise, drift) in
            [(512.0, 0.0, 0.0), (512.0, 0.2, 0.0), (466.0, 0.02, 60.0), (330.0, 0.05, -120.0)]
        {
            let samples = crow(hz, noise, drift);
            assert_eq!(splices(&sound(samples.clone(), 2.0 * hz), RATE), [0_usize; 0]);
            // A knock moves nothing.
            let mut knocked = samples.clone();
            for (n, sample) in knocked[20_000..20_080].iter_mut().enumerate() {
                *sample += 0.5 * (n as f32 * 0.7).sin();
            }
            assert_eq!(splices(&sound(knocked, hz), RATE), [0_usize; 0]);
            // Nor does the octave below that comes in on its other foot.
            let half = (RATE / hz / 2.0).round() as usize;
            let mut slipped = samples;
            slipped.drain(20_000..20_000 + half);
            assert_eq!(splices(&sound(slipped, 2.0 * hz), RATE), [0_usize; 0], "{hz}");
        }
    }

    #[test]
    fn the_longest_stretch_is_kept_and_bounds_stay() {
        let mut samples = crow(512.0, 0.01, 0.0);
        samples.drain(12_000..12_040);
        let (kept, found) = without_splices(sound(samples, 512.0), RATE);
        assert!(found && kept.by_tone && kept.start_s == 0.0);
        assert!((kept.offset_s - 0.26).abs() < 0.005, "{}", kept.offset_s);
        assert!(kept.periods.iter().all(|(at, _)| *at >= kept.offset_s));
        let (whole, found) = without_splices(sound(crow(512.0, 0.01, 0.0), 512.0), RATE);
        assert!(!found && !whole.by_tone);
    }
}
