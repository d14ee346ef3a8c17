//! Synthetic takes with exact truth, for demo data, tests and benchmarks. They validate signal
//! processing, not reeds.
//!
//! A [`Scene`] says what sounds when; [`Scene::render`] gives the samples (full scale ±1) and the
//! [`Truth`]: what a perfect reading of them would say. The same scene gives the same samples.
//! Phases are summed in `f64` from the actual frequency of every sample, so the stated mean
//! frequencies hold to rounding.

mod bound;
mod chaos;
mod crow;
mod disturbance;
mod envelope;
pub mod harmonic;
mod measure;
mod motion;
mod noise;
mod room;
mod scene;
mod speech;
mod tones;
mod truth;
mod workshop;

pub use chaos::Chaos;
pub use crow::{Air, CrowSound, Motion, Rattle, Room, RungSound, Turns, Unlocked};
pub use disturbance::Disturbance;
pub use noise::Colour;
pub use scene::{Background, Hum, Noise, NoiseLevel, Rendered, Scene, Sound, Source};
pub use truth::{CrowTruth, OtherTruth, RungTruth, Truth};
pub use workshop::{WorkshopTake, workshop};
