//! The check of the microphone: some quiet, then three crows, then what to change. Nothing of it goes to
//! a card.

use super::state::Check;
use crate::capture::{Event, Session, SessionSettings, SoundFormat, room_fitness};
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{Kind, Reader};
use crate::take::Channel;

/// How long the quiet is listened to, in seconds.
const QUIET_S: f64 = 3.0;
/// Crows wanted.
const CROWS: usize = 3;
/// How long they are waited for, in seconds.
const PATIENCE_S: f64 = 25.0;

/// A check that goes on.
pub struct Checking {
    session: Session<Reader>,
    format: SoundFormat,
    quiet: Vec<f32>,
    trial: Vec<f32>,
    crows: usize,
    lost_frames: u64,
}

impl Checking {
    /// Begins one.
    pub fn begin(format: SoundFormat, profile: &Profile, a4: A4) -> Self {
        let settings =
            SessionSettings { source: String::new(), pause_s: 60.0, channel: Channel::default() };
        Self {
            session: Session::new(format, settings, profile, a4),
            format,
            quiet: Vec::new(),
            trial: Vec::new(),
            crows: 0,
            lost_frames: 0,
        }
    }

    /// Takes the next frames; returns how far it is.
    pub fn push(&mut self, frames: &[f32], lost_frames: u64) -> Check {
        self.lost_frames += lost_frames;
        let in_s = |samples: &Vec<f32>| {
            let frames = samples.len() / usize::from(self.format.channels.max(1));
            frames as f64 / f64::from(self.format.sample_rate_hz.max(1))
        };
        let events = self.session.push(frames, lost_frames);
        if in_s(&self.quiet) < QUIET_S {
            self.quiet.extend_from_slice(frames);
            return Check::Quiet;
        }
        self.trial.extend_from_slice(frames);
        let is_crow = |event: &&Event| matches!(event, Event::CrowEnded { crow, .. } if crow.kind != Kind::Breath);
        self.crows += events.iter().filter(is_crow).count();
        if self.crows < CROWS && in_s(&self.trial) < PATIENCE_S {
            return Check::Crows(self.crows);
        }
        Check::Done(room_fitness(&self.quiet, &self.trial, self.format, self.lost_frames))
    }

    /// What sounds meanwhile.
    pub fn session(&self) -> &Session<Reader> {
        &self.session
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_check_ends_by_itself_also_where_nobody_crows() {
        let format = SoundFormat { sample_rate_hz: 8000, channels: 1 };
        let mut checking = Checking::begin(format, &Profile::default(), A4::default());
        let second: Vec<f32> =
            (0..8000).map(|i| 1e-3 * ((i * 7919 % 1013) as f32 / 506.5 - 1.0)).collect();
        let ends = (0..40)
            .map(|_| checking.push(&second, 0))
            .position(|check| matches!(check, Check::Done(fitness) if !fitness.trial_heard));
        assert_eq!(ends, Some((QUIET_S + PATIENCE_S) as usize - 1));
    }
}
