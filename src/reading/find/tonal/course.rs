//! The best course through the pitches over time, or none: a Viterbi search decided a fixed number
//! of moments later.

use std::collections::VecDeque;

/// Cost of beginning a course, in the decibels of the scores.
const ENTER: f32 = 12.0;
/// Cost of a step to the next pitch but one moment later.
const MOVE: f32 = 3.0;
/// Steps of more pitches than this are no course of a tone …
const FARTHEST: usize = 2;
/// … but a leap to another tone.
const LEAP: f32 = 30.0;
/// No tone, in the table of where a course came from.
const NONE: u32 = u32::MAX;

/// A search through `states` pitches.
#[derive(Debug)]
pub struct Course {
    lag: usize,
    /// What the best course to each pitch is worth, and nothing for [`FARTHEST`] places at either end.
    value: Vec<f32>,
    next: Vec<f32>,
    silent: f32,
    /// The pitch to which the best course leads, and what that is worth.
    best: (usize, f32),
    /// What a course is worth that begins in this moment.
    entered: f32,
    /// For each moment since the last one decided, where each pitch and no tone came from.
    from: VecDeque<Vec<u32>>,
    begun: bool,
}

impl Course {
    pub fn new(states: usize, lag: usize) -> Self {
        let mut room = vec![f32::MIN; states + 2 * FARTHEST];
        room[FARTHEST..FARTHEST + states].fill(-ENTER);
        Self {
            lag,
            value: room.clone(),
            next: room,
            silent: 0.0,
            best: (0, -ENTER),
            entered: -ENTER,
            from: VecDeque::new(),
            begun: false,
        }
    }

    /// Turns to the next moment: from where the best course comes to each pitch is known before what it gains
    /// there.
    pub fn turn(&mut self) {
        let states = self.states();
        let mut from = if self.from.len() > self.lag { self.from.pop_front() } else { None }
            .unwrap_or_else(|| vec![0; states + 1]);
        if self.begun {
            self.step(&mut from);
        } else {
            self.begun = true;
            from.fill(NONE);
            self.entered = self.silent - ENTER;
        }
        self.from.push_back(from);
    }

    /// Whether no course comes to a pitch in this moment but one that begins there. Where it gains less than
    /// nothing one that begins later is the better, and how much less does not matter.
    pub fn begins_at(&self, state: usize) -> bool {
        self.value[FARTHEST + state] <= self.entered
    }

    /// Takes what each pitch gains in this moment. Returns the pitch of the moment `lag` before it, once there
    /// is one; `Some(None)` where nothing is followed then.
    pub fn gain(&mut self, score: &[f32]) -> Option<Option<usize>> {
        let values = &mut self.value[FARTHEST..];
        values.iter_mut().zip(score).for_each(|(value, score)| *value += score);
        // Only differences count.
        let (best, value) = self.found_best();
        let highest = self.silent.max(value);
        self.best = (best, value - highest);
        self.silent -= highest;
        let count = self.states();
        self.value[FARTHEST..FARTHEST + count].iter_mut().for_each(|value| *value -= highest);
        (self.from.len() > self.lag).then(|| self.back(self.lag))
    }

    /// The pitches of the moments that are not decided yet, oldest first.
    pub fn rest(&self) -> Vec<Option<usize>> {
        let left = self.from.len().min(self.lag);
        (0..left).rev().map(|back| self.back(back)).collect()
    }

    fn step(&mut self, from: &mut [u32]) {
        let states = self.states();
        let (best, best_value) = self.best;
        let (leap, leap_from) = if self.silent - ENTER >= best_value - LEAP {
            (self.silent - ENTER, NONE)
        } else {
            (best_value - LEAP, best as u32)
        };
        // Slices of one length, one beside the other, are what vector registers take.
        let near = |shift: usize| &self.value[shift..shift + states];
        let (below, next_below, own) = (near(0), near(1), near(FARTHEST));
        let (next_above, above) = (near(FARTHEST + 1), near(FARTHEST + 2));
        let next = &mut self.next[FARTHEST..FARTHEST + states];
        let (from, from_tones) = from.split_at_mut(states);
        for state in 0..states {
            let place = state as u32;
            let (mut value, mut came) = (own[state], place);
            let mut comes = |far: f32, other: u32| {
                if far > value {
                    (value, came) = (far, other);
                }
            };
            comes(next_below[state] - MOVE, place.wrapping_sub(1));
            comes(next_above[state] - MOVE, place + 1);
            comes(below[state] - 2.0 * MOVE, place.wrapping_sub(2));
            comes(above[state] - 2.0 * MOVE, place + 2);
            comes(leap, leap_from);
            next[state] = value;
            from[state] = came;
        }
        self.entered = leap;
        from_tones.fill(if best_value > self.silent { best as u32 } else { NONE });
        self.silent = self.silent.max(best_value);
        std::mem::swap(&mut self.value, &mut self.next);
    }

    fn states(&self) -> usize {
        self.value.len() - 2 * FARTHEST
    }

    fn found_best(&self) -> (usize, f32) {
        let values = &self.value[FARTHEST..FARTHEST + self.states()];
        let mut most = [f32::MIN; 8];
        for piece in values.chunks(8) {
            for (most, value) in most.iter_mut().zip(piece) {
                *most = if *value > *most { *value } else { *most };
            }
        }
        let most = most.into_iter().fold(f32::MIN, f32::max);
        (values.iter().position(|value| *value == most).unwrap_or(0), most)
    }

    /// The pitch `moments` before the last on the course that is the best now.
    fn back(&self, moments: usize) -> Option<usize> {
        let (best, value) = self.best;
        let none = self.states();
        let mut at = if value > self.silent { best } else { none };
        for from in self.from.iter().rev().take(moments) {
            at = match from[at] {
                NONE => none,
                state => state as usize,
            };
        }
        (at < none).then_some(at)
    }
}
