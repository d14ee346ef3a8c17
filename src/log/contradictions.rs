//! Measurements of different stages that cannot both be right: cane does not grow.

use super::history::History;
use super::observed::Observed;
use crate::comparison::NORMAL_95;
use crate::reed::{Cut, Sizes};

/// Two measurements that contradict each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contradiction {
    /// Which.
    pub about: Contradicted,
    /// The stages at which they were made, the earlier one first.
    pub stages: (u32, u32),
    /// The earlier one, in millimetres.
    pub before: f64,
    /// The later one, in millimetres.
    pub after: f64,
}

/// What contradicts itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Contradicted {
    /// It is longer than before a clip.
    LongerThanBeforeClip,
    /// It grew.
    Longer,
    /// It lost more than the clips took off.
    Shorter,
    /// The staple became another.
    Staple,
    /// The winding ends elsewhere.
    Winding,
    /// The tip begins lower, and nothing was done to it.
    TipLower,
    /// The tip begins higher: cane came back.
    TipHigher,
}

/// What contradicts itself in the length.
const LENGTH: [Contradicted; 3] =
    [Contradicted::LongerThanBeforeClip, Contradicted::Longer, Contradicted::Shorter];

/// What contradicts itself in where the tip begins.
const TIP: [Contradicted; 2] = [Contradicted::TipLower, Contradicted::TipHigher];

impl History {
    /// What contradicts itself from one stage to the next at which it was measured, in order of time.
    ///
    /// * `ruler_mm`: standard deviation of one measurement; only what two such measurements do not
    ///   explain is told, and a reed longer than before a clip at any rate.
    pub fn contradictions(&self, ruler_mm: f64) -> Vec<Contradiction> {
        let limit = NORMAL_95 * std::f64::consts::SQRT_2 * ruler_mm;
        let measured = self.measured();
        let mut found = Vec::new();
        for (stages, before, after) in pairs(&measured, |sizes| sizes.length_mm) {
            let clipped = self.clipped_mm(stages);
            let grown = after - before + clipped;
            let about = if clipped > 0.0 && after > before {
                Contradicted::LongerThanBeforeClip
            } else if grown > limit {
                Contradicted::Longer
            } else if grown < -limit {
                Contradicted::Shorter
            } else {
                continue;
            };
            found.push(Contradiction { about, stages, before, after });
        }
        let fixed: [(Contradicted, Size); 2] = [
            (Contradicted::Staple, |sizes| sizes.staple_mm),
            (Contradicted::Winding, |sizes| sizes.wound_to_mm),
        ];
        for (about, size) in fixed {
            for (stages, before, after) in pairs(&measured, size) {
                if (after - before).abs() > limit {
                    found.push(Contradiction { about, stages, before, after });
                }
            }
        }
        for (stages, before, after) in pairs(&measured, |sizes| sizes.tip_start_mm) {
            let about = if after - before > limit {
                Contradicted::TipHigher
            } else if before - after > limit && !self.tip_worked(stages) {
                Contradicted::TipLower
            } else {
                continue;
            };
            found.push(Contradiction { about, stages, before, after });
        }
        // Who played it meanwhile may have clipped or tied it.
        found.retain(|contradiction| self.began(contradiction.stages.1) <= contradiction.stages.0);
        found.sort_by_key(|contradiction| contradiction.stages);
        found
    }

    /// `sizes` without what its two last measurements contradict each other in: which of them holds is
    /// not known until it is measured again.
    ///
    /// * `ruler_mm`: as [`Self::contradictions`] has it.
    pub fn without_doubted(&self, sizes: Sizes, ruler_mm: f64) -> Sizes {
        let found = self.contradictions(ruler_mm);
        let measured = self.measured();
        let is_open = |about: &[Contradicted], size: Size| {
            let last = measured.iter().rfind(|at| size(&at.now).is_some()).map(|at| at.after_step);
            found.iter().any(|one| about.contains(&one.about) && Some(one.stages.1) == last)
        };
        let mut sizes = sizes;
        if is_open(&LENGTH, |sizes| sizes.length_mm) {
            sizes.length_mm = None;
        }
        if is_open(&[Contradicted::Staple], |sizes| sizes.staple_mm) {
            sizes.staple_mm = None;
        }
        if is_open(&[Contradicted::Winding], |sizes| sizes.wound_to_mm) {
            sizes.wound_to_mm = None;
        }
        if is_open(&TIP, |sizes| sizes.tip_start_mm) {
            sizes.tip_start_mm = None;
        }
        sizes
    }

    /// The stages whose length contradicts that of another, or is reckoned from one that does.
    ///
    /// * `ruler_mm`: as [`Self::contradictions`] has it.
    pub fn stages_of_doubted_length(&self, ruler_mm: f64) -> Vec<u32> {
        let found = self.contradictions(ruler_mm);
        let of_length = || found.iter().filter(|one| LENGTH.contains(&one.about));
        let measured = self.measured();
        let measured_at = |stage: u32| {
            let known = measured.iter().filter(|at| at.now.length_mm.is_some());
            known.map(|at| at.after_step).filter(|at| *at <= stage).max()
        };
        let is_doubted = |stage: &u32| {
            measured_at(*stage)
                .is_some_and(|at| of_length().any(|one| one.stages.0 == at || one.stages.1 == at))
        };
        (0..=self.stage()).filter(is_doubted).collect()
    }

    /// What clips took off after the first of `stages` and up to the second.
    fn clipped_mm(&self, stages: (u32, u32)) -> f64 {
        self.between(stages).filter(|step| step.0 == Cut::Clip).filter_map(|step| step.1).sum()
    }

    fn tip_worked(&self, stages: (u32, u32)) -> bool {
        self.between(stages).any(|(cut, _)| cut.is_tip())
    }

    /// Cuts after the first of `stages` and up to the second, with their amounts in millimetres.
    fn between(&self, stages: (u32, u32)) -> impl Iterator<Item = (Cut, Option<f64>)> {
        self.steps.iter().filter_map(move |logged| {
            let number = logged.number?;
            let within = number > stages.0 && number <= stages.1;
            logged.step.cut.filter(|_| within).map(|cut| (cut, logged.step.amount_mm))
        })
    }
}

/// One of the sizes.
type Size = fn(&Sizes) -> Option<f64>;

/// Stages next to each other at which a size was measured, with both values.
fn pairs(measured: &[Observed<Sizes>], size: Size) -> Vec<((u32, u32), f64, f64)> {
    let given: Vec<(u32, f64)> = measured
        .iter()
        .filter_map(|observed| Some((observed.after_step, size(&observed.now)?)))
        .collect();
    let pair = |pair: &[(u32, f64)]| match pair {
        [before, after] => Some(((before.0, after.0), before.1, after.1)),
        _ => None,
    };
    given.windows(2).filter_map(pair).collect()
}
