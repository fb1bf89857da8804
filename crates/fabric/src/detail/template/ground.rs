//! The foot of a wall on the ground, and a door's threshold there.

use super::super::joint::Plane;
use super::super::{Body, Detail, Region};
use super::{Reveal, Stack, Template, air, environments, part, plane, reach_m};
use crate::error::{FabricError, positive, within};
use crate::ground::{FloorPlan, RSE_GROUND, Slab, Soil};

/// A floor on the ground as a section shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct GroundFloor {
    /// Its layers, inside → outside (downwards).
    pub floor: Stack,
    /// Characteristic dimension B′, m: the section holds half of it.
    pub characteristic_m: f64,
    /// Conductivity of the ground, W/(m·K).
    pub ground_w_mk: f64,
    /// Level of the ground outside over the finished floor, m; below zero when the floor lies higher.
    pub ground_level_m: f64,
    /// How far the wall's shell runs down below the floor's finish, m.
    pub footing_m: f64,
}

/// What stands on the floor's edge.
#[derive(Clone, Debug, PartialEq)]
pub enum Upright {
    /// The wall.
    Wall,
    /// A door's frame; the section is cut where the glass or leaf begins.
    Door(Reveal),
}

/// Returns the foot of a wall: the outer `shell_m` of it runs down to the footing, the rest stands on the floor. Each leaf of the
/// floor begins `starts_m` from the wall's outside face. Ground reaches 2.5 B′ out and down (ISO 10211, 5.2).
///
/// The floor's own loss is taken off by ISO 13370's U over half of B′, by inside dimensions.
///
/// # Errors
/// [`FabricError`] for layers or lengths out of range.
pub fn foot(
    wall: &Stack,
    ground: &GroundFloor,
    shell_m: f64,
    starts_m: &[f64],
    upright: &Upright,
) -> Result<Template, FabricError> {
    wall.check("wall")?;
    ground.floor.check("floor")?;
    let what = || "foot of the wall".to_string();
    let b = positive(what, "characteristic dimension of the floor, m", ground.characteristic_m)?;
    let soil = positive(what, "conductivity of the ground, W/(m·K)", ground.ground_w_mk)?;
    let (tw, tf) = (wall.thickness_m(), ground.floor.thickness_m());
    within(what, "thickness of the shell, m", shell_m, 0.0, tw)?;
    within(what, "footing below the floor, m", ground.footing_m, 0.0, 5.0)?;
    within(what, "ground outside over the floor, m", ground.ground_level_m, -3.0, 0.5 * reach_m(tw))?;
    let reach = reach_m(tw);
    let (left, right, bottom) = (-2.5 * b, tw + 0.5 * b, -tf - 2.5 * b);
    let level = ground.ground_level_m;
    let top = match upright {
        Upright::Wall => reach,
        Upright::Door(door) => positive(what, "frame width, m", door.frame_width_m)?,
    };
    let mut regions = vec![
        air([left, bottom], [right, top], 1),
        Region::rectangle("ground", [0.0, bottom], [right, -tf], Body::solid(soil)),
        Region::rectangle("ground", [left, bottom], [0.0, level], Body::solid(soil)),
        air([tw, 0.0], [right, top], 0),
    ];
    for region in &mut regions[1..3] {
        region.films.push((1, RSE_GROUND));
    }
    let shell = wall.outer(shell_m);
    let down = -ground.footing_m.max(tf);
    for (inner, outer, leaf) in shell.bands() {
        regions.push(part(wall, leaf, [shell_m - outer, down], [shell_m - inner, 0.0]));
    }
    let under = -tf;
    if shell_m < tw {
        // What does not run down stands on the floor, or on ground where the floor begins further in.
        for (inner, outer, leaf) in wall.bands() {
            let (from, to) = ((tw - outer).max(shell_m), tw - inner);
            if to > from + 1e-9 {
                regions.push(part(wall, leaf, [from, under], [to, 0.0]));
            }
        }
    }
    for ((inner, outer, leaf), start) in ground.floor.bands().into_iter().zip(starts_m) {
        within(|| "floor".into(), "distance from the wall's outside face, m", *start, 0.0, tw)?;
        regions.push(part(&ground.floor, leaf, [*start, -outer], [right, -inner]));
    }
    let mut planes = match upright {
        Upright::Wall => {
            for (inner, outer, leaf) in wall.bands() {
                regions.push(part(wall, leaf, [tw - outer, 0.0], [tw - inner, top]));
            }
            vec![plane(wall, top)]
        }
        Upright::Door(door) => {
            let (frame, air) = door_frame(wall, door, tw, right, top)?;
            regions.extend([air, frame]);
            vec![Plane { u_w_m2k: door.frame_u_w_m2k, extent: top }]
        }
    };
    let slab = Slab {
        plan: FloorPlan { area_m2: 0.5 * b, perimeter_m: 1.0, wall_thickness_m: tw },
        soil: Soil { conductivity_w_mk: soil, ..Soil::SAND_OR_GRAVEL },
        floor_m2k_w: ground.floor.leaves.iter().map(|l| l.thickness_m / l.conductivity_w_mk).sum(),
        edge: None,
    };
    planes.push(Plane { u_w_m2k: slab.transfer()?.u_w_m2k, extent: 0.5 * b });
    Ok(Template::whole(
        Detail { plane: true, regions, environments: environments(wall.rsi_m2k_w) },
        planes.clone(),
        planes,
    ))
}

/// A frame as a block that has its Uf, with the inside air beside it over the wall's inner part.
fn door_frame(
    wall: &Stack,
    door: &Reveal,
    tw: f64,
    right: f64,
    top: f64,
) -> Result<(Region, Region), FabricError> {
    let what = || "door".to_string();
    let depth = positive(what, "frame depth, m", door.frame_depth_m)?;
    let uf = positive(what, "Uf, W/(m²·K)", door.frame_u_w_m2k)?;
    let own = 1.0 / uf - wall.rsi_m2k_w - wall.rse_m2k_w;
    let conductivity = depth / positive(what, "resistance left to the frame at its Uf, m²·K/W", own)?;
    let from = within(what, "distance from the wall's outside face, m", door.set_back_m, 0.0, tw - depth)?;
    let frame = Region::rectangle("frame", [from, 0.0], [from + depth, top], Body::solid(conductivity));
    Ok((Region { glazed: true, ..frame }, air([from + depth, 0.0], [right, top], 0)))
}
