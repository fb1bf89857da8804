//! What is not as the book says.

use crate::check::Project;
use crate::standing::{day, records};
use building::plan::Words;
use building::records::Body;
use quantity::{Dimension, show};
use serde::Serialize;

/// Least difference of a frame's depth that is worth a line, m: a thumb.
const SET_IN_TOLERANCE_M: f64 = 0.010;

/// One line of the list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Deviation {
    /// What it is about.
    pub what: String,
    /// As the book or the order has it.
    pub meant: String,
    /// As it is, or as it is offered.
    pub found: String,
    /// Accepted, rejected, open.
    pub state: String,
    /// By whom, or why.
    pub because: String,
    /// Day of the record.
    pub day: String,
    /// The record.
    pub record: String,
}

/// Returns everything the log knows to be otherwise than meant, oldest first: substitutions, deliveries not as ordered,
/// what opening up has shown, openings set otherwise.
pub fn deviations(project: &Project) -> Vec<Deviation> {
    let mut all = Vec::new();
    for record in records(project) {
        let mut add = |what: &str, meant: String, found: String, state: &str, because: String| {
            all.push(Deviation {
                what: what.to_owned(),
                meant,
                found,
                state: state.to_owned(),
                because,
                day: day(record).to_owned(),
                record: record.head.id.clone(),
            });
        };
        let note = &record.head.note;
        match &record.body {
            Body::Substitution(s) => {
                let state = match s.accepted {
                    Some(true) => "accepted",
                    Some(false) => "rejected",
                    None => "open",
                };
                let because = [&s.decided_by, &s.reason]
                    .into_iter()
                    .filter(|t| !t.is_empty())
                    .cloned()
                    .collect::<Vec<_>>();
                add("substitution", s.specified.clone(), s.offered.clone(), state, because.join(": "));
            }
            Body::Delivery(d) if d.as_ordered == Some(false) => {
                let state = if d.held { "held" } else { "open" };
                add(&d.for_item, "as ordered".to_owned(), d.product.clone(), state, note.clone());
            }
            Body::OpenedUp(o) if !o.found.is_empty() && o.found != o.expected => {
                add(&o.item, o.expected.clone(), o.found.clone(), "found", note.clone());
            }
            Body::OpeningAsBuilt(o) => {
                let meant = project
                    .building
                    .openings
                    .iter()
                    .find(|p| p.name == o.opening)
                    .map(|p| p.reveal_outside_m);
                if let (Some(meant), Some(built)) = (meant, &o.set_in)
                    && (built.value - meant).abs() > SET_IN_TOLERANCE_M
                {
                    let shown = show(meant, Dimension::Length, project.building.project.units);
                    let item = format!("opening.{}", o.opening);
                    add(
                        &item,
                        format!("set in {shown}"),
                        format!("set in {}", built.written),
                        "built",
                        note.clone(),
                    );
                }
                if o.drains == Some(false) {
                    let pan =
                        if project.building.project.words == Words::Uk { "sill tray" } else { "sill pan" };
                    add(
                        &format!("opening.{}", o.opening),
                        format!("{pan} drains"),
                        "does not drain".to_owned(),
                        "open",
                        note.clone(),
                    );
                }
            }
            _ => {}
        }
    }
    all
}
