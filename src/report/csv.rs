//! Tables of readings.
