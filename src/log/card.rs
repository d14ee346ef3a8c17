//! A reed's card: what it is, whose it is, what it is made of, how it ended.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{LogError, Unfit, WrongLabel};
use crate::pitch::{A4, PitchError};
use crate::text::{is_unseen, is_without_width};

choice! {
    /// Whether cane is soaked or dry.
    Wetness {
        /// Soaked.
        Wet,
        /// Dry.
        Dry,
    }
}

impl Wetness {
    /// As a maker says it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Wet => "wet",
            Self::Dry => "dry",
        }
    }
}

choice! {
    /// How the work on a reed ended.
    Ending {
        /// It plays; the work is finished.
        Done,
        /// Sent back to its owner.
        SentBack,
        /// Cannot be brought further.
        GivenUp,
    }
}

impl Ending {
    /// As a maker says it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Done => "done",
            Self::SentBack => "sent back",
            Self::GivenUp => "given up",
        }
    }
}

choice! {
    /// What of a card is said at the bench, by the word before it.
    CardField {
        /// Whose it is.
        Owner = "owner",
        /// Cane: source, batch.
        Cane = "cane",
        /// What the player complains of.
        Complaint = "complaint",
        /// Day by which it is wanted.
        Due = "due",
        /// What kind of reed it is: the profile it is held to.
        Kind = "kind",
        /// The pitch of A4 it is made for.
        A4 = "a4",
    }
}

impl CardField {
    /// What `card` has there.
    pub fn of(self, card: &Card) -> Option<String> {
        match self {
            Self::Owner => card.owner.clone(),
            Self::Cane => card.cane.clone(),
            Self::Complaint => card.complaint.clone(),
            Self::Due => card.due_on.clone(),
            Self::Kind => card.profile.clone(),
            Self::A4 => card.a4_hz.map(|hz| hz.to_string()),
        }
    }

    /// Whether crows are read by it.
    pub fn holds_to(self) -> bool {
        matches!(self, Self::Kind | Self::A4)
    }

    /// Writes `words` there.
    ///
    /// Errors: they are no pitch of A4 where one is wanted. Whether there is a profile of that name, who
    /// can read one asks before.
    pub fn write(self, card: &mut Card, words: String) -> Result<(), PitchError> {
        let field = match self {
            Self::Owner => &mut card.owner,
            Self::Cane => &mut card.cane,
            Self::Complaint => &mut card.complaint,
            Self::Due => &mut card.due_on,
            Self::Kind => &mut card.profile,
            Self::A4 => {
                card.a4_hz = Some(words.parse::<A4>()?.hz());
                return Ok(());
            }
        };
        *field = Some(words);
        Ok(())
    }
}

/// What is known of a reed apart from its measurements. Everything but the label is optional.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Card {
    /// What the maker calls it; one reed in the log has it.
    pub label: String,
    /// Whose it is.
    pub owner: Option<String>,
    /// Who made it.
    pub maker: Option<String>,
    /// Name or file of the profile it is held to.
    pub profile: Option<String>,
    /// The pitch of A4 it is made for, in hertz.
    pub a4_hz: Option<f64>,
    /// Cane: source, batch, what is known of it.
    pub cane: Option<String>,
    /// Gouge: thickness of the cane at its middle, in millimetres.
    pub gouge_mm: Option<f64>,
    /// Whether the gouge was measured wet or dry: wet cane is thicker.
    pub gouge_state: Option<Wetness>,
    /// Shape, or name of the shaper tip.
    pub shape: Option<String>,
    /// Staple: make and model.
    pub staple: Option<String>,
    /// Thread, by which reeds in one case are told apart.
    pub thread: Option<String>,
    /// Day it was tied, YYYY-MM-DD.
    pub made_on: Option<String>,
    /// What the player complains of.
    pub complaint: Option<String>,
    /// Day by which it is wanted, YYYY-MM-DD.
    #[serde(default)]
    pub due_on: Option<String>,
    /// How the work ended; `None` while it is open.
    pub ending: Option<Ending>,
    /// Why.
    pub ending_note: Option<String>,
}

impl Card {
    /// A card with a label alone.
    pub fn new(label: impl Into<String>) -> Self {
        Self { label: label.into(), ..Self::default() }
    }

    /// A card of another reed that was made alike: all but what belongs to one reed alone.
    pub fn like(&self, label: impl Into<String>) -> Self {
        Self {
            label: label.into(),
            made_on: None,
            complaint: None,
            due_on: None,
            ending: None,
            ending_note: None,
            ..self.clone()
        }
    }

    /// Errors: a label that cannot be typed back, a day that does not exist, a gouge or A4 out of range.
    pub fn check(&self) -> Result<(), LogError> {
        check_label(&self.label)?;
        for day in [&self.made_on, &self.due_on].into_iter().flatten() {
            check_day(day)?;
        }
        match self.gouge_mm {
            Some(mm) if !(LEAST_GOUGE_MM..=MOST_GOUGE_MM).contains(&mm) => {
                let (least_mm, most_mm) = (LEAST_GOUGE_MM, MOST_GOUGE_MM);
                return Err(Unfit::Gouge { mm, least_mm, most_mm }.into());
            }
            _ => {}
        }
        if let Some(hz) = self.a4_hz {
            crate::pitch::A4::new(hz).map_err(|error| LogError::Invalid(error.to_string()))?;
        }
        Ok(())
    }
}

/// How the labels of reeds for practice begin; a number follows.
pub(crate) const PRACTICE: &str = "practice";

/// Whether a reed of that label stands in for one: what is crowed and cut there is practice, and counts
/// for no answer of the log.
pub fn is_practice(label: &str) -> bool {
    let Some(number) = label.strip_prefix(PRACTICE) else { return false };
    number.is_empty()
        || number.strip_prefix(' ').is_some_and(|number| number.parse::<u32>().is_ok())
}

/// No cane is gouged thinner or thicker (our choice: wide of what is done).
const LEAST_GOUGE_MM: f64 = 0.1;
const MOST_GOUGE_MM: f64 = 5.0;

fn check_label(label: &str) -> Result<(), LogError> {
    let wrong = if label.trim().is_empty() {
        WrongLabel::Empty
    } else if label.trim() != label {
        WrongLabel::Spaces
    } else if label.chars().count() > 60 {
        WrongLabel::Long
    } else if label
        .chars()
        .any(|c| is_unseen(c) || is_without_width(c) || matches!(c, '@' | '/' | '\\'))
    {
        WrongLabel::Letters
    } else if label.starts_with('-') {
        WrongLabel::Dash
    } else {
        return Ok(());
    };
    Err(Unfit::Label { label, wrong }.into())
}

/// Whether `text` is a day of the calendar, as 2024-03-17.
pub(crate) fn is_day(text: &str) -> bool {
    text.len() == 10 && text.parse::<jiff::civil::Date>().is_ok()
}

fn check_day(text: &str) -> Result<(), LogError> {
    match is_day(text) {
        true => Ok(()),
        false => Err(Unfit::NotADay(text).into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_that_cannot_be_typed_back_are_refused() {
        for bad in
            ["", " ", " a", "a@1", "a/b", "-a", "a\n", "a\u{202e}b", "a\u{1b}[31m", &"x".repeat(61)]
                .into_iter()
                .chain(["A\u{200b}", "A\u{a0}1", "\u{feff}A", "A\u{ad}B", "A\u{fe0f}", "\u{3164}"])
        {
            assert!(Card::new(bad).check().is_err(), "{bad:?}");
        }
        for good in ["A", "red 7", "Linnet-3", "é"] {
            assert!(Card::new(good).check().is_ok(), "{good:?}");
        }
    }

    /// Gregorian calendar (ISO 8601): 1900 has no 29 February, 2000 and 2024 have.
    #[test]
    fn days_follow_the_calendar() {
        for good in ["2024-02-29", "2000-02-29", "2023-12-31"] {
            assert!(is_day(good), "{good}");
        }
        for bad in ["1900-02-29", "2023-02-29", "2023-04-31", "2023-13-01", "23-1-1", "2023-00-01"]
        {
            assert!(!is_day(bad), "{bad}");
        }
    }
}
