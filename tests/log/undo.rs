//! Undo restores the earlier state exactly, and redo what was undone.

use proptest::prelude::*;
use reedcrow::log::{Card, LogError, Step};
use reedcrow::reed::Cut;

use super::operations::operation;
use super::{Workshop, add_take};

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn undo_goes_back_through_every_state_and_redo_forth_again(
        operations in prop::collection::vec(operation(), 1..10),
    ) {
        let workshop = Workshop::with_a_reed();
        let mut log = workshop.log();
        let mut states = vec![log.history("A").unwrap()];
        for operation in &operations {
            operation.apply(&workshop, &mut log);
            let state = log.history("A").unwrap();
            // What changed nothing left no change to undo.
            if states.last() != Some(&state) {
                states.push(state);
            }
        }
        for earlier in states.iter().rev().skip(1) {
            log.undo("A").unwrap();
            prop_assert_eq!(&log.history("A").unwrap(), earlier);
        }
        for later in states.iter().skip(1) {
            log.redo("A").unwrap();
            prop_assert_eq!(&log.history("A").unwrap(), later);
        }
        prop_assert!(matches!(log.redo("A"), Err(LogError::NothingToRedo(_))));
        prop_assert_eq!(log.check().unwrap().faults, vec![]);
    }
}

#[test]
fn an_entered_reed_can_be_undone_its_label_used_again_and_the_first_not_brought_back() {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    log.undo("A").unwrap();
    assert!(matches!(log.history("A"), Err(LogError::NoReed(_))));
    log.redo("A").unwrap();
    log.undo("A").unwrap();
    log.add(&Card { owner: Some("Ilse".into()), ..Card::new("a") }).unwrap();
    assert!(matches!(log.redo("A"), Err(LogError::NothingToRedo(_))));
    assert_eq!(log.reed("A").unwrap().card.owner.as_deref(), Some("Ilse"));
}

#[test]
fn a_change_after_an_undo_leaves_nothing_to_redo() {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    log.edit("A", |card| card.owner = Some("Ilse".into())).unwrap();
    log.undo("A").unwrap();
    log.edit("A", |card| card.owner = Some("Bram".into())).unwrap();
    assert!(matches!(log.redo("A"), Err(LogError::NothingToRedo(_))));
    log.undo("A").unwrap();
    assert_eq!(log.reed("A").unwrap().card.owner, None);
}

/// A cut typed wrongly is put right, what it said before stays with it, and undo brings that back.
#[test]
fn a_correction_is_kept_and_taken_back() {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    log.step("A", &Step::new(Cut::Clip, Some(0.2))).unwrap();
    add_take(&mut log, "A", &workshop.recording(1));
    let before = log.correct_step("A", 1, |step| step.amount_mm = Some(0.3)).unwrap();
    assert_eq!(before.amount_mm, Some(0.2));
    assert!(log.correct_step("A", 1, |step| step.amount_mm = Some(30.0)).is_err());
    assert!(log.correct_step("A", 2, |_| ()).is_err());
    log.correct_take("A", 1, Some(0), None).unwrap();
    assert!(log.correct_take("A", 1, Some(2), None).is_err());
    let history = log.history("A").unwrap();
    assert_eq!(history.steps[0].step.amount_mm, Some(0.3));
    assert_eq!(history.takes[0].take.after_step, 0);
    let told: Vec<String> = log.corrections("A").unwrap().into_iter().map(|one| one.what).collect();
    assert_eq!(told.len(), 2);
    workshop.golden("corrections", &told.join("\n"));
    log.undo("A").unwrap();
    log.undo("A").unwrap();
    assert!(log.corrections("A").unwrap().is_empty());
    assert_eq!(log.history("A").unwrap().steps[0].step.amount_mm, Some(0.2));
    assert_eq!(log.check().unwrap().faults, vec![]);
}
