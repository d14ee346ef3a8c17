//! Moments of the log, which are kept in UTC, as a maker's calendar and clock have them.

use jiff::Timestamp;
use jiff::tz::TimeZone;

/// The day in `zone`: `2026-03-17`. Empty where `at` is no moment.
pub fn day(at: &str, zone: &TimeZone) -> String {
    local(at, zone).map(|local| local.date().to_string()).unwrap_or_default()
}

/// Day, time and zone: `2026-03-17 14:03 +01:00`. Empty where `at` is no moment.
pub fn moment(at: &str, zone: &TimeZone) -> String {
    local(at, zone)
        .map(|local| local.strftime("%Y-%m-%d %H:%M %:z").to_string())
        .unwrap_or_default()
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
    }
}
