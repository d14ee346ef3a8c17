//! One recording is one row, however its name is written, and whatever saved the table in between.

use crate::{Workshop, rows};

fn workshop() -> Workshop {
    let workshop = Workshop::new();
    workshop.take("takes/a.wav", 520.0, 0.8);
    workshop.take("takes/b.wav", 530.0, 0.8);
    workshop
}

/// Ways to write the folder `takes`.
fn spellings() -> Vec<&'static str> {
    let mut spellings = vec!["takes", "takes/", "./takes", "takes/../takes", "takes//"];
    if cfg!(windows) {
        spellings.extend(["TAKES", ".\\takes", "takes\\"]);
    }
    spellings
}

#[test]
fn a_folder_named_in_several_ways_is_read_once() {
    let workshop = workshop();
    let mut arguments = spellings();
    arguments.extend(["takes/a.wav", "--out", "t.csv"]);
    let ran = workshop.batch(&arguments);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    assert_eq!(rows(&workshop.path("t.csv")).len(), 2, "{}", workshop.text("t.csv"));
}

#[test]
fn a_table_that_is_gone_on_with_under_another_spelling_grows_by_nothing() {
    let workshop = workshop();
    workshop.batch(&["takes", "--out", "t.csv"]);
    let table = workshop.text("t.csv");
    for spelling in spellings() {
        let ran = workshop.batch(&[spelling, "--out", "t.csv", "--resume"]);
        assert_eq!((ran.code, workshop.text("t.csv")), (Some(0), table.clone()), "{spelling}");
    }
    // From inside the folder, as from outside.
    let mut inside = workshop.command(&[".", "--out", "in.csv"]);
    inside.current_dir(workshop.path("takes")).output().unwrap();
    let mut again = workshop.command(&["../takes", "--out", "in.csv", "--resume"]);
    again.current_dir(workshop.path("takes")).output().unwrap();
    assert_eq!(rows(&workshop.path("takes/in.csv")).len(), 2);
}

#[test]
fn the_same_recording_under_two_names_is_told() {
    let workshop = workshop();
    std::fs::copy(workshop.path("takes/a.wav"), workshop.path("takes/c.wav")).unwrap();
    let ran = workshop.batch(&["takes", "--out", "t.csv"]);
    assert_eq!((ran.code, ran.err.lines().count()), (Some(0), 1), "{ran:?}");
    ran.golden("same-recording");
    assert_eq!(rows(&workshop.path("t.csv")).len(), 3, "it is told, not left out");
    for copy in 0..8 {
        std::fs::copy(workshop.path("takes/b.wav"), workshop.path(&format!("takes/d{copy}.wav")))
            .unwrap();
    }
    let ran = workshop.batch(&["takes", "--out", "t.csv", "--resume"]);
    ran.golden("same-recordings");
    assert_eq!(ran.err.lines().count(), 6, "{}", ran.err);
}

/// With the mark and the ends of lines that spreadsheets write.
#[test]
fn a_table_that_a_spreadsheet_saved_is_gone_on_with_and_joined() {
    let workshop = workshop();
    workshop.batch(&["takes", "--out", "t.csv"]);
    let table = workshop.text("t.csv");
    let saved = format!("\u{feff}{}", table.replace('\n', "\r\n"));
    std::fs::write(workshop.path("t.csv"), &saved).unwrap();
    let ran = workshop.batch(&["--merge", "t.csv", "--out", "joined.csv"]);
    assert_eq!((ran.code, workshop.text("joined.csv")), (Some(0), table.clone()), "{}", ran.err);
    let ran = workshop.batch(&["takes", "--out", "t.csv", "--resume"]);
    assert_eq!(ran.earlier(), 2, "{ran:?}");
    assert_eq!(workshop.text("t.csv"), table);
}

/// A shell that does not put names in the place of patterns leaves them as they are.
#[test]
fn a_pattern_that_fits_nothing_is_told_as_that() {
    let workshop = workshop();
    let ran = workshop.batch(&["takes/*.flac"]);
    let said = "reedcrow: takes/*.flac: no file fits this pattern; check its folder and ending\n";
    assert_eq!((ran.code, ran.err.as_str()), (Some(1), said));
    let ran = workshop.batch(&["takes/a.wav", "takes/*.flac"]);
    assert!(ran.code == Some(1) && ran.err.starts_with(said), "{ran:?}");
    #[cfg(windows)]
    {
        let ran = workshop.batch(&["takes\\*.wav", "--out", "t.csv"]);
        assert_eq!((ran.code, rows(&workshop.path("t.csv")).len()), (Some(0), 2), "{ran:?}");
    }
}
