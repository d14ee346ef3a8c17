//! How a reed is crowed, said once for a session.

use std::process::ExitCode;
use std::str::FromStr;

use super::words;
use crate::cli::log_file::LogFile;
use crate::cli::output;
use crate::log::{self, Wetness};
use crate::words::commands as words_of;

/// How the reed was crowed.
#[derive(Debug, Clone, Default, clap::Args)]
#[command(next_help_heading = "How it is crowed")]
pub struct Said {
    /// Whether the cane is wet or dry
    #[arg(long = "cane-state", value_enum, value_name = "STATE")]
    state: Option<Wetness>,
    /// How long it was soaked, in minutes
    #[arg(long, value_name = "MIN")]
    soaked: Option<Number>,
    /// Temperature in degrees Celsius
    #[arg(long, value_name = "C", allow_negative_numbers = true)]
    temperature: Option<Number>,
    /// Relative humidity in percent
    #[arg(long, value_name = "PERCENT")]
    humidity: Option<Number>,
    /// Days on which it has been played
    #[arg(long, value_name = "N")]
    days_played: Option<Number>,
    /// Hours for which it has been played
    #[arg(long, value_name = "N")]
    hours_played: Option<Number>,
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
            soaked_min: self.soaked.map(|number| number.0),
            temperature_c: self.temperature.map(|number| number.0),
            humidity_percent: self.humidity.map(|number| number.0),
            days_played: self.days_played.map(|number| number.0),
            hours_played: self.hours_played.map(|number| number.0),
            player: self.player,
            how: self.how,
        };
        (said != log::Conditions::default()).then_some(said)
    }
}

/// A number as makers write it: `3.5` or `3,5`.
#[derive(Debug, Clone, Copy)]
struct Number(f64);

/// Beyond this no figure of a reed lies; a slip of the keys does.
const MOST: f64 = 1e6;

impl FromStr for Number {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let number = text.trim().replace(',', ".").parse().ok().filter(|n: &f64| n.abs() < MOST);
        number.map(Self).ok_or_else(|| words_of::NO_NUMBER.into())
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
            anyhow::bail!(words_of::nothing_given("--soaked 5"));
        };
        let now = log.open_existing()?.conditions(&self.label, said)?;
        let told = words_of::crowed_from_now(&self.label, &now) + "\n";
        output::print_done(&output::style().letters(told))?;
        Ok(ExitCode::SUCCESS)
    }
}
