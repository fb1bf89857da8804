//! Ducts and fans: friction, local losses, equivalent diameters, fan power.

use numeric::ln;
use numeric::root;

/// Air at about 20 °C as the duct tables take it: density, kg/m³, and dynamic viscosity, Pa·s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Density, kg/m³.
    pub density_kg_m3: f64,
    /// Dynamic viscosity, Pa·s.
    pub viscosity_pa_s: f64,
}

/// A straight piece of round duct with its bends and fittings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Inside diameter, m; above zero.
    pub diameter_m: f64,
    /// Length, m.
    pub length_m: f64,
    /// Sum of local-loss coefficients.
    pub local_loss: f64,
    /// Wall roughness, m.
    pub roughness_m: f64,
}

/// Flow state of one section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drop {
    /// Mean velocity, m/s.
    pub velocity_m_s: f64,
    /// Reynolds number.
    pub reynolds: f64,
    /// Darcy friction factor.
    pub friction_factor: f64,
    /// Friction loss, Pa.
    pub friction_pa: f64,
    /// Loss at fittings, Pa.
    pub local_pa: f64,
}

/// Below this Reynolds number flow is taken as laminar.
const LAMINAR_REYNOLDS: f64 = 2300.0;

/// Returns the Darcy friction factor; `None` if the equation has no root (non-finite input).
///
/// Laminar `64/Re` below 2 300, else the implicit Colebrook equation solved to round-off:
/// ```text
/// 1/√f = −2·log10( ε/(3.7 D) + 2.51/(Re √f) )
/// ```
/// Between 2 300 and about 4 000 flow wanders between the two; the turbulent value is the safe one for pressure.
pub fn friction_factor(reynolds: f64, relative_roughness: f64) -> Option<f64> {
    if !(reynolds > 0.0 && relative_roughness >= 0.0) {
        return None;
    }
    if reynolds < LAMINAR_REYNOLDS {
        return Some(64.0 / reynolds);
    }
    // Unknown x = 1/√f lies between 1 (f = 1) and 40 (f = 0.0006) for any duct.
    let residual =
        |x: f64| x + 2.0 / std::f64::consts::LN_10 * ln(relative_roughness / 3.7 + 2.51 * x / reynolds);
    let x = root::brent(residual, 1.0, 40.0, 1e-14).ok()?;
    Some(1.0 / (x * x))
}

/// Returns velocity, friction and losses of a section at a flow; `None` for a flow or size that is not above zero.
pub fn drop(section: Section, flow_m3_s: f64, air: Air) -> Option<Drop> {
    let area = std::f64::consts::PI / 4.0 * section.diameter_m * section.diameter_m;
    let velocity = flow_m3_s / area;
    let reynolds = air.density_kg_m3 * velocity * section.diameter_m / air.viscosity_pa_s;
    let factor = friction_factor(reynolds, section.roughness_m / section.diameter_m)?;
    let dynamic_pa = 0.5 * air.density_kg_m3 * velocity * velocity;
    Some(Drop {
        velocity_m_s: velocity,
        reynolds,
        friction_factor: factor,
        friction_pa: factor * section.length_m / section.diameter_m * dynamic_pa,
        local_pa: section.local_loss * dynamic_pa,
    })
}

/// Returns the round duct with the friction of a rectangular one at equal flow, m.
///
/// `1.30·(ab)^0.625/(a+b)^0.25`. Source: Huebscher 1948, from memory.
pub fn equal_friction_diameter_m(a_m: f64, b_m: f64) -> f64 {
    1.30 * numeric::pow(a_m * b_m, 0.625) / numeric::pow(a_m + b_m, 0.25)
}

/// Returns the hydraulic diameter of a rectangular duct, m: `2ab/(a+b)`.
pub fn hydraulic_diameter_m(a_m: f64, b_m: f64) -> f64 {
    2.0 * a_m * b_m / (a_m + b_m)
}

/// Returns specific fan power, Wh/m³ (equal to W per m³/h), of a fan's electric power and flow.
pub fn specific_fan_power_wh_m3(power_w: f64, flow_m3_h: f64) -> f64 {
    power_w / flow_m3_h
}

/// Returns specific fan power, W/(m³/s), from total pressure and overall efficiency.
pub fn specific_fan_power_w_m3s(pressure_pa: f64, efficiency: f64) -> f64 {
    pressure_pa / efficiency
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const AIR: Air = Air { density_kg_m3: 1.204, viscosity_pa_s: 1.8205e-5 };

    proptest! {
        #[test]
        fn the_factor_satisfies_its_equation(re in 2300.0..1e7f64, rough in 0.0..0.05f64) {
            let f = friction_factor(re, rough).unwrap();
            let x = 1.0 / f.sqrt();
            let right = -2.0 / std::f64::consts::LN_10 * ln(rough / 3.7 + 2.51 * x / re);
            prop_assert!((x - right).abs() < 1e-10 * x);
        }

        #[test]
        fn more_flow_more_drop(q in 0.005..0.2f64) {
            let s = Section { diameter_m: 0.16, length_m: 5.0, local_loss: 1.0, roughness_m: 9e-5 };
            let total = |q| drop(s, q, AIR).map(|d| d.friction_pa + d.local_pa).unwrap();
            prop_assert!(total(q * 1.05) > total(q));
        }
    }
}
