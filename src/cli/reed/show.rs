//! One reed, shown whole.

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::Context;
use jiff::tz::TimeZone;

use crate::advice::Advice;
use crate::cli::files::{Files, Kind};
use crate::cli::log_file::LogFile;
use crate::cli::measured::Unit;
use crate::cli::{expectations, output};
use crate::log::{Card, Facts, History, Known, Log, effects, timeline};
use crate::profile::Profile;
use crate::report::history::ruled;
use crate::report::plots::{PictureFormat, WayOf, history_picture};
use crate::report::terminal::Style;
use crate::report::timeline::glance;
use crate::report::{history, json, terminal};
use crate::words::format::LengthUnit;

/// `reed show`.
#[derive(Debug, clap::Args)]
pub struct Show {
    /// The reed
    label: String,
    /// Write a picture of its way from cut to cut; the ending says which kind
    #[arg(long, value_name = "OUT.svg|OUT.png")]
    plot: Option<PathBuf>,
    #[command(flatten)]
    unit: Unit,
    /// One line of JSON
    #[arg(long)]
    json: bool,
}

impl Show {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let picture = match &self.plot {
            Some(path) => {
                let format = PictureFormat::from_path(path)?;
                Some((Files::default().writes(path, Kind::Picture(format))?, format))
            }
            None => None,
        };
        let log = log.open_existing()?;
        let history = log.history(&self.label)?;
        let profile = profile(&history.reed.card);
        let (stages, target) = (timeline(&history), profile.lowest_note());
        let unit = self.unit.unit();
        let mut all_read = ExitCode::SUCCESS;
        if self.json {
            output::print(&(json::one_line(&history) + "\n"))?;
        } else {
            let style = output::style();
            let sheet = history::sheet(&history, &profile, unit, &style, &TimeZone::system());
            let (others, others_read) = output::whole(log.facts(|_| true)?);
            all_read = others_read;
            let next = next_move(&history, &others).map(|mut advice| {
                // What belongs to every crow stands where the take is answered; the move's own, beside it.
                advice.cautions.pop();
                format!(
                    "\n{}",
                    terminal::next_move(&advice, &ruled(&history, &profile), unit, &style)
                )
            });
            let glance = glance(&stages, target, unit, style.width);
            let corrected: String = log
                .corrections(&self.label)?
                .iter()
                .flat_map(|one| style.wrapped("corrected: ", &one.what))
                .map(|line| line + "\n")
                .collect();
            let next = next.unwrap_or_default();
            output::told(&style.letters(format!("{sheet}{corrected}\n{glance}{next}")))?;
        }
        if let Some((path, format)) = &picture {
            let doubted = history.stages_of_doubted_length(profile.tolerance.measuring_mm);
            let zone = TimeZone::system();
            let of = WayOf { label: &history.reed.card.label, came: &history.reed.at, zone: &zone };
            let held_to = target.map(|note| (note, profile.tolerance.target_cents));
            let bytes = history_picture(of, &stages, held_to, &doubted, unit, *format)
                .with_context(|| path.display().to_string())?;
            output::save(path, &bytes)?;
        }
        Ok(all_read)
    }
}

/// A card's profile. A card without one, or with one that can no longer be read, is held to the usual
/// one: its readings were too, unless they said otherwise.
pub fn profile(card: &Card) -> Profile {
    expectations::of_card(card).map(|(profile, _)| profile).unwrap_or_default()
}

/// The next move once something was measured or looked at, as it is shown; `None` where there is none.
pub fn next_told(
    log: &Log,
    history: &History,
    unit: LengthUnit,
    style: &Style,
) -> anyhow::Result<Option<String>> {
    let (others, _) = output::whole(log.facts(|_| true)?);
    let found = ruled(history, &profile(&history.reed.card));
    let next = next_move(history, &others);
    Ok(next.map(|advice| terminal::next_move(&advice, &found, unit, style)))
}

/// The next move that stands as a cut is written down; `None` where there is none, and where the log does
/// not tell: no cut waits for that.
pub fn stands(log: &Log, label: &str) -> Option<Advice> {
    let history = log.history(label).ok()?;
    next_move(&history, &log.facts(|_| true).ok()?.whole)
}

/// The next move on a reed that is open and was blown since its last cut, by all its crows since, its
/// card, and what past cuts did. `None` also where its profile can no longer be read.
fn next_move(history: &History, others: &[Facts]) -> Option<Advice> {
    let card = &history.reed.card;
    if card.ending.is_some() {
        return None;
    }
    let (profile, _) = expectations::of_card(card).ok()?;
    Known::of(history, &effects(others)).advise(&profile)
}
