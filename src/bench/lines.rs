//! Lines typed while something else goes on.

use std::io::BufRead;
use std::sync::mpsc::{Receiver, channel};

/// Lines of standard input, read on a thread of their own, which ends with the input.
#[derive(Debug)]
pub struct Lines {
    receiver: Receiver<String>,
}

impl Lines {
    /// Begins to read.
    pub fn begin() -> Self {
        let (sender, receiver) = channel();
        std::thread::spawn(move || {
            let lines = std::io::stdin().lock().lines();
            for line in lines.map_while(Result::ok) {
                if sender.send(line).is_err() {
                    break;
                }
            }
        });
        Self { receiver }
    }

    /// The next line, if one was typed.
    pub fn next(&self) -> Option<String> {
        self.receiver.try_recv().ok()
    }
}
