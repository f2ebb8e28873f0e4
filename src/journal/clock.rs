//! The wall clock, for stamps that people read. Nothing decides by it.

use std::time::{Instant, SystemTime, UNIX_EPOCH};

/// A past moment as `2026-11-25T12:30:09Z` (RFC 3339, UTC).
pub(crate) fn stamp(moment: Instant) -> String {
    #[expect(clippy::disallowed_methods, reason = "the one place for stamps")]
    let now = SystemTime::now();
    let since = now.duration_since(UNIX_EPOCH).unwrap_or_default().saturating_sub(moment.elapsed());
    utc(since.as_secs())
}

/// Seconds since 1970 in the calendar of ISO 8601.
fn utc(seconds: u64) -> String {
    let (mut days, of_day) = (seconds / 86_400, seconds % 86_400);
    let mut year = 1970;
    while days >= days_in(year) {
        days -= days_in(year);
        year += 1;
    }
    let february = if days_in(year) == 366 { 29 } else { 28 };
    let mut month = 1;
    for length in [31, february, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31] {
        if days < length {
            break;
        }
        days -= length;
        month += 1;
    }
    let (hour, minute, second) = (of_day / 3600, of_day / 60 % 60, of_day % 60);
    format!("{year:04}-{month:02}-{:02}T{hour:02}:{minute:02}:{second:02}Z", days + 1)
}

fn days_in(year: u64) -> u64 {
    let leap = year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
    if leap { 366 } else { 365 }
}

#[cfg(test)]
mod tests {
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
            assert_eq!(utc(seconds), date);
        }
        assert!(stamp(Instant::now()).starts_with("20"), "a date of this century");
    }
}
