//! Hours and readings that are not there: named by row, and filled only when asked.

use super::raw::{Quantity, RawYear};
use crate::calendar::{HOURS, words};
use crate::problem::{Problems, WeatherProblemKind as Kind};

/// Longest gap of a state that is bridged by a straight line, hours. Over a longer one a straight line would flatten
/// the day, so the same hours of the neighbouring days stand in.
const STRAIGHT_H: usize = 6;

/// One run of missing readings: first label and length; runs may close over the end of the year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Gap {
    first: usize,
    hours: usize,
}

/// Lists the gaps of every quantity needed as problems, or fills them and says so in the notes.
pub(super) fn settle(raw: &mut RawYear, needed: &[Quantity], fill: bool, problems: &mut Problems) {
    let absent = runs(|hour| raw.rows[hour] == 0);
    let mut whole_rows = Vec::new();
    for gap in &absent {
        let missing = format!("{}, {}", span(raw, *gap), hours_in_words(gap.hours));
        let before = row_before(raw, *gap);
        if fill {
            whole_rows.push(format!("{missing}, after row {before}"));
        } else {
            let what = format!("after this row, no row for {missing}");
            let help = "add the rows, or ask for gaps to be filled";
            problems.push(Kind::Gap, Some(before).filter(|&row| row != 0), None, what, help);
        }
    }
    for &quantity in needed {
        let q = quantity as usize;
        let gaps = runs(|hour| raw.values[hour][q].is_nan());
        let total: usize = gaps.iter().map(|g| g.hours).sum();
        if total == 0 {
            continue;
        }
        let heading = raw.headings[q].clone().unwrap_or_else(|| quantity.name().to_owned());
        if total > HOURS / 4 && fill {
            let what = format!("{total} of {HOURS} readings are missing");
            problems.push(
                Kind::Gap,
                None,
                Some(&heading),
                what,
                "too many to fill honestly; use another file",
            );
            continue;
        }
        // Where the whole row is missing that has been said already.
        let partly: Vec<Gap> = gaps
            .iter()
            .copied()
            .filter(|g| (0..g.hours).any(|i| raw.rows[(g.first + i) % HOURS] != 0))
            .collect();
        if fill {
            // A fill must never feed on another fill: all are drawn from the readings as they came.
            let as_read: Vec<f64> = raw.values.iter().map(|v| v[q]).collect();
            for &gap in &gaps {
                fill_one(raw, &as_read, quantity, gap);
            }
            if !partly.is_empty() {
                raw.notes.push(filled_note(raw, quantity, &partly));
            }
        } else {
            // A cell that is no number has been named already.
            let told = |g: &Gap| g.hours == 1 && problems.named(raw.rows[g.first], &heading);
            let untold: Vec<Gap> = partly.into_iter().filter(|g| !told(g)).collect();
            for gap in untold {
                let what = format!("no reading: {}, {}", span(raw, gap), hours_in_words(gap.hours));
                let help = "add the readings, or ask for gaps to be filled";
                problems.push(Kind::Gap, row_of(raw, gap.first), Some(&heading), what, help);
            }
        }
    }
    if !whole_rows.is_empty() {
        raw.notes.push(format!("Filled where rows were missing: {}.", whole_rows.join("; ")));
    }
}

fn filled_note(raw: &RawYear, quantity: Quantity, gaps: &[Gap]) -> String {
    let total: usize = gaps.iter().map(|g| g.hours).sum();
    let listed: Vec<String> = gaps.iter().take(20).map(|g| span(raw, *g)).collect();
    let more = gaps.len().saturating_sub(20);
    let tail = if more > 0 { format!("; and {more} gaps more") } else { String::new() };
    format!("Filled {total} readings of {}: {}{tail}.", quantity.name(), listed.join("; "))
}

fn hours_in_words(hours: usize) -> String {
    if hours == 1 { "1 hour".to_owned() } else { format!("{hours} hours") }
}

fn span(raw: &RawYear, gap: Gap) -> String {
    let (first, last) = (gap.first, (gap.first + gap.hours - 1) % HOURS);
    let time = if gap.hours == 1 { words(first) } else { format!("{} to {}", words(first), words(last)) };
    match (raw.rows[first], raw.rows[last]) {
        (0, _) | (_, 0) => time,
        (a, b) if a == b => format!("{time} (row {a})"),
        (a, b) => format!("{time} (rows {a} to {b})"),
    }
}

fn row_before(raw: &RawYear, gap: Gap) -> usize {
    (1..HOURS).map(|back| raw.rows[(gap.first + HOURS - back) % HOURS]).find(|&row| row != 0).unwrap_or(0)
}

fn row_of(raw: &RawYear, hour: usize) -> Option<usize> {
    Some(raw.rows[hour % HOURS]).filter(|&row| row != 0)
}

/// Returns the runs of hours for which something is missing; a year without any reading is one run.
fn runs(missing: impl Fn(usize) -> bool) -> Vec<Gap> {
    let Some(start) = (0..HOURS).find(|&h| !missing(h)) else {
        return vec![Gap { first: 0, hours: HOURS }];
    };
    let mut gaps: Vec<Gap> = Vec::new();
    let mut open: Option<Gap> = None;
    for i in 0..=HOURS {
        let hour = (start + i) % HOURS;
        match (missing(hour), &mut open) {
            (true, Some(gap)) => gap.hours += 1,
            (true, None) => open = Some(Gap { first: hour, hours: 1 }),
            (false, _) => gaps.extend(open.take()),
        }
    }
    gaps.sort_by_key(|g| g.first);
    gaps
}

fn fill_one(raw: &mut RawYear, as_read: &[f64], quantity: Quantity, gap: Gap) {
    let q = quantity as usize;
    if gap.hours == HOURS {
        return;
    }
    let before = as_read[(gap.first + HOURS - 1) % HOURS];
    let after = as_read[(gap.first + gap.hours) % HOURS];
    for i in 0..gap.hours {
        let hour = (gap.first + i) % HOURS;
        let straight = before + (after - before) * (i + 1) as f64 / (gap.hours + 1) as f64;
        raw.values[hour][q] = match quantity {
            Quantity::WindDirection => before,
            // Rain that nobody saw is not invented.
            Quantity::Rain => 0.0,
            _ if gap.hours <= STRAIGHT_H && !quantity.is_hour_mean() => straight,
            _ => neighbouring_days(as_read, hour).unwrap_or(straight),
        };
    }
}

/// Returns the mean of the same hour on the nearest days before and after that have it; none may have it.
fn neighbouring_days(as_read: &[f64], hour: usize) -> Option<f64> {
    let look =
        |step: usize| (1..HOURS / 24).map(|days| as_read[(hour + step * days) % HOURS]).find(|v| !v.is_nan());
    match (look(HOURS - 24), look(24)) {
        (Some(a), Some(b)) => Some(0.5 * (a + b)),
        (a, b) => a.or(b),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_close_over_the_new_year() {
        let missing = [0, 1, 5, HOURS - 1];
        let gaps = runs(|h| missing.contains(&h));
        assert_eq!(gaps, [Gap { first: 5, hours: 1 }, Gap { first: HOURS - 1, hours: 3 }]);
        assert_eq!(runs(|_| true), [Gap { first: 0, hours: HOURS }]);
        assert!(runs(|_| false).is_empty());
    }
}
