//! `reedcrow make-takes`.

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::Context;

use super::output::{self, say};
use crate::synth::workshop;
use crate::take::wav::{self, SampleFormat};

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Folder to write to; made when missing, files of the same names are replaced
    #[arg(long, value_name = "FOLDER", default_value = "demo-takes")]
    out: PathBuf,
    /// Another number gives other noise and phases for the same workshop
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

/// Runs it.
pub fn run(args: Args) -> anyhow::Result<ExitCode> {
    std::fs::create_dir_all(&args.out).with_context(|| {
        format!("{}: cannot be made; give another --out FOLDER", args.out.display())
    })?;
    for take in workshop(args.seed) {
        let rendered = take.scene.render();
        let wav = args.out.join(format!("{}.wav", take.name));
        wav::write(&wav, &rendered.samples, rendered.truth.sample_rate_hz, 1, SampleFormat::I16)
            .with_context(|| wav.display().to_string())?;
        let mut truth = serde_json::to_string_pretty(&rendered.truth)?;
        truth.push('\n');
        output::save(&args.out.join(format!("{}.truth.json", take.name)), truth.as_bytes())?;
        say!("{}: {}", wav.display(), take.shows);
    }
    Ok(ExitCode::SUCCESS)
}
