//! `reedcrow compare` on recordings and folders of them.

use std::fs;

use serde_json::Value;

use crate::golden::held;
use crate::{Bench, ending};

fn line(text: &str) -> Value {
    assert_eq!(text.lines().count(), 1, "{text}");
    serde_json::from_str(text).unwrap()
}

#[test]
fn a_recording_compared_with_itself_has_not_changed() {
    let bench = Bench::new();
    bench.crow("take.wav", 2.0);
    let end = ending(&mut bench.reedcrow(&["compare", "--json", "take.wav", "take.wav"]));
    assert_eq!((end.code, end.errors.as_str()), (Some(0), ""));
    let found = line(&end.output);
    assert_eq!(found["schema"], 1);
    assert_eq!(found["before"]["source"][0], "take.wav");
    for change in found["changes"].as_array().unwrap() {
        assert_eq!(change["difference"], 0.0, "{change}");
        assert_eq!(change["verdict"], "unclear", "one crow a side: {change}");
    }
}

#[test]
fn folders_are_pooled_and_what_is_no_recording_is_counted() {
    let bench = Bench::new();
    for side in ["before", "after"] {
        fs::create_dir(bench.path(side)).unwrap();
        for take in ["1.wav", "2.wav"] {
            bench.crow(&format!("{side}/{take}"), 2.0);
        }
    }
    bench.bytes("after/notes.txt", b"clipped a little");
    bench.bytes("after/picture.png", b"\x89PNG\r\n\x1a\n");
    let end = ending(&mut bench.reedcrow(&["compare", "--json", "before", "after"]));
    assert_eq!(end.code, Some(0));
    held("goldens", "compared-without-what-is-no-recording", &end.errors);
    let found = line(&end.output);
    for side in ["before", "after"] {
        assert_eq!(found[side]["source"].as_array().unwrap().len(), 2);
    }
    let text = ending(&mut bench.reedcrow(&["compare", "before", "after"]));
    assert_eq!(text.code, Some(0));
    held("goldens", "compared-folders", &text.output);
}

#[test]
fn a_side_that_cannot_be_read_is_one_line() {
    let bench = Bench::new();
    bench.crow("take.wav", 1.5);
    fs::create_dir(bench.path("empty")).unwrap();
    bench.bytes("notes.txt", b"clipped a little");
    for other in ["empty", "nowhere.wav", "notes.txt"] {
        let end = ending(&mut bench.reedcrow(&["compare", "take.wav", other]));
        assert_eq!((end.code, end.output.as_str()), (Some(1), ""));
        assert!(end.errors.contains(other), "{}", end.errors);
        assert_eq!(end.errors.lines().count(), 1, "{}", end.errors);
    }
}
