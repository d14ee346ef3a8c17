//! What blowing harder does to the pitch.

/// The slope of pitch against level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blowing {
    /// Cents for each decibel louder.
    pub cents_per_db: f64,
    /// How well that is known of the next reed (standard deviation).
    pub sd: f64,
}
