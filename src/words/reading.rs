//! What a reading says, in words.

use crate::capture::HOT_DBFS;
use crate::reading::{Other, QUIET_DBFS, What};
use crate::words::format::dbfs;

/// What ± means, everywhere.
pub const PLUS_MINUS: &str = "± is how far off a figure may be, nineteen times out of twenty.";

/// What sounded and was set aside, in one line: `somebody speaking (3 times), a knock`. `None`
/// where there was nothing.
pub fn also_heard(others: &[Other]) -> Option<String> {
    const ALL: [What; 6] =
        [What::Instrument, What::Speech, What::Hum, What::Machine, What::Struck, What::Unknown];
    let parts: Vec<String> = ALL
        .into_iter()
        .filter_map(|what| {
            let each: Vec<&Other> = others.iter().filter(|other| other.what == what).collect();
            let last = each.last()?;
            let name = other(what);
            Some(match each.len() {
                1 => format!("{name} at {:.1} s", last.from_s),
                2 => format!("{name} (twice)"),
                count => format!("{name} ({count} times)"),
            })
        })
        .collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// What a sound that is not a crow seems to be.
pub fn other(what: What) -> &'static str {
    match what {
        What::Speech => "a voice",
        What::Instrument => "notes played on an instrument",
        What::Hum => "mains hum",
        What::Machine => "a steady tone of the room",
        What::Struck => "a knock",
        What::Unknown => "a sound that is not a crow",
    }
}

/// How loud something is at the microphone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Loud {
    /// Too faint for some of the figures.
    Far,
    /// As it should be.
    Right,
    /// Near to overload.
    Hot,
}

/// * `dbfs`: its level, in decibels relative to a full-scale sine.
pub fn how_loud(dbfs: f64) -> Loud {
    if dbfs > HOT_DBFS {
        Loud::Hot
    } else if dbfs < QUIET_DBFS {
        Loud::Far
    } else {
        Loud::Right
    }
}

/// The same as a card has it: `right (−18.2 dB of full scale)`.
pub fn level_on_the_card(level_dbfs: f64) -> String {
    let loud = match how_loud(level_dbfs) {
        Loud::Far => "far from the microphone",
        Loud::Right => "right",
        Loud::Hot => "too loud",
    };
    format!("{loud} ({} of full scale)", dbfs(level_dbfs))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::Why;

    #[test]
    fn others_are_counted_by_what_they_are() {
        let other =
            |what, from_s| Other { what, from_s, to_s: from_s + 1.0, hz: None, why: Why::Steps };
        assert_eq!(also_heard(&[]), None);
        let heard = [
            other(What::Speech, 0.5),
            other(What::Instrument, 2.0),
            other(What::Instrument, 4.0),
            other(What::Instrument, 5.0),
        ];
        assert_eq!(
            also_heard(&heard).as_deref(),
            Some("notes played on an instrument (3 times), a voice at 0.5 s")
        );
    }
}
