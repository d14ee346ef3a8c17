//! `reedcrow man` and `reedcrow completions`: what can be typed, for whoever reads a manual and for
//! shells.

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::bail;
use clap::builder::PossibleValuesParser;
use clap::{Arg, Command, ValueHint};
use clap_complete::Shell;

use super::output;
use crate::profile::BUILT_IN;
use crate::words::files::no_manuals;

/// Options of `reedcrow man`.
#[derive(Debug, clap::Args)]
pub struct Man {
    /// Write a page for the program and for each of its commands into this folder
    #[arg(value_name = "FOLDER")]
    folder: Option<PathBuf>,
}

/// Prints the manual page of all that can be typed, or writes one for each command.
pub fn man(args: Man, whole: Command) -> anyhow::Result<ExitCode> {
    if let Some(folder) = args.folder {
        let written = std::fs::create_dir_all(&folder)
            .and_then(|()| clap_mangen::generate_to(whole, &folder));
        return match written {
            Ok(()) => Ok(ExitCode::SUCCESS),
            Err(error) => bail!("{}: {}", folder.display(), no_manuals(&error)),
        };
    }
    let mut page = Vec::new();
    clap_mangen::Man::new(whole).render(&mut page)?;
    output::print(&String::from_utf8_lossy(&page))?;
    Ok(ExitCode::SUCCESS)
}

/// Options of `reedcrow completions`.
#[derive(Debug, clap::Args)]
pub struct Completions {
    /// The shell that is to complete reedcrow's commands
    shell: Shell,
}

/// Prints what completes all that can be typed.
pub fn completions(args: Completions, whole: Command) -> anyhow::Result<ExitCode> {
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
