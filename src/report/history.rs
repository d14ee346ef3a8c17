//! A reed's card and its way from cut to cut, and the list of all reeds, as text.

use super::format::{cents, counted, millimetres, nearest_note, number};
use super::table::table;
use super::terminal::words;
use crate::log::{Card, History, Length, Stage, Wetness, timeline};
use crate::pitch::A4;
use crate::reed::{Inspection, Measurements};
use crate::units::Millimetres;

/// One line per reed: label, stage, pitch, length, owner, ending.
pub fn list(histories: &[History]) -> String {
    if histories.is_empty() {
        return "no reeds\n".to_owned();
    }
    let in_mm = |reached| length(reached, LengthUnit::Millimetres);
    let rows = histories.iter().map(|history| {
        let stages = timeline(history);
        let last = stages.iter().rev().find(|stage| stage.crows > 0);
        let card = &history.reed.card;
        vec![
            card.label.clone(),
            card.ending.map_or("open", |ending| ending.words()).to_owned(),
            counted(history.stage() as usize, "cut"),
            stages.last().and_then(|stage| stage.length).map(in_mm).unwrap_or_default(),
            last.map(|stage| stage_pitch(stage, card)).unwrap_or_default(),
            card.owner.clone().unwrap_or_default(),
        ]
    });
    let head = ["reed", "state", "cuts", "length", "last crow", "owner"];
    table(&head, rows.collect())
}

/// In what lengths are shown.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum LengthUnit {
    /// Millimetres, as they are kept.
    #[default]
    Millimetres,
    /// Inches, to a thousandth.
    Inches,
}

impl LengthUnit {
    fn text(self, mm: f64) -> String {
        match self {
            Self::Millimetres => millimetres(mm),
            Self::Inches => format!("{} in", number(Millimetres(mm).inches(), 3)),
        }
    }
}

/// Everything of one reed.
pub fn sheet(history: &History, unit: LengthUnit) -> String {
    let card = &history.reed.card;
    let mut text = format!("{}\n", card.label);
    for (name, value) in card_lines(card, unit) {
        text += &format!("  {name:<11} {value}\n");
    }
    for measured in &history.measurements {
        let state = measured.state.map_or(String::new(), |state| format!(", {}", wetness(state)));
        text += &format!(
            "  measured    {} ({}{state})\n",
            measurements(&measured.measurements, unit),
            stage_words(measured.after_step)
        );
    }
    for seen in &history.inspections {
        text += &format!(
            "  seen        {} ({})\n",
            inspection(&seen.inspection),
            stage_words(seen.after_step)
        );
    }
    text.push('\n');
    text + &way(history, unit)
}

/// The way of a reed: one line per stage.
fn way(history: &History, unit: LengthUnit) -> String {
    let card = &history.reed.card;
    let mut rows = Vec::new();
    for stage in timeline(history) {
        let done = stage.step.as_ref().map_or("as it came".to_owned(), |step| step.step.words());
        rows.push(vec![
            stage.number.to_string(),
            done,
            stage.length.map(|reached| length(reached, unit)).unwrap_or_default(),
            stage_pitch(&stage, card),
            stage.kind.map(|kind| words::kind(kind).to_owned()).unwrap_or_default(),
            counted(stage.crows, "crow"),
        ]);
    }
    let mut text = table(&["", "cut", "length", "pitch", "octaves", ""], rows);
    for note in history.steps.iter().filter(|step| step.number.is_none()) {
        text += &format!("note: {}\n", note.step.note.as_deref().unwrap_or_default());
    }
    text
}

/// `70.2 mm`, or `about 69.9 mm` where it is reckoned from a clip.
pub fn length(length: Length, unit: LengthUnit) -> String {
    let about = if length.measured { "" } else { "about " };
    format!("{about}{}", unit.text(length.mm))
}

pub(super) fn stage_pitch(stage: &Stage, card: &Card) -> String {
    let a4 = card.a4_hz.and_then(|hz| A4::new(hz).ok()).unwrap_or_default();
    match (stage.target_cents, stage.hz) {
        (Some(off), Some(hz)) => format!("{} ({})", cents(off), nearest_note(hz, a4)),
        (None, Some(hz)) => format!("{} Hz ({})", number(hz, 1), nearest_note(hz, a4)),
        _ => String::new(),
    }
}

fn stage_words(after_step: u32) -> String {
    match after_step {
        0 => "as it came".to_owned(),
        number => format!("after step {number}"),
    }
}

fn wetness(state: Wetness) -> &'static str {
    match state {
        Wetness::Wet => "wet",
        Wetness::Dry => "dry",
    }
}

fn card_lines(card: &Card, unit: LengthUnit) -> Vec<(&'static str, String)> {
    let gouge = card.gouge_mm.map(|mm| {
        let state = card.gouge_state.map_or(String::new(), |state| format!(", {}", wetness(state)));
        unit.text(mm) + &state
    });
    let ending = card.ending.map(|ending| match &card.ending_note {
        Some(note) => format!("{}: {note}", ending.words()),
        None => ending.words().to_owned(),
    });
    [
        ("owner", card.owner.clone()),
        ("maker", card.maker.clone()),
        ("profile", card.profile.clone()),
        ("A4", card.a4_hz.map(|hz| format!("{} Hz", number(hz, 1)))),
        ("cane", card.cane.clone()),
        ("gouge", gouge),
        ("shape", card.shape.clone()),
        ("staple", card.staple.clone()),
        ("thread", card.thread.clone()),
        ("made on", card.made_on.clone()),
        ("complaint", card.complaint.clone()),
        ("ending", ending),
    ]
    .into_iter()
    .filter_map(|(name, value)| Some((name, value?)))
    .collect()
}

pub(super) fn measurements(measured: &Measurements, unit: LengthUnit) -> String {
    let parts = [
        ("length", measured.length_mm),
        ("staple", measured.staple_mm),
        ("wound to", measured.wound_to_mm),
        ("windows from", measured.window_bottom_mm),
        ("heart from", measured.heart_bottom_mm),
        ("tip from", measured.tip_start_mm),
        ("opening", measured.opening_mm),
        ("throat", measured.throat_width_mm),
    ];
    let given =
        parts.into_iter().filter_map(|(name, mm)| Some(format!("{name} {}", unit.text(mm?))));
    given.collect::<Vec<_>>().join(", ")
}

/// The inspection's own words, which are those of its JSON.
fn inspection(seen: &Inspection) -> String {
    let Ok(serde_json::Value::Object(fields)) = serde_json::to_value(seen) else {
        return String::new();
    };
    let given = fields.iter().filter_map(|(name, value)| {
        Some(format!("{} {}", name.replace('_', " "), value.as_str()?))
    });
    given.collect::<Vec<_>>().join(", ")
}
