//! What only the other crows of a take show to be none of them.

use crate::reading::figures::{Crow, Kind};

/// Who blows makes turbulence: what repeats is never so far over what does not, in decibels, …
const PURE_DB: f64 = 44.0;
/// … nor is its breath so far under its partials, …
const NO_BREATH_DB: f64 = -42.0;
/// … where in the same room and recorder other crows stay under this.
const BLOWN_DB: f64 = 34.0;

/// Whether a sound read as a crow is made by a device, a tuner or a timer: purer than anything blown,
/// while most of the take's `crows` were blown.
pub fn is_of_a_device(sound: &Crow, crows: &[&Crow]) -> bool {
    let pure = |crow: &Crow, least_db: f64| {
        crow.figures.steadiness.harmonicity_db.is_some_and(|db| db > least_db)
    };
    let breathes = sound.figures.breath.noise_db.is_some_and(|db| db > NO_BREATH_DB);
    let told = crows.iter().filter(|crow| crow.figures.steadiness.harmonicity_db.is_some());
    let blown: Vec<&Crow> = told.copied().filter(|crow| !pure(crow, BLOWN_DB)).collect();
    pure(sound, PURE_DB)
        && !breathes
        && blown.len() >= LEAST_CROWS
        && blown.iter().all(|crow| is_of_another_pitch(sound, crow))
}

/// Who sings wavers by more than this, in cents, …
const SUNG_CENTS: f64 = 9.0;
/// … clearly from moment to moment, as no reed does that is so unsteady, in decibels, …
const SUNG_DB: f64 = 15.0;
/// … where other crows of the take keep their pitch within this.
const HELD_PITCH_CENTS: f64 = 5.0;

/// Whether a sound read as a crow was sung or hummed: a clear tone that wavers, while most of the take's
/// `crows` hold theirs.
pub fn is_of_a_voice(sound: &Crow, crows: &[&Crow]) -> bool {
    let spread = |crow: &Crow| crow.figures.steadiness.spread_cents;
    let is_one = matches!(sound.kind, Kind::Single | Kind::Blended | Kind::Octaves);
    let is_clear = sound.figures.steadiness.harmonicity_db.is_some_and(|db| db > SUNG_DB);
    let told = crows.iter().filter(|crow| spread(crow).is_some()).count();
    let holds = |crow: &&&Crow| spread(crow).is_some_and(|cents| cents < HELD_PITCH_CENTS);
    let held: Vec<&&Crow> = crows.iter().filter(holds).collect();
    is_one
        && is_clear
        && spread(sound).is_some_and(|cents| cents > SUNG_CENTS)
        && held.len() >= LEAST_CROWS
        && 2 * held.len() > told
        && held.iter().all(|crow| is_of_another_pitch(sound, crow))
}

/// What is this much weaker than the crows of a take …
const MUCH_WEAKER_DB: f64 = 12.0;
/// … and this far from their pitch, octaves aside, is none of them: somebody's note or voice. A reed
/// blown that much more softly moves by less.
const OTHER_PITCH_CENTS: f64 = 60.0;
/// So many crows tell, when they lie within this of each other.
const LEAST_CROWS: usize = 2;
const ALIKE_CENTS: f64 = 100.0;

/// Pitch of a crow in cents from 1 Hz.
fn pitch_cents(crow: &Crow) -> Option<f64> {
    crow.figures.fundamental.hz.map(|hz| 1200.0 * hz.log2())
}

/// Octaves aside, −600 … +600.
fn folded_cents(cents: f64, about: f64) -> f64 {
    (cents - about + 600.0).rem_euclid(1200.0) - 600.0
}

fn is_of_another_pitch(sound: &Crow, crow: &Crow) -> bool {
    let pitches = pitch_cents(sound).zip(pitch_cents(crow));
    pitches.is_some_and(|(own, other)| folded_cents(own, other).abs() >= OTHER_PITCH_CENTS)
}

/// Whether a sound read as a crow is another's, sounding while none of the take's `crows` did: much weaker
/// than all of them, and of another pitch.
pub fn is_much_weaker(sound: &Crow, crows: &[&Crow]) -> bool {
    let Some(level) = sound.figures.level_dbfs else { return false };
    let told: Vec<(f64, &Crow)> = crows
        .iter()
        .filter(|crow| pitch_cents(crow).is_some())
        .filter_map(|crow| Some((crow.figures.level_dbfs?, *crow)))
        .collect();
    let louder: Vec<&Crow> = told
        .iter()
        .filter(|(other, _)| level < other - MUCH_WEAKER_DB)
        .map(|(_, crow)| *crow)
        .collect();
    let Some(about) = louder.first().copied().and_then(pitch_cents) else { return false };
    let near = |crow: &&Crow| {
        pitch_cents(crow).is_some_and(|pitch| folded_cents(pitch, about).abs() < ALIKE_CENTS)
    };
    // One as soft as it may be of the same reed as well.
    louder.len() >= LEAST_CROWS
        && 2 * louder.len() > told.len()
        && louder.iter().all(near)
        && louder.iter().all(|crow| is_of_another_pitch(sound, crow))
}

/// A crow this far from the middle of the others, octaves aside, is not the same reed blown again …
const APART_CENTS: f64 = 100.0;
/// … where it sounds otherwise as well: so much louder or softer than all of them, …
const UNLIKE_LEVEL_DB: f64 = 8.0;
/// … so much clearer or rougher, …
const UNLIKE_HARMONICITY_DB: f64 = 8.0;
/// (clearer than this the room tells more than the reed) …
const CLEAR_DB: f64 = 30.0;
/// … or so much brighter or duller, as a ratio of the middles of their power.
const UNLIKE_CENTROID: f64 = 1.4;

/// Crows of the take that agree in their pitch, and from which a sound read as a crow lies apart.
fn agreeing<'a>(sound: &Crow, crows: &[&'a Crow]) -> Vec<&'a Crow> {
    let told: Vec<&Crow> =
        crows.iter().filter(|crow| pitch_cents(crow).is_some()).copied().collect();
    let alike = |about: &Crow| -> Vec<&'a Crow> {
        let Some(about) = pitch_cents(about) else { return Vec::new() };
        let near = |crow: &&&Crow| {
            pitch_cents(crow).is_some_and(|cents| folded_cents(cents, about).abs() < ALIKE_CENTS)
        };
        told.iter().filter(near).copied().collect()
    };
    let most = told.iter().map(|crow| alike(crow)).max_by_key(Vec::len).unwrap_or_default();
    let is_apart = |crow: &&Crow| {
        pitch_cents(sound)
            .zip(pitch_cents(crow))
            .is_some_and(|(own, other)| folded_cents(own, other).abs() >= APART_CENTS)
    };
    let agree =
        most.len() >= LEAST_CROWS && 2 * most.len() > told.len() && most.iter().all(is_apart);
    if agree { most } else { Vec::new() }
}

/// Crows so far apart have no pitch in common.
const NONE_CENTS: f64 = 75.0;

/// So many crows before and after one are those about it.
const ABOUT: usize = 8;

/// The crows about one of them, without it.
pub fn about<'a>(crows: &[&'a Crow], index: usize) -> Vec<&'a Crow> {
    let from = index.saturating_sub(ABOUT);
    let near = crows.iter().enumerate().skip(from).take(index - from + 1 + ABOUT);
    near.filter(|(other, _)| *other != index).map(|(_, crow)| *crow).collect()
}

/// Whether a sound read as a crow lies a semitone and more from crows of the take that agree.
pub fn is_apart(sound: &Crow, crows: &[&Crow]) -> bool {
    !agreeing(sound, crows).is_empty()
}

/// Whether no more than half of a take's `crows` have one pitch, to within a semitone and octaves aside.
pub fn none_agree(crows: &[&Crow]) -> bool {
    let cents: Vec<f64> = crows.iter().filter_map(|crow| pitch_cents(crow)).collect();
    let alike = |about: &f64| {
        cents.iter().filter(|cents| folded_cents(**cents, *about).abs() < NONE_CENTS).count()
    };
    let most = cents.iter().map(alike).max().unwrap_or(0);
    cents.len() >= LEAST_CROWS && 2 * most <= cents.len()
}

/// How far a crow's tone lies over its din, where that is its own and not the room's.
fn clearness_db(crow: &Crow) -> Option<f64> {
    crow.figures.steadiness.harmonicity_db.map(|db| db.min(CLEAR_DB))
}

/// Middle of a crow's power, as the logarithm of its frequency, …
fn colour(crow: &Crow) -> Option<f64> {
    crow.figures.balance.centroid_hz.map(f64::ln)
}

/// … and of its number as a partial: a higher note has both higher.
fn colour_over_pitch(crow: &Crow) -> Option<f64> {
    Some(colour(crow)? - crow.figures.fundamental.hz?.ln())
}

/// Whether a sound read as a crow is of something else: of another pitch than crows of the take that agree,
/// and unlike all of them in its level, its roughness or its colour as well.
pub fn is_of_another(sound: &Crow, crows: &[&Crow]) -> bool {
    let most = agreeing(sound, crows);
    let unlike = |figure: fn(&Crow) -> Option<f64>, by: f64| {
        figure(sound).is_some_and(|own| {
            let others: Vec<f64> = most.iter().filter_map(|crow| figure(crow)).collect();
            others.len() >= LEAST_CROWS
                && (others.iter().all(|other| own - other > by)
                    || others.iter().all(|other| other - own > by))
        })
    };
    unlike(|crow| crow.figures.level_dbfs, UNLIKE_LEVEL_DB)
        || unlike(clearness_db, UNLIKE_HARMONICITY_DB)
        || unlike(colour, UNLIKE_CENTROID.ln()) && unlike(colour_over_pitch, UNLIKE_CENTROID.ln())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::testing;

    /// `cents` from the pitch of the reed.
    fn at(cents: f64, spread_cents: f64, harmonicity_db: f64) -> Crow {
        let mut crow = testing::crow(Kind::Single, cents);
        crow.figures.steadiness.spread_cents = Some(spread_cents);
        crow.figures.steadiness.harmonicity_db = Some(harmonicity_db);
        crow.figures.breath.noise_db = (harmonicity_db < 40.0).then_some(-harmonicity_db);
        crow
    }

    fn crow(spread_cents: f64, harmonicity_db: f64) -> Crow {
        at(0.0, spread_cents, harmonicity_db)
    }

    #[test]
    fn what_wavers_clearly_among_crows_that_hold_was_sung() {
        let held = [crow(1.0, 25.0), crow(2.0, 22.0), crow(3.0, 28.0)];
        let held: Vec<&Crow> = held.iter().collect();
        assert!(is_of_a_voice(&at(300.0, 12.0, 25.0), &held));
        assert!(!is_of_a_voice(&at(1190.0, 12.0, 25.0), &held));
        // A reed that wavers is rough as well; one among reeds that waver is one of them.
        assert!(!is_of_a_voice(&at(300.0, 12.0, 9.0), &held));
        assert!(!is_of_a_voice(&at(300.0, 4.0, 25.0), &held));
        let unsteady = [crow(11.0, 20.0), crow(12.0, 22.0), crow(1.0, 25.0), crow(2.0, 25.0)];
        assert!(!is_of_a_voice(&at(300.0, 12.0, 25.0), &unsteady.iter().collect::<Vec<_>>()));
        assert!(!is_of_a_voice(&at(300.0, 12.0, 25.0), &held[..1]));
    }

    #[test]
    fn another_pitch_that_sounds_otherwise_too_is_another_s() {
        let of_level = |cents: f64, dbfs: f64| {
            let mut crow = at(cents, 1.0, 25.0);
            crow.figures.level_dbfs = Some(dbfs);
            crow
        };
        let crows = [of_level(-20.0, -20.0), of_level(1190.0, -22.0), of_level(30.0, -19.0)];
        let crows: Vec<&Crow> = crows.iter().collect();
        assert!(is_of_another(&of_level(-300.0, -31.0), &crows));
        // As loud and as clear it may be the reed, and is a doubt.
        assert!(!is_of_another(&of_level(-300.0, -21.0), &crows));
        assert!(is_apart(&of_level(-300.0, -21.0), &crows));
        // The same reed, softly or an octave higher.
        assert!(!is_apart(&of_level(60.0, -35.0), &crows));
        assert!(!is_apart(&of_level(2400.0, -35.0), &crows));
        let two = [of_level(0.0, -20.0), of_level(100.0, -20.0)];
        assert!(none_agree(&two.iter().collect::<Vec<_>>()) && !none_agree(&crows));
        // Where most do not agree, nothing is apart from them.
        let unlike = [of_level(0.0, -20.0), of_level(300.0, -20.0), of_level(620.0, -20.0)];
        assert!(!is_apart(&of_level(-300.0, -31.0), &unlike.iter().collect::<Vec<_>>()));
    }

    #[test]
    fn what_is_purer_than_blown_among_crows_that_breathe_is_a_device() {
        let blown = [crow(1.0, 25.0), crow(2.0, 30.0)];
        let blown: Vec<&Crow> = blown.iter().collect();
        assert!(is_of_a_device(&at(300.0, 0.0, 50.0), &blown));
        assert!(!is_of_a_device(&at(300.0, 0.0, 38.0), &blown));
        assert!(!is_of_a_device(&crow(0.0, 50.0), &blown));
        // Where nothing has breath in it, the room or the take is as clean.
        let clean = [crow(0.0, 50.0), crow(0.0, 55.0), crow(1.0, 30.0)];
        assert!(!is_of_a_device(&at(300.0, 0.0, 50.0), &clean.iter().collect::<Vec<_>>()));
    }
}
