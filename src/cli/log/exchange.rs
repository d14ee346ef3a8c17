//! The log as plain files, out and back in.

use std::path::PathBuf;
use std::process::ExitCode;

use crate::cli::log_file::LogFile;
use crate::cli::output;
use crate::log::check_export;
use crate::report::log_csv;
use crate::words::format;

/// `log export`.
#[derive(Debug, clap::Args)]
pub struct Export {
    /// A folder that is not there yet
    folder: PathBuf,
    /// Only these reeds
    #[arg(long = "reed", value_name = "LABEL")]
    reeds: Vec<String>,
}

impl Export {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let log = log.open_existing()?;
        let export = log.export(&self.reeds, &self.folder)?;
        let mut columns = log_csv::Columns::default();
        let rows = export.put_by(|history| columns.see(history))?;
        let (reeds, tables) = (rows.reeds, columns.tables());
        export.add_files(rows, tables.begun()?, |table, row| tables.row(table, row))?;
        let exported = export.finish()?;
        output::print_done(&format!(
            "{}: {}, {}\n",
            self.folder.display(),
            format::counted(reeds, "reed"),
            format::counted(exported.recordings, "recording")
        ))?;
        complain_of_missing(&exported.missing, "is missing from the log or damaged");
        exported.passed_over.iter().for_each(|reed| output::complain(&reed.why));
        let is_whole = exported.missing.is_empty() && exported.passed_over.is_empty();
        Ok(if is_whole { ExitCode::SUCCESS } else { ExitCode::FAILURE })
    }
}

/// `log import`.
#[derive(Debug, clap::Args)]
pub struct Import {
    /// A folder that export wrote
    folder: PathBuf,
}

impl Import {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        anyhow::ensure!(
            self.folder.is_dir(),
            "{}: no such folder; name one with the log.jsonl that 'reedcrow log export' wrote",
            self.folder.display()
        );
        // No log is made for what cannot be imported.
        if !log.path()?.exists() {
            check_export(&self.folder)?;
        }
        let imported = log.open()?.import(&self.folder)?;
        let mut text = format!("{} added", format::counted(imported.added.len(), "reed"));
        if !imported.merged.is_empty() {
            text += &format!(
                ", work added to {} that {} here: {}",
                format::counted(imported.merged.len(), "reed"),
                if imported.merged.len() == 1 { "was" } else { "were" },
                imported.merged.join(", ")
            );
        }
        for (label, named) in &imported.renamed {
            output::tell(&format!(
                "{label}: another reed is called so here; the imported one is called {named}"
            ));
        }
        if !imported.known.is_empty() {
            text += &format!(", {} here already", format::counted(imported.known.len(), "reed"));
        }
        output::print_done(&(text + "\n"))?;
        complain_of_missing(&imported.missing, "is missing from the export or damaged");
        Ok(if imported.missing.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE })
    }
}

fn complain_of_missing(hashes: &[String], what: &str) {
    for hash in hashes {
        output::complain(&format!(
            "recording {hash}: {what}; 'reedcrow log check' says which take"
        ));
    }
}
