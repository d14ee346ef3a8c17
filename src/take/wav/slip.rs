//! Samples that a recording holds some bytes off: something put bytes in, or took some out, so that all
//! that follows is cut into samples at the wrong place.
//!
//! What is cut so sounds as noise at full scale, since each sample begins with what were the last bits of
//! one; cut at the right place it is smooth again. Where the last bits of all samples were nothing, they are
//! so again. And a number with a point is not between what can be heard and what can be played by chance.

use std::ops::RangeInclusive;

use super::SampleFormat;

/// Frames that are looked at together, some milliseconds.
const FRAMES: usize = 128;
/// How far neighbours differ on average where samples are cut at the wrong place, full scale being ±1: by
/// 2/3 if they are even chances, give or take some 0.04 over so many.
const AS_NOISE: RangeInclusive<f64> = 0.5..=0.85;
/// Cut at the right place they differ by at most this share of that.
const SMOOTH: f64 = 0.125;
/// A number with a point is 0, or lies from what nobody hears to what nothing plays.
const PLAYED: RangeInclusive<f64> = 1e-15..=1e3;
/// So large a share of those that are cut at the wrong place do not.
const NOT_PLAYED: f64 = 0.2;

/// Fewer looks than this in a row see the place itself where samples are cut anew.
const SEAM_LOOKS: usize = 3;

/// A place from which on samples are to be cut otherwise.
#[derive(Debug, PartialEq, Eq)]
pub struct Slip {
    /// Where whole frames end, in bytes.
    pub at: usize,
    /// Bytes behind it that belong to no frame.
    pub bytes: usize,
}

/// What is known of a recording's samples from those that were read.
#[derive(Debug, Default)]
pub struct Slips {
    /// The lowest bytes of each sample that have been 0 in all of them; `None` before any sounded.
    empty: Option<usize>,
    /// Looks in a row at which they were not.
    filled: usize,
}

impl Slips {
    /// The first place from which on samples are cut wrongly; `None` where there is none that can be told.
    ///
    /// * `bytes`: whole frames.
    /// * `from`: where in them to begin, a whole number of frames.
    pub fn first(
        &mut self,
        bytes: &[u8],
        from: usize,
        sample_format: SampleFormat,
        channels: usize,
    ) -> Option<Slip> {
        let width = sample_format.bytes();
        if width < 2 {
            return None;
        }
        let frame = width * channels;
        let unit = FRAMES * frame;
        let mut at = from;
        // One unit more than is looked at, so that a moved one is whole too.
        while let Some(here) = bytes.get(at..at + unit + frame) {
            let begun = at.saturating_sub(2 * unit).max(from);
            let near = &bytes[begun..at + unit + frame];
            let slip = |by: usize, odd: &dyn Fn(usize) -> f64| {
                Some(Slip { at: begun + seam(near.len() / frame - 2, frame, by, odd), bytes: by })
            };
            if sample_format.is_float() {
                if let Some(by) = moved_number(here, width) {
                    return slip(by, &|at| f64::from(u8::from(!is_played(near, at, width))));
                }
            } else if let Some(by) = moved_to_smooth(here, width, frame) {
                return slip(by, &|at| {
                    (sample(near, at + frame, width) - sample(near, at, width)).abs()
                });
            } else if let Some(by) = self.moved_to_empty(here, width) {
                return slip(by, &|at| f64::from(u8::from(near[at] != 0)));
            }
            at += unit;
        }
        None
    }

    /// How many bytes on the samples' lowest bytes are as empty as they have been.
    fn moved_to_empty(&mut self, bytes: &[u8], width: usize) -> Option<usize> {
        if bytes.iter().all(|byte| *byte == 0) {
            return None;
        }
        let usual = empty_bytes(bytes, 0, width);
        let so_far = *self.empty.get_or_insert(usual);
        if usual >= so_far {
            self.filled = 0;
            return None;
        }
        let moved = (1..width).find(|by| empty_bytes(bytes, *by, width) >= so_far);
        // The next look tells whether samples begin to use their last bits or are cut at the wrong place.
        self.filled += 1;
        if moved.is_some() || self.filled > SEAM_LOOKS {
            self.filled = 0;
            self.empty = Some(if moved.is_some() { so_far } else { usual });
        }
        moved
    }
}

/// How many bytes on these samples are smooth that are noise as they are cut.
fn moved_to_smooth(bytes: &[u8], width: usize, frame: usize) -> Option<usize> {
    let usual = roughness(bytes, 0, width, frame);
    if !AS_NOISE.contains(&usual) {
        return None;
    }
    let moved = |by: &usize| roughness(bytes, *by, width, frame) <= SMOOTH * usual;
    (1..width).filter(moved).find(|by| has_both_signs(bytes, *by, width))
}

/// How many bytes on these numbers with a point can all be played that cannot as they are cut.
fn moved_number(bytes: &[u8], width: usize) -> Option<usize> {
    let not_played = |by: usize| {
        let places = || (by..).step_by(width).take_while(|at| at + width <= bytes.len());
        let odd = places().filter(|at| !is_played(bytes, *at, width)).count();
        odd as f64 / places().count() as f64
    };
    let is_cut_wrongly = not_played(0) > NOT_PLAYED;
    (1..width).find(|by| is_cut_wrongly && not_played(*by) == 0.0)
}

/// Whether a number with a point is one that is played.
fn is_played(bytes: &[u8], at: usize, width: usize) -> bool {
    let value = match bytes.get(at..at + width) {
        Some(&[a, b, c, d]) => f64::from(f32::from_le_bytes([a, b, c, d])),
        Some(&[a, b, c, d, e, f, g, h]) => f64::from_le_bytes([a, b, c, d, e, f, g, h]),
        _ => 0.0,
    };
    value == 0.0 || PLAYED.contains(&value.abs())
}

/// The lowest bytes of samples, cut so many bytes on, that are 0 in all of them.
fn empty_bytes(bytes: &[u8], by: usize, width: usize) -> usize {
    let is_empty = |n: usize| bytes[by + n..].iter().step_by(width).all(|byte| *byte == 0);
    (0..width).take_while(|n| is_empty(*n)).count()
}

/// A sample by its two highest bytes, full scale being ±1.
fn sample(bytes: &[u8], at: usize, width: usize) -> f64 {
    let high = at + width - 2;
    match bytes.get(high..high + 2) {
        Some(&[low, high]) => f64::from(i16::from_le_bytes([low, high])) / 32_768.0,
        _ => 0.0,
    }
}

/// How far samples of one channel differ from the next on average, cut so many bytes on.
fn roughness(bytes: &[u8], by: usize, width: usize, frame: usize) -> f64 {
    let differs = |at: usize| (sample(bytes, at + frame, width) - sample(bytes, at, width)).abs();
    let places = (by..).step_by(frame).take(FRAMES - 1);
    places.map(differs).sum::<f64>() / (FRAMES - 1) as f64
}

/// Numbers of 8 bits that were written as 16 have last bits that are all alike: cut a byte on they would
/// seem smooth too, but all of one sign.
fn has_both_signs(bytes: &[u8], by: usize, width: usize) -> bool {
    let places = || (by..).step_by(width).take(FRAMES);
    places().any(|at| sample(bytes, at, width) < 0.0)
        && places().any(|at| sample(bytes, at, width) > 0.0)
}

/// Where among so many frames those that are in order go over into those that are in order cut so many bytes
/// on.
///
/// * `odd`: how little in order a sample is that begins at this byte.
fn seam(frames: usize, frame: usize, by: usize, odd: &dyn Fn(usize) -> f64) -> usize {
    let odd_at = |n: usize, by: usize| odd(n * frame + by);
    let mut cost: f64 = (0..frames).map(|n| odd_at(n, by)).sum();
    let (mut least, mut best) = (cost, 0);
    for n in 0..frames {
        cost += odd_at(n, 0) - odd_at(n, by);
        if cost < least {
            (least, best) = (cost, n + 1);
        }
    }
    best * frame
}
