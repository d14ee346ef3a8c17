//! `reedcrow reed`: one reed's card, what was measured and done, what it sounded like.

mod account;
mod card;
mod conditions;
mod correct;
mod heard;
mod list;
mod show;
mod take;
mod work;

use std::process::ExitCode;

use clap::Subcommand;

use super::log::{Export, Import};
use super::log_file::LogFile;
use crate::words::commands::LOOKS_LIKE_AN_OPTION;

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(subcommand)]
    command: Command,
    #[command(flatten)]
    log: LogFile,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Enter a reed
    New(card::New),
    /// Change a reed's card
    Edit(card::Edit),
    /// List the reeds
    List(list::List),
    /// Show everything of one reed
    Show(show::Show),
    /// Write down what a reed measures
    Measure(work::Measure),
    /// Write down what a reed looks like
    Inspect(work::Inspect),
    /// Say how a reed is crowed: wet or dry, weather, days played, who and how
    Conditions(conditions::Conditions),
    /// Write down what was done: reedcrow reed step LABEL clip 0.3
    Step(work::Step),
    /// Put right what was written down of a cut, a take or a measurement; what it said before is kept
    Correct(correct::Correct),
    /// Add recordings to a reed as it is now
    Take(take::Take),
    /// Say what you hear of a crow: reedcrow reed heard LABEL octaves
    Heard(heard::Heard),
    /// Name the finished good reed that the next ones of its kind are told against
    Model(work::Model),
    /// Say how good a reed is, when it is closed and when it comes back: reedcrow reed rate LABEL pitch good
    Rate(work::Rate),
    /// End the work on a reed
    Close(card::Close),
    /// Write the account for the owner: what was found, done, changed, and to change
    Account(account::Account),
    /// The same as 'reedcrow log export'
    #[command(hide = true)]
    Export(Export),
    /// The same as 'reedcrow log import'
    #[command(hide = true)]
    Import(Import),
    /// Take back the last change to a reed
    Undo(work::Undo),
    /// Make again what undo took back
    Redo(work::Redo),
}

/// Runs it.
pub fn run(args: Args) -> anyhow::Result<ExitCode> {
    let log = &args.log;
    match args.command {
        Command::New(command) => command.run(log),
        Command::Edit(command) => command.run(log),
        Command::List(command) => command.run(log),
        Command::Show(command) => command.run(log),
        Command::Measure(command) => command.run(log),
        Command::Inspect(command) => command.run(log),
        Command::Conditions(command) => command.run(log),
        Command::Step(command) => command.run(log),
        Command::Correct(command) => command.run(log),
        Command::Take(command) => command.run(log),
        Command::Heard(command) => command.run(log),
        Command::Model(command) => command.run(log),
        Command::Rate(command) => command.run(log),
        Command::Close(command) => command.run(log),
        Command::Account(command) => command.run(log),
        Command::Export(command) => command.run(log),
        Command::Import(command) => command.run(log),
        Command::Undo(command) => command.run(log),
        Command::Redo(command) => command.run(log),
    }
}

/// Free words after an option, also such as begin with a dash: shapes are called `-1`. Not what looks like the next
/// option.
pub(super) fn words(text: &str) -> Result<String, String> {
    match text.starts_with("--") {
        true => Err(LOOKS_LIKE_AN_OPTION.to_owned()),
        false => Ok(text.to_owned()),
    }
}
