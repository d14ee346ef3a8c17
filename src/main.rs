//! Starts the program; one line and an exit code on failure.

use std::process::ExitCode;

fn main() -> ExitCode {
    match reedcrow::cli::run() {
        Ok(code) => code,
        Err(error) => {
            reedcrow::cli::complain(&format!("{error:#}"));
            ExitCode::FAILURE
        }
    }
}
