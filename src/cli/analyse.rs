//! `reedcrow analyse`: recordings in, one reading each out.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::Context;

use super::expectations::Expectations;
use super::output;
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{Analysis, Reader};
use crate::report::{json, terminal};
use crate::take::{self, Channel};

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Recordings to read; - is WAV on standard input
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Print one line of JSON per recording ('reedcrow schema' describes it)
    #[arg(long)]
    json: bool,
    /// Write a picture of each take; the ending says which kind
    #[arg(long, value_name = "OUT.svg|OUT.png")]
    plot: Option<PathBuf>,
    /// Channel to read, counted from 1 [default: the strongest]
    #[arg(long, value_name = "N", value_parser = str::parse::<Channel>)]
    channel: Option<Channel>,
    #[command(flatten)]
    expectations: Expectations,
}

/// Runs it.
pub fn run(args: Args) -> anyhow::Result<ExitCode> {
    let profile = args.expectations.profile()?;
    let style = output::style();
    let mut failed = false;
    for file in &args.files {
        let analysis =
            match analyse(file, args.channel.unwrap_or_default(), &profile, args.expectations.a4) {
                Ok(analysis) => analysis,
                Err(error) => {
                    output::complain(&format!("{error:#}"));
                    failed = true;
                    continue;
                }
            };
        let text = if args.json {
            json::line(&analysis.reading, None) + "\n"
        } else {
            terminal::card(&analysis.reading, None, &profile, &style) + "\n"
        };
        output::print(&text)?;
    }
    Ok(if failed { ExitCode::FAILURE } else { ExitCode::SUCCESS })
}

/// Reads one recording as a stream.
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
