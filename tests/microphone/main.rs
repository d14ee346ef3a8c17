//! The microphone path for real: what is played into a virtual microphone (a PulseAudio of its own
//! with a silent output, read through ALSA) is recorded by the program as a user runs it.
//!
//! Needs what `scripts/virtual-microphone install` installs. Where that cannot run, each test says
//! so on standard error and passes, unless REEDCROW_MICROPHONE=required is set.

mod bench;
mod checking;
mod ending;
#[path = "../commands/golden.rs"]
mod golden;
mod killed;
mod logging;
mod reading;
mod screen;
