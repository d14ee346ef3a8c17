//! Real notes of oboe, English horn and bassoon with their measured pitches (recordings with
//! licences: fixtures/SOURCES.md). They are notes, not crows; they check pitch and octave.

use std::collections::HashMap;
use std::sync::{Mutex, OnceLock};

use reedcrow::pitch::A4;
use reedcrow::profile::Profile;
use reedcrow::reading::{Reading, read};
use reedcrow::take::{self, Channel};

use super::table::{fixture, rows};

/// Each file is read once for all the tests here.
pub fn reading_of(file: &str) -> Reading {
    static READ: OnceLock<Mutex<HashMap<String, Reading>>> = OnceLock::new();
    let mut known = READ.get_or_init(Mutex::default).lock().unwrap();
    known.entry(file.to_owned()).or_insert_with(|| read_file(file)).clone()
}

fn read_file(file: &str) -> Reading {
    let path = fixture("recordings").join(file);
    let take = take::read(&path, Channel::Number(1)).unwrap();
    read(&take, &Profile::default(), A4::default()).reading
}

/// The labels' own spread is vibrato and drift, so twice that is allowed, and never less than
/// 3 cents: two published methods differ by as much.
#[test]
fn every_note_has_its_measured_pitch_in_the_right_octave() {
    let mut wrong = Vec::new();
    for row in rows("recordings/labels.csv") {
        let file = row.text("file");
        let expected_hz = row.must("measured_f0_hz");
        let allowed = (2.0 * row.must("drift_sd_cents")).max(3.0);
        let reading = reading_of(file);
        match reading.summary.figures.fundamental.hz {
            Some(hz) => {
                let off = 1200.0 * (hz / expected_hz).log2();
                if off.abs() > allowed {
                    wrong.push(format!("{file}: {hz:.2} Hz, {off:+.1} cents of ±{allowed}"));
                }
            }
            None => wrong.push(format!("{file}: no pitch, {} crows", reading.crows.len())),
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Its second partial stands 25 dB over its first: a peak picker says A#4.
#[test]
fn the_bassoon_note_with_a_weak_first_partial_keeps_its_octave() {
    let reading = reading_of("fluid_bassoon_As3.wav");
    assert_eq!(reading.summary.figures.fundamental.note.as_deref(), Some("A#3"));
}
