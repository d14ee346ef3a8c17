//! Recordings added to a reed.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::Context;

use super::conditions::Said;
use crate::cli::log_file::LogFile;
use crate::cli::output;
use crate::log::{Card, NewTake};
use crate::pitch::A4;
use crate::profile::{self, Profile};
use crate::reading::{Reader, Reading};
use crate::take::{self, Channel};

/// `reed take`.
#[derive(Debug, clap::Args)]
pub struct Take {
    /// The reed
    label: String,
    /// Recordings of the reed as it is now
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    #[command(flatten)]
    said: Said,
}

impl Take {
    /// Runs it: a recording that cannot be added is said so, and the rest go on.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let mut log = log.open_existing()?;
        let card = log.reed(&self.label)?.card;
        let (profile, a4) = expectations(&card)?;
        let conditions = self.said.conditions();
        let conditions = conditions.as_ref();
        let mut failed = false;
        for file in &self.files {
            let added = read(file, &profile, a4).and_then(|reading| {
                let take = NewTake { file, reading: &reading, advice: None, conditions };
                Ok(log.take(&self.label, take)?)
            });
            match added {
                Ok(added) => output::print(&format!(
                    "{}: take {}{}, {}\n",
                    self.label,
                    added.number,
                    if added.known { " already" } else { "" },
                    stage_words(added.after_step)
                ))?,
                Err(error) => {
                    output::complain(&format!("{error:#}"));
                    failed = true;
                }
            }
        }
        Ok(if failed { ExitCode::FAILURE } else { ExitCode::SUCCESS })
    }
}

/// What a card holds its reed to.
pub fn expectations(card: &Card) -> anyhow::Result<(Profile, A4)> {
    let profile = match &card.profile {
        Some(name) => profile::load(name)?,
        None => Profile::default(),
    };
    let a4 = card.a4_hz.map(A4::new).transpose()?.unwrap_or_default();
    Ok((profile, a4))
}

fn stage_words(after_step: u32) -> String {
    match after_step {
        0 => "as it came".to_owned(),
        number => format!("after step {number}"),
    }
}

/// Reads one recording as a stream.
pub fn read(file: &Path, profile: &Profile, a4: A4) -> anyhow::Result<Reading> {
    let context = || file.display().to_string();
    let mut recording = take::open(file, Channel::default()).with_context(context)?;
    let mut reader = Reader::new(recording.sample_rate_hz(), profile, a4);
    let mut block = Vec::new();
    while recording.next_block(&mut block).with_context(context)? {
        reader.push(&block);
    }
    let source = file.to_string_lossy();
    let (channels, channel, faults) =
        (recording.channels(), recording.channel(), recording.faults());
    Ok(reader.finish(&source, channels, channel, faults).reading)
}
