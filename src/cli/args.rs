//! The commands; each one's options stand in its own file.

use clap::{Parser, Subcommand};

use super::{
    analyse, batch, bench, compare, devices, explain, listen, log, manuals, profile, reed, schema,
};

/// Everything that can be typed after `reedcrow`.
#[derive(Debug, Parser)]
#[command(name = "reedcrow", version, about, max_term_width = 80)]
pub struct Cli {
    #[command(subcommand)]
    pub command: Option<Command>,
}

#[derive(Debug, Subcommand)]
pub enum Command {
    /// Read recordings of crows: pitch, octaves, balance, steadiness, and the next cut
    #[command(alias = "analyze")]
    Analyse(analyse::Args),
    /// Open the bench in the browser: crow, see, cut, write down, undo
    Bench(bench::Args),
    /// Listen at the microphone, hands free, and read each crow as it ends
    Listen(listen::Args),
    /// Show the microphones, or check that one is fit for crowing
    Devices(devices::Args),
    /// Say why the next move is what it is: what is believed, and what would change it
    Explain(Box<explain::Args>),
    /// Compare crows before and after a cut, or one reed with another
    Compare(compare::Args),
    /// Keep a card for each reed: measurements, cuts, takes, ending
    Reed(Box<reed::Args>),
    /// Look after the log: check, backup, read again, what each cut did
    Log(log::Args),
    /// Read whole folders of recordings into a table
    Batch(batch::Args),
    /// Show what is expected of each kind of reed, or start a profile of your own
    Profile(profile::Args),
    /// Print the JSON Schema of what --json prints, of a reading or a comparison
    Schema(schema::Args),
    /// Print completions for a shell
    Completions(manuals::Completions),
    /// Print the manual page
    Man(manuals::Man),
    /// Decode recordings for another process of this program, which asks on standard input
    #[command(hide = true)]
    Decode,
}
