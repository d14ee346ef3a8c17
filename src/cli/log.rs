//! `reedcrow log`: looking after the log as a whole.

mod care;
mod exchange;
mod questions;

use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::anyhow;
use clap::Subcommand;

use super::log_file::LogFile;
use super::output;
use super::question::Which;
use crate::log::heard::{self, LoggedHeard};
use crate::log::{Log, LogError, Refused, SharedAs};
use crate::profile;
use crate::report::account::{SENDER, Sender};
use crate::report::json;
use crate::words::commands as words_of;
use crate::words::ear as words;
use crate::words::files::not_written;
use crate::words::log as log_words;

pub use exchange::{Export, Import};

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
    /// Verify recordings against their hashes and rows against recordings; say how to mend
    Check(care::Check),
    /// Copy the log to one file, also while it is in use (recordings stay where they are)
    Backup(care::Backup),
    /// Write the log, or some of its reeds, as open files: JSON lines with their schema, CSV, recordings
    Export(Export),
    /// Read an export into this log; work on a reed that is here already is added to it
    Import(Import),
    /// Read recordings again with this version of the program, and list what changed
    Reread(care::Reread),
    /// Show how the program's ear agrees with yours: what you heard against what was read
    Ear {
        /// Kind of reed: what you hear is learnt for each kind by itself
        #[arg(long, value_name = "NAME|FILE", default_value = "american-oboe")]
        profile: String,
        /// One line of JSON
        #[arg(long)]
        json: bool,
        /// Write the crows you named into a new file to pass on: no sound, no labels, no names
        #[arg(long, value_name = "FILE", conflicts_with = "json")]
        export: Option<PathBuf>,
    },
    /// Write crows to a folder to be given away: sound, what you heard, figures; no names, notes or dates
    Share {
        /// A folder that is not there yet
        folder: PathBuf,
        /// The licence under which you give them, such as CC-BY-4.0 or CC0-1.0
        #[arg(long, value_name = "NAME")]
        licence: String,
        #[command(flatten)]
        which: Which,
    },
    /// Say who sends the accounts, or show it
    Sender {
        /// Name of the maker or the workshop
        name: Option<String>,
        /// A line below it: address, telephone, mail; again for the next one
        #[arg(long = "line", value_name = "TEXT", requires = "name")]
        lines: Vec<String>,
    },
    /// What is on the bench: the open reeds with what each waits for, since when, and when it is due
    Waiting(questions::Waiting),
    /// Which cane, shape, gouge … works: reeds grouped by a field of their cards
    Groups(questions::Groups),
    /// What each kind of cut did to pitch and octaves, with the cuts behind it
    #[command(alias = "cuts")]
    Effects(questions::Effects),
    /// Whether to trust the adviser: what it foretold of the moves you made, and what came
    Trust(questions::Trust),
    /// Which figures of the crow and which measurements go with the reeds that were rated good
    Likes(questions::Likes),
    /// Whether crows change as reeds rest, are played, are soaked, and with the air
    Conditions(questions::Conditions),
}

/// Writes crows to be given away.
fn share(log: &Log, folder: &Path, licence: &str, which: Which) -> anyhow::Result<ExitCode> {
    let query = which.query();
    let licence = log_words::licence(licence);
    let how = SharedAs { licence: &licence, about: log_words::SHARED };
    let shared = log.share(|reed| query.matches(reed), how, folder)?;
    output::print_done(&(words_of::shared(folder, shared.crows, shared.reeds) + "\n"))?;
    shared.passed_over.iter().for_each(|reed| output::complain(&reed.why));
    if shared.failed > 0 {
        output::complain(&words_of::not_shared(shared.failed));
    }
    let is_whole = shared.failed == 0 && shared.passed_over.is_empty();
    Ok(if is_whole { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// How the ear agrees with its maker.
fn ear(log: &Log, profile: &str, json: bool, export: Option<&Path>) -> anyhow::Result<ExitCode> {
    let style = output::style();
    let crows = log.all_heard()?;
    let said: Vec<LoggedHeard> = crows.iter().map(|crow| crow.said.clone()).collect();
    if let Some(file) = export {
        let mine = said.iter().filter(|said| said.profile == profile);
        let lines: Vec<String> = mine.map(json::one_line).collect();
        let text: String = lines.iter().map(|line| format!("{line}\n")).collect();
        output::save_new(file, text.as_bytes()).map_err(|error| match error.kind() {
            ErrorKind::AlreadyExists => LogError::from(Refused::FileExists(file)).into(),
            _ => anyhow!("{}: {}", file.display(), not_written(&error)),
        })?;
        let told = words::exported(lines.len(), &file.display().to_string());
        output::print(&style.letters(style.wrapped("", &told).join("\n") + "\n"))?;
        return Ok(ExitCode::SUCCESS);
    }
    let test = heard::test(&said, profile);
    let text = match json {
        true => json::one_line(&test) + "\n",
        false => {
            let told = words::test(&test, &crows);
            let lines = told.iter().flat_map(|told| style.wrapped("", told));
            style.letters(lines.map(|line| line + "\n").collect())
        }
    };
    output::print(&text)?;
    Ok(ExitCode::SUCCESS)
}

/// Who sends the accounts: named, or shown.
fn sender(log: &mut Log, name: Option<String>, lines: Vec<String>) -> anyhow::Result<ExitCode> {
    let Some(name) = name else {
        let sender: Option<Sender> = log.setting(SENDER)?;
        let told = sender.map_or(words_of::NOBODY_NAMED.into(), |sender| {
            std::iter::once(sender.name).chain(sender.lines).collect::<Vec<_>>().join("\n")
        });
        output::print(&(told + "\n"))?;
        return Ok(ExitCode::SUCCESS);
    };
    log.set(SENDER, &Sender { name, lines })?;
    output::print_done(&format!("{}\n", words_of::SENDER_NAMED))?;
    Ok(ExitCode::SUCCESS)
}

/// Runs it.
pub fn run(args: Args) -> anyhow::Result<ExitCode> {
    let file = &args.log;
    let open = || file.open_existing();
    match args.command {
        Command::Check(command) => command.run(file),
        Command::Backup(command) => command.run(&open()?),
        Command::Export(command) => command.run(file),
        Command::Import(command) => command.run(file),
        Command::Reread(command) => command.run(&mut open()?),
        Command::Ear { profile, json, export } => {
            let profile = profile::load(&profile)?;
            ear(&open()?, &profile.name, json, export.as_deref())
        }
        Command::Share { folder, licence, which } => share(&open()?, &folder, &licence, which),
        Command::Sender { name, lines } => sender(&mut open()?, name, lines),
        Command::Waiting(command) => command.run(&open()?),
        Command::Groups(command) => command.run(&open()?),
        Command::Effects(command) => command.run(&open()?),
        Command::Trust(command) => command.run(&open()?),
        Command::Likes(command) => command.run(&open()?),
        Command::Conditions(command) => command.run(&open()?),
    }
}
