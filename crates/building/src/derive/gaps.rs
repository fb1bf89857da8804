//! Unclosed edges of the control layers: assemblies without a layer, junctions without a joint, penetrations
//! without a seal.

use std::collections::BTreeMap;

use crate::control::{ControlKind, Gap, GapKind};
use crate::model::{AssemblyId, Beyond, Building, Junction, JunctionKind};

/// Returns every gap, layers first, in a fixed order.
pub(super) fn gaps(building: &Building) -> Vec<Gap> {
    let mut out = missing_layers(building);
    out.extend(open_joints(building));
    out.extend(open_penetrations(building));
    out
}

/// Each assembly of the enclosure needs an air, a vapour and a heat layer, and to the open a rain layer.
fn missing_layers(building: &Building) -> Vec<Gap> {
    let mut areas: BTreeMap<(AssemblyId, ControlKind), f64> = BTreeMap::new();
    for element in building.elements.iter().filter(|e| e.in_enclosure) {
        let assembly = &building.assemblies[element.assembly.0];
        for kind in ControlKind::ALL {
            let needed = kind != ControlKind::Rain || element.beyond == Beyond::Outside;
            if needed && assembly.control_layers(kind).next().is_none() {
                *areas.entry((element.assembly, kind)).or_default() += element.gross_m2;
            }
        }
    }
    let gap = |((id, control), area): ((AssemblyId, ControlKind), f64)| {
        let name = &building.assemblies[id.0].name;
        Gap {
            id: format!("{}.layer.{name}", control.word()),
            control,
            kind: GapKind::NoLayer,
            item: format!("assembly.{name}.layers"),
            sentence: format!("No layer of {name} ({area:.1} m²) is said to keep out {}.", control.word()),
            length_m: 0.0,
            lines_m: Vec::new(),
        }
    };
    areas.into_iter().map(gap).collect()
}

/// Lines that the air barrier must cross; inside walls only where their head and foot cut it, which the layer's own
/// continuity behind them settles.
fn crosses_barrier(kind: JunctionKind) -> bool {
    !matches!(kind, JunctionKind::PartitionRoof | JunctionKind::PartitionFloor | JunctionKind::PartitionWall)
}

fn open_joints(building: &Building) -> Vec<Gap> {
    let name = |junction: &Junction| {
        let first = &building.assemblies[junction.first.0].name;
        match junction.second {
            Some(second) => format!("{first} / {}", building.assemblies[second.0].name),
            None if junction.kind == JunctionKind::Threshold => format!("threshold / {first}"),
            None => format!("opening / {first}"),
        }
    };
    let edge = |kind: JunctionKind| match kind {
        JunctionKind::Head | JunctionKind::Jamb | JunctionKind::Sill => "frame".to_owned(),
        other => other.word().to_owned(),
    };
    let mut open: BTreeMap<(String, String), Vec<&Junction>> = BTreeMap::new();
    for junction in building.junctions.iter().filter(|j| crosses_barrier(j.kind)) {
        let carried = junction.joint.is_some_and(|n| {
            building.joints[n].carries.iter().any(|(kind, how)| *kind == ControlKind::Air && !how.is_empty())
        });
        if !carried {
            open.entry((edge(junction.kind), name(junction))).or_default().push(junction);
        }
    }
    let gap = |((kind, pair), junctions): ((String, String), Vec<&Junction>)| {
        let length_m = junctions.iter().map(|j| j.length_m).sum();
        Gap {
            id: format!("air.{kind}.{pair}"),
            control: ControlKind::Air,
            kind: GapKind::NoJoint,
            item: format!("joint.\"{pair}\""),
            sentence: format!(
                "Nobody has said what carries the air barrier across {pair}, {kind} ({length_m:.1} m)."
            ),
            length_m,
            lines_m: junctions.iter().filter(|j| !j.line_m.is_empty()).map(|j| j.line_m.clone()).collect(),
        }
    };
    open.into_iter().map(gap).collect()
}

fn open_penetrations(building: &Building) -> Vec<Gap> {
    let mut out = Vec::new();
    for penetration in &building.penetrations {
        let plan = &penetration.plan;
        let assembly = &building.assemblies[penetration.through.0];
        let mut push = |kind, word: &str, sentence| {
            out.push(Gap {
                id: format!("air.{word}.{}", plan.name),
                control: ControlKind::Air,
                kind,
                item: format!("penetration.{}", plan.name),
                sentence,
                length_m: 0.0,
                lines_m: Vec::new(),
            });
        };
        if plan.seal.as_ref().is_none_or(String::is_empty) {
            let times = if plan.count == 1 { String::new() } else { format!("{} × ", plan.count) };
            let sentence =
                format!("{times}{} through {}: nobody has said how it is sealed.", plan.name, assembly.name);
            push(GapKind::NoSeal, "penetration", sentence);
        }
        if (assembly.fire_rated || assembly.sound_rated) && plan.tested_system.is_none() {
            let rated = if assembly.fire_rated { "fire" } else { "sound" };
            let sentence = format!(
                "{} pierces {}, which is {rated}-rated: sealing for air does not close it, a tested system does.",
                plan.name, assembly.name
            );
            push(GapKind::NoTestedSystem, "rated", sentence);
        }
    }
    out
}
