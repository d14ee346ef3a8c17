//! What a recorder did to the sound, and what to switch off.

/// The gain goes up and down.
pub const GAIN_CONTROL: &str = "the recorder turns its gain up in the pauses: levels, breath and how soon the reed speaks are not reliable; turn off automatic gain (or \"boost\") in the sound settings, or use another recording app";

/// What is quiet is shut off.
pub const GATED: &str = "the recorder shuts off quiet sounds: breath and the start of a crow are missing; turn off noise suppression or voice isolation";

/// Moments are missing.
pub const DROPOUTS: &str = "moments of the crow are missing, as when packets are lost: steadiness and rattle are not reliable; record on the device itself and send the file";

/// Noise was taken off.
pub const NOISE_SUPPRESSED: &str = "the recorder takes noise off, and with it breath and weak octaves of the crow: a weak low octave may be missing; turn off noise suppression or voice isolation";

/// Pitch is that of another sample rate.
pub const WRONG_RATE: &str = "the mains hum 147 cents off, so the pitch of everything is off by as much: the recording was made at one sample rate and says another (44.1 and 48 kHz); export it again";

/// The upper part is missing.
pub fn low_passed(edge_hz: f64) -> String {
    format!(
        "everything above {:.1} kHz was cut off, as telephones and small sound files do: levels and balance hold only below that; send the file as it was recorded",
        edge_hz / 1000.0
    )
}

/// Samples are missing or doubled.
pub const SPLICED: &str = "within a crow all its tones jump at once: the recording was cut and joined there, or lost some of its samples; what is told of that crow is of its longest unbroken part";
