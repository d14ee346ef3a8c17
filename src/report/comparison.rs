//! A comparison as text: what moved first, what did not, what nobody can tell yet.

use super::json;
use super::terminal::{Role, Style};
use crate::comparison::{Change, Comparison, NoteCode, Verdict};
use crate::profile::Profile;
use crate::words::comparison as words;
use crate::words::comparison::names::{Name, is_expected, name};
use crate::words::comparison::{
    AS_CROWED, FELL, MANY_CROWS, ONE_STRENGTH, ROSE, as_crowed, crows_needed, described, half,
    headline, limit, places,
};
use crate::words::format::{number, signed};

/// A comparison as one line of JSON, without the line feed.
pub fn line(comparison: &Comparison) -> String {
    json::one_line(comparison)
}

/// A comparison as a maker reads it.
///
/// * `names`: what the sides are called where their takes' sources do not say it.
///
/// Returns lines of at most `style.width` columns where words allow, each ended by a line feed.
pub fn text(
    comparison: &Comparison,
    names: [Option<&str>; 2],
    profile: &Profile,
    style: &Style,
) -> String {
    let mut lines = Vec::new();
    let [before, after] = names;
    lines.extend(style.wrapped(
        &format!("{:<8}", words::BEFORE),
        &described(&comparison.before, before, profile),
    ));
    lines.extend(
        style.wrapped(
            &format!("{:<8}", words::AFTER),
            &described(&comparison.after, after, profile),
        ),
    );
    lines.push(String::new());
    let noted = |code| comparison.notes.iter().find(|note| note.code == code);
    if noted(NoteCode::SameRecording).is_some() {
        lines.extend(style.wrapped("  ", words::SAME_RECORDING));
        return style.letters(lines.join("\n") + "\n");
    }
    for line in style.wrapped("  ", &headline(comparison, profile)) {
        lines.push(style.paint(Role::Headline, &line));
    }
    // It belongs to the line above, and is not said again below.
    if let Some(note) = noted(NoteCode::LevelsApart) {
        lines.extend(style.wrapped(&format!("  {} ", words::BUT), &note.text));
    }
    lines.extend(changes(comparison, profile, style));
    if !comparison.notes.is_empty() {
        lines.push(String::new());
    }
    for note in comparison.notes.iter().filter(|note| note.code != NoteCode::LevelsApart) {
        for line in style.wrapped(&format!("{}  ", words::NOTE), &note.text) {
            lines.push(style.paint(Role::Aside, &line));
        }
    }
    style.letters(lines.join("\n") + "\n")
}

/// What changed, by how sure it is.
fn changes(comparison: &Comparison, profile: &Profile, style: &Style) -> Vec<String> {
    let mut lines = Vec::new();
    let shown: Vec<&Change> =
        comparison.changes.iter().filter(|change| is_shown(change, comparison, profile)).collect();
    let of = |verdicts: &[Verdict]| -> Vec<&Change> {
        shown.iter().copied().filter(|change| verdicts.contains(&change.verdict)).collect()
    };
    let one_crow = comparison.changes.iter().any(|change| change.ci95.is_none());
    let doubts = match one_crow {
        true => words::CANNOT_TELL,
        false => words::CANNOT_TELL_YET,
    };
    let (much, little): (Vec<&Change>, Vec<&Change>) =
        of(&[Verdict::Rose, Verdict::Fell]).into_iter().partition(|change| change.matters(profile));
    let sections = [
        (words::CHANGED, much),
        (words::CHANGED_LITTLE, little),
        (doubts, of(&[Verdict::Unclear])),
    ];
    for (title, changes) in sections {
        if !changes.is_empty() {
            lines.push(String::new());
            let title = style.wrapped("", title).into_iter();
            lines.extend(title.map(|line| style.paint(Role::Headline, &line)));
            lines.extend(changes.into_iter().flat_map(|change| rows(change, profile, style)));
        }
    }
    let same = of(&[Verdict::Same]);
    if !same.is_empty() {
        lines.push(String::new());
        lines.push(style.paint(Role::Headline, words::NO_LARGER_THAN));
        let each: Vec<String> = same.into_iter().map(|change| limit(change, profile)).collect();
        lines.extend(style.wrapped("  ", &(each.join("; ") + ".")));
    }
    if shown.len() < comparison.changes.len() {
        lines.push(String::new());
        let hidden = comparison.changes.len() - shown.len();
        let aside = words::more(hidden);
        lines.push(style.paint(Role::Aside, &aside));
    }
    lines
}

/// Whether a figure is told in text: not what another line says already, nor octaves that the
/// profile does not expect, nor octave bands that did not change for sure.
fn is_shown(change: &Change, comparison: &Comparison, profile: &Profile) -> bool {
    let has = |path: &str| comparison.changes.iter().any(|change| change.figure == path);
    let path = change.figure.as_str();
    if is_delay_again(change, comparison) {
        return false;
    }
    if path.starts_with("rungs[") {
        let never_out = path.ends_with("switches_per_s") && change.before + change.after == 0.0;
        return is_expected(change, profile) && !never_out && !path.ends_with("].hz");
    }
    match path {
        "fundamental.hz" => !has("fundamental.target_cents"),
        "fundamental.note_cents" => false,
        "fundamental.register" => change.verdict != Verdict::Same,
        _ if path.starts_with("balance.bands_db") => change.matters(profile),
        _ => true,
    }
}

/// Whether a figure says again how late the low octave comes, and of it what its delay says: when the
/// lowest tone comes in, and by how much the upper one leads.
fn is_delay_again(change: &Change, comparison: &Comparison) -> bool {
    let of = |path: &str| comparison.changes.iter().find(|change| change.figure == path);
    let lowest = comparison.changes.iter().find(|change| change.figure.ends_with("].entry_s"));
    let is_of_low = change.figure == "voices.lead_ms"
        || lowest.is_some_and(|lowest| lowest.figure == change.figure);
    is_of_low && of("response.low_delay_s").is_some_and(|delay| delay.verdict == change.verdict)
}

/// One figure, on lines of at most 80 columns: both medians, the difference, what that says. Where
/// the difference is the one at one blowing strength, a line of its own has it: beside the medians
/// stands what they differ by. On a narrower terminal the name stands over them.
fn rows(change: &Change, profile: &Profile, style: &Style) -> Vec<String> {
    let Name { text, unit, scale } = name(change, profile);
    let places = places(change, scale);
    let value = |value: f64| number(value * scale, places);
    let ends = format!("{:>7} → {:<7}", value(change.before), value(change.after));
    let difference =
        format!("{}{}{unit}", signed(change.difference * scale, places), half(change, profile));
    let verdict = match change.verdict {
        Verdict::Rose => ROSE.to_owned(),
        Verdict::Fell => FELL.to_owned(),
        Verdict::Same => String::new(),
        Verdict::Unclear => match (change.ci95, change.crows_needed) {
            (None, _) => String::new(),
            (Some(_), Some(needed)) => crows_needed(needed),
            (Some(_), None) => MANY_CROWS.to_owned(),
        },
    };
    let line = |name: &str, ends: &str, difference: &str, said: &str| match style.width {
        80.. => {
            vec![format!("  {name:<25} {ends:<17} {difference:<22} {said}").trim_end().to_owned()]
        }
        _ => {
            let head = format!("  {name}").trim_end().to_owned();
            let figures = [ends.trim(), difference, said].join("  ");
            [head].into_iter().chain(style.wrapped("      ", &figures)).collect()
        }
    };
    if !change.level_adjusted {
        return line(&text, &ends, &difference, &verdict);
    }
    let plain = format!("{}{unit}", signed(as_crowed(change) * scale, places));
    let levelled = line(&format!("  {ONE_STRENGTH}"), "", &difference, &verdict);
    [line(&text, &ends, &plain, AS_CROWED), levelled].concat()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::comparison::Side;
    use crate::words::comparison::sentence;

    fn change(figure: &str, difference: f64, ci95: Option<f64>, verdict: Verdict) -> Change {
        Change {
            figure: figure.into(),
            octave_hz: None,
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
                "pitch against the target rose by 26.2 ±6.1 cents",
            ),
            (
                change("alignment.cents", -12.0, Some(14.0), Verdict::Unclear),
                "octave alignment: cannot tell yet (7 crows on each side would settle it)",
            ),
            (
                change("fundamental.target_cents", 4.0, Some(2.5), Verdict::Rose),
                "pitch against the target rose by 4.0 ±2.5 cents, less than the 5 cents that matter",
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
                "octave 2 loudness: cannot tell yet (one crow on a side gives no spread)",
            ),
        ] {
            assert_eq!(sentence(&given, &profile), said);
        }
    }

    /// The medians that stand beside it differ by 35.5; the reader is told why it is not that.
    #[test]
    fn a_difference_at_one_blowing_strength_says_so_and_what_was_crowed() {
        let profile = Profile::default();
        let given = Change {
            before: -57.4,
            after: -21.9,
            level_adjusted: true,
            ..change("fundamental.target_cents", 38.8, Some(5.7), Verdict::Rose)
        };
        assert_eq!(
            sentence(&given, &profile),
            "pitch against the target rose by 38.8 ±5.7 cents at one blowing strength (+35.5 as crowed)"
        );
        let unclear = Change {
            verdict: Verdict::Unclear,
            ci95: Some(57.0),
            crows_needed: Some(7),
            ..given.clone()
        };
        assert_eq!(
            sentence(&unclear, &profile),
            "pitch against the target: cannot tell yet at one blowing strength (7 crows on each \
             side would settle it; the crows as they were differ by +36)"
        );
        assert_eq!(
            rows(&given, &profile, &Style::default()),
            [
                "  pitch against the target    −57.4 → −21.9   +35.5 cents            as crowed",
                "    at one blowing strength                   +38.8 ±5.7 cents       rose",
            ]
        );
    }

    #[test]
    fn rows_speak_of_octaves_by_their_note_and_stay_within_eighty_columns() {
        let profile = Profile::default();
        for (figure, hz, name) in [
            ("rungs[0].level_db", 506.2, "C5 loudness"),
            ("rungs[0].present", 506.2, "C5 held"),
            ("rungs[1].entry_s", 1012.4, "C6 comes in"),
            ("rungs[1].switches_per_s", 1012.4, "C6 goes out"),
        ] {
            let given = Change {
                octave_hz: Some(hz),
                ..change(figure, -1774.25, Some(1774.25), Verdict::Unclear)
            };
            let rows = rows(&given, &profile, &Style::default());
            assert!(rows[0].trim_start().starts_with(name), "{rows:?}");
            assert!(rows.iter().all(|row| row.chars().count() <= 80), "{rows:?}");
        }
    }

    #[test]
    fn a_side_says_how_many_of_its_crows_are_of_a_kind() {
        let side = |crow_count, kind_count| Side {
            source: vec!["a.wav".into()],
            crow_count,
            kind: (crow_count > 0).then_some(crate::reading::Kind::Octaves),
            kind_count,
            register: Some(0),
        };
        let described = |side, name| described(&side, name, &Profile::default());
        let told = [
            described(side(3, 3), None),
            described(side(3, 2), Some("A")),
            described(side(1, 1), None),
            described(side(0, 0), None),
        ];
        crate::golden::held("../../src/goldens", "sides-of-a-comparison", &told.join("\n"));
    }
}
