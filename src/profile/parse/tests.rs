use super::super::{BUILT_IN, Profile, load, starter};
use super::parse;
use crate::pitch::A4;
use proptest::prelude::*;

const LEAST: &str = "name = \"mine\"\n[crow]\ntarget = \"C5\"\nregisters = [0, 1]\n";

fn complaint(text: &str) -> String {
    parse("mine.toml", text, Some(&Profile::default())).unwrap_err().to_string()
}

#[test]
fn every_built_in_profile_is_read_and_says_where_each_value_comes_from() {
    for built_in in BUILT_IN {
        let profile = load(built_in.name).unwrap();
        assert_eq!(profile.name, built_in.name);
        for (key, origin) in &profile.origins {
            assert!(!origin.from.is_empty(), "{key}");
            assert_ne!(
                origin.from,
                crate::profile::OfItself.to_string(),
                "{} {key}",
                built_in.name
            );
        }
    }
}

/// Of a profile that expects octaves below its target, the target's own octave is the upper one.
#[test]
fn a_peep_is_over_the_lowest_expected_octave_whatever_its_number() {
    let low = Profile { registers: vec![-1, 0], ..Profile::default() };
    assert!(low.is_peep(0) && !low.is_peep(-1));
    assert!(Profile::default().is_peep(1) && !Profile::default().is_peep(0));
    assert!(!Profile { target: None, ..low }.is_peep(3));
}

#[test]
fn the_american_profile_leaves_nothing_out() {
    let profile = Profile::default();
    assert!(profile.smallest_change.values().all(|change| *change > 0.0));
    assert_eq!(profile.origins.keys().filter(|key| key.starts_with("advice.")).count(), 17);
    assert_eq!(profile.origins.keys().filter(|key| key.starts_with("tolerance.")).count(), 3);
}

/// Common practice, no source: an American reed crows C5 and C6 at A = 440; 70 mm is a normal
/// length, the staple 47 mm, the tip begins near 66 and the heart ends near 61.
#[test]
fn the_american_reed_is_as_makers_have_it() {
    let profile = Profile::default();
    let target = profile.target_frequency(A4::default()).unwrap();
    assert!((target.hz() - 523.2511).abs() < 1e-4);
    assert_eq!((profile.lowest_register(), profile.highest_register()), (0, 1));
    let size = profile.dimensions;
    assert_eq!(
        [size.length, size.staple, size.tip_start, size.heart_bottom],
        [Some(70.0), Some(47.0), Some(66.0), Some(61.0)]
    );
    assert!(profile.advice.first_clip_mm <= 0.5);
}

#[test]
fn reeds_held_to_no_note_have_no_target() {
    for name in ["european-oboe", "bassoon"] {
        assert_eq!(load(name).unwrap().target, None, "{name}");
    }
}

/// Where nothing else tells which octave is meant the profile does, and says who says so; so it does
/// of notes that other makers hold the crow to.
#[test]
fn octaves_and_other_notes_are_named_with_where_they_come_from() {
    let names = |notes: &[crate::pitch::Note]| -> Vec<String> {
        notes.iter().map(ToString::to_string).collect()
    };
    for (name, peep_above, also) in [
        ("american-oboe", None, ""),
        ("european-oboe", Some("F#5"), ""),
        ("bassoon", Some("C#5"), ""),
        ("english-horn", None, "B4"),
        ("oboe-damore", None, "C5"),
    ] {
        let profile = load(name).unwrap();
        assert_eq!(
            profile.peep_above.map(|note| note.to_string()).as_deref(),
            peep_above,
            "{name}"
        );
        assert_eq!(names(&profile.also).join(" "), also, "{name}");
        assert_eq!(profile.origin("crow.peep_above").is_empty(), peep_above.is_none(), "{name}");
        assert_eq!(profile.origin("crow.also").is_empty(), also.is_empty(), "{name}");
    }
}

#[test]
fn a_profile_needs_little_and_takes_the_rest_from_the_american_reed() {
    let profile = parse("mine.toml", LEAST, Some(&Profile::default())).unwrap();
    assert_eq!(profile.tolerance, Profile::default().tolerance);
    assert_eq!(profile.dimensions.length, None);
}

#[test]
fn every_wrong_key_is_named_with_its_line() {
    for (text, expected) in [
        (format!("{LEAST}[advice]\nfirst_clip = 0.2\n"), "line 6: unknown key 'first_clip'"),
        (format!("{LEAST}[advice]\n\nfirst_clip_mm = 3\n"), "line 7: first_clip_mm = 3 mm"),
        (
            format!("{LEAST}[advice]\nfirst_clip_mm = 1.4\n"),
            "line 6: first_clip_mm = 1.4 mm is out of range; give 0.05 to 1 mm: cane cannot be \
             put back",
        ),
        (format!("{LEAST}[advice]\nfirst_clip_mm = nan\n"), "line 6: first_clip_mm = NaN mm"),
        (format!("{LEAST}[advice]\nfirst_clip_mm = \"a\"\n"), "line 6: first_clip_mm must be"),
        (
            format!("{LEAST}[advice]\ncrows_wanted = 2.5\n"),
            "line 6: crows_wanted = 2.5 is not a whole number; give one from 1 to 50",
        ),
        (format!("{LEAST}[shape]\n"), "line 5: unknown key 'shape'"),
        (format!("{LEAST}[tolerance]\ntarget_cents = {{ from = \"x\" }}\n"), "has no value"),
        (format!("{LEAST}[smallest_change]\npitch = 5\n"), "line 6: 'pitch' under"),
        (
            format!("{LEAST}[dimensions_mm]\nlength = 60\nstaple = 70\n"),
            "line 7: staple 70 mm lies",
        ),
        (
            // A comment that names the section is not the place, nor is the section's head.
            format!("{LEAST}# [advice]\n[advice]\nslow_low_s = 0.2\nfirst_clip_mm = 0.05\n"),
            "line 8: smallest_clip_mm 0.1 is longer than first_clip_mm 0.05",
        ),
        (
            format!("{LEAST}[dimensions_mm]\nlength = \"2.76in\"\n"),
            "line 6: length must be a number in mm, without quotes and unit, such as 70.0",
        ),
        (
            format!("{LEAST}[tolerance]\ntarget_cents = {{ value = 15,0, from = \"x\" }}\n"),
            "; decimals are written with a point: 15.0",
        ),
        (
            format!("{LEAST}[tolerance]\ntarget_cents = 15,0\n"),
            "; decimals are written with a point: 15.0",
        ),
        (
            LEAST.replace("\"C5\"\n", "\"none\"\npeep_above = \"H5\"\n"),
            "line 4: peep_above 'H5' is not a note name",
        ),
        (format!("{LEAST}peep_above = \"F#5\"\n"), "line 5: peep_above is for reeds without"),
        (format!("{LEAST}also = \"B4\"\n"), "line 5: also must be one to three notes"),
        (format!("{LEAST}also = []\n"), "line 5: also must be one to three notes"),
        (format!("{LEAST}also = [5]\n"), "line 5: also must name notes in quotes"),
        (format!("{LEAST}also = [\"C4\"]\n"), "line 5: also names the target, C5, again"),
        (
            LEAST.replace("\"C5\"\n", "\"none\"\nalso = [\"B4\"]\n"),
            "line 4: also names notes beside a target, and there is none",
        ),
        (format!("{LEAST}peep = 3\n"), "known are target, registers, also, peep_above"),
        (LEAST.replace("C5", "H5"), "line 3: target 'H5' is not a note name"),
        (LEAST.replace("C5", "C9"), "line 3: target C9 is out of reach"),
        (LEAST.replace("[0, 1]", "[1, 0]"), "line 4: registers must be"),
        (LEAST.replace("[0, 1]", "[]"), "line 4: registers must be"),
        (LEAST.replace("\"mine\"", "mine"), "line 1: "),
        (LEAST.replace("\"mine\"", "\"my reed\""), "line 1: name 'my reed'"),
        (LEAST.replace("target = \"C5\"\n", ""), "line 1: no target"),
        (format!("{LEAST}[crow]\n"), "line 5: "),
    ] {
        let said = complaint(&text);
        assert!(said.contains(expected), "{said}\n  lacks {expected}");
        assert_eq!(said.lines().count(), 1, "{said}");
    }
}

/// A comma between numbers of a list, or in words, is no decimal comma.
#[test]
fn other_commas_are_not_taken_for_decimal_ones() {
    for line in ["registers = [0,1", "title = \"1,5", "x = 1 2"] {
        let said = complaint(&format!("name = \"mine\"\n{line}\n"));
        assert!(!said.contains("decimals"), "{said}");
    }
}

#[test]
fn a_started_profile_can_be_used_and_is_its_own() {
    for built_in in BUILT_IN {
        let text = starter("mine", built_in.name).unwrap();
        let profile = parse("mine.toml", &text, Some(&Profile::default())).unwrap();
        let like = load(built_in.name).unwrap();
        assert_eq!(profile.name, "mine");
        assert_eq!(Profile { name: like.name.clone(), ..profile }, like);
    }
}

#[test]
fn figures_are_found_under_their_json_path() {
    let profile = Profile::default();
    assert_eq!(profile.smallest_change("rungs[3].level_db"), Some(3.0));
    assert_eq!(profile.smallest_change("balance.bands_db[2].db"), Some(3.0));
    assert_eq!(profile.smallest_change("fundamental.target_cents"), Some(5.0));
    assert_eq!(profile.smallest_change("kind"), None);
}

proptest! {
    #[test]
    fn no_text_panics(text in "\\PC{0,200}") {
        let _ = parse("any.toml", &text, Some(&Profile::default()));
    }

    #[test]
    fn no_number_slips_past_its_range(number in any::<f64>()) {
        let text = format!("{LEAST}[tolerance]\ntarget_cents = {number:?}\n");
        if let Ok(profile) = parse("any.toml", &text, Some(&Profile::default())) {
            prop_assert!((1.0..=200.0).contains(&profile.tolerance.target_cents));
        }
    }
}
