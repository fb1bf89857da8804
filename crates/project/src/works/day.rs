//! One day on site, on one page.

use super::findings::first_seen;
use super::{Activity, item_words, schedule};
use crate::check::Project;
use crate::diagnostic::list;
use crate::standing::{plain, records};
use building::calendar::Date;
use building::records::Body;

/// Days ahead in which a due date is worth a line.
const DUE_DAYS: i64 = 7;

/// What a day asks of the site.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DaySheet {
    /// The day.
    pub day: Option<Date>,
    /// Who is on site with what: trade (or nobody said), activity, first and last day.
    pub on_site: Vec<(String, String, String)>,
    /// What may not be covered yet, with what is missing.
    pub keep_open: Vec<String>,
    /// What to photograph today.
    pub photograph: Vec<String>,
    /// What is due within the week.
    pub due: Vec<String>,
}

/// Returns what a day asks of the site, by the works and the log.
pub fn day_sheet(project: &Project, day: Date) -> DaySheet {
    let all = schedule(project);
    let on: Vec<&Activity> = all.iter().filter(|a| a.is_on(day)).collect();
    let dates = |a: &Activity| match (a.start, a.end) {
        (Some(start), Some(end)) if start != end => format!("{start} to {end}"),
        _ => "this day only".to_owned(),
    };
    let who =
        |a: &Activity| if a.plan.trade.is_empty() { "nobody named".to_owned() } else { a.plan.trade.clone() };
    DaySheet {
        day: Some(day),
        on_site: on.iter().map(|a| (who(a), a.plan.activity.clone(), dates(a))).collect(),
        keep_open: keep_open(project, &all, day),
        photograph: photograph(project, &on),
        due: due(project, &all, day),
    }
}

/// Items that something covers today or later and that have no proof, and joints found bad.
fn keep_open(project: &Project, all: &[Activity], day: Date) -> Vec<String> {
    let mut out = Vec::new();
    for a in all.iter().filter(|a| a.end.is_some_and(|e| e >= day)) {
        let open: Vec<String> = a
            .plan
            .covers
            .iter()
            .filter(|i| first_seen(project, i).is_none())
            .map(|i| item_words(i))
            .collect();
        if let (false, Some(start)) = (open.is_empty(), a.start) {
            out.push(format!(
                "{}: not on record yet; to be covered from {start} ({})",
                list(&open),
                a.plan.activity
            ));
        }
    }
    for record in records(project) {
        match &record.body {
            Body::Defect(d) if !d.mended => {
                out.push(format!("{} (not mended)", d.what.trim_end_matches('.')))
            }
            Body::LeakFound(l) if l.sealed != Some(true) => {
                out.push(format!("leak at {} (not sealed)", l.at))
            }
            _ => {}
        }
    }
    out
}

/// What the joints touched or covered today ask to be photographed.
fn photograph(project: &Project, on: &[&Activity]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for a in on {
        for item in a.plan.touches.iter().chain(&a.plan.covers) {
            let bare = item.strip_prefix("joint.").unwrap_or(item);
            let asked = project.building.joints.iter().filter(|j| {
                j.pair() == bare
                    || format!("assembly.{}", j.first) == *item
                    || format!("assembly.{}", j.second) == *item
            });
            for joint in asked {
                let place = joint.at.as_ref().map_or_else(String::new, |at| format!(", {at}"));
                out.extend(joint.photograph.iter().map(|p| format!("{p} ({}{place})", plain(&joint.pair()))));
            }
            if first_seen(project, item).is_none() && a.plan.covers.contains(item) {
                out.push(format!("{}, before it is covered", item_words(item)));
            }
        }
    }
    let mut seen = std::collections::BTreeSet::new();
    out.retain(|line| seen.insert(line.clone()));
    out
}

fn due(project: &Project, all: &[Activity], day: Date) -> Vec<String> {
    let near = |d: Date| d.day_number() - day.day_number() <= DUE_DAYS;
    let late = |d: Date| if d < day { " (overdue)" } else { "" };
    let mut out: Vec<(Date, String)> = Vec::new();
    for record in records(project) {
        match &record.body {
            Body::Question(q) if q.answer.is_empty() => {
                if let Some(d) = Date::read(&q.due).filter(|d| near(*d)) {
                    out.push((d, format!("{d}{}: answer from {}: {}", late(d), q.to, q.question)));
                }
            }
            Body::OfficialInspection(i) => {
                let date = if i.state == "booked" { &i.on } else { &i.due };
                if let Some(d) = Date::read(date).filter(|d| near(*d) && *d >= day) {
                    out.push((d, format!("{d}: inspection of {} ({})", i.of, i.state)));
                }
            }
            _ => {}
        }
    }
    for a in all {
        if let Some(start) = a.start.filter(|s| *s > day && near(*s)) {
            out.push((start, format!("{start}: {} starts", a.plan.activity)));
        }
    }
    out.sort();
    out.into_iter().map(|(_, line)| line).collect()
}
