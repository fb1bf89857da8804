//! Continuity of the control layers as topology.
//!
//! Surfaces are the assemblies of the enclosure; their edges are the junctions where they meet and the penetrations
//! through them. An edge is closed for a layer when the book says what carries the layer across. [`edges`] lists every
//! edge of every layer with its state, [`gaps`] turns what is open into sentences with their place and what to write
//! to close them, and [`settle()`] says which of those the site log has closed.
//!
//! Silence is never a pass: what nobody has said is a gap or a question. What the book only *intends* for a fire- or
//! sound-rated element closes nothing either; a record that names the tested system does.
//!
//! Not here: whether a joint is strong, durable or fit for fire. That is for its maker, a licensed designer and the
//! code official.

mod bonds;
mod layers;
mod rain;
mod seams;
mod settle;

use std::sync::OnceLock;

use serde::Deserialize;

use crate::control::{ControlKind, Gap};
use crate::model::{AssemblyId, Beyond, Building, Junction, JunctionId, JunctionKind, PenetrationId};
use crate::stated::Source;

pub use settle::{Settled, settle};

/// An edge of a control layer.
#[derive(Clone, Debug, PartialEq)]
pub struct Edge {
    /// Which layer.
    pub control: ControlKind,
    /// Where.
    pub at: EdgeAt,
    /// Surfaces that meet there.
    pub surfaces: Vec<AssemblyId>,
    /// Whether somebody carries it across.
    pub state: EdgeState,
}

/// Where an edge lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum EdgeAt {
    /// Where two elements meet, or around an opening.
    Junction(JunctionId),
    /// Around something that passes through.
    Penetration(PenetrationId),
}

/// State of an edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EdgeState {
    /// The book says what carries the layer across.
    Carried,
    /// The vapour layer is the air barrier on both sides and goes across with it.
    WithAir,
    /// Heat only: the extra loss is stated in the book, so it is counted if not closed.
    Counted,
    /// Nobody has said.
    Open,
}

/// Returns every edge of every control layer, junctions first, in the order of the model.
pub fn edges(building: &Building) -> Vec<Edge> {
    let mut out = Vec::new();
    for (n, junction) in building.junctions.iter().enumerate().filter(|(_, j)| crosses(j.kind)) {
        for control in ControlKind::ALL.into_iter().filter(|c| needed(building, junction, *c)) {
            out.push(Edge {
                control,
                at: EdgeAt::Junction(JunctionId(n)),
                surfaces: [Some(junction.first), junction.second].into_iter().flatten().collect(),
                state: state(building, junction, control),
            });
        }
    }
    for (n, penetration) in building.penetrations.iter().enumerate() {
        let plan = &penetration.plan;
        let sealed = plan.seal.as_ref().is_some_and(|seal| !seal.trim().is_empty());
        let said = |control| plan.carries.iter().any(|c| c.control == control && !c.how.trim().is_empty());
        for control in ControlKind::ALL {
            // Timber that ends in the wall does not reach the rain layer.
            let outside = faces_outside(building, penetration.through) && !plan.embedded_timber;
            let state = match control {
                ControlKind::Rain if !outside => continue,
                ControlKind::Air if sealed => EdgeState::Carried,
                ControlKind::Vapour if !said(control) && sealed => EdgeState::WithAir,
                ControlKind::Heat if !said(control) && plan.chi.is_some() => EdgeState::Counted,
                _ if said(control) => EdgeState::Carried,
                _ => EdgeState::Open,
            };
            let at = EdgeAt::Penetration(PenetrationId(n));
            out.push(Edge { control, at, surfaces: vec![penetration.through], state });
        }
    }
    out
}

/// Returns every gap in a fixed order: layers that are missing, broken lines, rated elements, rain, bonds.
pub fn gaps(building: &Building) -> Vec<Gap> {
    let mut out = layers::gaps(building);
    out.extend(seams::gaps(building));
    out.extend(rain::gaps(building));
    out.extend(bonds::gaps(building));
    out
}

/// Lines that the layers of the enclosure must cross. Inside walls only stand against the enclosure: the layers run on
/// behind their head, foot and edge.
fn crosses(kind: JunctionKind) -> bool {
    !matches!(kind, JunctionKind::PartitionRoof | JunctionKind::PartitionFloor | JunctionKind::PartitionWall)
}

/// Rain is kept only where one side faces the open; the other three everywhere, party boundaries included.
fn needed(building: &Building, junction: &Junction, control: ControlKind) -> bool {
    let open = junction.beyond == Beyond::Outside
        || junction.second.is_some_and(|second| faces_outside(building, second));
    control != ControlKind::Rain || open
}

fn state(building: &Building, junction: &Junction, control: ControlKind) -> EdgeState {
    let joint = junction.joint.map(|n| &building.joints[n]);
    let carried = |control| joint.is_some_and(|j| j.carrier(control).is_some());
    let counted =
        || junction.psi.is_some_and(|key| !matches!(building.values.get(key).source, Source::Default(_)));
    match control {
        _ if carried(control) => EdgeState::Carried,
        ControlKind::Vapour if rides_on_air(building, junction) && carried(ControlKind::Air) => {
            EdgeState::WithAir
        }
        ControlKind::Heat if counted() => EdgeState::Counted,
        _ => EdgeState::Open,
    }
}

/// Whether one sheet is both air barrier and vapour layer on every side of a junction.
fn rides_on_air(building: &Building, junction: &Junction) -> bool {
    let one_sheet = |id: AssemblyId| {
        let assembly = &building.assemblies[id.0];
        assembly
            .control_layers(ControlKind::Vapour)
            .any(|v| assembly.control_layers(ControlKind::Air).any(|a| a == v))
    };
    one_sheet(junction.first) && junction.second.is_none_or(one_sheet)
}

/// Whether any element of an assembly faces the open.
fn faces_outside(building: &Building, assembly: AssemblyId) -> bool {
    building.elements.iter().any(|e| e.assembly == assembly && e.in_enclosure && e.beyond == Beyond::Outside)
}

/// Name of the pair that meets at a junction, as a joint of the book would be called. Two assemblies meet under one
/// name whichever of them a junction has first.
pub fn pair(building: &Building, junction: &Junction) -> String {
    let name = |id: AssemblyId| building.assemblies[id.0].name.as_str();
    match junction.second {
        Some(second) => {
            let turned = |j: &&Junction| j.first == second && j.second == Some(junction.first);
            let same = |j: &&Junction| j.first == junction.first && j.second == junction.second;
            let first_met = building.junctions.iter().find(|j| same(j) || turned(j)).unwrap_or(junction);
            match first_met.second {
                Some(second) => format!("{} / {}", name(first_met.first), name(second)),
                None => format!("{} / {}", name(junction.first), name(second)),
            }
        }
        None if junction.kind == JunctionKind::Threshold => format!("threshold / {}", name(junction.first)),
        None => format!("opening / {}", name(junction.first)),
    }
}

/// Kind of an edge in ids and sentences: the three edges of a frame are one.
pub fn edge_word(kind: JunctionKind) -> &'static str {
    match kind {
        JunctionKind::Head | JunctionKind::Jamb | JunctionKind::Sill => "frame",
        other => other.word(),
    }
}

/// Lines of a junction for drawing: pairs of ends.
fn lines(junction: &Junction) -> impl Iterator<Item = Vec<[f64; 3]>> + '_ {
    junction.line_m.chunks_exact(2).map(<[[f64; 3]]>::to_vec)
}

/// What a layer is called in a sentence.
fn layer_words(control: ControlKind) -> &'static str {
    match control {
        ControlKind::Rain => "the rain layer",
        ControlKind::Air => "the air barrier",
        ControlKind::Vapour => "the vapour layer",
        ControlKind::Heat => "the insulation",
    }
}

/// Words as one enumeration.
fn list(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// A threshold by which joints are judged.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Threshold {
    /// Stable id.
    pub id: String,
    /// Its number.
    pub value: f64,
    /// What it means.
    pub about: String,
    /// Where it comes from.
    pub source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    row: Vec<Threshold>,
}

/// Returns the built-in thresholds.
///
/// # Panics
/// Never in a tested build: the table is part of the program and a unit test reads it.
pub fn thresholds() -> &'static [Threshold] {
    static ROWS: OnceLock<Vec<Threshold>> = OnceLock::new();
    ROWS.get_or_init(|| {
        let file: File = toml::from_str(include_str!("../data/joints.toml")).expect("read by a test");
        file.row
    })
}

/// Number of a threshold; NaN, which judges nothing, for an id that is not in the table.
fn threshold(id: &str) -> f64 {
    thresholds().iter().find(|row| row.id == id).map_or(f64::NAN, |row| row.value)
}

#[cfg(test)]
mod tests;
