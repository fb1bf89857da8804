//! Days and hours of a year: weekdays, nth weekdays, dates, closures, holidays, and their expansion to quarter-hours.
//!
//! A year here has 365 days (29 February does not occur, as in a weather year) and starts on a stated weekday. All
//! times are local standard time. Rules are written as a builder would: `Mon–Fri 9:00–20:30`,
//! `1st and 3rd Fri, 19:00–20:45`, `last Thu`, `Jul, Mon–Fri 9:00–15:00`, `24 Dec – 1 Jan`, `every day`.
//! Start at [`Rule::read`] and [`Calendar::new`].

use std::fmt;

mod read;

pub use read::CalendarError;

/// Days of the model year.
pub const DAYS: usize = 365;
/// Quarter-hours of a day.
pub const QUARTERS_A_DAY: usize = 96;
/// Quarter-hours of the model year.
pub const QUARTERS: usize = DAYS * QUARTERS_A_DAY;

const MONTH_LENGTHS: [u16; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/// A day of the week.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "the seven names say all")]
pub enum Weekday {
    Mon,
    Tue,
    Wed,
    Thu,
    Fri,
    Sat,
    Sun,
}

impl Weekday {
    /// All seven, Monday first.
    pub const ALL: [Self; 7] = [Self::Mon, Self::Tue, Self::Wed, Self::Thu, Self::Fri, Self::Sat, Self::Sun];

    /// Returns the weekday some days later.
    #[must_use]
    pub fn plus(self, days: usize) -> Self {
        Self::ALL[(self as usize + days) % 7]
    }

    /// Reads `Mon`, `monday`.
    pub fn read(text: &str) -> Option<Self> {
        const LONG: [&str; 7] =
            ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];
        let plain = text.trim().trim_end_matches('.').to_lowercase();
        let plain = plain.strip_suffix("days").map_or(plain.clone(), |stem| format!("{stem}day"));
        Self::ALL
            .into_iter()
            .zip(LONG)
            .find(|(_, long)| plain.len() >= 3 && long.starts_with(&plain))
            .map(|(d, _)| d)
    }
}

/// A date of the real calendar, for the site log and the works.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date {
    /// Year.
    pub year: i32,
    /// Month, 1 to 12.
    pub month: u8,
    /// Day, from 1.
    pub day: u8,
}

impl Date {
    /// Reads `2025-09-03`.
    pub fn read(text: &str) -> Option<Self> {
        let mut parts = text.trim().splitn(3, '-');
        let year = parts.next()?.parse::<i32>().ok()?;
        let month = parts.next()?.parse::<u8>().ok()?;
        let day = parts.next()?.parse::<u8>().ok()?;
        let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
        let longest = MONTH_LENGTHS.get(usize::from(month).checked_sub(1)?)?;
        let longest = longest + u16::from(month == 2 && leap);
        (day >= 1 && u16::from(day) <= longest && (1..=9999).contains(&year)).then_some(Self {
            year,
            month,
            day,
        })
    }

    /// Returns days since 1 January 1970 (proleptic Gregorian calendar).
    pub fn day_number(self) -> i64 {
        let shifted = i64::from(self.year) - i64::from(self.month <= 2);
        let era = shifted.div_euclid(400);
        let year_of_era = shifted.rem_euclid(400);
        let month_from_march = (i64::from(self.month) + 9) % 12;
        let day_of_year = (153 * month_from_march + 2) / 5 + i64::from(self.day) - 1;
        let day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
        era * 146_097 + day_of_era - 719_468
    }

    /// Returns the date that many days after 1 January 1970; `None` outside the years 1 to 9999.
    pub fn of_day_number(number: i64) -> Option<Self> {
        let shifted = number.checked_add(719_468)?;
        let era = shifted.div_euclid(146_097);
        let day_of_era = shifted.rem_euclid(146_097);
        let year_of_era =
            (day_of_era - day_of_era / 1_460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
        let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
        let month_from_march = (5 * day_of_year + 2) / 153;
        let day = u8::try_from(day_of_year - (153 * month_from_march + 2) / 5 + 1).ok()?;
        let month = u8::try_from((month_from_march + 2) % 12 + 1).ok()?;
        let year = i32::try_from(year_of_era + 400 * era + i64::from(month <= 2)).ok()?;
        (1..=9999).contains(&year).then_some(Self { year, month, day })
    }

    /// Returns the date some days later (earlier, when negative); `None` outside the years 1 to 9999.
    pub fn plus_days(self, days: i64) -> Option<Self> {
        Self::of_day_number(self.day_number().checked_add(days)?)
    }

    /// Returns the weekday.
    pub fn weekday(self) -> Weekday {
        // 1 January 1970 was a Thursday.
        Weekday::ALL[(self.day_number() + 3).rem_euclid(7) as usize]
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

/// A day of the model year, without the year.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct MonthDay {
    /// 1 to 12.
    pub month: u8,
    /// From 1.
    pub day: u8,
}

impl MonthDay {
    /// Returns the day's number in the model year, from 0.
    pub fn day_of_year(self) -> usize {
        let before: u16 = MONTH_LENGTHS[..usize::from(self.month) - 1].iter().sum();
        usize::from(before) + usize::from(self.day) - 1
    }
}

/// Hours of a day, in minutes; the end may be 24:00. A span over midnight is two spans.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TimeSpan {
    /// First minute of the day, 0 to 1439.
    pub from_minute: u16,
    /// Minute after the last, at most 1440.
    pub to_minute: u16,
}

impl TimeSpan {
    /// The whole day.
    pub const DAY: Self = Self { from_minute: 0, to_minute: 1440 };

    /// Says whether a quarter-hour of the day (0 to 95) lies inside.
    pub fn holds_quarter(self, quarter: usize) -> bool {
        let minute = (quarter * 15) as u16;
        minute >= self.from_minute && minute < self.to_minute
    }

    /// Hours it lasts.
    pub fn hours(self) -> f64 {
        f64::from(self.to_minute - self.from_minute) / 60.0
    }
}

impl fmt::Display for TimeSpan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (a, b) = (self.from_minute, self.to_minute);
        write!(f, "{}:{:02}–{}:{:02}", a / 60, a % 60, b / 60, b % 60)
    }
}

/// Which of a month's weekdays.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Nth {
    /// From the start, 1 to 5.
    From(u8),
    /// The last.
    Last,
}

/// A choice of days and of hours in them. The default is every day, all day.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Rule {
    /// Weekdays; empty with no nth weekday: any.
    pub weekdays: Vec<Weekday>,
    /// Nth weekdays of the month.
    pub nth: Vec<(Nth, Weekday)>,
    /// Date ranges, both ends in; a range whose end lies before its start runs over New Year. Empty: any.
    pub dates: Vec<(MonthDay, MonthDay)>,
    /// Hours; empty: all day.
    pub spans: Vec<TimeSpan>,
    /// Days left out again.
    pub except: Option<Box<Rule>>,
}

impl Rule {
    /// Says whether a day matches.
    pub fn matches(&self, day: &Day) -> bool {
        let in_week = self.weekdays.is_empty() && self.nth.is_empty()
            || self.weekdays.contains(&day.weekday)
            || self.nth.iter().any(|&(nth, weekday)| weekday == day.weekday && day.is_nth(nth));
        let in_year = self.dates.is_empty() || self.dates.iter().any(|&range| day.lies_in(range));
        in_week && in_year && !self.except.as_ref().is_some_and(|except| except.matches(day))
    }

    /// Returns the hours, all day when none are written.
    pub fn hours(&self) -> &[TimeSpan] {
        if self.spans.is_empty() { &[TimeSpan::DAY] } else { &self.spans }
    }
}

/// What the book says about the year.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CalendarPlan {
    /// Weekday of 1 January; Monday when left out.
    pub first_weekday: Option<Weekday>,
    /// Days on which nobody is there.
    pub closed: Vec<Rule>,
    /// Days that count as Sundays.
    pub holidays: Vec<Rule>,
}

/// One day of the model year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Day {
    /// Month and day.
    pub date: MonthDay,
    /// Day of the week; Sunday on holidays.
    pub weekday: Weekday,
    /// Nobody is there.
    pub closed: bool,
    /// Counts as a Sunday.
    pub holiday: bool,
}

impl Day {
    fn is_nth(&self, nth: Nth) -> bool {
        match nth {
            Nth::From(n) => self.date.day.div_ceil(7) == n,
            Nth::Last => u16::from(self.date.day) + 7 > MONTH_LENGTHS[usize::from(self.date.month) - 1],
        }
    }

    fn lies_in(&self, (first, last): (MonthDay, MonthDay)) -> bool {
        if first <= last {
            first <= self.date && self.date <= last
        } else {
            first <= self.date || self.date <= last
        }
    }
}

/// The days of the model year.
#[derive(Clone, Debug, PartialEq)]
pub struct Calendar {
    /// Weekday of 1 January.
    pub first_weekday: Weekday,
    /// 365 days.
    pub days: Vec<Day>,
}

impl Calendar {
    /// Lays out the year.
    pub fn new(plan: &CalendarPlan) -> Self {
        let first_weekday = plan.first_weekday.unwrap_or(Weekday::Mon);
        let mut days = Vec::with_capacity(DAYS);
        for (month, &length) in (1u8..).zip(&MONTH_LENGTHS) {
            for day in 1..=length as u8 {
                let weekday = first_weekday.plus(days.len());
                let mut it = Day { date: MonthDay { month, day }, weekday, closed: false, holiday: false };
                it.closed = plan.closed.iter().any(|rule| rule.matches(&it));
                it.holiday = plan.holidays.iter().any(|rule| rule.matches(&it));
                if it.holiday {
                    it.weekday = Weekday::Sun;
                }
                days.push(it);
            }
        }
        Self { first_weekday, days }
    }

    /// Returns the numbers of the open days that match, from 0.
    pub fn open_days(&self, rule: &Rule) -> Vec<usize> {
        let days = self.days.iter().enumerate();
        days.filter(|(_, day)| !day.closed && rule.matches(day)).map(|(number, _)| number).collect()
    }

    /// Returns the numbers of all days that match, closed or not, from 0.
    pub fn all_days(&self, rule: &Rule) -> Vec<usize> {
        let days = self.days.iter().enumerate();
        days.filter(|(_, day)| rule.matches(day)).map(|(number, _)| number).collect()
    }

    /// Returns the quarter-hours of the year that a rule holds; `closed_too` keeps those of closed days.
    pub fn quarters(&self, rule: &Rule, closed_too: bool) -> Vec<bool> {
        let mut held = vec![false; QUARTERS];
        let days = if closed_too { self.all_days(rule) } else { self.open_days(rule) };
        for day in days {
            for quarter in 0..QUARTERS_A_DAY {
                held[day * QUARTERS_A_DAY + quarter] =
                    rule.hours().iter().any(|span| span.holds_quarter(quarter));
            }
        }
        held
    }
}

/// A quantity over the quarter-hours of a year: in each, none or one of a few stated levels.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile<L> {
    /// The levels.
    pub levels: Vec<L>,
    /// For each quarter-hour 0 for none, else one more than the level's place. Length [`QUARTERS`].
    pub index: Vec<u16>,
}

impl<L: Copy + PartialEq> Profile<L> {
    /// Nothing, all year.
    pub fn none() -> Self {
        Self { levels: Vec::new(), index: vec![0; QUARTERS] }
    }

    /// One level, all year.
    pub fn always(level: L) -> Self {
        Self { levels: vec![level], index: vec![1; QUARTERS] }
    }

    /// Returns the place of a level, adding it when new.
    pub fn level(&mut self, level: L) -> u16 {
        let place = self.levels.iter().position(|l| *l == level).unwrap_or_else(|| {
            self.levels.push(level);
            self.levels.len() - 1
        });
        place as u16 + 1
    }

    /// Sets the level of some hours of some days; later calls win.
    pub fn set(&mut self, days: &[usize], span: TimeSpan, level: L) {
        let place = self.level(level);
        self.fill(days, span, place);
    }

    /// Clears some hours of some days.
    pub fn clear(&mut self, days: &[usize], span: TimeSpan) {
        self.fill(days, span, 0);
    }

    fn fill(&mut self, days: &[usize], span: TimeSpan, place: u16) {
        for &day in days {
            for quarter in (0..QUARTERS_A_DAY).filter(|&q| span.holds_quarter(q)) {
                self.index[day * QUARTERS_A_DAY + quarter] = place;
            }
        }
    }

    /// Returns the level of a quarter-hour of the year.
    pub fn at(&self, quarter: usize) -> Option<L> {
        let place = *self.index.get(quarter)?;
        self.levels.get(usize::from(place).checked_sub(1)?).copied()
    }

    /// Hours of the year at each level, in the levels' order.
    pub fn hours(&self) -> Vec<f64> {
        let mut counts = vec![0u32; self.levels.len()];
        for &place in &self.index {
            if let Some(place) = usize::from(place).checked_sub(1) {
                counts[place] += 1;
            }
        }
        counts.into_iter().map(|n| f64::from(n) / 4.0).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn year(first: Weekday) -> Calendar {
        Calendar::new(&CalendarPlan { first_weekday: Some(first), ..CalendarPlan::default() })
    }

    fn rule(text: &str) -> Rule {
        Rule::read(text).unwrap_or_else(|e| panic!("{text}: {e}"))
    }

    #[test]
    fn the_year_2026_as_a_wall_calendar_has_it() {
        let year = year(Weekday::Thu);
        assert_eq!(year.days.len(), 365);
        assert_eq!(Date::read("2026-01-01").unwrap().weekday(), Weekday::Thu);
        assert_eq!(year.days[364].weekday, Weekday::Thu);
        assert_eq!(year.all_days(&rule("Mon–Fri")).len(), 261);
        assert_eq!(year.all_days(&rule("Sat")).len(), 52);
        assert_eq!(year.all_days(&rule("last Thu")).len(), 12);
        assert_eq!(year.all_days(&rule("last Thu"))[0], 28);
        assert_eq!(year.all_days(&rule("1st and 3rd Fri")).len(), 24);
        assert_eq!(year.all_days(&rule("5th Fri in Jan")), [29]);
        assert_eq!(year.all_days(&rule("Jul, Mon–Fri")).len(), 23);
        assert_eq!(year.all_days(&rule("24 Dec – 1 Jan")).len(), 9);
        assert_eq!(year.all_days(&rule("Nov–Feb")).len(), 30 + 31 + 31 + 28);
        assert_eq!(year.all_days(&rule("4 Jul")).len(), 1);
        assert_eq!(year.all_days(&rule("10–14 Aug")).len(), 5);
        assert_eq!(year.all_days(&rule("weekdays except Jul")).len(), 261 - 23);
        assert_eq!(year.all_days(&rule("every day")).len(), 365);
        assert_eq!(
            year.all_days(&rule("Fri–Mon")).len(),
            year.all_days(&rule("Fri, weekend, Mondays")).len()
        );
    }

    #[test]
    fn dates_know_their_weekday_across_centuries() {
        for (text, weekday) in [
            ("1970-01-01", Weekday::Thu),
            ("2000-02-29", Weekday::Tue),
            ("2025-03-11", Weekday::Tue),
            ("1899-12-31", Weekday::Sun),
        ] {
            assert_eq!(Date::read(text).unwrap().weekday(), weekday, "{text}");
        }
        for bad in ["2025-02-29", "2025-13-01", "2025-00-10", "25 March", "2025-04-31", ""] {
            assert_eq!(Date::read(bad), None, "{bad}");
        }
    }

    #[test]
    fn hours_and_closed_days() {
        let plan = CalendarPlan {
            first_weekday: Some(Weekday::Thu),
            closed: vec![rule("24 Dec – 1 Jan")],
            holidays: vec![rule("4 Jul"), rule("last Mon in May")],
        };
        let year = Calendar::new(&plan);
        let lessons = rule("Mon–Fri 9:00–20:30");
        // 261 weekdays less the holiday on Monday 25 May (4 July is a Saturday) and the closed ones.
        let closed = year.days.iter().filter(|d| d.closed && d.weekday < Weekday::Sat).count();
        assert_eq!(year.open_days(&lessons).len(), 260 - closed);
        let held = year.quarters(&lessons, false).iter().filter(|h| **h).count();
        assert_eq!(held, year.open_days(&lessons).len() * 46);
        assert!(year.days[184].holiday && year.days[184].weekday == Weekday::Sun);
    }

    #[test]
    fn unreadable_rules_say_where() {
        for (text, span, word) in [
            ("Mon–Fri 9:10–20:30", (10, 14), "quarter-hour"),
            ("Mon–Fri 9:00–25:00", (17, 22), "24 hours"),
            ("Munday", (0, 6), "no day"),
            ("20:00–8:00", (0, 12), "before it starts"),
            ("1st and 3rd", (0, 3), "which weekday"),
            ("30 Feb", (0, 6), "no day 30"),
            ("7th Fri", (0, 3), "no month has"),
            ("", (0, 0), "no day"),
            ("14", (0, 2), "alone"),
            ("Mon except 9:00–10:00", (4, 10), "hours cannot"),
        ] {
            let error = Rule::read(text).expect_err(text);
            assert_eq!(error.span, span, "{text}: {error}");
            assert!(error.to_string().contains(word), "{error}");
        }
        assert!(TimeSpan::read("Mon 9:00–10:00").is_err());
        assert_eq!(TimeSpan::read("9:00 – 24:00").unwrap().hours(), 15.0);
        assert_eq!(TimeSpan::read_time("19:00"), Ok(1140));
    }

    proptest! {
        #[test]
        fn reading_never_panics(text in "[ -~–°]{0,30}") {
            let _ = Rule::read(&text);
        }

        #[test]
        fn words_in_any_order_never_panic(words in prop::collection::vec(prop::sample::select(vec![
            "Mon", "–", "Fri", "1st", "last", "Jul", "24", "Dec", "9:00", "20:30", "except", "weekend", ",", "and",
        ]), 0..8)) {
            let _ = Rule::read(&words.join(" "));
        }

        #[test]
        fn a_profile_keeps_what_was_set_last(first in 0..365_usize, second in 0..365_usize, a in 0..48_u16, b in 48..96_u16) {
            let mut profile = Profile::none();
            profile.set(&[first], TimeSpan::DAY, 1.5);
            let span = TimeSpan { from_minute: a * 15, to_minute: b * 15 };
            profile.set(&[second], span, 2.5);
            prop_assert_eq!(profile.at(second * 96 + usize::from(a)), Some(2.5));
            let expected = 24.0 - if first == second { span.hours() } else { 0.0 };
            prop_assert_eq!(profile.hours(), vec![expected, span.hours()]);
        }
    }
}
