//! The program serving, and plain requests to it.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// A bench that is served until the test ends.
pub struct Served {
    child: Child,
    pub port: u16,
}

/// What was answered.
#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: String,
}

impl Served {
    /// Starts it on `log`, with no microphone unless `command` brings one.
    pub fn start(mut command: Command, log: &Path) -> Self {
        let mut child = command
            .args(["bench", "--no-open", "--port", "0", "--log"])
            .arg(log)
            .stdin(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut told = BufReader::new(child.stderr.take().unwrap()).lines();
        let port = told
            .by_ref()
            .map_while(Result::ok)
            .find_map(|line| {
                let (_, rest) = line.split_once("http://127.0.0.1:")?;
                rest.trim_end_matches('/').parse().ok()
            })
            .expect("it says where it is served");
        // The pipe stays open, or what it tells later would end it.
        std::thread::spawn(move || told.for_each(drop));
        Self { child, port }
    }

    /// The program without any microphone.
    pub fn deaf() -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_reedcrow"));
        command.env("ALSA_CONFIG_PATH", "/dev/null").env_remove("PULSE_SERVER");
        command
    }

    pub fn url(&self) -> String {
        format!("http://127.0.0.1:{}/", self.port)
    }

    /// Sends bytes, returns what comes until the server closes.
    pub fn raw(&self, request: &[u8]) -> Answer {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(600))).unwrap();
        // What is refused early is not read to its end.
        let _ = stream.write_all(request);
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        Answer::of(&String::from_utf8_lossy(&answer))
    }

    pub fn get(&self, path: &str) -> Answer {
        self.raw(
            format!(
                "GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nConnection: close\r\n\r\n",
                self.port
            )
            .as_bytes(),
        )
    }

    /// The token of this start, as the page has it.
    pub fn token(&self) -> String {
        let page = self.get("/").body;
        let (_, rest) = page.split_once("name=\"token\" content=\"").unwrap();
        rest.split('"').next().unwrap().to_owned()
    }

    /// Says a line.
    pub fn say(&self, token: &str, line: &str) -> Answer {
        let body = format!("token={token}&line={}", line.replace(' ', "+"));
        let request = format!(
            "POST /say HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nX-Bench: 1\r\nConnection: close\r\n\
             Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{body}",
            self.port,
            body.len()
        );
        self.raw(request.as_bytes())
    }

    /// The number of its process.
    pub fn process(&self) -> String {
        self.child.id().to_string()
    }

    /// Memory that it holds, in KiB (Linux); 0 where the system does not say.
    pub fn memory_kib(&self) -> u64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id()));
        let line = status.ok().and_then(|status| {
            status.lines().find(|line| line.starts_with("VmRSS")).map(str::to_owned)
        });
        line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok()).unwrap_or(0)
    }

    /// Kills it (SIGKILL).
    pub fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

/// The words of a page's element, a line each; its markup left out.
///
/// * `after`: its class, as it stands in the page.
/// * `end`: the markup at which it is over.
pub fn words_of(html: &str, after: &str, end: &str) -> String {
    let (_, inside) =
        html.split_once(&format!("class=\"{after}\"")).unwrap_or_else(|| panic!("{html}"));
    let inside = inside.split(end).next().unwrap();
    let texts = inside.split('>').skip(1).filter_map(|part| part.split('<').next());
    texts.filter(|text| !text.trim().is_empty()).map(|text| format!("{}\n", text.trim())).collect()
}

impl Answer {
    fn of(text: &str) -> Self {
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((text, ""));
        let status = head.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or(0);
        Self { status, head: head.to_lowercase(), body: body.to_owned() }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        // Ended in order, it writes what it ran through.
        if std::env::var_os("LLVM_PROFILE_FILE").is_some() {
            let _ = Command::new("kill").arg(self.process()).status();
            let _ = self.child.wait();
        }
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
