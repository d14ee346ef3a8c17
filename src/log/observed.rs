//! What was measured and seen at each stage. What is given a second time at one stage corrects what
//! was given before, value by value; the earlier entries stay in the log.

use super::card::Wetness;
use super::history::History;
use super::{LogError, Unfit};
use crate::reed::{Inspection, Measurements, Sizes};

/// What holds at one stage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observed<T> {
    /// How many cuts had been made.
    pub after_step: u32,
    /// Whether the cane was wet or dry, as last said; of measurements only.
    pub state: Option<Wetness>,
    /// The last of each value.
    pub now: T,
    /// The values that were corrected, as they were before.
    pub corrected: T,
}

impl History {
    /// What was measured, a stage at a time.
    pub fn measured(&self) -> Vec<Observed<Sizes>> {
        let entries = self
            .measurements
            .iter()
            .map(|logged| (logged.after_step, logged.state, *logged.measurements));
        by_stage(entries, Sizes::over, Sizes::corrected_by)
    }

    /// Errors: measurements that contradict others, made before and not corrected by them; the
    /// length is the one last measured less the clips since.
    pub(super) fn check_corrected(&self, given: &Measurements) -> Result<(), LogError> {
        let before = self.sizes_now();
        // What contradicted itself before can only become better.
        if Measurements::just_made(before).is_err() {
            return Ok(());
        }
        let whole = Measurements::just_made((**given).over(before));
        whole.map(drop).map_err(|error| Unfit::Contradicts(error).into())
    }

    /// Whether what was put right at `stage` goes with the rest, there and at each stage since.
    ///
    /// * `before`: as it was.
    ///
    /// Errors: measurements that contradict each other now, and did not before.
    pub(super) fn check_put_right(&self, before: &Self, stage: u32) -> Result<(), LogError> {
        for stage in stage..=self.stage() {
            let [was, is] = [before, self].map(|history| history.up_to(stage).sizes_now());
            if Measurements::just_made(was).is_ok() {
                Measurements::just_made(is).map_err(Unfit::Contradicts)?;
            }
        }
        Ok(())
    }

    /// What had been done and measured at `stage`, without the rest.
    fn up_to(&self, stage: u32) -> Self {
        let done = self.steps.iter().filter(|logged| logged.number <= Some(stage));
        let measured = self.measurements.iter().filter(|logged| logged.after_step <= stage);
        Self {
            reed: self.reed.clone(),
            measurements: measured.cloned().collect(),
            inspections: Vec::new(),
            steps: done.cloned().collect(),
            takes: Vec::new(),
            ratings: Vec::new(),
            blowing: None,
        }
    }

    /// What was looked at again at a stage: what was seen first is of the reed as it came.
    pub fn seen_again(&self) -> Vec<(u32, Inspection)> {
        let mut earlier = Inspection::default();
        let again = self.seen().into_iter().map(|seen| {
            let again = seen.now.again_after(earlier);
            earlier = seen.now.over(earlier);
            (seen.after_step, again)
        });
        again.filter(|(_, again)| *again != Inspection::default()).collect()
    }

    /// What was seen, a stage at a time.
    pub fn seen(&self) -> Vec<Observed<Inspection>> {
        let entries =
            self.inspections.iter().map(|logged| (logged.after_step, None, logged.inspection));
        by_stage(entries, Inspection::over, Inspection::corrected_by)
    }
}

fn by_stage<T: Copy + Default>(
    entries: impl Iterator<Item = (u32, Option<Wetness>, T)>,
    over: fn(T, T) -> T,
    corrected_by: fn(T, T) -> T,
) -> Vec<Observed<T>> {
    let mut stages: Vec<Observed<T>> = Vec::new();
    for (after_step, state, given) in entries {
        match stages.iter_mut().find(|stage| stage.after_step == after_step) {
            Some(stage) => {
                stage.corrected = over(corrected_by(stage.now, given), stage.corrected);
                stage.now = over(given, stage.now);
                stage.state = state.or(stage.state);
            }
            None => {
                let (now, corrected) = (given, T::default());
                stages.push(Observed { after_step, state, now, corrected });
            }
        }
    }
    stages
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tip(mm: f64) -> Sizes {
        Sizes { tip_start_mm: Some(mm), ..Sizes::default() }
    }

    #[test]
    fn a_second_value_at_one_stage_corrects_the_first_and_leaves_the_others() {
        let first = Sizes { staple_mm: Some(47.0), ..tip(67.5) };
        let entries = [(0, Some(Wetness::Wet), first), (0, None, tip(66.2)), (1, None, tip(66.0))];
        let found = by_stage(entries.into_iter(), Sizes::over, Sizes::corrected_by);
        assert_eq!(found.len(), 2);
        assert_eq!((found[0].now.tip_start_mm, found[0].now.staple_mm), (Some(66.2), Some(47.0)));
        assert_eq!((found[0].corrected, found[0].state), (tip(67.5), Some(Wetness::Wet)));
        assert_eq!((found[1].now, found[1].corrected), (tip(66.0), Sizes::default()));
    }

    #[test]
    fn the_same_value_again_corrects_nothing() {
        let entries = [(2, None, tip(66.2)), (2, None, tip(66.2))];
        let found = by_stage(entries.into_iter(), Sizes::over, Sizes::corrected_by);
        assert_eq!(found[0].corrected, Sizes::default());
    }
}
