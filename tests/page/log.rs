//! The page on which the log answers.

use std::path::Path;
use std::process::Command;

use crate::golden;
use crate::markup::{drawings, fault};
use crate::served::{Served, words_of};

fn reedcrow(log: &Path, arguments: &[&str]) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_reedcrow"));
    let ran = command.args(arguments).env("REEDCROW_LOG", log).output().unwrap();
    assert!(ran.status.success(), "{arguments:?}: {ran:?}");
}

fn golden(name: &str, said: &str) {
    golden::held("../page/goldens", name, &golden::timeless(said));
}

#[test]
fn every_question_is_answered_with_its_picture_and_nothing_of_a_card_is_markup() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("reeds.db");
    let demo = |name: &str| format!("{}/demo-data/{name}.wav", env!("CARGO_MANIFEST_DIR"));
    let label = "<b>A & \"B\"";
    reedcrow(&log, &["reed", "new", label, "--owner", "Mirek <i>N", "--cane", "Brook"]);
    reedcrow(&log, &["reed", "conditions", label, "--temperature", "20"]);
    reedcrow(&log, &["reed", "take", label, &demo("mirek-12-before")]);
    reedcrow(&log, &["reed", "conditions", label, "--temperature", "24"]);
    reedcrow(&log, &["reed", "take", label, &demo("anouk-9-flat")]);
    reedcrow(&log, &["reed", "step", label, "clip", "0.3"]);
    reedcrow(&log, &["reed", "take", label, &demo("mirek-12-after")]);
    let bench = Served::start(Served::deaf(), &log);
    assert!(bench.get("/").body.contains("href=\"/log\""));
    let escaped = "%3Cb%3EA%20%26%20%22B%22";
    for (asked, name, has_picture) in [
        ("", "waiting", false),
        ("?ask=groups&by=cane", "groups", true),
        ("?ask=cuts", "cuts", true),
        ("?ask=cuts&cut=clip", "clips", true),
        ("?ask=conditions&with=temperature", "conditions", true),
        ("?ask=trust", "trust", true),
        ("?ask=likes&of=tone", "likes", false),
        ("?ask=owner&owner=mirek", "owner", false),
        (&format!("?ask=way&reed={escaped}"), "way", true),
    ] {
        let page = bench.get(&format!("/log{asked}"));
        assert_eq!(page.status, 200, "{asked}");
        golden(&format!("log-{name}"), &words_of(&page.body, "answer", "</main>"));
        assert!(!page.body.contains("<b>") && !page.body.contains("<i>"), "{asked}: {}", page.body);
        assert_eq!(page.body.contains("<img"), has_picture, "{asked}");
        if has_picture {
            let picture = bench.get(&format!("/log/picture.svg{asked}"));
            assert!(picture.status == 200 && picture.body.contains("<svg"), "{asked}: {picture:?}");
        }
    }
    // A label leads to its reed's way.
    assert!(bench.get("/log").body.contains(&format!("/log?ask=way&amp;reed={escaped}")));
    let unknown = bench.get("/log?ask=way&reed=nobody");
    assert_eq!(unknown.status, 200);
    golden("log-no-such-reed", &words_of(&unknown.body, "answer", "</main>"));
    assert!(!unknown.body.contains("reedcrow reed"), "{unknown:?}");
    assert_eq!(bench.get("/log?ask=everything").status, 400);
    assert_eq!(bench.get("/log/picture.svg?ask=waiting").status, 404);
}

#[test]
fn a_reed_that_comes_back_is_put_on_the_bench_rated_and_opened_again() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("reeds.db");
    reedcrow(&log, &["reed", "new", "A"]);
    reedcrow(&log, &["reed", "close", "A", "sent-back"]);
    let bench = Served::start(Served::deaf(), &log);
    let token = bench.token();
    let said = |line: &str| {
        let answer = bench.say(&token, line);
        assert_eq!(answer.status, 200, "{line}: {answer:?}");
        bench.get("/").body
    };
    // Named as if it were new, as the start of the page has it, or as one that was here before.
    for line in ["new A", "reed A"] {
        let page = said(line);
        assert!(page.contains("value=\"open again\"") && page.contains("value=\"rate "), "{line}");
    }
    said("rate pitch good");
    // What to do is said in words of the page: there may be no terminal at hand.
    for (line, name) in [("reed nobody", "no-such-reed"), ("clip 0.3", "closed-reed")] {
        let answer = bench.say(&token, line).body;
        assert!(!answer.contains("reedcrow"), "{line}: {answer}");
        golden(name, &answer);
    }
    assert!(said("open again").contains("value=\"close done\""));
}

/// A browser takes a shape that is not closed for the place of all that follow it, and shows none of them.
#[test]
fn every_drawing_of_the_page_and_of_the_account_is_well_formed() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("reeds.db");
    let demo = |name: &str| format!("{}/demo-data/{name}.wav", env!("CARGO_MANIFEST_DIR"));
    reedcrow(&log, &["reed", "new", "A", "--owner", "Mirek"]);
    reedcrow(&log, &["reed", "measure", "A", "length", "70.6", "staple", "47", "tip", "66.2"]);
    reedcrow(&log, &["reed", "take", "A", &demo("mirek-12-before")]);
    reedcrow(&log, &["reed", "step", "A", "clip", "0.3"]);
    reedcrow(&log, &["reed", "take", "A", &demo("mirek-12-after")]);
    let bench = Served::start(Served::deaf(), &log);
    // The pitch line, the reed, and a scale for each stage; the reed, and what the clip did to the pitch.
    for (path, drawn) in [("/", 4), ("/account.html", 2)] {
        let page = bench.get(path).body;
        let drawings = drawings(&page);
        assert_eq!(drawings.len(), drawn, "{path}");
        for drawing in drawings {
            assert_eq!(fault(drawing), None, "{path}: {drawing}");
        }
    }
}

/// The kind comes first; a peep has no octave that could be aligned, nor a pitch to be held against another
/// octave's.
#[test]
fn what_changed_since_a_cut_says_first_that_it_crows_otherwise() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("reeds.db");
    let demo = |name: &str| format!("{}/demo-data/{name}.wav", env!("CARGO_MANIFEST_DIR"));
    reedcrow(&log, &["reed", "new", "A"]);
    reedcrow(&log, &["reed", "take", "A", &demo("bram-5-peep")]);
    reedcrow(&log, &["reed", "step", "A", "tip corners"]);
    reedcrow(&log, &["reed", "take", "A", &demo("bram-4-unlocked")]);
    reedcrow(&log, &["reed", "step", "A", "tip sides"]);
    reedcrow(&log, &["reed", "take", "A", &demo("anouk-7-good")]);
    let bench = Served::start(Served::deaf(), &log);
    let token = bench.token();
    let since = || words_of(&bench.get("/").body, "verdicts", "</ul>");
    bench.say(&token, "reed A");
    let mut told = format!("{}\n", since());
    // The last take and the last cut.
    (0..2).for_each(|_| drop(bench.say(&token, "undo")));
    told.push_str(&since());
    golden("since-cuts", &told);
}

#[test]
fn each_practice_take_is_another_reeds_unless_the_one_on_the_bench_was_cut() {
    for (cut, on_bench) in [(None, "practice 2"), (Some("clip 0.3"), "practice 1")] {
        let folder = tempfile::tempdir().unwrap();
        let log = folder.path().join("reeds.db");
        let flat = format!("{}/demo-data/anouk-9-flat.wav", env!("CARGO_MANIFEST_DIR"));
        reedcrow(&log, &["reed", "new", "practice 1"]);
        reedcrow(&log, &["reed", "take", "practice 1", &flat]);
        let bench = Served::start(Served::deaf(), &log);
        let token = bench.token();
        let lines = ["reed practice 1"].into_iter().chain(cut).chain(["practice good"]);
        lines.for_each(|line| assert_eq!(bench.say(&token, line).status, 200, "{line}"));
        let page = bench.get("/").body;
        assert!(page.contains(&format!("<h1>{on_bench}</h1>")), "{cut:?}: {page}");
        // The one that has served stands among the open ones no more.
        assert!(!page.contains("value=\"reed practice 1\""), "{cut:?}");
    }
}

/// What is opened and closed beside the database takes the locks away that its process has on it (SQLite,
/// "How To Corrupt An SQLite Database File", 2.2); then another program may clear away what it writes to.
#[cfg(target_os = "linux")]
#[test]
fn the_bench_keeps_its_hold_on_the_log_whatever_is_asked_of_it() {
    use std::os::unix::fs::MetadataExt;
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("reeds.db");
    let bench = Served::start(Served::deaf(), &log);
    assert_eq!(bench.say(&bench.token(), "new A").status, 200);
    let file = format!(":{} ", log.metadata().unwrap().ino());
    let process = format!(" {} ", bench.process());
    // proc_locks(5): one line for each lock, with the process and the file's number.
    let is_held = || {
        let locks = std::fs::read_to_string("/proc/locks").unwrap();
        locks.lines().any(|lock| lock.contains(&process) && lock.contains(&file))
    };
    assert!(is_held());
    assert_eq!(bench.get("/log").status, 200);
    assert!(is_held());
}

#[test]
fn the_next_move_follows_what_is_seen_and_measured() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("reeds.db");
    let demo = |name: &str| format!("{}/demo-data/{name}.wav", env!("CARGO_MANIFEST_DIR"));
    reedcrow(&log, &["reed", "new", "A"]);
    reedcrow(&log, &["reed", "take", "A", &demo("anouk-9-flat")]);
    let bench = Served::start(Served::deaf(), &log);
    let token = bench.token();
    let mut next = String::new();
    for lines in [&["reed A"][..], &["length 70.5", "leak low"], &["leak none"], &["close done"]] {
        lines.iter().for_each(|line| drop(bench.say(&token, line)));
        let said = words_of(&bench.get("/").body, "next-said", "</div>");
        next.push_str(&format!("{}:\n{said}\n", lines.join(", ")));
    }
    golden("next-moves", &next);
}

#[test]
fn a_card_is_written_on_the_page_and_stands_at_its_head_and_a_closed_reed_takes_no_cut() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("reeds.db");
    let bench = Served::start(Served::deaf(), &log);
    let token = bench.token();
    let said = |line: &str| drop(bench.say(&token, line));
    for line in [
        "new A",
        "owner Mirek of Linden Lane",
        "cane batch B",
        "complaint flat: low comes late",
        "due 2026-12-05",
    ] {
        said(line);
    }
    golden("card-at-the-head", &words_of(&bench.get("/").body, "who", "</div>"));
    let group = || {
        let page = bench.get("/").body;
        let from = page.find("id=\"cut\"").unwrap();
        page[from..from + page[from..].find("id=\"look\"").unwrap()].to_owned()
    };
    let cuts = || (group().matches("<button").count(), group().matches(" disabled").count());
    let (all, disabled) = cuts();
    assert!(all > 10 && disabled == 0);
    said("close done");
    // All but the one that opens it again.
    assert_eq!(cuts(), (all + 1, all));
    golden("closed-cuts", &words_of(&group(), "closed", "</div>"));
    said("open again");
    assert_eq!(cuts(), (all, 0));
}
