//! Which gaps the site log has closed.

use super::threshold;
use crate::control::{ControlKind, Gap, GapKind};
use crate::records::{Body, JointInspection, Record};

/// A gap with the record that closed it, if one did.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settled<'a> {
    /// The gap.
    pub gap: &'a Gap,
    /// Id of the record that closed it; `None`: it is open.
    pub closed_by: Option<&'a str>,
}

/// Holds gaps against the records of a log, in their order; a later one undoes an earlier one, and a record that was
/// corrected does not count.
///
/// | gap | closed by |
/// | --- | --- |
/// | fire- or sound-rated | a joint inspection of it that passed and names the tested system; nothing else |
/// | no joint, no seal, of the air barrier | a joint inspection of it that passed with smoke or fan, over its whole length, when rain and heat are settled there |
/// | nobody stated that it bonds | a joint inspection of it that passed a peel or pull test |
/// | drainage of sills and thresholds not known | openings as built, each with its drainage complete |
///
/// A thing that passes through several times needs as many looks, in one record with its `count` or in several.
/// Everything else is closed in the book or on the building.
pub fn settle<'a>(gaps: &'a [Gap], records: impl IntoIterator<Item = &'a Record>) -> Vec<Settled<'a>> {
    let records: Vec<&Record> = records.into_iter().collect();
    let corrected = |record: &Record| {
        records.iter().any(|other| other.head.corrects.as_deref() == Some(record.head.id.as_str()))
    };
    let counted: Vec<&Record> = records.iter().copied().filter(|r| !corrected(r)).collect();
    gaps.iter().map(|gap| Settled { gap, closed_by: closed_by(gap, &counted) }).collect()
}

fn closed_by<'a>(gap: &Gap, records: &[&'a Record]) -> Option<&'a str> {
    if gap.control == ControlKind::Rain && gap.kind == GapKind::DrainageUnknown {
        return drained(gap, records);
    }
    let mut closed = None;
    // Of nine sleeves one that was looked at says nothing about the other eight.
    let mut seen = 0;
    for record in records {
        let Body::JointInspection(inspection) = &record.body else { continue };
        if !speaks_of(gap, record, inspection) {
            continue;
        }
        match verdict(gap, inspection) {
            Some(true) => {
                seen += inspection.count.unwrap_or(1);
                closed = (seen >= gap.count).then_some(record.head.id.as_str()).or(closed);
            }
            Some(false) => (closed, seen) = (None, 0),
            None => {}
        }
    }
    closed
}

/// What an inspection says about a gap: closed, open again, or nothing.
fn verdict(gap: &Gap, inspection: &JointInspection) -> Option<bool> {
    let method = inspection.method.to_lowercase();
    let by = |words: &[&str]| words.iter().any(|w| method.contains(w));
    let speaks = match (gap.kind, gap.control) {
        (GapKind::NoTestedSystem, _) => true,
        // Smoke shows no rain and no cold: a place where nobody has spoken of those either stays open.
        (GapKind::NoJoint | GapKind::NoSeal, ControlKind::Air) => {
            by(&["smoke", "fan"]) && gap.also.iter().all(|c| *c == ControlKind::Vapour)
        }
        (GapKind::CompatibilityUnknown, _) => by(&["peel", "pull", "adhesion"]),
        _ => false,
    };
    match inspection.passed? {
        _ if !speaks => None,
        false => Some(false),
        true => match gap.kind {
            // A look at part of a line says nothing about the rest of it. Whoever names a system without a length speaks
            // of the joint; whoever runs smoke along it must say how far.
            GapKind::NoTestedSystem => {
                let named = !inspection.tested_system.trim().is_empty();
                (named && seen_m(inspection, gap.length_m) >= whole_m(gap)).then_some(true)
            }
            GapKind::NoJoint => (seen_m(inspection, 0.0) >= whole_m(gap)).then_some(true),
            _ => Some(true),
        },
    }
}

/// Length looked at, m, or what an inspection without one counts for.
fn seen_m(inspection: &JointInspection, otherwise_m: f64) -> f64 {
    inspection.length.as_ref().map_or(otherwise_m, |length| length.value)
}

/// Length that counts as all of a gap, m.
fn whole_m(gap: &Gap) -> f64 {
    threshold("inspected-share") * gap.length_m
}

/// Whether a record speaks of the joint or penetration of a gap: by its name in either order, or by the plan item.
fn speaks_of(gap: &Gap, record: &Record, inspection: &JointInspection) -> bool {
    let own = bare(&gap.item);
    let said =
        [inspection.joint.as_str(), record.head.place.as_str(), record.head.about.as_deref().unwrap_or("")];
    said.iter().any(|name| !name.trim().is_empty() && same(&bare(name), &own))
}

/// A plan item without its kind and quotes: `joint."a / b"` is `a / b`.
fn bare(item: &str) -> String {
    let item = item.trim();
    let item = ["joint.", "penetration."].iter().find_map(|kind| item.strip_prefix(kind)).unwrap_or(item);
    item.trim_matches('"').trim().to_owned()
}

fn same(a: &str, b: &str) -> bool {
    let turned = b.split_once('/').map(|(x, y)| format!("{} / {}", y.trim(), x.trim()));
    a == b || turned.is_some_and(|turned| turned == a)
}

/// Sills and thresholds: every opening there must have been recorded with its drainage complete.
fn drained<'a>(gap: &Gap, records: &[&'a Record]) -> Option<&'a str> {
    let mut last = None;
    for place in &gap.places {
        let (opening, _) = place.rsplit_once('.')?;
        let said = records.iter().rev().find_map(|record| match &record.body {
            Body::OpeningAsBuilt(built) if bare_opening(&built.opening) == opening => {
                built.drains.map(|drains| (drains, record.head.id.as_str()))
            }
            _ => None,
        });
        match said {
            Some((true, id)) => last = Some(id),
            _ => return None,
        }
    }
    // A lap is not looked at by someone who checks the pan.
    last.filter(|_| gap.item.starts_with("drainage."))
}

fn bare_opening(name: &str) -> &str {
    name.trim().strip_prefix("opening.").unwrap_or(name.trim())
}
