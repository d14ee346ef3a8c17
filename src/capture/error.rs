//! Why nothing, or nothing more, can be recorded. One line each: which thing, what is wrong, what
//! to do.

use std::path::PathBuf;

use crate::take::TakeError;

/// Why nothing, or nothing more, can be recorded.
#[derive(Debug, thiserror::Error)]
pub enum CaptureError {
    /// The machine has no sound system that the program can use.
    NoSoundSystem(Refusal),
    /// There is no default microphone.
    NoDefault(Refusal),
    /// No input bears the name asked for.
    UnknownDevice {
        /// As typed.
        name: String,
        /// The names there are.
        known: Vec<String>,
    },
    /// Several inputs bear the name asked for.
    AmbiguousDevice {
        /// As typed.
        name: String,
        /// The names that match.
        matches: Vec<String>,
    },
    /// The device does not open.
    CannotOpen {
        /// Its name.
        device: String,
        /// What the sound system says.
        reason: Refusal,
    },
    /// The system's settings keep programs from the microphone.
    Denied(String),
    /// The device delivers samples in a form that holds no sound pressure, such as DSD.
    Format {
        /// Its name.
        device: String,
        /// The form of its samples.
        format: String,
    },
    /// The device's sample rate is outside what a reading can use.
    Rate {
        /// Its name.
        device: String,
        /// Samples per second.
        rate_hz: u32,
    },
    /// The device went away while recording.
    Vanished {
        /// Its name.
        device: String,
        /// What the sound system says.
        reason: Refusal,
    },
    /// The device is there but delivers nothing.
    Silent {
        /// Its name.
        device: String,
        /// For how long.
        seconds: u64,
    },
    /// Takes are to be kept in what is not a folder.
    NotAFolder(PathBuf),
    /// So many programs record into a folder that no number of a take is left to this one.
    Crowded(PathBuf),
    /// A take cannot be kept on disk.
    Keep {
        /// The file or folder.
        path: PathBuf,
        /// What is wrong; told in the line, hence not as its source too.
        cause: TakeError,
    },
}

impl CaptureError {
    /// Whether the take that could not be kept has a file, with what was recorded until then.
    pub fn leaves_a_file(&self) -> bool {
        matches!(self, Self::Keep { path, .. } if path.is_file())
    }
}

/// Why the sound system refuses.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refusal {
    /// The device is not there.
    Missing,
    /// Another program has it.
    Busy,
    /// The system's settings do not allow it.
    Denied,
    /// The sound system itself stopped answering.
    Stopped,
    /// It names no default input.
    NamesNone,
    /// An input without a name.
    Nameless,
    /// No input opens.
    NoneOpens,
    /// There is no loudspeaker.
    NoLoudspeaker,
    /// The loudspeaker takes samples of a form that is not given.
    LoudspeakerFormat(String),
    /// Anything else, in its own words.
    Says(String),
}
