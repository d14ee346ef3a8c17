//! Lines typed while something else goes on.

use std::io::{BufRead, IsTerminal};
use std::sync::mpsc::{Receiver, channel};

/// Something typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Typed {
    /// A line, without its line feed.
    Line(String),
    /// Ctrl-D on a terminal, which is a wish to end, and leaves the cursor in its line.
    End,
}

/// What is typed on standard input, read on a thread of its own, which ends with the input. The end
/// of a pipe only means that no more will be typed.
#[derive(Debug)]
pub struct Lines {
    receiver: Receiver<Typed>,
}

impl Lines {
    /// Begins to read.
    pub fn begin() -> Self {
        let (sender, receiver) = channel();
        std::thread::spawn(move || {
            let lines = std::io::stdin().lock().split(b'\n');
            for line in lines.map_while(Result::ok) {
                // What is no UTF-8 is refused as an unknown command, and typing goes on.
                if sender.send(Typed::Line(String::from_utf8_lossy(&line).into_owned())).is_err() {
                    return;
                }
            }
            if std::io::stdin().is_terminal() {
                // Nobody listens any more where the session ended first.
                let _ = sender.send(Typed::End);
            }
        });
        Self { receiver }
    }

    /// The next thing typed, if anything was.
    pub fn next(&self) -> Option<Typed> {
        self.receiver.try_recv().ok()
    }
}
