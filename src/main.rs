//! Starts the program; one line and an exit code on failure.

use std::io::Write;
use std::process::ExitCode;

fn main() -> ExitCode {
    match reedcrow::cli::run() {
        Ok(code) => code,
        Err(error) => {
            // That nobody can read it any more is no reason to end in another way.
            let _ = writeln!(std::io::stderr(), "reedcrow: {error:#}");
            ExitCode::FAILURE
        }
    }
}
