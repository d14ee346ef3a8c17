//! Whether a microphone in its room is fit for crowing, from some seconds of quiet and trial crows.

mod judging;
#[cfg(test)]
mod tests;

use crate::reading::CheckedMicrophone;
pub use judging::room_fitness;

/// The lowest level that is told (silence is another question: `reading::is_silent`): the noise of a 24-bit converter's last step is at −146 dBFS
/// (6.02·24 + 1.76 dB under a full-scale sine), and what is lower is rounding.
pub const LEAST_DBFS: f64 = -140.0;

/// What a check found.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Fitness {
    /// The channel judged, counted from 1: the one with the most power.
    pub channel: u16,
    /// Room noise, 100 Hz … 10 kHz, in the quieter half of the quiet, or of the trial where that is
    /// lower; `None` for digital silence.
    pub floor_dbfs: Option<f64>,
    /// Loudest 50 ms of both.
    pub loudest_dbfs: Option<f64>,
    /// Highest sample, as a share of full scale.
    pub peak: f64,
    /// Mains hum, all its harmonics up to 500 Hz together; `None` where none stands out.
    pub hum_dbfs: Option<f64>,
    /// How much later than the soonest samples the latest came, in seconds.
    pub late_s: f64,
    /// Crows heard, as a reading finds them.
    pub crows: usize,
    /// Whether air was heard instead.
    pub air_heard: bool,
    /// What is to be changed, the gravest first.
    pub findings: Vec<Matter>,
}

impl Fitness {
    /// Whether this microphone will do: nothing is to be changed, and enough crows were heard to tell.
    pub fn is_fit(&self) -> bool {
        self.findings.is_empty() && self.crows >= CROWS
    }

    /// The verdict as it is kept with the takes that are recorded after it.
    ///
    /// * `at`: the day, YYYY-MM-DD.
    pub fn verdict(&self, device: &str, at: String) -> CheckedMicrophone {
        let few = (self.crows < CROWS).then_some(FEW_CROWS);
        let found = self.findings.iter().map(|matter| matter.code()).chain(few);
        CheckedMicrophone {
            device: device.to_owned(),
            at,
            fit: self.is_fit(),
            found: found.map(str::to_owned).collect(),
            floor_dbfs: self.floor_dbfs,
            loudest_dbfs: self.loudest_dbfs,
        }
    }
}

/// Code of a check that heard too few crows.
pub const FEW_CROWS: &str = "few-crows";

choice! {
    /// One thing that makes crows hard to read; the gravest first.
    Matter {
        /// Nothing but zeros, or one constant value.
        Muted = "muted",
        /// Samples at full scale.
        Overload = "overload",
        /// What is loud ends at a ceiling under full scale.
        Distorted = "distorted",
        /// By the clock it gives another sample rate than it says, so that every pitch is off.
        WrongRate = "wrong-rate",
        /// It shuts off what is quiet.
        Gated = "gated",
        /// It takes noise off, and weak octaves with it.
        NoiseSuppressed = "noise-suppressed",
        /// Its gain goes up in the quiet.
        GainControl = "gain-control",
        /// Moments of crows are missing.
        Dropouts = "dropouts",
        /// Samples that the program could not keep.
        LostSamples = "lost-samples",
        /// The trial crow comes close to full scale.
        Hot = "hot",
        /// The trial crow is weak.
        Quiet = "quiet",
        /// Room noise close under a crow's faint partials.
        NoisyRoom = "noisy-room",
        /// Mains hum.
        Hum = "hum",
        /// What is high is cut off, as a telephone does.
        LowPassed = "low-passed",
        /// The sample rate is too low for some figures.
        LowRate = "low-rate",
        /// Sound comes late, or in jerks.
        Late = "late",
    }
}

/// Crows wanted.
pub const CROWS: usize = 3;

/// How a device delivered what it heard, by the clock of whoever asked for it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Delivery {
    /// Frames that it could not deliver.
    pub lost_frames: u64,
    /// How much later than the soonest ones the latest frames came, in seconds.
    pub late_s: f64,
    /// Frames a second by the clock; `None` where it was not asked for long enough.
    pub rate_hz: Option<f64>,
}
