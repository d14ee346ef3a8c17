//! What there is to show at the bench: plain values.

use super::keeper::may_be_the_reed;
use crate::advice::Advice;
use crate::capture::{Check, Listening, SourceTold, Stands};
use crate::comparison::Verdict;
use crate::log::{Card, History};
use crate::pitch::{A4, Note, cents_from_target};
use crate::profile::Profile;
use crate::reading::{CheckedMicrophone, OctavesNow, Other, Reading};
use crate::reed::Finding;
use crate::report::account::Sender;
use crate::units::Hertz;

/// How much of the pitch is shown while crowing, in seconds.
pub const TRACK_S: f64 = 8.0;

/// Everything but what sounds now.
#[derive(Debug, Clone)]
pub struct State {
    /// Grows with every change.
    pub serial: u64,
    /// What is listened to.
    pub source: SourceTold,
    /// What the last check of the microphone that is listened to said; `None` where it was not checked.
    pub microphone: Option<CheckedMicrophone>,
    /// Whether nothing is listened to for now.
    pub paused: bool,
    /// What the reed on the bench is held to.
    pub profile: Profile,
    /// Pitch of A4.
    pub a4: A4,
    /// The reed on the bench.
    pub reed: Option<OnBench>,
    /// Every open reed, in the order in which they were entered.
    pub open: Vec<OpenReed>,
    /// The last take, or the crows so far of the one that is going on; `None` after a cut.
    pub heard: Option<HeardNow>,
    /// What was heard last and held no crow, but a tone.
    pub aside: Option<Aside>,
    /// How many things were heard, and whether the last one was a crow.
    pub sounded: (u64, bool),
    /// Who sends the log's accounts.
    pub sender: Option<Sender>,
    /// The check of the microphone, while it goes on and once it is over.
    pub check: Option<Check>,
    /// Whether no reed has any take yet: the maker begins.
    pub is_first: bool,
    /// What was said last to the maker, and how many things were said before.
    pub said: (u64, String),
}

/// The reed on the bench.
#[derive(Debug, Clone)]
pub struct OnBench {
    /// All the log has of it.
    pub history: History,
    /// Where the recording of each take is, by its number.
    pub recordings: Vec<(u32, std::path::PathBuf)>,
    /// What *undo* would take back.
    pub would_undo: Option<String>,
    /// What *redo* would make again.
    pub would_redo: Option<String>,
    /// What is wrong with how it is made.
    pub findings: Vec<Finding>,
    /// The next move by all crows since the last cut.
    pub advice: Option<Advice>,
    /// What the last cut did.
    pub change: Option<Change>,
    /// How it stands beside the model.
    pub model: Option<Beside>,
}

/// How a reed stands beside the model of its kind.
#[derive(Debug, Clone)]
pub struct Beside {
    /// The model.
    pub label: String,
    /// Each figure that a maker asks for, in one sentence; empty where it is the model itself, or was
    /// not crowed since the last cut.
    pub told: Vec<String>,
}

/// What the last cut did.
#[derive(Debug, Clone)]
pub struct Change {
    /// The cut, in words.
    pub since: String,
    /// What else differed.
    pub beware: Vec<String>,
    /// That it crows otherwise than it did, in one sentence; `None` where it does not.
    pub turned: Option<String>,
    /// Each figure that a maker asks for: the verdict and one sentence.
    pub told: Vec<(Verdict, String)>,
}

/// One line of the list of reeds to choose from.
#[derive(Debug, Clone)]
pub struct OpenReed {
    /// Its name.
    pub label: String,
    /// Whose it is.
    pub owner: Option<String>,
    /// What is complained of.
    pub complaint: Option<String>,
}

/// A take, or the crows so far of one that is going on.
#[derive(Debug, Clone)]
pub struct HeardNow {
    /// What it says.
    pub reading: Reading,
    /// The next move.
    pub advice: Advice,
    /// How sure it is.
    pub stands: Stands,
    /// Its number on the card, once it is there.
    pub take: Option<u32>,
    /// The serial of the state in which it came.
    pub at: u64,
}

/// Something that was heard and set aside whole.
#[derive(Debug, Clone)]
pub struct Aside {
    /// What it seems to be; at least one.
    pub others: Vec<Other>,
    /// Where it was recorded; `None` where nothing is kept.
    pub file: Option<std::path::PathBuf>,
}

/// What sounds now.
#[derive(Debug, Clone, Default)]
pub struct Live {
    /// Whether the maker paused it.
    pub paused: bool,
    /// Level, take, crows.
    pub listening: Listening,
    /// The lowest octave that sounds, in hertz.
    pub hz: Option<f64>,
    /// What sounds.
    pub octaves: OctavesNow,
    /// The time of this, in seconds since the start.
    pub time_s: f64,
    /// The last seconds of pitch.
    pub track: Vec<PitchPoint>,
}

/// A point of the pitch line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PitchPoint {
    /// In seconds since the start.
    pub time_s: f64,
    /// Cents from the target, or from the nearest note without one; `None` where nothing sounds.
    pub cents: Option<f64>,
}

impl State {
    /// Nothing yet.
    pub fn of(profile: Profile, a4: A4) -> Self {
        Self {
            serial: 0,
            source: SourceTold::default(),
            microphone: None,
            paused: false,
            profile,
            a4,
            reed: None,
            open: Vec::new(),
            heard: None,
            aside: None,
            sounded: (0, false),
            sender: None,
            check: None,
            is_first: false,
            said: (0, String::new()),
        }
    }

    /// Something was heard, a crow or none.
    pub fn sounded(&mut self, is_crow: bool) {
        self.sounded = (self.sounded.0 + 1, is_crow);
    }

    /// What was set aside last and may have been the reed; empty where nothing was.
    pub fn set_aside(&self) -> Vec<Other> {
        match &self.aside {
            Some(aside) => aside.others.clone(),
            None => self.heard.as_ref().map(HeardNow::aside).unwrap_or_default(),
        }
    }

    /// Says something to the maker; what is empty is not said.
    pub fn say(&mut self, text: &str) {
        if !text.is_empty() {
            self.said = (self.said.0 + 1, text.to_owned());
        }
    }

    /// The note that a tone is told by, and how many cents it is off: the target's where there is
    /// one, in the octave the tone is in; else the nearest note.
    pub fn distance(&self, hz: Hertz) -> (Note, f64) {
        let (nearest, above) = Note::nearest(hz, self.a4);
        match self.profile.target {
            Some(target) => {
                let octave = crate::pitch::register(hz, target.frequency(self.a4));
                let cents = cents_from_target(hz, target.frequency(self.a4)).0;
                (target.octaves_up(octave), cents)
            }
            None => (nearest, above.0),
        }
    }
}

impl HeardNow {
    /// What was set aside in the take and may have been the reed; empty once its maker has said that it
    /// was, and while the take goes on.
    pub fn aside(&self) -> Vec<Other> {
        if self.take.is_none() || self.reading.tones_kept {
            return Vec::new();
        }
        self.reading.others.iter().filter(|other| may_be_the_reed(other)).cloned().collect()
    }
}

impl OpenReed {
    /// As its card has it.
    pub fn of(card: &Card) -> Self {
        let Card { label, owner, complaint, .. } = card.clone();
        Self { label, owner, complaint }
    }
}
