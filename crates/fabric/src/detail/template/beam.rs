//! What passes through insulation in three dimensions: the end of a beam pocketed in masonry, a bracket.

use super::super::joint::Plane;
use super::super::{Body, Detail, Region};
use super::{Stack, Template, environments, reach_m};
use crate::error::{FabricError, positive, within};

/// A straight member of rectangular section at right angles to a wall.
#[derive(Clone, Debug, PartialEq)]
pub struct Member {
    /// Name.
    pub name: String,
    /// Width and height of its section, m.
    pub section_m: [f64; 2],
    /// Conductivity along it and across, W/(m·K).
    pub conductivity_w_mk: [f64; 2],
    /// Distance of its outer end from the wall's outside face, m; below zero it stands out into the open.
    pub end_m: f64,
    /// Distance of its inner end from the same face, m; a beam that spans the room is cut beyond the wall's own reach.
    pub inner_end_m: Option<f64>,
}

/// How far a member is drawn into the room or the open, m: beyond, it has the air's temperature (its own length into still
/// air, √(λ d / 4 h), is a few decimetres for timber).
const DRAWN_M: f64 = 1.2;

/// Returns a member through a wall, a quarter of it drawn: χ counts four of them.
///
/// # Errors
/// [`FabricError`] for layers or lengths out of range.
pub fn through(wall: &Stack, member: &Member) -> Result<Template, FabricError> {
    wall.check("wall")?;
    let what = || member.name.clone();
    let t = wall.thickness_m();
    let [width, height] = member.section_m;
    positive(what, "width, m", width)?;
    positive(what, "height, m", height)?;
    for k in member.conductivity_w_mk {
        positive(what, "conductivity, W/(m·K)", k)?;
    }
    within(what, "distance of its end from the outside face, m", member.end_m, -DRAWN_M, t)?;
    let inner = member.inner_end_m.unwrap_or(t + DRAWN_M).min(t + DRAWN_M);
    within(what, "distance of its inner end from the outside face, m", inner, member.end_m, t + DRAWN_M)?;
    // Half the reach of a plane section: in space what the member disturbs dies away as fast as it is thick.
    let reach = reach_m(t);
    let far = [0.5 * width + reach, 0.5 * height + reach];
    let left = member.end_m.min(0.0) - 0.1;
    let right = inner.max(t + 0.3);
    let block = |name: &str, from: f64, to: f64, body| {
        Region::cuboid(name, [from, 0.0, 0.0], [to, far[1], far[0]], body)
    };
    let mut regions = vec![
        block("outside air", left, 0.0, Body::Environment(1)),
        block("inside air", t, right, Body::Environment(0)),
    ];
    for (near, outer, leaf) in wall.bands() {
        let region = block(&leaf.name, t - outer, t - near, Body::solid(leaf.conductivity_w_mk));
        regions.push(region.with_film(0, wall.rsi_m2k_w).with_film(1, wall.rse_m2k_w));
    }
    let [along, across] = member.conductivity_w_mk;
    regions.push(Region::cuboid(
        member.name.clone(),
        [member.end_m, 0.0, 0.0],
        [inner, 0.5 * height, 0.5 * width],
        Body::Solid([along, across, across]),
    ));
    let planes = vec![Plane { u_w_m2k: wall.u_w_m2k(), extent: far[0] * far[1] }];
    Ok(Template {
        detail: Detail { plane: false, regions, environments: environments(wall.rsi_m2k_w) },
        external: planes.clone(),
        internal: planes,
        times: 4.0,
    })
}
