//! Hold points: what waits, and for what.

use crate::check::Project;
use crate::standing::{day, plain, records};
use crate::works::{findings, item_words, schedule};
use building::records::Body;
use serde::Serialize;

/// Something that holds work or a result.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Hold {
    /// What must happen first.
    pub what: String,
    /// What waits for it, in words.
    pub holds: Vec<String>,
    /// Day it began, or is planned; empty when not known.
    pub since: String,
    /// Due on; empty when nobody said.
    pub due: String,
    /// Record or activity it comes from.
    pub from: String,
}

/// Returns what holds something today: open questions, deliveries held back, inspections booked or with corrections,
/// damage not repaired, coverings whose proof is missing, holes without permission.
pub fn holds(project: &Project) -> Vec<Hold> {
    let mut all = Vec::new();
    let mut add = |what: String, holds: Vec<String>, since: String, due: String, from: String| {
        all.push(Hold { what, holds, since, due, from });
    };
    let answered = |id: &str| records(project).any(|r| r.head.corrects.as_deref() == Some(id));
    for record in records(project).filter(|r| !answered(&r.head.id)) {
        let (id, since) = (record.head.id.clone(), day(record).to_owned());
        match &record.body {
            Body::Question(q) if q.answer.is_empty() => {
                let waits = q.holds.iter().map(|h| item_words(h)).collect();
                add(format!("answer from {}: {}", q.to, q.question), waits, since, q.due.clone(), id);
            }
            Body::Delivery(d) if d.held => {
                let waits = if d.for_item.is_empty() { Vec::new() } else { vec![item_words(&d.for_item)] };
                add(format!("{} is held: {}", d.product, record.head.note), waits, since, String::new(), id);
            }
            Body::OfficialInspection(i) if !matches!(i.state.as_str(), "passed" | "result: passed") => {
                let due = if i.due.is_empty() { i.on.clone() } else { i.due.clone() };
                let mut what = format!("inspection of {}, {}", i.of, i.state);
                if !i.corrections.is_empty() {
                    what = format!("{what}: {}", i.corrections.join("; "));
                }
                add(what, vec![i.of.clone()], since, due, id);
            }
            Body::BarrierDamage(b)
                if !matches!(b.state.as_str(), "repaired" | "re-tested")
                    && !crate::standing::is_repaired(project, &id) =>
            {
                let waits = vec![item_words(&record.head.place)];
                add(
                    format!("damage to the barrier repaired and looked at ({})", b.cause),
                    waits,
                    since,
                    String::new(),
                    id,
                );
            }
            _ => {}
        }
    }
    let works = schedule(project);
    for finding in findings(project).into_iter().filter(|f| matches!(f.code, "no-record" | "before-test")) {
        let a = &works[finding.number];
        let start = a.start.map(|d| d.to_string()).unwrap_or_default();
        add(
            finding.sentence,
            vec![a.plan.activity.clone()],
            String::new(),
            start,
            format!("work.{}", a.number),
        );
    }
    for hole in super::penetrations(project).into_iter().filter(|h| !h.permitted) {
        let waits = vec![if hole.trade.is_empty() {
            hole.name.clone()
        } else {
            format!("{}: {}", hole.trade, hole.name)
        }];
        let what =
            format!("permission to make {} ({}) through {}", hole.name, hole.count, plain(&hole.through));
        add(what, waits, String::new(), String::new(), format!("penetration.{}", hole.name));
    }
    all
}
