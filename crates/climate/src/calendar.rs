//! The weather calendar: 365 days of 24 hours in local standard time, no 29 February, no daylight saving.
//!
//! Hour `k` (0 to 8 759) covers the time from `k` to `k + 1` hours after the start of 1 January.

/// Hours of the weather year.
pub const HOURS: usize = 8_760;
/// Days of the weather year.
pub const DAYS: usize = 365;
/// Days of each month.
pub const DAYS_IN_MONTH: [usize; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
/// Days of the year before each month.
pub const DAYS_BEFORE_MONTH: [usize; 12] = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334];
/// English names of the months.
pub const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// Returns the hours from the start of the year to a month (1–12), day (from 1) and hour of day (0–24); `None` for a
/// date that this calendar does not have, 29 February included.
pub fn hour_of_year(month: usize, day: usize, hour: usize) -> Option<usize> {
    let days = *DAYS_IN_MONTH.get(month.checked_sub(1)?)?;
    ((1..=days).contains(&day) && hour <= 24).then(|| (DAYS_BEFORE_MONTH[month - 1] + day - 1) * 24 + hour)
}

/// Returns the month (0–11) of an hour of the year; hours beyond the year wrap round.
pub fn month_of_hour(hour: usize) -> usize {
    let day = hour % HOURS / 24;
    DAYS_BEFORE_MONTH.iter().rposition(|&before| before <= day).unwrap_or(0)
}

/// Returns the first hour of a month (0–11) and the hour after its last.
pub fn hours_of_month(month: usize) -> std::ops::Range<usize> {
    let first = DAYS_BEFORE_MONTH[month] * 24;
    first..first + DAYS_IN_MONTH[month] * 24
}

/// Returns an hour of the year in words, such as `14 January 06:00`.
pub fn words(hour: usize) -> String {
    let hour = hour % HOURS;
    let month = month_of_hour(hour);
    format!("{} {} {:02}:00", hour / 24 - DAYS_BEFORE_MONTH[month] + 1, MONTHS[month], hour % 24)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_year_is_whole() {
        assert_eq!(DAYS_IN_MONTH.iter().sum::<usize>(), DAYS);
        assert_eq!((0..12).map(|m| hours_of_month(m).len()).sum::<usize>(), HOURS);
        assert_eq!(hour_of_year(1, 1, 0), Some(0));
        assert_eq!(hour_of_year(12, 31, 24), Some(HOURS));
        assert_eq!(hour_of_year(2, 29, 3), None);
        assert_eq!(hour_of_year(0, 1, 3), None);
        assert_eq!(hour_of_year(13, 1, 3), None);
        for hour in 0..HOURS {
            assert!(hours_of_month(month_of_hour(hour)).contains(&hour));
        }
        assert_eq!(words(13 * 24 + 6), "14 January 06:00");
    }
}
