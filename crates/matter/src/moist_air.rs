//! Moist air as a mixture of two ideal gases.
//!
//! **Convention.** No enhancement factor: the vapour pressure at saturation is that of pure water or ice, whatever
//! the total pressure. Real moist air at sea level holds 0.3 to 0.5 % more vapour than this; libraries that carry
//! the factor differ from ours by that much. Saturation follows the equations of ASHRAE Fundamentals 2017,
//! chapter 1 (Hyland and Wexler 1983): over ice up to the triple point, over liquid water above.
//!
//! Relative humidity here is relative to that saturation, so over ice below freezing. Weather services report over
//! supercooled water instead: crate `climate` turns those readings into vapour pressure by
//! [`saturation_pressure_over_water`] before they get here.
//!
//! Start at [`saturation_pressure`] and [`humidity_ratio`]. Temperatures in °C, pressures in Pa, humidity ratio in
//! kg of vapour a kg of dry air, relative humidity as a fraction.

use numeric::{exp, ln, pow};

/// Absolute zero, °C.
pub const ABSOLUTE_ZERO_C: f64 = -273.15;
/// Triple point of water, °C: where the saturation curves over ice and over water meet.
pub const TRIPLE_POINT_C: f64 = 0.01;
/// Standard pressure at sea level, Pa.
pub const STANDARD_PRESSURE_PA: f64 = 101_325.0;
/// Molar mass of water over that of dry air (ASHRAE Fundamentals 2017, chapter 1).
pub const MOLAR_MASS_RATIO: f64 = 0.621_945;
/// Gas constant of dry air, J/(kg·K) (ASHRAE Fundamentals 2017, chapter 1).
pub const GAS_CONSTANT_DRY_AIR_J_KGK: f64 = 287.042;
/// Gas constant of water vapour, J/(kg·K): that of dry air over [`MOLAR_MASS_RATIO`].
pub const GAS_CONSTANT_VAPOUR_J_KGK: f64 = GAS_CONSTANT_DRY_AIR_J_KGK / MOLAR_MASS_RATIO;
/// Specific heat of dry air at constant pressure, J/(kg·K) (same chapter, enthalpy equation).
pub const SPECIFIC_HEAT_DRY_AIR_J_KGK: f64 = 1006.0;
/// Specific heat of water vapour at constant pressure, J/(kg·K) (same).
pub const SPECIFIC_HEAT_VAPOUR_J_KGK: f64 = 1860.0;
/// Heat of evaporation at 0 °C, J/kg (same).
pub const EVAPORATION_HEAT_0C_J_KG: f64 = 2_501_000.0;

/// Returns the saturation pressure of water vapour, Pa, over ice up to the triple point and over water above.
///
/// # Valid for
/// −100 to 200 °C.
/// # Source
/// ASHRAE Fundamentals 2017, chapter 1, equations (5) and (6).
pub fn saturation_pressure(temperature_c: f64) -> f64 {
    if temperature_c <= TRIPLE_POINT_C {
        saturation_pressure_over_ice(temperature_c)
    } else {
        saturation_pressure_over_water(temperature_c)
    }
}

/// Returns the saturation pressure over ice, Pa. Equation (5) of the source named at [`saturation_pressure`].
pub fn saturation_pressure_over_ice(temperature_c: f64) -> f64 {
    let t = temperature_c - ABSOLUTE_ZERO_C;
    exp(ice_polynomial(t) + 4.163_501_9 * ln(t))
}

/// Returns the saturation pressure over liquid water, Pa, supercooled below freezing. Equation (6) of the source
/// named at [`saturation_pressure`]; its fit is stated for 0 to 200 °C and is used down to −40 °C here, where it
/// lies within 0.5 % of the meteorological formulas for supercooled water (recalled).
pub fn saturation_pressure_over_water(temperature_c: f64) -> f64 {
    let t = temperature_c - ABSOLUTE_ZERO_C;
    exp(water_polynomial(t) + 6.545_967_3 * ln(t))
}

/// Returns [`saturation_pressure`] of each lane, with the same bits as the scalar form.
#[inline(always)]
pub fn saturation_pressure_lanes<const L: usize>(temperature_c: &[f64; L]) -> [f64; L] {
    let t: [f64; L] = std::array::from_fn(|i| temperature_c[i] - ABSOLUTE_ZERO_C);
    let log_t = numeric::lanes::ln(&t);
    let log_p: [f64; L] = std::array::from_fn(|i| {
        if temperature_c[i] <= TRIPLE_POINT_C {
            ice_polynomial(t[i]) + 4.163_501_9 * log_t[i]
        } else {
            water_polynomial(t[i]) + 6.545_967_3 * log_t[i]
        }
    });
    numeric::lanes::exp(&log_p)
}

#[inline(always)]
fn ice_polynomial(t: f64) -> f64 {
    -5.674_535_9e3 / t
        + 6.392_524_7
        + t * (-9.677_843_0e-3 + t * (6.221_570_1e-7 + t * (2.074_782_5e-9 + t * -9.484_024e-13)))
}

#[inline(always)]
fn water_polynomial(t: f64) -> f64 {
    -5.800_220_6e3 / t + 1.391_499_3 + t * (-4.864_023_9e-2 + t * (4.176_476_8e-5 + t * -1.445_209_3e-8))
}

/// Returns d ln(p_sat)/dT, 1/K, of the branch the temperature lies on.
fn log_slope(temperature_c: f64) -> f64 {
    let t = temperature_c - ABSOLUTE_ZERO_C;
    if temperature_c <= TRIPLE_POINT_C {
        5.674_535_9e3 / (t * t) - 9.677_843_0e-3
            + t * (2.0 * 6.221_570_1e-7 + t * (3.0 * 2.074_782_5e-9 - 4.0 * 9.484_024e-13 * t))
            + 4.163_501_9 / t
    } else {
        5.800_220_6e3 / (t * t) - 4.864_023_9e-2
            + t * (2.0 * 4.176_476_8e-5 - 3.0 * 1.445_209_3e-8 * t)
            + 6.545_967_3 / t
    }
}

/// Returns the temperature, °C, at which water vapour of this pressure saturates: the dew point, or the frost point
/// below 0.01 °C. Inverts [`saturation_pressure`] to 1e-9 K.
///
/// `None` for a pressure outside the curve's range of −100 to 200 °C (0.0014 Pa to 1.55 MPa), or not a number.
pub fn dew_point(vapour_pressure_pa: f64) -> Option<f64> {
    let target = vapour_pressure_pa;
    if !(saturation_pressure(-100.0)..=saturation_pressure(200.0)).contains(&target) {
        return None;
    }
    let log_target = ln(target);
    let triple = saturation_pressure(TRIPLE_POINT_C);
    // The start comes from the Clausius–Clapeyron relation of the branch; Newton's method on ln p, which is nearly
    // straight in 1/T, then needs three or four steps. Staying on the branch keeps the kink at the triple point out.
    let frozen = target <= triple;
    let (heat_over_r, low, high) =
        if frozen { (6_140.0, -100.0, TRIPLE_POINT_C) } else { (5_200.0, TRIPLE_POINT_C, 200.0) };
    let inverse = 1.0 / (TRIPLE_POINT_C - ABSOLUTE_ZERO_C) - (log_target - ln(triple)) / heat_over_r;
    let mut t = (1.0 / inverse + ABSOLUTE_ZERO_C).clamp(low, high);
    for _ in 0..30 {
        let p = if frozen { saturation_pressure_over_ice(t) } else { saturation_pressure_over_water(t) };
        let step = (ln(p) - log_target) / log_slope(if frozen { t } else { t.max(TRIPLE_POINT_C + 1e-12) });
        t = (t - step).clamp(low, high);
        if step.abs() < 1e-9 {
            break;
        }
    }
    Some(t)
}

/// Returns the humidity ratio, kg/kg, of air holding vapour at this partial pressure.
///
/// # Source
/// ASHRAE Fundamentals 2017, chapter 1, equation (20). Vapour must stay below the total pressure; at or above it
/// the result is infinite or negative.
pub fn humidity_ratio(vapour_pressure_pa: f64, pressure_pa: f64) -> f64 {
    MOLAR_MASS_RATIO * vapour_pressure_pa / (pressure_pa - vapour_pressure_pa)
}

/// Returns the partial pressure of vapour, Pa, in air of this humidity ratio.
pub fn vapour_pressure(humidity_ratio: f64, pressure_pa: f64) -> f64 {
    humidity_ratio * pressure_pa / (MOLAR_MASS_RATIO + humidity_ratio)
}

/// Returns the humidity ratio, kg/kg, at a temperature and relative humidity (fraction).
pub fn humidity_ratio_of(temperature_c: f64, relative_humidity: f64, pressure_pa: f64) -> f64 {
    humidity_ratio(relative_humidity * saturation_pressure(temperature_c), pressure_pa)
}

/// Returns the relative humidity (fraction) of air of this humidity ratio; above 1 when oversaturated.
pub fn relative_humidity(temperature_c: f64, humidity_ratio: f64, pressure_pa: f64) -> f64 {
    vapour_pressure(humidity_ratio, pressure_pa) / saturation_pressure(temperature_c)
}

/// Returns the specific enthalpy of moist air, J a kg of dry air, zero for dry air and liquid water at 0 °C.
pub fn enthalpy(temperature_c: f64, humidity_ratio: f64) -> f64 {
    SPECIFIC_HEAT_DRY_AIR_J_KGK * temperature_c
        + humidity_ratio * (EVAPORATION_HEAT_0C_J_KG + SPECIFIC_HEAT_VAPOUR_J_KGK * temperature_c)
}

/// Returns the dry-bulb temperature, °C, of air of this enthalpy and humidity ratio.
pub fn temperature_of_enthalpy(enthalpy_j_kg: f64, humidity_ratio: f64) -> f64 {
    (enthalpy_j_kg - humidity_ratio * EVAPORATION_HEAT_0C_J_KG)
        / (SPECIFIC_HEAT_DRY_AIR_J_KGK + SPECIFIC_HEAT_VAPOUR_J_KGK * humidity_ratio)
}

/// Returns the specific heat of moist air, J/K a kg of dry air.
pub fn specific_heat(humidity_ratio: f64) -> f64 {
    SPECIFIC_HEAT_DRY_AIR_J_KGK + SPECIFIC_HEAT_VAPOUR_J_KGK * humidity_ratio
}

/// Returns the heat of evaporation of water at this temperature, J/kg: enthalpy of vapour less that of liquid water
/// (4186 J/(kg·K), as in the wet-bulb equation of the same chapter).
pub fn evaporation_heat(temperature_c: f64) -> f64 {
    EVAPORATION_HEAT_0C_J_KG + (SPECIFIC_HEAT_VAPOUR_J_KGK - 4186.0) * temperature_c
}

/// Returns the volume of moist air, m³ a kg of dry air.
pub fn specific_volume(temperature_c: f64, humidity_ratio: f64, pressure_pa: f64) -> f64 {
    GAS_CONSTANT_DRY_AIR_J_KGK * (temperature_c - ABSOLUTE_ZERO_C) * (1.0 + humidity_ratio / MOLAR_MASS_RATIO)
        / pressure_pa
}

/// Returns the density of moist air, kg of mixture a m³.
pub fn density(temperature_c: f64, humidity_ratio: f64, pressure_pa: f64) -> f64 {
    (1.0 + humidity_ratio) / specific_volume(temperature_c, humidity_ratio, pressure_pa)
}

/// Returns the vapour concentration, kg/m³, at this partial pressure.
pub fn vapour_concentration(vapour_pressure_pa: f64, temperature_c: f64) -> f64 {
    vapour_pressure_pa / (GAS_CONSTANT_VAPOUR_J_KGK * (temperature_c - ABSOLUTE_ZERO_C))
}

/// Returns the standard atmosphere's pressure at an altitude, Pa.
///
/// # Valid for
/// −5 000 to 11 000 m.
/// # Source
/// ASHRAE Fundamentals 2017, chapter 1, equation (3).
pub fn altitude_pressure(altitude_m: f64) -> f64 {
    STANDARD_PRESSURE_PA * pow(1.0 - 2.255_77e-5 * altitude_m, 5.2559)
}

/// Returns the thermodynamic wet-bulb temperature, °C (over ice below 0 °C), to 1e-6 K.
///
/// The wet bulb is where air, saturated adiabatically, would end up; it lies between dew point and dry bulb and is
/// found by bisection, because its equation changes form at freezing.
///
/// `None` when the humidity ratio is negative or above saturation by more than rounding, or a number is not finite.
/// # Source
/// ASHRAE Fundamentals 2017, chapter 1, equations (33) and (35).
pub fn wet_bulb(temperature_c: f64, humidity_ratio: f64, pressure_pa: f64) -> Option<f64> {
    let saturated = self::humidity_ratio(saturation_pressure(temperature_c), pressure_pa);
    if !(humidity_ratio >= 0.0 && humidity_ratio <= saturated * (1.0 + 1e-9)) {
        return None;
    }
    let (mut low, mut high) = (-100.0_f64.max(temperature_c - 100.0), temperature_c);
    if humidity_ratio > 1e-7 {
        low = low.max(dew_point(vapour_pressure(humidity_ratio, pressure_pa)).unwrap_or(low)).min(high);
    }
    while high - low > 1e-7 {
        let middle = 0.5 * (low + high);
        if humidity_ratio_at_wet_bulb(temperature_c, middle, pressure_pa) > humidity_ratio {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(0.5 * (low + high))
}

fn humidity_ratio_at_wet_bulb(t: f64, wet: f64, pressure_pa: f64) -> f64 {
    let saturated = humidity_ratio(saturation_pressure(wet), pressure_pa);
    if wet >= 0.0 {
        ((2501.0 - 2.326 * wet) * saturated - 1.006 * (t - wet)) / (2501.0 + 1.86 * t - 4.186 * wet)
    } else {
        ((2830.0 - 0.24 * wet) * saturated - 1.006 * (t - wet)) / (2830.0 + 1.86 * t - 2.1 * wet)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn saturation_at_landmarks() {
        // PsychroLib 2.5.0, ASHRAE 2017 equations.
        for (t, p) in [(-40.0, 12.845_25), (0.0, 611.153_57), (20.0, 2_338.803_70), (100.0, 101_418.716_83)] {
            assert!((saturation_pressure(t) / p - 1.0).abs() < 1e-6, "{t}");
        }
    }

    #[test]
    fn lanes_have_the_scalar_bits() {
        let t = [-25.0, -0.001, 0.01, 0.02, 5.0, 20.0, 33.3, 90.0];
        let lanes = saturation_pressure_lanes(&t);
        for i in 0..8 {
            assert_eq!(lanes[i].to_bits(), saturation_pressure(t[i]).to_bits(), "{}", t[i]);
        }
    }

    #[test]
    fn nonsense_has_no_dew_point() {
        for p in [f64::NAN, 0.0, -1.0, f64::INFINITY] {
            assert_eq!(dew_point(p), None);
        }
        assert_eq!(wet_bulb(20.0, 0.05, STANDARD_PRESSURE_PA), None);
        assert_eq!(wet_bulb(20.0, f64::NAN, STANDARD_PRESSURE_PA), None);
    }

    #[test]
    fn denver_stands_lower_in_the_atmosphere() {
        // 1650 m: about 83 kPa (US standard atmosphere).
        assert!((altitude_pressure(1650.0) - 83_050.0).abs() < 100.0);
    }

    proptest! {
        #[test]
        fn dew_point_undoes_saturation(t in -60.0..90.0_f64) {
            let back = dew_point(saturation_pressure(t)).expect("inside the range");
            prop_assert!((back - t).abs() < 1e-7, "{t} {back}");
        }

        #[test]
        fn humidity_goes_round(t in -40.0..60.0_f64, rh in 0.01..1.0_f64, p in 60_000.0..105_000.0_f64) {
            let w = humidity_ratio_of(t, rh, p);
            prop_assert!((relative_humidity(t, w, p) - rh).abs() < 1e-12);
            prop_assert!((temperature_of_enthalpy(enthalpy(t, w), w) - t).abs() < 1e-9);
            let c = vapour_concentration(rh * saturation_pressure(t), t);
            prop_assert!((c - w / specific_volume(t, w, p)).abs() < 1e-9 * c.max(1e-6));
        }

        #[test]
        fn saturation_rises(t in -80.0..150.0_f64, step in 0.001..5.0_f64) {
            prop_assert!(saturation_pressure(t + step) > saturation_pressure(t));
        }

        #[test]
        fn wet_bulb_lies_between(t in -20.0..50.0_f64, rh in 0.02..1.0_f64, p in 70_000.0..105_000.0_f64) {
            let w = humidity_ratio_of(t, rh, p);
            let wet = wet_bulb(t, w, p).expect("unsaturated");
            let dew = dew_point(rh * saturation_pressure(t)).expect("inside the range");
            prop_assert!(wet <= t + 1e-6 && wet >= dew - 1e-6, "{dew} {wet} {t}");
        }
    }
}
