//! What the log holds, shown.

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::Context;

use crate::cli::log_file::LogFile;
use crate::cli::output;
use crate::log::{History, Query, State, timeline};
use crate::pitch::Note;
use crate::profile;
use crate::report::history::LengthUnit;
use crate::report::plots::{PictureFormat, history_picture};
use crate::report::timeline::glance;
use crate::report::{history, json};

/// `reed list`.
#[derive(Debug, clap::Args)]
pub struct List {
    #[command(flatten)]
    which: Which,
    /// One line of JSON per reed
    #[arg(long)]
    json: bool,
}

/// Which reeds.
#[derive(Debug, Clone, Default, clap::Args)]
#[command(next_help_heading = "Only the reeds whose card says")]
pub struct Which {
    /// Whose it is (a part of the name will do, here and below)
    #[arg(long, value_name = "TEXT")]
    owner: Option<String>,
    /// Who made it
    #[arg(long, value_name = "TEXT")]
    maker: Option<String>,
    /// Cane
    #[arg(long, value_name = "TEXT")]
    cane: Option<String>,
    /// Shape
    #[arg(long, value_name = "TEXT")]
    shape: Option<String>,
    /// Staple
    #[arg(long, value_name = "TEXT")]
    staple: Option<String>,
    /// Profile
    #[arg(long, value_name = "TEXT")]
    profile: Option<String>,
    /// How it ended
    #[arg(long, value_enum, value_name = "STATE")]
    ending: Option<State>,
}

impl Which {
    /// As a question to the log.
    pub fn query(self) -> Query {
        let Self { owner, maker, cane, shape, staple, profile, ending } = self;
        Query { owner, maker, cane, shape, staple, profile, state: ending }
    }
}

impl List {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let query = self.which.query();
        let mut histories = log.open_existing()?.histories()?;
        histories.retain(|history| query.matches(&history.reed.card));
        let text = if self.json {
            histories.iter().map(|history| json::one_line(history) + "\n").collect()
        } else {
            history::list(&histories)
        };
        output::print(&output::style().letters(text))?;
        Ok(ExitCode::SUCCESS)
    }
}

/// `reed show`.
#[derive(Debug, clap::Args)]
pub struct Show {
    /// The reed
    label: String,
    /// Write a picture of its way from cut to cut; the ending says which kind
    #[arg(long, value_name = "OUT.svg|OUT.png")]
    plot: Option<PathBuf>,
    /// Show lengths in inches
    #[arg(long)]
    inches: bool,
    /// One line of JSON
    #[arg(long)]
    json: bool,
}

impl Show {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let format = self.plot.as_deref().map(PictureFormat::from_path).transpose()?;
        let history = log.open_existing()?.history(&self.label)?;
        let (stages, target) = (timeline(&history), target(&history));
        let text = if self.json {
            json::one_line(&history) + "\n"
        } else {
            let style = output::style();
            let unit = if self.inches { LengthUnit::Inches } else { LengthUnit::Millimetres };
            style.letters(
                history::sheet(&history, unit) + "\n" + &glance(&stages, target, style.width),
            )
        };
        output::print(&text)?;
        if let (Some(path), Some(format)) = (&self.plot, format) {
            let bytes = history_picture(&history.reed.card.label, &stages, target, format)
                .with_context(|| path.display().to_string())?;
            output::save(path, &bytes)?;
        }
        Ok(ExitCode::SUCCESS)
    }
}

/// The note that the card's profile holds crows to. A card without a profile, or with one that can
/// no longer be read, is held to the usual one: its readings were too, unless they said otherwise.
fn target(history: &History) -> Option<Note> {
    let named = history.reed.card.profile.as_deref();
    named.and_then(|name| profile::load(name).ok()).unwrap_or_default().target
}
