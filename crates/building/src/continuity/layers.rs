//! Assemblies of the enclosure that name no layer for a job.

use std::collections::BTreeMap;

use quantity::{Dimension, show};

use crate::control::{ControlKind, Gap, GapKind};
use crate::model::{AssemblyId, Beyond, Building, Element, Neighbour, NeighbourTemperature};

/// Each assembly of the enclosure needs an air layer, to the cold a vapour and a heat layer, and to the open a rain layer.
pub(super) fn gaps(building: &Building) -> Vec<Gap> {
    let mut missing: BTreeMap<(AssemblyId, ControlKind), Vec<&Element>> = BTreeMap::new();
    for element in building.elements.iter().filter(|e| e.in_enclosure) {
        let assembly = &building.assemblies[element.assembly.0];
        for kind in ControlKind::ALL {
            if is_needed(building, kind, element) && assembly.control_layers(kind).next().is_none() {
                missing.entry((element.assembly, kind)).or_default().push(element);
            }
        }
    }
    let mut out: Vec<Gap> =
        missing.iter().map(|((id, control), elements)| layer(building, *id, *control, elements)).collect();
    out.extend(listed(building));
    out
}

/// Says whether an element needs a layer of this kind. Rain falls outside only; a neighbour kept as warm as the rooms
/// has no cold for heat or vapour to go to, though its air stays outside all the same. What heat still passes is in
/// the balance.
fn is_needed(building: &Building, kind: ControlKind, element: &Element) -> bool {
    match (kind, &element.beyond) {
        (ControlKind::Rain, beyond) => *beyond == Beyond::Outside,
        (ControlKind::Heat | ControlKind::Vapour, Beyond::Neighbour(id)) => {
            !is_warm(building, &building.neighbours[id.0])
        }
        _ => true,
    }
}

/// Says whether a neighbour is stated to be warm as rooms are, usually: 18 °C or more (judgement).
fn is_warm(building: &Building, neighbour: &Neighbour) -> bool {
    match &neighbour.temperature {
        NeighbourTemperature::Stated { usual, .. } => building.values.get(*usual).value >= 18.0,
        NeighbourTemperature::Floating { .. } => false,
    }
}

fn layer(building: &Building, id: AssemblyId, control: ControlKind, elements: &[&Element]) -> Gap {
    let name = &building.assemblies[id.0].name;
    let area_m2: f64 = elements.iter().map(|e| e.gross_m2).sum();
    let area = show(area_m2, Dimension::Area, building.project.units);
    Gap {
        id: format!("{}.layer.{name}", control.word()),
        control,
        also: Vec::new(),
        kind: GapKind::NoLayer,
        item: format!("assembly.{name}.layers"),
        sentence: format!(
            "No layer of {} ({area}) is said to keep out {}.",
            name.replace('-', " "),
            control.word()
        ),
        close: format!(
            "in [assembly.{name}] give the layer that does it: controls = [\"{}\"]",
            control.word()
        ),
        places: elements.iter().map(|e| e.name.clone()).collect(),
        count: 1,
        length_m: 0.0,
        lines_m: Vec::new(),
        outlines_m: outlines(elements),
    }
}

/// Elements of a plain list have areas but no edges: whether their layers meet cannot be known from them.
fn listed(building: &Building) -> Option<Gap> {
    let elements: Vec<&Element> = building
        .elements
        .iter()
        .filter(|e| e.in_enclosure && e.storey.is_none() && e.outline_m.is_empty())
        .collect();
    let count = elements.len();
    (count > 0).then(|| Gap {
        id: "air.edges.listed".to_owned(),
        control: ControlKind::Air,
        also: Vec::new(),
        kind: GapKind::EdgesUnknown,
        item: "element".to_owned(),
        sentence: format!(
            "{count} elements are a plain list: where they meet is not drawn, so nothing is known about their edges."
        ),
        close: "draw storeys with footprints in place of the list".to_owned(),
        places: elements.iter().map(|e| e.name.clone()).collect(),
        count: 1,
        length_m: 0.0,
        lines_m: Vec::new(),
        outlines_m: Vec::new(),
    })
}

/// Drawn outlines of elements.
pub(super) fn outlines(elements: &[&Element]) -> Vec<Vec<[f64; 3]>> {
    elements.iter().filter(|e| !e.outline_m.is_empty()).map(|e| e.outline_m.clone()).collect()
}
