//! `reedcrow make-takes`.

use std::process::ExitCode;

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs it.
pub fn run(_args: Args) -> anyhow::Result<ExitCode> {
    anyhow::bail!("not built yet")
}
