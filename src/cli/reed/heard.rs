//! What the maker hears of a crow.

use std::process::ExitCode;

use crate::cli::log_file::LogFile;
use crate::cli::output;
use crate::log::{HeardAs, Which};
use crate::words::ear;

/// `reed heard`.
#[derive(Debug, clap::Args)]
pub struct Heard {
    /// The reed
    label: String,
    /// What you hear of the crow
    #[arg(value_enum)]
    heard: HeardAs,
    /// Which crow of the take, counted from 1 as the card does; otherwise the last one, or all of which
    /// the sound does not tell whether they are octaves or one tone
    #[arg(long, value_name = "NUMBER")]
    crow: Option<u32>,
    /// Which take of the reed; the last one otherwise
    #[arg(long, value_name = "NUMBER")]
    take: Option<u32>,
}

impl Heard {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let mut log = log.open_existing()?;
        let which = Which { take: self.take, crow: self.crow };
        let named = log.heard(&self.label, which, self.heard)?;
        let style = output::style();
        let told = ear::written(&self.label, &named, self.heard);
        output::print_done(&style.letters(style.wrapped("", &told).join("\n") + "\n"))?;
        Ok(ExitCode::SUCCESS)
    }
}
