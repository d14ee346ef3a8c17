//! The figures of a comparison, and of a take that was read again, as the card and the maker call them.

use serde_json::Value;

use crate::comparison::Change;
use crate::pitch::{A4, Note, register};
use crate::profile::Profile;
use crate::reading::{Kind, catalogue};
use crate::units::Hertz;
use crate::words::format::number;
use crate::words::voices::kind_word;

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

/// A figure of a take's summary that is another one since the take was read again, as one line:
/// `pitch against the target: −56.91 → −64.76 cents`.
///
/// * `path`: where it stands in the JSON of the summary, such as `rungs.0.hz`.
pub fn read_again(path: &str, before: &Value, after: &Value) -> String {
    let figure = OfSummary::at(path);
    let (was, is) = (figure.shown(before), figure.shown(after));
    match was == is {
        true => format!("{}: by less than is shown here", figure.name),
        false => format!("{}: {was} → {is}{}", figure.name, figure.unit),
    }
}

/// A figure of a take's summary.
struct OfSummary {
    name: String,
    unit: String,
    scale: f64,
    /// `None` for as many as four digits need.
    decimals: Option<usize>,
}

impl OfSummary {
    fn at(path: &str) -> Self {
        let plain = |name: &str| Self {
            name: name.to_owned(),
            unit: String::new(),
            scale: 1.0,
            decimals: None,
        };
        // Lists are told by the place in them, which the catalogue does not know.
        let parts: Vec<&str> = path.split('.').collect();
        let (place, key): (Option<usize>, String) = match parts.as_slice() {
            ["rungs", at, field] => (at.parse().ok(), format!("rungs.{field}")),
            ["balance", "bands_db", at, _] => (at.parse().ok(), "balance.bands_db".to_owned()),
            _ => (None, path.to_owned()),
        };
        let Some(about) = catalogue::about(&key) else {
            return match (key.as_str(), place) {
                ("kind", _) => plain("kind of crow"),
                ("crow_count", _) => plain("crows"),
                ("rungs.sustained", Some(at)) => plain(&format!("octave {} holds", at + 1)),
                _ => plain(path),
            };
        };
        let name = match place {
            Some(at) if key.starts_with("rungs.") => format!("octave {} {}", at + 1, about.name),
            Some(at) => format!("{} {}", about.name, band(Some(at))),
            None => about.name.to_owned(),
        };
        let space = if about.unit.is_empty() || about.unit.starts_with('/') { "" } else { " " };
        let unit = format!("{space}{}", about.unit);
        Self { name, unit, scale: about.scale, decimals: Some(about.decimals) }
    }

    fn shown(&self, value: &Value) -> String {
        match (value, value.as_f64()) {
            (Value::Null, _) => "–".to_owned(),
            (Value::Bool(yes), _) => if *yes { "yes" } else { "no" }.to_owned(),
            (Value::String(word), _) => {
                let known = serde_json::from_value::<Kind>(value.clone());
                known.map_or_else(|_| word.clone(), |known| kind_word(known, false).to_owned())
            }
            (_, Some(value)) => {
                let value = value * self.scale;
                // Four digits are as many as any figure is good for.
                let before_the_point = value.abs().max(1e-3).log10().floor();
                let four = (3.0 - before_the_point).clamp(0.0, 4.0) as usize;
                let is_whole = self.decimals.is_none() && value.fract() == 0.0;
                let most = if is_whole { 0 } else { self.decimals.unwrap_or(four) };
                number(value, four.min(most))
            }
            (other, None) => other.to_string(),
        }
    }
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
    use serde_json::json;

    use super::*;

    #[test]
    fn bands_are_named_by_their_nominal_frequency() {
        let names: Vec<String> = (0..7).map(|index| band(Some(index))).collect();
        assert_eq!(
            names,
            ["125 Hz", "250 Hz", "500 Hz", "1000 Hz", "2000 Hz", "4000 Hz", "8000 Hz"]
        );
    }

    #[test]
    fn a_figure_that_was_read_again_is_told_in_a_makers_words() {
        let told = |path: &str, was: Value, is: Value| read_again(path, &was, &is);
        for (path, was, is, line) in [
            ("fundamental.hz", json!(511.123_456), json!(511.3), "frequency: 511.1 → 511.3 Hz"),
            (
                "fundamental.target_cents",
                json!(-41.234_567),
                json!(null),
                "pitch against the target: −41.23 → – cents",
            ),
            ("rungs.1.present", json!(0.5), json!(1.0), "octave 2 held: 50.0 → 100.0 %"),
            ("rungs.0.sustained", json!(true), json!(false), "octave 1 holds: yes → no"),
            ("balance.bands_db.2.db", json!(-8.0), json!(-9.04), "band 500 Hz: −8.0 → −9.0 dB"),
            ("kind", json!("octaves"), json!("split"), "kind of crow: octaves → two tones"),
            ("crow_count", json!(3), json!(12), "crows: 3 → 12"),
            (
                "breath.noise_db",
                json!(-20.01),
                json!(-20.02),
                "breath noise: by less than is shown here",
            ),
        ] {
            assert_eq!(told(path, was, is), line);
        }
    }

    /// Every figure that can change has a name that is not its path.
    #[test]
    fn no_path_of_the_summary_is_printed() {
        for about in catalogue::all() {
            let path = about.path.replacen("rungs.", "rungs.0.", 1);
            let path = path.replace("balance.bands_db", "balance.bands_db.0.db");
            let name = OfSummary::at(&path).name;
            assert!(!name.contains(['_', '.']), "{path}: {name}");
        }
    }
}
