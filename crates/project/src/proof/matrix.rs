//! Stated value → proof needed → had, missing, in conflict.

use crate::check::Project;
use crate::standing::{day, plain, records};
use crate::works::proves;
use building::records::{Body, Figure, Record};
use building::stated::{Basis, Stated};
use quantity::show;
use serde::Serialize;

/// Coverage factor of a 95 % half-width (ISO/IEC Guide 98-3: k = 2 for about 95 %).
const HALF_WIDTHS: f64 = 2.0;

/// Where the proof of one thing stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ProofState {
    /// On record.
    Have,
    /// Not on record.
    Missing,
    /// What is on record does not agree with the book.
    Conflict,
}

impl ProofState {
    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Have => "have",
            Self::Missing => "missing",
            Self::Conflict => "in conflict",
        }
    }
}

/// One line of the matrix.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct ProofRow {
    /// Stated value, or `joint.A / B`.
    pub id: String,
    /// In words, with its figure.
    pub what: String,
    /// How the book knows it.
    pub basis: String,
    /// Proof needed.
    pub needed: String,
    /// Where it stands.
    pub state: ProofState,
    /// Why, and by which record.
    pub because: String,
    /// Records that speak of it, by id.
    pub records: Vec<String>,
}

/// Kinds of value that a limit rests on and that the book alone does not prove, by the shape of their id, with the
/// proof that is usual for them (common practice, no source; the certifying body's list goes before).
fn needed(project: &Project, id: &str) -> Option<(&'static str, Vec<String>)> {
    let parts: Vec<&str> = id.splitn(3, '.').collect();
    let [section, name, rest] = parts.as_slice() else { return None };
    let about = |kinds: &[&str]| kinds.iter().map(|k| format!("{k}.{name}")).collect();
    match (*section, *rest) {
        ("unit", "glazing.u" | "glazing.g" | "frame.u" | "whole.u" | "whole.g") => {
            let of =
                project.building.openings.iter().filter(|o| project.building.units[o.unit.0].name == *name);
            let mut items: Vec<String> = of.map(|o| format!("opening.{}", o.name)).collect();
            items.push(format!("unit.{name}"));
            Some(("label on arrival, or the maker's test sheet", items))
        }
        ("material", "conductivity") if is_new_insulation(project, name) => {
            Some(("delivery with its label", about(&["material"])))
        }
        ("material", "air-permeability") => Some(("sheet of the panel itself", about(&["material"]))),
        ("ventilation", rest) if rest.starts_with("recovery") || rest == "power" => {
            Some(("delivery, and the certifying body's rating", about(&["ventilation"])))
        }
        ("ventilation", rest) if rest.starts_with("flow") => {
            Some(("flows read at commissioning", Vec::new()))
        }
        ("storey", "footprint.width" | "footprint.depth" | "height") => {
            Some(("measured on site", Vec::new()))
        }
        ("assembly", rest) if rest.starts_with("layer[") && rest.ends_with(".thickness") => {
            let layer = rest.trim_start_matches("layer[").trim_end_matches("].thickness");
            layer_proof(project, name, layer).map(|words| (words, Vec::new()))
        }
        _ => None,
    }
}

fn is_new_insulation(project: &Project, name: &str) -> bool {
    use matter::Family::{FibreInsulation, Foam, LooseFill};
    let building = &project.building;
    building.assemblies.iter().flat_map(|a| &a.layers).any(|l| match l.kind {
        building::model::LayerKind::Solid(id) => {
            let material = &building.materials[id.0];
            !l.existing
                && material.name == name
                && matches!(material.family, Some(Foam | FibreInsulation | LooseFill))
        }
        building::model::LayerKind::Air { .. } => false,
    })
}

fn layer_proof(project: &Project, assembly: &str, layer: &str) -> Option<&'static str> {
    use matter::Family::{FibreInsulation, Foam, LooseFill};
    let building = &project.building;
    let layer =
        building.assemblies.iter().find(|a| a.name == assembly)?.layers.iter().find(|l| l.name == layer)?;
    let building::model::LayerKind::Solid(id) = layer.kind else { return None };
    let insulates = matches!(building.materials[id.0].family, Some(Foam | FibreInsulation | LooseFill));
    match (layer.existing, insulates) {
        (true, _) => Some("opened up and measured"),
        (false, true) => Some("photo with a rule, before it is covered"),
        (false, false) => None,
    }
}

/// Returns the matrix: conflicts first, then what is missing, then what is had; each in the book's order.
pub fn matrix(project: &Project) -> Vec<ProofRow> {
    let mut rows: Vec<ProofRow> =
        project.building.values.iter().filter_map(|(_, stated)| of_value(project, stated)).collect();
    rows.extend(tightness(project));
    rows.extend(joints(project));
    rows.sort_by_key(|r| match r.state {
        ProofState::Conflict => 0,
        ProofState::Missing => 1,
        ProofState::Have => 2,
    });
    rows
}

fn of_value(project: &Project, stated: &Stated) -> Option<ProofRow> {
    let (words, items) = needed(project, &stated.id)?;
    let system = project.building.project.units;
    // A solar gain is a plain number on every label.
    let gain = stated.id.ends_with(".g");
    let figure =
        |value: f64| if gain { format!("{value:.2}") } else { show(value, stated.dimension, system) };
    let row = |state, because: String, records: Vec<String>| ProofRow {
        id: stated.id.clone(),
        what: format!("{}: {}", words_of(&stated.id), figure(stated.value)),
        basis: stated.basis.to_string(),
        needed: words.to_owned(),
        state,
        because,
        records,
    };
    let mut about = Vec::new();
    let mut conflict = None;
    for record in records(project) {
        let said = properties(record).iter().find(|(id, _)| means(id, &stated.id)).map(|(_, f)| f);
        if let Some(f) = said {
            about.push(record.head.id.clone());
            if differs(stated, f) {
                conflict = Some(format!(
                    "{} on record {}, the book says {}",
                    f.written,
                    day(record),
                    figure(stated.value)
                ));
            } else {
                conflict = None;
            }
        } else if speaks_of(record, stated, &items) {
            about.push(record.head.id.clone());
        }
    }
    Some(match (conflict, about.last()) {
        (Some(because), _) => row(ProofState::Conflict, because, about),
        (None, Some(_)) => {
            let of = records(project).filter(|r| about.contains(&r.head.id)).last();
            let because = of
                .map(|r| format!("{}, {}", crate::log::kind_words(r.body.kind()), day(r)))
                .unwrap_or_default();
            row(ProofState::Have, because, about)
        }
        (None, None) if matches!(stated.basis, Basis::Measured | Basis::Delivered) => {
            row(ProofState::Have, format!("{} by the book; no record names it", stated.basis), about)
        }
        (None, None) => row(ProofState::Missing, "nothing on record".to_owned(), about),
    })
}

/// Says whether a record proves the thing a value belongs to, without a figure of its own. A delivery that is held or
/// not as ordered proves nothing.
fn speaks_of(record: &Record, stated: &Stated, items: &[String]) -> bool {
    if record.head.about.as_deref() == Some(stated.id.as_str()) {
        return true;
    }
    match &record.body {
        Body::Delivery(d) => !d.held && d.as_ordered != Some(false) && items.contains(&d.for_item),
        Body::Photo(p) => p.proves == stated.id,
        Body::FlowReading(f) => stated
            .id
            .strip_prefix("ventilation.")
            .and_then(|rest| rest.split_once(".flow."))
            .is_some_and(|(unit, mode)| f.mode == mode && (f.unit.is_empty() || f.unit == unit)),
        _ => false,
    }
}

/// Figures a record gives for stated values.
fn properties(record: &Record) -> &[(String, Figure)] {
    match &record.body {
        Body::Delivery(d) => &d.properties,
        Body::OpenedUp(o) => &o.properties,
        Body::Decision(d) => &d.properties,
        _ => &[],
    }
}

/// Names a stated value as one would on site.
fn words_of(id: &str) -> String {
    let parts: Vec<&str> = id.splitn(3, '.').collect();
    let [section, name, rest] = parts.as_slice() else { return plain(id) };
    let name = plain(name);
    match (*section, *rest) {
        ("unit", "glazing.g" | "whole.g") => format!("{name}, solar gain"),
        ("unit", "glazing.u") => format!("{name}, U of the glass"),
        ("unit", "frame.u") => format!("{name}, U of the frame"),
        ("unit", _) => format!("{name}, U"),
        ("assembly", rest) => {
            let layer = rest.trim_start_matches("layer[").trim_end_matches("].thickness");
            format!("{} in {name}", plain(layer))
        }
        ("storey", rest) => format!("{name} storey, {}", plain(rest).replace("footprint.", "outside ")),
        (_, rest) => format!("{name}, {}", plain(rest).replace('.', " ")),
    }
}

/// Says whether a record's id means a stated value. A label speaks of a unit's `g`, the book of its glazing's or the
/// whole's.
fn means(said: &str, id: &str) -> bool {
    said == id || said == id.replace(".glazing.", ".").replace(".whole.", ".")
}

/// Says whether a figure on record lies outside what the book allows with its own uncertainty.
fn differs(stated: &Stated, f: &Figure) -> bool {
    let (book, record) = (HALF_WIDTHS * stated.distribution.sd(), f.half_width.unwrap_or(0.0));
    let allowed = (book * book + record * record).sqrt();
    !((f.value - stated.value).abs() <= allowed.max(1e-9 * stated.value.abs()))
}

fn tightness(project: &Project) -> Option<ProofRow> {
    let test = crate::standing::tightness(project);
    let whole = test.as_ref().is_some_and(|t| t.whole && t.valid && t.unfinished.is_empty());
    let because = match &test {
        Some(_) if whole => format!("test of {}", test.as_ref().map(|t| t.day.clone()).unwrap_or_default()),
        Some(t) => {
            let why = if t.unfinished.is_empty() {
                "no whole series of readings".to_owned()
            } else {
                t.unfinished.join(", ")
            };
            format!("only a reading of {} ({why})", t.day)
        }
        None => "nothing on record".to_owned(),
    };
    let tests = |r: &&Record| matches!(r.body, Body::PressureTest(_));
    Some(ProofRow {
        id: "airtightness".to_owned(),
        what: "air leakage of the finished building".to_owned(),
        basis: "measured".to_owned(),
        needed: "pressure test at completion, both directions".to_owned(),
        state: if whole { ProofState::Have } else { ProofState::Missing },
        because,
        records: records(project).filter(tests).map(|r| r.head.id.clone()).collect(),
    })
}

fn joints(project: &Project) -> Vec<ProofRow> {
    let mut all = Vec::new();
    for joint in project.building.joints.iter().filter(|j| !j.proof.is_empty()) {
        let pair = joint.pair();
        let place = joint.at.as_ref().map_or_else(String::new, |at| format!(", {at}"));
        for wanted in &joint.proof {
            let had = crate::standing::has_proof(project, joint, wanted);
            let item = format!("joint.{pair}");
            let about: Vec<&Record> = records(project).filter(|r| proves(r, &item)).collect();
            let failed = records(project).any(
                |r| matches!(&r.body, Body::JointInspection(j) if j.joint == pair && j.passed == Some(false)),
            );
            let state = match (had, failed) {
                (true, false) => ProofState::Have,
                (true, true) => ProofState::Conflict,
                (false, _) => ProofState::Missing,
            };
            let because = match (state, about.last()) {
                (ProofState::Conflict, _) => "one inspection found it good and another did not".to_owned(),
                (state, Some(r)) => {
                    let only = if state == ProofState::Missing { "only " } else { "" };
                    format!("{only}{}, {}", crate::log::kind_words(r.body.kind()), day(r))
                }
                (_, None) => "nothing on record".to_owned(),
            };
            all.push(ProofRow {
                id: format!("{item}{place}"),
                what: format!("joint {}{place}", plain(&pair)),
                basis: "drawn".to_owned(),
                needed: wanted.clone(),
                state,
                because,
                records: about.iter().map(|r| r.head.id.clone()).collect(),
            });
        }
    }
    all
}
