//! ISO 16:1975 (A4 = 440 Hz; from memory) and equal temperament, f = 440·2^((m − 69)/12).

use reedcrow::pitch::{A4, Note, cents_from_target, register};
use reedcrow::units::Hertz;

use super::table::rows;

/// Four printed places, hence the tolerance.
const LAST_PLACE_HZ: f64 = 0.6e-4;

fn every_key(path: &str) {
    for row in rows(path) {
        let note = Note::from_midi(row.must("midi") as i32);
        assert_eq!(note.to_string(), row.text("note"));
        for (column, a4_hz) in [("a440_hz", 440.0), ("a442_hz", 442.0)] {
            let a4 = A4::new(a4_hz).unwrap();
            let hz = row.must(column);
            let got = note.frequency(a4).hz();
            assert!((got - hz).abs() <= LAST_PLACE_HZ, "{note} {got} {hz}");
            let (nearest, off) = Note::nearest(Hertz::new(hz).unwrap(), a4);
            assert_eq!(nearest, note);
            assert!(off.0.abs() < 0.001, "{note}: {off:?}");
        }
    }
}

#[test]
fn the_published_table_is_met() {
    every_key("published/equal_temperament.csv");
}

/// The formula in another language, for every key from A2 to C7.
#[test]
fn every_key_agrees_with_the_formula() {
    every_key("made/equal_temperament.csv");
}

/// 1 cent is a ratio of 1.000577790 (2^(1/1200)); A = 442 stands 7.85 cents over 440.
#[test]
fn a_cent_and_the_step_from_440_to_442_have_their_published_sizes() {
    let a440 = Hertz::new(440.0).unwrap();
    let cent = Hertz::new(440.0 * 1.000_577_790).unwrap();
    assert!((a440.cents_to(cent).0 - 1.0).abs() < 1e-6);
    assert!((a440.cents_to(Hertz::new(442.0).unwrap()).0 - 7.85).abs() < 0.005);
}

/// Common practice, no source: an American long-scrape oboe reed crows C5 and C6 at A = 440.
#[test]
fn c5_and_c6_are_registers_0_and_1_of_the_oboe_target() {
    let target = Note::from_midi(72).frequency(A4::default());
    for (hz, expected) in [(523.2511, 0), (1046.5023, 1)] {
        let tone = Hertz::new(hz).unwrap();
        assert_eq!(register(tone, target), expected);
        assert!(cents_from_target(tone, target).0.abs() < 0.001);
    }
}
