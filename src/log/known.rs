//! A reed's story as the log tells it, for the adviser.

use super::effects::{of_story, whose};
use super::heard::{HeardAs, LoggedHeard};
use super::history::{History, LoggedReading, PROGRAM};
use crate::advice::{Advice, Explained, Move, Said, Sound, Stage, Story, advise_on, explain};
use crate::comparison::Effects;
use crate::profile::{Blowing, Profile};
use crate::reading::Reading;
use crate::reed::Inspection;

/// What a next move rests on.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Known {
    /// The reed's way since it came last.
    pub story: Story,
    /// What past cuts did on other reeds; those of this one are in its story.
    others: Effects,
    /// What blowing does to the pitch in the crows of the whole log.
    blowing: Option<Blowing>,
    /// What was advised with the newest take and still stands, and by which profile.
    told: Option<(String, Advice)>,
    /// Whether the last thing told of the reed as it is stands to be told anew: it was no question, or
    /// its answer is not there yet.
    tells_anew: bool,
}

impl Known {
    /// * `effects`: what past cuts did over all reeds.
    pub fn of(history: &History, effects: &Effects) -> Self {
        let began = history.began(history.stage());
        let stages = (began..=history.stage()).map(|number| stage(history, number)).collect();
        let story = Story {
            stages,
            measured: history.measured_since(began),
            length_sd_mm: length_sd_mm(history),
            whose: whose(history),
        };
        let mut others = effects.clone();
        others.past.retain(|(_, past)| past.reed != story.whose.reed);
        let told = told_last(history);
        let told = told.and_then(|of| Some((of.reading.profile.clone(), of.advice.clone()?)));
        let tells_anew = !is_answered(history);
        Self { story, others, blowing: history.blowing, told, tells_anew }
    }

    /// What past cuts did, those of this reed as its story has them: of the newest take, too, which the
    /// log may not hold yet.
    fn effects(&self) -> Effects {
        let mut effects = self.others.clone();
        effects.past.extend(of_story(&self.story, self.blowing));
        effects
    }

    /// The story before what was told last, where that is to be told anew.
    fn story_to_tell(&self) -> Story {
        let mut story = self.story.clone();
        if let Some(stage) = story.stages.last_mut().filter(|_| self.tells_anew) {
            stage.told.pop();
        }
        story
    }

    /// One more take of the reed as it is now, unless it is known already.
    pub fn hear(&mut self, take: &Reading) {
        let is_this =
            |other: &Reading| other.crows == take.crows && other.duration_s == take.duration_s;
        if self.story.stages.is_empty() {
            self.story.stages.push(Stage::default());
        }
        if let Some(stage) = self.story.stages.last_mut()
            && !stage.takes.iter().any(is_this)
        {
            stage.takes.push(take.clone());
            self.told = None;
        }
    }

    /// What was seen on the reed as it is now, beside what its card says.
    pub fn see(&mut self, inspection: Inspection) {
        if self.story.stages.is_empty() {
            self.story.stages.push(Stage::default());
        }
        if let Some(stage) = self.story.stages.last_mut() {
            stage.looks.push(inspection);
            self.told = None;
        }
    }

    /// The next move after one more take, by all crows since the last cut.
    pub fn advise_after(&self, take: &Reading, profile: &Profile) -> Advice {
        let mut known = self.clone();
        known.hear(take);
        advise_on(&known.story, profile, &known.effects())
    }

    /// The next move by all crows since the last cut; `None` where it was not blown since.
    ///
    /// While nothing was done since the newest take it is what was told with it, word for word: what other
    /// reeds taught meanwhile may shift a clip by less than a hand can cut.
    pub fn advise(&self, profile: &Profile) -> Option<Advice> {
        if self.story.stages.last()?.takes.is_empty() {
            return None;
        }
        let anew = advise_on(&self.story_to_tell(), profile, &self.effects());
        let told = self.told.as_ref().filter(|(name, _)| *name == profile.name);
        let told = told.map(|(_, told)| told).filter(|told| is_as_good_as(told, &anew));
        Some(told.cloned().unwrap_or(anew))
    }

    /// What is behind the next move.
    pub fn explain(&self, profile: &Profile) -> Explained {
        let explained = explain(&self.story_to_tell(), profile, &self.effects());
        match self.advise(profile) {
            Some(advice) => Explained { advice, ..explained },
            None => explained,
        }
    }
}

/// How well one clip is cut, in millimetres (standard deviation; our choice).
const CLIP_MM: f64 = 0.05;

/// Whether two advices ask for the same, as far as a hand can tell.
fn is_as_good_as(one: &Advice, other: &Advice) -> bool {
    let near = match (one.amount_mm, other.amount_mm) {
        (Some(one), Some(other)) => (one - other).abs() <= CLIP_MM,
        (one, other) => one == other,
    };
    near && one.next == other.next && one.r#where == other.r#where
}

/// What was advised with the newest take, while that still stands: nothing was cut, measured, seen or
/// heard since, by `profile`, by this program. `None` where the reed is to be advised on anew.
pub fn advised_last<'a>(history: &'a History, profile: &Profile) -> Option<&'a Advice> {
    let logged = told_last(history).filter(|logged| logged.reading.profile == profile.name)?;
    logged.advice.as_ref()
}

/// The newest take's reading by this program, while what was advised with it still stands.
fn told_last(history: &History) -> Option<&LoggedReading> {
    let last = history.takes.last()?;
    let is_before = |at: &str| at <= last.take.at.as_str();
    let heard = || history.takes.iter().flat_map(|take| &take.heard).map(|heard| &heard.at);
    let still_stands = last.take.after_step == history.stage()
        && history.steps.iter().all(|logged| is_before(&logged.at))
        && history.measurements.iter().all(|logged| is_before(&logged.at))
        && history.inspections.iter().all(|logged| is_before(&logged.at))
        && heard().all(|at| is_before(at));
    last.reading.as_ref().filter(|logged| still_stands && logged.program == PROGRAM)
}

/// Whether what was told last was a question, and something of what it asks for was written down since.
fn is_answered(history: &History) -> bool {
    let stage = history.stage();
    let told = history.takes.iter().rev().filter(|take| take.take.after_step == stage);
    let last = told.filter_map(|take| Some((take, take.reading.as_ref()?.advice.as_ref()?))).next();
    let Some((take, advice)) = last else { return false };
    let is_since = |at: &str| at > take.take.at.as_str();
    match advice.next {
        Move::Measure => history.measurements.iter().any(|logged| is_since(&logged.at)),
        Move::Look => {
            history.inspections.iter().any(|logged| is_since(&logged.at))
                || history.takes.iter().flat_map(|take| &take.heard).any(|word| is_since(&word.at))
        }
        _ => false,
    }
}

fn stage(history: &History, number: u32) -> Stage {
    let takes = history.takes.iter().filter(|take| take.take.after_step == number);
    let told = takes
        .filter_map(|take| take.reading.as_ref()?.advice.as_ref())
        .map(|advice| (advice.next, advice.r#where.clone()));
    let looks = history.inspections.iter().filter(|logged| logged.after_step == number);
    let work = history
        .cut(number + 1)
        .and_then(|logged| logged.step.cut.map(|cut| (cut, logged.step.amount_mm)));
    let said = history
        .takes
        .iter()
        .filter(|take| take.take.after_step == number && take.reading.is_some())
        .enumerate()
        .flat_map(|(take, read)| read.heard.iter().map(move |word| said(take, word)))
        .collect();
    Stage {
        said,
        takes: history.readings_at(number).into_iter().cloned().collect(),
        looks: looks.map(|logged| logged.inspection).collect(),
        told: told.collect(),
        work,
    }
}

fn said(take: usize, word: &LoggedHeard) -> Said {
    let sound = match word.heard {
        HeardAs::Octaves => Sound::Octaves,
        HeardAs::Low => Sound::Low,
        HeardAs::High => Sound::Peep,
        HeardAs::Split => Sound::Split,
        HeardAs::Wild => Sound::Wild,
        HeardAs::Air => Sound::Air,
    };
    Said { take, crow: word.crow, sound }
}

/// How well a length that was not measured since the last clips is known, in millimetres; `None` where
/// it was measured.
fn length_sd_mm(history: &History) -> Option<f64> {
    /// How well a ruler at the bench measures (our choice, as in the profiles).
    const RULER_MM: f64 = 0.2;
    let stage = history.stage();
    if history.length_at(stage)?.measured {
        return None;
    }
    let measured = history.measurements.iter().filter(|one| one.measurements.length_mm.is_some());
    let at = measured.map(|logged| logged.after_step).max()?;
    let clips = f64::from(stage.saturating_sub(at));
    Some(RULER_MM.hypot(CLIP_MM * clips.sqrt()))
}
