//! One reed's history over years: its card, measurements, cuts, takes and ending; and what each
//! kind of cut did over many reeds.
//!
//! The types are plain values; only [`Log`] touches the disk.

mod card;
mod conditions;
mod contradictions;
mod difference;
mod effects;
mod error;
pub mod heard;
mod facts;
mod history;
mod known;
mod matching;
mod observed;
mod pair;
mod place;
mod query;
pub mod questions;
mod rating;
mod step;
mod store;
mod timeline;

pub use card::{Card, Ending, Wetness};
pub use conditions::Conditions;
pub use contradictions::{Contradicted, Contradiction};
pub use difference::{FigureChange, changed_figures};
pub use effects::effects;
pub use error::LogError;
pub use facts::{Advised, Changed, Facts, Misstep, Phase};
pub use heard::HeardAs;
pub use history::{
    History, Length, LoggedInspection, LoggedMeasurement, LoggedReading, LoggedReed, LoggedStep,
    LoggedTake, ReadTake,
};
pub use known::{Known, advised_last};
pub use observed::Observed;
pub use pair::{Pair, first_and_last, latest_pair, pair};
pub use place::{LOG_VARIABLE, place};
pub use query::{Query, State};
pub use rating::{Grade, LoggedRating, Rated, RatedBy, Rating};
pub use step::Step;
pub use store::{
    Added, Became, CheckUp, Correction, ExportHead, Exported, ExportedAudit, ExportedChange,
    ExportedReed, ExportedRow, ExportedSetting, Fault, HeardCrow, Imported, Log, Mend, Mended,
    Named, NewTake, Outcome, PROGRAM, PassedOver, Reeds, Reread, Shared, SharedAs, SharedCrow,
    Undone, Upgrade, WeeklyCopy, Which, export_schema, read_export,
};
pub use timeline::{Stage, timeline};
