//! The prompt in a terminal of a size: the last lines stay, and a session is held in them.

use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use crate::bench::{Bench, say_skipped, text};

const BEFORE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/mirek-12-before.wav");
const AFTER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/mirek-12-after.wav");

/// A terminal of its own; gone with the test.
struct Terminal {
    server: String,
    columns: usize,
}

impl Terminal {
    /// Runs `line` in one of that size; `None`, after saying so loudly, without tmux.
    fn start(columns: usize, rows: usize, folder: &Path, line: &str) -> Option<Self> {
        if Command::new("tmux").arg("-V").output().is_err() {
            say_skipped("tmux is not installed");
            return None;
        }
        let terminal = Self { server: folder.join("tmux").display().to_string(), columns };
        let size = [columns.to_string(), rows.to_string()];
        terminal.tmux(&["new-session", "-d", "-x", &size[0], "-y", &size[1], line]);
        Some(terminal)
    }

    fn tmux(&self, arguments: &[&str]) -> String {
        let output =
            Command::new("tmux").args(["-S", &self.server]).args(arguments).output().unwrap();
        assert!(output.status.success(), "{arguments:?}: {}", text(&output.stderr));
        text(&output.stdout)
    }

    fn screen(&self) -> Vec<String> {
        let screen = self.tmux(&["capture-pane", "-p"]);
        screen.lines().map(|line| line.trim_end().to_owned()).collect()
    }

    fn types(&self, line: &str) {
        self.tmux(&["send-keys", "-l", line]);
        self.tmux(&["send-keys", "Enter"]);
    }

    /// Waits until the screen is as wanted, however slow the machine is.
    fn wait_for(&self, what: &str, wanted: impl Fn(&[String]) -> bool) -> Vec<String> {
        let limit = Instant::now() + Duration::from_secs(120);
        loop {
            let screen = self.screen();
            if wanted(&screen) {
                return screen;
            }
            assert!(Instant::now() < limit, "no {what} in\n{}", screen.join("\n"));
            std::thread::sleep(Duration::from_millis(100));
        }
    }

    /// Waits until `words` stand there, broken into lines or not.
    fn shows(&self, words: &str) -> Vec<String> {
        self.wait_for(words, |screen| {
            let text = screen.join(" ");
            text.split_whitespace().collect::<Vec<_>>().join(" ").contains(words)
        })
    }

    /// The last lines: pitch and kind, next move, what sounds, what may be typed, where it is typed.
    fn foot(&self, screen: &[String]) -> [String; 5] {
        let at = screen.iter().rposition(|line| line.starts_with('>')).expect("a prompt");
        assert!(screen.iter().all(|line| line.chars().count() <= self.columns), "{screen:#?}");
        std::array::from_fn(|place| screen[at + place - 4].clone())
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = Command::new("tmux").args(["-S", &self.server, "kill-server"]).output();
    }
}

fn a_session(columns: usize, rows: usize) {
    let Some(bench) = Bench::start() else { return };
    let log = bench.path("reeds.db");
    for arguments in [&["reed", "new", "A"][..], &["reed", "measure", "A", "length", "70.6"]] {
        let done = bench.reedcrow().env("REEDCROW_LOG", &log).args(arguments).status().unwrap();
        assert!(done.success());
    }
    let folder = bench.path("").canonicalize().unwrap();
    let line = format!(
        "ALSA_CONFIG_PATH={0}/asound.conf PULSE_SERVER=unix:{0}/socket PULSE_RUNTIME_PATH={0}/runtime \
         LC_ALL=C.UTF-8 REEDCROW_LOG={0}/reeds.db {1} listen --reed A; sleep 600",
        folder.display(),
        env!("CARGO_BIN_EXE_reedcrow")
    );
    let Some(terminal) = Terminal::start(columns, rows, &folder, &line) else { return };
    terminal.shows("Listening to");
    bench.play(Path::new(BEFORE));
    let screen = terminal.shows("57 cents flat of C5 ±8.6 · In octaves, 3 crows");
    let screen = match terminal.foot(&screen)[1].starts_with("Next: ") {
        true => screen,
        false => {
            terminal.wait_for("next move", |screen| terminal.foot(screen)[1].starts_with("Next: "))
        }
    };
    let foot = terminal.foot(&screen);
    assert_eq!(foot[0], "57 cents flat of C5 ±8.6 · In octaves, 3 crows");
    assert!(!foot[1].contains('…'), "{foot:#?}");
    assert!(foot[3].contains("u undo"), "{foot:#?}");
    assert_eq!(foot[4], ">");

    // What is not understood is no other cut, and what is can be taken back.
    terminal.types("tip cornes");
    terminal.shows("Did you mean 'tip corners'?");
    terminal.types("tip corners");
    terminal.shows("Written down: cut 1, tip corners");
    let foot = terminal.foot(&terminal.screen());
    assert!(foot[0].starts_with("Not crowed since"), "{foot:#?}");
    terminal.types("u");
    terminal.shows("Undone: tip corners");
    terminal.types("corners chipped");
    terminal.shows("Written down: corners chipped");
    terminal.types("clip 0.3");
    terminal.shows("cut 1, clip 0.3 mm");
    bench.play(Path::new(AFTER));
    terminal.wait_for("the change", |screen| {
        let foot = terminal.foot(screen);
        foot[1].starts_with("Next: ") && foot[0].contains("flat")
    });
    terminal.types("p");
    terminal.shows("Paused");
    terminal.types("q");
    terminal.shows("2 takes, 6 crows.");
}

#[test]
fn a_session_in_80_columns_and_24_rows() {
    a_session(80, 24);
}

#[test]
fn a_session_in_60_columns_and_20_rows() {
    a_session(60, 20);
}
