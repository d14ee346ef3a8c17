//! Writes the takes of the invented workshop, each with its truth beside it (`demo-data/README.md`).

use std::path::PathBuf;

use anyhow::Context;
use clap::Parser;
use reedcrow::take::wav::{self, SampleFormat};
use reedcrow_synth::workshop;

/// Write synthetic takes with their truth beside them
#[derive(Debug, Parser)]
struct Args {
    /// Folder to write to; made when missing, files of the same names are replaced
    #[arg(long, value_name = "FOLDER", default_value = "demo-takes")]
    out: PathBuf,
    /// Another number gives other noise and phases for the same workshop
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

#[allow(clippy::print_stdout, reason = "says what it wrote")]
fn main() -> anyhow::Result<()> {
    let args = Args::parse();
    std::fs::create_dir_all(&args.out).with_context(|| {
        format!("{}: cannot be made; give another --out FOLDER", args.out.display())
    })?;
    for take in workshop(args.seed) {
        let rendered = take.scene.render();
        let path = args.out.join(format!("{}.wav", take.name));
        wav::write(&path, &rendered.samples, rendered.truth.sample_rate_hz, 1, SampleFormat::I16)
            .with_context(|| path.display().to_string())?;
        let truth = serde_json::to_string_pretty(&rendered.truth)? + "\n";
        std::fs::write(path.with_extension("truth.json"), truth)
            .with_context(|| path.with_extension("truth.json").display().to_string())?;
        println!("{}: {}", path.display(), take.shows);
    }
    Ok(())
}
