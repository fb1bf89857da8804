//! Centre-of-glass transmittance (EN 673, ISO 10292), and what light and sun do in panes ([`optics`]).
//!
//! Start at [`Glazing::centre`]. Not here: frames, edges and whole windows (`window`).

pub mod gas;
pub mod optics;

use crate::error::{FabricError, positive, within};
use crate::layers::film::STEFAN_BOLTZMANN_ISO;
use crate::working::Working;
use gas::{Gas, Properties};
use numeric::pow;

/// Emissivity of uncoated glass, corrected for all directions (EN 12898).
pub const UNCOATED_EMISSIVITY: f64 = 0.837;

/// One pane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pane {
    /// Thickness, m.
    pub thickness_m: f64,
    /// Conductivity, W/(m·K); 1.0 for soda-lime glass.
    pub conductivity_w_mk: f64,
}

impl Pane {
    /// Returns a pane of soda-lime glass.
    pub const fn float(thickness_m: f64) -> Self {
        Self { thickness_m, conductivity_w_mk: 1.0 }
    }
}

/// The space between two panes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// Width, m.
    pub width_m: f64,
    /// The gas.
    pub gas: Gas,
    /// Its share by volume; air fills the rest.
    pub fraction: f64,
    /// Corrected emissivities of both faces.
    pub emissivities: (f64, f64),
}

/// Surface coefficients and conditions of a standard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions {
    /// Outside surface coefficient, W/(m²·K).
    pub outside_w_m2k: f64,
    /// Inside surface coefficient, W/(m²·K).
    pub inside_w_m2k: f64,
    /// Mean temperature of every gap, K.
    pub mean_k: f64,
    /// Temperature difference between the outermost glass faces, K.
    pub difference_k: f64,
}

impl Conditions {
    /// EN 673:2011: 25 and 7.7 W/(m²·K), 283 K, 15 K (from memory).
    pub const EN_673: Self =
        Self { outside_w_m2k: 25.0, inside_w_m2k: 7.7, mean_k: 283.0, difference_k: 15.0 };
    /// ISO 10292:1994: 23 and 8.0 W/(m²·K) (from memory).
    pub const ISO_10292: Self =
        Self { outside_w_m2k: 23.0, inside_w_m2k: 8.0, mean_k: 283.0, difference_k: 15.0 };
}

/// Glazing of any number of panes.
#[derive(Clone, Debug, PartialEq)]
pub struct Glazing {
    /// Panes, outside → inside.
    pub panes: Vec<Pane>,
    /// Gaps between them; one fewer than panes.
    pub gaps: Vec<Gap>,
    /// Angle of the pane's plane with the horizontal, degrees: 90 upright, 0 flat with heat flowing up.
    pub tilt_deg: f64,
}

/// What happens in one gap.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GapResult {
    /// Conductance of the gap, W/(m²·K).
    pub conductance_w_m2k: f64,
    /// Nusselt number.
    pub nusselt: f64,
    /// Temperature difference across it, K.
    pub difference_k: f64,
}

/// A centre-of-glass transmittance with its gaps and working.
#[derive(Clone, Debug, PartialEq)]
pub struct CentreTransmittance {
    /// U at the centre of the glass, W/(m²·K), not rounded (the standard declares one decimal).
    pub u_w_m2k: f64,
    /// The gaps, outside → inside.
    pub gaps: Vec<GapResult>,
    /// The working.
    pub working: Working,
}

impl Glazing {
    /// Works out the transmittance at the centre.
    ///
    /// ```text
    /// 1/U = 1/he + Σ 1/hs + Σ d/λ + 1/hi,   hs = Nu λ/s + 4 σ Tm³ / (1/ε₁ + 1/ε₂ − 1)
    /// Nu = max(1, A (Gr Pr)ⁿ),   Gr = 9.81 s³ ΔT ρ² / (Tm μ²),   Pr = μ c / λ
    /// ```
    /// Differences of the gaps add up to 15 K, in proportion to their resistances; iterated to 1e-10.
    ///
    /// # Errors
    /// [`FabricError`] names pane or gap and quantity.
    /// # Source
    /// EN 673:2011, clauses 5 to 8 (from memory).
    pub fn centre(&self, conditions: &Conditions) -> Result<CentreTransmittance, FabricError> {
        self.check()?;
        let gases: Vec<Properties> =
            self.gaps.iter().map(|g| g.gas.mixed_with_air(g.fraction, conditions.mean_k)).collect();
        let count = self.gaps.len() as f64;
        let mut gaps: Vec<GapResult> = self
            .gaps
            .iter()
            .zip(&gases)
            .map(|(g, p)| self.gap(g, p, conditions, conditions.difference_k / count))
            .collect();
        let mut change = 0.0;
        for _ in 0..200 {
            let resistance: f64 = gaps.iter().map(|g| 1.0 / g.conductance_w_m2k).sum();
            change = 0.0;
            for ((g, p), old) in self.gaps.iter().zip(&gases).zip(&mut gaps) {
                let share = conditions.difference_k / old.conductance_w_m2k / resistance;
                let new = self.gap(g, p, conditions, share);
                change = f64::max(change, (new.conductance_w_m2k / old.conductance_w_m2k - 1.0).abs());
                *old = new;
            }
            if change <= 1e-10 {
                return Ok(self.sum_up(conditions, gaps));
            }
        }
        Err(FabricError::NoConvergence { what: "glazing".into(), iterations: 200, change })
    }

    fn check(&self) -> Result<(), FabricError> {
        if self.panes.is_empty() || self.gaps.len() + 1 != self.panes.len() {
            return Err(FabricError::Inconsistent {
                what: "glazing".into(),
                detail: format!(
                    "{} panes with {} gaps; give one gap fewer than panes",
                    self.panes.len(),
                    self.gaps.len()
                ),
            });
        }
        within(|| "glazing".into(), "tilt, degrees", self.tilt_deg, 0.0, 90.0)?;
        for (k, pane) in self.panes.iter().enumerate() {
            let what = || format!("pane {}", k + 1);
            positive(what, "thickness, m", pane.thickness_m)?;
            positive(what, "conductivity, W/(m·K)", pane.conductivity_w_mk)?;
        }
        for (k, gap) in self.gaps.iter().enumerate() {
            let what = || format!("gap {}", k + 1);
            positive(what, "width, m", gap.width_m)?;
            within(what, "gas share", gap.fraction, 0.0, 1.0)?;
            for e in [gap.emissivities.0, gap.emissivities.1] {
                positive(what, "emissivity", e)?;
                within(what, "emissivity", e, 0.0, 1.0)?;
            }
        }
        Ok(())
    }

    fn gap(&self, gap: &Gap, gas: &Properties, conditions: &Conditions, difference_k: f64) -> GapResult {
        let s = gap.width_m;
        let density2 = gas.density_kg_m3 * gas.density_kg_m3;
        let viscosity2 = gas.viscosity_kg_ms * gas.viscosity_kg_ms;
        let grashof = 9.81 * s * s * s * difference_k * density2 / (conditions.mean_k * viscosity2);
        let prandtl = gas.viscosity_kg_ms * gas.specific_heat_j_kgk / gas.conductivity_w_mk;
        let nusselt = nusselt(grashof * prandtl, self.tilt_deg);
        let (e1, e2) = gap.emissivities;
        let t = conditions.mean_k;
        let radiation = 4.0 * STEFAN_BOLTZMANN_ISO * t * t * t / (1.0 / e1 + 1.0 / e2 - 1.0);
        let conductance_w_m2k = nusselt * gas.conductivity_w_mk / s + radiation;
        GapResult { conductance_w_m2k, nusselt, difference_k }
    }

    fn sum_up(&self, conditions: &Conditions, gaps: Vec<GapResult>) -> CentreTransmittance {
        let mut w = Working::new();
        let mut r = w.step("1/he", "outside surface", 1.0 / conditions.outside_w_m2k, "m²·K/W", "EN 673 7");
        for (k, pane) in self.panes.iter().enumerate() {
            let own = pane.thickness_m / pane.conductivity_w_mk;
            r += w.step(format!("R_pane{}", k + 1), "pane", own, "m²·K/W", "EN 673 5");
            if let Some(gap) = gaps.get(k) {
                w.step(
                    format!("ΔT{}", k + 1),
                    "difference across the gap",
                    gap.difference_k,
                    "K",
                    "EN 673 6",
                );
                w.step(format!("Nu{}", k + 1), "Nusselt number", gap.nusselt, "", "EN 673 5.3");
                r += w.step(
                    format!("1/hs{}", k + 1),
                    "gap",
                    1.0 / gap.conductance_w_m2k,
                    "m²·K/W",
                    "EN 673 5.2",
                );
            }
        }
        r += w.step("1/hi", "inside surface", 1.0 / conditions.inside_w_m2k, "m²·K/W", "EN 673 7");
        let u = w.step("Ug", "transmittance at the centre", 1.0 / r, "W/(m²·K)", "EN 673 5");
        CentreTransmittance { u_w_m2k: u, gaps, working: w }
    }
}

/// Nu = max(1, A (Gr Pr)ⁿ); A and n for 90°, 45° and 0°, Nu linear in the angle between.
fn nusselt(rayleigh: f64, tilt_deg: f64) -> f64 {
    let upright = 0.035 * pow(rayleigh, 0.38);
    let slanting = 0.1 * pow(rayleigh, 0.31);
    let flat = 0.16 * pow(rayleigh, 0.28);
    let share = tilt_deg / 45.0;
    let nu = if tilt_deg >= 45.0 {
        slanting + (share - 1.0) * (upright - slanting)
    } else {
        flat + share * (slanting - flat)
    };
    nu.max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn double(width_m: f64, fraction: f64) -> Glazing {
        Glazing {
            panes: vec![Pane::float(0.004); 2],
            gaps: vec![Gap { width_m, gas: Gas::Argon, fraction, emissivities: (0.03, UNCOATED_EMISSIVITY) }],
            tilt_deg: 90.0,
        }
    }

    #[test]
    fn coated_argon_unit() {
        let g = double(0.016, 0.9).centre(&Conditions::EN_673).unwrap();
        assert!((g.u_w_m2k - 1.1027).abs() < 5e-5, "{}", g.u_w_m2k);
        assert_eq!(g.working.value("Ug"), Some(g.u_w_m2k));
    }

    #[test]
    fn single_pane_has_no_gap() {
        let g = Glazing { panes: vec![Pane::float(0.006)], gaps: vec![], tilt_deg: 90.0 };
        let u = g.centre(&Conditions::EN_673).unwrap().u_w_m2k;
        assert!((u - 1.0 / (0.04 + 0.006 + 1.0 / 7.7)).abs() < 1e-12);
    }

    #[test]
    fn gap_differences_add_up() {
        let g = Glazing {
            panes: vec![Pane::float(0.006), Pane::float(0.004), Pane::float(0.004)],
            gaps: vec![
                Gap { width_m: 0.010, gas: Gas::Argon, fraction: 0.9, emissivities: (0.03, 0.837) },
                Gap { width_m: 0.030, gas: Gas::Air, fraction: 1.0, emissivities: (0.837, 0.837) },
            ],
            tilt_deg: 90.0,
        };
        let result = g.centre(&Conditions::EN_673).unwrap();
        let sum: f64 = result.gaps.iter().map(|g| g.difference_k).sum();
        assert!((sum - 15.0).abs() < 1e-8);
        assert!(result.gaps[1].nusselt > 1.0);
    }

    #[test]
    fn tilt_is_continuous_and_raises_u() {
        let u = |tilt_deg| {
            let g = Glazing { tilt_deg, ..double(0.016, 0.9) };
            g.centre(&Conditions::EN_673).unwrap().u_w_m2k
        };
        assert!((u(45.0) - u(45.001)).abs() < 1e-4);
        assert!(u(0.0) > u(45.0) && u(45.0) > u(90.0));
    }

    #[test]
    fn mistakes_are_named() {
        let g = Glazing { gaps: vec![], ..double(0.016, 0.9) };
        assert!(g.centre(&Conditions::EN_673).unwrap_err().to_string().contains("one gap fewer"));
        let error = double(0.016, 1.2).centre(&Conditions::EN_673).unwrap_err();
        assert_eq!(error.to_string(), "gap 1: gas share is 1.2, but must lie between 0 and 1");
    }
}
