//! What lies on the course, cut into segments, and which of them are crows.
//!
//! Rules only take away: a stretch of one family that holds its pitch is a crow until its
//! surroundings say otherwise.

use std::collections::VecDeque;

use super::comb::{Comb, OCTAVE, STEP_CENTS};
use super::segment::{BRIDGED, LONGEST, PAUSE, Point, SAME_CENTS, Segment, Verdict};
use crate::dsp::statistics::quantile_in_place;
use crate::reading::find::no_crow::Why;

/// Pitches this far apart in two moments in a row belong to two sounds.
const LEAP_STATES: usize = 3;
/// A sound is where its level is within this of what a quarter of its moments exceed.
const DROP_DB: f32 = 9.0;
/// Two sounds of one pitch class with less than this in between (60 ms), alike in level, are one: a
/// low octave that comes late, a drop-out.
const JOINED: u64 = 6;
const JOINED_DB: f32 = 10.0;
/// A sound is judged when so much more has been heard (0.3 s): a next note has begun by then.
const AFTER: u64 = 30;
/// A crow is no weaker than this against the others about it …
const WEAKER_DB: f32 = 8.0;
/// … or than this where it has the pitch of one of them: a reed is blown softly and hard, and not all of its
/// power lies at the pitch that is followed, …
const SOFTER_DB: f32 = 16.0;
/// … within this time (15 s).
const ABOUT: u64 = 1500;
/// An unsettled crow: weak or wandering sounds with no more than this between them (0.3 s), together
/// this long (0.6 s).
const UNSETTLED_GAP: u64 = 30;
const UNSETTLED: u64 = 60;

/// What is remembered of a crow, for those that follow.
#[derive(Debug)]
struct Known {
    end: u64,
    level_db: f32,
    state: usize,
}

impl Known {
    fn of(segment: &Segment) -> Self {
        Self { end: segment.end, level_db: segment.level_db, state: segment.state }
    }

    /// Whether `segment` is the same reed blown again: of its pitch, octaves aside, and of its level.
    fn is_again(&self, segment: &Segment) -> bool {
        self.is_of_pitch(segment) && (self.level_db - segment.level_db).abs() < WEAKER_DB
    }

    fn is_of_pitch(&self, segment: &Segment) -> bool {
        let away = self.state.abs_diff(segment.state) % OCTAVE;
        away.min(OCTAVE - away) as f64 * STEP_CENTS < SAME_CENTS
    }
}

/// Gathers moments into segments and judges them.
#[derive(Debug)]
pub struct Segments {
    expected_hz: (f64, f64),
    /// First frame of the stretch that goes on, and its moments.
    open: Option<(u64, Vec<Point>)>,
    /// Whether that stretch is a piece of one that is longer than a crow.
    is_long: bool,
    /// Index of the pitch that was followed before that stretch.
    state_before: Option<usize>,
    /// Frame before which nothing is judged: what waits is one with what goes on.
    not_before: u64,
    /// Not judged yet.
    waiting: VecDeque<Segment>,
    /// The one judged last, whatever it is.
    last: Option<Segment>,
    /// The crows of the last 15 s.
    crows: VecDeque<Known>,
    /// Judged, but may still turn out to be part of an unsettled crow.
    maybe: Vec<Segment>,
    judged: Vec<Segment>,
}

impl Segments {
    pub fn new(expected_hz: (f64, f64)) -> Self {
        Self {
            expected_hz,
            open: None,
            is_long: false,
            state_before: None,
            not_before: 0,
            waiting: VecDeque::new(),
            last: None,
            crows: VecDeque::new(),
            maybe: Vec::new(),
            judged: Vec::new(),
        }
    }

    /// Takes the next moment.
    pub fn push(&mut self, frame: u64, point: Option<Point>, comb: &Comb) {
        let is_near = match (&self.open, &point) {
            (Some((_, points)), Some(point)) => {
                points.last().is_some_and(|p| p.state.abs_diff(point.state) <= LEAP_STATES)
            }
            _ => false,
        };
        if !is_near {
            self.close(comb);
            self.is_long = false;
        } else if self.open.as_ref().is_some_and(|(_, points)| points.len() >= LONGEST) {
            // In pieces, so that it takes no more memory than one.
            self.is_long = true;
            self.close(comb);
        }
        if let Some(point) = point {
            self.open.get_or_insert_with(|| (frame, Vec::new())).1.push(point);
        }
        self.judge(Some(frame), comb);
    }

    /// Judges all that is left.
    pub fn finish(&mut self, comb: &Comb) {
        self.close(comb);
        self.judge(None, comb);
        self.settle();
    }

    /// Index of the pitch that was followed before the stretch that goes on.
    pub fn state_before(&self) -> Option<usize> {
        self.state_before
    }

    pub fn take_judged(&mut self) -> Vec<Segment> {
        std::mem::take(&mut self.judged)
    }

    /// The frame up to which all has been judged, `now` being the next.
    pub fn judged_until(&self, now: u64) -> u64 {
        let open = self.open.as_ref().map(|(first, _)| *first);
        let waiting = self.waiting.front().map(|segment| segment.first);
        let maybe = self.maybe.first().map(|segment| segment.first);
        [open, waiting, maybe].into_iter().flatten().min().unwrap_or(now).min(now)
    }

    /// Ends the stretch that goes on: cut where its level falls, joined to what came before.
    fn close(&mut self, comb: &Comb) {
        let Some((first, points)) = self.open.take() else { return };
        for (from, to) in loud_parts(&points) {
            let part = Segment::new(first + from as u64, &points[from..to], comb, self.expected_hz);
            let Some(mut part) = part else { continue };
            part.goes_on = self.is_long;
            self.state_before = Some(part.state);
            let joins = |before: &Segment| {
                before.goes_on_as(&part)
                    || part.first - before.end < JOINED
                        && before.pitch_class_cents_to(&part) < SAME_CENTS
                        && (before.level_db - part.level_db).abs() < JOINED_DB
            };
            match self.waiting.pop_back() {
                Some(before) if joins(&before) => self.waiting.push_back(before.joined(part)),
                before => self.waiting.extend(before.into_iter().chain([part])),
            }
        }
    }

    /// * `now`: the frame heard last; `None` at the end of the take.
    fn judge(&mut self, now: Option<u64>, comb: &Comb) {
        let not_before = self.not_before;
        let is_due =
            |segment: &Segment| now.is_none_or(|now| now >= not_before.max(segment.end + AFTER));
        while self.waiting.front().is_some_and(is_due) {
            let going_on = self
                .open
                .as_ref()
                .and_then(|(first, points)| Segment::new(*first, points, comb, self.expected_hz));
            let goes_on =
                |segment: &Segment| going_on.as_ref().is_some_and(|open| segment.goes_on_as(open));
            // It is one with what has not ended yet.
            if self.waiting.len() == 1 && self.waiting.front().is_some_and(goes_on) {
                self.not_before = now.map_or(0, |now| now + AFTER);
                break;
            }
            let Some(mut segment) = self.waiting.pop_front() else { break };
            let next = self.waiting.front().or(going_on.as_ref());
            let beside = [self.last.as_ref(), next];
            let steps = beside.into_iter().flatten().filter(|other| segment.steps_to(other));
            let nearest_step = steps.map(|other| segment.gap(other)).min();
            let lack = segment.lack(self.expected_hz);
            let is_note = segment.is_note() && lack != Some(Why::Glides);
            while self.crows.front().is_some_and(|crow| crow.end + ABOUT < segment.first) {
                self.crows.pop_front();
            }
            let is_again = || self.crows.iter().any(|crow| crow.is_again(&segment));
            let why = match (nearest_step, lack) {
                (Some(gap), None) if gap < PAUSE || !is_again() => Some(Why::Steps),
                (Some(_), Some(_)) if is_note => Some(Why::Steps),
                (_, lack) => lack,
            };
            let is_of_known = self.crows.iter().any(|crow| crow.is_of_pitch(&segment));
            let why = why.or_else(|| {
                self.crows.push_back(Known::of(&segment));
                let levels = self.crows.iter().map(|crow| crow.level_db);
                let strongest = levels.fold(f32::MIN, f32::max);
                let least = if is_of_known { strongest - SOFTER_DB } else { strongest - WEAKER_DB };
                (segment.level_db < least).then_some(Why::Weaker)
            });
            if let Some(why) = why {
                segment.verdict = Verdict::Not(why);
            }
            self.last = Some(segment.clone());
            if !segment.may_be_unsettled(self.expected_hz.0) {
                if !matches!(segment.verdict, Verdict::Not(_)) {
                    self.settle();
                }
                self.judged.push(segment);
                continue;
            }
            let follows = |last: &Segment| segment.first < last.end + UNSETTLED_GAP;
            if !self.maybe.last().is_some_and(follows) {
                self.settle();
            }
            self.maybe.push(segment);
        }
        if let (Some(now), Some(last)) = (now, self.maybe.last())
            && now > last.end + UNSETTLED_GAP + AFTER
        {
            self.settle();
        }
    }

    /// Decides what the sounds that may be an unsettled crow are, nothing more belonging to them.
    fn settle(&mut self) {
        let mut group = std::mem::take(&mut self.maybe);
        if group.iter().map(Segment::frames).sum::<u64>() >= UNSETTLED {
            group.iter_mut().for_each(|segment| segment.verdict = Verdict::Unsettled);
        }
        self.judged.extend(group);
        self.judged.sort_by_key(|segment| segment.first);
    }
}

/// Where the level is near its highest, as ranges of `points`.
fn loud_parts(points: &[Point]) -> Vec<(usize, usize)> {
    let mut levels: Vec<f64> = points.iter().map(|p| f64::from(p.level_db)).collect();
    let Some(high) = quantile_in_place(&mut levels, 0.75) else { return Vec::new() };
    let mut parts: Vec<(usize, usize)> = Vec::new();
    for (i, point) in points.iter().enumerate() {
        if point.level_db <= high as f32 - DROP_DB {
            continue;
        }
        match parts.last_mut() {
            Some((_, to)) if (i - *to) as u64 <= BRIDGED => *to = i + 1,
            _ => parts.push((i, i + 1)),
        }
    }
    parts
}
