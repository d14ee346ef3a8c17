//! What can be done to a reed, chosen at random.

use proptest::prelude::*;
use reedcrow::log::{Conditions, Ending, Log, LogError, Step, Wetness};
use reedcrow::reed::{Cut, Inspection, Leak, Measurements, Sizes};

use super::{Workshop, add_take};

/// One thing done to reed "A".
#[derive(Debug, Clone)]
pub enum Operation {
    Cut(Cut),
    Clip(f64),
    Note(String),
    Measure(f64),
    Inspect,
    Take(usize),
    Edit(String),
    Conditions(f64),
    Close,
    Reopen,
}

pub fn operation() -> impl Strategy<Value = Operation> {
    prop_oneof![
        Just(Operation::Cut(Cut::TipSides)),
        Just(Operation::Cut(Cut::HeartSurface)),
        (0.05..1.0).prop_map(Operation::Clip),
        "[a-zé\"',;{}]{1,12}".prop_map(Operation::Note),
        (60.0..75.0).prop_map(Operation::Measure),
        Just(Operation::Inspect),
        (0..4usize).prop_map(Operation::Take),
        "[A-Za-z \n\"]{0,20}".prop_map(Operation::Edit),
        (0.0..100.0).prop_map(Operation::Conditions),
        Just(Operation::Close),
        Just(Operation::Reopen),
    ]
}

impl Operation {
    /// Does it. What the log refuses (work on a closed reed) counts as not done.
    pub fn apply(&self, workshop: &Workshop, log: &mut Log) {
        let done = match self {
            Self::Cut(cut) => log.step("A", &Step::new(*cut, None)).map(drop),
            Self::Clip(mm) => log.step("A", &Step::new(Cut::Clip, Some(*mm))).map(drop),
            Self::Note(words) => log.step("A", &Step::note(words.clone())).map(drop),
            Self::Measure(mm) => {
                let sizes = Sizes { length_mm: Some(*mm), ..Sizes::default() };
                log.measure("A", &Measurements::new(sizes).unwrap(), Some(Wetness::Wet))
            }
            Self::Inspect => {
                log.inspect("A", &Inspection { leak: Some(Leak::Low), ..Inspection::default() })
            }
            Self::Take(number) => {
                if log.history("A").unwrap().reed.card.ending.is_none() {
                    add_take(log, "A", &workshop.recording(*number));
                }
                Ok(())
            }
            Self::Edit(owner) => log.edit("A", |card| card.owner = Some(owner.clone())).map(drop),
            Self::Conditions(minutes) => {
                let said = Conditions { soaked_min: Some(*minutes), ..Conditions::default() };
                log.conditions("A", said).map(drop)
            }
            Self::Close => log.close("A", Some(Ending::Done), Some("plays".into())).map(drop),
            Self::Reopen => log.close("A", None, None).map(drop),
        };
        match done {
            Ok(()) | Err(LogError::Closed(_)) => {}
            Err(error) => panic!("{self:?}: {error}"),
        }
    }
}
