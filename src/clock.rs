//! The time, where a calendar can tell it.

use std::time::SystemTime;

use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};

/// This computer's clock tells a time that no calendar here reaches.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub struct BeyondCalendar;

/// The moment in the maker's zone.
pub fn now() -> Result<ZonedDateTime, BeyondCalendar> {
    at(SystemTime::now())
}

fn at(moment: SystemTime) -> Result<ZonedDateTime, BeyondCalendar> {
    let moment = Timestamp::try_from(moment).map_err(|_| BeyondCalendar)?;
    Ok(moment.to_zoned_datetime(TimeZone::system()))
}

/// Today, YYYY-MM-DD.
pub fn today() -> Result<String, BeyondCalendar> {
    now().map(|now| now.date().to_string())
}

/// Whether a day (YYYY-MM-DD) is before today.
pub fn is_past(day: &str) -> bool {
    today().is_ok_and(|today| day < today.as_str())
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    #[test]
    fn a_clock_beyond_the_calendar_is_told_and_no_panic() {
        let at_s = |seconds| at(SystemTime::UNIX_EPOCH + Duration::from_secs(seconds));
        assert_eq!(at_s(1_700_000_000).map(|now| now.year()), Ok(2023));
        // The year 11476.
        assert_eq!(at_s(300_000_000_000), Err(BeyondCalendar));
        assert_eq!(at_s(u64::from(u32::MAX) * 1_000), Err(BeyondCalendar));
    }
}
