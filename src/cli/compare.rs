//! `reedcrow compare`: crows before and after.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, bail};

use super::expectations::Expectations;
use super::output;
use crate::comparison::compare;
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{Analysis, Reader, Reading};
use crate::report::comparison;
use crate::take::{self, Channel};

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Recording, or folder of recordings, from before the cut (or of the other reed)
    before: PathBuf,
    /// Recording, or folder of recordings, from after it
    after: PathBuf,
    /// Print one line of JSON
    #[arg(long)]
    json: bool,
    /// Channel to read, counted from 1 [default: the strongest]
    #[arg(long, value_name = "N", value_parser = str::parse::<Channel>)]
    channel: Option<Channel>,
    #[command(flatten)]
    expectations: Expectations,
}

/// Runs it.
pub fn run(args: Args) -> anyhow::Result<ExitCode> {
    let profile = args.expectations.profile()?;
    let channel = args.channel.unwrap_or_default();
    let read = |place: &Path| readings(place, channel, &profile, args.expectations.a4);
    let before = read(&args.before)?;
    let after = read(&args.after)?;
    let found = compare(&before, &after, &profile);
    let text = if args.json {
        comparison::line(&found) + "\n"
    } else {
        comparison::text(&found, &profile, &output::style())
    };
    output::print(&text)?;
    Ok(ExitCode::SUCCESS)
}

/// The readings of a recording, or of all recordings in a folder, by name.
///
/// Errors: nothing to read. In a folder, what is no recording is named and passed over.
fn readings(
    place: &Path,
    channel: Channel,
    profile: &Profile,
    a4: A4,
) -> anyhow::Result<Vec<Reading>> {
    if !place.is_dir() {
        return Ok(vec![analyse(place, channel, profile, a4)?.reading]);
    }
    let folder = || place.display().to_string();
    let mut files = Vec::new();
    for entry in std::fs::read_dir(place).with_context(folder)? {
        let path = entry.with_context(folder)?.path();
        let hidden = path.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.'));
        if path.is_file() && !hidden {
            files.push(path);
        }
    }
    files.sort();
    let mut found = Vec::new();
    for file in &files {
        match analyse(file, channel, profile, a4) {
            Ok(analysis) => found.push(analysis.reading),
            Err(error) => output::complain(&format!("{error:#}; passed over")),
        }
    }
    if found.is_empty() {
        bail!("{}: holds no recording that can be read; name a file or another folder", folder());
    }
    Ok(found)
}

fn analyse(file: &Path, channel: Channel, profile: &Profile, a4: A4) -> anyhow::Result<Analysis> {
    let context = || file.display().to_string();
    let mut recording = take::open(file, channel).with_context(context)?;
    let mut reader = Reader::new(recording.sample_rate_hz(), profile, a4);
    let mut block = Vec::new();
    while recording.next_block(&mut block).with_context(context)? {
        reader.push(&block);
    }
    let source = file.to_string_lossy();
    Ok(reader.finish(&source, recording.channels(), recording.channel(), recording.faults()))
}
