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
const NONE: u16 = u16::MAX;

/// A search through `states` pitches.
#[derive(Debug)]
pub struct Course {
    lag: usize,
    value: Vec<f32>,
    next: Vec<f32>,
    silent: f32,
    /// For each moment since the last one decided, where each pitch and no tone came from.
    from: VecDeque<Vec<u16>>,
    begun: bool,
}

impl Course {
    pub fn new(states: usize, lag: usize) -> Self {
        Self {
            lag,
            value: vec![-ENTER; states],
            next: vec![0.0; states],
            silent: 0.0,
            from: VecDeque::new(),
            begun: false,
        }
    }

    /// Takes what each pitch gains in the next moment. Returns the pitch of the moment `lag` before
    /// it, once there is one; `Some(None)` where nothing is followed then.
    pub fn push(&mut self, score: &[f32]) -> Option<Option<usize>> {
        let states = self.value.len();
        let mut from = if self.from.len() > self.lag { self.from.pop_front() } else { None }
            .unwrap_or_else(|| vec![0; states + 1]);
        if self.begun {
            self.step(score, &mut from);
        } else {
            self.begun = true;
            from.fill(NONE);
            self.value.iter_mut().zip(score).for_each(|(value, score)| *value += score);
        }
        self.from.push_back(from);
        (self.from.len() > self.lag).then(|| self.back(self.lag))
    }

    /// The pitches of the moments that are not decided yet, oldest first.
    pub fn rest(&self) -> Vec<Option<usize>> {
        let left = self.from.len().min(self.lag);
        (0..left).rev().map(|back| self.back(back)).collect()
    }

    fn step(&mut self, score: &[f32], from: &mut [u16]) {
        let states = self.value.len();
        let (best, best_value) = self.best();
        let (leap, leap_from) = if self.silent - ENTER >= best_value - LEAP {
            (self.silent - ENTER, NONE)
        } else {
            (best_value - LEAP, best as u16)
        };
        for state in 0..states {
            let (mut value, mut came) = (self.value[state], state as u16);
            for steps in 1..=FARTHEST {
                let cost = MOVE * steps as f32;
                for other in [state.wrapping_sub(steps), state + steps] {
                    if let Some(far) = self.value.get(other)
                        && far - cost > value
                    {
                        (value, came) = (far - cost, other as u16);
                    }
                }
            }
            if leap > value {
                (value, came) = (leap, leap_from);
            }
            self.next[state] = value + score[state];
            from[state] = came;
        }
        let ends = best_value > self.silent;
        from[states] = if ends { best as u16 } else { NONE };
        self.silent = self.silent.max(best_value);
        std::mem::swap(&mut self.value, &mut self.next);
        // Only differences count.
        let highest = self.silent.max(self.best().1);
        self.silent -= highest;
        self.value.iter_mut().for_each(|value| *value -= highest);
    }

    fn best(&self) -> (usize, f32) {
        self.value.iter().copied().enumerate().fold((0, f32::MIN), |best, (state, value)| {
            if value > best.1 { (state, value) } else { best }
        })
    }

    /// The pitch `moments` before the last on the course that is the best now.
    fn back(&self, moments: usize) -> Option<usize> {
        let (best, value) = self.best();
        let none = self.value.len();
        let mut at = if value > self.silent { best } else { none };
        for from in self.from.iter().rev().take(moments) {
            at = match from[at] {
                NONE => none,
                state => usize::from(state),
            };
        }
        (at < none).then_some(at)
    }
}
