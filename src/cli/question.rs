//! Options of every question to the log: about which reeds, and in what form the answer is given.

use std::process::ExitCode;

use super::output;
use crate::log::{Facts, Log, LoggedReed, Query, State, is_day, is_practice};
use crate::report::{answers, json};
use crate::words::commands::NO_DAY;

/// In what form an answer is given.
#[derive(Debug, Clone, Copy, Default, clap::Args)]
pub struct Form {
    /// JSON, a line to each row
    #[arg(long)]
    json: bool,
    /// CSV, a column to each figure
    #[arg(long, conflicts_with = "json")]
    csv: bool,
}

impl Form {
    /// An answer in the form that was asked for.
    pub fn print<T: serde::Serialize>(
        self,
        rows: &[T],
        text: impl FnOnce() -> String,
    ) -> anyhow::Result<()> {
        if self.json {
            let lines: String = rows.iter().map(|row| json::one_line(row) + "\n").collect();
            output::print(&lines)?;
        } else if self.csv {
            output::print(&answers::csv(rows)?)?;
        } else {
            output::told(&output::style().letters(text()))?;
        }
        Ok(())
    }
}

/// Which reeds; a name given twice asks for either.
#[derive(Debug, Clone, Default, clap::Args)]
#[command(next_help_heading = "Only the reeds whose card says (whole words; again for either)")]
pub struct Which {
    /// Whose it is
    #[arg(long, value_name = "WORDS")]
    owner: Vec<String>,
    /// Who made it
    #[arg(long, value_name = "WORDS")]
    maker: Vec<String>,
    /// Cane
    #[arg(long, value_name = "WORDS")]
    cane: Vec<String>,
    /// Shape
    #[arg(long, value_name = "WORDS")]
    shape: Vec<String>,
    /// Staple
    #[arg(long, value_name = "WORDS")]
    staple: Vec<String>,
    /// Profile
    #[arg(long, value_name = "WORDS")]
    profile: Vec<String>,
    /// How it ended
    #[arg(long, value_enum, value_name = "STATE")]
    ending: Option<State>,
    /// Entered on that day or later
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    since: Option<String>,
    /// Entered on that day or earlier
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    until: Option<String>,
}

fn day(text: &str) -> Result<String, String> {
    match is_day(text) {
        true => Ok(text.to_owned()),
        false => Err(NO_DAY.into()),
    }
}

impl Which {
    /// As a question to the log.
    pub fn query(self) -> Query {
        let Self { owner, maker, cane, shape, staple, profile, ending, since, until } = self;
        Query { owner, maker, cane, shape, staple, profile, state: ending, since, until }
    }
}

/// The reeds that are asked for, those for practice left out, and an exit code of failure where one of
/// them cannot be read.
pub fn facts(log: &Log, query: &Query) -> anyhow::Result<(Vec<Facts>, ExitCode)> {
    let is_meant = |reed: &LoggedReed| query.matches(reed) && !is_practice(&reed.card.label);
    Ok(output::whole(log.facts(is_meant)?))
}
