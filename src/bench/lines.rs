//! Lines typed while something else goes on.

use std::io::{BufRead, IsTerminal};
use std::sync::mpsc::{Receiver, channel};

/// Lines of standard input, read on a thread of their own, which ends with the input.
///
/// On a terminal the end of the input, Ctrl-D, is a wish to end: it counts as a last line `q`. From
/// a pipe it only means that no more will be typed.
#[derive(Debug)]
pub struct Lines {
    receiver: Receiver<String>,
}

impl Lines {
    /// Begins to read.
    pub fn begin() -> Self {
        let (sender, receiver) = channel();
        std::thread::spawn(move || {
            let lines = std::io::stdin().lock().split(b'\n');
            for line in lines.map_while(Result::ok) {
                // What is no UTF-8 is refused as an unknown command, and typing goes on.
                if sender.send(String::from_utf8_lossy(&line).into_owned()).is_err() {
                    return;
                }
            }
            if std::io::stdin().is_terminal() {
                // Nobody listens any more where the session ended first.
                let _ = sender.send("q".to_owned());
            }
        });
        Self { receiver }
    }

    /// The next line, if one was typed.
    pub fn next(&self) -> Option<String> {
        self.receiver.try_recv().ok()
    }
}
