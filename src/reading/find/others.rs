//! What was followed and is not a crow, gathered into what a maker would name.

use super::no_crow::{Other, What, Why};
use super::tonal::{Segment, Verdict};
use crate::dsp::statistics::median;

/// Sounds with less than this between them are one: a phrase, a melody.
const PHRASE_S: f64 = 1.0;
/// What stands out less, or is shorter, is not worth a word.
const LEAST_SALIENCE_DB: f32 = 7.5;
const LEAST_S: f64 = 0.12;
/// Alone, it must last this long.
const LEAST_ALONE_S: f64 = 0.25;
/// Voices and the mains lie under this.
const LOW_HZ: f64 = 350.0;
/// A low melody holds this share of its length, talk does not.
const HELD_SHARE: f64 = 1.0 / 3.0;
/// Multiples of the mains are known within this share.
const MAINS_SHARE: f64 = 0.01;

#[derive(Debug, Clone, Copy)]
struct Part {
    from_s: f64,
    to_s: f64,
    hz: f64,
    why: Why,
    /// Whether it is held as notes are and syllables are not.
    held: bool,
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
            let held = segment.is_held();
            self.phrase.push(Part { from_s, to_s, hz: segment.hz, why, held });
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
    let held: f64 =
        phrase.iter().filter(|part| part.held).map(|part| part.to_s - part.from_s).sum();
    let is_voice = low && held < HELD_SHARE * whole;
    let why = [Why::Steps, Why::GoesOn, Why::Glides, Why::Weaker, Why::OutOfRange, Why::Hidden]
        .into_iter()
        .max_by(|a, b| length(*a).total_cmp(&length(*b)))
        .filter(|why| length(*why) > 0.0)
        .unwrap_or(Why::Short);
    let what = match why {
        Why::GoesOn if hz.is_some_and(is_mains) => What::Hum,
        Why::GoesOn => What::Machine,
        Why::Steps | Why::Glides | Why::Weaker if is_voice => What::Speech,
        Why::Steps | Why::Weaker => What::Instrument,
        // A player's slurs; one tone alone that glides may be anything.
        Why::Glides if phrase.len() > 1 => What::Instrument,
        _ if phrase.len() > 1 && is_voice => What::Speech,
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

/// Others of one kind with less than a phrase's pause between them as one, in order of time: a voice is read
/// word by word.
pub fn joined(mut others: Vec<Other>) -> Vec<Other> {
    others.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
    let mut list: Vec<Other> = Vec::new();
    for other in others {
        let same = |last: &&mut Other| last.what == other.what && last.why == other.why;
        match list.last_mut().filter(same) {
            Some(last) if other.from_s - last.to_s < PHRASE_S => {
                let (own_s, more_s) = (last.to_s - last.from_s, other.to_s - other.from_s);
                if more_s > own_s {
                    last.hz = other.hz;
                }
                last.to_s = last.to_s.max(other.to_s);
            }
            _ => list.push(other),
        }
    }
    list
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_a_phrase_are_one_voice_and_a_knock_after_it_is_another_thing() {
        let other = |what, from_s: f64, hz| Other {
            what,
            from_s,
            to_s: from_s + 0.3,
            hz: Some(hz),
            why: Why::Glides,
        };
        let heard = [
            other(What::Struck, 2.0, 900.0),
            other(What::Speech, 0.5, 130.0),
            other(What::Speech, 0.1, 120.0),
            other(What::Speech, 3.5, 110.0),
        ];
        let list = joined(heard.to_vec());
        let bounds: Vec<(What, f64, f64)> =
            list.iter().map(|other| (other.what, other.from_s, other.to_s)).collect();
        assert_eq!(
            bounds,
            [(What::Speech, 0.1, 0.8), (What::Struck, 2.0, 2.3), (What::Speech, 3.5, 3.8)]
        );
        assert_eq!(list[0].hz, Some(120.0));
    }
}
