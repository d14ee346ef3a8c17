//! `reedcrow man`.

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::bail;

use super::output;
use crate::words::system::refusal;

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Write a page for the program and for each of its commands into this folder
    #[arg(value_name = "FOLDER")]
    folder: Option<PathBuf>,
}

/// Runs it for all that can be typed.
pub fn run(args: Args, whole: clap::Command) -> anyhow::Result<ExitCode> {
    if let Some(folder) = args.folder {
        let written = std::fs::create_dir_all(&folder)
            .and_then(|()| clap_mangen::generate_to(whole, &folder));
        return match written {
            Ok(()) => Ok(ExitCode::SUCCESS),
            Err(error) => bail!(
                "{}: manual pages could not be written there: {}",
                folder.display(),
                refusal(&error)
            ),
        };
    }
    let mut page = Vec::new();
    clap_mangen::Man::new(whole).render(&mut page)?;
    output::print(&String::from_utf8_lossy(&page))?;
    Ok(ExitCode::SUCCESS)
}
