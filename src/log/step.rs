//! One thing done to a reed.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{LogError, Unfit};
use crate::advice::Advice;
use crate::reed::Cut;

/// The most that one clip takes off, in millimetres (our choice: clips are slivers of some tenths;
/// more is a slip of the keys).
const MOST_CLIPPED_MM: f64 = 2.0;
/// Less is no cut.
const LEAST_CLIPPED_MM: f64 = 0.01;
/// Beyond this no amount lies that an earlier log may hold of another cut, either way.
const MOST_MM: f64 = 30.0;

/// Without the last bits that reckoning or inches leave behind.
pub(super) fn to_micrometres(mm: f64) -> f64 {
    (mm * 1000.0).round() / 1000.0
}

/// What was done, and how much of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Step {
    /// What was done; `None` for a note, which changes nothing on the reed, and, where there are no words
    /// either, for a closed reed that came back. `note` in JSON.
    #[serde(with = "cut_or_note")]
    #[schemars(with = "String")]
    pub cut: Option<Cut>,
    /// How much, in millimetres: what a clip took off.
    pub amount_mm: Option<f64>,
    /// Free words: where, how, why.
    pub note: Option<String>,
}

impl Step {
    /// A cut without words.
    pub fn new(cut: Cut, amount_mm: Option<f64>) -> Self {
        Self { cut: Some(cut), amount_mm, note: None }
    }

    /// Words without a cut.
    pub fn note(words: impl Into<String>) -> Self {
        Self { cut: None, amount_mm: None, note: Some(words.into()) }
    }

    /// A closed reed is on the bench again: what was done to it meanwhile is not known.
    pub(super) fn came_back() -> Self {
        Self { cut: None, amount_mm: None, note: None }
    }

    /// Whether it is the reed's return.
    pub fn is_return(&self) -> bool {
        self.cut.is_none() && self.note.is_none()
    }

    /// Errors: a clip without an amount, an amount that cannot be, an empty note.
    pub fn check(&self) -> Result<(), LogError> {
        match (self.cut, self.amount_mm) {
            (Some(Cut::Clip), None) => return Err(Unfit::ClipWithoutAmount.into()),
            (Some(Cut::Clip), Some(mm)) if mm < LEAST_CLIPPED_MM => {
                let (least_mm, most_mm) = (LEAST_CLIPPED_MM, MOST_CLIPPED_MM);
                return Err(Unfit::Amount { mm, least_mm, most_mm }.into());
            }
            (Some(Cut::Clip), Some(mm)) if !(mm <= MOST_CLIPPED_MM) => {
                let mm = to_micrometres(mm);
                return Err(Unfit::ClipTooLong { mm, most_mm: MOST_CLIPPED_MM }.into());
            }
            (_, Some(mm)) if !(-MOST_MM..=MOST_MM).contains(&mm) => {
                let (least_mm, most_mm) = (-MOST_MM, MOST_MM);
                return Err(Unfit::Amount { mm, least_mm, most_mm }.into());
            }
            _ => {}
        }
        match (self.cut, self.note.as_deref().map(str::trim)) {
            (None, None | Some("")) => Err(Unfit::EmptyNote.into()),
            _ => Ok(()),
        }
    }

    /// What was done, without amount and words.
    pub fn done(&self) -> &'static str {
        match self.cut {
            Some(cut) => cut.words(),
            None if self.is_return() => "came back",
            None => "note",
        }
    }
}

/// What was advised, in what it is held to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Advised {
    /// Which work; `None` for a question, for leaving it and for giving it up.
    pub cut: Option<Cut>,
    /// The chance that it helps, 0 … 1.
    pub helps: f64,
    /// Where the pitch was to be after it, in cents from the target: its 95 % interval.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target_cents: Option<(f64, f64)>,
}

impl Advised {
    /// Of a whole advice.
    pub fn of(advice: &Advice) -> Self {
        let foretold = advice.expected.iter().find(|one| one.figure == "fundamental.target_cents");
        Self {
            cut: Cut::at(advice.next, advice.r#where.place()),
            helps: advice.chance.helps,
            target_cents: foretold.map(|one| (one.low, one.high)),
        }
    }
}

/// `note` where there is no cut, as the log's tables have it.
mod cut_or_note {
    use serde::de::{Deserialize, Deserializer, IntoDeserializer};
    use serde::{Serialize, Serializer};

    use super::Cut;

    pub fn serialize<S: Serializer>(cut: &Option<Cut>, to: S) -> Result<S::Ok, S::Error> {
        match cut {
            Some(cut) => cut.serialize(to),
            None => to.serialize_str("note"),
        }
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Cut>, D::Error> {
        let name = String::deserialize(from)?;
        if name == "note" { Ok(None) } else { Cut::deserialize(name.into_deserializer()).map(Some) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clip_needs_an_amount_that_can_be() {
        assert!(Step::new(Cut::Clip, None).check().is_err());
        for bad in [0.0, -0.3, f64::NAN, 2.001, 30.0] {
            assert!(Step::new(Cut::Clip, Some(bad)).check().is_err(), "{bad}");
        }
        assert!(Step::new(Cut::Clip, Some(0.3)).check().is_ok());
        assert!(Step::new(Cut::Clip, Some(2.0)).check().is_ok());
        assert!(Step::note(" ").check().is_err());
    }

    #[test]
    fn steps_read_back_from_json_and_a_note_is_one() {
        for step in [Step::new(Cut::TipSides, None), Step::note("lunch")] {
            let line = serde_json::to_string(&step).unwrap();
            assert_eq!(serde_json::from_str::<Step>(&line).unwrap(), step);
        }
        assert!(serde_json::to_string(&Step::note("x")).unwrap().contains(r#""cut":"note""#));
        assert!(serde_json::from_str::<Step>(r#"{"cut":"saw"}"#).is_err());
    }
}
