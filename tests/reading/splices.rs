//! A recording that was cut and joined within a crow is not read across the join; one that was not has
//! no join.

use std::path::Path;

use reedcrow::pitch::A4;
use reedcrow::profile::Profile;
use reedcrow::reading::{WarningCode, read};
use reedcrow::take::{Channel, Take};
use reedcrow_synth::CrowSound;

use super::{cents, only_crow, reading_of, take_of};

fn is_spliced(take: &Take) -> bool {
    let reading = read(take, &Profile::default(), A4::default()).reading;
    reading.warnings.iter().any(|warning| warning.code == WarningCode::Spliced)
}

/// Bytes doubled or missing made the low octave vanish without a word.
#[test]
fn a_crow_with_a_join_keeps_its_low_octave_and_says_so() {
    for (number, moved) in [(1_u64, -37_i32), (2, 211), (3, -1000), (4, 23)] {
        let mut take = take_of(CrowSound::octaves(511.0, 1.2, -20.0), 30.0, number);
        let whole = reading_of(&take);
        assert!(!is_spliced(&take), "{number}");
        // At 0.7 s of the crow, which begins after half a second.
        let at = (1.2 * f64::from(take.sample_rate_hz)) as usize;
        let by = moved.unsigned_abs() as usize;
        if moved < 0 {
            take.samples.drain(at..at + by);
        } else {
            let doubled = take.samples[at - by..at].to_vec();
            take.samples.splice(at..at, doubled);
        }
        assert!(is_spliced(&take), "{moved} samples");
        let (whole, joined) = (only_crow(&whole).clone(), reading_of(&take));
        let joined = only_crow(&joined);
        assert_eq!(joined.kind, whole.kind);
        let off =
            cents(joined.figures.fundamental.hz.unwrap(), whole.figures.fundamental.hz.unwrap());
        assert!(off.abs() < 0.1, "{off} cents");
    }
}

/// Real notes and the demo's crows, none of them cut.
#[test]
fn no_recording_that_is_whole_has_a_join() {
    let mut looked_at = 0;
    for folder in ["fixtures/recordings", "demo-data"] {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            // These were made of a note by repeating a part of it.
            let is_loop = path.to_string_lossy().contains("_loop");
            if path.extension().is_none_or(|ending| ending != "wav") || is_loop {
                continue;
            }
            let take = reedcrow::take::read(&path, Channel::default()).unwrap();
            assert!(!is_spliced(&take), "{}", path.display());
            looked_at += 1;
        }
    }
    assert!(looked_at > 20, "{looked_at}");
}
