//! How open to vapour a construction is, layer by layer, and how much it can dry to each side in a season.
//!
//! Resistances are equivalent air layers by dry cup (winter, inside dry) and wet cup (damp parts). The drying reserve
//! is what the method of DIN 4108-3 (block climate, recalled) lets a wet plane give off in the summer season beyond what
//! condenses in the winter one.

use crate::error::{MoistureError, within};
use crate::glaser;
use crate::material::AIR_PERMEABILITY_KG_MSPA;
use crate::vapour::iso13788_saturation_pa;
use crate::wall::inconsistent;

/// US perm (0 °C definition), kg/(m²·s·Pa). NIST SP 811, recalled.
pub const PERM_KG_M2SPA: f64 = 5.721_35e-11;
/// Each season of the block climate, s.
const SEASON_S: f64 = 90.0 * 86_400.0;

/// One plane vapour has to pass.
#[derive(Clone, Debug, PartialEq)]
pub struct Plane {
    /// Name.
    pub name: String,
    /// Thermal resistance, m²·K/W (0 for sheets and tapes).
    pub resistance_m2k_w: f64,
    /// Equivalent air layer by dry cup, m.
    pub dry_m: f64,
    /// Equivalent air layer by wet cup, m.
    pub wet_m: f64,
}

impl Plane {
    /// Returns the permeance by dry and wet cup, US perms.
    pub fn perms(&self) -> (f64, f64) {
        let perm = |s: f64| AIR_PERMEABILITY_KG_MSPA / s / PERM_KG_M2SPA;
        (perm(self.dry_m), perm(self.wet_m))
    }
}

/// What the check finds.
#[derive(Clone, Debug, PartialEq)]
pub struct Openness {
    /// Number of the tightest plane by dry cup, counted from inside.
    pub tightest: usize,
    /// Equivalent air layer of all planes, dry and wet, m.
    pub total_m: (f64, f64),
    /// Winter condensation at each boundary between planes, kg/m².
    pub winter_kg_m2: Vec<f64>,
    /// Summer drying of a wet boundary to the inside, kg/m².
    pub to_inside_kg_m2: Vec<f64>,
    /// The same to the outside.
    pub to_outside_kg_m2: Vec<f64>,
}

impl Openness {
    /// Returns the smallest drying reserve over all inner boundaries, and which: drying to both sides less winter
    /// condensation, kg/m².
    pub fn reserve(&self) -> Option<(usize, f64)> {
        (0..self.winter_kg_m2.len())
            .map(|k| (k, self.to_inside_kg_m2[k] + self.to_outside_kg_m2[k] - self.winter_kg_m2[k]))
            .min_by(|a, b| a.1.total_cmp(&b.1))
    }
}

/// What kind of element it is: the summer vapour pressure of the wet plane differs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Element {
    /// Walls and ceilings under unheated attics: 1700 Pa at the wet plane.
    Wall,
    /// Roofs warmed by the sun: 2000 Pa.
    Roof,
}

/// Checks planes from inside to outside. Boundary k lies between plane k and plane k + 1.
///
/// Winter: 20 °C, 50 % inside, −5 °C, 80 % outside, 90 days, dry-cup figures. Summer: 1200 Pa on both sides, 90 days,
/// wet-cup figures (a wet plane's neighbours are damp).
///
/// # Errors
/// Fewer than two planes, or figures out of range.
pub fn check(planes: &[Plane], element: Element) -> Result<Openness, Vec<MoistureError>> {
    let mut found = Vec::new();
    if planes.len() < 2 {
        found.push(inconsistent("vapour check", "at least two planes are needed".into()));
    }
    for p in planes {
        found.extend(within(&p.name, "equivalent air layer, dry cup, in m", p.dry_m, 0.0, 1e7).err());
        found.extend(within(&p.name, "equivalent air layer, wet cup, in m", p.wet_m, 0.0, p.dry_m).err());
        found.extend(within(&p.name, "thermal resistance in m²·K/W", p.resistance_m2k_w, 0.0, 100.0).err());
    }
    if !found.is_empty() {
        return Err(found);
    }
    let tightest =
        (0..planes.len()).fold(0, |best, k| if planes[k].dry_m > planes[best].dry_m { k } else { best });
    let sum = |f: fn(&Plane) -> f64, range: std::ops::Range<usize>| planes[range].iter().map(f).sum::<f64>();
    let n = planes.len();
    let summer_pa = match element {
        Element::Wall => 1700.0,
        Element::Roof => 2000.0,
    };
    let season =
        |air_layer: f64| AIR_PERMEABILITY_KG_MSPA * (summer_pa - 1200.0) / air_layer.max(1e-4) * SEASON_S;
    Ok(Openness {
        tightest,
        total_m: (sum(|p| p.dry_m, 0..n), sum(|p| p.wet_m, 0..n)),
        winter_kg_m2: winter(planes),
        to_inside_kg_m2: (1..n).map(|k| season(sum(|p| p.wet_m, 0..k))).collect(),
        to_outside_kg_m2: (1..n).map(|k| season(sum(|p| p.wet_m, k..n))).collect(),
    })
}

/// Condensation in the winter season at each inner boundary, kg/m².
fn winter(planes: &[Plane]) -> Vec<f64> {
    let (inside_c, outside_c) = (20.0, -5.0);
    let (rsi, rse) = (0.25, 0.04);
    let total: f64 = rsi + rse + planes.iter().map(|p| p.resistance_m2k_w).sum::<f64>();
    let (mut r, mut z) = (rsi, 0.0);
    let (mut s, mut saturation) = (Vec::new(), Vec::new());
    for k in 0..=planes.len() {
        s.push(z);
        saturation.push(iso13788_saturation_pa(inside_c - (inside_c - outside_c) * r / total));
        if let Some(p) = planes.get(k) {
            r += p.resistance_m2k_w;
            z += p.dry_m;
        }
    }
    let ends = [0.5 * iso13788_saturation_pa(inside_c), 0.8 * iso13788_saturation_pa(outside_c)];
    let dry = vec![false; s.len()];
    let p = glaser::profile(&s, &saturation, &dry, ends, AIR_PERMEABILITY_KG_MSPA);
    p.condensation_kg_m2s[1..planes.len()].iter().map(|g| g * SEASON_S).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plane(name: &str, resistance_m2k_w: f64, dry_m: f64, wet_m: f64) -> Plane {
        Plane { name: name.into(), resistance_m2k_w, dry_m, wet_m }
    }

    #[test]
    fn a_tight_tape_kills_the_drying_it_covers() {
        let wall = |sheathing: f64| {
            [
                plane("gypsum board", 0.06, 0.13, 0.05),
                plane("cellulose", 4.0, 0.4, 0.3),
                plane("sheathing", 0.1, sheathing, sheathing),
            ]
        };
        let open = check(&wall(0.2), Element::Wall).expect("valid");
        let tight = check(&wall(8.7), Element::Wall).expect("valid");
        assert_eq!((open.tightest, tight.tightest), (1, 2));
        assert!(tight.winter_kg_m2[1] > 0.5 && open.winter_kg_m2[1] < tight.winter_kg_m2[1]);
        assert!(tight.to_outside_kg_m2[1] < 0.1 * open.to_outside_kg_m2[1]);
        let (boundary, reserve) = tight.reserve().expect("boundaries");
        assert_eq!(boundary, 1);
        assert!(reserve < open.reserve().expect("boundaries").1);
        // 0.4 perm is 8.7 m of air.
        let (dry, _) = plane("tape", 0.0, 8.739, 8.739).perms();
        assert!((dry - 0.4).abs() < 1e-3, "{dry}");
    }

    #[test]
    fn nonsense_is_refused() {
        assert_eq!(check(&[plane("a", 0.0, 1.0, 2.0)], Element::Wall).expect_err("two").len(), 2);
    }
}
