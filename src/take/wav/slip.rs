//! Samples that a recording holds some bytes off: something put bytes in, or took some out, so that all
//! that follows is cut into samples at the wrong place.
//!
//! What is cut so sounds as noise at full scale, since each sample begins with what were the last bits of
//! one; cut at the right place it is smooth again. Only whole numbers of two to four bytes can be told so.

use std::ops::RangeInclusive;

use super::SampleFormat;

/// Frames that are looked at together, some milliseconds.
const FRAMES: usize = 128;
/// How far neighbours differ on average where samples are cut at the wrong place, full scale being ±1: by
/// 2/3 if they are even chances, give or take some 0.04 over so many.
const AS_NOISE: RangeInclusive<f64> = 0.5..=0.85;
/// Cut at the right place they differ by at most this share of that.
const SMOOTH: f64 = 0.125;

/// A place from which on samples are to be cut otherwise.
#[derive(Debug, PartialEq, Eq)]
pub struct Slip {
    /// Where whole frames end, in bytes.
    pub at: usize,
    /// Bytes behind it that belong to no frame.
    pub bytes: usize,
}

/// The first place from which on samples are cut wrongly; `None` where there is none that can be told.
///
/// * `bytes`: whole frames.
/// * `from`: where in them to begin, a whole number of frames.
pub fn first(
    bytes: &[u8],
    from: usize,
    sample_format: SampleFormat,
    channels: usize,
) -> Option<Slip> {
    let width = sample_format.bytes();
    if sample_format.is_float() || width < 2 {
        return None;
    }
    let frame = width * channels;
    let unit = FRAMES * frame;
    let mut at = from;
    // One unit more than is looked at, so that a moved one is whole too.
    while let Some(here) = bytes.get(at..at + unit + frame) {
        let usual = roughness(here, 0, width, frame);
        if AS_NOISE.contains(&usual) {
            let moved = |by: &usize| roughness(here, *by, width, frame) <= SMOOTH * usual;
            let is_sound = |by: &usize| has_both_signs(here, *by, width);
            if let Some(by) = (1..width).filter(moved).find(is_sound) {
                let begun = at.saturating_sub(2 * unit).max(from);
                let at = seam(&bytes[begun..at + unit + frame], by, width, frame) + begun;
                return Some(Slip { at, bytes: by });
            }
        }
        at += unit;
    }
    None
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

/// Where in these bytes, in whole frames, what is smooth as it is goes over into what is smooth cut so
/// many bytes on.
fn seam(bytes: &[u8], by: usize, width: usize, frame: usize) -> usize {
    let frames = bytes.len() / frame - 2;
    let differs = |frames: usize, by: usize| {
        let at = frames * frame + by;
        (sample(bytes, at + frame, width) - sample(bytes, at, width)).abs()
    };
    let mut cost: f64 = (0..frames).map(|n| differs(n, by)).sum();
    let (mut least, mut best) = (cost, 0);
    for n in 0..frames {
        cost += differs(n, 0) - differs(n, by);
        if cost < least {
            (least, best) = (cost, n + 1);
        }
    }
    best * frame
}
