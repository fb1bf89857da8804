//! Details made from the layers that meet: corners, walls that take in a floor or partition, window reveals.
//!
//! Each function lays out boxes in metres, with environment 0 inside and 1 outside, and says which planes belong to it,
//! counted by outside and by inside dimensions. Layers run inside → outside; air spaces and membranes enter as solids of
//! the same resistance. Plane elements run on for [`reach_m`] beyond the joint, where cut planes are adiabatic.

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
}

impl Stack {
    /// Returns the thickness, m.
    pub fn thickness_m(&self) -> f64 {
        self.leaves.iter().map(|l| l.thickness_m).sum()
    }

    /// Returns the transmittance to outdoors, W/(m²·K).
    pub fn u_w_m2k(&self) -> f64 {
        let own: f64 = self.leaves.iter().map(|l| l.thickness_m / l.conductivity_w_mk).sum();
        1.0 / (self.rsi_m2k_w + own + RSE_M2K_W)
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
}

/// Returns how far plane elements run on beside a joint: 1 m or three thicknesses, the larger (ISO 10211, 5.2).
pub fn reach_m(thickness_m: f64) -> f64 {
    f64::max(1.0, 3.0 * thickness_m)
}

fn rectangle(leaf: &Leaf, low: [f64; 2], high: [f64; 2]) -> Region {
    Region::rectangle(leaf.name.clone(), low, high, Body::solid(leaf.conductivity_w_mk))
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

/// Returns the outer corner of two elements: wall and wall (eaves of a flat roof: wall and roof). Layers mitre by number
/// from the outside, so that like layers meet; where one element has more, its inner ones run up to the other.
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
    // From outside in, each layer covers an L whose inner part the next layers cover again.
    let (bands_a, bands_b) = (a.bands(), b.bands());
    let count = bands_a.len().max(bands_b.len());
    let from_outside = |bands: &[(f64, f64, &Leaf)], k: usize| {
        // Element with fewer layers: its innermost goes on standing for the missing ones with no thickness left.
        bands.len().checked_sub(k + 1).map(|i| (bands[i].0, bands[i].1, bands[i].2.clone()))
    };
    for k in 0..count {
        let (la, lb) = (from_outside(&bands_a, k), from_outside(&bands_b, k));
        let outer_x = la.as_ref().map_or(0.0, |l| -l.1);
        let outer_y = lb.as_ref().map_or(0.0, |l| -l.1);
        if let Some((inner, outer, leaf)) = &la {
            regions.push(rectangle(leaf, [-outer, outer_y], [-inner, reach]));
        }
        if let Some((inner, outer, leaf)) = &lb {
            regions.push(rectangle(leaf, [outer_x, -outer], [reach, -inner]));
        }
    }
    let rsi = a.rsi_m2k_w.max(b.rsi_m2k_w);
    let (ua, ub) = (with_rsi(a, rsi), with_rsi(b, rsi));
    let plane = |u, extent| Plane { u_w_m2k: u, extent };
    Ok(Template {
        detail: Detail { plane: true, regions, environments: environments(rsi) },
        external: vec![plane(ua, reach + tb), plane(ub, reach + ta)],
        internal: vec![plane(ua, reach), plane(ub, reach)],
    })
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
    Ok(Template {
        detail: Detail { plane: true, regions, environments: environments(wall.rsi_m2k_w) },
        external: vec![Plane { u_w_m2k: u, extent: 2.0 * reach + floor.thickness_m }],
        internal: vec![Plane { u_w_m2k: u, extent: 2.0 * reach }],
    })
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
    regions.push(rectangle(&frame, [frame_out, reveal.gap_m], [frame_in, top]));
    if let Some(lining) = reveal.lining.as_ref().filter(|_| frame_in < 0.0) {
        let thickness = positive(what, "thickness of the lining, m", lining.thickness_m)?.min(top);
        regions.push(rectangle(lining, [frame_in, 0.0], [0.0, thickness]));
    }
    let planes = vec![
        Plane { u_w_m2k: wall.u_w_m2k(), extent: reach },
        // The opening is measured to the wall; the gap belongs to the joint.
        Plane { u_w_m2k: uf, extent: width },
    ];
    Ok(Template {
        detail: Detail { plane: true, regions, environments: environments(wall.rsi_m2k_w) },
        external: planes.clone(),
        internal: planes,
    })
}

fn with_rsi(stack: &Stack, rsi_m2k_w: f64) -> f64 {
    Stack { rsi_m2k_w, ..stack.clone() }.u_w_m2k()
}

#[cfg(test)]
mod tests {
    use super::super::joint::{coldest_spot, extra_loss};
    use super::super::{Accuracy, solve};
    use super::*;

    fn leaf(name: &str, thickness_m: f64, conductivity_w_mk: f64) -> Leaf {
        Leaf { name: name.into(), thickness_m, conductivity_w_mk }
    }

    fn wall() -> Stack {
        Stack {
            leaves: vec![
                leaf("gypsum", 0.016, 0.21),
                leaf("cellulose and studs", 0.178, 0.046),
                leaf("lime", 0.025, 0.7),
                leaf("brick", 0.203, 0.7),
            ],
            rsi_m2k_w: 0.13,
        }
    }

    #[test]
    fn corner_of_one_solid_loses_by_inside_what_it_gains_by_outside() {
        let solid = Stack { leaves: vec![leaf("solid", 0.3, 0.5)], rsi_m2k_w: 0.13 };
        let corner = outer_corner(&solid, &solid).unwrap();
        let s = solve(&corner.detail, &Accuracy::default()).unwrap();
        let inside = extra_loss(&s, 0, 1, &corner.internal, &[]).unwrap().extra;
        let outside = extra_loss(&s, 0, 1, &corner.external, &[]).unwrap().extra;
        assert!((inside - outside - 2.0 * 0.3 * solid.u_w_m2k()).abs() < 1e-9);
        assert!(inside > 0.0 && outside < 0.0);
    }

    #[test]
    fn corner_of_layers_wraps_them() {
        let corner = outer_corner(&wall(), &wall()).unwrap();
        let s = solve(&corner.detail, &Accuracy::default()).unwrap();
        // The insulation goes round: a little more than plane walls by inside dimensions.
        let inside = extra_loss(&s, 0, 1, &corner.internal, &[]).unwrap().extra;
        assert!((0.005..0.05).contains(&inside), "{inside}");
        let (factor, _) = coldest_spot(&corner.detail, 0, 1, &Accuracy::default()).unwrap();
        assert!((0.75..0.98).contains(&factor), "{factor}");
    }

    #[test]
    fn floor_that_goes_through_costs_more_than_one_that_stops() {
        let slab = leaf("slab", 0.2, 2.3);
        let psi = |stop| {
            let t = taken_in(&wall(), &slab, stop).unwrap();
            let s = solve(&t.detail, &Accuracy::default()).unwrap();
            extra_loss(&s, 0, 1, &t.external, &[]).unwrap().extra
        };
        let (through, in_brick, short) = (psi(0.0), psi(0.1), psi(0.228));
        assert!(through > in_brick && in_brick > short && short > 0.0, "{through} {in_brick} {short}");
        assert!(through > 0.4, "{through}");
    }

    #[test]
    fn window_sits_best_in_the_insulation() {
        let psi = |set_back_m| {
            let reveal = Reveal {
                frame_width_m: 0.115,
                frame_depth_m: 0.09,
                frame_u_w_m2k: 1.0,
                set_back_m,
                gap_m: 0.012,
                gap_conductivity_w_mk: 0.04,
                lining: Some(leaf("plywood", 0.019, 0.13)),
            };
            let t = window_reveal(&wall(), &reveal).unwrap();
            let s = solve(&t.detail, &Accuracy::default()).unwrap();
            extra_loss(&s, 0, 1, &t.external, &[]).unwrap().extra
        };
        let (flush, brick, insulation) = (psi(0.0), psi(0.1), psi(0.27));
        assert!(insulation < brick && brick < flush, "{flush} {brick} {insulation}");
        assert!((0.0..0.06).contains(&insulation), "{insulation}");
    }

    #[test]
    fn frame_outside_the_wall_is_refused() {
        let reveal = Reveal {
            frame_width_m: 0.1,
            frame_depth_m: 0.09,
            frame_u_w_m2k: 1.0,
            set_back_m: 0.4,
            gap_m: 0.0,
            gap_conductivity_w_mk: 0.0,
            lining: None,
        };
        let text = window_reveal(&wall(), &reveal).unwrap_err().to_string();
        assert!(text.contains("does not lie within a wall of 0.422 m"), "{text}");
    }
}
