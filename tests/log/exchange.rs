//! Export then import is the identity.

use std::fs;

use proptest::prelude::*;
use reedcrow::log::{Card, Log, Step};
use reedcrow::reed::Cut;
use serde_json::Value;

use super::operations::operation;
use super::{Workshop, add_take, contents};

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, ..ProptestConfig::default() })]

    #[test]
    fn what_is_exported_reads_back_to_the_same_log(
        operations in prop::collection::vec((operation(), prop::bool::weighted(0.2)), 0..10),
    ) {
        let workshop = Workshop::new();
        let mut log = workshop.log();
        // Another reed before it, so that keys differ from places.
        log.add(&Card::new("B")).unwrap();
        log.add(&Card::new("A")).unwrap();
        for (operation, undo) in &operations {
            operation.apply(&workshop, &mut log);
            if *undo {
                let _ = log.undo("A");
                // What a closed reed refuses leaves nothing but its entering to undo.
                if log.reed("A").is_err() {
                    log.redo("A").unwrap();
                }
            }
        }
        let first = workshop.path("first");
        let exported = log.export(&["A".into()], &first).unwrap().finish().unwrap();
        prop_assert_eq!(exported.missing, Vec::<String>::new());

        let mut other = Log::open(&workshop.path("other.db")).unwrap();
        other.import(&first).unwrap();
        prop_assert_eq!(other.history("A").unwrap(), log.history("A").unwrap());
        let second = workshop.path("second");
        other.export(&[], &second).unwrap().finish().unwrap();
        prop_assert_eq!(contents(&first), contents(&second));
        prop_assert_eq!(other.check().unwrap().faults, vec![]);

        // Undo goes on where it was.
        let (here, there) = (log.undo("A").ok(), other.undo("A").ok());
        prop_assert_eq!(here, there);
    }
}

#[test]
fn the_same_reed_is_not_imported_twice_and_another_of_its_label_gets_a_number() {
    let workshop = Workshop::with_a_reed();
    let log = workshop.log();
    let folder = workshop.path("export");
    log.export(&[], &folder).unwrap().finish().unwrap();
    let again = workshop.log().import(&folder).unwrap();
    assert_eq!((again.added, again.known), (vec![], vec!["A".to_owned()]));

    let mut other = Log::open(&workshop.path("other.db")).unwrap();
    other.add(&Card::new("a")).unwrap();
    let imported = other.import(&folder).unwrap();
    assert_eq!(imported.renamed, [("A".to_owned(), "A (2)".to_owned())]);
    let labels: Vec<String> =
        other.reeds().unwrap().into_iter().map(|reed| reed.card.label).collect();
    assert_eq!(labels, ["a", "A (2)"]);
    assert_eq!(other.check().unwrap().faults, vec![]);
    // A second time it is known for what it is.
    let again = other.import(&folder).unwrap();
    assert!(again.added.is_empty() && again.renamed.is_empty(), "{again:?}");

    // What was done here since stays.
    let mut log = workshop.log();
    log.edit("A", |card| card.owner = Some("Ilse".into())).unwrap();
    assert_eq!(log.import(&folder).unwrap().known, ["A"]);
    assert_eq!(log.reed("A").unwrap().card.owner.as_deref(), Some("Ilse"));
}

/// The bench and a laptop, each with work of its own after the reed was carried over: cuts and takes of
/// both in order of time, each once, also when merged again and the other way round.
#[test]
fn work_in_two_logs_becomes_one_without_doubles() {
    let workshop = Workshop::with_a_reed();
    let mut bench = workshop.log();
    add_take(&mut bench, "A", &workshop.recording(1));
    let export = |log: &Log, name: &str| {
        let folder = workshop.path(name);
        log.export(&[], &folder).unwrap().finish().unwrap();
        folder
    };
    let mut laptop = Log::open(&workshop.path("laptop.db")).unwrap();
    laptop.import(&export(&bench, "carried")).unwrap();
    let cut = |log: &mut Log, mm| {
        // Two moments of the log are a millisecond apart at least.
        std::thread::sleep(std::time::Duration::from_millis(3));
        log.step("A", &Step::new(Cut::Clip, Some(mm))).unwrap();
    };
    cut(&mut bench, 0.1);
    cut(&mut laptop, 0.2);
    add_take(&mut laptop, "A", &workshop.recording(2));
    cut(&mut bench, 0.3);
    add_take(&mut bench, "A", &workshop.recording(3));
    laptop.edit("A", |card| card.owner = Some("Ůňa & Зоя".into())).unwrap();

    let merged = bench.import(&export(&laptop, "from-laptop")).unwrap();
    assert_eq!(
        (merged.merged.as_slice(), merged.added.as_slice()),
        (&["A".to_owned()][..], &[][..])
    );
    let history = bench.history("A").unwrap();
    let clips: Vec<(Option<u32>, Option<f64>)> =
        history.steps.iter().map(|step| (step.number, step.step.amount_mm)).collect();
    let mut in_order = clips.clone();
    in_order.sort_by_key(|(number, _)| *number);
    assert_eq!(in_order, [(Some(1), Some(0.1)), (Some(2), Some(0.2)), (Some(3), Some(0.3))]);
    let mut takes: Vec<(u32, u32)> =
        history.takes.iter().map(|take| (take.take.number, take.take.after_step)).collect();
    takes.sort_unstable();
    assert_eq!(takes, [(1, 0), (2, 2), (3, 3)]);
    assert!(history.takes.iter().all(|take| take.reading.is_some()));
    assert_eq!(history.reed.card.owner.as_deref(), Some("Ůňa & Зоя"));
    assert_eq!(bench.check().unwrap().faults, vec![]);

    // Once more brings nothing new; the laptop gets the rest, and both are alike.
    bench.import(&workshop.path("from-laptop")).unwrap();
    assert_eq!(bench.history("A").unwrap().steps.len(), 3);
    assert_eq!(bench.history("A").unwrap().takes.len(), 3);
    laptop.import(&export(&bench, "from-bench")).unwrap();
    let told = |log: &Log| {
        let mut steps: Vec<_> = log.history("A").unwrap().steps;
        steps.sort_by_key(|step| step.number);
        steps
    };
    assert_eq!(told(&bench), told(&laptop));
    // One change, taken back whole.
    bench.undo("A").unwrap();
    assert_eq!(bench.check().unwrap().faults, vec![]);
}

/// Names as people and programs give them: formulas, quotes, other scripts, reserved words of systems and
/// databases.
const ODD: [&str; 12] = [
    "=1+2",
    "+x",
    "'; DROP TABLE reed; --",
    "\"quoted, with a comma\"",
    "CON",
    "ريشة ٩",
    "🎶 葦 9",
    "ﬁgaro",
    "Zoe\u{308} Ů",
    "%s %n {0}",
    "a  b",
    "<b>&amp;",
];

#[test]
fn odd_names_go_out_and_come_back_and_stand_in_the_tables_as_they_are() {
    let workshop = Workshop::new();
    let mut log = workshop.log();
    for (number, name) in ODD.into_iter().enumerate() {
        let said = Some(name.to_owned());
        let card = Card { owner: said.clone(), cane: said.clone(), ..Card::new(name) };
        log.add(&card).unwrap();
        add_take(&mut log, name, &workshop.recording(number));
        log.step(name, &Step { note: said, ..Step::new(Cut::TipSides, None) }).unwrap();
        log.step(name, &Step::note(format!("{name}\n{name}"))).unwrap();
    }
    let first = workshop.path("first");
    let path = first.to_str().unwrap();
    assert!(workshop.reedcrow(&["log", "export", path]).status().unwrap().success());
    let mut other = Log::open(&workshop.path("other.db")).unwrap();
    other.import(&first).unwrap();
    let labels = |log: &Log| -> Vec<String> {
        log.reeds().unwrap().into_iter().map(|reed| reed.card.label).collect()
    };
    assert_eq!(labels(&other), labels(&log));
    for label in labels(&log) {
        assert_eq!(other.history(&label).unwrap(), log.history(&label).unwrap());
        // Work in both is merged under the same name, however it is written.
        other.step(&label, &Step::new(Cut::Clip, Some(0.1))).unwrap();
    }
    let second = workshop.path("second");
    other.export(&[], &second).unwrap().finish().unwrap();
    let merged = log.import(&second).unwrap();
    assert_eq!((merged.merged.len(), merged.added.len(), merged.renamed.len()), (ODD.len(), 0, 0));
    for label in labels(&log) {
        assert_eq!(other.history(&label).unwrap().steps, log.history(&label).unwrap().steps);
    }
    assert_eq!(log.check().unwrap().faults, vec![]);
    // A spreadsheet runs none of them.
    let mut table = csv::Reader::from_path(first.join("reeds.csv")).unwrap();
    let column = table.headers().unwrap().iter().position(|name| name == "label").unwrap();
    let cells: Vec<String> =
        table.records().map(|row| row.unwrap().get(column).unwrap().to_owned()).collect();
    assert_eq!(cells.len(), ODD.len());
    for (cell, label) in cells.iter().zip(labels(&log)) {
        assert!(cell == &label || cell == &format!("'{label}"), "{cell} for {label}");
        assert!(!cell.starts_with(['=', '+', '-', '@']), "{cell}");
    }
}

/// Cells of a value by column: fields within fields are named by their path, lists are left out.
fn cells(path: &str, value: &Value, found: &mut Vec<(String, String)>) {
    match value {
        Value::Object(fields) => {
            for (name, value) in fields {
                let path = if path.is_empty() { name.clone() } else { format!("{path}.{name}") };
                cells(&path, value, found);
            }
        }
        Value::Array(_) => {}
        Value::Null => found.push((path.to_owned(), String::new())),
        Value::String(text) => found.push((path.to_owned(), text.clone())),
        other => found.push((path.to_owned(), other.to_string())),
    }
}

/// All rows at once: every column that any has, but for those that another's name begins with.
fn table(rows: &[Value]) -> String {
    let rows: Vec<Vec<(String, String)>> = rows
        .iter()
        .map(|row| {
            let mut found = Vec::new();
            cells("", row, &mut found);
            found
        })
        .collect();
    let mut columns: Vec<&String> = Vec::new();
    for (name, _) in rows.iter().flatten() {
        if !columns.contains(&name) {
            columns.push(name);
        }
    }
    let all = columns.clone();
    columns.retain(|name| !all.iter().any(|other| other.starts_with(&format!("{name}."))));
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(&columns).unwrap();
    for row in &rows {
        let cell = |name: &String| row.iter().find(|(of, _)| of == name).map(|(_, cell)| cell);
        writer.write_record(columns.iter().map(|name| cell(name).map_or("", |cell| cell))).unwrap();
    }
    String::from_utf8(writer.into_inner().unwrap()).unwrap()
}

/// Its tables have the columns of all reeds, and stand in the order in which those were entered.
#[test]
fn tables_written_one_reed_after_the_other_are_those_of_all_reeds_at_once() {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    add_take(&mut log, "A", &workshop.recording(1));
    log.add(&Card { gouge_mm: Some(0.6), ..Card::new("B") }).unwrap();
    for arguments in [
        &["reed", "conditions", "B", "--player", "Ilse, \"the second\""][..],
        &["reed", "step", "B", "clip", "0.3", "--note", "two\nlines"],
        &["reed", "close", "B", "done"],
        &["reed", "new", "C"],
        &["reed", "new", "D"],
        &["reed", "undo", "D"],
    ] {
        assert!(workshop.reedcrow(arguments).status().unwrap().success());
    }
    workshop.takes("C", "mirek-12-before");
    let with_label = |label: &str, row: Value| {
        let mut whole = serde_json::json!({ "reed": label });
        whole.as_object_mut().unwrap().extend(row.as_object().unwrap().clone());
        whole
    };
    let (mut reeds, mut steps, mut takes) = (Vec::new(), Vec::new(), Vec::new());
    for label in ["A", "B", "C"] {
        let history = log.history(label).unwrap();
        reeds.push(serde_json::to_value(&history.reed).unwrap());
        steps.extend(
            history.steps.iter().map(|s| with_label(label, serde_json::to_value(s).unwrap())),
        );
        for take in &history.takes {
            let mut row = with_label(label, serde_json::to_value(&take.take).unwrap());
            let read = take.reading.as_ref().unwrap();
            row["read_by"] = read.program.clone().into();
            row["summary"] = serde_json::to_value(&read.reading.summary).unwrap();
            takes.push(row);
        }
    }
    for (name, labels) in [("all", &[][..]), ("some", &["C", "a", "B"])] {
        let folder = workshop.path(name);
        let mut arguments = vec!["log", "export", folder.to_str().unwrap()];
        labels.iter().for_each(|label| arguments.extend(["--reed", label]));
        assert!(workshop.reedcrow(&arguments).status().unwrap().success());
        for (file, rows) in [("reeds.csv", &reeds), ("steps.csv", &steps), ("takes.csv", &takes)] {
            let written = fs::read_to_string(folder.join(file)).unwrap();
            assert_eq!(written, table(rows), "{name}: {file}");
        }
        assert_eq!(fs::read_to_string(folder.join("ratings.csv")).unwrap(), "");
        let exported = super::read_lines(&folder);
        let named: Vec<&str> = exported["reeds"].as_array().unwrap().iter().map(label).collect();
        let wanted = if labels.is_empty() { &["A", "B", "C", "D"][..] } else { &["C", "A", "B"] };
        assert_eq!(named, wanted);
    }
}

fn label(reed: &Value) -> &str {
    reed["tables"]["reed"][0]["row"]["label"].as_str().unwrap()
}

/// A letter that a disk lost in a row, and not in the record of the change that wrote it.
#[test]
fn an_export_that_contradicts_itself_leaves_the_log_whole() {
    let workshop = Workshop::new();
    let mut log = workshop.log();
    log.add(&Card { owner: Some("Ilse".into()), ..Card::new("A") }).unwrap();
    let folder = workshop.path("export");
    log.export(&[], &folder).unwrap().finish().unwrap();
    let mut whole = super::read_lines(&folder);
    whole["reeds"][0]["tables"]["reed"][0]["row"]["owner"] = "Else".into();
    super::write_lines(&folder, &whole);
    let mut other = Log::open(&workshop.path("other.db")).unwrap();
    other.import(&folder).unwrap();
    assert_eq!(other.reed("A").unwrap().card.owner.as_deref(), Some("Else"));
    assert_eq!(other.check().unwrap().faults, vec![]);
}

#[test]
fn a_recording_damaged_in_the_export_is_named_and_not_taken() {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    add_take(&mut log, "A", &workshop.recording(1));
    let folder = workshop.path("export");
    log.export(&[], &folder).unwrap().finish().unwrap();
    let hash = &log.history("A").unwrap().takes[0].take.sha256;
    fs::write(folder.join(format!("audio/{hash}.wav")), b"not it").unwrap();
    let mut other = Log::open(&workshop.path("other.db")).unwrap();
    assert_eq!(other.import(&folder).unwrap().missing, std::slice::from_ref(hash));
    assert!(!other.audio_path(hash).exists());
}

/// Other programs read it by its schema: every line of an export keeps to it, whatever happened to the
/// reeds.
#[test]
fn every_line_keeps_to_the_schema_that_lies_beside_it() {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    add_take(&mut log, "A", &workshop.recording(1));
    log.step("A", &Step::new(Cut::Clip, Some(0.3))).unwrap();
    log.step("A", &Step::note("Ůňa: \"soft\"\n= 2")).unwrap();
    log.set("sender", &serde_json::json!({ "name": "Zoë & Co.", "lines": [] })).unwrap();
    for arguments in [
        &["reed", "inspect", "A", "--corners", "thin"][..],
        &["reed", "measure", "A", "--length-mm", "70"],
        &["reed", "conditions", "A", "--soaked", "3"],
        &["reed", "close", "A", "done"],
        &["reed", "undo", "A"],
    ] {
        assert!(workshop.reedcrow(arguments).status().unwrap().success());
    }
    let folder = workshop.path("export");
    log.export(&[], &folder).unwrap().finish().unwrap();
    let schema: Value =
        serde_json::from_slice(&fs::read(folder.join("log.schema.json")).unwrap()).unwrap();
    let printed = workshop.reedcrow(&["schema", "export"]).output().unwrap().stdout;
    assert_eq!(serde_json::from_slice::<Value>(&printed).unwrap(), schema);
    let validator = jsonschema::validator_for(&schema).unwrap();
    let lines = fs::read_to_string(folder.join("log.jsonl")).unwrap();
    assert_eq!(lines.lines().count(), 2);
    for line in lines.lines() {
        let line: Value = serde_json::from_str(line).unwrap();
        let errors: Vec<String> =
            validator.iter_errors(&line).map(|error| error.to_string()).collect();
        assert!(errors.is_empty(), "{errors:?}");
    }
    // It can fail: a cut that is none, a row of a table that is none.
    let reed: Value = serde_json::from_str(lines.lines().nth(1).unwrap()).unwrap();
    for (pointer, wrong) in [
        ("/tables/step/0/row/amount_mm", serde_json::json!("much")),
        ("/tables/take/0/row/number", serde_json::json!("one")),
        ("/tables/birds", serde_json::json!([])),
        ("/changes/0/rows/0/table", serde_json::json!("birds")),
    ] {
        let mut wrong_reed = reed.clone();
        match wrong_reed.pointer_mut(pointer) {
            Some(place) => *place = wrong,
            None => wrong_reed["tables"]["birds"] = wrong,
        }
        assert!(!validator.is_valid(&wrong_reed), "{pointer}");
    }
    // What is said once of the whole log comes along into a new one, and into no other.
    let mut other = Log::open(&workshop.path("other.db")).unwrap();
    other.import(&folder).unwrap();
    let sender: Option<Value> = other.setting("sender").unwrap();
    assert_eq!(sender.unwrap()["name"], "Zoë & Co.");
    let mut third = Log::open(&workshop.path("third.db")).unwrap();
    third.add(&Card::new("B")).unwrap();
    third.import(&folder).unwrap();
    assert_eq!(third.setting::<Value>("sender").unwrap(), None);
}

/// A copy that broke off is told, and not taken for a smaller log.
#[test]
fn an_export_that_was_cut_off_is_refused() {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    log.add(&Card::new("B")).unwrap();
    let folder = workshop.path("export");
    log.export(&[], &folder).unwrap().finish().unwrap();
    let text = fs::read_to_string(folder.join("log.jsonl")).unwrap();
    let two: String = text.lines().take(2).map(|line| format!("{line}\n")).collect();
    for (cut, name) in [(two.as_str(), "lacks-a-reed"), (&text[..text.len() - 9], "cut-line")] {
        fs::write(folder.join("log.jsonl"), cut).unwrap();
        let refused = log.import(&folder).unwrap_err().to_string();
        assert!(!refused.contains('\n'), "{refused}");
        workshop.golden(&format!("export-{name}"), &refused);
    }
}

#[test]
fn what_is_no_export_or_a_newer_one_is_refused_in_one_line() {
    let workshop = Workshop::new();
    let mut log = workshop.log();
    let folder = workshop.path("export");
    fs::create_dir(&folder).unwrap();
    let mut told = String::new();
    for text in [
        "",
        "{}",
        r#"{"format": "reedcrow log", "form": 99}"#,
        r#"{"format": "reedcrow log", "form": 1}"#,
        r#"{"format": "reedcrow log", "form": 1, "program": "", "reeds":
            [{"uid": "u", "tables": {}, "changes": []}]}"#,
    ] {
        fs::write(folder.join("log.json"), text).unwrap();
        let refused = log.import(&folder).unwrap_err().to_string();
        assert!(!refused.contains('\n'), "{text}: {refused}");
        told.push_str(&format!("{text}\n  {refused}\n"));
    }
    workshop.golden("exports-refused", &told);
    assert!(log.reeds().unwrap().is_empty());
}
