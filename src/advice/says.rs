//! What an advice says, before it is worded.

use crate::pitch::Note;
use crate::reed::{Move, Place};

/// One thing that speaks for a move.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Speaks {
    /// How many crows are in octaves, and whether the low octave is held back, whether it is hard to
    /// blow, whether it is rough, and how often a second it rattles. `unsure`: so many may be octaves or one
    /// tone; 0 where that is no question.
    Heard { octaves: usize, crows: usize, signs: [bool; 3], rattle_hz: Option<f64>, unsure: usize },
    /// No crow was heard.
    NothingHeard,
    /// All that was blown gave air.
    OnlyAir,
    /// How far off the target it is, and up to how far counts as in tune.
    Pitch { cents: f64, target: Option<Note>, limit_cents: f64 },
    /// What the move is for, in the tables' words, how likely it is, and whether nothing is likelier.
    Cause { says: String, sure: f64, is_likeliest: bool },
    /// A cause that another move is for.
    MayBe { says: String, sure: f64 },
    /// It speaks badly, and nobody has looked yet for what holds a reed back.
    HeldBack,
    /// How likely nothing is wrong.
    NothingWrong(f64),
    /// Something may be wrong, and is better left.
    CutHarms,
    /// The crows differ in pitch by too much for a cut.
    CrowsDiffer,
    /// There is one crow, by which nothing is cut.
    OneCrow,
    /// The crows differ in pitch by more than counts as in tune: standard deviation, in cents.
    Scattered(f64),
    /// A reed of another kind crows so, or one of another target or A4.
    OtherKind,
    /// Scraping there lets the pitch fall.
    Lowers,
    /// For giving a reed up.
    PastHelp,
    /// For asking.
    MoreWouldTell,
}

/// What to do after a move.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Then {
    pub next: Move,
    pub place: Option<Place>,
    /// Whether only what is heard is asked for.
    pub by_ear: bool,
    /// Crows that are wanted.
    pub crows: u32,
    /// Of a reed that is given up: what it is given up for.
    pub lost: Lost,
}

/// What a reed is given up for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Lost {
    /// It is too short.
    TooShort,
    /// A cause, with what is done about it on the next reed, in the tables' words.
    Cause(String),
    /// Nothing that could be named.
    Unknown,
}

/// What to take care of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Caution {
    /// A clip cannot be undone.
    Clip,
    /// Cane cannot be put back.
    Scrape,
    /// Knife and razor.
    Blade,
    /// What lips must not touch.
    Sealer,
    /// Thread under tension, wax and glue.
    Thread,
    /// A dry reed cracks.
    Opening,
    /// A reed of unknown length is clipped: the shortest that may be left, in millimetres.
    MeasureFirst(f64),
    /// A corner may be chipped.
    Splinter,
    /// One mouth, one reed.
    Mouths,
}

/// What to take care of: that of the move first, mouths always.
///
/// * `shortest_mm`: where a reed of unknown length is clipped.
pub(super) fn cautions(next: Move, is_chipped: bool, shortest_mm: Option<f64>) -> Vec<Caution> {
    let of_move: &[Caution] = match next {
        Move::Clip => &[Caution::Clip, Caution::Blade],
        Move::Tip | Move::Heart | Move::Back => &[Caution::Scrape, Caution::Blade],
        Move::Seal => &[Caution::Sealer],
        Move::Opening => &[Caution::Opening],
        Move::Retie => &[Caution::Thread, Caution::Blade],
        _ => &[],
    };
    let mut all = of_move.to_vec();
    all.extend(shortest_mm.map(Caution::MeasureFirst));
    all.extend(is_chipped.then_some(Caution::Splinter));
    all.push(Caution::Mouths);
    all
}
