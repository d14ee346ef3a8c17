//! `reedcrow completions`.

use std::process::ExitCode;

use clap::CommandFactory;
use clap_complete::Shell;

use super::{Cli, output};

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The shell that is to complete reedcrow's commands
    shell: Shell,
}

/// Runs it.
pub fn run(args: Args) -> anyhow::Result<ExitCode> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "reedcrow", &mut script);
    output::print(&String::from_utf8_lossy(&script))?;
    Ok(ExitCode::SUCCESS)
}
