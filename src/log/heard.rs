//! What makers said they heard, and what that makes of the ear that judges for them.

use std::borrow::Cow;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::pitch::A4;
use crate::profile::{Ear, Heard};
use crate::reading::{Kind, Reading, summarise};

choice! {
    /// What a maker hears of a crow.
    HeardAs {
        /// The low tone and its octave.
        Octaves = "octaves",
        /// The low tone alone.
        Low = "low",
        /// The upper octave alone.
        High = "high",
        /// Two tones that are no octave.
        Split = "split",
        /// No tone stays.
        Wild = "wild",
        /// Air without a tone.
        Air = "air",
    }
}

impl HeardAs {
    /// Whether a crow of this kind is what was heard, as far as a kind tells: which single tone is
    /// heard is told by its pitch, and what is blended may be either.
    pub fn agrees_with(self, kind: Kind) -> bool {
        match self {
            Self::Octaves => matches!(kind, Kind::Octaves | Kind::Blended),
            Self::Low | Self::High => matches!(kind, Kind::Single | Kind::Blended),
            Self::Split => kind == Kind::Split,
            Self::Wild => kind == Kind::Unsettled,
            Self::Air => kind == Kind::Breath,
        }
    }

    /// The kind that a crow heard so is of.
    pub fn kind(self) -> Kind {
        match self {
            Self::Octaves => Kind::Octaves,
            Self::Low | Self::High => Kind::Single,
            Self::Split => Kind::Split,
            Self::Wild => Kind::Unsettled,
            Self::Air => Kind::Breath,
        }
    }

    /// Whether that is octaves or one tone; `None` where it is neither.
    fn is_octaves(self) -> Option<bool> {
        match self {
            Self::Octaves => Some(true),
            Self::Low | Self::High => Some(false),
            Self::Split | Self::Wild | Self::Air => None,
        }
    }
}

/// What a maker said of a crow, as the log keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LoggedHeard {
    /// When (UTC, ISO 8601).
    pub at: String,
    /// Name of the profile the crow was read by.
    pub profile: String,
    /// Which crow of the take, counted from 1.
    pub crow: u32,
    /// What was heard.
    pub heard: HeardAs,
    /// What the program had said.
    pub kind: Kind,
    /// What it had measured; `None` where the crow holds no pair of octaves.
    #[serde(default)]
    pub measured: Option<Heard>,
}

/// A reading with the kinds that its maker hears in place of those that the sound tells; the last word on
/// a crow holds.
pub fn as_heard<'a>(reading: &'a Reading, words: &[LoggedHeard]) -> Cow<'a, Reading> {
    if words.is_empty() {
        return Cow::Borrowed(reading);
    }
    let mut own = reading.clone();
    for word in words {
        let at = (word.crow as usize).checked_sub(1);
        if let Some(crow) = at.and_then(|at| own.crows.get_mut(at)) {
            crow.kind = word.heard.kind();
        }
    }
    own.summary = summarise(&own.crows, A4::new(own.a4_hz).unwrap_or_default());
    Cow::Owned(own)
}

/// The ear that `words` teach for crows of one profile.
pub fn ear(words: &[LoggedHeard], profile: &str) -> Ear {
    let labels: Vec<(Heard, bool)> =
        words.iter().filter(|word| word.profile == profile).filter_map(label).collect();
    Ear::taught(&labels)
}

fn label(word: &LoggedHeard) -> Option<(Heard, bool)> {
    Some((word.measured?, word.heard.is_octaves()?))
}

/// Of fewer answers no share is told (our choice: none of two is no measure of an ear).
pub const FEWEST_ANSWERS: usize = 10;

/// How an ear agrees with its maker.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct EarTest {
    /// The profile.
    pub profile: String,
    /// How many crows the maker has named.
    pub words: usize,
    /// Stand-out at which it is even odds before any teaching, in decibels.
    pub limit_first_db: f64,
    /// The same now.
    pub limit_now_db: f64,
    /// Of the crows named octaves or one tone, how many have a stand-out to be judged by …
    pub judged: usize,
    /// … how many the ear calls as the maker does, each judged by what the others taught …
    pub agree: usize,
    /// … and how many the untaught ear does.
    pub agree_first: usize,
    /// How often each word met each kind the program had said.
    pub table: Vec<SaidAgainstHeard>,
    /// Judged crows in order of how much the ear contradicts the maker, those only that it does.
    pub disagree: Vec<Disagreement>,
}

/// How often a kind was said of what was heard so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub struct SaidAgainstHeard {
    /// What the maker heard.
    pub heard: HeardAs,
    /// What the program said.
    pub said: Kind,
    /// How often.
    pub count: usize,
}

/// A crow of which ear and maker say different things.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Disagreement {
    /// Index into the words the test was made of.
    pub word: usize,
    /// Chance of octaves by what the other crows taught.
    pub octaves: f64,
}

/// Tests an ear on the words that teach it, each against what the others taught.
pub fn test(words: &[LoggedHeard], profile: &str) -> EarTest {
    let mine: Vec<(usize, &LoggedHeard)> =
        words.iter().enumerate().filter(|(_, word)| word.profile == profile).collect();
    let labels: Vec<(usize, (Heard, bool))> =
        mine.iter().filter_map(|(index, word)| Some((*index, label(word)?))).collect();
    let first = Ear::default();
    let all: Vec<(Heard, bool)> = labels.iter().map(|(_, label)| *label).collect();
    let (mut agree, mut agree_first, mut disagree) = (0, 0, Vec::new());
    for (left_out, (word, (heard, octaves))) in labels.iter().enumerate() {
        let mut others = all.clone();
        others.remove(left_out);
        let chance = Ear::taught(&others).octaves_chance(heard);
        agree_first += usize::from((first.octaves_chance(heard) > 0.5) == *octaves);
        if (chance > 0.5) == *octaves {
            agree += 1;
        } else {
            disagree.push(Disagreement { word: *word, octaves: chance });
        }
    }
    disagree.sort_by(|a, b| (b.octaves - 0.5).abs().total_cmp(&(a.octaves - 0.5).abs()));
    let kinds =
        [Kind::Octaves, Kind::Blended, Kind::Single, Kind::Split, Kind::Unsettled, Kind::Breath];
    let table = HeardAs::ALL
        .into_iter()
        .flat_map(|heard| kinds.map(|said| (heard, said)))
        .map(|(heard, said)| {
            let is = |word: &LoggedHeard| word.heard == heard && word.kind == said;
            let count = mine.iter().filter(|(_, word)| is(word)).count();
            SaidAgainstHeard { heard, said, count }
        })
        .filter(|cell| cell.count > 0)
        .collect();
    EarTest {
        profile: profile.to_owned(),
        words: mine.len(),
        limit_first_db: first.limit_db(),
        limit_now_db: Ear::taught(&all).limit_db(),
        judged: labels.len(),
        agree,
        agree_first,
        table,
        disagree,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn word(stand_out_db: f64, heard: HeardAs) -> LoggedHeard {
        LoggedHeard {
            at: "2026-05-02T10:00:00Z".into(),
            profile: "american-oboe".into(),
            crow: 1,
            heard,
            kind: Kind::Blended,
            measured: Some(Heard {
                stand_out_db,
                ci95_db: 4.0,
                lead_ms: Some(2.0),
                low_db: -6.0,
                off_cents: 0.0,
                spread_cents: 3.0,
            }),
        }
    }

    /// A maker who hears octaves from 10 dB on, of crows every decibel from 0 to 19, and one word
    /// that is a slip.
    #[test]
    fn an_ear_is_tested_by_what_the_other_words_taught_it() {
        let heard = |db: f64| if db >= 10.0 { HeardAs::Octaves } else { HeardAs::Low };
        let mut words: Vec<LoggedHeard> =
            (0..20).map(|db| word(f64::from(db), heard(f64::from(db)))).collect();
        words.push(word(18.5, HeardAs::Low));
        words.push(LoggedHeard { measured: None, ..word(0.0, HeardAs::Air) });
        words.push(LoggedHeard { profile: "bassoon".into(), ..word(0.0, HeardAs::Octaves) });
        let found = test(&words, "american-oboe");
        assert_eq!((found.words, found.judged), (22, 21));
        assert!(found.agree > found.agree_first, "{found:?}");
        assert!((8.0..11.0).contains(&found.limit_now_db), "{found:?}");
        assert!((found.limit_first_db - 7.14).abs() < 0.01, "{found:?}");
        assert_eq!(found.disagree[0].word, 20, "{found:?}");
        let counted: usize = found.table.iter().map(|cell| cell.count).sum();
        assert_eq!(counted, 22);
        assert_eq!(ear(&words, "no-such"), Ear::default());
    }
}
