//! What was followed and is not a crow, gathered into what a maker would name.

use super::tonal::{Segment, Verdict};
use crate::dsp::statistics::median;
use crate::reading::figures::{Other, What, Why};

/// Sounds with less than this between them are one: a phrase, a melody.
const PHRASE_S: f64 = 1.0;
/// What stands out less, or is shorter, is not worth a word.
const LEAST_SALIENCE_DB: f32 = 7.5;
const LEAST_S: f64 = 0.12;
/// Alone, it must last this long.
const LEAST_ALONE_S: f64 = 0.25;
/// Voices and the mains lie under this.
const LOW_HZ: f64 = 350.0;
/// Multiples of the mains are known within this share.
const MAINS_SHARE: f64 = 0.01;

#[derive(Debug, Clone, Copy)]
struct Part {
    from_s: f64,
    to_s: f64,
    hz: f64,
    why: Why,
}

/// Others found so far.
#[derive(Debug, Default)]
pub struct Gathered {
    done: Vec<Other>,
    phrase: Vec<Part>,
}

impl Gathered {
    /// Takes the next segments that are not crows, in order of time.
    pub fn gather(&mut self, segments: impl Iterator<Item = Segment>, time_s: impl Fn(u64) -> f64) {
        for segment in segments {
            let Verdict::Not(why) = segment.verdict else { continue };
            let (from_s, to_s) = (time_s(segment.first), time_s(segment.end));
            if segment.salience_db < LEAST_SALIENCE_DB || to_s - from_s < LEAST_S {
                continue;
            }
            if self.phrase.last().is_some_and(|last| from_s - last.to_s > PHRASE_S) {
                let phrase = std::mem::take(&mut self.phrase);
                self.done.extend(named(&phrase));
            }
            self.phrase.push(Part { from_s, to_s, hz: segment.hz, why });
        }
    }

    /// All of them, the last one as far as it is known.
    pub fn list(&self) -> Vec<Other> {
        self.done.iter().cloned().chain(named(&self.phrase)).collect()
    }
}

/// A phrase by what most of it is.
fn named(phrase: &[Part]) -> Option<Other> {
    let (first, last) = (phrase.first()?, phrase.last()?);
    let length = |why: Why| -> f64 {
        phrase.iter().filter(|part| part.why == why).map(|part| part.to_s - part.from_s).sum()
    };
    let whole: f64 = phrase.iter().map(|part| part.to_s - part.from_s).sum();
    if phrase.len() == 1 && whole < LEAST_ALONE_S {
        return None;
    }
    let hz = median(phrase.iter().map(|part| part.hz));
    let low = hz.is_some_and(|hz| hz < LOW_HZ);
    let why = [Why::Steps, Why::GoesOn, Why::Glides, Why::Weaker, Why::OutOfRange, Why::Hidden]
        .into_iter()
        .max_by(|a, b| length(*a).total_cmp(&length(*b)))
        .filter(|why| length(*why) > 0.0)
        .unwrap_or(Why::Short);
    let what = match why {
        Why::GoesOn if hz.is_some_and(is_mains) => What::Hum,
        Why::GoesOn => What::Machine,
        Why::Steps => What::Instrument,
        Why::Glides => What::Speech,
        _ if phrase.len() > 1 && low => What::Speech,
        _ => What::Unknown,
    };
    Some(Other { what, from_s: first.from_s, to_s: last.to_s, hz, why })
}

fn is_mains(hz: f64) -> bool {
    let near = |mains: f64| {
        let nearest = (hz / mains).round() * mains;
        (hz - nearest).abs() < MAINS_SHARE * hz
    };
    hz < LOW_HZ && (near(50.0) || near(60.0))
}
