//! What a decision is made of: what is known besides the samples, and the moves that can be made.

use crate::advice::Wanted;
use crate::advice::Where;
use crate::advice::belief::Pitch;
use crate::advice::practice::Cause;
use crate::comparison::Rate;
use crate::reed::{Cut, Inspection, Move};

/// What is known besides the samples.
#[derive(Debug, Clone, PartialEq)]
pub struct Now {
    /// The pitch as it was last heard, moved on by what was done since.
    pub pitch: Option<Pitch>,
    /// Crows of the reed as it is now.
    pub crows: usize,
    /// Of those the puffs of air without a tone, beside crows.
    pub puffs: usize,
    /// Of the others the ones in octaves from the lowest that is expected up.
    pub in_octaves: f64,
    /// Whether one of the signs was heard: the low octave held back, hard to blow, rough.
    pub signs: bool,
    /// Whether the low octave was held back in more than a stray crow.
    pub late: bool,
    /// Of the crows those without a tone to follow: puffs, air, wild ones.
    pub toneless: usize,
    /// How often a second it rattles, where most of the crows do.
    pub rattle_hz: Option<f64>,
    /// Whether it was hard to blow.
    pub hard: bool,
    /// Whether it was hard to blow or rough, as what is built wrong makes it.
    pub blocked: bool,
    /// Under this chance of helping nothing is cut, 0 … 1.
    pub least_help: f64,
    /// Crows wanted before a cut.
    pub crows_wanted: usize,
    /// Length and how well it is known, in millimetres.
    pub length: Option<(f64, f64)>,
    /// The usual length and the shortest, in millimetres.
    pub usual_mm: Option<f64>,
    /// As above.
    pub shortest_mm: Option<f64>,
    /// What counts as in tune, in cents.
    pub tolerance: f64,
    /// The longest and the shortest clip, in millimetres.
    pub longest_clip_mm: f64,
    /// As above.
    pub smallest_clip_mm: f64,
    /// Cents for a millimetre clipped.
    pub clip: Rate,
    /// The work that is proposed, each with what it is for.
    pub proposed: Vec<(Cut, Cause)>,
    /// What each kind of scraping does to the pitch.
    pub works: Vec<(Cut, Rate)>,
    /// Whether pitch does not count: no target, or it is in tune for some.
    pub pitch_is_free: bool,
    /// Whether there may be cut at all: the reed was heard, and heard well.
    pub heard: bool,
    /// Whether it lies too far off the target to be a crow of this kind of reed.
    pub far: bool,
    /// Whether the last take is doubtful as a recording.
    pub doubtful: bool,
    /// Whether only the ear can tell what the crow is.
    pub ask_ear: bool,
    /// Crows of which the sound does not tell whether they are octaves or one tone, and the maker has not said.
    pub blended: usize,
    /// What was told of the reed, oldest first.
    pub told: Vec<(Move, Where)>,
    /// How much of that was told of the reed as it is now.
    pub told_here: usize,
    /// How much of it was told since the reed was tied last.
    pub told_since_tied: usize,
    /// How much of it was told since a low leak was sealed last.
    pub told_since_sealed: usize,
    /// The work done, newest last.
    pub done: Vec<Done>,
    /// What was looked at since it was last worked on.
    pub seen: Vec<Wanted>,
    /// The leak that was seen and not worked on since.
    pub leak_seen: Option<Cause>,
    /// What the eyes say of it as it is: looks before work that did not touch them hold.
    pub eyes: Inspection,
    /// What was measured.
    pub measured: Vec<Wanted>,
    /// What the ruler wants to be measured again.
    pub measure_again: Vec<Wanted>,
}

/// Work that was done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Done {
    /// What.
    pub cut: Cut,
    /// Whether the reed was better after it; `None` where it was not blown since.
    pub helped: Option<bool>,
}

/// A move that can be made, and what speaks for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// What.
    pub next: Move,
    /// Where.
    pub at: Where,
    /// How much of a clip, in millimetres.
    pub amount_mm: Option<f64>,
    /// What it is worth, 0 … 1.
    pub worth: f64,
    /// The chance that it does what it is for.
    pub helps: f64,
    /// The chance that the reed ends worse for good.
    pub harms: f64,
    /// The cause it is for, where it is for one.
    pub cause: Option<Cause>,
}

impl Now {
    /// What was told of the reed as it is now.
    pub fn told_of_this(&self) -> &[(Move, Where)] {
        &self.told[self.told.len().saturating_sub(self.told_here)..]
    }

    /// What work of a kind does to the pitch.
    pub fn rate(&self, cut: Cut) -> Option<Rate> {
        self.works.iter().find(|known| known.0 == cut).map(|known| known.1)
    }
}

pub fn plain(next: Move, at: Where) -> Choice {
    Choice { next, at, amount_mm: None, worth: 0.0, helps: 0.5, harms: 0.0, cause: None }
}
