//! The check of a microphone: some quiet, three crows, some quiet again, then what to change. Nothing
//! of it goes to a card.

use super::fitness::{CROWS, Delivery, Fitness, room_fitness};
use super::{Event, Session, SessionSettings, SoundFormat};
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{Kind, Reader};
use crate::take::Channel;

/// How long the quiet is listened to before the crows, and after them, in seconds.
pub const QUIET_S: f64 = 3.0;
/// How long the crows are waited for, in seconds.
pub const PATIENCE_S: f64 = 25.0;

/// How far a check is.
#[derive(Debug, Clone, PartialEq)]
pub enum Check {
    /// The room's noise is listened to.
    Quiet,
    /// So many crows of three were heard.
    Crows(usize),
    /// The room is listened to once more: what a gain does after a crow is told by it.
    QuietAgain,
    /// It is over.
    Done(Box<Fitness>),
}

/// A clock tells a rate from so many seconds on: frames come in pieces of up to some tenths.
const LEAST_CLOCK_S: f64 = 8.0;

/// A check that goes on.
pub struct MicrophoneCheck {
    session: Session<Reader>,
    format: SoundFormat,
    quiet: Vec<f32>,
    trial: Vec<f32>,
    after: Vec<f32>,
    crows: usize,
    lost_frames: u64,
    began_s: Option<f64>,
    /// Least and greatest lead of the clock over the frames.
    lead_s: Option<(f64, f64)>,
    now_s: f64,
}

impl MicrophoneCheck {
    /// Begins one.
    pub fn begin(format: SoundFormat, profile: &Profile, a4: A4) -> Self {
        let settings = SessionSettings {
            source: String::new(),
            pause_s: 60.0,
            channel: Channel::default(),
            microphone: None,
        };
        Self {
            session: Session::new(format, settings, profile, a4),
            format,
            quiet: Vec::new(),
            trial: Vec::new(),
            after: Vec::new(),
            crows: 0,
            lost_frames: 0,
            began_s: None,
            lead_s: None,
            now_s: 0.0,
        }
    }

    /// Takes the next frames; returns how far it is.
    ///
    /// * `lost_frames`: how many the device could not deliver just before them.
    /// * `at_s`: when they came, by any clock that goes on.
    pub fn push(&mut self, frames: &[f32], lost_frames: u64, at_s: f64) -> Check {
        self.lost_frames += lost_frames;
        self.clock(frames, at_s);
        let events = self.session.push(frames, lost_frames);
        if self.seconds(&self.quiet) < QUIET_S {
            self.quiet.extend_from_slice(frames);
            return Check::Quiet;
        }
        let is_crow = |event: &&Event| matches!(event, Event::CrowEnded { crow, .. } if crow.kind != Kind::Breath);
        self.crows += events.iter().filter(is_crow).count();
        if self.after.is_empty() && self.crows < CROWS && self.seconds(&self.trial) < PATIENCE_S {
            self.trial.extend_from_slice(frames);
            return Check::Crows(self.crows);
        }
        self.after.extend_from_slice(frames);
        if self.seconds(&self.after) < QUIET_S {
            return Check::QuietAgain;
        }
        self.trial.append(&mut self.after);
        let delivery = self.delivery();
        Check::Done(Box::new(room_fitness(&self.quiet, &self.trial, self.format, delivery)))
    }

    /// What sounds meanwhile.
    pub fn session(&self) -> &Session<Reader> {
        &self.session
    }

    fn seconds(&self, samples: &[f32]) -> f64 {
        let frames = samples.len() / usize::from(self.format.channels.max(1));
        frames as f64 / f64::from(self.format.sample_rate_hz.max(1))
    }

    /// Holds what came against the clock. What came first was gathered before it was asked for.
    fn clock(&mut self, frames: &[f32], at_s: f64) {
        if frames.is_empty() {
            return;
        }
        let Some(began_s) = self.began_s else {
            self.began_s = Some(at_s);
            return;
        };
        self.now_s += self.seconds(frames);
        let lead_s = at_s - began_s - self.now_s;
        let (least, greatest) = self.lead_s.unwrap_or((lead_s, lead_s));
        self.lead_s = Some((least.min(lead_s), greatest.max(lead_s)));
    }

    fn delivery(&self) -> Delivery {
        let (least, greatest) = self.lead_s.unwrap_or_default();
        let rate_hz = f64::from(self.format.sample_rate_hz);
        // The clock went on by the frames and the lead; in the middle of its range it is not pulled by
        // one piece that came late.
        let by_clock_s = self.now_s + 0.5 * (least + greatest);
        let rate_hz = (self.now_s > LEAST_CLOCK_S && by_clock_s > 0.0 && self.lost_frames == 0)
            .then(|| rate_hz * self.now_s / by_clock_s);
        Delivery { lost_frames: self.lost_frames, late_s: greatest - least, rate_hz }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::capture::Matter;

    const FORMAT: SoundFormat = SoundFormat { sample_rate_hz: 8000, channels: 1 };

    /// White noise: what repeats itself would be a tone.
    fn noise(count: usize) -> Vec<f32> {
        let mut state = 1_u32;
        let mut next = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            1e-3 * (state as f32 / 2_147_483_648.0 - 1.0)
        };
        (0..count).map(|_| next()).collect()
    }

    fn ended(seconds_of: impl Fn(usize) -> f64) -> (usize, Fitness) {
        let mut check = MicrophoneCheck::begin(FORMAT, &Profile::default(), A4::default());
        let minute = noise(60 * 8000);
        let mut seconds = minute.chunks(8000).enumerate();
        let ended = seconds.find_map(|(at, second)| match check.push(second, 0, seconds_of(at)) {
            Check::Done(fitness) => Some((at, *fitness)),
            _ => None,
        });
        ended.unwrap()
    }

    #[test]
    fn a_check_ends_by_itself_also_where_nobody_crows_and_that_is_no_pass() {
        let (at, fitness) = ended(|at| at as f64);
        assert_eq!(at, (QUIET_S + PATIENCE_S + QUIET_S) as usize - 1);
        assert_eq!(fitness.crows, 0);
        assert!(!fitness.is_fit(), "{fitness:?}");
        assert!(!fitness.findings.contains(&Matter::WrongRate), "{fitness:?}");
        assert!(!fitness.findings.contains(&Matter::Late), "{fitness:?}");
    }

    /// 8000 samples that come in 1/1.088 s: 44.1 kHz that are called so and are 48.
    #[test]
    fn a_device_whose_rate_is_another_by_the_clock_is_told() {
        let (_, fitness) = ended(|at| at as f64 / 1.088);
        assert!(fitness.findings.contains(&Matter::WrongRate), "{fitness:?}");
    }

    #[test]
    fn sound_that_comes_late_once_is_told_and_changes_no_rate() {
        let (_, fitness) = ended(|at| at as f64 + if at == 9 { 0.9 } else { 0.0 });
        assert!(fitness.findings.contains(&Matter::Late), "{fitness:?}");
        assert!(!fitness.findings.contains(&Matter::WrongRate), "{fitness:?}");
        assert!((fitness.late_s - 0.9).abs() < 1e-9, "{fitness:?}");
    }
}
