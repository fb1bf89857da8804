//! Edges of windows and doors.

use super::{Left, Planned, PlannedKind, edge, ground_floor, layers, refused, storey_of};
use building::Resolved;
use building::model::{Building, ElementKind, Junction, JunctionKind, Opening, UnitThermal};
use fabric::detail::template::{Reveal, Template, ground, window_reveal};

/// Gap between frame and wall, m, and what fills it, W/(m·K) (common practice, no source).
const GAP_M: f64 = 0.012;
const GAP_W_MK: f64 = 0.040;

/// Lays the edge of an opening out.
pub(super) fn drawn(
    building: &Building,
    junction: &Junction,
    r: &Resolved,
    notes: &mut Vec<&'static str>,
) -> Result<Template, Left> {
    let Some(id) = junction.opening else { return Err("no opening lies there".into()) };
    let opening = &building.openings[id.0];
    let wall = layers::wall(building, junction.first, r)?;
    let mut reveal = reveal(building, opening, r, opening.reveal_outside_m);
    if edge(junction.kind) {
        notes.push("a 12 mm gap filled with wool all round; lintels and sill pieces are not drawn");
        reveal.lining = wall.lining();
        return window_reveal(&wall.stack, &reveal).map_err(refused);
    }
    let floor = ground_floor_of(building, junction)
        .ok_or("a threshold over another floor than one on the ground is not drawn")?;
    let floor = layers::wall(building, floor, r)?;
    notes.push("the door's frame stands on the floor's finish; what it adds to the foot of the wall there");
    let on = ground_floor(building, junction_like(building, opening, junction), &floor, r)?;
    let door = ground::Upright::Door(Reveal { gap_m: 0.0, ..reveal });
    ground::foot(&wall.stack, &on, wall.shell_m(), &wall.starts(&floor), &door).map_err(refused)
}

/// Frame of an opening, set back from the wall's outside face.
pub(crate) fn reveal(building: &Building, opening: &Opening, r: &Resolved, set_back_m: f64) -> Reveal {
    let unit = &building.units[opening.unit.0];
    let frame_u_w_m2k = match unit.thermal {
        UnitThermal::Parts { frame, .. } => r[frame],
        UnitThermal::Whole(u) => r[u],
    };
    Reveal {
        frame_width_m: r[unit.frame_face],
        frame_depth_m: r[unit.frame_depth],
        frame_u_w_m2k,
        set_back_m,
        gap_m: GAP_M,
        gap_conductivity_w_mk: GAP_W_MK,
        lining: None,
    }
}

/// A joint of the opening's storey that is named by it: names of opening edges begin with the opening.
fn junction_like<'a>(building: &'a Building, opening: &Opening, own: &'a Junction) -> &'a Junction {
    let storey = building.elements[opening.element.0].storey;
    let of_storey = |j: &&Junction| {
        j.kind == JunctionKind::Plinth
            && storey.is_some_and(|id| {
                storey_of(building, j).is_some_and(|s| s.name == building.storeys[id.0].name)
            })
    };
    building.junctions.iter().find(of_storey).unwrap_or(own)
}

fn ground_floor_of(building: &Building, junction: &Junction) -> Option<building::model::AssemblyId> {
    let opening = &building.openings[junction.opening?.0];
    let storey = building.elements[opening.element.0].storey?;
    let on_ground =
        building.elements.iter().find(|e| e.storey == Some(storey) && e.kind == ElementKind::GroundFloor);
    on_ground.map(|e| e.assembly)
}

/// A threshold lies on the foot of the wall, whose joint runs on under it.
pub(super) fn link_thresholds(building: &Building, all: &mut [Planned]) {
    let foot = |wall: building::model::AssemblyId, all: &[Planned]| {
        all.iter().position(|p| {
            p.kind == PlannedKind::Line(JunctionKind::Plinth)
                && p.junctions.iter().any(|n| building.junctions[*n].first == wall)
        })
    };
    for n in 0..all.len() {
        if all[n].kind == PlannedKind::Line(JunctionKind::Threshold) {
            let wall = building.junctions[all[n].junctions[0]].first;
            all[n].beyond = foot(wall, all);
        }
    }
}
