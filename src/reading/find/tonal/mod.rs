//! Which stretches of a take are crows, judged by what they are and not by how loud they are.
//!
//! A crow is one family of partials that stands out from what surrounds it in frequency and keeps
//! its course in time. Every 10 ms a spectrum enters ([`salience`]); each pitch is given the height
//! of its partials over a floor taken *across frequency*, less that of the places between them;
//! the best course through the pitches, or none, is followed in time ([`course`]); and what is on it
//! becomes segments, of which rules take away what is not a crow ([`segments`]). Any gain leaves all of
//! it as it is, so gain control, a room that becomes louder, or somebody speaking hides nothing.
//!
//! After summed partial amplitudes (A. Klapuri, Proc. ISMIR 2006, pp. 216-221), a spectrum whitened
//! before the comb (S. Gonzalez and M. Brookes, IEEE/ACM TASLP 22(2), 2014, pp. 518-530), and pitch
//! contours judged by their features (J. Salamon and E. Gómez, IEEE TASLP 20(6), 2012, pp.
//! 1759-1770).

mod comb;
mod course;
mod quantiles;
mod salience;
mod segment;
mod segments;

use std::collections::VecDeque;
use std::ops::Range;

use self::comb::{Comb, PLACES};
use self::course::Course;
use self::salience::{Salience, level_db};
use self::segment::Point;
pub use self::segment::{Segment, Verdict};
use self::segments::Segments;
use crate::dsp::decimate::Decimator;
use crate::dsp::spectrum::Spectrum;

/// Frames begin this often.
pub const HOP_S: f64 = 0.01;
/// Length of a frame.
const FRAME_S: f64 = 0.064;
/// A course is decided this many frames later: a better one may have begun by then.
const LAG: usize = 50;
/// A pitch that leaps is held against what sounded so many moments before (80 ms).
const BEFORE: usize = 8;

/// What a frame leaves for when its moment is decided.
#[derive(Debug)]
struct Seen {
    salience: Vec<f32>,
    explained: Vec<f32>,
    share: Vec<f32>,
    over_floor: Box<[f32; PLACES]>,
    density: Vec<f32>,
}

impl Seen {
    fn new(comb: &Comb) -> Self {
        let states = || vec![0.0; comb.states()];
        Self {
            salience: states(),
            explained: states(),
            share: states(),
            over_floor: Box::new([0.0; PLACES]),
            density: vec![0.0; comb.bins()],
        }
    }
}

/// Samples that come at least this often hold all that is looked at.
const ENOUGH_HZ: f64 = 11_000.0;

/// Finds tonal segments in a stream of samples.
#[derive(Debug)]
pub struct Tonal {
    decimator: Decimator,
    /// Samples that frames are taken from, at `sample_rate_hz`, from the next frame's first on.
    kept: Vec<f32>,
    hop: usize,
    sample_rate_hz: f64,
    spectrum: Spectrum,
    density: Vec<f32>,
    comb: Comb,
    salience: Salience,
    course: Course,
    /// Of the moments that are not decided yet and of the last [`BEFORE`] that are.
    seen: VecDeque<Seen>,
    segments: Segments,
    /// Frames analysed.
    frames: u64,
    /// Moments decided.
    decided: u64,
}

impl Tonal {
    /// For samples at `sample_rate_hz` of crows whose pitch lies within `expected_hz`.
    pub fn new(sample_rate_hz: f64, expected_hz: (f64, f64)) -> Self {
        let factor = ((sample_rate_hz / ENOUGH_HZ) as usize).max(1);
        let taken_hz = sample_rate_hz / factor as f64;
        let n = smooth_length(taken_hz * FRAME_S);
        let spectrum = Spectrum::new(n, taken_hz);
        let comb = Comb::new(spectrum.bin_hz(), taken_hz);
        let top_hz = comb.bins() as f64 * spectrum.bin_hz();
        Self {
            decimator: Decimator::new(factor, sample_rate_hz, top_hz),
            kept: Vec::new(),
            hop: (taken_hz * HOP_S).round().max(1.0) as usize,
            sample_rate_hz: taken_hz,
            density: vec![0.0; comb.bins()],
            salience: Salience::new(&comb),
            course: Course::new(comb.states(), LAG),
            seen: VecDeque::new(),
            segments: Segments::new(expected_hz),
            frames: 0,
            decided: 0,
            spectrum,
            comb,
        }
    }

    /// Takes the next samples.
    pub fn push(&mut self, samples: &[f32]) {
        self.decimator.push(samples, &mut self.kept);
        self.take_frames();
    }

    fn take_frames(&mut self) {
        let n = self.spectrum.frame_len();
        let mut next = 0;
        while next + n <= self.kept.len() {
            self.take_frame(next..next + n);
            next += self.hop;
        }
        self.kept.drain(..next.min(self.kept.len()));
    }

    /// * `frame`: where it lies in what is kept.
    fn take_frame(&mut self, frame: Range<usize>) {
        self.spectrum.density(&self.kept[frame], &mut self.density);
        self.course.turn();
        self.salience.judge(&self.comb, &self.density, |state| self.course.begins_at(state));
        let state = self.course.gain(&self.salience.score);
        self.frames += 1;
        // What was decided long ago is done with: its room is that of the next frame.
        let done = if self.seen.len() > LAG + BEFORE { self.seen.pop_front() } else { None };
        let mut seen = done.unwrap_or_else(|| Seen::new(&self.comb));
        let judged = &mut self.salience;
        std::mem::swap(&mut seen.salience, &mut judged.salience);
        std::mem::swap(&mut seen.explained, &mut judged.explained);
        std::mem::swap(&mut seen.share, &mut judged.share);
        std::mem::swap(&mut seen.over_floor, &mut judged.over_floor);
        std::mem::swap(&mut seen.density, &mut self.density);
        self.seen.push_back(seen);
        if let Some(state) = state {
            self.decide(state);
        }
    }

    /// Ends the take: what is still open is decided as it stands.
    pub fn finish(&mut self) {
        self.decimator.finish(&mut self.kept);
        self.take_frames();
        for state in self.course.rest() {
            self.decide(state);
        }
        self.segments.finish(&self.comb);
    }

    /// Segments that have been judged since they were asked for last, in order of time.
    pub fn judged(&mut self) -> Vec<Segment> {
        self.segments.take_judged()
    }

    /// Up to when everything that sounded has been judged, in seconds of the take.
    pub fn judged_until_s(&self) -> f64 {
        self.time_s(self.segments.judged_until(self.decided))
    }

    /// Moment of a frame's middle, in seconds of the take.
    pub fn time_s(&self, frame: u64) -> f64 {
        (frame as f64 * self.hop as f64 + 0.5 * self.spectrum.frame_len() as f64)
            / self.sample_rate_hz
    }

    /// * `state`: which pitch sounds in the first moment that is not decided yet.
    fn decide(&mut self, state: Option<usize>) {
        let place = self.seen.len().saturating_sub((self.frames - self.decided) as usize);
        let before = self.seen.get(place.saturating_sub(BEFORE)).filter(|_| self.decided > 0);
        let point = state.and_then(|state| {
            let seen = self.seen.get(place)?;
            Some(Point {
                state,
                hz: self.comb.refined_hz(state, &seen.density, &seen.over_floor[..]),
                salience: seen.salience[state],
                level_db: level_db(seen.explained[state]),
                share: seen.share[state],
                share_under: Comb::UNDER
                    .map(|under| state.checked_sub(under).map_or(0.0, |s| seen.share[s])),
                share_before: self.segments.state_before().map_or(0.0, |s| seen.share[s]),
                explained_before: before.map_or(0.0, |before| before.share[state]),
                bright: self.comb.bright(state, &seen.over_floor[..]),
            })
        });
        self.segments.push(self.decided, point, &self.comb);
        self.decided += 1;
    }
}

/// The even length nearest to `wanted` without a factor over 7, whose transform is quick.
fn smooth_length(wanted: f64) -> usize {
    let is_smooth = |n: usize| {
        let mut rest = n;
        for factor in [2, 3, 5, 7] {
            while rest.is_multiple_of(factor) {
                rest /= factor;
            }
        }
        rest == 1
    };
    let half = (wanted / 2.0).round().max(8.0) as usize;
    let near = (0..half).flat_map(|off| [half - off, half + off]).find(|n| *n > 0 && is_smooth(*n));
    2 * near.unwrap_or(half)
}
