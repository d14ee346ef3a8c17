//! Where frames stand over the room, as runs: what may be sounds.

use super::floor::{Floor, RISE};
use super::frames::Frame;

/// Two sounds have at least this much floor between them.
const GAP_S: f64 = 0.15;
/// A frame hears a loud sound this long before it begins and after it ends, together.
const BLUR_S: f64 = 0.015;
/// What is over the floor for less than this is chance …
const CHANCE_S: f64 = 0.03;
/// … unless it is so many times over it (10 dB).
const CLEARLY: f32 = 10.0;

/// Runs of frames over the floor, first and last, with gaps shorter than [`GAP_S`] closed.
///
/// * `frames`: consecutive ones, each with its number.
/// * `frames_in`: how many frames so many seconds are.
pub fn loud_runs<'a>(
    frames: impl Iterator<Item = (u64, &'a Frame)>,
    floor: Option<&Floor>,
    frames_in: impl Fn(f64) -> u64,
) -> Vec<(u64, u64)> {
    let over = |frame: &Frame, times: f32| {
        floor.is_none_or(|floor| floor.is_exceeded(&frame.bands, times))
    };
    // First, last, and whether any of it is clearly over.
    let mut unbroken: Vec<(u64, u64, bool)> = Vec::new();
    for (index, frame) in frames.filter(|(_, frame)| over(frame, RISE)) {
        let clearly = over(frame, CLEARLY);
        match unbroken.last_mut() {
            Some((_, last, any)) if index == *last + 1 => (*last, *any) = (index, *any || clearly),
            _ => unbroken.push((index, index, clearly)),
        }
    }
    let mut runs: Vec<(u64, u64)> = Vec::new();
    // One frame alone over the floor is chance; its neighbours share most of its samples.
    for (first, last, clearly) in unbroken.into_iter().filter(|(first, last, _)| last > first) {
        match runs.last_mut() {
            Some(run) if first - run.1 < frames_in(GAP_S - BLUR_S) => run.1 = last,
            // Rumble comes up to the floor's limit now and then, for no longer than a frame sees it:
            // nothing begins with that.
            _ if clearly || last - first >= frames_in(CHANCE_S) => runs.push((first, last)),
            _ => {}
        }
    }
    runs
}
