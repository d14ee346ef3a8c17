//! What was typed becomes what it means, then one call that reads as the pipeline.
//! The only part, with `bench` and `main`, that prints.

mod analyse;
mod args;
mod batch;
mod bench;
mod cautions;
mod compare;
mod completions;
mod devices;
mod expectations;
mod explain;
mod files;
mod listen;
mod log;
mod log_file;
mod man;
mod measured;
mod output;
mod picture;
mod practice;
mod profile;
mod recording;
mod reed;
mod schema;
mod usage;

use args::Cli;
pub use args::run;

pub use output::complain;
