//! Crows and takes made by hand, for the tests of whatever comes after a reading. What a test is about
//! it says itself (`Reading { a4_hz: 442.0, ..take(crows) }`).

use super::figures::{Crow, Figures, Kind, Reading, Rung, SCHEMA};
use super::summarise;
use crate::pitch::A4;

/// C5 at A4 = 440: 440·2^(3/12) Hz (ISO 16).
const C5_HZ: f64 = 523.2511;

/// A crow of that kind from 0 to 1 s, its lowest tone so many cents from C5 (over an octave: in another
/// register). Of its figures it has the pitch alone.
pub(crate) fn crow(kind: Kind, cents: f64) -> Crow {
    let octaves = (cents / 1200.0).round();
    let mut figures = Figures::default();
    figures.fundamental.hz = Some(C5_HZ * (cents / 1200.0).exp2());
    figures.fundamental.target_cents = Some(cents - 1200.0 * octaves);
    figures.fundamental.register = Some(octaves as i32);
    Crow { start_s: 0.0, end_s: 1.0, kind, figures }
}

/// An octave that sounds throughout from `entry_s` on.
pub(crate) fn rung(hz: f64, level_db: f64, entry_s: f64) -> Rung {
    Rung {
        hz,
        level_db,
        present: 1.0,
        switches_per_s: 0.0,
        entry_s: Some(entry_s),
        sustained: true,
    }
}

/// What a reader makes of a take of 9 s that holds these crows, on an American oboe.
pub(crate) fn take(crows: Vec<Crow>) -> Reading {
    Reading {
        schema: SCHEMA,
        source: "made by hand".into(),
        sample_rate_hz: 48_000,
        channels: 1,
        channel: 1,
        duration_s: 9.0,
        a4_hz: 440.0,
        profile: "american-oboe".into(),
        summary: summarise(&crows, A4::default()),
        crows,
        others: Vec::new(),
        tones_kept: false,
        microphone: None,
        warnings: Vec::new(),
    }
}
