//! The works: what is done when, by whom, what it covers, and whether its proof comes first.
//!
//! Start at [`schedule`]: every activity with its first and last day. [`findings`] holds it against itself and against
//! the site log; [`look_ahead`] and [`day_sheet`] are what is pinned up on site; `text` writes CSV and calendars.
//! Working days are Monday to Friday without the holidays of the book; a start that is not stated follows from what
//! comes before.

mod day;
mod findings;
#[cfg(test)]
mod tests;
mod text;

pub use day::{DaySheet, day_sheet};
pub(crate) use findings::proves;
pub use findings::{WorksFinding, findings};
pub use text::{csv, icalendar};

use crate::check::Project;
use crate::standing::plain;
use building::calendar::{Date, MonthDay, Weekday};
use building::plan::WorkPlan;
use std::collections::BTreeMap;

/// An activity with its days.
#[derive(Clone, Debug, PartialEq)]
pub struct Activity {
    /// Place in the book's list, from 0.
    pub number: usize,
    /// As the book says it.
    pub plan: WorkPlan,
    /// First day; `None` when neither stated nor following from what comes before.
    pub start: Option<Date>,
    /// Last day.
    pub end: Option<Date>,
    /// The start follows from what comes before.
    pub derived: bool,
}

impl Activity {
    /// Says whether it goes on that day.
    pub fn is_on(&self, day: Date) -> bool {
        self.start.is_some_and(|s| s <= day) && self.end.is_some_and(|e| day <= e)
    }

    /// Says whether it tests what it touches: its stage is `test`, or it calls itself one.
    pub fn is_test(&self) -> bool {
        self.plan.stage.as_deref() == Some("test") || self.plan.activity.to_lowercase().contains("test")
    }
}

/// Returns every activity with its days, in the book's order.
pub fn schedule(project: &Project) -> Vec<Activity> {
    let plans = &project.building.works;
    let mut days: BTreeMap<usize, (Date, Date)> = BTreeMap::new();
    // Each round places what only waits for placed ones; a ring of activities is never placed.
    for _ in 0..=plans.len() {
        for (number, plan) in plans.iter().enumerate() {
            if days.contains_key(&number) {
                continue;
            }
            let start = plan.start.or_else(|| {
                let before: Option<Vec<Date>> = predecessors(plans, plan)
                    .into_iter()
                    .map(|n| days.get(&n?).map(|(_, end)| *end))
                    .collect();
                let last = before?.into_iter().max()?;
                next_working_day(project, last.plus_days(1)?)
            });
            if let Some(start) = start
                && let Some(end) = last_day(project, start, plan.days)
            {
                days.insert(number, (start, end));
            }
        }
    }
    let activity = |(number, plan): (usize, &WorkPlan)| {
        let placed = days.get(&number);
        Activity {
            number,
            plan: plan.clone(),
            start: placed.map(|(start, _)| *start),
            end: placed.map(|(_, end)| *end),
            derived: plan.start.is_none(),
        }
    };
    plans.iter().enumerate().map(activity).collect()
}

/// Returns the places of what comes before an activity; `None` for a name that no activity has.
fn predecessors(plans: &[WorkPlan], plan: &WorkPlan) -> Vec<Option<usize>> {
    plan.after.iter().map(|name| plans.iter().position(|p| p.activity.eq_ignore_ascii_case(name))).collect()
}

/// Says whether people work on that day.
pub fn is_working_day(project: &Project, day: Date) -> bool {
    let weekend = matches!(day.weekday(), Weekday::Sat | Weekday::Sun);
    // The model year has no 29 February; that day follows its weekday.
    let of_year = MonthDay { month: day.month, day: day.day };
    let holiday = (day.month, day.day) != (2, 29)
        && project.building.calendar.days.get(of_year.day_of_year()).is_some_and(|d| d.holiday);
    !weekend && !holiday
}

fn next_working_day(project: &Project, from: Date) -> Option<Date> {
    (0..60).map_while(|n| from.plus_days(n)).find(|day| is_working_day(project, *day))
}

/// Returns the last of so many working days; work may begin on a day of rest, which then counts.
fn last_day(project: &Project, start: Date, days: u32) -> Option<Date> {
    let mut day = start;
    for _ in 1..days.max(1) {
        day = next_working_day(project, day.plus_days(1)?)?;
    }
    Some(day)
}

/// Returns the activities of some weeks from a day on, by start.
pub fn look_ahead(project: &Project, from: Date, weeks: u32) -> Vec<Activity> {
    let Some(until) = from.plus_days(7 * i64::from(weeks)) else { return Vec::new() };
    let within = |a: &Activity| a.start.is_some_and(|s| s < until) && a.end.is_some_and(|e| e >= from);
    let mut all: Vec<Activity> = schedule(project).into_iter().filter(within).collect();
    all.sort_by_key(|a| (a.start, a.number));
    all
}

/// Names a plan item as one would on site: `penetration.roof hatch` is "roof hatch", `opening.N4` is "opening N4".
pub fn item_words(item: &str) -> String {
    let words = match item.split_once('.') {
        Some(("penetration" | "assembly" | "material" | "unit" | "product" | "space", name)) => {
            name.to_owned()
        }
        Some((kind, name)) => format!("{kind} {name}"),
        None => item.to_owned(),
    };
    plain(&words)
}

/// Returns today: the day the book speaks of, else this machine's.
pub fn today(project: &Project) -> Option<Date> {
    project.building.project.today.or_else(|| Date::read(crate::log::now_here().get(..10)?))
}
