//! Ears: another three crows, and what they would tell.

use super::Asking;
use crate::advice::Where;
use crate::advice::belief::{Pitch, worth_of};
use crate::advice::decide::choice::{Choice, plain};
use crate::advice::decide::gates::sounds_good;
use crate::advice::practice::SOUNDS;
use crate::advice::sample::uniform;
use crate::reed::Move;

/// Times the maker is asked to crow one and the same state again, and the reed in all.
const RECROWS: usize = 2;

/// As above.
const RECROWS_IN_ALL: usize = 4;

/// So surely in tune is in tune (our choice).
const SURELY_IN_TUNE: f64 = 0.8;

/// What three more crows gain of a reed in order that is as likely in tune as not (our choice).
const NEAR_THE_LIMIT: f64 = 0.06;

/// An answer serves the moves after the next one too; that of crows, which are heard again after any
/// move, gains so much more (our choice).
const CROWS_SERVE_ON: f64 = 1.25;

impl Asking<'_> {
    /// Whether it may well be out of tune after all.
    fn is_near_the_limit(&self) -> bool {
        let in_tune = |pitch: Pitch| self.reckoning.in_tune(pitch.cents, pitch.sd);
        self.reckoning.now.pitch.is_some_and(|pitch| in_tune(pitch) < SURELY_IN_TUNE)
    }

    /// Another three crows.
    pub(super) fn recrow(&self) -> Option<Choice> {
        let (practice, now) = (self.reckoning.practice, self.reckoning.now);
        let recrows =
            |told: &[(Move, Where)]| told.iter().filter(|told| told.0 == Move::Recrow).count();
        if recrows(now.told_of_this()) >= RECROWS
            || recrows(&now.told) >= RECROWS_IN_ALL
            || (sounds_good(now) && !now.doubtful && !self.is_near_the_limit())
        {
            return None;
        }
        let alike = practice.crow.alike;
        let more = (worth_of(now.crows + 3, alike) - worth_of(now.crows, alike)) / 3.0;
        let each: Vec<[f64; SOUNDS]> =
            self.belief.samples.iter().map(|sample| sample.crow(practice).sounds).collect();
        let each: Vec<[f64; SOUNDS]> = each.iter().map(|of| of.map(|one| one.powf(more))).collect();
        let gain = self.thought_through(|nth, from, weights| {
            for crow in 0..3 {
                let mut u = uniform(nth, crow, 8) * each[from].iter().sum::<f64>();
                let sound = (0..SOUNDS - 1).find(|sound| {
                    u -= each[from][*sound];
                    u < 0.0
                });
                let sound = sound.unwrap_or(SOUNDS - 1);
                weights.iter_mut().zip(&each).for_each(|(weight, of)| *weight *= of[sound]);
            }
        });
        let too_few = now.crows_wanted.saturating_sub(now.crows) as f64 * 0.04;
        let wide = now.pitch.map_or(0.0, |pitch| {
            let limit = now.tolerance.max(pitch.cents.abs() / 2.0);
            (pitch.sd * 2.0 / limit - 1.0).clamp(0.0, 1.0) * 0.1
        });
        // In tune, but hardly surely: more crows tell.
        let near =
            now.pitch.filter(|_| !self.is_knife && !now.pitch_is_free).map_or(0.0, |pitch| {
                let sure = self.reckoning.in_tune(pitch.cents, pitch.sd);
                NEAR_THE_LIMIT * self.known.in_order * 4.0 * sure * (1.0 - sure)
            });
        let doubtful = if now.doubtful { 0.08 } else { 0.0 };
        let unheard = if now.heard { 0.0 } else { 1.0 };
        let worth = self.surely_best
            + CROWS_SERVE_ON * gain.worth.max(0.0)
            + too_few
            + wide
            + near
            + doubtful
            + unheard
            - practice.worth.ask_costs;
        let helps = gain.changes.clamp(0.0, 1.0);
        Some(Choice { worth, helps, ..plain(Move::Recrow, Where::Nowhere) })
    }
}
