//! What a reading says, in words.

use crate::reading::{Loud, Other, What, Why, how_loud};
use crate::words::format::dbfs;

/// What ± means, everywhere.
pub const PLUS_MINUS: &str = "± is how far off a figure may be, nineteen times out of twenty.";

/// What sounded and was set aside, in one line: `a voice (3 times), a knock at 2.0 s`. `None` where there
/// was nothing.
pub fn also_heard(others: &[Other]) -> Option<String> {
    const ALL: [What; 6] =
        [What::Instrument, What::Speech, What::Hum, What::Machine, What::Struck, What::Unknown];
    let mut named: Vec<(&str, Vec<&Other>)> = Vec::new();
    for other in ALL.iter().flat_map(|what| others.iter().filter(move |o| o.what == *what)) {
        let name = self::other(other.what, other.why);
        match named.iter_mut().find(|(known, _)| *known == name) {
            Some((_, each)) => each.push(other),
            None => named.push((name, vec![other])),
        }
    }
    let parts: Vec<String> = named
        .iter()
        .map(|(name, each)| match each.as_slice() {
            [one] => format!("{name} at {:.1} s", one.from_s),
            [_, _] => format!("{name} (twice)"),
            each => format!("{name} ({} times)", each.len()),
        })
        .collect();
    (!parts.is_empty()).then(|| parts.join("; "))
}

/// What a sound that is no crow was taken for.
pub fn other(what: What, why: Why) -> &'static str {
    match (what, why) {
        (What::Instrument | What::Unknown, Why::Weaker) => "somebody's note, weaker than the crows",
        (What::Instrument, _) => "notes played on an instrument",
        (What::Speech, _) => "a voice",
        (What::Hum, _) => "mains hum",
        (What::Machine, Why::Breathless) => "a device, such as a tuner: no breath in its tone",
        (What::Machine, _) => "a steady tone of the room",
        (What::Struck, _) => "a knock",
        (What::Unknown, Why::OutOfRange) => "a tone where no such reed crows",
        (What::Unknown, Why::Hidden) => "a tone that hardly stands out from the room",
        (What::Unknown, Why::Short) => "a tone too short for a crow",
        (What::Unknown, Why::Dull) => "a tone without overtones, as of a whistle",
        (What::Unknown, Why::Unlike) => "a tone of another pitch and sound than the crows",
        (What::Unknown, Why::Glides) => "a tone that glides, as of a hinge",
        (What::Unknown, _) => "a sound that is not a crow",
    }
}

/// How loud it was recorded, as a card has it: `right (−18.2 dB of full scale)`.
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
            Some("notes played on an instrument (3 times); a voice at 0.5 s")
        );
        let weaker = Other { why: Why::Weaker, ..other(What::Instrument, 6.0) };
        assert_eq!(
            also_heard(&[other(What::Instrument, 2.0), weaker]).as_deref(),
            Some(
                "notes played on an instrument at 2.0 s; somebody's note, weaker than the crows at 6.0 s"
            )
        );
    }
}
