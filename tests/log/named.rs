//! Recordings in the log's folder are named by what they hold.

use std::fs;

use serde_json::json;

use super::Workshop;
use super::work::DEMO;

#[test]
fn recordings_are_named_by_what_they_hold_and_travel_as_such() {
    let Some(flac) = flac() else { return };
    let workshop = Workshop::with_a_reed();
    // A wrong ending: the content counts.
    let path = workshop.path("phone.wav");
    fs::write(&path, flac).unwrap();
    workshop.says(&["reed", "take", "A", &path.display().to_string()]);
    let names = |folder: &str| -> Vec<String> {
        let entries = fs::read_dir(workshop.path(folder)).unwrap();
        let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
        // What is being written has a folder of its own there.
        names.filter(|name| name.len() > 64).collect()
    };
    assert!(names("reeds.audio").iter().all(|name| name.ends_with(".flac")));
    assert_eq!(workshop.log().check().unwrap().faults, []);
    assert_eq!(workshop.says(&["log", "reread"]), "1 take, 1 as before\n");
    let folder = workshop.path("out").display().to_string();
    workshop.says(&["reed", "export", &folder]);
    assert_eq!(names("out/audio"), names("reeds.audio"));
    let other = workshop.path("other.db").display().to_string();
    workshop.says(&["reed", "import", &folder, "--log", &other]);
    assert_eq!(workshop.tells(&["log", "check", "--log", &other])["faults"], json!([]));

    // As an earlier version left it: every recording named as a WAV.
    for name in names("reeds.audio") {
        let earlier = workshop.path("reeds.audio").join(&name);
        fs::rename(&earlier, earlier.with_extension("wav")).unwrap();
    }
    assert_eq!(workshop.log().check().unwrap().faults, []);
    assert_eq!(workshop.says(&["log", "reread"]), "1 take, 1 as before\n");
    let again = workshop.path("again").display().to_string();
    workshop.says(&["reed", "export", &again]);
    assert!(names("again/audio").iter().all(|name| name.ends_with(".flac")));
}

/// A demo take as FLAC; `None`, after saying so loudly, where no FFmpeg can make one.
fn flac() -> Option<Vec<u8>> {
    let folder = tempfile::tempdir().unwrap();
    let to = folder.path().join("take.flac");
    let made = std::process::Command::new("ffmpeg")
        .args(["-loglevel", "error", "-i", &format!("{DEMO}/mirek-12-before.wav")])
        .arg(&to)
        .output();
    match made {
        Ok(made) if made.status.success() => Some(fs::read(&to).unwrap()),
        _ => {
            use std::io::Write;
            let text = "\n*** SKIPPED recordings named by what they hold: no FFmpeg\n";
            std::io::stderr().write_all(text.as_bytes()).unwrap();
            None
        }
    }
}
