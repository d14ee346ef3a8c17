//! What stands in pictures: headings, axes, legends, and what is said where there is nothing to draw.

use crate::log::questions::Condition;
use crate::reed::Cut;
use crate::words::format::counted;
use crate::words::log;

/// Over the change of pitch by a kind of work.
pub fn cuts(cut: Cut) -> String {
    format!("What {} did to the pitch", cut.row().thing)
}

/// What a picture of a take shows, after its name.
pub fn pitch_and_spectrum(of: &str) -> String {
    format!(": pitch of all crows, spectrum of {of}")
}

/// How much was done.
///
/// * `is_known`: whether any amount was written down.
pub fn amount(is_known: bool) -> &'static str {
    match is_known {
        true => "amount (mm)",
        false => "no amount was written down",
    }
}

/// What became of the pitch.
pub const CHANGE_OF_PITCH: &str = "change of pitch (cents)";
/// A slope and its interval.
pub fn per_mm(slope: &str, half: &str) -> String {
    format!(", {slope} ±{half} cents per mm")
}
/// The line through the points.
pub const FITTED: &str = "fitted";
/// The band that one more cut is to be expected in.
pub const MORE_CUTS: &str = "19 of 20 further cuts";
/// The band of the line itself.
pub const WHERE_LINE_LIES: &str = "where the line may lie";

/// Over pitch against a condition.
pub fn against(condition: Condition) -> String {
    format!("Pitch against {}", log::condition(condition))
}
/// A condition less its mean over takes of one reed.
pub fn from_own_mean(of: Condition) -> String {
    let unit = match of {
        Condition::HoursPlayed | Condition::HoursRested => " (h)",
        Condition::Soaked => " (min)",
        Condition::Temperature => " (°C)",
        Condition::Humidity => " (%)",
    };
    format!("{}{unit}, above or below the reed's own mean", log::condition(of))
}
/// The same of the pitch.
pub const PITCH_FROM_OWN_MEAN: &str = "pitch (cents), above or below the reed's own mean";

/// An axis of time.
pub const TIME_S: &str = "time (s)";
/// The same, where it is long.
pub const TIME_MIN: &str = "time (min)";
/// An axis of frequency.
pub const FREQUENCY: &str = "frequency (Hz)";
/// Pitch against a note, as an axis.
pub fn cents_from(note: &str) -> String {
    format!("cents from {note}")
}
/// The same where there is no note.
pub const CENTS: &str = "cents";
/// The note that a profile holds crows to.
pub fn the_target(note: &str) -> String {
    format!("the target {note}")
}
/// Without a target.
pub fn the_nearest(note: &str) -> String {
    format!("{note}, the nearest note")
}
/// An octave by its note.
pub fn octave_of(note: &str) -> String {
    format!("octave of {note}")
}
/// An octave by its number from below.
pub fn octave_number(number: i64) -> String {
    format!("octave {number}")
}

/// The three charts of a take.
pub mod take {
    pub(crate) const SPECTRUM: &str = "Spectrum";
    pub(crate) const LEVEL: &str = "level (dB of full scale)";
    pub(crate) const ROOM: &str = "room noise";
    pub(crate) const COMBINATION: &str = "combination tone";
    pub(crate) const STEADY: &str = "steady part";
    pub(crate) const PITCH: &str = "Pitch over time, all octaves on one scale";
    pub(crate) const NO_TONE: &str = "no tone to follow";
    pub(crate) const NO_PITCH: &str = "no pitch";
    pub(crate) const SILENCE: &str = "silence";
    pub(crate) const SHORT_SPECTRUM: &str = "the take is too short for a spectrum";
    pub(crate) const SHORT_SPECTROGRAM: &str = "the take is too short for a spectrogram";
    pub(crate) const CHARTS: &str =
        "Three charts: the spectrum, the pitch over time, and the spectrogram.";

    pub(crate) fn title(name: &str) -> String {
        format!("The crow of {name}")
    }
    pub(crate) fn spectrogram(depth_db: f64) -> String {
        format!("Spectrogram (dark is loud, down to {depth_db} dB under the loudest)")
    }
    pub(crate) fn longest(number: usize, count: usize) -> String {
        format!("crow {number} of {count}, the longest")
    }
    /// What it is of, and what it was held to.
    pub(crate) fn heard_in(crows: &str, duration_s: f64, profile: &str, a4_hz: f64) -> String {
        format!("{crows} in {duration_s:.1} s · profile {profile} · A4 = {a4_hz} Hz")
    }
    pub(crate) fn spectrum_of(crow: &str) -> String {
        format!(" · spectrum of {crow}")
    }
}

/// The three charts before and after.
pub mod compared {
    pub(crate) fn title(before: &str, after: &str) -> String {
        format!("{before} and {after}")
    }
    pub(crate) const SIDES: [&str; 2] = ["before", "after"];
    pub(crate) const PITCH: &str = "Pitch of each crow";
    pub(crate) const NO_PITCH: &str = "no pitch on either side";
    pub(crate) const OCTAVES: &str = "Level of each octave within the whole sound";
    pub(crate) const LEVEL: &str = "level (dB)";
    pub(crate) const GONE: &str = "gone";
    pub(crate) const NO_OCTAVE: &str = "no octave sounds on either side";
    pub(crate) const SPECTRA: &str = "Spectra, of the longest crow of each take";
    pub(crate) const FROM_LOUDEST: &str = "dB from the loudest";
    pub(crate) const SILENT: &str = "nothing sounds on either side";
    pub(crate) const NO_CROW: &str = "no crow";
    pub(crate) const CHARTS: &str =
        "Three charts: the pitch of each crow, the level of each octave, both spectra.";

    pub(crate) fn new(level: &str) -> String {
        format!("new, {level}")
    }
}

/// The three charts of a reed's way.
pub mod way {
    pub(crate) const STEP: &str = "step";
    pub(crate) const NO_PITCH: &str = "no pitch was heard";
    pub(crate) const FIRST_HEARD: &str = "first heard";
    pub(crate) const OCTAVES: &str = "Upper octave against a true octave";
    pub(crate) const WIDE_IS_UP: &str = "cents (up: too wide)";
    pub(crate) const LENGTH: &str = "Length";
    pub(crate) const NO_LENGTH: &str = "no length was measured";
    pub(crate) const CHARTS: &str = "Three charts over the cuts: pitch, octaves, length.";

    pub(crate) fn pitch_went(from: &str, to: &str, of: &str) -> String {
        format!("pitch {from} → {to} cents from {of}")
    }
    pub(crate) fn length_went(from: &str, to: &str, is_doubtful: bool) -> String {
        format!("{from} → {to}{}", if is_doubtful { " (doubtful)" } else { "" })
    }
    pub(crate) fn not_shown(stages: usize) -> String {
        format!("the first {} not shown", super::counted(stages, "stage"))
    }

    pub(crate) fn title(label: &str) -> String {
        format!("The way of {label}")
    }
    pub(crate) fn pitch(from: &str) -> String {
        format!("Pitch, from {from}")
    }
    pub(crate) fn in_tune(cents: &str) -> String {
        format!("target, in tune within {cents} cents")
    }
}

/// A file name that says no form.
pub const PICTURE_ENDINGS: &str =
    "pictures are written as .svg or .png; give a name with one of these endings";
/// The letters of pictures cannot be used.
pub const FONT_IS_DAMAGED: &str = "its font is damaged";
/// A picture that could not be drawn.
pub fn not_drawn(why: &str) -> String {
    format!("the picture could not be drawn ({why}); please report it with the take")
}
/// A picture whose pixels could not be written.
pub fn not_packed(why: &png::EncodingError) -> String {
    format!("the picture could not be packed as PNG ({why}); try .svg")
}
