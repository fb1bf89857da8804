//! Vapour in air, tabulated over temperature: saturation pressure and the permeability of air at rest.

use matter::moist_air::{
    self, ABSOLUTE_ZERO_C, GAS_CONSTANT_VAPOUR_J_KGK, STANDARD_PRESSURE_PA, TRIPLE_POINT_C,
};
use numeric::{exp, pow};

/// Which saturation curve is used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Saturation {
    /// That of `matter::moist_air`, over ice below freezing.
    #[default]
    MoistAir,
    /// The formulas of ISO 13788 annex E and EN 15026 (recalled).
    Iso13788,
}

/// How fast vapour diffuses in air at rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Diffusion {
    /// `D = 2.306e-5 (p₀/p) (T/273.15)^1.81` m²/s, with the air pressure p, Pa (Schirmer's relation as in ISO 12572,
    /// recalled).
    Schirmer {
        /// Air pressure, Pa.
        pressure_pa: f64,
    },
    /// A constant diffusivity, m²/s.
    Constant(f64),
    /// A constant permeability, kg/(m·s·Pa), as the monthly method of ISO 13788 has it.
    Permeability(f64),
}

impl Default for Diffusion {
    fn default() -> Self {
        Self::Schirmer { pressure_pa: STANDARD_PRESSURE_PA }
    }
}

/// Returns the saturation pressure by ISO 13788, Pa: over water from 0 °C up, over ice below.
///
/// # Source
/// ISO 13788:2012 annex E, equations (E.7) and (E.8); recalled.
pub fn iso13788_saturation_pa(temperature_c: f64) -> f64 {
    let t = temperature_c;
    if t >= 0.0 { 610.5 * exp(17.269 * t / (237.3 + t)) } else { 610.5 * exp(21.875 * t / (265.5 + t)) }
}

/// Returns the temperature, °C, at which vapour of this pressure saturates by [`iso13788_saturation_pa`].
pub fn iso13788_dew_point_c(vapour_pressure_pa: f64) -> f64 {
    let x = numeric::ln(vapour_pressure_pa / 610.5);
    if x >= 0.0 { 237.3 * x / (17.269 - x) } else { 265.5 * x / (21.875 - x) }
}

const COLDEST_C: f64 = -80.0;
const STEP_K: f64 = 0.25;
const INTERVALS: usize = 1000;

/// Saturation pressure and air permeability with their slopes, as cubics on even pieces of temperature.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Air {
    pieces: Vec<[[f64; 4]; 2]>,
    origin_c: f64,
}

/// Values at one temperature.
#[derive(Clone, Copy, Debug)]
pub(crate) struct AirPoint {
    pub saturation: f64,
    pub saturation_slope: f64,
    pub permeability: f64,
    pub permeability_slope: f64,
}

impl Air {
    pub fn new(saturation: Saturation, diffusion: Diffusion) -> Self {
        // A knot lies where the curve changes from ice to water, so that the kink there stays a kink.
        let kink = match saturation {
            Saturation::MoistAir => TRIPLE_POINT_C,
            Saturation::Iso13788 => 0.0,
        };
        let origin_c = COLDEST_C + kink;
        let pressure = |t: f64, frozen: bool| match (saturation, frozen) {
            (Saturation::MoistAir, true) => moist_air::saturation_pressure_over_ice(t),
            (Saturation::MoistAir, false) => moist_air::saturation_pressure_over_water(t),
            (Saturation::Iso13788, true) => 610.5 * exp(21.875 * t / (265.5 + t)),
            (Saturation::Iso13788, false) => 610.5 * exp(17.269 * t / (237.3 + t)),
        };
        let permeability = |t: f64| {
            let kelvin = t - ABSOLUTE_ZERO_C;
            match diffusion {
                Diffusion::Schirmer { pressure_pa } => {
                    2.306e-5 * STANDARD_PRESSURE_PA / pressure_pa * pow(kelvin / 273.15, 1.81)
                        / (GAS_CONSTANT_VAPOUR_J_KGK * kelvin)
                }
                Diffusion::Constant(d) => d / (GAS_CONSTANT_VAPOUR_J_KGK * kelvin),
                Diffusion::Permeability(d) => d,
            }
        };
        let piece = |k: usize| {
            let (a, b) = (origin_c + k as f64 * STEP_K, origin_c + (k + 1) as f64 * STEP_K);
            let frozen = 0.5 * (a + b) < kink;
            [cubic(|t| pressure(t, frozen), a, b), cubic(permeability, a, b)]
        };
        Self { pieces: (0..INTERVALS).map(piece).collect(), origin_c }
    }

    #[inline(always)]
    pub fn at(&self, temperature_c: f64) -> AirPoint {
        let x = ((temperature_c - self.origin_c) * (1.0 / STEP_K)).clamp(0.0, INTERVALS as f64);
        let k = (x as usize).min(INTERVALS - 1);
        let t = x - k as f64;
        let [p, d] = &self.pieces[k];
        let value = |c: &[f64; 4]| c[0] + t * (c[1] + t * (c[2] + t * c[3]));
        let slope = |c: &[f64; 4]| (c[1] + t * (2.0 * c[2] + t * (3.0 * c[3]))) * (1.0 / STEP_K);
        AirPoint {
            saturation: value(p),
            saturation_slope: slope(p),
            permeability: value(d),
            permeability_slope: slope(d),
        }
    }
}

/// Coefficients of the cubic that meets a function's values and slopes at both ends, over the unit interval.
fn cubic(f: impl Fn(f64) -> f64, a: f64, b: f64) -> [f64; 4] {
    let h = 1e-3;
    let slope = |t: f64| (f(t + h) - f(t - h)) / (2.0 * h) * (b - a);
    let (fa, fb, sa, sb) = (f(a), f(b), slope(a), slope(b));
    [fa, sa, 3.0 * (fb - fa) - 2.0 * sa - sb, 2.0 * (fa - fb) + sa + sb]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_follows_its_curves() {
        let air = Air::new(Saturation::MoistAir, Diffusion::default());
        for i in 0..1_400 {
            let t = -60.0 + 0.1 * i as f64;
            let exact = moist_air::saturation_pressure(t);
            let p = air.at(t);
            assert!((p.saturation / exact - 1.0).abs() < 1e-8, "{t}");
            let slope = (air.at(t + 1e-5).saturation - p.saturation) / 1e-5;
            assert!((p.saturation_slope / slope - 1.0).abs() < 1e-4, "{t}");
        }
        // 2e-10 kg/(m·s·Pa) is the round figure near 20 °C.
        assert!((air.at(20.0).permeability - 1.94e-10).abs() < 0.02e-10, "{}", air.at(20.0).permeability);
    }

    #[test]
    fn dew_point_inverts() {
        for t in [-15.0, -0.5, 3.0, 20.0] {
            assert!((iso13788_dew_point_c(iso13788_saturation_pa(t)) - t).abs() < 1e-9);
        }
    }
}
