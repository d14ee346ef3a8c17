//! Notes that follow each other at the steps of a scale: a tune, which no reed crows.

use crate::reading::figures::{Crow, Kind};
use crate::reading::find::no_crow::Other;

/// Sounds with no longer pause between them are one phrase: nobody changes reeds in so short a time.
const PHRASE_S: f64 = 2.5;
/// A phrase in which sounds read as crows are of so many pitches, octaves aside, …
const LEAST_PITCHES: usize = 4;
/// … each so far from the others (crows of one reed agree within a semitone, and a scale has whole tones), …
const STEP_CENTS: f64 = 140.0;
/// … none of which holds more than this share of them, is a tune.
const MOST_OF_ONE: f64 = 0.4;
/// What is blown on a reed alone is heard as breath for so long before it sounds; notes of a tune are not.
const BREATH_S: f64 = 0.1;

/// For each of the `crows` of a take, in order of time, whether it is a note of a tune.
///
/// * `others`: what else sounded; notes of a tune that were told by themselves lie between those that were not.
pub fn are_notes(crows: &[&Crow], others: &[Other]) -> Vec<bool> {
    let mut notes = vec![false; crows.len()];
    let pitched: Vec<usize> =
        (0..crows.len()).filter(|index| pitch_cents(crows[*index]).is_some()).collect();
    let is_one_phrase = |a: &usize, b: &usize| goes_on(crows[*a].end_s, crows[*b].start_s, others);
    for phrase in pitched.chunk_by(is_one_phrase) {
        let cents: Vec<f64> =
            phrase.iter().filter_map(|index| pitch_cents(crows[*index])).collect();
        if is_tune(&cents) {
            for index in phrase.iter().filter(|index| !breathes(crows[**index])) {
                notes[*index] = true;
            }
        }
    }
    notes
}

/// Whether there is no long pause between two moments of the take.
fn goes_on(from_s: f64, to_s: f64, others: &[Other]) -> bool {
    let within = others.iter().filter(|other| other.to_s > from_s && other.from_s < to_s);
    let mut sounds: Vec<(f64, f64)> = within.map(|other| (other.from_s, other.to_s)).collect();
    sounds.push((to_s, to_s));
    sounds.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut heard_s = from_s;
    sounds.iter().all(|(from_s, to_s)| {
        let is_near = from_s - heard_s < PHRASE_S;
        heard_s = heard_s.max(*to_s);
        is_near
    })
}

fn breathes(crow: &Crow) -> bool {
    crow.figures.response.onset_s.is_some_and(|onset_s| onset_s > BREATH_S)
}

/// Of a crow, within an octave. Two tones that stand off have no pitch of a note.
fn pitch_cents(crow: &Crow) -> Option<f64> {
    let hz = crow.figures.fundamental.hz.filter(|_| crow.kind != Kind::Split);
    hz.map(|hz| (1200.0 * hz.log2()).rem_euclid(1200.0))
}

/// * `cents`: of each note, within an octave.
fn is_tune(cents: &[f64]) -> bool {
    let apart = |a: f64, b: f64| ((a - b + 600.0).rem_euclid(1200.0) - 600.0).abs();
    let mut pitches: Vec<f64> = Vec::new();
    for note in cents {
        if pitches.iter().all(|pitch| apart(*note, *pitch) > STEP_CENTS) {
            pitches.push(*note);
        }
    }
    let of_one =
        |about: &f64| cents.iter().filter(|note| apart(**note, *about) < 0.5 * STEP_CENTS).count();
    let most = cents.iter().map(of_one).max().unwrap_or(0);
    pitches.len() >= LEAST_PITCHES && most as f64 <= MOST_OF_ONE * cents.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::find::no_crow::{What, Why};
    use crate::reading::testing;

    /// Sounds at so many cents from a reed's pitch, a second from one to the next.
    fn heard_beside(
        others: &[Other],
        cents: &[f64],
        pause_s: f64,
        onset_s: Option<f64>,
    ) -> Vec<bool> {
        let crows: Vec<Crow> = (0_u32..)
            .zip(cents)
            .map(|(number, cents)| {
                let mut crow = testing::crow(Kind::Single, *cents);
                crow.start_s = f64::from(number) * (1.0 + pause_s);
                crow.end_s = crow.start_s + 1.0;
                crow.figures.response.onset_s = onset_s;
                crow
            })
            .collect();
        are_notes(&crows.iter().collect::<Vec<_>>(), others)
    }

    fn heard(cents: &[f64], pause_s: f64, onset_s: Option<f64>) -> Vec<bool> {
        heard_beside(&[], cents, pause_s, onset_s)
    }

    #[test]
    fn notes_that_were_told_by_themselves_fill_the_pauses() {
        let other = |from_s: f64| Other {
            what: What::Instrument,
            from_s,
            to_s: from_s + 1.0,
            hz: Some(600.0),
            why: Why::Steps,
        };
        let scale = [0.0, 200.0, 400.0, 700.0];
        assert_eq!(heard_beside(&[], &scale, 4.0, None), [false; 4]);
        assert_eq!(heard_beside(&[other(2.0)], &scale, 4.0, None), [false; 4]);
        let beside = [other(13.0), other(8.0), other(3.0)];
        assert_eq!(heard_beside(&beside, &scale, 4.0, None), [true; 4]);
    }

    #[test]
    fn notes_of_a_scale_are_a_tune_and_crows_of_one_reed_are_not() {
        let scale = [0.0, 200.0, 400.0, 700.0, 200.0];
        assert_eq!(heard(&scale, 0.5, None), [true; 5]);
        assert_eq!(heard(&scale, 0.5, Some(0.02)), [true; 5]);
        // Blown out of breath each, or with time between them to change reeds.
        assert_eq!(heard(&scale, 0.5, Some(0.2)), [false; 5]);
        assert_eq!(heard(&scale, 4.0, None), [false; 5]);
        // A reed in two octaves, half a tone flat at first; a reed, and who played two notes.
        assert_eq!(heard(&[-60.0, 0.0, 1190.0, 40.0, 1210.0], 0.5, None), [false; 5]);
        assert_eq!(heard(&[0.0, 10.0, 300.0, -5.0, 500.0], 0.5, None), [false; 5]);
        assert_eq!(heard(&[0.0, 200.0, 400.0], 0.5, None), [false; 3], "reeds of three pitches");
    }
}
