//! Scales, nice ticks and axes.

/// A straight map from values to paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    from: f64,
    to: f64,
    paper_from: f64,
    paper_to: f64,
}

impl Scale {
    /// Maps `from..to` onto `paper_from..paper_to`; both may run backwards. An empty span maps to its start.
    pub fn new(from: f64, to: f64, paper_from: f64, paper_to: f64) -> Self {
        Self { from, to, paper_from, paper_to }
    }

    /// Returns the place of a value on paper.
    pub fn at(self, value: f64) -> f64 {
        let span = self.to - self.from;
        if span == 0.0 {
            return self.paper_from;
        }
        self.paper_from + (value - self.from) / span * (self.paper_to - self.paper_from)
    }
}

/// Ticks at 1, 2, 2.5 or 5 times a power of ten, and how many decimals their labels need.
#[derive(Clone, Debug, PartialEq)]
pub struct Ticks {
    /// Tick values, rising.
    pub values: Vec<f64>,
    /// Distance between two ticks.
    pub step: f64,
    /// Decimals that write every tick exactly.
    pub decimals: usize,
}

/// Returns about `wanted` round ticks that enclose `low..high`.
///
/// The first tick is at or below `low`, the last at or above `high`. Values that are not finite, or a span of
/// nothing, give one tick each side of the value.
pub fn ticks(low: f64, high: f64, wanted: usize) -> Ticks {
    let (low, high) =
        if low.is_finite() && high.is_finite() { (low.min(high), low.max(high)) } else { (0.0, 1.0) };
    // A span below the resolution of the numbers themselves cannot be divided.
    let smallest = low.abs().max(high.abs()).max(1e-9) * 1e-6;
    let span = (high - low).max(smallest);
    let raw = span / wanted.max(1) as f64;
    let (mut power, mut exponent) = (1.0_f64, 0_i32);
    while power * 10.0 <= raw {
        power *= 10.0;
        exponent += 1;
    }
    while power > raw {
        power /= 10.0;
        exponent -= 1;
    }
    let (factor, extra) = [(1.0, 0), (2.0, 0), (2.5, 1), (5.0, 0), (10.0, -1)]
        .into_iter()
        .find(|(factor, _)| factor * power >= raw * (1.0 - 1e-9))
        .unwrap_or((10.0, -1));
    let step = factor * power;
    let first = (low / step + 1e-9).floor();
    let last = (high / step - 1e-9).ceil().max(first + 1.0);
    let count = (last - first) as usize;
    let values = (0..=count).map(|k| (first + k as f64) * step).collect();
    Ticks { values, step, decimals: usize::try_from(extra - exponent).unwrap_or(0) }
}

/// One mark of a time axis.
#[derive(Clone, Debug, PartialEq)]
pub struct TimeMark {
    /// Hours from the start of the axis.
    pub hour: f64,
    /// Label, empty for a mark without one.
    pub label: String,
}

/// Days of the twelve months of a year of 365 days.
pub const MONTH_DAYS: [u32; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/// Full names of the months.
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

/// Marks at the beginning of each month of a 365-day year, labelled with `letters` of the month's name.
pub fn month_marks(letters: usize) -> Vec<TimeMark> {
    let mut hour = 0.0;
    MONTH_DAYS
        .iter()
        .zip(MONTHS)
        .map(|(days, name)| {
            let mark = TimeMark { hour, label: name.chars().take(letters).collect() };
            hour += f64::from(*days) * 24.0;
            mark
        })
        .collect()
}

/// Marks at full clock times between two hours of a day, at most `wanted` or so of them.
///
/// `start` and `end` count hours from midnight of the first day and may run past 24.
pub fn clock_marks(start: f64, end: f64, wanted: usize) -> Vec<TimeMark> {
    let span = (end - start).max(0.25);
    let step = [0.25, 0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0]
        .into_iter()
        .find(|step| span / step <= wanted.max(1) as f64)
        .unwrap_or(24.0);
    let mut marks = Vec::new();
    let mut k = (start / step - 1e-9).ceil();
    while k * step <= end + 1e-9 {
        let hour = k * step;
        marks.push(TimeMark { hour, label: clock(hour) });
        k += 1.0;
    }
    marks
}

/// Writes an hour count as a clock time, `19:30`.
pub fn clock(hour: f64) -> String {
    let minutes = (hour * 60.0).round().rem_euclid(24.0 * 60.0);
    format!("{}:{:02}", (minutes / 60.0).floor(), minutes % 60.0)
}

/// Day of the month, from 1, and month's name of a day of a 365-day year, from 0; `None` past its end.
pub fn day_and_month(day_of_year: usize) -> Option<(usize, &'static str)> {
    let mut day = day_of_year;
    for (days, name) in MONTH_DAYS.iter().zip(MONTHS) {
        let days = *days as usize;
        if day < days {
            return Some((day + 1, name));
        }
        day -= days;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn ticks_are_round() {
        let t = ticks(0.0, 2040.0, 5);
        assert_eq!(
            (t.values, t.step, t.decimals),
            (vec![0.0, 500.0, 1000.0, 1500.0, 2000.0, 2500.0], 500.0, 0)
        );
        let t = ticks(0.0, 0.63, 4);
        assert_eq!((t.step, t.decimals), (0.2, 1));
        let t = ticks(0.0, 0.95, 4);
        assert_eq!((t.step, t.decimals), (0.25, 2));
    }

    #[test]
    fn clocks_and_moments() {
        assert_eq!(clock(19.5), "19:30");
        assert_eq!(clock(25.0), "1:00");
        assert_eq!(day_and_month(0), Some((1, "January")));
        assert_eq!(day_and_month(59), Some((1, "March")));
        assert_eq!(day_and_month(364), Some((31, "December")));
        assert_eq!(day_and_month(365), None);
        let labels: Vec<String> = clock_marks(18.5, 21.5, 4).into_iter().map(|m| m.label).collect();
        assert_eq!(labels, ["19:00", "20:00", "21:00"]);
        assert_eq!(month_marks(3).len(), 12);
        assert_eq!(month_marks(3)[11].hour, 334.0 * 24.0);
    }

    proptest! {
        /// Ticks enclose the data, rise evenly and stay near the number wanted; labels lose nothing.
        #[test]
        fn ticks_enclose(low in -1e5..1e5_f64, span in 1e-3..1e5_f64, wanted in 2_usize..9) {
            let high = low + span;
            let t = ticks(low, high, wanted);
            let (first, last) = (t.values[0], t.values[t.values.len() - 1]);
            prop_assert!(first <= low + t.step * 1e-6 && last >= high - t.step * 1e-6, "{t:?}");
            prop_assert!(t.values.len() <= wanted + 3);
            for pair in t.values.windows(2) {
                prop_assert!((pair[1] - pair[0] - t.step).abs() < t.step * 1e-6);
            }
            for value in &t.values {
                let read: f64 = crate::svg::decimal(*value, t.decimals).parse().unwrap();
                prop_assert!((read - value).abs() < t.step * 1e-6, "{value} {t:?}");
            }
        }
    }
}
