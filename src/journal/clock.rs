//! The wall clock, for stamps that people read. Nothing decides by it but which night a page is about.

use std::time::{Instant, SystemTime};

use jiff::tz::TimeZone;

/// A moment that was written down.
pub(crate) use jiff::Timestamp;

/// A moment as the people of this place read it.
pub(crate) use jiff::ZonedDateTime as Zoned;

/// A past moment as `2026-11-25T12:30:09Z` (RFC 3339, UTC).
pub(crate) fn stamp(moment: Instant) -> String {
    #[expect(clippy::disallowed_methods, reason = "the one place for stamps")]
    let now = SystemTime::now();
    stamp_of(now.checked_sub(moment.elapsed()).unwrap_or(SystemTime::UNIX_EPOCH))
}

/// The same of a file's time.
pub(crate) fn stamp_of(moment: SystemTime) -> String {
    let moment = Timestamp::try_from(moment).unwrap_or(Timestamp::UNIX_EPOCH);
    moment.strftime("%Y-%m-%dT%H:%M:%SZ").to_string()
}

/// A stamp in the time of this place; nothing where it is none.
pub(crate) fn local(stamp: &str) -> Option<Zoned> {
    Some(here(stamp.parse().ok()?))
}

/// A moment in the time of this place.
pub(crate) fn here(moment: Timestamp) -> Zoned {
    moment.to_zoned_datetime(TimeZone::system())
}

/// Now, in the time of this place.
pub(crate) fn now() -> Zoned {
    local(&stamp(Instant::now())).unwrap_or_else(|| Timestamp::UNIX_EPOCH.to_zoned_datetime(TimeZone::UTC))
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    #[test]
    fn seconds_become_dates() {
        // By `date -u -d @N +%FT%TZ` of coreutils.
        for (seconds, date) in [
            (0, "1970-01-01T00:00:00Z"),
            (951_782_400, "2000-02-29T00:00:00Z"),
            (1_000_000_000, "2001-09-09T01:46:40Z"),
            (1_735_689_599, "2024-12-31T23:59:59Z"),
            (4_107_542_400, "2100-03-01T00:00:00Z"),
        ] {
            assert_eq!(stamp_of(SystemTime::UNIX_EPOCH + Duration::from_secs(seconds)), date);
            assert_eq!(local(date).map(|there| there.timestamp().as_second()), i64::try_from(seconds).ok());
        }
        assert!(stamp(Instant::now()).starts_with("20"), "a date of this century");
        assert!(local("yesterday").is_none(), "no stamp");
    }
}
