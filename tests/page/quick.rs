//! How long after a crow what it says stands on the page.

use std::io::Write;
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::served::{Served, words_of};
use crate::stream::Stream;

/// Quiet that is heard before a practice take, in seconds.
const BEFORE_S: f64 = 1.0;

/// The goal is 0.2 s, of which 0.15 s are the quiet by which a crow's end is known. Times are printed and
/// not judged: other work on the machine would fail the test.
#[test]
fn a_crow_stands_on_the_page_at_first_look_and_then_for_sure() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Served::start(Served::deaf(), &folder.path().join("reeds.db"));
    let token = bench.token();
    let not_crowed = words_of(&bench.get("/").body, "next-said", "</div>");
    bench.say(&token, "practice flat");
    let truth: Value =
        serde_json::from_str(include_str!("../../demo-data/anouk-9-flat.truth.json")).unwrap();
    let ends: Vec<f64> = truth["crows"]
        .as_array()
        .unwrap()
        .iter()
        .map(|crow| crow["end_s"].as_f64().unwrap())
        .collect();
    let stream = Stream::open(&bench);
    // The tape begins with the order, which is answered within a hundredth of a second.
    bench.say(&token, "practice flat");
    let began = Instant::now();
    let since = |end_s: f64, at: Instant| {
        at.saturating_duration_since(began + Duration::from_secs_f64(BEFORE_S + end_s)).as_millis()
    };
    // On a busy machine several may come at once.
    let says = |html: &str, least: usize| {
        (least..=ends.len()).any(|count| html.contains(&format!("{count} crow")))
    };
    for (count, end_s) in (1..).zip(&ends) {
        let seen = stream
            .wait_for(|sent| sent.name == "crow" && says(&sent.html, count) && sent.at > began);
        let pitch = words_of(&seen.html, "pitch-said", "</div>");
        assert!(pitch.contains(|letter: char| letter.is_ascii_digit()), "{pitch}");
        let after_ms = since(*end_s, seen.at);
        writeln!(std::io::stderr(), "crow {count}: on the page {after_ms} ms after its end")
            .unwrap();
    }
    let sure = stream.wait_for(|sent| sent.name == "crow" && sent.html.contains("3 crows, take"));
    assert_ne!(words_of(&sure.html, "next-said", "</div>"), not_crowed);
}
