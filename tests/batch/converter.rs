//! Files made and decoded by a general-purpose converter outside the project: FFmpeg, as Debian
//! packages it (tried with 5.1).

use std::path::Path;
use std::process::{Command, Stdio};

/// Whether the converter is there. Says loudly what is not tested without it.
pub fn is_there(test: &str) -> bool {
    let found = Command::new("ffmpeg").arg("-version").stdout(Stdio::null()).status().is_ok();
    if !found {
        eprintln!("SKIPPED: {test} needs ffmpeg as the reference; apt-get install ffmpeg");
    }
    found
}

/// Converts `from` to `to` with the options given. Returns false where this build of the
/// converter lacks the encoder.
pub fn convert(from: &Path, options: &[&str], to: &Path) -> bool {
    let output = Command::new("ffmpeg")
        .args(["-hide_banner", "-loglevel", "error", "-nostdin", "-y", "-i"])
        .arg(from)
        .args(["-bitexact"])
        .args(options)
        .arg(to)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    if said.contains("Unknown encoder") {
        eprintln!("SKIPPED: this ffmpeg has no encoder for {options:?}");
        return false;
    }
    assert!(output.status.success(), "{options:?}: {said}");
    true
}

/// Decodes a file. Returns interleaved samples, full scale being ±1.
pub fn decode(path: &Path) -> Vec<f32> {
    decode_by(&[], path)
}

/// The same with options that choose the decoder.
pub fn decode_by(options: &[&str], path: &Path) -> Vec<f32> {
    let output = Command::new("ffmpeg")
        .args(["-hide_banner", "-loglevel", "error", "-nostdin"])
        .args(options)
        .arg("-i")
        .arg(path)
        .args(["-f", "f32le", "-c:a", "pcm_f32le", "-"])
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    output.stdout.chunks_exact(4).map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]])).collect()
}
