//! What a maker asks of the log, each question a pure function from what the log holds to a typed
//! answer. Words and pictures are made of the answers in [`report`](crate::report).

mod cuts;
mod estimate;
mod groups;
mod likes;
mod trust;
mod waiting;
mod weather;

pub use cuts::{CutAnswer, CutSummary, MadeCut, PerMm, cuts};
pub use estimate::{Middle, Share, Told};
pub use groups::{Field, Group, GroupAnswer, groups};
pub use likes::{FEWEST_RATED, GOOD, Like, Liked, LikesAnswer, likes};
pub use trust::{AsSure, FEWEST_MOVES, TrustAnswer, trust};
pub use waiting::{OnBench, Waiting, waiting};
pub use weather::{Condition, ConditionAnswer, Influence, Point, conditions};

choice! {
    /// A question.
    #[derive(Default)]
    Question {
        /// What is on the bench, and what does each reed wait for?
        #[default]
        Waiting = "waiting",
        /// Which cane, shape, gouge … works?
        Groups = "groups",
        /// What did the cuts do?
        Cuts = "cuts",
        /// What changes a crow besides cuts?
        Conditions = "conditions",
        /// What was foretold, and what came?
        Trust = "trust",
        /// What have good reeds in common?
        Likes = "likes",
        /// What did an owner have, and when?
        Owner = "owner",
        /// How did a reed go?
        Way = "way",
    }
}
