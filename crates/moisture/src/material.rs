//! What a material does with water: storage, vapour, liquid, and its conductivity and heat capacity when damp.
//!
//! Start at [`Description`] (numbers as given) and [`Description::prepare`], which turns it into a [`Material`] the
//! transport steps with. [`from_library`] makes a description from a library row; what the row lacks is refused or
//! filled by a documented estimate, and every estimate is listed as a [`Filled`].
//!
//! One law for storage: water content is a function of suction alone, so relative humidity and temperature both act
//! through the Kelvin relation φ = exp(−p_suc/(ρ_w R_v T)). Sorption points are taken as measured at 20 °C.
//! Hysteresis is not modelled. Vapour held in the air of pores is left out (below 0.02 kg/m³).

pub(crate) mod curve;
mod estimate;

pub use estimate::{Filled, LibraryOptions, Sheet, from_library, sheet_from_library};

use crate::error::{MoistureError, within};
use curve::{Curves, DRIEST, Monotone, potential, suction_pa};
use matter::moist_air::{ABSOLUTE_ZERO_C, GAS_CONSTANT_VAPOUR_J_KGK};
use numeric::{exp, ln, pow};

/// Density of liquid water, kg/m³.
pub const WATER_DENSITY_KG_M3: f64 = 1000.0;
/// Specific heat of liquid water, J/(kg·K), as in `matter::moist_air`.
pub const WATER_HEAT_J_KGK: f64 = 4186.0;
/// Temperature at which sorption points are taken as measured, °C.
pub const SORPTION_TEMPERATURE_C: f64 = 20.0;
/// Vapour permeability of air in the definition of resistance factors by ISO 13788, kg/(m·s·Pa).
pub const AIR_PERMEABILITY_KG_MSPA: f64 = 2.0e-10;
/// D = this · (A/w_f)² · 1000^(w/w_f − 1) takes up water by A √t: found by shooting on the similarity equation of a dry
/// half-space wetted at its face, so that the absorption test of this very law returns A.
const ABSORPTION_FACTOR: f64 = 3.736;

/// Returns the suction, Pa, in balance with a relative humidity (0 to 1) at a temperature: Kelvin's equation.
pub fn suction_of_humidity_pa(humidity: f64, temperature_c: f64) -> f64 {
    -WATER_DENSITY_KG_M3 * GAS_CONSTANT_VAPOUR_J_KGK * (temperature_c - ABSOLUTE_ZERO_C) * ln(humidity)
}

/// Returns the relative humidity (0 to 1) in balance with a suction, Pa, at a temperature.
pub fn humidity_of_suction(suction_pa: f64, temperature_c: f64) -> f64 {
    let scale = WATER_DENSITY_KG_M3 * GAS_CONSTANT_VAPOUR_J_KGK * (temperature_c - ABSOLUTE_ZERO_C);
    exp(-suction_pa.max(0.0) / scale)
}

pub(crate) fn potential_of_humidity(humidity: f64, temperature_c: f64) -> f64 {
    potential(suction_of_humidity_pa(humidity.clamp(1e-9, 1.0), temperature_c)).max(DRIEST)
}

/// How much water a material holds.
#[derive(Clone, Debug, PartialEq)]
pub enum Storage {
    /// Retention as a sum of terms: `w = saturation · Σ share (1 + (p_suc/scale)^n)^(1/n − 1)`.
    Retention {
        /// Water content without suction, kg/m³.
        saturation_kg_m3: f64,
        /// (share, suction scale in Pa, exponent n > 1).
        terms: Vec<[f64; 3]>,
    },
    /// `w = saturation / (1 − ln φ / b)^c` at 20 °C.
    LogPower {
        /// Water content at φ = 1, kg/m³.
        saturation_kg_m3: f64,
        /// Constant b.
        b: f64,
        /// Exponent c.
        c: f64,
    },
    /// Sorption points [φ, kg/m³] at 20 °C, rising; below the first a straight line to nothing, between points and up
    /// to saturation a monotone cubic over the logarithm of suction.
    Sorption {
        /// The points.
        points: Vec<[f64; 2]>,
        /// Water content without suction, kg/m³.
        saturation_kg_m3: f64,
    },
}

/// How vapour gets through a material.
#[derive(Clone, Debug, PartialEq)]
pub enum Vapour {
    /// A resistance factor that does not change; infinite for vapour-tight.
    Factor(f64),
    /// Factors by dry cup (taken at φ = 0.25) and wet cup (at 0.75): 1/μ runs straight between and on to φ = 1.
    Cups {
        /// Dry cup.
        dry: f64,
        /// Wet cup.
        wet: f64,
    },
    /// `1/μ · (1 − s)/((1 − p)(1 − s)² + p)` with s the share of saturation: pores closing as they fill.
    ClosingPores {
        /// Factor when dry.
        factor: f64,
        /// Shape p.
        p: f64,
    },
}

/// How liquid gets through a material.
#[derive(Clone, Debug, PartialEq)]
pub enum Liquid {
    /// Not at all.
    None,
    /// ln K = Σ cᵢ zⁱ, z = (w − offset)/scale; K liquid conductivity, s.
    LogPolynomial {
        /// Coefficients from order 0 up.
        coefficients: Vec<f64>,
        /// Offset of w, kg/m³.
        offset_kg_m3: f64,
        /// Scale of w, kg/m³.
        scale_kg_m3: f64,
    },
    /// Constant diffusivity of water content, m²/s.
    Diffusivity(f64),
    /// From the absorption coefficient by the exponential law D = 3.736 (A/w_f)² 1000^(w/w_f − 1).
    Absorption {
        /// Water absorption coefficient by ISO 15148, kg/(m²·s^0.5).
        coefficient_kg_m2s05: f64,
    },
}

/// A material as described: every number the transport needs.
#[derive(Clone, Debug, PartialEq)]
pub struct Description {
    /// Name shown in messages.
    pub name: String,
    /// Density when dry, kg/m³.
    pub density_kg_m3: f64,
    /// Specific heat when dry, J/(kg·K).
    pub specific_heat_j_kgk: f64,
    /// Conductivity when dry, W/(m·K).
    pub conductivity_w_mk: f64,
    /// Rise of conductivity with water, W/(m·K) per kg/m³.
    pub conductivity_rise: f64,
    /// Storage.
    pub storage: Storage,
    /// Vapour.
    pub vapour: Vapour,
    /// Liquid.
    pub liquid: Liquid,
    /// Share of the liquid transport left when no rain wets the wall: water then spreads from full pores to empty
    /// ones, more slowly than it is sucked in. 1 where one law serves both.
    pub redistribution: f64,
}

/// A material ready for transport.
#[derive(Clone, Debug, PartialEq)]
pub struct Material {
    /// Name shown in messages.
    pub name: String,
    /// Heat capacity of the dry volume, J/(m³·K).
    pub heat_capacity_j_m3k: f64,
    /// Density when dry, kg/m³.
    pub density_kg_m3: f64,
    /// Conductivity when dry, W/(m·K).
    pub conductivity_w_mk: f64,
    /// Rise of conductivity with water, W/(m·K) per kg/m³.
    pub conductivity_rise: f64,
    /// Water content without suction, kg/m³.
    pub saturation_kg_m3: f64,
    /// Share of liquid transport left without rain.
    pub redistribution: f64,
    /// True when liquid moves in it.
    pub capillary: bool,
    pub(crate) curves: Curves,
}

impl Description {
    /// Checks the numbers and tabulates the functions.
    ///
    /// # Errors
    /// Every number that makes no sense, all at once.
    pub fn prepare(&self) -> Result<Material, Vec<MoistureError>> {
        let problems = self.problems();
        if !problems.is_empty() {
            return Err(problems);
        }
        let water = self.water();
        let saturation = water(0.0);
        let openness = self.openness(saturation);
        let conductivity = self.liquid_conductivity();
        let flux_potential = self.flux_of_water(saturation);
        let saturated_rate = conductivity(saturation) * curve::POTENTIAL_SCALE_PA;
        // Water above saturation sits in the coarse pores of what cannot suck, or under slight pressure in what can.
        let capillary = !matches!(self.liquid, Liquid::None);
        let over = if capillary { (0.01 * saturation).max(0.1) } else { 50.0 };
        let beyond_rate = saturated_rate + (flux_potential(saturation + over) - flux_potential(saturation));
        let curves = Curves::tabulate(
            |u| {
                let (suction, slope) = suction_pa(u);
                let w = water(suction);
                // Tight is very tight, never quite nothing: a zero would divide by zero in a series of resistances.
                [w, conductivity(w) * -slope, openness(w, suction).max(1e-12)]
            },
            &flux_potential,
            [over, beyond_rate],
        );
        Ok(Material {
            name: self.name.clone(),
            heat_capacity_j_m3k: self.density_kg_m3 * self.specific_heat_j_kgk,
            density_kg_m3: self.density_kg_m3,
            conductivity_w_mk: self.conductivity_w_mk,
            conductivity_rise: self.conductivity_rise,
            saturation_kg_m3: saturation,
            redistribution: self.redistribution,
            capillary,
            curves,
        })
    }

    fn problems(&self) -> Vec<MoistureError> {
        let mut found = Vec::new();
        let mut check = |quantity, value, low, high| {
            found.extend(within(&self.name, quantity, value, low, high).err());
        };
        check("density in kg/m³", self.density_kg_m3, 0.1, 2.5e4);
        check("specific heat in J/(kg·K)", self.specific_heat_j_kgk, 50.0, 1e4);
        check("conductivity in W/(m·K)", self.conductivity_w_mk, 1e-3, 1e3);
        check("rise of conductivity with water", self.conductivity_rise, 0.0, 1.0);
        check("share of liquid transport without rain", self.redistribution, 0.0, 1.0);
        match &self.storage {
            Storage::Retention { saturation_kg_m3, terms } => {
                check("saturation in kg/m³", *saturation_kg_m3, 1e-6, 1e4);
                let total: f64 = terms.iter().map(|t| t[0]).sum();
                check("sum of retention shares", total, 0.999, 1.001);
                for [share, scale, n] in terms {
                    check("retention share", *share, 0.0, 1.0);
                    check("suction scale in Pa", *scale, 1.0, 1e10);
                    check("retention exponent", *n, 1.0 + 1e-6, 50.0);
                }
            }
            Storage::LogPower { saturation_kg_m3, b, c } => {
                check("saturation in kg/m³", *saturation_kg_m3, 1e-6, 1e4);
                check("storage constant b", *b, 1e-6, 1e3);
                check("storage exponent c", *c, 1e-3, 10.0);
            }
            Storage::Sorption { points, saturation_kg_m3 } => {
                check("saturation in kg/m³", *saturation_kg_m3, 1e-9, 1e4);
                check("number of sorption points", points.len() as f64, 1.0, 1e4);
                let mut before = [0.0, 0.0];
                for p in points {
                    check("relative humidity of a sorption point (rising)", p[0], before[0] + 1e-9, 0.9999);
                    check(
                        "water content of a sorption point (rising, below saturation)",
                        p[1],
                        before[1],
                        *saturation_kg_m3,
                    );
                    before = *p;
                }
            }
        }
        match self.vapour {
            Vapour::Factor(f) => check("vapour resistance factor", f, 0.05, f64::INFINITY),
            Vapour::Cups { dry, wet } => {
                check("dry-cup resistance factor", dry, 0.05, f64::INFINITY);
                check("wet-cup resistance factor", wet, 0.05, dry);
            }
            Vapour::ClosingPores { factor, p } => {
                check("vapour resistance factor", factor, 0.05, f64::INFINITY);
                check("pore shape p", p, 1e-3, 1.0);
            }
        }
        match &self.liquid {
            Liquid::None => {}
            Liquid::LogPolynomial { scale_kg_m3, .. } => check("scale in kg/m³", *scale_kg_m3, 1e-6, 1e6),
            Liquid::Diffusivity(d) => check("diffusivity in m²/s", *d, 0.0, 1e-3),
            Liquid::Absorption { coefficient_kg_m2s05 } => {
                check("absorption coefficient in kg/(m²·s^0.5)", *coefficient_kg_m2s05, 0.0, 5.0);
            }
        }
        found
    }

    /// Water content as a function of suction.
    fn water(&self) -> Box<dyn Fn(f64) -> f64 + '_> {
        match &self.storage {
            Storage::Retention { saturation_kg_m3, terms } => Box::new(move |suction| {
                let sum: f64 = terms
                    .iter()
                    .map(|&[share, scale, n]| {
                        if suction <= 0.0 {
                            share
                        } else {
                            share * pow(1.0 + pow(suction / scale, n), 1.0 / n - 1.0)
                        }
                    })
                    .sum();
                saturation_kg_m3 * sum
            }),
            Storage::LogPower { saturation_kg_m3, b, c } => {
                let scale = kelvin_scale_pa(SORPTION_TEMPERATURE_C);
                Box::new(move |suction| saturation_kg_m3 * pow(1.0 + suction.max(0.0) / scale / b, -c))
            }
            Storage::Sorption { points, saturation_kg_m3 } => {
                sorption_curve(points.clone(), *saturation_kg_m3)
            }
        }
    }

    /// Vapour openness, 1/μ, as a function of water content and suction.
    fn openness(&self, saturation: f64) -> impl Fn(f64, f64) -> f64 {
        let vapour = self.vapour.clone();
        let scale = kelvin_scale_pa(SORPTION_TEMPERATURE_C);
        move |water, suction| match vapour {
            Vapour::Factor(f) => 1.0 / f,
            Vapour::Cups { dry, wet } => {
                let humidity = exp(-suction.max(0.0) / scale);
                let (a, b) = (1.0 / dry, 1.0 / wet);
                a + (b - a) * smooth_ramp((humidity - 0.25) / 0.5)
            }
            Vapour::ClosingPores { factor, p } => {
                let free = (1.0 - water / saturation).max(0.0);
                free / ((1.0 - p) * free * free + p) / factor
            }
        }
    }

    /// Liquid conductivity K(w), s, where it is given as such.
    fn liquid_conductivity(&self) -> impl Fn(f64) -> f64 {
        let liquid = self.liquid.clone();
        move |water| match &liquid {
            Liquid::LogPolynomial { coefficients, offset_kg_m3, scale_kg_m3 } => {
                let z = (water - offset_kg_m3) / scale_kg_m3;
                exp(coefficients.iter().rev().fold(0.0, |sum, c| sum * z + c))
            }
            _ => 0.0,
        }
    }

    /// Liquid flux potential as a function of water content, where a diffusivity is given: ∫D dw.
    fn flux_of_water(&self, saturation: f64) -> impl Fn(f64) -> f64 {
        let liquid = self.liquid.clone();
        move |water| match liquid {
            Liquid::Diffusivity(d) => d * water,
            Liquid::Absorption { coefficient_kg_m2s05: a } => {
                let top = ABSORPTION_FACTOR * (a / saturation) * (a / saturation);
                let steep = ln(1000.0);
                top * saturation / steep * (exp(steep * (water / saturation - 1.0)) - 1e-3)
            }
            _ => 0.0,
        }
    }
}

impl Material {
    /// Returns the water content, kg/m³, in balance with a relative humidity (0 to 1) at a temperature.
    pub fn water_kg_m3(&self, humidity: f64, temperature_c: f64) -> f64 {
        self.curves.at(potential_of_humidity(humidity, temperature_c)).water
    }

    /// Returns the relative humidity (0 to 1) in balance with a water content, kg/m³, at a temperature.
    pub fn humidity(&self, water_kg_m3: f64, temperature_c: f64) -> f64 {
        let u = self.curves.potential_of_water(water_kg_m3);
        humidity_of_suction(suction_pa(u).0, temperature_c)
    }

    /// Returns the vapour resistance factor at a relative humidity (0 to 1), at 20 °C.
    pub fn resistance_factor(&self, humidity: f64) -> f64 {
        1.0 / self.curves.at(potential_of_humidity(humidity, SORPTION_TEMPERATURE_C)).openness
    }

    /// Returns the conductivity, W/(m·K), at a water content, kg/m³.
    pub fn conductivity(&self, water_kg_m3: f64) -> f64 {
        self.conductivity_w_mk + self.conductivity_rise * water_kg_m3
    }

    /// Returns the description of an air cavity as a layer: conductivity thickness/resistance, vapour crossing it as
    /// easily as `air_layer_m` of air at rest (moving air carries it faster than diffusion), a trace of storage.
    pub fn cavity(thickness_m: f64, resistance_m2k_w: f64, air_layer_m: f64) -> Description {
        Description {
            name: "air cavity".into(),
            density_kg_m3: 1.2,
            specific_heat_j_kgk: 1006.0,
            conductivity_w_mk: thickness_m / resistance_m2k_w,
            conductivity_rise: 0.0,
            storage: Storage::Sorption { points: vec![[0.5, 0.00865]], saturation_kg_m3: 0.0173 },
            vapour: Vapour::Factor(air_layer_m / thickness_m),
            liquid: Liquid::None,
            redistribution: 1.0,
        }
    }

    /// Returns the water content, kg/m³, whose mass is this share of the dry mass.
    pub fn water_of_mass_share(&self, share: f64) -> f64 {
        share * self.density_kg_m3
    }
}

/// ρ_w R_v T, Pa.
pub(crate) fn kelvin_scale_pa(temperature_c: f64) -> f64 {
    WATER_DENSITY_KG_M3 * GAS_CONSTANT_VAPOUR_J_KGK * (temperature_c - ABSOLUTE_ZERO_C)
}

/// 0 below 0, then the straight line x, with the corner rounded over a tenth so that Newton's method sees no kink.
fn smooth_ramp(x: f64) -> f64 {
    const ROUND: f64 = 0.1;
    if x <= -ROUND {
        0.0
    } else if x >= ROUND {
        x
    } else {
        (x + ROUND) * (x + ROUND) / (4.0 * ROUND)
    }
}

/// The sorption curve through points, continued to saturation.
fn sorption_curve(points: Vec<[f64; 2]>, saturation: f64) -> Box<dyn Fn(f64) -> f64> {
    let scale = kelvin_scale_pa(SORPTION_TEMPERATURE_C);
    let first = points[0];
    let mut knots: Vec<[f64; 2]> = Vec::with_capacity(points.len() + 3);
    // Two knots on the straight line below the first point give the cubic its slope there.
    for part in [0.8, 0.9] {
        knots.push([potential(-scale * ln(part * first[0])), part * first[1]]);
    }
    knots.extend(points.iter().map(|p| [potential(-scale * ln(p[0])), p[1]]));
    knots.push([0.0, saturation]);
    let cubic = Monotone::through(&knots);
    let joint = 0.85 * first[0];
    Box::new(move |suction| {
        let humidity = exp(-suction.max(0.0) / scale);
        if humidity < joint {
            first[1] / first[0] * humidity
        } else {
            // Between the joint and the first point line and cubic differ by less than the table's own error after
            // blending, which keeps the slope free of a step.
            let w = cubic.at(potential(suction.max(0.0)));
            let blend = ((humidity - joint) / (first[0] - joint)).clamp(0.0, 1.0);
            let line = first[1] / first[0] * humidity;
            line + (w - line) * blend * blend * (3.0 - 2.0 * blend)
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    pub(crate) fn brick() -> Description {
        Description {
            name: "brick".into(),
            density_kg_m3: 1650.0,
            specific_heat_j_kgk: 840.0,
            conductivity_w_mk: 0.7,
            conductivity_rise: 0.007,
            storage: Storage::Sorption {
                points: vec![[0.5, 2.5], [0.8, 6.0], [0.93, 12.0], [0.97, 20.0]],
                saturation_kg_m3: 230.0,
            },
            vapour: Vapour::Cups { dry: 16.0, wet: 10.0 },
            liquid: Liquid::Absorption { coefficient_kg_m2s05: 0.24 },
            redistribution: 1.0,
        }
    }

    #[test]
    fn points_are_met_and_humidity_inverts() {
        let m = brick().prepare().expect("valid");
        for [h, w] in [[0.5, 2.5], [0.8, 6.0], [0.93, 12.0], [0.97, 20.0], [1.0, 230.0], [0.25, 1.25]] {
            assert!((m.water_kg_m3(h, 20.0) - w).abs() < 2e-3 * w, "{h}: {}", m.water_kg_m3(h, 20.0));
        }
        assert!((m.humidity(9.0, 20.0) - 0.88).abs() < 0.02);
        assert!((m.resistance_factor(0.25) - 16.0).abs() < 0.3);
        assert!((m.resistance_factor(0.75) - 10.0).abs() < 1e-6);
    }

    #[test]
    fn nonsense_is_refused_all_at_once() {
        let mut d = brick();
        d.density_kg_m3 = -1.0;
        d.vapour = Vapour::Cups { dry: 5.0, wet: 10.0 };
        d.storage = Storage::Sorption { points: vec![[0.8, 6.0], [0.5, 9.0]], saturation_kg_m3: 230.0 };
        let problems = d.prepare().expect_err("three faults");
        assert_eq!(problems.len(), 3, "{problems:?}");
    }

    #[test]
    fn kelvin_holds_both_ways() {
        let p = suction_of_humidity_pa(0.8, 20.0);
        assert!((p - 3.019e7).abs() < 1e4);
        assert!((humidity_of_suction(p, 20.0) - 0.8).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn any_numbers_are_refused_or_work(
            x in prop::collection::vec(prop_oneof![any::<f64>(), 0.0_f64..500.0, Just(f64::NAN)], 12), kind in 0_usize..3,
        ) {
            let d = Description {
                name: "any".into(),
                density_kg_m3: x[0],
                specific_heat_j_kgk: x[1],
                conductivity_w_mk: x[2],
                conductivity_rise: x[3],
                storage: match kind {
                    0 => Storage::Sorption { points: vec![[x[4], x[5]], [x[6], x[7]]], saturation_kg_m3: x[8] },
                    1 => Storage::LogPower { saturation_kg_m3: x[4], b: x[5], c: x[6] },
                    _ => Storage::Retention { saturation_kg_m3: x[4], terms: vec![[1.0, x[5], x[6]]] },
                },
                vapour: if kind == 0 { Vapour::Cups { dry: x[9], wet: x[10] } } else { Vapour::Factor(x[9]) },
                liquid: Liquid::Absorption { coefficient_kg_m2s05: x[11] },
                redistribution: 1.0,
            };
            if let Ok(m) = d.prepare() {
                for h in [0.0, 0.3, 0.9, 1.0] {
                    prop_assert!(m.water_kg_m3(h, 20.0).is_finite() && m.resistance_factor(h) > 0.0);
                }
            }
        }

        #[test]
        fn storage_never_falls_with_humidity(w50 in 0.5_f64..50.0, up in 1.01_f64..4.0, sat in 1.5_f64..20.0) {
            let mut d = brick();
            let w80 = w50 * up;
            d.storage = Storage::Sorption { points: vec![[0.5, w50], [0.8, w80]], saturation_kg_m3: w80 * sat };
            let m = d.prepare().map_err(|e| TestCaseError::fail(format!("{e:?}")))?;
            let mut before = -1e-9;
            for i in 0..=1_200 {
                let u = DRIEST + i as f64 * 0.0111;
                let p = m.curves.at(u);
                prop_assert!(p.water >= before - 1e-9 * w80, "{u} {} {before}", p.water);
                prop_assert!(p.liquid_slope >= -1e-18 && p.openness > 0.0);
                before = p.water;
            }
        }
    }
}
