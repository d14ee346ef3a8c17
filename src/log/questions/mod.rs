//! What a maker asks of the log, each question a pure function from what the log holds to a typed
//! answer. Words and pictures are made of the answers in [`report`](crate::report).

mod cuts;
mod estimate;
mod groups;
mod likes;
mod trust;
mod waiting;
mod weather;

use serde::Deserialize;

pub use cuts::{CutAnswer, CutSummary, MadeCut, PerMm, cuts};
pub use estimate::{Middle, Share, Told};
pub use groups::{Field, Group, GroupAnswer, groups};
pub use likes::{FEWEST_RATED, GOOD, Like, Liked, LikesAnswer, likes};
pub use trust::{AsSure, TrustAnswer, trust};
pub use waiting::{OnBench, Waiting, waiting};
pub use weather::{Condition, ConditionAnswer, Influence, Point, conditions};

/// A question.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Question {
    /// What is on the bench, and what does each reed wait for?
    #[default]
    Waiting,
    /// Which cane, shape, gouge … works?
    Groups,
    /// What did the cuts do?
    Cuts,
    /// What changes a crow besides cuts?
    Conditions,
    /// What was foretold, and what came?
    Trust,
    /// What have good reeds in common?
    Likes,
    /// What did an owner have, and when?
    Owner,
    /// How did a reed go?
    Way,
}

impl Question {
    /// All of them, in the order in which they stand on the page.
    pub const ALL: [Self; 8] = [
        Self::Waiting,
        Self::Groups,
        Self::Cuts,
        Self::Conditions,
        Self::Trust,
        Self::Likes,
        Self::Owner,
        Self::Way,
    ];

    /// As it stands in an address.
    pub fn code(self) -> &'static str {
        match self {
            Self::Waiting => "waiting",
            Self::Groups => "groups",
            Self::Cuts => "cuts",
            Self::Conditions => "conditions",
            Self::Trust => "trust",
            Self::Likes => "likes",
            Self::Owner => "owner",
            Self::Way => "way",
        }
    }
}
