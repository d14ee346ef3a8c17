//! `reedcrow explain`: why the next move is what it is, in a maker's words and then in numbers.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::expectations::{self, Expectations};
use super::log_file::LogFile;
use super::measured::Measured;
use super::output;
use super::recording::analyse;
use crate::advice::{explain, of_recording};
use crate::comparison::Effects;
use crate::log::{Known, effects};
use crate::take::Channel;
use crate::words::advice::explained;

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// A reed in the log, or a recording
    #[arg(value_name = "REED|FILE")]
    what: String,
    #[command(flatten)]
    expectations: Expectations,
    #[command(flatten)]
    measured: Measured,
    #[command(flatten)]
    log: LogFile,
}

/// Runs it.
pub fn run(args: Args) -> anyhow::Result<ExitCode> {
    let file = Path::new(&args.what);
    let told = if file.is_file() {
        let (profile, a4) = (args.expectations.profile()?, args.expectations.a4);
        args.measured.query(&profile)?;
        let reading = analyse(&PathBuf::from(file), Channel::default(), &profile, a4)?.reading;
        let story =
            of_recording(&reading, &args.measured.measurements()?, &args.measured.inspection());
        explain(&story, &profile, &Effects::default())
    } else {
        let log = args.log.open_existing()?;
        let history = log.history(&args.what)?;
        let (profile, _) = expectations::of_card(&history.reed.card)?;
        let (others, _) = output::whole(log.facts(|_| true)?);
        Known::of(&history, &effects(&others)).explain(&profile)
    };
    output::told(&output::style().lines(&explained(&told)))?;
    Ok(ExitCode::SUCCESS)
}
