//! One stage of a reed, between two cuts, in the maker's words.

use std::fmt::{self, Display, Formatter};

use crate::log::{Conditions, HeardAs, Stage, Step};
use crate::pitch::{A4, Note, register};
use crate::units::Hertz;
use crate::words::format::{LengthUnit, counted, note_and_cents, number, octaves_away, signed};
use crate::words::voices::kind_word;

/// When that was: `as it came`, `after step 2`.
pub fn stage_name(after_step: u32) -> String {
    match after_step {
        0 => "as it came".to_owned(),
        number => format!("after step {number}"),
    }
}

/// A step with what its maker said of it, on one line: `clip 0.3 mm`, `tip sides: left more than right`.
pub fn step(step: &Step, unit: LengthUnit) -> String {
    let done = done(step, unit);
    match &step.note {
        // Words typed on several lines stay one entry of every list.
        Some(note) => {
            format!("{done}: {}", note.split_whitespace().collect::<Vec<_>>().join(" "))
        }
        None => done,
    }
}

/// What was done and how much of it: `clip 0.3 mm`.
fn done(step: &Step, unit: LengthUnit) -> String {
    match step.amount_mm {
        Some(mm) => format!("{} {}", step.done(), unit.beside(&format!("{mm} mm"), mm)),
        None => step.done().to_owned(),
    }
}

/// What was done in several steps: `clip 0.3 mm, tip sides`.
pub fn steps(steps: &[Step], unit: LengthUnit) -> String {
    steps.iter().map(|step| done(step, unit)).collect::<Vec<_>>().join(", ")
}

/// How a reed was crowed: `wet, soaked 5 min, 21 °C`. Empty where nothing was said.
pub fn conditions(of: &Conditions) -> String {
    [
        of.state.map(|state| state.words().to_owned()),
        of.soaked_min.map(|minutes| format!("soaked {minutes} min")),
        of.temperature_c.map(|degrees| format!("{degrees} °C")),
        of.humidity_percent.map(|percent| format!("{percent} % humidity")),
        of.days_played.map(|days| format!("played on {days} days")),
        of.hours_played.map(|hours| format!("played {hours} h")),
        of.player.as_ref().map(|player| format!("crowed by {player}")),
        of.how.clone(),
    ]
    .into_iter()
    .flatten()
    .collect::<Vec<_>>()
    .join(", ")
}

impl Display for Step {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        f.write_str(&step(self, LengthUnit::Millimetres))
    }
}

/// What was heard: `3 crows`, `3 crows, and 1 take without one`, `no crow, air only`. Empty where
/// it was not blown.
pub fn heard(stage: &Stage) -> String {
    let silent = stage.takes_without_crow;
    match (stage.crows, silent, stage.takes_of_air) {
        (0, 0, _) => String::new(),
        (0, _, 0) => "no crow, and not even air".to_owned(),
        (0, takes, air) if takes == air => "no crow, air only".to_owned(),
        (0, takes, air) => format!("no crow, air only in {air} of {takes} takes"),
        (crows, 0, _) => counted(crows, "crow"),
        (crows, ..) => {
            format!("{}, and {} without one", counted(crows, "crow"), counted(silent, "take"))
        }
    }
}

/// Pitch at a stage: `57 flat of C5`, or without a target `511.4 Hz (C5 −39 cents)`; `None` where
/// no tone was held.
///
/// * `target`: the note that the reed's lowest tone is held to. Of a crow in another octave the note
///   there is named, and how far away that is: `6 sharp of C6, an octave above C5`.
pub fn pitch(stage: &Stage, target: Option<Note>, a4: A4) -> Option<String> {
    let hz = stage.hz?;
    let Some((distance, way)) = off_target(stage, target) else {
        let near = Hertz::new(hz).map(|hertz| Note::nearest(hertz, a4))?;
        let near = note_and_cents(&near.0.to_string(), near.1.0);
        return Some(format!("{} Hz ({near})", number(hz, 1)));
    };
    Some(if distance == "0" { format!("on {way}") } else { format!("{distance} {way}") })
}

/// How many cents a stage is off the target, and which way of which note; of a stage that is on it
/// the note alone.
fn off_target(stage: &Stage, target: Option<Note>) -> Option<(String, String)> {
    let (target, off) = (target?, stage.target_cents?);
    let octaves = octaves_off(stage, Some(target));
    let there = target.octaves_up(octaves);
    let named = match octaves {
        0 => there.to_string(),
        _ => format!("{there}, {} {target}", octaves_away(octaves)),
    };
    let distance = number(off.abs(), 0);
    let way = match (distance.as_str(), off < 0.0) {
        ("0", _) => named,
        (_, true) => format!("flat of {named}"),
        (_, false) => format!("sharp of {named}"),
    };
    Some((distance, way))
}

/// The same in few letters, for tables of many reeds: `57 flat`; of a crow in another octave than the
/// target's the note there, `C6 +6`.
pub fn pitch_short(stage: &Stage, target: Option<Note>) -> Option<String> {
    let hz = stage.hz?;
    let Some((target, off)) = target.zip(stage.target_cents) else {
        return Some(format!("{} Hz", number(hz, 1)));
    };
    let octaves = octaves_off(stage, Some(target));
    if octaves != 0 {
        return Some(format!("{} {}", target.octaves_up(octaves), signed(off, 0)));
    }
    let distance = number(off.abs(), 0);
    Some(match (distance.as_str(), off < 0.0) {
        ("0", _) => format!("on {target}"),
        (_, true) => format!("{distance} flat"),
        (_, false) => format!("{distance} sharp"),
    })
}

/// Behind a pitch that not all crows hold: ` (3 of 6 crows)`; else empty.
pub fn of_which(stage: &Stage) -> String {
    match stage.pitched {
        pitched if (1..stage.crows).contains(&pitched) => {
            format!(" ({pitched} of {})", counted(stage.crows, "crow"))
        }
        _ => String::new(),
    }
}

/// Whether the lowest tone of most crows is the upper octave: as the maker hears it, where that was said.
pub fn is_upper(stage: &Stage, target: Option<Note>) -> bool {
    match stage.named {
        Some(HeardAs::Low) => false,
        Some(HeardAs::High) => true,
        _ => octaves_off(stage, target) > 0,
    }
}

/// The kind of most crows, by whose word, and of how many: `3 of 6 wild`, `one tone (as you hear it)`;
/// `None` where none sounds.
pub fn commonest_kind(stage: &Stage, target: Option<Note>) -> Option<String> {
    let word = kind_word(stage.kind?, is_upper(stage, target));
    let whose = if stage.named.is_some() { " (as you hear it)" } else { "" };
    Some(match stage.kinds.as_slice() {
        [most, _, ..] => format!("{} of {} {word}{whose}", most.count, stage.crows),
        _ => format!("{word}{whose}"),
    })
}

/// The same with all other kinds: `3 of 6 wild, 2 octaves, 1 can't tell`.
pub fn kinds(stage: &Stage, target: Option<Note>) -> Option<String> {
    let others =
        stage.kinds.iter().skip(1).map(|of| {
            format!(", {} {}", of.count, kind_word(of.kind, octaves_off(stage, target) > 0))
        });
    Some(commonest_kind(stage, target)? + &others.collect::<String>())
}

/// By how many octaves a stage's lowest tone lies off the one that `target` names; 0 without one.
pub fn octaves_off(stage: &Stage, target: Option<Note>) -> i32 {
    // To the nearest octave, so that it does not matter which A4 the reed is made for.
    let tone = stage.hz.and_then(Hertz::new).zip(target);
    tone.map_or(0, |(tone, note)| register(tone, note.frequency(A4::default())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reed::Cut;

    fn stage(hz: Option<f64>, target_cents: Option<f64>, register: Option<i32>) -> Stage {
        Stage {
            number: 0,
            step: None,
            length: None,
            takes: 1,
            takes_without_crow: 0,
            takes_of_air: 0,
            crows: 3,
            in_octaves: None,
            kind: None,
            kinds: Vec::new(),
            named: None,
            pitched: 0,
            hz,
            target_cents,
            register,
            alignment_cents: None,
        }
    }

    /// B4 lies a semitone under C5: a crow 57 cents flat of C5 is nearer to B4, and still told
    /// against C5.
    #[test]
    fn pitch_is_told_against_the_target_and_not_the_nearest_note() {
        let told = |stage: &Stage, target: Option<&str>| {
            pitch(stage, target.and_then(|note| note.parse().ok()), A4::default())
        };
        let flat = stage(Some(506.2), Some(-57.3), Some(0));
        let peep = stage(Some(1050.0), Some(5.8), Some(1));
        let on = stage(Some(523.3), Some(0.2), Some(0));
        let all = [(flat.clone(), Some("C5")), (flat, None), (peep, Some("C5")), (on, Some("C5"))];
        let all = all.map(|(stage, target)| told(&stage, target).unwrap());
        assert!(all[0].contains("57") && !all[0].contains("B4"), "{}", all[0]);
        crate::golden::held("../../src/goldens", "pitch-of-a-stage", &all.join("\n"));
        assert_eq!(told(&stage(None, None, None), Some("C5")), None);
    }

    #[test]
    fn words_over_several_lines_stay_on_one() {
        let step =
            Step { note: Some("torn\n on the  left".into()), ..Step::new(Cut::HeartSurface, None) };
        assert!(step.to_string().ends_with(": torn on the left"));
    }

    #[test]
    fn takes_without_a_crow_are_told() {
        let with = |crows, takes_without_crow, takes_of_air| Stage {
            crows,
            takes_without_crow,
            takes_of_air,
            ..stage(None, None, None)
        };
        assert_eq!(heard(&with(0, 0, 0)), "");
        let stages = [with(0, 1, 0), with(0, 1, 1), with(0, 3, 1), with(3, 0, 0), with(3, 1, 1)];
        let told = stages.map(|stage| heard(&stage)).join("\n");
        crate::golden::held("../../src/goldens", "takes-without-a-crow", &told);
    }
}
