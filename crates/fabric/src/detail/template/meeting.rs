//! Walls that take in a floor or a partition, with inside or a neighbour on its other side.

use super::super::joint::Plane;
use super::super::{Detail, Environment};
use super::{Stack, Template, air, environments, part, plane, reach_m};
use crate::error::{FabricError, within};

/// What lies on the far side of the element taken in.
#[derive(Clone, Debug, PartialEq)]
pub enum Beside {
    /// The same room's air, or another room of ours: both sides count as inside.
    Inside {
        /// Whether the building counts the wall over the element's thickness as area (its edge is seen as wall).
        band_counted: bool,
    },
    /// A neighbour, behind another stack of the same wall.
    Neighbour {
        /// The wall on that side; its outside face lines up with the other's.
        wall: Stack,
        /// Temperature between outside (0) and inside (1).
        temperature: f64,
    },
    /// Outdoors, as under a floor that stands over the open; the wall ends at the element's far face.
    Outside,
}

/// Returns a wall that takes in another element from the inside. Each leaf of that element begins `starts_m` from the
/// wall's outside face, its first leaf being the one on the inside (upper) side.
///
/// # Errors
/// [`FabricError`] for layers without thickness or conductivity, or a start outside the wall.
pub fn meeting(
    wall: &Stack,
    element: &Stack,
    starts_m: &[f64],
    beside: &Beside,
) -> Result<Template, FabricError> {
    wall.check("wall")?;
    element.check("element taken in")?;
    let t = wall.thickness_m();
    let te = element.thickness_m();
    for start in starts_m {
        within(|| "element taken in".into(), "distance from the wall's outside face, m", *start, 0.0, t)?;
    }
    let far = match beside {
        Beside::Neighbour { wall, .. } => {
            wall.check("wall of the neighbour")?;
            wall.thickness_m()
        }
        _ => t,
    };
    let reach = reach_m(t.max(te));
    let right = t.max(far) + reach;
    // x from the wall's outside face inwards; the element's inside face at y = 0, its body below.
    let below = match beside {
        Beside::Inside { .. } => 0,
        Beside::Outside => 1,
        Beside::Neighbour { .. } => 2,
    };
    let mut regions = vec![
        air([-0.1, -te - reach], [0.0, reach], 1),
        air([0.0, -te - reach], [right, -te], below),
        air([t, 0.0], [right, reach], 0),
    ];
    let upright = |regions: &mut Vec<_>, stack: &Stack, from: f64, to: f64| {
        let t = stack.thickness_m();
        for (inner, outer, leaf) in stack.bands() {
            regions.push(part(stack, leaf, [t - outer, from], [t - inner, to]));
        }
    };
    match beside {
        Beside::Inside { .. } => upright(&mut regions, wall, -te - reach, reach),
        Beside::Outside => upright(&mut regions, wall, -te, reach),
        Beside::Neighbour { wall: other, .. } => {
            upright(&mut regions, other, -te - reach, 0.0);
            upright(&mut regions, wall, -te, reach);
        }
    }
    for ((inner, outer, leaf), start) in element.bands().into_iter().zip(starts_m) {
        let mut region = part(element, leaf, [*start, -outer], [right, -inner]);
        if let Beside::Inside { .. } = beside {
            // Both faces of a floor or partition between rooms take the film of an upright surface at their edge.
            region = region.with_film(0, wall.rsi_m2k_w);
        }
        regions.push(region);
    }
    let mut all = environments(wall.rsi_m2k_w);
    let own = |extent| vec![plane(wall, extent)];
    let (external, internal): (Vec<Plane>, Vec<Plane>) = match beside {
        Beside::Inside { band_counted } => {
            (own(2.0 * reach + te), own(2.0 * reach + if *band_counted { te } else { 0.0 }))
        }
        Beside::Outside => {
            let floor = |extent| plane(element, extent);
            (vec![plane(wall, reach + te), floor(right)], vec![plane(wall, reach), floor(right - t)])
        }
        Beside::Neighbour { temperature, .. } => {
            all.push(Environment {
                name: "neighbour".into(),
                temperature_c: *temperature,
                surface_m2k_w: wall.rsi_m2k_w,
            });
            (own(reach + te), own(reach))
        }
    };
    Ok(Template::whole(Detail { plane: true, regions, environments: all }, external, internal))
}
