//! Moments of the log, which are kept in UTC, as a maker's calendar and clock have them.

use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::words::format::from_to;

/// The day in `zone`: `2026-03-17`. Empty where `at` is not a moment.
pub fn day(at: &str, zone: &TimeZone) -> String {
    local(at, zone).map(|local| local.date().to_string()).unwrap_or_default()
}

/// Day, time and zone: `2026-03-17 14:03 +01:00`. Empty where `at` is not a moment.
pub fn moment(at: &str, zone: &TimeZone) -> String {
    local(at, zone)
        .map(|local| local.strftime("%Y-%m-%d %H:%M %:z").to_string())
        .unwrap_or_default()
}

/// From the first to the last of some moments, with the zone: `2026-03-17 to 2026-04-02 (UTC+02:00)`.
/// `None` where none is a moment.
pub fn span<'a>(moments: impl Iterator<Item = &'a str>, zone: &TimeZone) -> Option<String> {
    let mut moments: Vec<_> = moments.filter_map(|at| local(at, zone)).collect();
    moments.sort();
    let (first, last) = (moments.first()?, moments.last()?);
    let offset = last.strftime("%:z");
    Some(match (first.date(), last.date()) {
        (first, last) if first == last => format!("{first} (UTC{offset})"),
        (first, last) => format!("{} (UTC{offset})", from_to(first, last)),
    })
}

fn local(at: &str, zone: &TimeZone) -> Option<jiff::ZonedDateTime> {
    Some(at.parse::<Timestamp>().ok()?.to_zoned_datetime(zone.clone()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Central European Time is UTC+1, from the last Sunday of March on UTC+2 (EU Directive 2000/84/EC;
    /// in 2026 that is the 29th).
    #[test]
    fn days_and_hours_are_those_of_the_zone() {
        let prague = TimeZone::posix("CET-1CEST,M3.5.0,M10.5.0/3").unwrap();
        let at = "2026-03-28T23:30:00.123Z";
        assert_eq!(day(at, &prague), "2026-03-29");
        assert_eq!(moment(at, &prague), "2026-03-29 00:30 +01:00");
        assert_eq!(moment("2026-03-29T01:30:00Z", &prague), "2026-03-29 03:30 +02:00");
        assert_eq!(day("yesterday", &prague), "");
        let moments = ["2026-03-29T01:30:00Z", "no moment", at];
        assert_eq!(span(moments.into_iter(), &prague).as_deref(), Some("2026-03-29 (UTC+02:00)"));
        let moments = ["2026-03-20T08:00:00Z", at];
        assert_eq!(
            span(moments.into_iter(), &prague).as_deref(),
            Some("2026-03-20 to 2026-03-29 (UTC+01:00)")
        );
        assert_eq!(span(std::iter::empty(), &prague), None);
    }
}
