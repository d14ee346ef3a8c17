//! A take that is still going on, as a reading: its crows so far.

use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{Crow, Reading, SCHEMA, summarise};

/// What the crows of a take say before it is over.
///
/// * `source`: what is listened to.
pub fn reading_so_far(source: &str, crows: Vec<Crow>, profile: &Profile, a4: A4) -> Reading {
    Reading {
        schema: SCHEMA,
        source: source.to_owned(),
        sample_rate_hz: 0,
        channels: 1,
        channel: 1,
        duration_s: crows.last().map_or(0.0, |crow| crow.end_s),
        a4_hz: a4.hz(),
        profile: profile.name.clone(),
        summary: summarise(&crows, a4),
        crows,
        others: Vec::new(),
        tones_kept: false,
        microphone: None,
        warnings: Vec::new(),
    }
}
