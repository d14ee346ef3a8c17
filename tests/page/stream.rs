//! What the page is sent while it is open.

use std::io::{BufRead, BufReader, Write};
use std::net::TcpStream;
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use crate::served::Served;

/// One event: when it came, what it is called, and its HTML.
pub struct Sent {
    pub at: Instant,
    pub name: String,
    pub html: String,
}

/// The events of a bench, as they come.
pub struct Stream(Receiver<Sent>);

impl Stream {
    pub fn open(bench: &Served) -> Self {
        let mut stream = TcpStream::connect(("127.0.0.1", bench.port)).unwrap();
        let request = format!("GET /events HTTP/1.1\r\nHost: 127.0.0.1:{}\r\n\r\n", bench.port);
        stream.write_all(request.as_bytes()).unwrap();
        let (send, receive) = channel();
        std::thread::spawn(move || {
            let mut name = String::new();
            for line in BufReader::new(stream).lines().map_while(Result::ok) {
                if let Some(told) = line.strip_prefix("event: ") {
                    name = told.to_owned();
                } else if let Some(html) = line.strip_prefix("data: ") {
                    let sent = Sent { at: Instant::now(), name: name.clone(), html: html.into() };
                    if send.send(sent).is_err() {
                        return;
                    }
                }
            }
        });
        Self(receive)
    }

    /// The next event that `wanted` takes, however slow the machine is.
    pub fn wait_for(&self, wanted: impl Fn(&Sent) -> bool) -> Sent {
        let limit = Instant::now() + Duration::from_secs(120);
        loop {
            let left = limit.saturating_duration_since(Instant::now());
            let sent = self.0.recv_timeout(left).expect("it is sent");
            if wanted(&sent) {
                return sent;
            }
        }
    }

    /// Those that have come since.
    pub fn so_far(&self) -> impl Iterator<Item = Sent> + '_ {
        self.0.try_iter()
    }
}
