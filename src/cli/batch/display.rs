//! How far a batch is: a bar on a terminal, plain lines elsewhere.

use std::io::{self, IsTerminal};
use std::sync::Arc;
use std::sync::mpsc::{self, RecvTimeoutError, Sender};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressStyle};

use crate::batch::{Counts, Inputs, Progress, clock};
use crate::cli::output;

/// Between two looks at the counters, on a terminal.
const TICK: Duration = Duration::from_millis(150);

/// Between two plain lines.
const PLAIN: Duration = Duration::from_secs(10);

/// Shows how far a batch is until it is finished.
pub struct Display {
    progress: Arc<Progress>,
    bar: Option<ProgressBar>,
    end: Sender<()>,
    shower: Option<JoinHandle<()>>,
}

impl Display {
    /// Begins to show, and to count what there is.
    pub fn start(inputs: &Inputs) -> Self {
        let progress = Arc::new(Progress::default());
        let bar = io::stderr().is_terminal().then(|| {
            let style = ProgressStyle::with_template("{bar:24} {msg}");
            ProgressBar::new(1).with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
        });
        let (end, ended) = mpsc::channel();
        let counting = {
            let (inputs, progress) = (inputs.clone(), Arc::clone(&progress));
            move || count(&inputs, &progress)
        };
        // It ends with the program at the latest: nothing waits for the counting.
        let _ = thread::Builder::new().spawn(counting);
        let shower = {
            let (progress, bar) = (Arc::clone(&progress), bar.clone());
            let show = move || {
                let begun = Instant::now();
                let pause = if bar.is_some() { TICK } else { PLAIN };
                while ended.recv_timeout(pause) == Err(RecvTimeoutError::Timeout) {
                    let counts = progress.counts();
                    let line = line(&counts, begun.elapsed().as_secs_f64());
                    match &bar {
                        Some(bar) => {
                            bar.set_length(counts.all_bytes.max(1));
                            bar.set_position(counts.bytes.min(counts.all_bytes));
                            bar.set_message(line);
                        }
                        None => output::complain(&line),
                    }
                }
            };
            // Without a thread for it nothing is shown, and all is read.
            thread::Builder::new().spawn(show).ok()
        };
        Self { progress, bar, end, shower }
    }

    /// The counters that are shown.
    pub fn progress(&self) -> &Progress {
        &self.progress
    }

    /// Prints a line above the bar.
    pub fn complain(&self, line: &str) {
        match &self.bar {
            Some(bar) => bar.suspend(|| output::complain(line)),
            None => output::complain(line),
        }
    }

    /// Ends the showing.
    pub fn finish(self) {
        let _ = self.end.send(());
        let _ = self.shower.map(JoinHandle::join);
        if let Some(bar) = self.bar {
            bar.finish_and_clear();
        }
    }
}

fn count(inputs: &Inputs, progress: &Progress) {
    let (mut files, mut bytes) = (0, 0);
    for input in inputs.iter().flatten() {
        files += 1;
        bytes += input.path.metadata().map_or(0, |about| about.len());
    }
    progress.expect(files, bytes);
}

/// `120 of 2000 files, 0:32:10 of sound, 310 x, 0:00:40 left`.
fn line(counts: &Counts, elapsed_s: f64) -> String {
    let all =
        if counts.all_files > 0 { format!(" of {}", counts.all_files) } else { String::new() };
    let mut parts = vec![
        format!("{}{all} files", counts.files),
        format!("{} of sound", clock(counts.audio_s)),
        format!("{:.0} x", counts.audio_s / elapsed_s.max(1e-3)),
    ];
    if let Some(left_s) = counts.left_s(elapsed_s) {
        parts.push(format!("{} left", clock(left_s)));
    }
    parts.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_tells_files_sound_rate_and_time_left() {
        let counts = Counts { all_files: 8, all_bytes: 400, files: 2, bytes: 100, audio_s: 3725.0 };
        assert_eq!(line(&counts, 10.0), "2 of 8 files, 1:02:05 of sound, 372 x, 0:00:30 left");
        let unknown = Counts { audio_s: 5.0, ..Counts::default() };
        assert_eq!(line(&unknown, 10.0), "0 files, 0:00:05 of sound, 0 x");
    }
}
