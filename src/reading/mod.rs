//! What a take says: its crows, the figures of each, the take's summary, and what makes it
//! doubtful.
//!
//! Samples enter, once, in order and in pieces of any size ([`Reader::push`]); a file and the
//! microphone are two drivers of the same reader, so both give the same reading. Figures keep the
//! names they have in JSON. A figure the samples cannot support is `None`.

pub(crate) mod catalogue;
mod crow;
mod figures;
mod find;
mod measured;
mod not_a_crow;
mod octaves_now;
mod overload;
mod pooled;
mod reader;
mod recorder;
mod splice;
mod summary;
#[cfg(test)]
pub(crate) mod testing;
mod track;
mod warnings;

pub(crate) use figures::kind::APART_MS;
pub use figures::{
    Above, Alignment, Balance, Band, Breath, CheckedMicrophone, Crow, Faint, Figures, Fundamental,
    Kind, Reading, Response, Rung, SCHEMA, Steadiness, Summary, Voices, Warning, WarningCode,
};
pub(crate) use find::hum::{HUM_DBFS, MainsHum, mains_hum};
pub use find::no_crow::{Other, What, Why};
pub use measured::{CrowTracks, Partial, TrackPoint};
pub(crate) use octaves_now::OctavesNow;
pub(crate) use overload::{Overload, OverloadCount};
pub(crate) use pooled::pooled;
pub use reader::{Analysis, Now, Reader, is_silent, read};
pub(crate) use summary::commonest_kind;
pub use summary::summarise;
pub(crate) use track::line::LOCKED_CENTS;
pub(crate) use warnings::{
    Doubt, Evidence, FULL_RATE_HZ, HOT_DBFS, Loud, NOISY_DBFS, QUIET_DBFS, how_loud,
};
