//! `reedcrow schema`: the JSON Schema of the line per take.

use std::process::ExitCode;

use super::output;
use crate::report::json;

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs it.
pub fn run(_args: Args) -> anyhow::Result<ExitCode> {
    output::print(&format!("{:#}\n", json::schema()))?;
    Ok(ExitCode::SUCCESS)
}
