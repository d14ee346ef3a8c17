//! One reed's history over years: its card, measurements, cuts, takes and ending; and what each
//! kind of cut did over many reeds.
//!
//! The types are plain values; only [`Log`] touches the disk.

mod blowing;
mod card;
mod conditions;
mod contradictions;
mod difference;
mod effects;
mod error;
pub(crate) mod heard;
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

pub use card::{Card, CardField, Ending, Wetness, is_practice};
pub(crate) use card::{PRACTICE, is_day};
pub use conditions::Conditions;
pub(crate) use conditions::Difference;
pub(crate) use contradictions::{Contradicted, Contradiction};
pub use effects::effects;
pub use error::{BadForm, BadValue, Damage, LogError, Senseless, Tried};
pub(crate) use error::{Limited, NoExport, NotOnCard, Refused, Unfit, WrongLabel};
pub use facts::Facts;
pub(crate) use facts::{Changed, Phase};
pub use heard::HeardAs;
pub(crate) use history::Length;
pub use history::{History, LoggedReading, LoggedReed, LoggedStep, LoggedTake, PROGRAM};
pub(crate) use known::Known;
pub use known::advised_last;
pub(crate) use observed::Observed;
pub(crate) use pair::{latest_pair, pair};
pub(crate) use place::{LOG_VARIABLE, place};
pub use query::Query;
pub(crate) use query::State;
pub use rating::{Grade, Rated, RatedBy, Rating};
pub use step::{Advised, Step};
pub(crate) use store::{
    Became, CheckUp, Did, Fault, Found, HeardCrow, Lost, LostCard, Mend, Named, Outcome, Reeds,
    Reread, RowOf, SharedAs, Which, export_schema,
};
pub use store::{
    Export, ExportHead, Exported, ExportedAudit, ExportedChange, ExportedReed, ExportedRow, Log,
    Mended, NewTake, PutBy, SharedCrow, check_export,
};
pub(crate) use timeline::{Stage, timeline};
