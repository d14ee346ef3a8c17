//! What each change to the log did, in a few words: the log keeps them with the change, and *undo* and
//! *redo* tell them.

use std::fmt::{Display, Formatter, Result};

use crate::log::{Did, LoggedTake};
use crate::words::format::LengthUnit;
use crate::words::reed::{inspection, measurements};
use crate::words::sheet;
use crate::words::stage::{conditions, stage_name};

impl Display for Did<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::Entered => f.write_str("new reed"),
            Self::Edited(fields) => {
                let fields: Vec<String> = fields.iter().map(|field| card_field(field)).collect();
                write!(f, "edit card: {}", fields.join(", "))
            }
            Self::Closed(ending) => write!(f, "close: {}", ending.words()),
            Self::Reopened => f.write_str("open again"),
            Self::Said => f.write_str("conditions"),
            Self::SaidOfTake(take) => write!(f, "conditions of take {take}"),
            Self::Stepped(step) => step.fmt(f),
            Self::Measured(sizes) => {
                write!(f, "measure {}", measurements(sizes, LengthUnit::Millimetres))
            }
            Self::Saw(seen) => write!(f, "inspect {}", inspection(seen)),
            Self::Rated(rating) => write!(f, "rate {}", sheet::rating(rating)),
            Self::Heard(heard) => write!(f, "heard {}", heard.code()),
            Self::Took(take) => write!(f, "take {take}"),
            Self::Counted(take) => write!(f, "keep what was set aside in take {take}"),
            Self::CorrectedStep { number, now, before } => {
                write!(f, "step {number}: {now}, before it said {before}")
            }
            Self::CorrectedTake { number, now, before } => {
                write!(f, "take {number}: {}, before it said {}", of_take(now), of_take(before))
            }
            Self::CorrectedMeasurement { after_step, now, before } => {
                let [now, before] =
                    [now, before].map(|sizes| measurements(sizes, LengthUnit::Millimetres));
                let before = if before.is_empty() { "nothing of it" } else { &before };
                write!(f, "measured {}: {now}, before it said {before}", stage_name(*after_step))
            }
            Self::ReadAgain => f.write_str("read takes again"),
            Self::Undid(what) => write!(f, "undo: {what}"),
            Self::Redid(what) => write!(f, "redo: {what}"),
            Self::Imported(labels) => write!(f, "import {}", labels.join(", ")),
            Self::Renamed(label) => {
                write!(f, "edit card: label, since another reed is called {label}")
            }
            Self::AsExported => f.write_str("as the export has it"),
            Self::Merged => f.write_str("add the work from another log"),
            Self::RecordBegins => f.write_str("begin the record of changes again"),
        }
    }
}

/// A field of the card by its name in JSON.
fn card_field(name: &str) -> String {
    match name {
        "a4_hz" => "A4".to_owned(),
        name => name.trim_end_matches("_mm").replace('_', " "),
    }
}

/// After how many cuts a take was made, and how it was crowed.
fn of_take(take: &LoggedTake) -> String {
    let how = take.conditions.as_ref().map(conditions).unwrap_or_default();
    format!("after step {} {how}", take.after_step).trim_end().to_owned()
}
