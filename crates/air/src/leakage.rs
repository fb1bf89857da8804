//! A leak as a power law, and the areas and rates read from it.

use numeric::pow;

/// Temperature of the reference state, °C.
pub const REFERENCE_TEMPERATURE_C: f64 = 20.0;
/// Barometric pressure of the reference state, Pa.
pub const REFERENCE_PRESSURE_PA: f64 = 101_325.0;
/// Air density of the reference state, kg/m³: dry air by the gas law, 1.2041 as the standards print it.
pub const REFERENCE_DENSITY_KG_M3: f64 =
    REFERENCE_PRESSURE_PA / (DRY_AIR_GAS_CONSTANT_J_KGK * (REFERENCE_TEMPERATURE_C + 273.15));
/// Specific gas constant of dry air as ISO 9972 takes it, J/(kg·K).
pub const DRY_AIR_GAS_CONSTANT_J_KGK: f64 = 287.055;
/// Discharge coefficient of a sharp-edged hole (common practice; from memory 0.60 to 0.61).
pub const SHARP_EDGE_DISCHARGE: f64 = 0.6;

/// Flow through a leak, `q = C·Δpⁿ`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PowerLaw {
    /// Flow coefficient, m³/(h·Paⁿ).
    pub coefficient_m3_h: f64,
    /// Flow exponent, 0.5 (sharp hole) to 1 (pores).
    pub exponent: f64,
}

impl PowerLaw {
    /// Returns the law through one known flow.
    ///
    /// # Example
    /// ```
    /// let leak = air::leakage::PowerLaw::through(601.0, 50.0, 0.65);
    /// assert!((leak.flow_m3_h(50.0) - 601.0).abs() < 1e-9);
    /// ```
    pub fn through(flow_m3_h: f64, pressure_pa: f64, exponent: f64) -> Self {
        Self { coefficient_m3_h: flow_m3_h / pow(pressure_pa, exponent), exponent }
    }

    /// Returns the flow at a pressure difference, m³/h, with the sign of the difference.
    pub fn flow_m3_h(&self, pressure_pa: f64) -> f64 {
        if pressure_pa == 0.0 {
            return 0.0;
        }
        let size = self.coefficient_m3_h * pow(pressure_pa.abs(), self.exponent);
        if pressure_pa < 0.0 { -size } else { size }
    }

    /// Returns the pressure difference that drives a flow, Pa, with the flow's sign.
    pub fn pressure_pa(&self, flow_m3_h: f64) -> f64 {
        if flow_m3_h == 0.0 {
            return 0.0;
        }
        let size = pow(flow_m3_h.abs() / self.coefficient_m3_h, 1.0 / self.exponent);
        if flow_m3_h < 0.0 { -size } else { size }
    }

    /// Returns the effective leakage area, m²: the ideal hole (discharge 1) with this flow at the pressure.
    ///
    /// ```text
    /// ELA = C/3600 · sqrt(ρ0/2) · Δp^(n − 0.5)
    /// ```
    /// Reference pressure 10 Pa in ISO 9972, 4 Pa in ASTM E779 (both from memory).
    pub fn effective_leakage_area_m2(&self, pressure_pa: f64) -> f64 {
        self.coefficient_m3_h / 3600.0
            * (REFERENCE_DENSITY_KG_M3 / 2.0).sqrt()
            * pow(pressure_pa, self.exponent - 0.5)
    }
}

/// Returns the area of a sharp-edged hole that passes a flow at a pressure, m².
///
/// ```text
/// A = q / (C_d · sqrt(2 Δp / ρ))
/// ```
/// with C_d = 0.6: what to look for when told how much is still to be found.
pub fn sharp_hole_m2(flow_m3_h: f64, pressure_pa: f64) -> f64 {
    flow_m3_h / 3600.0 / (SHARP_EDGE_DISCHARGE * (2.0 * pressure_pa / REFERENCE_DENSITY_KG_M3).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_known_hole() {
        // 56 cfm at 50 Pa is 95.1 m³/h: about 48 cm² (7.5 in²) of sharp-edged hole.
        let area = sharp_hole_m2(95.1, 50.0);
        assert!((area * 1e4 - 48.3).abs() < 0.2, "{}", area * 1e4);
    }

    proptest! {
        #[test]
        fn flow_and_pressure_undo_each_other(c in 1.0..500.0f64, n in 0.5..1.0f64, p in -100.0..100.0f64) {
            let leak = PowerLaw { coefficient_m3_h: c, exponent: n };
            prop_assert!((leak.pressure_pa(leak.flow_m3_h(p)) - p).abs() < 1e-9 * (1.0 + p.abs()));
        }

        #[test]
        fn a_leak_has_no_favourite_direction(c in 1.0..500.0f64, n in 0.5..1.0f64, p in 0.01..100.0f64) {
            let leak = PowerLaw { coefficient_m3_h: c, exponent: n };
            prop_assert_eq!(leak.flow_m3_h(p), -leak.flow_m3_h(-p));
        }
    }
}
