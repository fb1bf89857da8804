//! Works held against themselves and against the site log.

use super::{Activity, item_words, predecessors, schedule};
use crate::check::Project;
use crate::diagnostic::list;
use crate::standing::records;
use building::calendar::Date;
use building::records::{Body, Record};

/// Days before its start from which a covering activity is asked for its proof.
const AHEAD_DAYS: i64 = 21;
/// Days for which a covering without proof is still worth saying: later nobody opens it again.
const BEHIND_DAYS: i64 = 30;

/// Something that does not go together.
#[derive(Clone, Debug, PartialEq)]
pub struct WorksFinding {
    /// Place of the activity in the book's list, from 0.
    pub number: usize,
    /// What it covers before its proof, what it begins too early: short and stable.
    pub code: &'static str,
    /// One or two sentences.
    pub sentence: String,
}

/// Returns everything about the works that does not go together, in the book's order.
pub fn findings(project: &Project) -> Vec<WorksFinding> {
    let all = schedule(project);
    all.iter().flat_map(|a| of_one(project, &all, a)).collect()
}

fn of_one(project: &Project, all: &[Activity], a: &Activity) -> Vec<WorksFinding> {
    let mut found = Vec::new();
    let mut say = |code, sentence| found.push(WorksFinding { number: a.number, code, sentence });
    let name = crate::standing::capital(&a.plan.activity);
    for (before, name_before) in predecessors(&project.building.works, &a.plan).into_iter().zip(&a.plan.after)
    {
        let Some(before) = before.map(|n| &all[n]) else {
            say("unknown", format!("{name} comes after \"{name_before}\", and no activity is called so."));
            continue;
        };
        if let (Some(start), Some(end)) = (a.start, before.end)
            && start <= end
        {
            say(
                "order",
                format!("{name} starts on {start}; {name_before}, which comes before, ends on {end}."),
            );
        }
    }
    let Some(start) = a.start else {
        say("no-start", format!("{name} has no start, and none follows from what comes before."));
        return found;
    };
    let (mut unseen, mut late) = (Vec::new(), Vec::new());
    for item in &a.plan.covers {
        match first_seen(project, item) {
            None => unseen.push(item_words(item)),
            Some(day) if day > start => late.push(format!("{} (first on record {day})", item_words(item))),
            Some(_) => {}
        }
        for test in
            all.iter().filter(|t| t.number != a.number && t.is_test() && t.plan.touches.contains(item))
        {
            if test.end.is_some_and(|end| end >= start) {
                let end = test.end.map(|d| d.to_string()).unwrap_or_default();
                say(
                    "before-test",
                    format!(
                        "{name} covers {} from {start}, before {} ends on {end}.",
                        item_words(item),
                        test.plan.activity
                    ),
                );
            }
        }
    }
    let near = project.building.project.today.is_some_and(|today| {
        (-BEHIND_DAYS..=AHEAD_DAYS).contains(&(start.day_number() - today.day_number()))
    });
    if !unseen.is_empty() && near {
        say(
            "no-record",
            format!("{name} covers {} from {start}, and nothing about it is on record.", list(&unseen)),
        );
    }
    if !late.is_empty() {
        say("late-record", format!("{name} covered {} from {start}: its proof is later.", list(&late)));
    }
    found
}

/// Returns the day an item was first proven: photographed, inspected, tested, or spoken of by name.
pub(crate) fn first_seen(project: &Project, item: &str) -> Option<Date> {
    records(project)
        .filter(|r| proves(r, item))
        .filter_map(|r| Date::read(r.head.client_time.get(..10)?))
        .min()
}

/// Says whether a record is about an item of the plan, as `penetration.hatch` or by its bare name.
pub(crate) fn proves(record: &Record, item: &str) -> bool {
    let bare = item.split_once('.').map_or(item, |(_, name)| name);
    let is = |text: &str| text == item || text == bare;
    let of_body = match &record.body {
        Body::Photo(p) => is(&p.proves),
        Body::JointInspection(j) => is(&j.joint) && j.passed != Some(false),
        Body::InsulationDensity(d) => is(&d.material) || is(&d.bay),
        Body::OpeningAsBuilt(o) => is(&o.opening),
        _ => false,
    };
    of_body || is(&record.head.place) || record.head.about.as_deref().is_some_and(is)
}
