//! The reeds of the log, all or some.

use std::collections::HashMap;
use std::process::ExitCode;

use super::show::profile;
use crate::cli::log_file::LogFile;
use crate::cli::measured::Unit;
use crate::cli::output;
use crate::cli::question::{Form, Which};
use crate::log::Card;
use crate::report::answers;

/// `reed list`.
#[derive(Debug, clap::Args)]
pub struct List {
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    unit: Unit,
    #[command(flatten)]
    form: Form,
}

impl List {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let query = self.which.query();
        let (facts, all_read) =
            output::whole(log.open_existing()?.facts(|reed| query.matches(reed))?);
        let mut known = HashMap::new();
        let target = |card: &Card| {
            *known.entry(card.profile.clone()).or_insert_with(|| profile(card).lowest_note())
        };
        let unit = self.unit.unit();
        self.form
            .print(&facts, || output::answer(unit, |show| answers::reeds(&facts, target, show)))?;
        Ok(all_read)
    }
}
