//! A whole mending by keyboard in a real browser. Needs Debian's chromium, Node, what `npm ci` brings
//! into tests/page/browser, and a virtual microphone; where one is missing it says so and passes,
//! unless REEDCROW_BROWSER=required is set.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::served::Served;

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

/// The virtual microphone, stopped when it goes.
struct Microphone(tempfile::TempDir);

impl Microphone {
    fn start() -> Result<Self, String> {
        let folder = tempfile::tempdir().unwrap();
        let script = Path::new(ROOT).join("scripts/virtual-microphone");
        let output = Command::new(script).arg("start").arg(folder.path()).output().unwrap();
        match output.status.success() {
            true => Ok(Self(folder)),
            false => Err(String::from_utf8_lossy(&output.stderr).trim().to_owned()),
        }
    }

    fn hears(&self, command: &mut Command) {
        let folder = self.0.path().canonicalize().unwrap();
        command
            .env("ALSA_CONFIG_PATH", folder.join("asound.conf"))
            .env("PULSE_SERVER", format!("unix:{}", folder.join("socket").display()))
            .env("PULSE_RUNTIME_PATH", folder.join("runtime"));
    }
}

impl Drop for Microphone {
    fn drop(&mut self) {
        let script = Path::new(ROOT).join("scripts/virtual-microphone");
        let _ = Command::new(script).arg("stop").arg(self.0.path()).status();
    }
}

fn missing() -> Option<String> {
    let runs = |program: &str| Command::new(program).arg("--version").output().is_ok();
    let modules = Path::new(ROOT).join("tests/page/browser/node_modules/playwright-core");
    match (runs("node"), runs("chromium"), modules.is_dir()) {
        (true, true, true) => None,
        (node, chromium, modules) => {
            Some(format!("node {node}, chromium {chromium}, npm packages {modules}"))
        }
    }
}

fn skipped(why: &str) {
    let required = std::env::var_os("REEDCROW_BROWSER").is_some_and(|is| is == "required");
    assert!(!required, "{why}");
    let name = std::thread::current().name().unwrap_or_default().to_owned();
    let text = format!("\n*** SKIPPED {name}: {why}\n");
    std::io::stderr().write_all(text.as_bytes()).unwrap();
}

#[test]
fn a_reed_is_mended_by_keyboard_alone() {
    if let Some(why) = missing() {
        return skipped(&why);
    }
    let microphone = match Microphone::start() {
        Ok(microphone) => microphone,
        Err(why) => return skipped(&format!("no virtual microphone: {why}")),
    };
    let folder = tempfile::tempdir().unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_reedcrow"));
    microphone.hears(&mut command);
    let bench = Served::start(command, &folder.path().join("reeds.db"));
    let pictures = std::env::var_os("REEDCROW_PICTURES").map(PathBuf::from);
    let pictures = pictures.unwrap_or_else(|| folder.path().to_owned());
    let mut mending = Command::new("node");
    microphone.hears(&mut mending);
    let output = mending
        .current_dir(ROOT)
        .arg("tests/page/browser/mending.mjs")
        .arg(bench.url())
        .arg(microphone.0.path())
        .args(["demo-data/mirek-12-before.wav", "demo-data/mirek-12-after.wav"])
        .arg(pictures)
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
}

/// A reed that was clipped, crowed before and after, on the bench; without a microphone.
fn with_a_mended_reed(log: &Path) -> Served {
    let demo = |name: &str| format!("{ROOT}/demo-data/{name}.wav");
    let did = |arguments: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_reedcrow"));
        let ran = command.args(arguments).env("REEDCROW_LOG", log).output().unwrap();
        assert!(ran.status.success(), "{arguments:?}: {ran:?}");
    };
    did(&["reed", "new", "mirek-12", "--owner", "Mirek", "--complaint", "flat, low octave late"]);
    did(&["reed", "measure", "mirek-12", "length", "70.6", "staple", "47", "heart", "61.3"]);
    did(&["reed", "take", "mirek-12", &demo("mirek-12-before")]);
    did(&["reed", "step", "mirek-12", "clip", "0.3"]);
    did(&["reed", "take", "mirek-12", &demo("mirek-12-after")]);
    let bench = Served::start(Served::deaf(), log);
    bench.say(&bench.token(), "reed mirek-12");
    bench
}

/// Small laptops, without a microphone: the bar at the bottom hides nothing for good.
#[test]
fn nothing_stays_hidden_under_the_bar_on_small_screens() {
    if let Some(why) = missing() {
        return skipped(&why);
    }
    let folder = tempfile::tempdir().unwrap();
    let bench = with_a_mended_reed(&folder.path().join("reeds.db"));
    let mut fits = Command::new("node");
    fits.current_dir(ROOT).arg("tests/page/browser/fits.mjs").arg(bench.url());
    fits.args(std::env::var_os("REEDCROW_PICTURES"));
    let output = fits.output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

#[test]
fn what_is_pressed_typed_and_chosen_leads_where_it_says() {
    if let Some(why) = missing() {
        return skipped(&why);
    }
    let folder = tempfile::tempdir().unwrap();
    let bench = with_a_mended_reed(&folder.path().join("reeds.db"));
    let mut leads = Command::new("node");
    leads.current_dir(ROOT).arg("tests/page/browser/leads.mjs").arg(bench.url());
    let output = leads.arg("demo-data/anouk-7-good.wav").output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}
