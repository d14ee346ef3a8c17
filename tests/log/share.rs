//! Crows that are given away carry nothing of whose they are.

use std::fs;

use reedcrow::log::SharedCrow;

use super::Workshop;

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data");

/// The demo take with what a phone writes into a WAV beside the sound: an INFO list (Microsoft RIFF
/// specification, 1991, from memory).
fn with_metadata() -> Vec<u8> {
    let mut bytes = fs::read(format!("{DEMO}/mirek-12-before.wav")).unwrap();
    let name = b"IART\x10\0\0\0Mirek Secretson\0";
    bytes.extend(b"LIST");
    bytes.extend((name.len() as u32 + 4).to_le_bytes());
    bytes.extend(b"INFO");
    bytes.extend(name);
    let size = (bytes.len() - 8) as u32;
    bytes[4..8].copy_from_slice(&size.to_le_bytes());
    bytes
}

#[test]
fn no_name_note_date_or_metadata_goes_along() {
    for name in ["Secretson", "Żofia <b>&\"', Ωmega; =1+1", "秘密 e\u{301}tude"] {
        nothing_goes_along_of(name);
    }
}

fn nothing_goes_along_of(secret: &str) {
    let workshop = Workshop::new();
    let run = |arguments: &[&str]| {
        let output = workshop.reedcrow(arguments).output().unwrap();
        assert!(
            output.status.success(),
            "{arguments:?}: {}",
            String::from_utf8_lossy(&output.stderr)
        );
        String::from_utf8(output.stdout).unwrap()
    };
    let label = &format!("{secret} 1");
    run(&["reed", "new", label, "--owner", secret, "--maker", secret, "--complaint", secret]);
    let take = workshop.path("Secretson at home 2026-03-01.wav");
    fs::write(&take, with_metadata()).unwrap();
    run(&["reed", "measure", label, "--length-mm", "70.6"]);
    run(&["reed", "take", label, take.to_str().unwrap(), "--player", secret]);
    run(&["reed", "heard", label, "octaves", "--crow", "2"]);
    run(&["reed", "step", label, "note", secret]);
    let folder = workshop.path("given");
    run(&["log", "share", folder.to_str().unwrap(), "--licence", "CC-BY-4.0"]);
    let mut files = Vec::new();
    for entry in fs::read_dir(&folder).unwrap() {
        let path = entry.unwrap().path();
        let bytes = fs::read(&path).unwrap();
        let text = String::from_utf8_lossy(&bytes);
        assert!(
            ![secret, "Secretson", "2026"].iter().any(|told| text.contains(told)),
            "{}: {text:.300}",
            path.display()
        );
        let modified = path.metadata().unwrap().modified().unwrap();
        let since = modified.duration_since(std::time::UNIX_EPOCH).unwrap();
        assert_eq!(since.as_secs(), 315_532_800, "{}", path.display());
        files.push(path.file_name().unwrap().to_string_lossy().into_owned());
    }
    files.sort();
    let whole = ["LICENCE.txt", "README.md", "crow-00001.wav", "crow-00002.wav", "crow-00003.wav"];
    assert_eq!(files, [&whole[..], &["crows.jsonl"]].concat());
    let list = fs::read_to_string(folder.join("crows.jsonl")).unwrap();
    let crows: Vec<SharedCrow> =
        list.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(crows.len(), 3);
    assert_eq!(crows.iter().filter(|crow| crow.heard.is_some()).count(), 1);
    assert!(crows.iter().all(|crow| crow.measured.length_mm == Some(70.6)));
    assert!(fs::read_to_string(folder.join("LICENCE.txt")).unwrap().contains("licenses/by/4.0"));
    // Each is a recording of its own that reads as one crow.
    let one = folder.join("crow-00002.wav").display().to_string();
    let line: serde_json::Value = serde_json::from_str(&run(&["analyse", "--json", &one])).unwrap();
    let off = line["summary"]["fundamental"]["target_cents"].as_f64().unwrap();
    assert!((off + 57.4).abs() < 8.0, "{off}");
}
