//! The log as plain files, out and back in.

use std::path::PathBuf;
use std::process::ExitCode;

use crate::cli::log_file::LogFile;
use crate::cli::output;
use crate::log::check_export;
use crate::report::log_csv;
use crate::words::commands as words;

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
        output::print_done(&(words::exported(&self.folder, reeds, exported.recordings) + "\n"))?;
        for hash in &exported.missing {
            output::complain(&words::missing_from_log(hash));
        }
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
        anyhow::ensure!(self.folder.is_dir(), words::no_folder_to_import(&self.folder));
        // No log is made for what cannot be imported.
        if !log.path()?.exists() {
            check_export(&self.folder)?;
        }
        let imported = log.open()?.import(&self.folder)?;
        for (label, named) in &imported.renamed {
            output::tell(&words::renamed(label, named));
        }
        let told = words::imported(imported.added.len(), &imported.merged, imported.known.len());
        output::print_done(&(told + "\n"))?;
        for hash in &imported.missing {
            output::complain(&words::missing_from_export(hash));
        }
        Ok(if imported.missing.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE })
    }
}
