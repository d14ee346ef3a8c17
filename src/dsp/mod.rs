//! Arithmetic on slices: windows, spectra, statistics. Has never heard of a reed.
