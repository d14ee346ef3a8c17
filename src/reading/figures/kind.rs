//! How a crow sounds, judged on its rungs.

use super::voices::Voices;
use super::{Figures, Rung};
use crate::profile::Profile;

choice! {
    /// How a crow sounds.
    Kind {
        /// The lower and the upper octave are both heard, and locked.
        Octaves = "octaves",
        /// One tone or octaves: the sound does not tell.
        Blended = "blended",
        /// One tone is heard: the low one with its overtones, or the upper one alone.
        Single = "single",
        /// Two sustained tones that are not at 2:1.
        Split = "split",
        /// Periodic, but no tone is sustained.
        Unsettled = "unsettled",
        /// Air noise only; not counted as a crow.
        Breath = "breath",
    }
}

impl Kind {
    /// The kind with that code; `None` where there is none.
    pub(crate) fn coded(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.code() == code)
    }
}

/// What of a rung counts for the kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Standing {
    /// Octaves above the target; `None` without a target.
    pub register: Option<i32>,
    /// Whether it is sustained.
    pub sustained: bool,
    /// Whether it goes out and comes back, and sounds clearly while it does.
    pub turns: bool,
}

/// A rung that goes out and comes back so often, per second, …
const TURNS_PER_S: f64 = 1.5;
/// … and sounds at this level relative to all partials, takes turns; a fainter one flickers at the
/// limit of what sounds.
const CLEAR_DB: f64 = -30.0;

impl Standing {
    /// Of a rung in `register`.
    pub fn new(register: Option<i32>, rung: &Rung) -> Self {
        let turns = rung.switches_per_s >= TURNS_PER_S && rung.level_db >= CLEAR_DB;
        Self { register, sustained: rung.sustained, turns }
    }
}

impl Figures {
    /// How often a second the octaves take turns; `None` where they sound together, by the profile's own
    /// limit. Of the two lowest that are clearly there.
    pub(crate) fn turns_a_second(&self, profile: &Profile) -> Option<f64> {
        let least_db = profile.advice.growl_db.min(CLEAR_DB);
        let held = |rung: &&Rung| rung.sustained && rung.level_db >= least_db;
        let each = self.rungs.iter().filter(held).take(2).map(|rung| rung.switches_per_s);
        Some(each.fold(0.0, f64::max)).filter(|most| *most > profile.advice.switches_per_s)
    }
}

/// From this chance on a crow is said to sound in octaves; under what is left of 1, to be one tone.
pub const SURE: f64 = 0.8;
/// Tones that come in this far apart are two …
pub const APART_MS: f64 = 25.0;
/// … where the upper may stand out by this.
const MAY_STAND_OUT_DB: f64 = 6.0;

/// The kind of a crow that sounds.
///
/// * `rungs`: those that sound, lowest first.
/// * `locked`: whether the lowest sustained rung and the next stand at 2:1.
///
/// Rungs above the profile's highest register do not count (without a target: above the two
/// lowest that are sustained). A crow that only sounds up there still holds one tone.
pub fn judge(rungs: &[Standing], profile: &Profile, locked: bool, voices: &Voices) -> Kind {
    let counts = |(index, rung): &(usize, &Standing)| match rung.register {
        Some(register) => register <= profile.highest_register(),
        None => *index < 2,
    };
    let sustained: Vec<&Standing> = rungs
        .iter()
        .filter(|rung| rung.sustained)
        .enumerate()
        .filter(counts)
        .map(|(_, rung)| rung)
        .collect();
    match sustained.as_slice() {
        // What is heard without the other is a tone of its own.
        [low, up, ..] if locked && (low.turns || up.turns) => Kind::Octaves,
        [_, _, ..] if locked => one_or_two(voices),
        [_, _, ..] => Kind::Split,
        [_] => Kind::Single,
        _ if rungs.iter().any(|rung| rung.sustained) => Kind::Single,
        _ => Kind::Unsettled,
    }
}

/// Of a pair that stands at 2:1: one tone, octaves, or not told.
fn one_or_two(voices: &Voices) -> Kind {
    let Some(chance) = voices.octaves else { return Kind::Blended };
    let may_stand_out = voices
        .stand_out_db
        .zip(voices.ci95_db)
        .is_some_and(|(db, ci95_db)| db + ci95_db >= MAY_STAND_OUT_DB);
    let apart = voices.lead_ms.is_some_and(|lead_ms| lead_ms.abs() >= APART_MS);
    if chance >= SURE || (apart && may_stand_out) {
        Kind::Octaves
    } else if chance < 1.0 - SURE {
        Kind::Single
    } else {
        Kind::Blended
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rung(register: i32, sustained: bool) -> Standing {
        Standing { register: Some(register), sustained, turns: false }
    }

    #[test]
    fn kinds_follow_the_sustained_rungs_of_the_expected_registers() {
        let profile = Profile::default();
        let judge = |rungs: &[Standing], profile: &Profile, locked: bool| {
            super::judge(rungs, profile, locked, &voices(Some(0.9), None))
        };
        let both = [rung(0, true), rung(1, true), rung(2, true)];
        assert_eq!(judge(&both, &profile, true), Kind::Octaves);
        assert_eq!(judge(&both, &profile, false), Kind::Split);
        assert_eq!(judge(&[rung(1, true), rung(2, true)], &profile, true), Kind::Single);
        assert_eq!(judge(&[rung(0, false), rung(1, true)], &profile, true), Kind::Single);
        assert_eq!(judge(&[rung(2, true)], &profile, true), Kind::Single);
        assert_eq!(judge(&[rung(0, false)], &profile, true), Kind::Unsettled);
        assert_eq!(judge(&[], &profile, true), Kind::Unsettled);
    }

    fn voices(octaves: Option<f64>, lead_ms: Option<f64>) -> Voices {
        let (stand_out_db, ci95_db) = (Some(4.0), Some(4.0));
        Voices { stand_out_db, ci95_db, lead_ms, octaves, ..Voices::default() }
    }

    #[test]
    fn a_locked_pair_is_octaves_one_tone_or_not_told() {
        let both = [rung(0, true), rung(1, true)];
        for (octaves, lead_ms, kind) in [
            (Some(0.8), None, Kind::Octaves),
            (Some(0.5), None, Kind::Blended),
            (Some(0.19), Some(10.0), Kind::Single),
            (Some(0.5), Some(-30.0), Kind::Octaves),
            (None, None, Kind::Blended),
        ] {
            let judged = judge(&both, &Profile::default(), true, &voices(octaves, lead_ms));
            assert_eq!(judged, kind, "{octaves:?} {lead_ms:?}");
        }
        // Without a target a rung that does not last, under the two that do, takes no place of theirs.
        let free = |sustained| Standing { register: None, ..rung(0, sustained) };
        let passing = [free(false), free(true), free(true)];
        let judged = judge(&passing, &Profile::default(), true, &voices(Some(0.9), None));
        assert_eq!(judged, Kind::Octaves);
        let turning = [rung(0, true), Standing { turns: true, ..rung(1, true) }];
        let judged = judge(&turning, &Profile::default(), true, &voices(Some(0.1), None));
        assert_eq!(judged, Kind::Octaves);
    }
}
