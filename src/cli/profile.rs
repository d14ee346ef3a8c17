//! `reedcrow profile`: what is expected of each kind of reed.

use std::path::PathBuf;
use std::process::ExitCode;

use super::output;
use super::practice::how_to_use;
use crate::advice::BUILT_IN_TOML;
use crate::profile;
use crate::words::files::{IS_THERE, not_written, profile_written};

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, clap::Subcommand)]
enum Action {
    /// Name the built-in profiles
    List,
    /// Print a profile as TOML, with where each value comes from
    Show {
        /// Built-in name, or path of a profile file
        name: String,
    },
    /// Write a commented profile to start your own from
    New {
        /// The file to write; it must not exist
        file: PathBuf,
        /// The built-in profile to start from
        #[arg(long, value_name = "NAME", default_value = profile::BUILT_IN[0].name)]
        like: String,
    },
    /// Print the tables behind the advice: what may be wrong, what each cut does, each with its source
    Practice {
        /// Write them into this new file, to be changed
        file: Option<PathBuf>,
    },
}

/// Runs it.
pub fn run(args: Args) -> anyhow::Result<ExitCode> {
    match args.action {
        Action::List => list()?,
        Action::Show { name } => show(&name)?,
        Action::New { file, like } => new(&file, &like)?,
        Action::Practice { file: None } => output::print(BUILT_IN_TOML)?,
        Action::Practice { file: Some(file) } => {
            save(&file, BUILT_IN_TOML)?;
            output::print(&format!("{}: written; {}\n", file.display(), how_to_use()))?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

fn list() -> anyhow::Result<()> {
    let style = output::style();
    for (index, built_in) in profile::BUILT_IN.iter().enumerate() {
        let profile = profile::load(built_in.name)?;
        let target = profile.target.map_or("no target".to_owned(), |note| note.to_string());
        let default = if index == 0 { " (default)" } else { "" };
        let label = format!("{:14} {target:10}  ", profile.name);
        let lines = style.wrapped(&label, &format!("{}{default}", profile.title));
        output::print(&(lines.join("\n") + "\n"))?;
    }
    Ok(())
}

fn show(name: &str) -> anyhow::Result<()> {
    // Read whole first: a file with a fault is told, not printed.
    let (_, text) = profile::load_with_text(name)?;
    Ok(output::print(&text)?)
}

fn new(file: &std::path::Path, like: &str) -> anyhow::Result<()> {
    let plain = |letter: char| letter.is_alphanumeric() || matches!(letter, '-' | '_' | '.');
    let stem = file.file_stem().map(|stem| stem.to_string_lossy().into_owned());
    let name: String = stem
        .unwrap_or_default()
        .chars()
        .map(|letter| if plain(letter) { letter } else { '-' })
        .take(60)
        .collect();
    let taken = profile::BUILT_IN.iter().any(|built_in| built_in.name == name);
    let name = if taken || name.is_empty() { "my-reed".to_owned() } else { name };
    let text = profile::starter(&name, like)?;
    save(file, &text)?;
    Ok(output::print(&(profile_written(file) + "\n"))?)
}

fn save(file: &std::path::Path, text: &str) -> anyhow::Result<()> {
    match output::save_new(file, text.as_bytes()) {
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {
            anyhow::bail!("{}: {}", file.display(), IS_THERE)
        }
        Err(error) => anyhow::bail!("{}: {}", file.display(), not_written(&error)),
        Ok(()) => Ok(()),
    }
}
