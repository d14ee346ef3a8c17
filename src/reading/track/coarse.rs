//! A first idea of the pitch of a sound over time, octaves not yet decided.

use std::ops::Range;

use crate::dsp::periodicity::Period;
use crate::dsp::statistics::{line, median, quantile_in_place};

/// Course of the strongest period of a sound.
#[derive(Debug, Clone, PartialEq)]
pub struct CoarseTrack {
    /// Moments in seconds of the take, ascending, with the frequency there in hertz.
    pub knots: Vec<(f64, f64)>,
    /// Share of the tonal frames that follow the course, up to octaves.
    pub agreement: f64,
}

/// Frames on each side that a moment's pitch is the median of.
const REACH: usize = 4;
/// A frame farther from the course than this, octaves aside, does not belong to it.
const OUTLIER_OCTAVES: f64 = 150.0 / 1200.0;
/// No crow wanders farther than this from its commonest pitch; frames that seem to have heard the
/// period of some of its partials only.
const FAR_OCTAVES: f64 = 250.0 / 1200.0;

/// Where two tones off the octave sound, now one and now the other has the strongest period: a course that leaps
/// farther than this from one frame to the next, and back again, …
const LEAP_OCTAVES: f64 = 100.0 / 1200.0;
/// … is that of the one most frames have heard, within this.
const COMMON_OCTAVES: f64 = 100.0 / 1200.0;

/// A course goes on where it has so many frames …
const GOES_ON: usize = 4;
/// … in this time, about every other of those tested, …
const GOES_ON_S: f64 = 0.07;
/// … each with this share of the correlation that a quarter of all frames exceed.
const CLEAR_SHARE: f64 = 0.6;
const CLEAR_QUANTILE: f64 = 0.75;

impl CoarseTrack {
    /// From the periods of tonal frames (moments in seconds, ascending). `None` without any.
    ///
    /// A crow in octaves repeats at the period of its low and, nearly as well, of its high octave,
    /// and frames flip between the two; all are folded into the octave most frames agree on.
    pub fn new(periods: &[(f64, Period)]) -> Option<Self> {
        let octaves: Vec<f64> = periods.iter().map(|(_, p)| p.hz.log2()).collect();
        let common = most_common(&octaves)?;
        let folded: Vec<f64> = octaves.iter().map(|o| o - (o - common).round()).collect();
        let smooth: Vec<f64> = (0..folded.len())
            .filter_map(|i| {
                let window = &folded[i.saturating_sub(REACH)..(i + REACH + 1).min(folded.len())];
                median(window.iter().copied())
            })
            .collect();
        let follows: Vec<bool> = folded
            .iter()
            .zip(&smooth)
            .map(|(f, s)| (f - s).abs() < OUTLIER_OCTAVES && (s - common).abs() < FAR_OCTAVES)
            .collect();
        let following = || {
            let all = periods.iter().zip(&smooth).zip(&follows);
            all.filter(|(_, follows)| **follows).map(|(frame, _)| frame)
        };
        let heard: Vec<(f64, f64)> = following().map(|((time, _), o)| (*time, *o)).collect();
        let knots: Vec<(f64, f64)> =
            without_leaps(&heard, common).into_iter().map(|(time, o)| (time, o.exp2())).collect();
        let correlations: Vec<f64> = following().map(|((_, p), _)| p.correlation).collect();
        let agreement = knots.len() as f64 / periods.len() as f64;
        let knots = knots[without_strays(&knots, &correlations)].to_vec();
        (!knots.is_empty()).then_some(Self { knots, agreement })
    }

    /// From the first to the last frame of the course, in seconds.
    pub fn span_s(&self) -> f64 {
        match (self.knots.first(), self.knots.last()) {
            (Some(first), Some(last)) => last.0 - first.0,
            _ => 0.0,
        }
    }

    /// Frequency at `time_s`, interpolated; held beyond the ends.
    pub fn at(&self, time_s: f64) -> f64 {
        interpolated(&self.knots, time_s)
    }

    /// The same course without its ripple: the straight line through it, on a scale of cents.
    pub fn straightened(&self) -> Self {
        let (times, octaves): (Vec<f64>, Vec<f64>) =
            self.knots.iter().map(|(time, hz)| (*time, hz.log2())).unzip();
        let straight = line(&times, &octaves);
        self.map(|time_s, hz| straight.map_or(hz, |line| line.at(time_s).exp2()))
    }

    /// The same course with its frequencies turned into `correct(time_s, hz)`.
    pub fn map(&self, correct: impl Fn(f64, f64) -> f64) -> Self {
        Self {
            knots: self.knots.iter().map(|&(t, f)| (t, correct(t, f))).collect(),
            agreement: self.agreement,
        }
    }
}

/// A course, as moments and octaves, that keeps to the pitch most frames have heard where it leaps away from it
/// and back.
///
/// * `common`: that pitch, in octaves.
fn without_leaps(course: &[(f64, f64)], common: f64) -> Vec<(f64, f64)> {
    let runs: Vec<&[(f64, f64)]> =
        course.chunk_by(|a, b| (b.1 - a.1).abs() < LEAP_OCTAVES).collect();
    let is_common = |run: &&[(f64, f64)]| {
        median(run.iter().map(|(_, o)| *o)).is_some_and(|o| (o - common).abs() < COMMON_OCTAVES)
    };
    let first = runs.iter().position(is_common);
    let last = runs.iter().rposition(is_common);
    let Some((first, last)) = first.zip(last).filter(|(first, last)| last - first >= 2) else {
        return course.to_vec();
    };
    let kept: Vec<(f64, f64)> = runs[first..=last]
        .iter()
        .filter(|run| is_common(run))
        .copied()
        .flatten()
        .copied()
        .collect();
    let course = course.iter().map(|(time, _)| (*time, interpolated(&kept, *time)));
    course.collect()
}

/// What lies between knots at `time_s`; held beyond the ends.
fn interpolated(knots: &[(f64, f64)], time_s: f64) -> f64 {
    let after = knots.partition_point(|(t, _)| *t < time_s);
    match (after.checked_sub(1).and_then(|i| knots.get(i)), knots.get(after)) {
        (Some(&(t0, f0)), Some(&(t1, f1))) if t1 > t0 => f0 + (f1 - f0) * (time_s - t0) / (t1 - t0),
        (Some(&(_, f)), _) | (None, Some(&(_, f))) => f,
        (None, None) => f64::NAN,
    }
}

/// From where the course begins to go on to where it ends: air before and after a tone seems to
/// have its pitch now and then, and for a while, but less clearly.
fn without_strays(knots: &[(f64, f64)], correlations: &[f64]) -> Range<usize> {
    let typical = quantile_in_place(&mut correlations.to_vec(), CLEAR_QUANTILE);
    let clear = CLEAR_SHARE * typical.unwrap_or(0.0);
    let goes_on = |i: &usize| {
        let last = i + GOES_ON - 1;
        knots[last].0 - knots[*i].0 <= GOES_ON_S
            && correlations[*i..=last].iter().all(|correlation| *correlation >= clear)
    };
    let places = 0..(knots.len() + 1).saturating_sub(GOES_ON);
    let first = places.clone().find(goes_on);
    let last = places.rev().find(goes_on).map(|i| i + GOES_ON);
    first.unwrap_or(0)..last.unwrap_or(knots.len())
}

/// The octave (log2 of hertz) within a semitone of which most values lie.
fn most_common(octaves: &[f64]) -> Option<f64> {
    let near = |centre: f64| octaves.iter().filter(move |o| (*o - centre).abs() < 1.0 / 12.0);
    let centre = octaves.iter().copied().max_by_key(|o| near(*o).count())?;
    median(near(centre).copied())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn period(hz: f64) -> Period {
        Period { hz, correlation: 0.9 }
    }

    #[test]
    fn frames_that_flip_between_octaves_make_one_course() {
        let periods: Vec<(f64, Period)> = (0..60)
            .map(|i| (f64::from(i) * 0.01, period(if i % 3 == 0 { 520.0 } else { 1040.0 })))
            .collect();
        let track = CoarseTrack::new(&periods).unwrap();
        assert_eq!(track.agreement, 1.0);
        assert!((track.at(0.3) - 1040.0).abs() < 1e-6);
        assert!((track.at(-1.0) - 1040.0).abs() < 1e-6);
    }

    #[test]
    fn a_course_that_leaps_to_another_tone_and_back_keeps_to_the_one_most_frames_have_heard() {
        let leaping = |frames: &[(usize, f64)]| {
            let all = frames.iter().flat_map(|&(count, hz)| std::iter::repeat_n(hz, count));
            let periods: Vec<(f64, Period)> =
                all.enumerate().map(|(i, hz)| (i as f64 * 0.01, period(hz))).collect();
            CoarseTrack::new(&periods).unwrap().knots
        };
        let knots = leaping(&[(14, 600.0), (8, 538.0), (20, 601.0), (9, 538.0), (10, 600.0)]);
        assert_eq!(knots.len(), 61);
        assert!(knots.iter().all(|(_, hz)| (599.9..601.1).contains(hz)), "{knots:?}");
        // What leaps and stays is another course.
        let knots = leaping(&[(30, 600.0), (20, 538.0)]);
        assert!((knots.last().unwrap().1 - 538.0).abs() < 1e-9, "{knots:?}");
    }

    #[test]
    fn frames_strewn_before_and_after_are_no_part_of_the_course() {
        let moments = [0.1, 0.25].into_iter().chain((0..20).map(|i| 0.5 + 0.01 * f64::from(i)));
        let periods: Vec<(f64, Period)> =
            moments.chain([0.9]).map(|moment| (moment, period(520.0))).collect();
        let track = CoarseTrack::new(&periods).unwrap();
        assert_eq!((track.knots[0].0, track.knots.last().unwrap().0), (0.5, 0.69));
    }

    #[test]
    fn no_frames_make_no_course() {
        assert_eq!(CoarseTrack::new(&[]), None);
    }
}
