//! Assemblies of the enclosure that name no layer for a job.

use std::collections::BTreeMap;

use quantity::{Dimension, show};

use crate::control::{ControlKind, Gap, GapKind};
use crate::model::{AssemblyId, Beyond, Building, Element};

/// Each assembly of the enclosure needs an air, a vapour and a heat layer, and to the open a rain layer.
pub(super) fn gaps(building: &Building) -> Vec<Gap> {
    let mut missing: BTreeMap<(AssemblyId, ControlKind), Vec<&Element>> = BTreeMap::new();
    for element in building.elements.iter().filter(|e| e.in_enclosure) {
        let assembly = &building.assemblies[element.assembly.0];
        for kind in ControlKind::ALL {
            let needed = kind != ControlKind::Rain || element.beyond == Beyond::Outside;
            if needed && assembly.control_layers(kind).next().is_none() {
                missing.entry((element.assembly, kind)).or_default().push(element);
            }
        }
    }
    let mut out: Vec<Gap> =
        missing.iter().map(|((id, control), elements)| layer(building, *id, *control, elements)).collect();
    out.extend(listed(building));
    out
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
        sentence: format!("No layer of {name} ({area}) is said to keep out {}.", control.word()),
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
