//! An advice as it is kept and told: one move, why, how sure, what to expect of it.

use schemars::JsonSchema;
use serde::{Deserialize, Deserializer, Serialize};

use crate::reed::{Move, Place};

/// The next move, as in the line of JSON.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Advice {
    /// What to do.
    #[serde(rename = "move")]
    pub next: Move,
    /// Where on the reed, or what is wanted of ruler and eyes.
    #[serde(default)]
    pub r#where: Where,
    /// How much, in millimetres, where the move has an amount.
    pub amount_mm: Option<f64>,
    /// How many light strokes on each side of both blades, where it is scraping.
    #[serde(default)]
    pub strokes: Option<u32>,
    /// The figures that led here, the weightiest first.
    pub because: Vec<Reason>,
    /// 0 … 1: the chance that the move does what it is for.
    pub confidence: f64,
    /// The chances of the move.
    #[serde(default)]
    pub chance: Chance,
    /// What the figures of three crows after the move should be.
    #[serde(default)]
    pub expected: Vec<Expected>,
    /// The next best moves, where they are worth nearly as much.
    #[serde(default)]
    pub otherwise: Vec<Other>,
    /// What comes next if the same is heard after this move.
    #[serde(default)]
    pub if_again: Option<Again>,
    /// What to do after it.
    pub then: String,
    /// What to take care of; that of the move itself first.
    pub cautions: Vec<String>,
}

impl Advice {
    /// A move without more said of it.
    pub fn of(next: Move) -> Self {
        Self {
            next,
            r#where: Where::Nowhere,
            amount_mm: None,
            strokes: None,
            because: Vec::new(),
            confidence: 0.5,
            chance: Chance::default(),
            expected: Vec::new(),
            otherwise: Vec::new(),
            if_again: None,
            then: String::new(),
            cautions: Vec::new(),
        }
    }

    /// How much, in millimetres, as it is told and entered: to a twentieth, since no hand cuts finer.
    pub fn told_mm(&self) -> Option<f64> {
        self.amount_mm.map(|mm| ((mm * TWENTIETHS).round() / TWENTIETHS).max(1.0 / TWENTIETHS))
    }
}

const TWENTIETHS: f64 = 20.0;

/// One figure that led to a move.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Reason {
    /// Its JSON path, the name of a measurement, `past cuts`, or `practice`.
    pub figure: String,
    /// Its value; `None` where the reason is that it is absent, or is not a number.
    pub value: Option<f64>,
    /// What it says, in one sentence.
    pub says: String,
}

/// What may come of a move.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Chance {
    /// 0 … 1: it does what it is for.
    pub helps: f64,
    /// 0 … 1: the reed ends worse for good.
    pub harms: f64,
}

/// What a figure of three crows after the move should be.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Expected {
    /// Its JSON path, or `octaves`: the share of the crows that are in octaves.
    pub figure: String,
    /// The likeliest value, in the figure's unit.
    pub value: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end of its 95 % interval.
    pub high: f64,
}

/// Another move that may be as good.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Other {
    /// What to do.
    #[serde(rename = "move")]
    pub next: Move,
    /// Where.
    pub r#where: Where,
    /// The chances of it.
    pub chance: Chance,
    /// What speaks for it, in one sentence; empty in earlier logs.
    #[serde(default)]
    pub says: String,
}

/// A move that may come next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Again {
    /// What to do.
    #[serde(rename = "move")]
    pub next: Move,
    /// Where.
    pub r#where: Where,
}

/// Where a move is made, or what is wanted.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum Where {
    /// The move has no place: null.
    #[default]
    Nowhere,
    /// A place on the reed.
    At(Place),
    /// The measurements or looks wanted, of `measure` and `look`.
    Wanted(Vec<Wanted>),
}

/// What can be asked of ruler, eyes and ears, under the code by which it is asked for.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Wanted {
    /// Measured: the whole length.
    Length,
    /// Measured: the staple.
    Staple,
    /// Measured: where the winding ends.
    Winding,
    /// Measured: where the windows begin.
    Window,
    /// Measured: where the heart ends towards the windows. Looked at: how thick it is.
    Heart,
    /// Measured: where the tip begins.
    Tip,
    /// Measured: the opening.
    Opening,
    /// Looked at: where air escapes.
    Leak,
    /// Looked at: the sides of the tip.
    TipSides,
    /// Looked at: the corners of the tip.
    Corners,
    /// Looked at: bark on the rails.
    Bark,
    /// Looked at: whether both blades and sides are alike.
    Symmetry,
    /// Looked at: how the blades overlap.
    Overlap,
    /// Listened to: octaves, or one tone?
    Ear,
}

impl<'de> Deserialize<'de> for Where {
    /// Earlier logs hold a sentence here; what is not a code is not a place.
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let value = serde_json::Value::deserialize(from)?;
        let read = |value: &serde_json::Value| {
            let value = || value.clone();
            let place = serde_json::from_value(value()).ok().map(Self::At);
            place.or_else(|| serde_json::from_value(value()).ok().map(Self::Wanted))
        };
        Ok(read(&value).unwrap_or_default())
    }
}

impl Where {
    /// The place on the reed; `None` where there is none.
    pub fn place(&self) -> Option<Place> {
        match self {
            Self::At(place) => Some(*place),
            _ => None,
        }
    }

    /// Its codes with spaces between them, for a cell of a table; `None` for nowhere.
    pub fn codes(&self) -> Option<String> {
        match serde_json::to_value(self).ok()? {
            serde_json::Value::String(code) => Some(code),
            serde_json::Value::Array(codes) => {
                let codes: Vec<&str> = codes.iter().filter_map(|code| code.as_str()).collect();
                Some(codes.join(" "))
            }
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_a_code_a_list_of_codes_or_null_and_an_old_sentence_is_no_place() {
        for (place, written) in [
            (Where::Nowhere, "null"),
            (Where::At(Place::Step), "\"step\""),
            (Where::Wanted(vec![Wanted::Length, Wanted::Tip]), "[\"length\",\"tip\"]"),
            (Where::Wanted(vec![Wanted::TipSides, Wanted::Ear]), "[\"tip-sides\",\"ear\"]"),
        ] {
            assert_eq!(serde_json::to_string(&place).unwrap(), written);
            assert_eq!(serde_json::from_str::<Where>(written).unwrap(), place);
        }
        let old: Where = serde_json::from_str("\"the sides of the tip, all four alike\"").unwrap();
        assert_eq!(old, Where::Nowhere);
    }

    #[test]
    fn an_advice_of_an_earlier_log_is_read() {
        let line = r#"{"move":"tip","amount_mm":null,"where":"the sides of the tip","because":[],
            "confidence":0.8,"then":"","cautions":[]}"#;
        let advice: Advice = serde_json::from_str(line).unwrap();
        assert_eq!((advice.next, advice.r#where), (Move::Tip, Where::Nowhere));
    }
}
