//! The commands as a user types them.

use std::fs;

use reedcrow::log::PROGRAM;

use super::{Workshop, contents};

impl Workshop {
    /// What the program prints; it must succeed.
    fn prints(&self, arguments: &[&str]) -> String {
        let output = self.reedcrow(arguments).output().unwrap();
        let complaint = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{arguments:?}: {complaint}");
        String::from_utf8(output.stdout).unwrap()
    }

    /// The one line with which the program refuses.
    fn refuses(&self, arguments: &[&str]) -> String {
        let output = self.reedcrow(arguments).output().unwrap();
        assert!(!output.status.success(), "{arguments:?}");
        let complaint = String::from_utf8(output.stderr).unwrap();
        assert_eq!(complaint.lines().count(), 1, "{complaint}");
        complaint
    }
}

#[test]
fn a_reed_from_arrival_to_ending() {
    let workshop = Workshop::new();
    let recording = workshop.recording(1).display().to_string();
    let mut told = String::new();
    for arguments in [
        &["reed", "new", "Ilse 3", "--owner", "Ilse", "--gouge", "0.0232in"][..],
        // What was typed in inches is read back in both; 2.76·25.4 is 70.104.
        &["reed", "measure", "Ilse 3", "--length-mm", "2.76in", "--state", "wet"],
        &["reed", "measure", "Ilse 3", "tip", "66", "heart", "2.41in"],
        &["reed", "inspect", "Ilse 3", "leak", "none", "bark", "kept"],
        &["reed", "take", "ilse 3", &recording],
        &["reed", "step", "Ilse 3", "clip", "0.3"],
        &["reed", "step", "Ilse 3", "note", "speaks late"],
        &["reed", "close", "Ilse 3", "done", "--why", "plays"],
    ] {
        told += &workshop.prints(arguments);
    }
    assert!(told.contains("70.1 mm (2.760 in)"), "{told}");
    workshop.golden("from-arrival-to-ending", &told);
    let shown = workshop.prints(&["reed", "show", "Ilse 3"]);
    for part in ["70.1 mm", "about 69.8 mm", "clip 0.3 mm", "done: plays", "0.59 mm"] {
        assert!(shown.contains(part), "{part} is not in\n{shown}");
    }
    let shown = workshop.prints(&["reed", "show", "Ilse 3", "--inches"]);
    // 2.76 less 0.3/25.4, and the 0.3 itself.
    for part in ["length 2.760 in", "about 2.748 in", "clip 0.012 in", "clip 0.012\n", "2.748  in"]
    {
        assert!(shown.contains(part), "{part} is not in\n{shown}");
    }
    assert!(!shown.contains("mm"), "{shown}");
    let shown: serde_json::Value =
        serde_json::from_str(&workshop.prints(&["reed", "show", "Ilse 3", "--json"])).unwrap();
    assert_eq!(shown["steps"][0]["cut"], "clip");
    assert_eq!(shown["reed"]["owner"], "Ilse");
}

#[test]
fn a_clip_leaves_the_staple_whole() {
    let workshop = Workshop::with_a_reed();
    workshop.prints(&["reed", "step", "A", "clip", "2"]);
    workshop.prints(&["reed", "measure", "A", "--length-mm", "48", "--staple-mm", "47"]);
    workshop.refuses(&["reed", "step", "A", "clip", "1.1"]);
    // To the staple, and no further.
    workshop.prints(&["reed", "step", "A", "clip", "1"]);
    workshop.refuses(&["reed", "step", "A", "clip", "0.1"]);
    assert_eq!(workshop.log().history("A").unwrap().stage(), 2);
}

#[test]
fn undo_says_which_fields_of_a_card_it_takes_back() {
    let workshop = Workshop::with_a_reed();
    workshop.prints(&["reed", "edit", "A", "--owner", "Ilse", "--a4", "442"]);
    let undone = workshop.prints(&["reed", "undo", "A"]);
    let redone = workshop.prints(&["reed", "redo", "A"]);
    workshop.golden("fields-undone", &(undone + &redone));
}

#[test]
fn lists_answer_by_what_stands_on_the_cards() {
    let workshop = Workshop::new();
    workshop.prints(&["reed", "new", "A", "--cane", "Brook, batch 4", "--owner", "Ilse"]);
    workshop.prints(&["reed", "new", "B", "--cane", "Brook, batch 5", "--owner", "Bram"]);
    workshop.prints(&["reed", "close", "B", "given-up"]);
    let labels = |arguments: &[&str]| -> Vec<String> {
        let all = [&["reed", "list", "--json"], arguments].concat();
        let label = |line: &str| {
            let line: serde_json::Value = serde_json::from_str(line).unwrap();
            line["label"].as_str().unwrap().to_owned()
        };
        workshop.prints(&all).lines().map(label).collect()
    };
    assert_eq!(labels(&[]), ["A", "B"]);
    assert_eq!(labels(&["--cane", "brook"]), ["A", "B"]);
    assert_eq!(labels(&["--cane", "batch 5"]), ["B"]);
    assert_eq!(labels(&["--ending", "given-up"]), ["B"]);
    assert_eq!(labels(&["--ending", "open", "--owner", "bram"]), Vec::<String>::new());
}

#[test]
fn what_cannot_be_is_refused_in_one_line_and_changes_nothing() {
    let workshop = Workshop::new();
    let text = workshop.path("no.wav");
    fs::write(&text, "not a recording").unwrap();
    let text = text.display().to_string();
    // What is no export leaves no log behind.
    let here = workshop.path("").display().to_string();
    workshop.refuses(&["reed", "import", &here]);
    workshop.refuses(&["reed", "list"]);
    assert!(!workshop.path("reeds.db").exists());
    workshop.prints(&["reed", "new", "A"]);
    let before = workshop.prints(&["reed", "list", "--json"]);
    let mut told = String::new();
    for arguments in [
        vec!["reed", "new", "a"],
        vec!["reed", "new", "x@1"],
        vec!["reed", "new", "B", "--made-on", "2023-02-29"],
        vec!["reed", "new", "B", "--profile", "no-such"],
        vec!["reed", "step", "A", "clip"],
        vec!["reed", "step", "A", "tip", "cornes"],
        vec!["reed", "step", "A", "leak", "low"],
        vec!["reed", "step", "A", "clip", "30"],
        vec!["reed", "step", "A", "heart", "much"],
        vec!["reed", "step", "A", "note"],
        vec!["reed", "measure", "A"],
        vec!["reed", "measure", "A", "--length-mm", "700"],
        vec!["reed", "inspect", "A"],
        vec!["reed", "inspect", "A", "leak", "lo"],
        vec!["reed", "measure", "A", "lenght", "70"],
        vec!["reed", "conditions", "A", "--humidity", "130"],
        vec!["reed", "take", "A", &text],
        vec!["reed", "take", "A", "/no/such/file.wav"],
        vec!["reed", "redo", "A"],
        vec!["reed", "edit", "A"],
        vec!["reed", "show", "B"],
        vec!["reed", "import", "/no/such/folder"],
        vec!["reed", "import", &text],
    ] {
        let refusal = workshop.refuses(&arguments);
        told.push_str(&format!("{}\n  {refusal}\n", arguments.join(" ")));
        assert!(refusal.matches("(os error").count() < 2, "said twice: {refusal}");
    }
    workshop.golden("refused", &told);
    assert_eq!(workshop.prints(&["reed", "list", "--json"]), before);
    workshop.prints(&["reed", "undo", "A"]);
    workshop.refuses(&["reed", "undo", "A"]);
    assert_eq!(workshop.prints(&["reed", "list", "--json"]), "");
}

#[test]
fn exports_hold_tables_json_and_recordings_and_read_back() {
    let workshop = Workshop::with_a_reed();
    let recording = workshop.recording(1).display().to_string();
    workshop.prints(&["reed", "take", "A", &recording]);
    workshop.prints(&["reed", "step", "A", "clip", "0.3", "--note", "a, \"b\""]);
    let folder = workshop.path("out").display().to_string();
    let mut told = workshop.prints(&["reed", "export", &folder]);
    let exported = contents(&workshop.path("out"));
    workshop.refuses(&["reed", "export", &folder]);
    assert_eq!(contents(&workshop.path("out")), exported);
    let steps = fs::read_to_string(workshop.path("out/steps.csv")).unwrap();
    let mut lines = steps.lines();
    let columns = "reed,at,number,cut,amount_mm,note,advised.cut,advised.helps";
    assert_eq!(lines.next(), Some(columns));
    // Nothing crowed, so no cut was advised.
    let is_this = |line: &str| line.contains(r#",1,clip,0.3,"a, ""b""",,0"#);
    assert!(lines.next().is_some_and(is_this), "{steps}");
    let other = workshop.path("other.db").display().to_string();
    told += &workshop.prints(&["reed", "import", &folder, "--log", &other]);
    workshop.golden("exported-and-imported", &told);
    assert_eq!(
        workshop.prints(&["reed", "show", "A", "--json", "--log", &other]),
        workshop.prints(&["reed", "show", "A", "--json"])
    );
    workshop.prints(&["log", "check", "--log", &other]);
    let copy = workshop.path("copy.db").display().to_string();
    let said = workshop.prints(&["log", "backup", &copy]);
    // A path may be longer than a line, and then stands alone on one.
    let longest = |line: &str| line.chars().count() <= 80 || !line.trim().contains(' ');
    assert!(said.lines().all(longest), "{said}");
    let copied = fs::read(&copy).unwrap();
    workshop.refuses(&["log", "backup", &copy]);
    assert_eq!(fs::read(&copy).unwrap(), copied);
}

#[test]
fn readings_made_by_an_earlier_program_are_made_again_and_the_change_is_listed() {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    // As an earlier program might have read it: another sample rate's figures are not these.
    super::add_take(&mut log, "A", &workshop.recording(1));
    let reread = || -> serde_json::Value {
        serde_json::from_str(&workshop.prints(&["log", "reread", "--json"])).unwrap()
    };
    let told = reread();
    assert_eq!((&told["label"], &told["take"]), (&"A".into(), &1.into()), "{told}");
    assert_eq!(told["outcome"]["changed"]["earlier_program"], PROGRAM, "{told}");
    workshop.golden("reread-as-before", &workshop.prints(&["log", "reread", "A"]));
    workshop.prints(&["reed", "undo", "A"]);
    let told = reread();
    assert!(told["outcome"]["changed"].is_object(), "{told}");
}

/// Keyboards and disks write é as one character or as two; a reed has one label.
#[test]
fn a_label_is_one_however_its_accents_are_written() {
    let workshop = Workshop::new();
    workshop.prints(&["reed", "new", "Ren\u{e9}-1"]);
    workshop.refuses(&["reed", "new", "rene\u{301}-1"]);
    workshop.prints(&["reed", "show", "Rene\u{301}-1"]);
    workshop.prints(&["reed", "new", "Mire\u{301}k"]);
    let reeds = workshop.log().reeds().unwrap();
    let labels: Vec<_> = reeds.iter().map(|reed| reed.card.label.as_str()).collect();
    assert_eq!(labels, ["Ren\u{e9}-1", "Mir\u{e9}k"]);
}

/// Measuring again reaches the present stage only; what was typed wrong before a cut is put right where it
/// stands, and undo brings it back.
#[test]
fn what_was_measured_before_a_cut_is_put_right_where_it_stands() {
    let workshop = Workshop::with_a_reed();
    workshop.prints(&["reed", "measure", "A", "length", "66.3", "staple", "47"]);
    workshop.prints(&["reed", "step", "A", "clip", "0.3"]);
    workshop.prints(&["reed", "step", "A", "tip", "sides"]);
    workshop.prints(&["reed", "measure", "A", "length", "68.1"]);
    let account = || workshop.prints(&["reed", "account", "A"]);
    let shown = || workshop.prints(&["reed", "show", "A"]);
    let (doubted, before) = (account(), shown());
    let correct = ["reed", "correct", "A", "--after-step"];
    let refused = [
        &["0"][..],
        &["0", "leak", "low"],
        &["0", "length", "700"],
        &["0", "length", "66.3"],
        &["0", "length", "45"],
        &["0", "staple", "68.2"],
        &["1", "length", "68.1"],
        &["3", "length", "68.1"],
        &["0", "length", "68.4", "--temperature", "20"],
    ]
    .map(|wrong| workshop.refuses(&[&correct[..], wrong].concat()));
    let which = workshop.refuses(&["reed", "correct", "A", "length", "68.4"]);
    assert_eq!((account(), shown()), (doubted.clone(), before.clone()));
    workshop.golden("measurement-not-put-right", &(refused.concat() + &which));
    let said = workshop.prints(&[&correct[..], &["0", "length", "68.4", "tip", "64.2"]].concat());
    workshop.golden("measurement-put-right", &[said, shown(), account()].concat());
    assert_eq!(workshop.log().check().unwrap().faults, vec![]);
    let folder = workshop.path("export");
    let told = workshop.log().corrections("A").unwrap();
    workshop.prints(&["log", "export", folder.to_str().unwrap()]);
    workshop.prints(&["reed", "undo", "A"]);
    assert_eq!((account(), shown()), (doubted, before));
    let other = Workshop::new();
    other.prints(&["log", "import", folder.to_str().unwrap()]);
    assert_eq!(other.log().corrections("A").unwrap(), told);
    assert_eq!(other.log().check().unwrap().faults, vec![]);
}

#[test]
fn what_is_put_right_or_asked_for_is_said_in_the_words_of_the_bench() {
    let workshop = Workshop::new();
    workshop.prints(&["reed", "new", "A"]);
    workshop.prints(&["reed", "step", "A", "clip", "0.3"]);
    let correct = ["reed", "correct", "A", "--step", "1"];
    let told = [&["tip", "corners:", "left"][..], &["clip", "0.2"]]
        .map(|right| workshop.prints(&[&correct[..], right].concat()));
    workshop.golden("step-put-right", &told.concat());
    for (wrong, near) in
        [("tip cornes", "tip corners"), ("tip", "tip sides"), ("leak low", "--help")]
    {
        let line = [correct.to_vec(), wrong.split(' ').collect()].concat();
        let refusal = workshop.refuses(&line);
        assert!(refusal.contains(near), "{refusal}");
    }
    assert_eq!(workshop.log().history("A").unwrap().steps[0].step.amount_mm, Some(0.2));
    for asked in [&["clip"][..], &["tip", "corners"], &["tip-corners"]] {
        workshop.prints(&[&["log", "effects"], asked].concat());
    }
    let refusal = workshop.refuses(&["log", "effects", "tip", "cornes"]);
    assert!(refusal.contains("tip corners"), "{refusal}");
}
