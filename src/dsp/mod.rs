//! Arithmetic on slices: windows, spectra, lines, statistics. Has never heard of a reed.

pub mod autocorrelation;
pub mod bands;
pub mod modulation;
pub mod periodicity;
pub mod phase;
pub mod plans;
pub mod resample;
pub mod spectrum;
pub mod statistics;
pub mod window;
