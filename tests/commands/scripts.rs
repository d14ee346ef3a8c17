//! What the scripts say on systems that are not Debian, played by a path on which the tools of those
//! stand.

use std::path::Path;
use std::process::{Command, Output};

use tempfile::TempDir;

/// A folder with programs that print a line, and those of this system that scripts use.
fn tools(fakes: &[(&str, &str)]) -> TempDir {
    let folder = TempDir::new().unwrap();
    for (name, line) in fakes {
        let path = folder.path().join(name);
        // Written by a process of its own: one that another test starts meanwhile would hold a file open
        // that this one writes, and what is held open for writing does not run.
        let written = Command::new("sh")
            .args(["-c", "printf '#!/bin/sh\\n%s\\n' \"$2\" >\"$1\" && chmod 755 \"$1\"", "sh"])
            .arg(&path)
            .arg(line)
            .status()
            .unwrap();
        assert!(written.success());
    }
    for name in ["bash", "dirname", "env"] {
        let real = ["/bin", "/usr/bin"].iter().map(|place| Path::new(place).join(name));
        let real = real.into_iter().find(|path| path.exists()).unwrap();
        std::os::unix::fs::symlink(real, folder.path().join(name)).unwrap();
    }
    folder
}

fn run(script: &str, tools: &TempDir) -> Output {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("scripts").join(script);
    Command::new(script).env_clear().env("PATH", tools.path()).output().unwrap()
}

const MAC: (&str, &str) = ("uname", "echo Darwin");
const LINUX: (&str, &str) = ("uname", "echo Linux");

#[test]
fn building_wants_of_each_system_what_it_needs_there() {
    let compiler = ("cc", "exit 0");
    let cmake = ("cmake", "exit 0");
    for (fakes, says) in [
        (&[MAC, compiler, ("xcode-select", "exit 0"), cmake][..], None),
        (&[MAC, compiler, ("xcode-select", "exit 0")], Some("brew install cmake")),
        (&[MAC, compiler, ("xcode-select", "exit 2")], Some("xcode-select --install")),
        (&[MAC], Some("xcode-select --install")),
        (&[LINUX, compiler, cmake, ("pkg-config", "exit 0")], None),
        (&[LINUX, compiler, cmake, ("pkg-config", "exit 1")], Some("ALSA's headers")),
        (&[LINUX], Some("a C compiler, cmake, pkg-config and ALSA's headers")),
    ] {
        let ran = run("build-needs", &tools(fakes));
        let said = String::from_utf8_lossy(&ran.stderr).into_owned();
        assert_eq!(ran.status.success(), says.is_none(), "{fakes:?}: {said}");
        assert!(said.contains(says.unwrap_or_default()), "{fakes:?}: {said}");
        assert!(says.is_none() || said.lines().count() == 1, "{said}");
    }
}

#[test]
fn without_rust_it_is_said_where_it_comes_from() {
    let ran = run("rust-here", &tools(&[]));
    let said = String::from_utf8_lossy(&ran.stderr).into_owned();
    assert!(!ran.status.success() && said.contains("https://rustup.rs"), "{said}");
}
