//! Conductivity from one set of conditions to another (ISO 10456): temperature, moisture, ageing.
//!
//! Start at [`convert`]. Coefficients of common insulations are in [`temperature_coefficient_per_k`] and [`MoistureRule`].

use crate::error::{FabricError, positive, within};
use numeric::exp;

/// How moisture acts on conductivity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MoistureRule {
    /// By mass: `exp(fu (u2 − u1))`, u in kg/kg.
    ByMass {
        /// fu, kg/kg.
        factor: f64,
    },
    /// By volume: `exp(fψ (ψ2 − ψ1))`, ψ in m³/m³.
    ByVolume {
        /// fψ, m³/m³.
        factor: f64,
    },
}

impl MoistureRule {
    /// Mineral wool, up to 0.15 m³/m³ (ISO 10456:2007 Table 4, from memory).
    pub const MINERAL_WOOL: Self = Self::ByVolume { factor: 4.0 };
    /// Expanded polystyrene, up to 0.10 m³/m³ (from memory).
    pub const EXPANDED_POLYSTYRENE: Self = Self::ByVolume { factor: 4.0 };
    /// Extruded polystyrene, up to 0.10 m³/m³ (from memory).
    pub const EXTRUDED_POLYSTYRENE: Self = Self::ByVolume { factor: 2.5 };
    /// Polyurethane foam, up to 0.15 m³/m³ (from memory).
    pub const POLYURETHANE: Self = Self::ByVolume { factor: 6.0 };
    /// Expanded cork, up to 0.10 m³/m³ (from memory).
    pub const EXPANDED_CORK: Self = Self::ByVolume { factor: 6.0 };
    /// Wood-fibre board, up to 0.05 m³/m³ (from memory).
    pub const WOOD_FIBRE: Self = Self::ByVolume { factor: 1.4 };
    /// Loose-fill cellulose, up to 0.20 kg/kg (from memory).
    pub const CELLULOSE: Self = Self::ByMass { factor: 0.5 };
    /// Clay brick, up to 0.25 m³/m³ (from memory).
    pub const CLAY_BRICK: Self = Self::ByVolume { factor: 10.0 };
    /// Dense concrete, up to 0.25 m³/m³ (from memory).
    pub const DENSE_CONCRETE: Self = Self::ByVolume { factor: 4.0 };
}

/// Conditions a conductivity holds for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct State {
    /// Mean temperature, °C.
    pub temperature_c: f64,
    /// Moisture content, kg/kg or m³/m³ as the rule counts it.
    pub moisture: f64,
}

/// A conductivity brought to other conditions, with its factors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Converted {
    /// Conductivity at the new conditions, W/(m·K).
    pub conductivity_w_mk: f64,
    /// F_T.
    pub temperature: f64,
    /// F_m.
    pub moisture: f64,
    /// F_a.
    pub ageing: f64,
}

/// Returns a conductivity at other conditions: `λ2 = λ1 F_T F_m F_a`, with `F_T = exp(f_T (T2 − T1))`.
///
/// | symbol | argument                  | unit                  |
/// |--------|---------------------------|-----------------------|
/// | λ1     | `conductivity_w_mk`       | W/(m·K), above zero   |
/// | f_T    | `temperature_per_k`       | 1/K, −0.02..0.02      |
/// | F_a    | `ageing`                  | ratio, 0.5..2; 1 where λ1 is an aged figure |
///
/// # Errors
/// [`FabricError`] for values out of range: temperatures outside −50..100 °C, moisture outside 0..1.
/// # Source
/// ISO 10456:2007 clause 7 (from memory).
/// # Example
/// ```
/// use fabric::conversion::{MoistureRule, State, convert};
/// let dry = State { temperature_c: 10.0, moisture: 0.0 };
/// let damp = State { temperature_c: 20.0, moisture: 0.02 };
/// let c = convert(0.040, dry, damp, 0.0056, MoistureRule::MINERAL_WOOL, 1.0)?;
/// assert!((c.conductivity_w_mk - 0.0458).abs() < 5e-5);
/// # Ok::<(), fabric::FabricError>(())
/// ```
pub fn convert(
    conductivity_w_mk: f64,
    from: State,
    to: State,
    temperature_per_k: f64,
    rule: MoistureRule,
    ageing: f64,
) -> Result<Converted, FabricError> {
    let what = || "conductivity at other conditions".to_string();
    let start = positive(what, "conductivity, W/(m·K)", conductivity_w_mk)?;
    within(what, "f_T, 1/K", temperature_per_k, -0.02, 0.02)?;
    within(what, "ageing factor", ageing, 0.5, 2.0)?;
    for state in [from, to] {
        within(what, "temperature, °C", state.temperature_c, -50.0, 100.0)?;
        within(what, "moisture content", state.moisture, 0.0, 1.0)?;
    }
    let wetter = to.moisture - from.moisture;
    let temperature = exp(temperature_per_k * (to.temperature_c - from.temperature_c));
    let moisture = match rule {
        MoistureRule::ByMass { factor } | MoistureRule::ByVolume { factor } => exp(factor * wetter),
    };
    Ok(Converted {
        conductivity_w_mk: start * temperature * moisture * ageing,
        temperature,
        moisture,
        ageing,
    })
}

/// Insulations whose temperature coefficient is tabulated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Insulation {
    /// Mineral wool batts, mats and loose fill.
    MineralWoolBatts,
    /// Mineral wool boards.
    MineralWoolBoards,
    /// Expanded polystyrene.
    ExpandedPolystyrene,
    /// Extruded polystyrene without gas-tight facing.
    ExtrudedPolystyrene,
}

/// Returns f_T (1/K) for a conductivity at 10 °C, linear between tabulated conductivities, held at the ends.
///
/// Source: ISO 10456:2007 Annex A (from memory; check against the standard before a certificate depends on it).
pub fn temperature_coefficient_per_k(insulation: Insulation, conductivity_w_mk: f64) -> f64 {
    let rows: &[(f64, f64)] = match insulation {
        Insulation::MineralWoolBatts => &[(0.035, 0.0046), (0.040, 0.0056), (0.045, 0.0062), (0.050, 0.0069)],
        Insulation::MineralWoolBoards => {
            &[(0.032, 0.0038), (0.034, 0.0043), (0.036, 0.0048), (0.038, 0.0053)]
        }
        Insulation::ExpandedPolystyrene => {
            &[(0.032, 0.0031), (0.035, 0.0036), (0.040, 0.0041), (0.043, 0.0044)]
        }
        Insulation::ExtrudedPolystyrene => &[(0.025, 0.0046), (0.030, 0.0045), (0.040, 0.0045)],
    };
    let (first, last) = (rows[0], rows[rows.len() - 1]);
    if conductivity_w_mk <= first.0 {
        return first.1;
    }
    for pair in rows.windows(2) {
        let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
        if conductivity_w_mk <= x1 {
            return y0 + (conductivity_w_mk - x0) / (x1 - x0) * (y1 - y0);
        }
    }
    last.1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_and_back_is_the_same() {
        let (a, b) =
            (State { temperature_c: 10.0, moisture: 0.01 }, State { temperature_c: 35.0, moisture: 0.08 });
        for rule in [MoistureRule::CELLULOSE, MoistureRule::POLYURETHANE] {
            let there = convert(0.03, a, b, 0.004, rule, 1.0).unwrap().conductivity_w_mk;
            let back = convert(there, b, a, 0.004, rule, 1.0).unwrap().conductivity_w_mk;
            assert!((back - 0.03).abs() < 1e-15);
            assert!(there > 0.03);
        }
    }

    #[test]
    fn factor_holds_at_the_ends() {
        let f = |c| temperature_coefficient_per_k(Insulation::MineralWoolBatts, c);
        assert_eq!((f(0.02), f(0.035), f(0.08)), (0.0046, 0.0046, 0.0069));
        assert!((f(0.0375) - 0.0051).abs() < 1e-12);
    }
}
