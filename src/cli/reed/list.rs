//! The reeds of the log, all or some.

use std::collections::HashMap;
use std::process::ExitCode;

use super::show::profile;
use crate::cli::log_file::LogFile;
use crate::cli::measured::Unit;
use crate::cli::output;
use crate::log::{Card, Query, State};
use crate::report::{history, json};

/// `reed list`.
#[derive(Debug, clap::Args)]
pub struct List {
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    unit: Unit,
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
        let (mut histories, all_read) = output::whole(log.open_existing()?.histories()?);
        histories.retain(|history| query.matches(&history.reed.card));
        let text = if self.json {
            histories.iter().map(|history| json::one_line(history) + "\n").collect()
        } else {
            let mut known = HashMap::new();
            let mut target = |card: &Card| {
                *known.entry(card.profile.clone()).or_insert_with(|| profile(card).lowest_note())
            };
            history::list(&histories, self.unit.unit(), &mut target, &output::table_style())
        };
        output::print(&output::style().letters(text))?;
        Ok(all_read)
    }
}
