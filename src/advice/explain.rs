//! Why the adviser says what it says: what it believes, what would change its mind, and every number.

use super::belief::Heard;
use super::decide::{Choice, decide};
use super::practice::{Cause, Practice, SOUNDS, Sound};
use super::story::case;
use super::{Advice, Story, advise_on};
use crate::comparison::{Effects, Rate};
use crate::profile::Profile;
use crate::reed::{Cut, Move};

/// What is behind an advice.
#[derive(Debug, Clone, PartialEq)]
pub struct Explained {
    /// The advice itself.
    pub advice: Advice,
    /// What may be wrong: in words, how likely before the reed was heard and now, who says so; the
    /// likeliest first.
    pub believed: Vec<Believed>,
    /// What the next crow should be, in the order octaves, low, peep, split, wild, air.
    pub next_crow: [f64; SOUNDS],
    /// What would be done if the next three crows were such.
    pub if_heard: Vec<(If, Move, super::Where)>,
    /// All moves that were weighed, the best first.
    pub weighed: Vec<Weighed>,
    /// Cents for a millimetre clipped from this reed.
    pub clip: Rate,
    /// What the numbers rest on, table by table, and who says so.
    pub sources: Vec<(Numbers, String)>,
}

/// A table of the numbers that stand behind advice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Numbers {
    /// What a kind of work does.
    Work(Cut),
    /// How reeds crow.
    Crow,
    /// What a round takes, and what places bear.
    Hand,
    /// Cents for a millimetre.
    Clip,
    /// What a move is worth.
    Worth,
}

/// A cause and how likely it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Believed {
    /// In words, as a sentence.
    pub says: String,
    /// Before anything was heard.
    pub before: f64,
    /// Now.
    pub now: f64,
    /// Who says how it is known.
    pub from: String,
}

/// A move that was weighed.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// What.
    pub next: Move,
    /// Where.
    pub at: super::Where,
    /// What it is worth, 0 … 1.
    pub worth: f64,
    /// The chance that it helps.
    pub helps: f64,
    /// The chance that it harms.
    pub harms: f64,
}

/// What the next three crows might be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum If {
    /// In octaves, and flat.
    Flat,
    /// In octaves, and sharp.
    Sharp,
    /// Split.
    Split,
}

/// How far off the crows are that are asked about, in cents.
const ASKED_CENTS: f64 = 40.0;

/// What is behind the advice on a reed.
pub fn explain(story: &Story, profile: &Profile, effects: &Effects) -> Explained {
    let practice = Practice::in_use();
    let case = case(practice, story, profile, effects);
    let weighed = decide(practice, &case.belief, &case.now).choices;
    let chances = case.belief.chances();
    let mut believed: Vec<Believed> = Cause::ALL
        .into_iter()
        .map(|cause| {
            let of = practice.of(cause);
            Believed {
                says: of.says.clone(),
                before: of.chance,
                now: chances[cause as usize],
                from: of.from.clone(),
            }
        })
        .collect();
    believed.sort_by(|a, b| b.now.total_cmp(&a.now));
    let if_heard = [If::Flat, If::Sharp, If::Split]
        .into_iter()
        .filter_map(|asked| {
            let mut heard = Heard { crows: vec![crow(asked); 3], ..Heard::default() };
            let mut now = case.now.clone();
            now.crows += 3;
            now.heard = true;
            if let (Some(pitch), false) = (now.pitch, asked == If::Split) {
                let side = if asked == If::Flat { -1.0 } else { 1.0 };
                now.pitch = Some(super::belief::Pitch { cents: side * ASKED_CENTS, ..pitch });
                heard.pitch = now.pitch;
            }
            let mut belief = case.belief.clone();
            belief.hears(&heard);
            let best = decide(practice, &belief, &now).choices.into_iter().next()?;
            Some((asked, best.next, best.at))
        })
        .collect();
    Explained {
        advice: advise_on(story, profile, effects),
        believed,
        next_crow: case.belief.next_sounds(),
        if_heard,
        weighed: weighed.into_iter().map(Weighed::of).collect(),
        clip: case.now.clip,
        sources: sources(practice),
    }
}

fn sources(practice: &Practice) -> Vec<(Numbers, String)> {
    let works = practice.work.iter().map(|(cut, of)| (Numbers::Work(*cut), of.from.clone()));
    let others = [
        (Numbers::Crow, &practice.crow.from),
        (Numbers::Hand, &practice.hand.from),
        (Numbers::Clip, &practice.clip.from),
        (Numbers::Worth, &practice.worth.from),
    ];
    works.chain(others.map(|(of, from)| (of, from.clone()))).collect()
}

fn crow(asked: If) -> [f64; SOUNDS] {
    let mut crow = [0.0; SOUNDS];
    crow[if asked == If::Split { Sound::Split } else { Sound::Octaves } as usize] = 1.0;
    crow
}

impl Weighed {
    fn of(choice: Choice) -> Self {
        let Choice { next, at, worth, helps, harms, .. } = choice;
        Self { next, at, worth, helps, harms }
    }
}
