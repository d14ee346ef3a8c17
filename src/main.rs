//! Starts the program; one line and an exit code on failure.

use std::process::ExitCode;

fn main() -> ExitCode {
    match reedcrow::cli::run() {
        Ok(code) => code,
        Err(error) => {
            #[allow(clippy::print_stderr, reason = "the one place that reports failure")]
            {
                eprintln!("reedcrow: {error:#}");
            }
            ExitCode::FAILURE
        }
    }
}
