//! How far a batch is: a bar on a terminal, plain lines elsewhere.

use std::io::{self, IsTerminal};
use std::sync::Arc;
use std::sync::mpsc::{self, RecvTimeoutError, Sender};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressStyle};

use crate::batch::{Counts, Inputs, Progress, clock};
use crate::cli::output;
use crate::words::batch as words;

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

fn line(counts: &Counts, elapsed_s: f64) -> String {
    let speed = counts.audio_s / elapsed_s.max(1e-3);
    let left = counts.left_s(elapsed_s).map(clock);
    words::progress((counts.files, counts.all_files), &clock(counts.audio_s), speed, left)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_tells_files_sound_rate_and_time_left() {
        let counts = Counts { all_files: 8, all_bytes: 400, files: 2, bytes: 100, audio_s: 3725.0 };
        // A quarter of the bytes took 10 s: 30 s are left; 3725 s of sound in 10 s.
        let left = Some("0:00:30".to_owned());
        assert_eq!(line(&counts, 10.0), words::progress((2, 8), "1:02:05", 372.5, left));
        let unknown = Counts { audio_s: 5.0, ..Counts::default() };
        assert_eq!(line(&unknown, 10.0), words::progress((0, 0), "0:00:05", 0.5, None));
    }
}
