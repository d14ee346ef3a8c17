//! What was typed becomes what it means, then one call that reads as the pipeline.
//! The only part, with `bench` and `main`, that prints.

mod analyse;
mod args;
mod batch;
mod bench;
mod cautions;
mod compare;
mod devices;
mod expectations;
mod explain;
mod files;
mod listen;
mod log;
mod log_file;
mod manuals;
mod measured;
mod output;
mod picture;
mod practice;
mod profile;
mod question;
mod recording;
mod reed;
mod schema;
mod usage;

use std::path::Path;
use std::process::ExitCode;

use clap::{CommandFactory, Parser};

use crate::report::terminal::Style;
use crate::system::keep_freed_memory;
use crate::take::decode;
use crate::words::errors;
use crate::words::system::refusal;
use crate::words::usage as words;
use args::{Cli, Command};

pub use output::complain;

/// Exit code for a command line that cannot be understood, as shells and clap have it.
const WRONGLY_TYPED: u8 = 2;

/// What `reedcrow` alone says, in lines of the style's width.
fn welcome(style: &Style) -> String {
    // Words beside the commands want some room; on a narrower terminal they stand below them.
    let is_wide = style.width >= 60;
    let first = words::FIRST.into_iter().flat_map(|(command, what)| match is_wide {
        true => style.wrapped(&format!("  {command:<28} "), what),
        false => {
            let mut lines = vec![format!("  {command}")];
            lines.extend(style.wrapped("      ", what));
            lines
        }
    });
    let mut lines = style.wrapped("", words::WELCOME);
    lines.extend([String::new(), words::DONE_FIRST.to_owned()]);
    lines.extend(first);
    lines.extend(style.wrapped("", words::ALL_ELSE));
    lines.join("\n") + "\n"
}

/// Parses the command line and runs the command. A reader of the output that goes away, as `head`
/// does, ends the program quietly.
pub fn run() -> anyhow::Result<ExitCode> {
    keep_freed_memory();
    // Windows leaves patterns of names to programs; a Unix shell has put names in their place.
    let cli = match Cli::try_parse_from(wild::args_os()) {
        Ok(cli) => cli,
        Err(error) => return answer(&error),
    };
    decode::decode_in_child(itself());
    let done = dispatch(cli).and_then(|code| Ok(output::foot().map(|()| code)?));
    match done {
        Err(error) if output::is_closed(&error) => Ok(ExitCode::SUCCESS),
        result => result.map_err(|error| match output::unprinted(&error).map(refusal) {
            Some(why) => anyhow::anyhow!(errors::not_printed(&why)),
            None => error,
        }),
    }
}

/// This program, to be started again as one that decodes.
fn itself() -> Option<decode::Program> {
    // On Linux also where its file was replaced by another version since it was started. Elsewhere anybody
    // could lay a program under that name.
    let running = Path::new("/proc/self/exe");
    let is_there = cfg!(target_os = "linux") && running.exists();
    let path = if is_there { running.to_owned() } else { std::env::current_exe().ok()? };
    Some(decode::Program { path, arguments: vec!["decode".into()] })
}

/// Shows the help or version that was asked for, or says in one line what was typed wrong.
fn answer(error: &clap::Error) -> anyhow::Result<ExitCode> {
    let typed = std::env::args_os().skip(1).map(|word| word.to_string_lossy().into_owned());
    match usage::line(error, typed, Cli::command()) {
        Some(line) => {
            output::complain(&line);
            Ok(ExitCode::from(WRONGLY_TYPED))
        }
        None => {
            // That nobody reads the help any more is no reason to end in another way.
            let _ = error.print();
            Ok(ExitCode::SUCCESS)
        }
    }
}

/// Whether a command gives advice.
fn advises(command: &Command) -> bool {
    matches!(
        command,
        Command::Analyse(_)
            | Command::Bench(_)
            | Command::Listen(_)
            | Command::Explain(_)
            | Command::Reed(_)
            | Command::Batch(_)
    )
}

fn dispatch(cli: Cli) -> anyhow::Result<ExitCode> {
    match &cli.command {
        Some(command) if advises(command) => practice::take_up()?,
        // What is kept must stay within reach whatever is wrong with the tables.
        Some(Command::Log(_)) => {
            practice::take_up().unwrap_or_else(|error| output::complain(&format!("{error:#}")));
        }
        _ => {}
    }
    match cli.command {
        None => {
            output::print(&welcome(&output::style()))?;
            Ok(ExitCode::SUCCESS)
        }
        Some(Command::Analyse(args)) => analyse::run(args),
        Some(Command::Bench(args)) => bench::run(args),
        Some(Command::Listen(args)) => listen::run(args),
        Some(Command::Devices(args)) => devices::run(args),
        Some(Command::Explain(args)) => explain::run(*args),
        Some(Command::Compare(args)) => compare::run(args),
        Some(Command::Reed(args)) => reed::run(*args),
        Some(Command::Log(args)) => log::run(args),
        Some(Command::Batch(args)) => batch::run(args),
        Some(Command::Profile(args)) => profile::run(args),
        Some(Command::Schema(args)) => schema::run(args),
        Some(Command::Completions(args)) => manuals::completions(args, Cli::command()),
        Some(Command::Man(args)) => manuals::man(args, Cli::command()),
        Some(Command::Decode) => {
            decode::serve(std::io::stdin().lock(), std::io::stdout().lock());
            Ok(ExitCode::SUCCESS)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_welcome_keeps_to_the_terminal() {
        for width in [40, 60, 80] {
            let text = welcome(&Style { width, ..Style::default() });
            assert!(text.lines().all(|line| line.chars().count() <= width), "{text}");
        }
    }
}
