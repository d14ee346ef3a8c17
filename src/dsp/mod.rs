//! Arithmetic on slices: windows, spectra, lines, statistics. Has never heard of a reed.

pub(crate) mod autocorrelation;
pub mod bands;
pub(crate) mod decimate;
pub(crate) mod modulation;
mod padded;
pub(crate) mod periodicity;
pub(crate) mod phase;
pub(crate) mod plans;
pub(crate) mod power;
pub(crate) mod real;
pub(crate) mod resample;
pub mod spectrum;
pub mod statistics;
pub mod window;
