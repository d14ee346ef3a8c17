//! What a recorder did to the sound, and what to switch off.

/// The gain goes up and down.
pub const GAIN_CONTROL: &str = "the recorder turns its gain up in the pauses: levels, breath and how soon the reed speaks are not reliable; turn off automatic gain (or \"boost\") in the sound settings, or use another recording app";

/// What is quiet is shut off.
pub const GATED: &str = "the recorder shuts off quiet sounds: breath and the start of a crow are missing; turn off noise suppression or voice isolation";

/// Moments are missing.
pub const DROPOUTS: &str = "moments of the crow are missing, as when packets are lost: steadiness and rattle are not reliable; record on the device itself and send the file";
