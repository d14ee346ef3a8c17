//! `reedcrow schema`: the JSON Schema of what `--json` prints.

use std::process::ExitCode;

use clap::ValueEnum;

use super::output;
use crate::log::export_schema;
use crate::report::json;

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Of which line
    #[arg(value_enum, default_value_t)]
    line: Line,
}

/// A line of JSON that the program prints.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
enum Line {
    /// One take: analyse --json, listen --json
    #[default]
    Reading,
    /// Two sides: compare --json
    Comparison,
    /// One line of an exported log: log export
    Export,
}

/// Runs it.
pub fn run(args: Args) -> anyhow::Result<ExitCode> {
    let schema = match args.line {
        Line::Reading => json::schema(),
        Line::Comparison => json::comparison_schema(),
        Line::Export => export_schema(),
    };
    output::print(&format!("{schema:#}\n"))?;
    Ok(ExitCode::SUCCESS)
}
