//! Findings from the model's own topology and from the site log: gaps, proof, cautions, stages.

use super::evidence::{day, records};
use super::types::{Finding, FindingKind, Outcome, Place, Stage, StageState};
use super::words::{Words, capital, plain};
use crate::check::Project;
use building::continuity::settle;
use building::control::{ControlKind, Gap, GapKind};
use building::plan::{JointPlan, PlantKind};
use building::records::{Body, Record};
use quantity::Dimension;

/// Returns the place of a plan item, with its line in the book.
pub(super) fn place(project: &Project, kind: &str, name: &str, item: &str) -> Place {
    let mut path = item;
    let line = loop {
        if let Some((_, line)) = project.lines.get(path) {
            break *line;
        }
        match path.rfind(['.', '[']) {
            Some(cut) => path = &path[..cut],
            None => break 0,
        }
    };
    Place { kind: kind.to_owned(), name: name.to_owned(), line }
}

/// What was and was not looked at about the tank's temperatures.
fn hot_water_words(project: &Project) -> String {
    let building = &project.building;
    let words = Words::of(building);
    let shown = |key| words.show(building.values.nominal_of(key), Dimension::Temperature);
    let stated = match (building.hot_water.set_point, building.hot_water.disinfection) {
        (_, Some((at, _))) => format!("The tank is stated to reach {} at intervals. ", shown(at)),
        (Some(at), None) => format!("The tank is stated to hold {}, with no hotter cycle. ", shown(at)),
        (None, None) => String::new(),
    };
    format!(
        "{stated}Legionella in tank, pipes and seldom used taps was not checked, nor scalding: hot tanks need a mixing \
         valve; temperatures of storage and taps follow local code and the maker."
    )
}

/// Unclosed control layers, each with the record that closed it, if one did.
pub(super) fn gaps(project: &Project) -> Vec<Finding> {
    let settled = settle(&project.building.gaps, records(project));
    settled.iter().map(|s| one_gap(project, s.gap, s.closed_by)).collect()
}

fn one_gap(project: &Project, gap: &Gap, closed_by: Option<&str>) -> Finding {
    let (kind, name) = gap.item.split_once('.').unwrap_or(("element", gap.item.as_str()));
    let name = name.trim_matches('"').trim_end_matches(".layers");
    let subject = match gap.kind {
        GapKind::NoLayer => format!("{} layer of {}", gap.control.word(), plain(name)),
        GapKind::NoJoint => joint_words(&gap.id, name),
        GapKind::NoSeal | GapKind::NoTestedSystem => name.to_owned(),
        GapKind::ReversedLap | GapKind::DeadEnd | GapKind::DrainageUnknown => {
            format!("way out of rain water at {}", plain(name))
        }
        GapKind::NotCompatible | GapKind::CompatibilityUnknown => format!("bond at {}", plain(name)),
        GapKind::VapourMismatch => format!("vapour at {}", plain(name)),
        GapKind::EdgesUnknown => format!("edges of {}", plain(name)),
    };
    let mut f = Finding::new(format!("gap.{}", gap.id), FindingKind::Gap, subject);
    f.sentence.clone_from(&gap.sentence);
    let closing = closed_by.and_then(|id| records(project).find(|r| r.head.id == id));
    f.status = if let Some(record) = closing {
        f.source = format!("site log, {}", day(record));
        Outcome::Met
    } else if gap.kind.is_question() {
        Outcome::NotKnown
    } else {
        Outcome::NotMet
    };
    f.stage = stage_of_gap(project, gap);
    f.place = Some(place(project, kind, name, &gap.item));
    if gap.kind == GapKind::NoTestedSystem {
        f.cautions.push(
            "Fire and smoke separation was not checked: the code official and a licensed designer decide which tested \
             system closes it."
                .to_owned(),
        );
    }
    f
}

/// Names a joint as one would on site: "corner of lobby wall", "threshold at lobby wall", "upper wall / roof, roof edge".
fn joint_words(id: &str, pair: &str) -> String {
    let kind = id.split('.').nth(1).unwrap_or("joint");
    match pair.split_once(" / ") {
        Some((a, b)) if a == b => format!("{kind} of {}", plain(a)),
        Some(("opening", b)) => format!("{kind} at {}", plain(b)),
        Some((a, b)) if a == kind => format!("{kind} at {}", plain(b)),
        _ => format!("{}, {kind}", plain(pair)),
    }
}

/// The stage at which a gap should be closed, if the job has it.
fn stage_of_gap(project: &Project, gap: &Gap) -> String {
    let wanted = match (gap.control, gap.kind) {
        (_, GapKind::NoTestedSystem) => "close-in",
        (ControlKind::Air | ControlKind::Vapour, _) => "barrier",
        (ControlKind::Rain, _) => "repair",
        (ControlKind::Heat, _) => "insulate",
    };
    known_stage(project, wanted)
}

/// Returns the stage when the job has it, else nothing: a job may rename or drop stages.
pub(super) fn known_stage(project: &Project, wanted: &str) -> String {
    if project.building.project.stages.iter().any(|s| s == wanted) {
        wanted.to_owned()
    } else {
        String::new()
    }
}

/// Proof that joints ask for, deliveries that are not as ordered, open questions, defects, leaks.
pub(super) fn proof(project: &Project) -> Vec<Finding> {
    let mut all: Vec<Finding> = joints(project);
    all.extend(super::conditions::broken(project));
    all.extend(units(project));
    for record in records(project) {
        all.extend(one_record(project, record));
    }
    all
}

fn joints(project: &Project) -> Vec<Finding> {
    let wanting = project.building.joints.iter().filter(|j| !j.proof.is_empty());
    wanting
        .map(|joint| {
            let name = joint.pair();
            let missing: Vec<String> =
                joint.proof.iter().filter(|p| !has_proof(project, joint, p)).cloned().collect();
            let place_of_it = joint.at.as_ref().map_or_else(String::new, |at| format!(", {at}"));
            let said = format!("{}{place_of_it}", plain(&name));
            let mut f = Finding::new(
                format!("proof.joint.{name}{place_of_it}"),
                FindingKind::Proof,
                format!("joint {said}"),
            );
            f.status = if missing.is_empty() { Outcome::Met } else { Outcome::NotKnown };
            f.sentence = if missing.is_empty() {
                format!("Joint {said}: {} on record.", crate::diagnostic::list(&joint.proof))
            } else {
                format!("Joint {said}: no {} on record yet.", missing.join(" and no "))
            };
            f.stage = known_stage(project, "barrier");
            f.place = Some(place(project, "joint", &name, &format!("joint.{name}")));
            f
        })
        .collect()
}

/// Whether a record proves a joint as asked; for a joint that differs at a place the record must say that place.
pub(crate) fn has_proof(project: &Project, joint: &JointPlan, wanted: &str) -> bool {
    let there = |r: &&Record| {
        joint.at.as_ref().is_none_or(|at| r.head.place.split([' ', '.', ',']).any(|word| word == at))
    };
    let joint = &joint.pair();
    records(project).filter(there).any(|r| match &r.body {
        Body::Photo(p) => wanted == "photo" && (p.proves == *joint || p.proves == format!("joint.{joint}")),
        Body::JointInspection(j) if j.joint == *joint => {
            let seen = j.passed == Some(true) && j.method.to_lowercase().contains(&wanted.to_lowercase());
            seen || wanted == "photo" && !r.head.attachments.is_empty()
        }
        _ => false,
    })
}

/// Windows and doors: their label on arrival is the proof of U and solar gain.
fn units(project: &Project) -> Vec<Finding> {
    let building = &project.building;
    let mut all = Vec::new();
    for unit in &building.units {
        let of: Vec<&str> = building
            .openings
            .iter()
            .filter(|o| building.units[o.unit.0].name == unit.name)
            .map(|o| o.name.as_str())
            .collect();
        let seen = |name: &str| {
            records(project).any(|r| match &r.body {
                Body::Delivery(d) => {
                    !d.held
                        && (d.for_item == format!("opening.{name}")
                            || d.for_item == format!("unit.{}", unit.name))
                }
                _ => false,
            })
        };
        let missing: Vec<&str> = of.iter().copied().filter(|name| !seen(name)).collect();
        let mut f = Finding::new(
            format!("proof.unit.{}", unit.name),
            FindingKind::Proof,
            format!("label of {}", plain(&unit.name)),
        );
        f.stage = known_stage(project, "barrier");
        f.place = Some(place(project, "opening", of.first().unwrap_or(&""), &format!("unit.{}", unit.name)));
        if missing.is_empty() {
            f.status = Outcome::Met;
            f.sentence = format!("Labels of {} are on record.", plain(&unit.name));
        } else {
            f.sentence = format!(
                "No label on record yet for {} ({}): U and solar gain rest on the sheet alone.",
                missing.join(", "),
                plain(&unit.name)
            );
        }
        all.push(f);
    }
    all
}

fn one_record(project: &Project, record: &Record) -> Option<Finding> {
    let id = &record.head.id;
    let at = if record.head.place.is_empty() {
        String::new()
    } else {
        format!(" ({})", plain(&record.head.place))
    };
    let mut f = Finding::new(format!("record.{id}"), FindingKind::Proof, String::new());
    f.status = Outcome::NotMet;
    f.stage.clone_from(&record.head.stage);
    f.source = format!("site log, {}", day(record));
    match &record.body {
        Body::Delivery(d) if d.as_ordered == Some(false) => {
            f.subject.clone_from(&d.product);
            let state = if d.held { "held" } else { "not held back" };
            f.sentence = format!("{} is not as ordered ({state}). {}", capital(&d.product), record.head.note);
            if !d.held {
                return Some(f);
            }
            f.sentence = f.sentence.trim().to_owned();
        }
        Body::Question(q) if q.answer.is_empty() => {
            f.subject = format!("question to {}", q.to);
            f.status = Outcome::NotKnown;
            let due = if q.due.is_empty() { String::new() } else { format!(" Due {}.", q.due) };
            f.sentence = format!("Open with {}: {}{due}", q.to, q.question);
        }
        Body::Defect(d) if !d.mended => {
            f.kind = FindingKind::Gap;
            f.subject = format!("defect{at}");
            f.sentence = d.what.clone();
        }
        Body::LeakFound(l) if l.sealed != Some(true) => {
            f.kind = FindingKind::Gap;
            f.subject = format!("leak at {}", l.at);
            let flow = l.flow.as_ref().map_or_else(|| l.size.clone(), |v| format!("about {}", v.written));
            let to = if l.leads_to.is_empty() { String::new() } else { format!(", to {}", l.leads_to) };
            f.sentence = format!("Leak found at {} ({flow}{to}): no record says it is sealed.", l.at);
        }
        Body::BarrierDamage(b)
            if !matches!(b.state.as_str(), "repaired" | "re-tested") && !is_repaired(project, id) =>
        {
            f.kind = FindingKind::Gap;
            f.subject = format!("damage to the barrier{at}");
            f.sentence =
                format!("The barrier was damaged{at} by {}: no record says it is repaired.", b.cause);
        }
        Body::Substitution(s) if s.accepted.is_none() => {
            f.subject.clone_from(&s.offered);
            f.status = Outcome::NotKnown;
            f.sentence =
                format!("{} is offered for {}: nobody has decided.", capital(&s.offered), s.specified);
        }
        _ => return None,
    }
    f.place =
        record.head.place.split_once('.').map(|(kind, name)| place(project, kind, name, &record.head.place));
    Some(f)
}

pub(crate) fn is_repaired(project: &Project, id: &str) -> bool {
    records(project).any(|r| match &r.body {
        Body::BarrierDamage(b) => b.found_in == id && matches!(b.state.as_str(), "repaired" | "re-tested"),
        _ => false,
    })
}

/// A leak that was found and is not sealed.
pub(crate) struct Leak {
    /// Where.
    pub at: String,
    /// Flow at the reference pressure, m³/h, when it was measured.
    pub m3_h: Option<f64>,
    /// Leads to a neighbour: a guarded test does not see it.
    pub to_neighbour: bool,
}

/// Returns the leaks found and not sealed, largest first.
pub(crate) fn leaks(project: &Project) -> Vec<Leak> {
    let mut all: Vec<Leak> = records(project)
        .filter_map(|r| match &r.body {
            Body::LeakFound(l) if l.sealed != Some(true) => Some(Leak {
                at: l.at.clone(),
                m3_h: l.flow.as_ref().map(|f| 3600.0 * f.value),
                to_neighbour: l.leads_to.to_lowercase().contains("neighbour"),
            }),
            _ => None,
        })
        .collect();
    all.sort_by(|a, b| b.m3_h.unwrap_or(0.0).total_cmp(&a.m3_h.unwrap_or(0.0)));
    all
}

/// Returns measured leaks to outdoors that are still open, with their flow, m³/h.
pub(super) fn open_leaks(project: &Project) -> Vec<(String, f64)> {
    leaks(project).into_iter().filter(|l| !l.to_neighbour).filter_map(|l| l.m3_h.map(|q| (l.at, q))).collect()
}

/// What can hurt: said once each, with who decides. Returned as findings and as the sentences of what was not checked.
pub(super) fn cautions(project: &Project) -> Vec<Finding> {
    let building = &project.building;
    let mut all = Vec::new();
    let mut say = |id: &str, subject: &str, sentence: &str| {
        let mut f = Finding::new(format!("caution.{id}"), FindingKind::Caution, subject);
        f.sentence = sentence.to_owned();
        f.cautions.push(sentence.to_owned());
        all.push(f);
    };
    if building.penetrations.iter().any(|p| p.plan.embedded_timber) {
        say(
            "embedded-timber",
            "timber ends in masonry",
            "Timber that ends in masonry gets colder and wetter once the wall is insulated inside: its moisture was not \
             computed; a licensed designer decides, and pins in the worst ends tell.",
        );
    }
    if building.assemblies.iter().any(|a| a.fire_rated || a.sound_rated) {
        say(
            "fire",
            "fire, smoke and sound separation",
            "Fire, smoke and sound separation were not checked: sealing for air never closes a rated element; the code \
             official decides.",
        );
    }
    let has = |kinds: &[PlantKind]| building.plant.iter().any(|p| kinds.contains(&p.kind));
    if has(&[PlantKind::Boiler]) {
        say(
            "combustion",
            "combustion air",
            "Combustion air, draught and carbon monoxide were not checked: a tight building starves a fire that takes its \
             air from the rooms; a licensed fitter tests it, and alarms stay on.",
        );
    }
    if has(&[PlantKind::HeatPumpWaterHeater, PlantKind::WaterHeater]) {
        say("hot-water", "hot water", &hot_water_words(project));
    }
    if has(&[PlantKind::HeatPumpHead]) {
        say(
            "refrigerant",
            "refrigerant",
            "Refrigerant charge against room size was not checked: local code and the licensed fitter decide.",
        );
    }
    if building.gatherings.iter().any(|g| g.posted_load.is_none()) {
        say(
            "crowd",
            "crowds",
            "No posted occupant load is stated for the rooms of gatherings: ask the code official; head counts here are \
             for air and heat only.",
        );
    }
    if building.assemblies.iter().any(|a| a.layers.iter().any(|l| l.existing)) {
        say(
            "opening-up",
            "opening up",
            "Opening up an old building can free asbestos, lead and silica dust and meet old wiring: none of it was \
             checked; survey before work, licensed people for the work.",
        );
        say(
            "roof-weight",
            "weight",
            "Weight on roof and floors was not checked: a licensed designer decides before anything is added.",
        );
    }
    say(
        "mould",
        "mould",
        "Mould and moisture inside the assemblies were not computed; a surface temperature factor alone does not clear \
         an old wall.",
    );
    all
}

/// What does not go together in the works: coverings before their proof or test, starts before what comes before.
pub(super) fn works(project: &Project) -> Vec<Finding> {
    let one = |found: crate::works::WorksFinding| {
        let work = &project.building.works[found.number];
        let id = format!("stage.work.{}.{}", found.number + 1, found.code);
        let mut f = Finding::new(id, FindingKind::Stage, work.activity.clone());
        f.status = Outcome::NotMet;
        f.stage = work.stage.clone().unwrap_or_default();
        f.sentence = found.sentence;
        f
    };
    crate::works::findings(project).into_iter().map(one).collect()
}

/// The line of stages, with what is open at each.
pub(super) fn stages(project: &Project, findings: &[Finding]) -> Vec<Stage> {
    let facts = &project.building.project;
    let now = facts.stages.iter().position(|s| *s == facts.stage);
    let stage = |(at, name): (usize, &String)| {
        let of: Vec<&Finding> = findings.iter().filter(|f| f.stage == *name).collect();
        Stage {
            id: name.replace(' ', "-"),
            name: name.clone(),
            state: match now {
                Some(n) if at < n => StageState::Past,
                Some(n) if at == n => StageState::Now,
                _ => StageState::ToCome,
            },
            findings: of.len(),
            open: of.iter().filter(|f| f.is_open()).count(),
            records: records(project).filter(|r| r.head.stage == *name).count(),
        }
    };
    facts.stages.iter().enumerate().map(stage).collect()
}
