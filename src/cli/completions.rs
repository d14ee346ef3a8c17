//! `reedcrow completions`.

use std::process::ExitCode;

use clap::builder::PossibleValuesParser;
use clap::{Arg, Command, ValueHint};
use clap_complete::Shell;

use super::output;
use crate::profile::BUILT_IN;

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The shell that is to complete reedcrow's commands
    shell: Shell,
}

/// Runs it for all that can be typed.
pub fn run(args: Args, whole: Command) -> anyhow::Result<ExitCode> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut hinted(whole), "reedcrow", &mut script);
    output::print(&String::from_utf8_lossy(&script))?;
    Ok(ExitCode::SUCCESS)
}

/// The command with a word for each argument on what may stand there: a shell that is told nothing
/// offers the names of files.
fn hinted(command: Command) -> Command {
    command.mut_args(hint).mut_subcommands(hinted)
}

fn hint(arg: Arg) -> Arg {
    let names = arg.get_value_names().unwrap_or_default();
    let is_profile = arg.get_id() == "profile" && names.iter().any(|name| name == "NAME|FILE");
    let is_name = ["name", "like"].iter().any(|id| arg.get_id() == id);
    if is_profile || is_name {
        return arg.value_parser(PossibleValuesParser::new(BUILT_IN.iter().map(|kind| kind.name)));
    }
    match arg.get_value_hint() {
        ValueHint::Unknown if arg.get_action().takes_values() => arg.value_hint(ValueHint::Other),
        _ => arg,
    }
}
