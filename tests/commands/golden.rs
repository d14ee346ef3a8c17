//! Whole texts held against files: what is said may change, and the change is read and renewed by
//! `INSTA_UPDATE=always cargo test`. So no other test looks for a sentence in what the program says.

use jiff::ToSpan;
use jiff::tz::TimeZone;

/// Holds what the program gave against a file of that name. What it says is the same on every system, so
/// one of them holds it.
///
/// * `folder`: from this file's.
pub fn held(folder: &str, name: &str, given: &str) {
    if cfg!(not(target_os = "linux")) {
        return;
    }
    let mut settings = insta::Settings::clone_current();
    settings.set_snapshot_path(folder);
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.bind(|| insta::assert_snapshot!(name, given));
}

/// Text with stand-ins for days and times of the day.
pub fn timeless(text: &str) -> String {
    let now = jiff::Timestamp::now();
    let mut text = text.to_owned();
    for moment in [now - 24.hours(), now] {
        let day = moment.to_zoned_datetime(TimeZone::system());
        for form in ["%Y-%m-%d", "%-d %B %Y"] {
            text = text.replace(&day.strftime(form).to_string(), "DAY");
        }
    }
    let letters: Vec<char> = text.chars().collect();
    let is_time = |at: usize| {
        letters.get(at..at + 5).is_some_and(|five| {
            five[2] == ':' && [0, 1, 3, 4].iter().all(|&digit| five[digit].is_ascii_digit())
        })
    };
    let mut told = String::new();
    let mut at = 0;
    while at < letters.len() {
        match is_time(at) {
            true => told.push_str("HH:MM"),
            false => told.push(letters[at]),
        }
        at += if is_time(at) { 5 } else { 1 };
    }
    told
}
