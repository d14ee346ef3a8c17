//! Microphone to take.
//!
//! The device's callback copies into a ring buffer ([`Microphone`]); the program drains it into a
//! [`Session`], which finds the crows with the same reader that reads files, gathers crows without
//! a pause between them into takes, and says what happened as [`Event`]s. [`TakeFile`] keeps a
//! take on disk while it is being recorded. [`MicrophoneCheck`] leads
//! through a check of microphone and room.

mod channel;
mod check;
mod device;
mod error;
mod fitness;
mod microphone;
mod noise;
mod room;
mod session;
mod speaker;
mod stream;
mod take_file;

pub use check::{Check, MicrophoneCheck, PATIENCE_S, QUIET_S};
pub use device::{Input, InputFormat, default_input, find_input, inputs};
pub use error::{CaptureError, Refusal};
pub use fitness::{CROWS, FEW_CROWS, Fitness, LEAST_DBFS, Matter};
pub use microphone::Microphone;
pub use session::{
    Event, FinishedTake, Listening, Session, SessionSettings, SoundFormat, SourceTold, Stands,
};
pub use speaker::play;
pub use take_file::TakeFile;
