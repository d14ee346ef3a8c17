//! What the log says, read anew.

use super::work::Work;
use crate::bench::reeds::{beside_model, held_to};
use crate::bench::screen::asked;
use crate::bench::state::{Change, OnBench, OpenReed};
use crate::capture::Stands;
use crate::comparison::compare;
use crate::log::{Known, latest_pair};
use crate::report::account::SENDER;
use crate::words::comparison::{told, turned};
use crate::words::format::LengthUnit;
use crate::words::stage::steps;

impl Work {
    pub(super) fn refresh_said(&mut self) {
        if let Err(error) = self.refresh() {
            self.state.say(&error.to_string());
        }
    }

    /// Reads which reeds are open, and all of the one on the bench.
    pub(super) fn refresh_all(&mut self) -> anyhow::Result<()> {
        let reeds = self.log.reeds()?;
        let open = reeds.iter().filter(|reed| reed.card.ending.is_none());
        self.state.open = open.map(|reed| OpenReed::of(&reed.card)).collect();
        self.state.is_first = !self.log.has_takes()?;
        // A reed whose entry was taken back is on no bench; one that was just closed still is.
        let is_here = |label: &String| reeds.iter().any(|reed| reed.card.label == *label);
        self.label = self.label.take().filter(is_here);
        self.state.sender = self.log.setting(SENDER)?;
        self.refresh()
    }

    /// Reads what the log says of the reed on the bench.
    pub(super) fn refresh(&mut self) -> anyhow::Result<()> {
        self.is_new = true;
        let Some(label) = self.label.clone() else {
            self.state.reed = None;
            (self.state.profile, self.state.a4) = (self.settings.profile.clone(), self.settings.a4);
            return Ok(());
        };
        let history = self.log.history(&label)?;
        let usual = (self.settings.profile.clone(), self.settings.a4);
        (self.state.profile, self.state.a4) = held_to(&self.log, &history.reed.card, &usual)?;
        let profile = &self.state.profile;
        let change = latest_pair(&history).map(|pair| {
            let comparison = compare(&pair.before, &pair.after, profile);
            Change {
                since: steps(&pair.between, LengthUnit::Millimetres),
                beware: pair.beware.iter().map(ToString::to_string).collect(),
                turned: turned(&comparison.before, &comparison.after, profile),
                told: asked(&comparison, profile)
                    .into_iter()
                    .map(|change| (change.verdict, told(change, profile)))
                    .collect(),
            }
        });
        let model = beside_model(&self.log, &history, profile)?;
        let advice = Known::of(&history, &self.effects.clone().unwrap_or_default()).advise(profile);
        self.state.reed = Some(OnBench {
            would_undo: self.log.would_undo(&label)?.map(|undone| undone.what),
            would_redo: self.log.would_redo(&label)?.map(|undone| undone.what),
            findings: crate::reed::findings(&history.measured_now(), &history.seen_now(), profile),
            advice,
            change,
            model,
            recordings: history
                .takes
                .iter()
                .map(|take| (take.take.number, self.log.audio_path(&take.take.sha256)))
                .collect(),
            history,
        });
        self.advise_anew();
        Ok(())
    }

    /// What is shown as heard is advised on by what is known now.
    fn advise_anew(&mut self) {
        let advice = self.state.reed.as_ref().and_then(|reed| reed.advice.clone());
        let Some(heard) = &mut self.state.heard else { return };
        match (heard.stands, heard.take) {
            (Stands::Over, Some(_)) => {
                heard.advice = advice.unwrap_or_else(|| heard.advice.clone())
            }
            (Stands::Over, None) => {}
            (Stands::Seen | Stands::GoesOn, _) => self.show_so_far(),
        }
    }
}
