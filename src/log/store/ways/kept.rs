//! The form in which a reed's way is kept: in few letters, read back as it was.

use serde::{Deserialize, Serialize};

use crate::log::card::Wetness;
use crate::log::conditions::Conditions;
use crate::log::facts::{Changed, Facts, Heard, Phase};
use crate::log::heard::HeardAs;
use crate::log::history::{Length, LoggedReed, LoggedStep};
use crate::log::step::{Advised, Step};
use crate::log::timeline::{OfKind, Stage};
use crate::reading::Kind;
use crate::reed::Cut;

/// What is kept of [`Facts`] besides the card: arrays without names, since names would be most of it.
#[derive(Serialize, Deserialize)]
pub(super) struct Way(String, Vec<KeptPhase>);

#[derive(Serialize, Deserialize)]
struct KeptPhase(String, KeptStage, Vec<KeptHeard>, Option<KeptChange>, Option<KeptAdvice>);

/// Step, length, counts of takes and crows, kind, frequency, register, target, alignment, octaves; how
/// many are of which kind, what the maker hears, how many hold a tone.
#[derive(Serialize, Deserialize)]
struct KeptStage(
    u32,
    Option<(String, Option<u32>, KeptStep)>,
    Option<(f64, bool)>,
    [usize; 4],
    Option<Kind>,
    Option<f64>,
    Option<i32>,
    Option<f64>,
    Option<f64>,
    Option<f64>,
    KeptKinds,
);

type KeptKinds = (Vec<(Kind, usize)>, Option<HeardAs>, usize);

#[derive(Serialize, Deserialize)]
struct KeptStep(Option<Cut>, Option<f64>, Option<String>);

type KeptChange = (Option<f64>, Option<f64>, bool, Option<bool>, Option<bool>);
type KeptAdvice = (Option<Cut>, f64, Option<(f64, f64)>);

#[derive(Serialize, Deserialize)]
struct KeptHeard(String, Option<f64>, Option<bool>, Option<KeptConditions>);

/// Wet or dry; soaking, temperature, humidity, days, hours; who and how.
#[derive(Serialize, Deserialize)]
struct KeptConditions(Option<Wetness>, [Option<f64>; 5], Option<String>, Option<String>);

impl From<&Facts> for Way {
    fn from(facts: &Facts) -> Self {
        Self(facts.last_at.clone(), facts.way.iter().map(Into::into).collect())
    }
}

impl Way {
    /// With the card it was kept beside.
    pub(super) fn of(self, reed: LoggedReed) -> Facts {
        let Self(last_at, phases) = self;
        let LoggedReed { uid, at, card, ended_at, .. } = reed;
        let way = phases.into_iter().map(Into::into).collect();
        Facts { uid, card, at, ended_at, last_at, way }
    }
}

impl From<&Phase> for KeptPhase {
    fn from(phase: &Phase) -> Self {
        let Phase { stage, at, heard, changed, advised } = phase.clone();
        let changed = changed.map(|changed| {
            let Changed { cents, ci95_cents, level_adjusted, octaves_before, octaves_after } =
                changed;
            (cents, ci95_cents, level_adjusted, octaves_before, octaves_after)
        });
        let advised =
            advised.map(|Advised { cut, helps, target_cents }| (cut, helps, target_cents));
        Self(at, stage.into(), heard.into_iter().map(Into::into).collect(), changed, advised)
    }
}

impl From<KeptPhase> for Phase {
    fn from(KeptPhase(at, stage, heard, changed, advised): KeptPhase) -> Self {
        Self {
            stage: stage.into(),
            at,
            heard: heard.into_iter().map(Into::into).collect(),
            changed: changed.map(|(cents, ci95_cents, level_adjusted, before, after)| Changed {
                cents,
                ci95_cents,
                level_adjusted,
                octaves_before: before,
                octaves_after: after,
            }),
            advised: advised.map(|(cut, helps, target_cents)| Advised { cut, helps, target_cents }),
        }
    }
}

impl From<Stage> for KeptStage {
    fn from(stage: Stage) -> Self {
        let Stage {
            number,
            step,
            length,
            takes,
            takes_without_crow,
            takes_of_air,
            crows,
            in_octaves,
            kind,
            kinds,
            named,
            pitched,
            hz,
            target_cents,
            register,
            alignment_cents,
        } = stage;
        let step = step.map(|LoggedStep { at, number, step, .. }| {
            let Step { cut, amount_mm, note } = step;
            (at, number, KeptStep(cut, amount_mm, note))
        });
        let length = length.map(|Length { mm, measured }| (mm, measured));
        let counts = [takes, takes_without_crow, takes_of_air, crows];
        let kinds = kinds.into_iter().map(|OfKind { kind, count }| (kind, count)).collect();
        Self(
            number,
            step,
            length,
            counts,
            kind,
            hz,
            register,
            target_cents,
            alignment_cents,
            in_octaves,
            (kinds, named, pitched),
        )
    }
}

impl From<KeptStage> for Stage {
    fn from(kept: KeptStage) -> Self {
        let KeptStage(
            number,
            step,
            length,
            counts,
            kind,
            hz,
            register,
            target,
            alignment,
            octaves,
            (kinds, named, pitched),
        ) = kept;
        let [takes, takes_without_crow, takes_of_air, crows] = counts;
        Self {
            number,
            step: step.map(|(at, number, KeptStep(cut, amount_mm, note))| LoggedStep {
                at,
                number,
                step: Step { cut, amount_mm, note },
                advised: None,
            }),
            length: length.map(|(mm, measured)| Length { mm, measured }),
            takes,
            takes_without_crow,
            takes_of_air,
            crows,
            in_octaves: octaves,
            kind,
            kinds: kinds.into_iter().map(|(kind, count)| OfKind { kind, count }).collect(),
            named,
            pitched,
            hz,
            target_cents: target,
            register,
            alignment_cents: alignment,
        }
    }
}

impl From<Heard> for KeptHeard {
    fn from(Heard { at, cents, in_octaves, conditions }: Heard) -> Self {
        Self(at, cents, in_octaves, conditions.map(Into::into))
    }
}

impl From<KeptHeard> for Heard {
    fn from(KeptHeard(at, cents, in_octaves, conditions): KeptHeard) -> Self {
        Self { at, cents, in_octaves, conditions: conditions.map(Into::into) }
    }
}

impl From<Conditions> for KeptConditions {
    fn from(said: Conditions) -> Self {
        let Conditions {
            state,
            soaked_min,
            temperature_c,
            humidity_percent,
            days_played,
            hours_played,
            player,
            how,
        } = said;
        let figures = [soaked_min, temperature_c, humidity_percent, days_played, hours_played];
        Self(state, figures, player, how)
    }
}

impl From<KeptConditions> for Conditions {
    fn from(KeptConditions(state, figures, player, how): KeptConditions) -> Self {
        let [soaked_min, temperature_c, humidity_percent, days_played, hours_played] = figures;
        Self {
            state,
            soaked_min,
            temperature_c,
            humidity_percent,
            days_played,
            hours_played,
            player,
            how,
        }
    }
}
