//! The figures of a comparison as the card and the maker call them.

use crate::comparison::Change;
use crate::pitch::{A4, Note, register};
use crate::profile::Profile;
use crate::reading::catalogue;
use crate::units::Hertz;

/// What a figure is called.
pub struct Name {
    /// Its name.
    pub text: String,
    /// Its unit, with a space before it where one belongs there.
    pub unit: String,
    /// What its values are multiplied by for that unit.
    pub scale: f64,
}

/// The name of a figure that changed.
pub fn name(change: &Change, profile: &Profile) -> Name {
    let path = change.figure.as_str();
    let Some(about) = catalogue::about(path) else {
        return Name { text: path.to_owned(), unit: String::new(), scale: 1.0 };
    };
    let text = match about.path {
        "balance.bands_db" => format!("{} {}", about.name, band(index(path))),
        of_a_rung if of_a_rung.starts_with("rungs.") => {
            format!("{} {}", octave(change, profile), about.name)
        }
        _ => about.name.to_owned(),
    };
    // "per second" needs no space before it.
    let space = if about.unit.is_empty() || about.unit.starts_with('/') { "" } else { " " };
    Name { text, unit: format!("{space}{}", about.unit), scale: about.scale }
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
pub fn is_expected(change: &Change, profile: &Profile) -> bool {
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
