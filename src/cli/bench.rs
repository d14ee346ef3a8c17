//! `reedcrow bench`: the page that stays open at the bench.

use std::process::ExitCode;

use anyhow::Context;
use tokio::sync::watch;

use super::expectations::Expectations;
use super::log_file::LogFile;
use super::output;
use crate::bench::{Engine, Settings, page};
use crate::words::{bench, errors};

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Port of this machine to serve on; 0 takes a free one
    #[arg(long, value_name = "N", default_value_t = 4747)]
    port: u16,
    /// Do not open the browser
    #[arg(long)]
    no_open: bool,
    /// The microphone: its name in `reedcrow devices`, or a part of it; else the default
    #[arg(long, value_name = "NAME")]
    device: Option<String>,
    /// The reed to begin with [default: the one worked on last]
    #[arg(long, value_name = "LABEL")]
    reed: Option<String>,
    /// Seconds of silence that end a take
    #[arg(long, value_name = "S", default_value_t = 4.0, value_parser = super::listen::positive)]
    pause: f64,
    #[command(flatten)]
    log: LogFile,
    #[command(flatten)]
    expectations: Expectations,
}

/// Runs it.
pub fn run(args: Args) -> anyhow::Result<ExitCode> {
    let log = args.log.open()?;
    let (folder, path) = (log.recording_folder(), log.path().to_owned());
    let paths = page::Paths { log: path, folder };
    let settings = Settings {
        device: args.device,
        pause_s: args.pause,
        reed: args.reed,
        profile: args.expectations.profile()?,
        a4: args.expectations.a4,
    };
    let usual = settings.profile.clone();
    let (stop, stopped) = watch::channel(false);
    ctrlc::set_handler(move || {
        // Nobody waits for it any more where serving has ended already.
        let _ = stop.send(true);
    })
    .context(errors::NO_CTRL_C)?;
    let engine = Engine::start(log, settings)?;
    page::serve(engine, args.port, (paths, usual), stopped, |address| {
        let url = format!("http://{address}/");
        output::tell(&bench::served_at(&url));
        output::tell(bench::CTRL_C_ENDS);
        if !args.no_open && open::that_detached(&url).is_err() {
            output::tell(bench::NO_BROWSER);
        }
    })?;
    Ok(ExitCode::SUCCESS)
}
