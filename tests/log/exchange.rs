//! Export then import is the identity.

use std::fs;

use proptest::prelude::*;
use reedcrow::log::{Card, Log, LogError};

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
        let one_reed = log.exported(&["A".into()]).unwrap();
        prop_assert_eq!(log.export(&one_reed, &[], &first).unwrap(), Vec::<String>::new());

        let mut other = Log::open(&workshop.path("other.db")).unwrap();
        other.import(&first).unwrap();
        prop_assert_eq!(other.history("A").unwrap(), log.history("A").unwrap());
        let second = workshop.path("second");
        other.export(&other.exported(&[]).unwrap(), &[], &second).unwrap();
        prop_assert_eq!(contents(&first), contents(&second));
        prop_assert_eq!(other.check().unwrap().faults, vec![]);

        // Undo goes on where it was.
        let (here, there) = (log.undo("A").ok(), other.undo("A").ok());
        prop_assert_eq!(here, there);
    }
}

#[test]
fn the_same_reed_is_not_imported_twice_and_another_of_its_label_not_at_all() {
    let workshop = Workshop::with_a_reed();
    let log = workshop.log();
    let folder = workshop.path("export");
    log.export(&log.exported(&[]).unwrap(), &[], &folder).unwrap();
    let again = workshop.log().import(&folder).unwrap();
    assert_eq!((again.added, again.known), (vec![], vec!["A".to_owned()]));

    let mut other = Log::open(&workshop.path("other.db")).unwrap();
    other.add(&Card::new("a")).unwrap();
    assert!(matches!(other.import(&folder), Err(LogError::LabelTaken(_))));

    let mut log = workshop.log();
    log.edit("A", |card| card.owner = Some("Ilse".into())).unwrap();
    let refused = log.import(&folder).unwrap_err().to_string();
    assert!(refused.contains("already with other work on it"), "{refused}");
}

#[test]
fn a_recording_damaged_in_the_export_is_named_and_not_taken() {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    add_take(&mut log, "A", &workshop.recording(1));
    let folder = workshop.path("export");
    let exported = log.exported(&[]).unwrap();
    log.export(&exported, &[], &folder).unwrap();
    let hash = &exported.recordings()[0];
    fs::write(folder.join(format!("audio/{hash}.wav")), b"not it").unwrap();
    let mut other = Log::open(&workshop.path("other.db")).unwrap();
    assert_eq!(other.import(&folder).unwrap().missing, std::slice::from_ref(hash));
    assert!(!other.audio_path(hash).exists());
}

#[test]
fn what_is_no_export_or_a_newer_one_is_refused_in_one_line() {
    let workshop = Workshop::new();
    let mut log = workshop.log();
    let folder = workshop.path("export");
    fs::create_dir(&folder).unwrap();
    for (text, said) in [
        ("", "no export"),
        ("{}", "no export"),
        (r#"{"format": "reedcrow log", "form": 99}"#, "newer"),
        (r#"{"format": "reedcrow log", "form": 1}"#, "no export"),
        (
            r#"{"format": "reedcrow log", "form": 1, "program": "", "reeds":
                [{"uid": "u", "tables": {}, "changes": []}]}"#,
            "no row of the reed",
        ),
    ] {
        fs::write(folder.join("log.json"), text).unwrap();
        let refused = log.import(&folder).unwrap_err().to_string();
        assert!(refused.contains(said) && !refused.contains('\n'), "{text}: {refused}");
    }
    assert!(log.reeds().unwrap().is_empty());
}
