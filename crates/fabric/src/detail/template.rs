//! Details made from the layers that meet: corners, walls that take in a floor or partition, window reveals.
//!
//! Each function lays out boxes in metres, with environment 0 inside and 1 outside, and says which planes belong to it,
//! counted by outside and by inside dimensions. Here: corners, slabs that run through, reveals; [`meeting`] walls that take in
//! floors and partitions, [`roof`] edges, eaves and ridges, [`ground`] the foot of a wall, [`beam`] what passes through
//! insulation. Layers run inside → outside; air spaces and membranes enter as solids of
//! the same resistance. Plane elements run on for [`reach_m`] beyond the joint, where cut planes are adiabatic.

pub mod beam;
pub mod ground;
pub mod meeting;
pub mod roof;

use super::joint::Plane;
use super::{Body, Detail, Environment, Region};
use crate::error::{FabricError, positive};
use crate::layers::film::RSE_M2K_W;

/// One layer in a section.
#[derive(Clone, Debug, PartialEq)]
pub struct Leaf {
    /// Name.
    pub name: String,
    /// Thickness, m.
    pub thickness_m: f64,
    /// Conductivity (equivalent, for an air space or a bridged layer), W/(m·K).
    pub conductivity_w_mk: f64,
}

/// A plane element as a section shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct Stack {
    /// Layers, inside → outside.
    pub leaves: Vec<Leaf>,
    /// Inside surface resistance, m²·K/W.
    pub rsi_m2k_w: f64,
    /// Outside surface resistance, m²·K/W.
    pub rse_m2k_w: f64,
}

impl Stack {
    /// Returns a stack to outdoors.
    pub fn new(leaves: Vec<Leaf>, rsi_m2k_w: f64) -> Self {
        Self { leaves, rsi_m2k_w, rse_m2k_w: RSE_M2K_W }
    }

    /// Returns the stack of its outermost leaves up to a thickness from the outside face.
    #[must_use]
    pub fn outer(&self, thickness_m: f64) -> Self {
        let mut left = thickness_m;
        let mut leaves = Vec::new();
        for leaf in self.leaves.iter().rev() {
            if left <= 1e-9 {
                break;
            }
            let thickness_m = leaf.thickness_m.min(left);
            left -= thickness_m;
            leaves.insert(0, Leaf { thickness_m, ..leaf.clone() });
        }
        Self { leaves, ..self.clone() }
    }

    /// Returns the thickness, m.
    pub fn thickness_m(&self) -> f64 {
        self.leaves.iter().map(|l| l.thickness_m).sum()
    }

    /// Returns the transmittance to outdoors, W/(m²·K).
    pub fn u_w_m2k(&self) -> f64 {
        let own: f64 = self.leaves.iter().map(|l| l.thickness_m / l.conductivity_w_mk).sum();
        1.0 / (self.rsi_m2k_w + own + self.rse_m2k_w)
    }

    fn check(&self, name: &str) -> Result<(), FabricError> {
        if self.leaves.is_empty() {
            return Err(FabricError::NoResistance { what: name.to_owned() });
        }
        for leaf in &self.leaves {
            let what = || format!("{name}, layer '{}'", leaf.name);
            positive(what, "thickness, m", leaf.thickness_m)?;
            positive(what, "conductivity, W/(m·K)", leaf.conductivity_w_mk)?;
        }
        Ok(())
    }

    /// Distances from the inside face to both sides of each layer.
    fn bands(&self) -> Vec<(f64, f64, &Leaf)> {
        let mut from = 0.0;
        self.leaves
            .iter()
            .map(|leaf| {
                let band = (from, from + leaf.thickness_m, leaf);
                from = band.1;
                band
            })
            .collect()
    }
}

/// A detail with the planes that its coupling holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Template {
    /// The detail; environment 0 inside, 1 outside.
    pub detail: Detail,
    /// Planes by outside dimensions.
    pub external: Vec<Plane>,
    /// Planes by inside dimensions.
    pub internal: Vec<Plane>,
    /// How many of what is drawn make the joint: 2 when half is drawn, 4 for a quarter.
    pub times: f64,
}

impl Template {
    fn whole(detail: Detail, external: Vec<Plane>, internal: Vec<Plane>) -> Self {
        Self { detail, external, internal, times: 1.0 }
    }
}

/// Returns how far plane elements run on beside a joint: 1 m or three thicknesses, the larger (ISO 10211, 5.2).
pub fn reach_m(thickness_m: f64) -> f64 {
    f64::max(1.0, 3.0 * thickness_m)
}

fn rectangle(leaf: &Leaf, low: [f64; 2], high: [f64; 2]) -> Region {
    Region::rectangle(leaf.name.clone(), low, high, Body::solid(leaf.conductivity_w_mk))
}

/// A leaf of an element, with the element's own films.
fn part(stack: &Stack, leaf: &Leaf, low: [f64; 2], high: [f64; 2]) -> Region {
    rectangle(leaf, low, high).with_film(0, stack.rsi_m2k_w).with_film(1, stack.rse_m2k_w)
}

fn plane(stack: &Stack, extent: f64) -> Plane {
    Plane { u_w_m2k: stack.u_w_m2k(), extent }
}

fn air(low: [f64; 2], high: [f64; 2], environment: usize) -> Region {
    let name = if environment == 0 { "inside air" } else { "outside air" };
    Region::rectangle(name, low, high, Body::Environment(environment))
}

/// Inside at 1 °C and outside at 0 °C: flows are couplings, surface temperatures are factors.
fn environments(rsi: f64) -> Vec<Environment> {
    let e = |name: &str, temperature_c, surface_m2k_w| Environment {
        name: name.to_owned(),
        temperature_c,
        surface_m2k_w,
    };
    vec![e("inside", 1.0, rsi), e("outside", 0.0, RSE_M2K_W)]
}

/// Returns the outer corner of two elements: wall and wall, verge, edge of a flat roof. Layers mitre by number from the
/// outside, so that like layers meet; where one element has more, its inner ones run up to the other.
///
/// # Errors
/// [`FabricError`] for layers without thickness or conductivity.
pub fn outer_corner(a: &Stack, b: &Stack) -> Result<Template, FabricError> {
    a.check("first element")?;
    b.check("second element")?;
    let (ta, tb) = (a.thickness_m(), b.thickness_m());
    let reach = reach_m(ta.max(tb));
    // The corner of the inside faces lies at the origin; element a stands along y (outside to the left, x < 0),
    // element b lies along x (outside below, y < 0).
    let mut regions =
        vec![air([-ta - 0.1, -tb - 0.1], [reach, reach], 1), air([0.0, 0.0], [reach, reach], 0)];
    regions.extend(bent(a, b, &a.bands(), &b.bands(), reach));
    Ok(Template::whole(
        Detail { plane: true, regions, environments: environments(a.rsi_m2k_w.max(b.rsi_m2k_w)) },
        vec![plane(a, reach + tb), plane(b, reach + ta)],
        vec![plane(a, reach), plane(b, reach)],
    ))
}

/// Returns the inner corner of two walls, where the building steps back: outdoors lies in the corner. Layers mitre by
/// number from the inside.
///
/// # Errors
/// [`FabricError`] for layers without thickness or conductivity.
pub fn inner_corner(a: &Stack, b: &Stack) -> Result<Template, FabricError> {
    a.check("first wall")?;
    b.check("second wall")?;
    let (ta, tb) = (a.thickness_m(), b.thickness_m());
    let reach = reach_m(ta.max(tb));
    let mut regions =
        vec![air([-ta - 0.1, -tb - 0.1], [reach, reach], 0), air([0.0, 0.0], [reach, reach], 1)];
    let turned = |s: &Stack| Stack { leaves: s.leaves.iter().rev().cloned().collect(), ..s.clone() };
    let (ra, rb) = (turned(a), turned(b));
    regions.extend(bent(a, b, &ra.bands(), &rb.bands(), reach));
    Ok(Template::whole(
        Detail { plane: true, regions, environments: environments(a.rsi_m2k_w.max(b.rsi_m2k_w)) },
        vec![plane(a, reach), plane(b, reach)],
        vec![plane(a, reach + tb), plane(b, reach + ta)],
    ))
}

type Bands<'a> = [(f64, f64, &'a Leaf)];

/// Both arms of a corner, layer by layer from the far side to the faces at x = 0 and y = 0.
fn bent(a: &Stack, b: &Stack, bands_a: &Bands<'_>, bands_b: &Bands<'_>, reach: f64) -> Vec<Region> {
    let mut regions = Vec::new();
    // Each layer covers an L whose inner part the next layers cover again. An element with fewer layers stands for the
    // missing ones with no thickness left.
    for k in 0..bands_a.len().max(bands_b.len()) {
        let at = |bands: &Bands<'_>| bands.len().checked_sub(k + 1);
        let (la, lb) = (at(bands_a).map(|i| &bands_a[i]), at(bands_b).map(|i| &bands_b[i]));
        let outer_x = la.map_or(0.0, |l| -l.1);
        let outer_y = lb.map_or(0.0, |l| -l.1);
        if let Some((inner, outer, leaf)) = la {
            regions.push(part(a, leaf, [-outer, outer_y], [-inner, reach]));
        }
        if let Some((inner, outer, leaf)) = lb {
            regions.push(part(b, leaf, [outer_x, -outer], [reach, -inner]));
        }
    }
    regions
}

/// Returns a wall that takes in a floor or partition of one solid: it runs in from the inside and ends `stop_m` short of
/// the outside face (0: it goes right through, as a balcony's root does).
///
/// # Errors
/// [`FabricError`] for layers without thickness or conductivity, or a stop outside the wall.
pub fn taken_in(wall: &Stack, floor: &Leaf, stop_m: f64) -> Result<Template, FabricError> {
    wall.check("wall")?;
    positive(|| "floor".into(), "thickness, m", floor.thickness_m)?;
    positive(|| "floor".into(), "conductivity, W/(m·K)", floor.conductivity_w_mk)?;
    let t = wall.thickness_m();
    crate::error::within(|| "floor".into(), "distance left to the outside face, m", stop_m, 0.0, t)?;
    let reach = reach_m(t);
    let half = 0.5 * floor.thickness_m;
    let mut regions = vec![
        air([-t - 0.1, -reach - half], [-t, reach + half], 1),
        air([0.0, -reach - half], [reach, reach + half], 0),
    ];
    for (inner, outer, leaf) in wall.bands() {
        regions.push(rectangle(leaf, [-outer, -reach - half], [-inner, reach + half]));
    }
    regions.push(rectangle(floor, [stop_m - t, -half], [reach, half]));
    let u = wall.u_w_m2k();
    Ok(Template::whole(
        Detail { plane: true, regions, environments: environments(wall.rsi_m2k_w) },
        vec![Plane { u_w_m2k: u, extent: 2.0 * reach + floor.thickness_m }],
        vec![Plane { u_w_m2k: u, extent: 2.0 * reach }],
    ))
}

/// A window in a section through its jamb, head or sill.
#[derive(Clone, Debug, PartialEq)]
pub struct Reveal {
    /// Frame width seen from outside, m.
    pub frame_width_m: f64,
    /// Frame depth, m.
    pub frame_depth_m: f64,
    /// Frame transmittance Uf, W/(m²·K).
    pub frame_u_w_m2k: f64,
    /// Distance from the wall's outside face to the frame's outside face, m.
    pub set_back_m: f64,
    /// Gap between wall and frame, m, filled with `gap_conductivity_w_mk`; 0 for none.
    pub gap_m: f64,
    /// Conductivity of what fills the gap, W/(m·K).
    pub gap_conductivity_w_mk: f64,
    /// Lining of the reveal on the inside, from the frame to the wall's inside face: thickness, conductivity.
    pub lining: Option<Leaf>,
}

/// Returns a wall that ends at a window's frame. The frame is a block of the conductivity that gives it its Uf; where
/// the glass would begin, the section is cut, so that Ψ is that of the installation alone.
///
/// # Errors
/// [`FabricError`] for layers or dimensions out of range, or a frame that does not lie within the wall's thickness.
pub fn window_reveal(wall: &Stack, reveal: &Reveal) -> Result<Template, FabricError> {
    wall.check("wall")?;
    let what = || "window".to_string();
    let width = positive(what, "frame width, m", reveal.frame_width_m)?;
    let depth = positive(what, "frame depth, m", reveal.frame_depth_m)?;
    let uf = positive(what, "Uf, W/(m²·K)", reveal.frame_u_w_m2k)?;
    let t = wall.thickness_m();
    crate::error::within(what, "gap, m", reveal.gap_m, 0.0, 0.1)?;
    let inner = reveal.set_back_m + depth;
    if reveal.set_back_m < 0.0 || inner > t {
        return Err(FabricError::Inconsistent {
            what: what(),
            detail: format!(
                "a frame {depth} m deep set back {} m does not lie within a wall of {t:.3} m",
                reveal.set_back_m
            ),
        });
    }
    let own = 1.0 / uf - wall.rsi_m2k_w - RSE_M2K_W;
    let conductivity = depth / positive(what, "resistance left to the frame at its Uf, m²·K/W", own)?;
    // x from inside to outside as in the other sections (wall from −t to 0), y along the wall; the opening above y = 0.
    let reach = reach_m(t);
    let top = reveal.gap_m + width;
    let (frame_out, frame_in) = (reveal.set_back_m - t, inner - t);
    let mut regions =
        vec![air([-t - 0.1, -reach], [frame_out, top], 1), air([frame_in, -reach], [0.1, top], 0)];
    for (inside, outside, leaf) in wall.bands() {
        regions.push(rectangle(leaf, [-outside, -reach], [-inside, 0.0]));
    }
    if reveal.gap_m > 0.0 {
        let fill = Leaf {
            name: "gap around the frame".into(),
            thickness_m: reveal.gap_m,
            conductivity_w_mk: positive(
                what,
                "conductivity of the gap's filling, W/(m·K)",
                reveal.gap_conductivity_w_mk,
            )?,
        };
        regions.push(rectangle(&fill, [frame_out, 0.0], [frame_in, reveal.gap_m]));
    }
    let frame = Leaf { name: "frame".into(), thickness_m: depth, conductivity_w_mk: conductivity };
    let frame = rectangle(&frame, [frame_out, reveal.gap_m], [frame_in, top]);
    regions.push(Region { glazed: true, ..frame });
    if let Some(lining) = reveal.lining.as_ref().filter(|_| frame_in < 0.0) {
        let thickness = positive(what, "thickness of the lining, m", lining.thickness_m)?.min(top);
        regions.push(rectangle(lining, [frame_in, 0.0], [0.0, thickness]));
    }
    let planes = vec![
        Plane { u_w_m2k: wall.u_w_m2k(), extent: reach },
        // The opening is measured to the wall; the gap belongs to the joint.
        Plane { u_w_m2k: uf, extent: width },
    ];
    Ok(Template::whole(
        Detail { plane: true, regions, environments: environments(wall.rsi_m2k_w) },
        planes.clone(),
        planes,
    ))
}

#[cfg(test)]
mod tests;
