//! The figures of a comparison as the card and the maker call them.

use crate::comparison::Change;
use crate::pitch::{A4, Note, register};
use crate::profile::Profile;
use crate::units::Hertz;

/// What a figure is called.
pub(super) struct Name {
    /// Its name.
    pub text: String,
    /// Its unit, with a space before it where one belongs there.
    pub unit: &'static str,
    /// What its values are multiplied by for that unit.
    pub scale: f64,
}

/// The name of a figure that changed.
pub(super) fn name(change: &Change, profile: &Profile) -> Name {
    let path = change.figure.as_str();
    let (text, unit) = match path {
        "fundamental.hz" => ("frequency", " Hz"),
        "fundamental.note_cents" => ("pitch against the note", " cents"),
        "fundamental.target_cents" => ("pitch against the target", " cents"),
        "fundamental.register" => ("octaves over the target", ""),
        "alignment.cents" => ("octave alignment", " cents"),
        "balance.centroid_hz" => ("centre of power", " Hz"),
        "balance.tilt_db_per_octave" => ("slope of the partials", " dB/octave"),
        "balance.low_high_db" => ("below 2 kHz against above", " dB"),
        "steadiness.spread_cents" => ("pitch wander", " cents"),
        "steadiness.drift_cents_per_s" => ("pitch drift", " cents/s"),
        "steadiness.level_sd_db" => ("level wander", " dB"),
        "steadiness.rattle_hz" => ("rattle rate", " Hz"),
        "steadiness.rattle_depth" => ("rattle depth", ""),
        "response.onset_s" => ("breath before the tone", " s"),
        "response.low_delay_s" => ("delay of the low octave", " s"),
        "breath.noise_db" => ("breath noise", " dB"),
        "level_dbfs" => ("level", " dB"),
        _ => return of_a_part(change, profile),
    };
    Name { text: text.into(), unit, scale: 1.0 }
}

/// Of an octave or a band.
fn of_a_part(change: &Change, profile: &Profile) -> Name {
    let path = change.figure.as_str();
    let octave = octave(change, profile);
    let (text, unit, scale) = match path.rsplit(']').next() {
        Some(".db") => (format!("band {}", band(index(path))), " dB", 1.0),
        Some(".hz") => (format!("{octave} frequency"), " Hz", 1.0),
        Some(".level_db") => (format!("{octave} loudness"), " dB", 1.0),
        Some(".present") => (format!("{octave} held"), " %", 100.0),
        Some(".switches_per_s") => (format!("{octave} goes out"), "/s", 1.0),
        Some(".entry_s") => (format!("{octave} comes in"), " s", 1.0),
        _ => (path.to_owned(), "", 1.0),
    };
    Name { text, unit, scale }
}

/// Which octave that is: the target's note there, as the ladder of the card has it where the crow is
/// in tune; without a target its frequency.
fn octave(change: &Change, profile: &Profile) -> String {
    let Some(hertz) = change.octave_hz.and_then(Hertz::new) else {
        return format!("octave {}", index(&change.figure).map_or(1, |index| index + 1));
    };
    match profile.target {
        Some(target) => {
            let octaves = octaves_over(hertz, target);
            target.octaves_up(octaves).to_string()
        }
        None => format!("{:.0} Hz", hertz.hz()),
    }
}

/// Whether an octave is one that the profile expects; by its place where it is not known which it is.
pub(super) fn is_expected(change: &Change, profile: &Profile) -> bool {
    match (change.octave_hz.and_then(Hertz::new), profile.target) {
        (Some(hertz), Some(target)) => profile.registers.contains(&octaves_over(hertz, target)),
        _ => index(&change.figure).is_some_and(|index| index < profile.registers.len()),
    }
}

/// To the nearest octave, so that it does not matter which A4 the reed is made for.
fn octaves_over(hertz: Hertz, target: Note) -> i32 {
    register(hertz, target.frequency(A4::default()))
}

fn index(path: &str) -> Option<usize> {
    path.split_once('[')?.1.split_once(']')?.0.parse().ok()
}

/// Octave bands stand from 125 Hz upwards.
fn band(index: Option<usize>) -> String {
    let hz = 125u32 << index.unwrap_or(0).min(6);
    format!("{} Hz", if hz == 125 { 125 } else { hz / 250 * 250 })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_are_named_by_their_nominal_frequency() {
        let names: Vec<String> = (0..7).map(|index| band(Some(index))).collect();
        assert_eq!(
            names,
            ["125 Hz", "250 Hz", "500 Hz", "1000 Hz", "2000 Hz", "4000 Hz", "8000 Hz"]
        );
    }
}
