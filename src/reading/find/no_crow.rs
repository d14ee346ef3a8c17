//! What sounded and was not taken for a crow.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Something that sounded and was not taken for a crow. It takes part in no figure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Other {
    /// What it seems to be.
    pub what: What,
    /// Where it begins, in seconds of the take.
    pub from_s: f64,
    /// Where it ends.
    pub to_s: f64,
    /// Its pitch, in hertz: the median where it moves; `None` where it has none.
    pub hz: Option<f64>,
    /// What tells it from a crow.
    pub why: Why,
}

/// What a sound that is not a crow seems to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    /// Somebody speaking or singing.
    Speech,
    /// Notes played on an instrument: a finished oboe tried, a colleague, a radio.
    Instrument,
    /// Mains hum.
    Hum,
    /// A steady tone of the room: a fan, a fridge.
    Machine,
    /// A knock, something put down.
    Struck,
    /// None of these for sure.
    Unknown,
}

/// What tells a sound from a crow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Why {
    /// Its pitch steps from note to note.
    Steps,
    /// Its pitch glides.
    Glides,
    /// It is much weaker than the crows of the take.
    Weaker,
    /// It is purer than anything that is blown.
    Breathless,
    /// Its overtones fall and its pitch moves as of what is hummed, sung or whistled.
    Dull,
    /// It has another pitch than the crows of the take, and sounds otherwise.
    Unlike,
    /// It is there before and after: a tone of the room.
    GoesOn,
    /// It dies away from its first moment.
    DiesAway,
    /// It lies where no reed of this kind crows.
    OutOfRange,
    /// It is too short for a crow.
    Short,
    /// It stands out too little from what sounds beside it.
    Hidden,
}
