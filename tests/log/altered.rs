//! Rows and exports that other hands altered: they are named, and hide nothing else.

use std::fs;
use std::process::Output;

use reedcrow::log::{Card, Log, Step};
use reedcrow::reed::Cut;
use rusqlite::Connection;
use serde_json::json;

use super::{Workshop, add_take, contents, read_lines, write_lines};

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// A reed with a row in every table.
fn workshop() -> Workshop {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    log.step("A", &Step::new(Cut::Clip, Some(0.3))).unwrap();
    add_take(&mut log, "A", &workshop.recording(1));
    for arguments in [
        &["reed", "inspect", "A", "--corners", "thin"][..],
        &["reed", "measure", "A", "--length-mm", "70"],
        &["reed", "conditions", "A", "--soaked", "3"],
    ] {
        assert!(workshop.reedcrow(arguments).status().unwrap().success());
    }
    workshop
}

/// Whatever field of an export holds what cannot be there, the reed and the field are named, and the
/// log stays as it was.
#[test]
fn an_import_with_one_wrong_field_writes_nothing_and_names_it() {
    let workshop = workshop();
    let log = workshop.log();
    let folder = workshop.path("export");
    log.export(&[], &folder).unwrap().finish().unwrap();
    let whole = read_lines(&folder);
    let mut other = Log::open(&workshop.path("other.db")).unwrap();
    other.add(&Card::new("B")).unwrap();
    let before = other.exported("B").unwrap();
    for (table, pointer, value, named) in [
        ("inspection", "/inspection/corners", json!(7), "inspection.corners"),
        ("measurement", "/measurements/length_mm", json!("long"), "measurements.length_mm"),
        ("measurement", "/measurements/length_mm", json!(-3), "measurements"),
        ("step", "/cut", json!("saw"), "cut"),
        ("step", "/amount_mm", json!(70), "a clip of 70 mm is too much"),
        ("step", "/number", json!("first"), "number"),
        ("step", "/at", json!("yesterday"), "at"),
        ("take", "/sha256", json!("../../etc/passwd"), "sha256"),
        ("take", "/bytes", json!(-1), "bytes"),
        ("take", "/bytes", json!(u64::MAX), "bytes"),
        ("reed", "/label", json!(12), "label"),
        ("reed", "/a4_hz", json!(4000), "440"),
        ("reed", "/conditions/soaked_min", json!("3"), "conditions.soaked_min"),
        ("reed", "/uid", json!("other"), "uid"),
        ("reading", "/reading", json!("octaves"), "reading"),
        ("reading", "/reading/crows", json!(2), "reading"),
    ] {
        let mut altered = whole.clone();
        let row = format!("/reeds/0/tables/{table}/0/row{pointer}");
        *altered.pointer_mut(&row).unwrap_or_else(|| panic!("{row}")) = value;
        write_lines(&folder, &altered);
        let refused = other.import(&folder).unwrap_err().to_string();
        assert!(refused.contains(named), "{row}: {refused}");
        assert!(refused.contains(&format!("{table} 1")) || named == "uid", "{row}: {refused}");
        assert_eq!(refused.lines().count(), 1, "{refused}");
        assert_eq!(other.reeds().unwrap().len(), 1);
        assert_eq!(other.exported("B").unwrap(), before);
        assert!(!other.audio_folder().exists());
    }
    // What undo would bring back is looked at too.
    let mut altered = whole.clone();
    let change = altered.pointer_mut("/reeds/0/changes/0/rows/0/after/row/label").unwrap();
    *change = json!(["A"]);
    write_lines(&folder, &altered);
    let refused = other.import(&folder).unwrap_err().to_string();
    assert!(["change 1", "reed", "'label'"].iter().all(|part| refused.contains(part)), "{refused}");
    // A reading of another version may be of any form.
    let mut older = whole;
    let row = older.pointer_mut("/reeds/0/tables/reading/0/row").unwrap();
    row["program"] = json!("0.0.1");
    row["reading"] = json!({ "pitch": 523 });
    write_lines(&folder, &older);
    assert_eq!(other.import(&folder).unwrap().added, ["A"]);
}

/// One reed's damaged row: the other reeds are read, and what was passed over is named.
#[test]
fn a_row_altered_by_hand_hides_no_other_reed() {
    let mut all = Vec::new();
    for alter in [
        "UPDATE inspection SET inspection = '{\"corners\":7}'",
        "UPDATE inspection SET inspection = '{'",
        "UPDATE step SET cut = 'saw'",
        "UPDATE measurement SET measurements = '{\"length_mm\":\"x\"}'",
        "UPDATE take SET number = 'one'",
        "UPDATE reed SET conditions = '[' WHERE label = 'A'",
        "UPDATE reed SET a4_hz = 'x' WHERE label = 'A'",
    ] {
        let workshop = workshop();
        workshop.log().add(&Card::new("B")).unwrap();
        Connection::open(workshop.path("reeds.db")).unwrap().execute(alter, []).unwrap();
        let table = alter.split(' ').nth(1).unwrap();
        let run = |arguments: &[&str]| -> Output { workshop.reedcrow(arguments).output().unwrap() };
        let export = workshop.path("export");
        for arguments in [
            &["reed", "list"][..],
            &["reed", "show", "B"],
            &["log", "effects"],
            &["reed", "export", export.to_str().unwrap()],
        ] {
            let ran = run(arguments);
            let told = text(&ran.stderr);
            assert_eq!(ran.status.code(), Some(1), "{alter}, {arguments:?}: {told}");
            assert_eq!(told.lines().count(), 1, "{alter}, {arguments:?}: {told}");
            assert!(told.contains(table), "{alter}: {told}");
            all.push(told);
            assert!(!ran.stdout.is_empty(), "{alter}, {arguments:?}");
        }
        assert!(text(&run(&["reed", "list"]).stdout).contains("\nB "));
        let exported = text(&fs::read(export.join("log.jsonl")).unwrap());
        assert!(exported.contains("\"B\"") && !exported.contains("\"A\""), "{alter}");
        let checked = text(&run(&["log", "check"]).stdout);
        all.extend(
            checked.lines().find(|line| line.starts_with("A, ")).map(|line| format!("{line}\n")),
        );
        assert!(!contents(&export).is_empty());
    }
    // Asked for in several ways, most is told in one.
    all.dedup();
    Workshop::new().golden("rows-altered-by-hand", &all.concat());
}
