//! What folders hold besides recordings, and names that are hard to carry.

use std::ffi::OsStr;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::symlink;

use crate::{Workshop, rows};

#[test]
fn odd_names_have_their_rows() {
    let workshop = Workshop::new();
    let take = workshop.take("one.wav", 520.0, 0.6);
    std::fs::create_dir(workshop.path("odd")).unwrap();
    let names: [&[u8]; 6] = [
        b"a\nb.wav",
        b"c,\"d\".wav",
        b"e\xff\xfe.wav",
        b"-f.wav",
        "g \u{202e}h é.wav".as_bytes(),
        b" ",
    ];
    for name in names {
        std::fs::copy(&take, workshop.path("odd").join(OsStr::from_bytes(name))).unwrap();
    }
    for table in ["odd.csv", "odd.jsonl"] {
        let ran = workshop.batch(&["odd", "--out", table]);
        assert_eq!(ran.code, Some(0), "{ran:?}");
        let whole = workshop.text(table);
        let ran = workshop.batch(&["odd", "--out", table, "--resume"]);
        assert_eq!(ran.earlier(), 6, "{}", ran.out);
        assert_eq!(workshop.text(table), whole);
    }
    let sources: Vec<_> = rows(&workshop.path("odd.csv")).into_iter().map(|row| row.0).collect();
    assert!(sources.contains(&"odd/a\nb.wav".to_owned()), "{sources:?}");
    assert!(sources.contains(&"odd/e\u{fffd}\u{fffd}.wav".to_owned()), "{sources:?}");
    // A list separated by zero bytes carries every name.
    let list = names.map(|name| [b"odd/", name, b"\0"].concat()).concat();
    std::fs::write(workshop.path("list"), list).unwrap();
    let ran = workshop.batch(&["--files-from", "list", "--out", "list.csv"]);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    assert_eq!(rows(&workshop.path("list.csv")).len(), 6);
}

#[test]
fn folders_inside_are_read_when_asked_for_however_deep() {
    let workshop = Workshop::new();
    let take = workshop.take("reeds/top.wav", 520.0, 0.6);
    let mut deep = workshop.path("reeds");
    for level in 0..60 {
        deep.push(format!("level {level}"));
        std::fs::create_dir(&deep).unwrap();
    }
    std::fs::copy(&take, deep.join("bottom.wav")).unwrap();
    std::fs::create_dir(workshop.path("reeds/.hidden")).unwrap();
    let ran = workshop.batch(&["reeds", "--out", "flat.csv"]);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    assert!(ran.out.lines().any(|line| line.starts_with("1 ") && line.contains("--recursive")));
    assert_eq!(rows(&workshop.path("flat.csv")).len(), 1);
    let ran = workshop.batch(&["reeds", "--recursive", "--out", "deep.csv"]);
    assert!(!ran.out.contains("--recursive"), "{}", ran.out);
    let found = rows(&workshop.path("deep.csv"));
    assert_eq!(found.len(), 2);
    assert!(found[0].0.ends_with("bottom.wav"), "{found:?}");
}

#[test]
fn links_in_a_circle_are_one_line_and_links_to_recordings_are_read() {
    let workshop = Workshop::new();
    let take = workshop.take("reeds/a.wav", 520.0, 0.6);
    std::fs::create_dir(workshop.path("reeds/sub")).unwrap();
    symlink(workshop.path("reeds"), workshop.path("reeds/sub/round")).unwrap();
    symlink(&take, workshop.path("reeds/sub/b.wav")).unwrap();
    symlink("nowhere.wav", workshop.path("reeds/sub/broken.wav")).unwrap();
    symlink("self.wav", workshop.path("reeds/sub/self.wav")).unwrap();
    let ran = workshop.batch(&["reeds", "--recursive", "--out", "table.csv"]);
    assert_eq!(ran.code, Some(1), "{ran:?}");
    for name in ["round", "broken.wav", "self.wav"] {
        assert_eq!(ran.err.lines().filter(|line| line.contains(name)).count(), 1, "{}", ran.err);
    }
    // A link that leads nowhere stands for a recording that somebody misses.
    let found = rows(&workshop.path("table.csv"));
    assert_eq!(found.len(), 4, "{found:?}");
    for name in ["broken.wav", "self.wav"] {
        let row = found.iter().find(|(source, _)| source.ends_with(name)).unwrap();
        assert!(!row.1.is_empty(), "{found:?}");
    }
    ran.golden("links");
}

#[test]
fn what_is_no_recording_is_passed_over_unless_it_is_named() {
    let workshop = Workshop::new();
    workshop.take("reeds/a.wav", 520.0, 0.6);
    // What a file manager of another system leaves beside a recording.
    std::fs::write(workshop.path("reeds/._a.wav"), [0, 5, 22, 7, 0, 2, 0, 0]).unwrap();
    std::fs::write(workshop.path("reeds/picture.jpg"), [0xff, 0xd8, 0xff, 0xe0]).unwrap();
    std::fs::copy(workshop.path("reeds/a.wav"), workshop.path("reeds/no ending")).unwrap();
    let pipe = std::process::Command::new("mkfifo").arg(workshop.path("reeds/pipe.wav")).status();
    assert!(pipe.unwrap().success());
    let ran = workshop.batch(&["reeds", "--out", "table.csv"]);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    assert_eq!(rows(&workshop.path("table.csv")).len(), 2);
    let ran =
        workshop.batch(&["reeds/picture.jpg", "reeds/pipe.wav", "gone.wav", "--out", "named.csv"]);
    assert_eq!(ran.code, Some(1), "{ran:?}");
    let named = rows(&workshop.path("named.csv"));
    assert!(named.len() == 3 && named.iter().all(|row| !row.1.is_empty()), "{named:?}");
    ran.golden("not-recordings");
}

#[test]
fn a_folder_without_recordings_says_so() {
    let workshop = Workshop::new();
    std::fs::create_dir(workshop.path("empty")).unwrap();
    for arguments in [&["empty", "--out", "table.csv", "--page", "page.html"][..], &["empty"]] {
        let ran = workshop.batch(arguments);
        assert_eq!((ran.code, ran.out.contains("source,")), (Some(1), false), "{}", ran.out);
        ran.golden("empty-folder");
    }
    // A slip of the keys leaves nothing behind.
    let ran =
        workshop.batch(&["emty", "--out", "table.csv", "--plots", "p", "--page", "page.html"]);
    assert_eq!((ran.code, ran.out.as_str(), ran.err.lines().count()), (Some(1), "", 1));
    assert!(ran.err.contains("emty"), "{}", ran.err);
    assert_eq!(std::fs::read_dir(workshop.path(".")).unwrap().count(), 1);
}
