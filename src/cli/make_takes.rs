//! `reedcrow make-takes`.

#![allow(clippy::print_stdout, reason = "a command tells the user what it wrote")]

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::Context;

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
        wav::write(&wav, &rendered.samples, rendered.truth.sample_rate_hz, 1, SampleFormat::I16)?;
        let mut truth = serde_json::to_string_pretty(&rendered.truth)?;
        truth.push('\n');
        write_whole(&args.out.join(format!("{}.truth.json", take.name)), truth.as_bytes())?;
        println!("{}: {}", wav.display(), take.shows);
    }
    Ok(ExitCode::SUCCESS)
}

/// Writes under a temporary name first, so that a file is there whole or not at all.
fn write_whole(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let write = || -> std::io::Result<()> {
        let folder = path.parent().unwrap_or(Path::new("."));
        let mut file = tempfile::NamedTempFile::new_in(folder)?;
        file.write_all(bytes)?;
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // A temporary file is private; a demo take is for everybody.
            file.as_file().set_permissions(std::fs::Permissions::from_mode(0o644))?;
        }
        file.persist(path).map(|_| ()).map_err(|error| error.error)
    };
    write().with_context(|| {
        format!("{}: cannot be written; free some space or give another --out", path.display())
    })
}
