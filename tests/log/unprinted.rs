//! What is stored and could not be said: nobody shall enter it twice.

use std::fs::File;

use super::Workshop;

/// The disk for what is printed is full (/dev/full, full(4)).
#[test]
fn what_is_stored_is_told_where_the_answer_cannot_be_printed() {
    let workshop = Workshop::new();
    let recording = workshop.recording(1);
    let crow = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/anouk-7-good.wav");
    workshop.says(&["reed", "new", "B"]);
    workshop.takes("B", "anouk-7-good");
    let mut said = String::new();
    for arguments in [
        &["reed", "new", "A"][..],
        &["reed", "edit", "A", "--owner", "Ilse"],
        &["reed", "measure", "A", "length", "70.5"],
        &["reed", "inspect", "A", "leak", "low"],
        &["reed", "conditions", "A", "--soaked", "5"],
        &["reed", "step", "A", "clip", "0.2"],
        &["reed", "correct", "A", "--step", "1", "--amount", "0.3"],
        &["reed", "take", "A", recording.to_str().unwrap()],
        &["reed", "take", "A", crow],
        &["reed", "heard", "A", "octaves"],
        &["reed", "undo", "A"],
        &["reed", "redo", "A"],
        &["reed", "close", "A", "done"],
        &["log", "sender", "Linden Lane Reeds"],
        &["log", "reread", "B"],
    ] {
        let full = File::options().write(true).open("/dev/full").unwrap();
        let output = workshop.reedcrow(arguments).stdout(full).output().unwrap();
        assert!(!output.status.success(), "{arguments:?}");
        said.push_str(&String::from_utf8_lossy(&output.stderr));
    }
    workshop.golden("stored-and-not-printed", &said);
    let history = workshop.log().history("A").unwrap();
    let (steps, takes) = (history.steps.len(), history.takes.len());
    assert_eq!((steps, takes, history.steps[0].step.amount_mm), (1, 2, Some(0.3)));
    assert_eq!(history.takes[1].heard.len(), 1);
    assert!(history.reed.ended_at.is_some());
}
