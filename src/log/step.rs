//! One thing done to a reed.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::LogError;

/// What was done.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    Hash,
    PartialOrd,
    Ord,
    Serialize,
    Deserialize,
    JsonSchema,
    clap::ValueEnum,
)]
#[serde(rename_all = "kebab-case")]
pub enum Cut {
    /// A sliver cut off the end.
    Clip,
    /// The sides of the tip thinned.
    TipSides,
    /// The corners of the tip thinned.
    TipCorners,
    /// The whole surface of the tip thinned.
    TipSurface,
    /// The rooftop, or where the tip starts.
    #[value(alias = "rooftop")]
    TipStart,
    /// The heart.
    Heart,
    /// Channels beside the heart.
    HeartChannels,
    /// The back or windows.
    #[value(alias = "windows")]
    Back,
    /// The rails.
    Rails,
    /// The opening squeezed or opened.
    Opening,
    /// A leak sealed.
    Seal,
    /// Nothing cut: a note.
    Note,
}

impl Cut {
    /// Every kind, in the order of the work.
    pub const ALL: [Self; 12] = [
        Self::Clip,
        Self::TipSides,
        Self::TipCorners,
        Self::TipSurface,
        Self::TipStart,
        Self::Heart,
        Self::HeartChannels,
        Self::Back,
        Self::Rails,
        Self::Opening,
        Self::Seal,
        Self::Note,
    ];

    /// As a maker says it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Clip => "clip",
            Self::TipSides => "tip sides",
            Self::TipCorners => "tip corners",
            Self::TipSurface => "tip surface",
            Self::TipStart => "tip start",
            Self::Heart => "heart",
            Self::HeartChannels => "heart channels",
            Self::Back => "back",
            Self::Rails => "rails",
            Self::Opening => "opening",
            Self::Seal => "seal",
            Self::Note => "note",
        }
    }

    /// Whether the reed is another after it. A note changes nothing and has no number.
    pub fn changes_the_reed(self) -> bool {
        self != Self::Note
    }
}

/// What was done, and how much of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Step {
    /// What was done.
    pub cut: Cut,
    /// How much, in millimetres: what a clip took off.
    pub amount_mm: Option<f64>,
    /// Free words: where, how, why.
    pub note: Option<String>,
}

impl Step {
    /// A step without words.
    pub fn new(cut: Cut, amount_mm: Option<f64>) -> Self {
        Self { cut, amount_mm, note: None }
    }

    /// Errors: a clip without an amount, an amount that cannot be, an empty note.
    pub fn check(&self) -> Result<(), LogError> {
        let invalid = |text: String| Err(LogError::Invalid(text));
        match (self.cut, self.amount_mm) {
            (Cut::Clip, None) => {
                return invalid("a clip needs its amount in millimetres: clip 0.3".into());
            }
            (Cut::Clip, Some(mm)) if !(0.01..=30.0).contains(&mm) => {
                return invalid(format!("a clip of {mm} mm cannot be; write one such as 0.3"));
            }
            (_, Some(mm)) if !(-30.0..=30.0).contains(&mm) => {
                return invalid(format!("an amount of {mm} mm cannot be on a reed"));
            }
            _ => {}
        }
        match (self.cut, self.note.as_deref().map(str::trim)) {
            (Cut::Note, None | Some("")) => invalid("a note needs its words".into()),
            _ => Ok(()),
        }
    }

    /// One line: `clip 0.3 mm`, `tip sides: left more than right`.
    pub fn words(&self) -> String {
        let mut line = self.cut.words().to_owned();
        if let Some(mm) = self.amount_mm {
            line.push_str(&format!(" {mm} mm"));
        }
        if let Some(note) = &self.note {
            line.push_str(&format!(": {note}"));
        }
        line
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clip_needs_an_amount_that_can_be() {
        assert!(Step::new(Cut::Clip, None).check().is_err());
        for bad in [0.0, -0.3, f64::NAN, 31.0] {
            assert!(Step::new(Cut::Clip, Some(bad)).check().is_err(), "{bad}");
        }
        assert!(Step::new(Cut::Clip, Some(0.3)).check().is_ok());
        assert!(Step::new(Cut::Note, None).check().is_err());
    }

    #[test]
    fn the_list_of_cuts_is_complete_and_each_has_its_own_words() {
        use clap::ValueEnum;
        assert_eq!(Cut::ALL.as_slice(), Cut::value_variants());
        let words: std::collections::BTreeSet<_> = Cut::ALL.map(Cut::words).into_iter().collect();
        assert_eq!(words.len(), Cut::ALL.len());
    }
}
