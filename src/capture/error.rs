//! Why nothing, or nothing more, can be recorded. One line each: which thing, what is wrong, what
//! to do.

use std::path::PathBuf;

use crate::system::System;
use crate::take::TakeError;
use crate::words::system::allow_microphone;

/// Why nothing, or nothing more, can be recorded.
#[derive(Debug, thiserror::Error)]
pub enum CaptureError {
    /// The machine has no sound system that the program can use.
    #[error(
        "no sound system answers ({0}); start it, or read a recording with 'reedcrow analyse FILE'"
    )]
    NoSoundSystem(String),
    /// There is no default microphone.
    #[error(
        "no default microphone ({0}); plug one in or pick one that 'reedcrow devices' lists with \
         --device NAME, or read a recording with 'reedcrow analyse FILE'"
    )]
    NoDefault(String),
    /// No input bears the name asked for.
    #[error("{name}: no microphone of that name; 'reedcrow devices' lists them{}", listed(.known))]
    UnknownDevice {
        /// As typed.
        name: String,
        /// The names there are.
        known: Vec<String>,
    },
    /// Several inputs bear the name asked for.
    #[error("{name}: several microphones match ({}); type one of these whole", .matches.join(", "))]
    AmbiguousDevice {
        /// As typed.
        name: String,
        /// The names that match.
        matches: Vec<String>,
    },
    /// The device does not open.
    #[error("{device}: cannot record from it: {reason}; {remedy}")]
    CannotOpen {
        /// Its name.
        device: String,
        /// What the sound system says.
        reason: String,
        /// What to do.
        remedy: &'static str,
    },
    /// The system's settings keep programs from the microphone.
    #[error("{0}: this system does not let reedcrow use the microphone; {how}", how = allow_microphone(System::HERE))]
    Denied(String),
    /// The device delivers samples in a form that holds no sound pressure, such as DSD.
    #[error(
        "{device}: delivers {format} samples, which reedcrow cannot read; pick another microphone \
         with --device"
    )]
    Format {
        /// Its name.
        device: String,
        /// The form of its samples.
        format: String,
    },
    /// The device's sample rate is outside what a reading can use.
    #[error(
        "{device}: delivers {rate_hz} samples per second; 8000 to 192000 are needed; change its \
         rate in the sound settings"
    )]
    Rate {
        /// Its name.
        device: String,
        /// Samples per second.
        rate_hz: u32,
    },
    /// The device went away while recording.
    #[error("{device}: the microphone went away ({reason}); plug it in again and start again")]
    Vanished {
        /// Its name.
        device: String,
        /// What the sound system says.
        reason: String,
    },
    /// The device is there but delivers nothing.
    #[error(
        "{device}: the microphone sent nothing for {seconds} seconds; check that it is not muted or \
         held by another program"
    )]
    Silent {
        /// Its name.
        device: String,
        /// For how long.
        seconds: u64,
    },
    /// Takes are to be kept in what is no folder.
    #[error("{}: is a file, and takes are kept in a folder; name another with --save", .0.display())]
    NotAFolder(PathBuf),
    /// A take cannot be kept on disk.
    #[error("{}: {cause}", .path.display())]
    Keep {
        /// The file or folder.
        path: PathBuf,
        /// What is wrong; told in the line, hence not as its source too.
        cause: TakeError,
    },
}

fn listed(names: &[String]) -> String {
    match names {
        [] => " (there is none now)".to_owned(),
        names => format!(" ({})", names.join(", ")),
    }
}
