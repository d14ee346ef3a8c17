//! A comparison as text: what moved first, what did not, what nobody can tell yet.

use super::format::{counted, number, signed};
use super::json;
use super::terminal::{Role, Style, words};
use crate::comparison::{Change, Comparison, Side, Verdict};
use crate::profile::Profile;

/// A comparison as one line of JSON, without the line feed.
pub fn line(comparison: &Comparison) -> String {
    json::one_line(comparison)
}

/// A comparison as a maker reads it.
///
/// Returns lines of at most `style.width` columns where words allow, each ended by a line feed.
pub fn text(comparison: &Comparison, profile: &Profile, style: &Style) -> String {
    let mut lines = Vec::new();
    for (label, side) in [("Before  ", &comparison.before), ("After   ", &comparison.after)] {
        lines.extend(style.wrapped(label, &described(side)));
    }
    lines.push(String::new());
    for line in style.wrapped("  ", &headline(comparison, profile)) {
        lines.push(style.paint(Role::Headline, &line));
    }
    let shown: Vec<&Change> =
        comparison.changes.iter().filter(|change| is_shown(change, comparison, profile)).collect();
    let of = |verdicts: &[Verdict]| -> Vec<&Change> {
        shown.iter().copied().filter(|change| verdicts.contains(&change.verdict)).collect()
    };
    let sections = [
        ("Changed", of(&[Verdict::Rose, Verdict::Fell])),
        ("Cannot tell", of(&[Verdict::Unclear])),
    ];
    for (title, changes) in sections {
        if !changes.is_empty() {
            lines.push(String::new());
            lines.push(style.paint(Role::Headline, title));
            lines.extend(changes.into_iter().map(|change| row(change, comparison, profile)));
        }
    }
    let same = of(&[Verdict::Same]);
    if !same.is_empty() {
        lines.push(String::new());
        lines.push(style.paint(Role::Headline, "No change larger than"));
        let each: Vec<String> = same.into_iter().map(|change| limit(change, profile)).collect();
        lines.extend(style.wrapped("  ", &(each.join("; ") + ".")));
    }
    if shown.len() < comparison.changes.len() {
        lines.push(String::new());
        let hidden = comparison.changes.len() - shown.len();
        let aside = format!("{} more with --json.", counted(hidden, "figure"));
        lines.push(style.paint(Role::Aside, &aside));
    }
    if !comparison.notes.is_empty() {
        lines.push(String::new());
    }
    for note in &comparison.notes {
        for line in style.wrapped("Note  ", &note.text) {
            lines.push(style.paint(Role::Aside, &line));
        }
    }
    style.letters(lines.join("\n") + "\n")
}

/// A change in one short sentence: "pitch against the target rose by 26 ±6 cents".
pub fn sentence(change: &Change, profile: &Profile) -> String {
    let label = label(change);
    let places = places(change);
    let unit = label.unit;
    let by = number(change.difference.abs(), places);
    let interval = change.ci95.map(|half| format!(" ±{half:.places$}")).unwrap_or_default();
    match change.verdict {
        Verdict::Rose => format!("{} rose by {by}{interval}{unit}", label.name),
        Verdict::Fell => format!("{} fell by {by}{interval}{unit}", label.name),
        Verdict::Same => {
            let limit = profile.smallest_change(&change.figure).unwrap_or_default();
            format!("{}: no change larger than {}{unit}", label.name, trimmed(limit))
        }
        Verdict::Unclear => format!("{}: cannot tell ({})", label.name, doubt(change)),
    }
}

fn described(side: &Side) -> String {
    let kind = match side.kind {
        Some(kind) => format!(", mostly {}", words::kind(kind)),
        None => String::new(),
    };
    let takes = if side.source.len() > 3 {
        format!("{} takes", side.source.len())
    } else {
        side.source.join(", ")
    };
    format!("{takes}: {}{kind}", counted(side.crow_count, "crow"))
}

/// Pitch in one sentence, since it is what most cuts are for.
fn headline(comparison: &Comparison, profile: &Profile) -> String {
    let of = |path: &str| comparison.changes.iter().find(|change| change.figure == path);
    let pitch = of("fundamental.target_cents").or_else(|| of("fundamental.hz"));
    match pitch {
        Some(change) => {
            let text = sentence(change, profile);
            let mut letters = text.chars();
            let first = letters.next().map(|letter| letter.to_uppercase().to_string());
            format!("{}{}.", first.unwrap_or_default(), letters.as_str())
        }
        None => match (comparison.before.crow_count, comparison.after.crow_count) {
            (0, 0) => "No crow sounds on either side.".into(),
            (0, _) => "It crows now, and did not before.".into(),
            (_, 0) => "It does not crow any more.".into(),
            _ => "No tone is held on both sides: pitch cannot be compared.".into(),
        },
    }
}

/// Whether a figure is told in text: not what another line says already, nor rungs over the
/// profile's, nor octave bands that did not change for sure.
fn is_shown(change: &Change, comparison: &Comparison, profile: &Profile) -> bool {
    let has = |path: &str| comparison.changes.iter().any(|change| change.figure == path);
    let path = change.figure.as_str();
    if let Some(rest) = path.strip_prefix("rungs[") {
        let index = rest.split(']').next().and_then(|index| index.parse::<usize>().ok());
        let expected = index.is_some_and(|index| index < profile.registers.len());
        let never_out = path.ends_with("switches_per_s") && change.before + change.after == 0.0;
        return expected && !never_out && !path.ends_with("].hz");
    }
    match path {
        "fundamental.hz" => !has("fundamental.target_cents"),
        "fundamental.note_cents" => false,
        _ if path.starts_with("balance.bands_db") => {
            matches!(change.verdict, Verdict::Rose | Verdict::Fell)
        }
        _ => true,
    }
}

/// "pitch wander 3 cents"
fn limit(change: &Change, profile: &Profile) -> String {
    let label = label(change);
    let limit = profile.smallest_change(&change.figure).unwrap_or_default();
    format!("{} {}{}", label.name, trimmed(limit), label.unit)
}

fn row(change: &Change, comparison: &Comparison, profile: &Profile) -> String {
    let label = label(change);
    let places = places(change);
    let unit = label.unit;
    let name = if label.name.contains("rung") {
        // Which rung that is, by the frequency it has before.
        let path = change.figure.split(']').next().unwrap_or_default();
        let hz = format!("{path}].hz");
        let at = comparison.changes.iter().find(|other| other.figure == hz);
        at.map_or(label.name.clone(), |at| format!("{} ({:.0} Hz)", label.name, at.before))
    } else {
        label.name.clone()
    };
    let values = format!("{} → {}", number(change.before, places), number(change.after, places));
    let difference = match change.ci95 {
        Some(half) => format!("{} ±{half:.places$}{unit}", signed(change.difference, places)),
        None => format!("{}{unit}", signed(change.difference, places)),
    };
    let adjusted = if change.level_adjusted { " at one level" } else { "" };
    let verdict = match change.verdict {
        Verdict::Rose => "rose".to_owned(),
        Verdict::Fell => "fell".to_owned(),
        Verdict::Same => format!("no more than {}", limit(change, profile)),
        Verdict::Unclear => doubt(change),
    };
    format!("  {name:<29}{values:<18}{difference:<22}{verdict}{adjusted}").trim_end().to_owned()
}

fn doubt(change: &Change) -> String {
    match (change.ci95, change.crows_needed) {
        (None, _) => "one crow tells no spread".into(),
        (Some(_), Some(needed)) => format!("{needed} crows a side would"),
        (Some(_), None) => "over 200 crows a side".into(),
    }
}

/// Decimals that show two digits of the interval, or of the value where there is none.
fn places(change: &Change) -> usize {
    let size = change.ci95.filter(|half| *half > 0.0).unwrap_or(change.difference.abs().max(0.1));
    match size {
        size if size >= 10.0 => 0,
        size if size >= 1.0 => 1,
        size if size >= 0.1 => 2,
        _ => 3,
    }
}

fn trimmed(value: f64) -> String {
    let text = format!("{value:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

struct Label {
    name: String,
    /// With its leading space.
    unit: &'static str,
}

fn label(change: &Change) -> Label {
    let path = change.figure.as_str();
    let index = path
        .split_once('[')
        .and_then(|(_, rest)| rest.split_once(']'))
        .and_then(|(index, _)| index.parse::<usize>().ok());
    let (name, unit) = match path {
        "fundamental.hz" => ("frequency", " Hz"),
        "fundamental.note_cents" => ("pitch against the note", " cents"),
        "fundamental.target_cents" => ("pitch against the target", " cents"),
        "fundamental.register" => ("register", ""),
        "alignment.cents" => ("octave alignment", " cents"),
        "balance.centroid_hz" => ("centre of power", " Hz"),
        "balance.tilt_db_per_octave" => ("slope of partials", " dB/octave"),
        "balance.low_high_db" => ("low against high", " dB"),
        "steadiness.spread_cents" => ("pitch wander", " cents"),
        "steadiness.drift_cents_per_s" => ("pitch drift", " cents/s"),
        "steadiness.level_sd_db" => ("level wander", " dB"),
        "steadiness.rattle_hz" => ("rattle rate", " Hz"),
        "steadiness.rattle_depth" => ("rattle depth", ""),
        "response.onset_s" => ("breath before the tone", " s"),
        "response.low_delay_s" => ("low octave after first tone", " s"),
        "breath.noise_db" => ("breath noise", " dB"),
        "level_dbfs" => ("level", " dBFS"),
        _ => ("", ""),
    };
    if !name.is_empty() {
        return Label { name: name.into(), unit };
    }
    let rung = index.map_or_else(String::new, |index| (index + 1).to_string());
    match path.rsplit(']').next() {
        Some(".db") => Label { name: format!("band {}", band(index)), unit: " dB" },
        Some(".hz") => Label { name: format!("rung {rung} pitch"), unit: " Hz" },
        Some(".level_db") => Label { name: format!("rung {rung} level"), unit: " dB" },
        Some(".present") => Label { name: format!("rung {rung} share"), unit: "" },
        Some(".switches_per_s") => Label { name: format!("rung {rung} outs"), unit: "/s" },
        Some(".entry_s") => Label { name: format!("rung {rung} entry"), unit: " s" },
        _ => Label { name: path.into(), unit: "" },
    }
}

/// Octave bands stand from 125 Hz upwards.
fn band(index: Option<usize>) -> String {
    let hz = 125u32 << index.unwrap_or(0).min(6);
    format!("{} Hz", if hz == 125 { 125 } else { hz / 250 * 250 })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn change(figure: &str, difference: f64, ci95: Option<f64>, verdict: Verdict) -> Change {
        Change {
            figure: figure.into(),
            before: -38.0,
            after: -38.0 + difference,
            difference,
            ci95,
            verdict,
            level_adjusted: false,
            crows_needed: (verdict == Verdict::Unclear).then_some(7),
        }
    }

    #[test]
    fn each_verdict_has_its_sentence() {
        let profile = Profile::default();
        for (given, said) in [
            (
                change("fundamental.target_cents", 26.2, Some(6.04), Verdict::Rose),
                "pitch against the target rose by 26.2 ±6.0 cents",
            ),
            (
                change("alignment.cents", -12.0, Some(14.0), Verdict::Unclear),
                "octave alignment: cannot tell (7 crows a side would)",
            ),
            (
                change("fundamental.target_cents", 1.0, Some(2.0), Verdict::Same),
                "pitch against the target: no change larger than 5 cents",
            ),
            (
                change("balance.bands_db[2].db", -4.0, Some(1.0), Verdict::Fell),
                "band 500 Hz fell by 4.0 ±1.0 dB",
            ),
            (
                change("rungs[1].level_db", 4.0, None, Verdict::Unclear),
                "rung 2 level: cannot tell (one crow tells no spread)",
            ),
        ] {
            assert_eq!(sentence(&given, &profile), said);
        }
    }

    #[test]
    fn bands_are_named_by_their_nominal_frequency() {
        let names: Vec<String> = (0..7).map(|index| band(Some(index))).collect();
        assert_eq!(
            names,
            ["125 Hz", "250 Hz", "500 Hz", "1000 Hz", "2000 Hz", "4000 Hz", "8000 Hz"]
        );
    }
}
