//! How a reed is crowed, said once for a session.

use std::process::ExitCode;

use super::words::words;
use crate::cli::log_file::LogFile;
use crate::cli::output;
use crate::log::{self, Wetness};

/// How the reed was crowed.
#[derive(Debug, Clone, Default, clap::Args)]
#[command(next_help_heading = "How it is crowed")]
pub struct Said {
    /// Whether the cane is wet or dry
    #[arg(long = "cane-state", value_enum, value_name = "STATE")]
    state: Option<Wetness>,
    /// How long it was soaked, in minutes
    #[arg(long, value_name = "MIN")]
    soaked: Option<f64>,
    /// Temperature in degrees Celsius
    #[arg(long, value_name = "C", allow_negative_numbers = true)]
    temperature: Option<f64>,
    /// Relative humidity in percent
    #[arg(long, value_name = "PERCENT")]
    humidity: Option<f64>,
    /// Days on which it has been played
    #[arg(long, value_name = "N")]
    days_played: Option<f64>,
    /// Hours for which it has been played
    #[arg(long, value_name = "N")]
    hours_played: Option<f64>,
    /// Who crows
    #[arg(long, value_name = "NAME", allow_hyphen_values = true, value_parser = words)]
    player: Option<String>,
    /// How: where the lips are, loud or soft
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true, value_parser = words)]
    how: Option<String>,
}

impl Said {
    /// What was said; `None` where nothing was.
    pub fn conditions(self) -> Option<log::Conditions> {
        let said = log::Conditions {
            state: self.state,
            soaked_min: self.soaked,
            temperature_c: self.temperature,
            humidity_percent: self.humidity,
            days_played: self.days_played,
            hours_played: self.hours_played,
            player: self.player,
            how: self.how,
        };
        (said != log::Conditions::default()).then_some(said)
    }
}

/// `reed conditions`.
#[derive(Debug, clap::Args)]
pub struct Conditions {
    /// The reed
    label: String,
    #[command(flatten)]
    said: Said,
}

impl Conditions {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let Some(said) = self.said.conditions() else {
            anyhow::bail!("nothing to write down; give at least one, such as --soaked 5");
        };
        let now = log.open_existing()?.conditions(&self.label, said)?;
        output::print(&output::style().letters(format!(
            "{}: takes of the next 12 hours: {}\n",
            self.label,
            now.words()
        )))?;
        Ok(ExitCode::SUCCESS)
    }
}
