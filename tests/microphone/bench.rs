//! A virtual microphone that ends with the test, and the program listening to it.

use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStderr, ChildStdin, ChildStdout, Command, Output, Stdio};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use tempfile::TempDir;

const SCRIPT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/scripts/virtual-microphone");

/// A virtual microphone of a test's own.
pub struct Bench {
    folder: TempDir,
}

/// Says loudly that the rest of a test was left out: past the test harness, which shows nothing of
/// tests that pass.
pub fn say_skipped(why: &str) {
    let name = std::thread::current().name().unwrap_or_default().to_owned();
    let text = format!("\n*** SKIPPED {name}: {why}\n");
    std::io::stderr().write_all(text.as_bytes()).unwrap();
}

impl Bench {
    /// Starts one; `None`, after saying so loudly, where none can run.
    pub fn start() -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let output = Command::new(SCRIPT).arg("start").arg(folder.path()).output().unwrap();
        if output.status.success() {
            return Some(Self { folder });
        }
        let reason = String::from_utf8_lossy(&output.stderr);
        let required = std::env::var_os("REEDCROW_MICROPHONE").is_some_and(|is| is == "required");
        assert!(!required, "no virtual microphone: {reason}");
        say_skipped(&format!("no virtual microphone: {}", reason.trim()));
        None
    }

    /// A path in a folder that goes with the test.
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The program, hearing this microphone.
    pub fn reedcrow(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_reedcrow"));
        let folder = self.folder.path().canonicalize().unwrap();
        command
            .env("ALSA_CONFIG_PATH", folder.join("asound.conf"))
            .env("PULSE_SERVER", format!("unix:{}", folder.join("socket").display()))
            .env("PULSE_RUNTIME_PATH", folder.join("runtime"))
            // What a check found is kept in the log: in one that goes with the test.
            .env("XDG_DATA_HOME", folder.join("data"))
            .env("LC_ALL", "C.UTF-8")
            .stdin(Stdio::null());
        command
    }

    /// Plays a WAV into the microphone; returns when it is over.
    pub fn play(&self, wav: &Path) {
        let played =
            Command::new(SCRIPT).arg("play").arg(self.folder.path()).arg(wav).output().unwrap();
        assert!(played.status.success(), "{}", String::from_utf8_lossy(&played.stderr));
    }

    /// Takes the microphone away.
    pub fn stop(&self) {
        let stopped = Command::new(SCRIPT).arg("stop").arg(self.folder.path()).status().unwrap();
        assert!(stopped.success());
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        let _ = Command::new(SCRIPT).arg("stop").arg(self.folder.path()).status();
    }
}

/// A program that is running.
pub struct Running(Option<Child>);

impl Running {
    /// Starts `command` with its output kept.
    pub fn start(command: &mut Command) -> Self {
        Self(Some(command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()))
    }

    /// Where to type; the command must have been given a pipe.
    pub fn stdin(&mut self) -> ChildStdin {
        self.0.as_mut().unwrap().stdin.take().unwrap()
    }

    /// Types Ctrl-C.
    pub fn interrupt(&self) {
        let id = self.0.as_ref().unwrap().id().to_string();
        assert!(Command::new("kill").args(["-INT", &id]).status().unwrap().success());
    }

    /// What it prints, to be read while it runs.
    pub fn stdout(&mut self) -> ChildStdout {
        self.0.as_mut().unwrap().stdout.take().unwrap()
    }

    /// What it tells beside that.
    pub fn stderr(&mut self) -> ChildStderr {
        self.0.as_mut().unwrap().stderr.take().unwrap()
    }

    /// Kills it (SIGKILL).
    pub fn kill(mut self) {
        let mut child = self.0.take().unwrap();
        child.kill().unwrap();
        child.wait().unwrap();
    }

    /// Waits for its end, for at most `limit_s` seconds.
    pub fn ended(mut self, limit_s: u64) -> Output {
        let mut child = self.0.take().unwrap();
        let limit = Instant::now() + Duration::from_secs(limit_s);
        while child.try_wait().unwrap().is_none() {
            if Instant::now() > limit {
                let _ = child.kill();
                panic!("still running after {limit_s} s: {:?}", child.wait_with_output());
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        child.wait_with_output().unwrap()
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        if let Some(child) = &mut self.0 {
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

/// What a running program has written so far.
pub struct Told {
    so_far: Arc<Mutex<String>>,
    reading: JoinHandle<()>,
}

impl Told {
    /// Reads `pipe` to its end.
    pub fn begin(pipe: impl Read + Send + 'static) -> Self {
        let so_far = Arc::new(Mutex::new(String::new()));
        let told = so_far.clone();
        let reading = std::thread::spawn(move || {
            for line in BufReader::new(pipe).lines() {
                *told.lock().unwrap() += &(line.unwrap() + "\n");
            }
        });
        Self { so_far, reading }
    }

    /// Waits until so many of its lines begin with `begins`, however slow the machine is: longer
    /// than anyone would wait is a failure.
    pub fn wait_for(&self, begins: &str, times: usize) {
        let limit = Instant::now() + Duration::from_secs(120);
        loop {
            let so_far = self.so_far.lock().unwrap().clone();
            if so_far.lines().filter(|line| line.starts_with(begins)).count() >= times {
                return;
            }
            assert!(Instant::now() < limit, "no {times} lines begin with {begins:?} in\n{so_far}");
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// All of it, once the program has ended.
    pub fn whole(self) -> String {
        self.reading.join().unwrap();
        self.so_far.lock().unwrap().clone()
    }
}

/// Holds what was said against a file of that name in `goldens`.
pub fn golden(name: &str, said: &str) {
    crate::golden::held("../microphone/goldens", name, &crate::golden::timeless(said));
}

/// What a program wrote, as text.
pub fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// Gives a program that was just started the time to open the microphone.
pub fn let_it_open() {
    std::thread::sleep(Duration::from_millis(800));
}
