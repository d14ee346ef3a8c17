//! What a session tells.

use crate::reading::{Analysis, Crow, Now, Other};

/// What happened in the samples pushed, in order.
#[derive(Debug, Clone)]
pub enum Event {
    /// Something sounds; a take begins. Its audio follows.
    TakeBegan,
    /// The take's next samples, of the channel that is read.
    Audio(Vec<f32>),
    /// Something has ended that is a crow by its looks: what follows it will show whether it is one. Then
    /// it is told as such, or set aside.
    CrowSeen(Box<Crow>),
    /// A crow of the current take has ended and is read.
    CrowEnded {
        /// Counted from 1 within the take.
        number: usize,
        /// Its figures; times are seconds of the take.
        crow: Box<Crow>,
    },
    /// The pause after the take's last crow is over.
    TakeEnded(Box<FinishedTake>),
    /// What began was not a crow: knock, speech, handling. Its audio counts for nothing, unless the maker
    /// says otherwise.
    TakeDropped {
        /// What was heard in it.
        others: Vec<Other>,
    },
}

/// A take whose audio and crows are all known.
#[derive(Debug, Clone)]
pub struct FinishedTake {
    /// Where its audio begins, in seconds since the session began.
    #[cfg_attr(not(test), expect(dead_code, reason = "the tests hold where takes begin"))]
    pub start_s: f64,
    /// Its reading, with what pictures need.
    pub analysis: Analysis,
}

/// What a live display shows.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Listening {
    /// What sounds.
    pub now: Now,
    /// Number of the take that is being recorded; `None` between takes.
    pub take: Option<usize>,
    /// Crows that have ended in it.
    pub crows: usize,
    /// Whether nothing at all has come from the input for two seconds, not even room noise.
    pub silent: bool,
    /// Whether the input never gave any sound, for long enough to tell that it is muted.
    pub muted: bool,
    /// Seconds of silence left until the take ends; `None` between takes and while it sounds.
    pub closes_in_s: Option<f64>,
}

/// What is listened to, as it is told.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum SourceTold {
    /// Nothing, and why.
    #[default]
    Nothing,
    /// It could not be opened, or went away.
    Lost(String),
    /// A microphone, by name.
    Microphone(String),
    /// A practice take, by name.
    Practice(String),
}

/// How sure it is what was heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stands {
    /// The last sound has ended and may yet turn out to be no crow.
    Seen,
    /// Each is a crow; more may follow.
    GoesOn,
    /// The take is over.
    Over,
}
