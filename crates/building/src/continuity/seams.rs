//! Broken lines: junctions that nobody carries a layer across, things that pass through unsealed, rated elements.

use std::collections::BTreeMap;

use quantity::{Dimension, show};

use super::layers::outlines;
use super::{Edge, EdgeAt, EdgeState, edge_word, edges, layer_words, lines, pair, rides_on_air};
use crate::control::{ControlKind, Gap, GapKind};
use crate::model::{Assembly, Building, Element, Junction, Penetration};

pub(super) fn gaps(building: &Building) -> Vec<Gap> {
    let edges = edges(building);
    let mut out = Vec::new();
    // Air leads: it is the line the fan tests.
    for control in [ControlKind::Air, ControlKind::Rain, ControlKind::Vapour, ControlKind::Heat] {
        out.extend(joints(building, &edges, control));
        out.extend(penetrations(building, &edges, control));
    }
    out.extend(rated_joints(building));
    out.extend(building.penetrations.iter().filter_map(|p| rated_penetration(building, p)));
    out
}

/// Open junctions of one layer, one gap for each pair and kind of edge.
fn joints(building: &Building, edges: &[Edge], control: ControlKind) -> Vec<Gap> {
    let mut open: BTreeMap<(&'static str, String, bool), Vec<&Junction>> = BTreeMap::new();
    for edge in edges.iter().filter(|e| e.control == control && e.state == EdgeState::Open) {
        let EdgeAt::Junction(id) = edge.at else { continue };
        let junction = &building.junctions[id.0];
        let silent = junction.joint.is_none();
        // A place that nobody has spoken of is told once, with the air barrier; and where one sheet is air barrier and
        // vapour layer, one break tells of both.
        let told = silent || control == ControlKind::Vapour && rides_on_air(building, junction);
        if control != ControlKind::Air && told {
            continue;
        }
        open.entry((edge_word(junction.kind), pair(building, junction), !silent)).or_default().push(junction);
    }
    let mut out: Vec<Gap> = Vec::new();
    for ((kind, pair, spoken_of), found) in open {
        let also =
            if spoken_of { with_air(building, control, &found) } else { others(edges, &found, building) };
        let mut gap = joint(building, control, also, kind, &pair, &found, spoken_of);
        // A joint that is stated for some places only leaves both kinds.
        if out.iter().any(|other| other.id == gap.id) {
            gap.id.push_str(", elsewhere");
        }
        out.push(gap);
    }
    out
}

/// The vapour layer, where it breaks with the air barrier.
fn with_air(building: &Building, control: ControlKind, found: &[&Junction]) -> Vec<ControlKind> {
    let rides = control == ControlKind::Air && found.iter().all(|j| rides_on_air(building, j));
    if rides { vec![ControlKind::Vapour] } else { Vec::new() }
}

/// Every other layer that is open at some of these junctions.
fn others(edges: &[Edge], found: &[&Junction], building: &Building) -> Vec<ControlKind> {
    let open = |control: ControlKind| {
        edges.iter().filter(|e| e.control == control && e.state == EdgeState::Open).any(|e| match e.at {
            EdgeAt::Junction(id) => found.iter().any(|j| std::ptr::eq(*j, &building.junctions[id.0])),
            EdgeAt::Penetration(_) => false,
        })
    };
    ControlKind::ALL.into_iter().filter(|c| *c != ControlKind::Air && open(*c)).collect()
}

/// Names a seam as one would on site: "the corner of lobby wall", "the party line between party wall and roof".
fn where_at(kind: &str, pair: &str) -> String {
    let plain = |name: &str| name.replace('-', " ");
    match pair.split_once(" / ") {
        Some((a, b)) if a == b => format!("the {kind} of {}", plain(a)),
        Some(("opening", b)) => format!("the {kind} of openings in {}", plain(b)),
        Some((a, b)) if a == kind => format!("the {kind} in {}", plain(b)),
        Some((a, b)) => format!("the {kind} between {} and {}", plain(a), plain(b)),
        None => format!("the {kind} of {}", plain(pair)),
    }
}

fn joint(
    building: &Building,
    control: ControlKind,
    also: Vec<ControlKind>,
    kind: &str,
    pair: &str,
    found: &[&Junction],
    spoken_of: bool,
) -> Gap {
    let length_m = found.iter().map(|j| j.length_m).sum();
    let length = show(length_m, Dimension::Length, building.project.units);
    let word = control.word();
    let words: Vec<&str> = [control].into_iter().chain(also.iter().copied()).map(layer_words).collect();
    let sentence = format!(
        "Nobody has said what carries {} across {} ({length}).",
        super::list(&words),
        where_at(kind, pair)
    );
    let close = match control {
        _ if !spoken_of => {
            format!(
                "[joint.\"{pair}\"] air = {{ how = \"…\", with = \"a product\" }}, rain = \"…\", heat = \"…\""
            )
        }
        ControlKind::Heat => {
            format!(
                "[joint.\"{pair}\"] heat = \"…\", or count its extra loss: [junction.\"{pair}\"] psi = \"…\""
            )
        }
        ControlKind::Rain => format!("[joint.\"{pair}\"] rain = {{ how = \"…\", lap = \"over\" }}"),
        _ => format!("[joint.\"{pair}\"] {word} = {{ how = \"…\", with = \"a product\" }}"),
    };
    Gap {
        id: format!("{word}.{kind}.{pair}"),
        control,
        also,
        kind: GapKind::NoJoint,
        item: format!("joint.\"{pair}\""),
        sentence,
        close,
        places: found.iter().map(|j| j.name.clone()).collect(),
        count: 1,
        length_m,
        lines_m: found.iter().flat_map(|j| lines(j)).collect(),
        outlines_m: Vec::new(),
    }
}

/// Things that pass through. One that nobody has sealed is told once, not for every layer it breaks.
fn penetrations(building: &Building, edges: &[Edge], control: ControlKind) -> Vec<Gap> {
    let open = edges.iter().filter(|e| e.control == control && e.state == EdgeState::Open);
    let found = open.filter_map(|edge| match edge.at {
        EdgeAt::Penetration(id) => Some(&building.penetrations[id.0]),
        EdgeAt::Junction(_) => None,
    });
    let sealed = |p: &&Penetration| p.plan.seal.as_ref().is_some_and(|seal| !seal.trim().is_empty());
    found
        .filter(|p| control == ControlKind::Air || sealed(p))
        .map(|p| penetration(building, p, control))
        .collect()
}

fn penetration(building: &Building, p: &Penetration, control: ControlKind) -> Gap {
    let (name, through) = (&p.plan.name, &building.assemblies[p.through.0].name);
    let times = if p.plan.count == 1 { String::new() } else { format!("{} × ", p.plan.count) };
    let (key, what) = match control {
        ControlKind::Air => ("seal", "how it is sealed"),
        ControlKind::Rain => ("rain", "how rain is kept out around it"),
        ControlKind::Vapour => ("vapour", "how vapour is kept out around it"),
        ControlKind::Heat => ("heat", "how the insulation closes around it"),
    };
    let or = if control == ControlKind::Heat { ", or count its extra loss: chi = \"…\"" } else { "" };
    Gap {
        id: format!("{}.penetration.{name}", control.word()),
        control,
        also: Vec::new(),
        kind: GapKind::NoSeal,
        item: format!("penetration.{name}"),
        sentence: format!("{times}{name} through {through}: nobody has said {what}."),
        close: format!("[[penetration]] name = \"{name}\", {key} = \"…\"{or}"),
        places: vec![name.clone()],
        count: p.plan.count.max(1),
        length_m: 0.0,
        lines_m: Vec::new(),
        outlines_m: place(building, p),
    }
}

/// Faces that something passes through: those of the side or room named, else all of its assembly.
fn place(building: &Building, p: &Penetration) -> Vec<Vec<[f64; 3]>> {
    let of: Vec<&Element> =
        building.elements.iter().filter(|e| e.in_enclosure && e.assembly == p.through).collect();
    let named = |e: &&&Element| p.plan.at.as_ref().is_some_and(|at| e.name.split('.').any(|part| part == at));
    let there: Vec<&Element> = of.iter().filter(named).copied().collect();
    outlines(if there.is_empty() { &of } else { &there })
}

/// What a rated assembly separates, in words; `None` when it is not rated.
fn rating(assembly: &Assembly) -> Option<&'static str> {
    match (assembly.fire_rated, assembly.sound_rated) {
        (true, true) => Some("fire- and sound-rated"),
        (true, false) => Some("fire-rated"),
        (false, true) => Some("sound-rated"),
        (false, false) => None,
    }
}

const RATED: &str = "sealing for air does not close it, only a record that names the tested system does.";

/// Joints of rated elements, one gap for each pair: open whatever the book says.
fn rated_joints(building: &Building) -> Vec<Gap> {
    let mut found: BTreeMap<String, (String, Vec<&Junction>)> = BTreeMap::new();
    for junction in building.junctions.iter().filter(|j| super::crosses(j.kind)) {
        let sides = [Some(junction.first), junction.second].into_iter().flatten();
        let rated = sides.map(|id| &building.assemblies[id.0]).find_map(|a| rating(a).map(|r| (a, r)));
        let Some((assembly, rating)) = rated else { continue };
        let words = format!("{}, which is {rating}", assembly.name);
        found.entry(pair(building, junction)).or_insert((words, Vec::new())).1.push(junction);
    }
    let gap = |(pair, (words, junctions)): (String, (String, Vec<&Junction>))| {
        let meant = junctions
            .iter()
            .find_map(|j| building.joints[j.joint?].tested_system.clone())
            .map_or_else(String::new, |system| format!(" The book means to use {system}."));
        Gap {
            id: format!("air.rated.{pair}"),
            control: ControlKind::Air,
            also: Vec::new(),
            kind: GapKind::NoTestedSystem,
            item: format!("joint.\"{pair}\""),
            sentence: format!("{pair} joins {words}: {RATED}{meant}"),
            close: format!("record a joint inspection of \"{pair}\" that passed and names the tested system"),
            places: junctions.iter().map(|j| j.name.clone()).collect(),
            count: 1,
            length_m: junctions.iter().map(|j| j.length_m).sum(),
            lines_m: junctions.iter().flat_map(|j| lines(j)).collect(),
            outlines_m: Vec::new(),
        }
    };
    found.into_iter().map(gap).collect()
}

fn rated_penetration(building: &Building, p: &Penetration) -> Option<Gap> {
    let assembly = &building.assemblies[p.through.0];
    let rating = rating(assembly)?;
    let name = &p.plan.name;
    let meant = p
        .plan
        .tested_system
        .as_ref()
        .map_or_else(String::new, |system| format!(" The book means to use {system}."));
    Some(Gap {
        id: format!("air.rated.{name}"),
        control: ControlKind::Air,
        also: Vec::new(),
        kind: GapKind::NoTestedSystem,
        item: format!("penetration.{name}"),
        sentence: format!("{name} pierces {}, which is {rating}: {RATED}{meant}", assembly.name),
        close: format!("record a joint inspection of \"{name}\" that passed and names the tested system"),
        places: vec![name.clone()],
        count: p.plan.count.max(1),
        length_m: 0.0,
        lines_m: Vec::new(),
        outlines_m: place(building, p),
    })
}
