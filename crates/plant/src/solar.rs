//! Solar electricity: sun on a module to power at the meter.
//!
//! * Light through the cover by incidence: `1 − b (1/cos θ − 1)`.
//! * Cell temperature: Faiman 2008, `T_air + E/(u₀ + u₁ v)`.
//! * Module: the single-diode model with parameters moved by De Soto, Klein and Beckman 2006 (Solar Energy 80).
//! * Inverter: King and others 2007 (SAND2007-5036).
//!
//! All from memory, held in `verify` against a general-purpose solar library. Limits: one module stands for the array,
//! at its maximum power point; no shading between cells, no spectrum; a loss share covers soiling, wiring and mismatch.

use numeric::{exp, root};

use crate::PlantError;
use crate::error::within;

/// Boltzmann's constant, eV/K.
const BOLTZMANN_EV_K: f64 = 8.617_333_262e-5;
/// Reference: 25 °C and 1 000 W/m².
const REFERENCE_K: f64 = 298.15;
const REFERENCE_W_M2: f64 = 1000.0;
/// Band gap of silicon at the reference, eV, and its change, 1/K.
const BAND_GAP_EV: f64 = 1.121;
const BAND_GAP_PER_K: f64 = -0.000_267_7;

/// A module's five parameters at the reference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Module {
    /// Light current, A.
    pub light_a: f64,
    /// Saturation current, A.
    pub saturation_a: f64,
    /// Series resistance, Ω.
    pub series_ohm: f64,
    /// Shunt resistance, Ω.
    pub shunt_ohm: f64,
    /// Ideality times cells times thermal voltage, V.
    pub ideality_v: f64,
    /// Change of the short-circuit current, A/K.
    pub alpha_a_k: f64,
}

impl Module {
    /// An invented module of 72 cells near 400 W.
    pub const USUAL: Self = Self {
        light_a: 10.35,
        saturation_a: 8.0e-11,
        series_ohm: 0.30,
        shunt_ohm: 450.0,
        ideality_v: 1.92,
        alpha_a_k: 0.0050,
    };

    /// Returns the greatest power at effective irradiance and cell temperature, W.
    ///
    /// Bishop's form: with the diode voltage as the unknown, current and voltage are explicit; the power has one
    /// maximum between zero and the diode's open-circuit voltage.
    pub fn greatest_w(&self, irradiance_w_m2: f64, cell_c: f64) -> f64 {
        if !(irradiance_w_m2 > 0.0) {
            return 0.0;
        }
        let kelvin = cell_c + crate::KELVIN;
        let sun = irradiance_w_m2 / REFERENCE_W_M2;
        let gap = BAND_GAP_EV * (1.0 + BAND_GAP_PER_K * (kelvin - REFERENCE_K));
        let light = sun * (self.light_a + self.alpha_a_k * (kelvin - REFERENCE_K));
        let hotter = kelvin / REFERENCE_K;
        let saturation = self.saturation_a
            * hotter
            * hotter
            * hotter
            * exp((BAND_GAP_EV / REFERENCE_K - gap / kelvin) / BOLTZMANN_EV_K);
        let (ideality, shunt) = (self.ideality_v * hotter, self.shunt_ohm / sun);
        let current = |v: f64| light - saturation * (exp(v / ideality) - 1.0) - v / shunt;
        let slope = |v: f64| -saturation / ideality * exp(v / ideality) - 1.0 / shunt;
        let Ok(open) = root::brent(current, 0.0, ideality * numeric::ln(light / saturation + 1.0), 1e-12)
        else {
            return 0.0;
        };
        // d(I V)/dV_d with V = V_d − I R_s.
        let derivative = |v: f64| {
            let (i, di) = (current(v), slope(v));
            di * (v - i * self.series_ohm) + i * (1.0 - di * self.series_ohm)
        };
        let Ok(best) = root::brent(derivative, 0.0, open, 1e-12) else { return 0.0 };
        let i = current(best);
        (i * (best - i * self.series_ohm)).max(0.0)
    }
}

/// Returns the share of light let in at an incidence against square on, `b` commonly 0.05; 0 from 90 degrees.
pub fn incidence_share(cos_incidence: f64, b: f64) -> f64 {
    if cos_incidence <= 0.0 { 0.0 } else { (1.0 - b * (1.0 / cos_incidence - 1.0)).clamp(0.0, 1.0) }
}

/// Returns the cell temperature, °C: Faiman's u₀ 25 W/(m²·K), u₁ 6.84 W·s/(m³·K) for open racks.
pub fn cell_c(irradiance_w_m2: f64, air_c: f64, wind_m_s: f64) -> f64 {
    air_c + irradiance_w_m2 / (25.0 + 6.84 * wind_m_s.max(0.0))
}

/// An inverter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Inverter {
    /// Greatest alternating power, W.
    pub ac_w: f64,
    /// Direct power at which it is reached, W.
    pub dc_w: f64,
    /// Direct power at which it starts, W.
    pub start_w: f64,
    /// Curvature, 1/W (commonly below zero).
    pub curvature_per_w: f64,
    /// Power at night, W.
    pub night_w: f64,
}

impl Inverter {
    /// An inverter of common efficiency (96.5 % at full power) for a size in W.
    pub fn usual(ac_w: f64) -> Self {
        Self {
            ac_w,
            dc_w: ac_w / 0.965,
            start_w: 0.006 * ac_w,
            curvature_per_w: -0.015 / ac_w,
            night_w: 0.0005 * ac_w,
        }
    }

    /// Returns the alternating power, W; below zero at night. The voltage terms of the source are left out (zero).
    ///
    /// `P_ac = (P_ac0/(A − B) − C(A − B))(P_dc − B) + C (P_dc − B)²`, A = P_dc0, B = start, C = curvature.
    pub fn ac_w(&self, dc_w: f64) -> f64 {
        if dc_w < self.start_w {
            return -self.night_w;
        }
        let (span, over) = (self.dc_w - self.start_w, dc_w - self.start_w);
        let power =
            (self.ac_w / span - self.curvature_per_w * span) * over + self.curvature_per_w * over * over;
        power.min(self.ac_w)
    }
}

/// An array with its inverter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Array {
    /// The module.
    pub module: Module,
    /// How many (may be a fraction: a stated peak power over the module's).
    pub modules: f64,
    /// Loss by soiling, wiring, mismatch, 0..1.
    pub lost: f64,
    /// The inverter.
    pub inverter: Inverter,
}

impl Array {
    /// Makes an array of a peak power with usual parts, inverter of 85 % of it, 8 % lost.
    ///
    /// # Errors
    /// [`PlantError::Range`] for a peak power that is none.
    pub fn of_peak(peak_w: f64) -> Result<Self, PlantError> {
        within("peak power of the array", peak_w, 1.0, 1e9, "is more than zero, W")?;
        let module = Module::USUAL;
        let modules = peak_w / module.greatest_w(REFERENCE_W_M2, 25.0);
        Ok(Self { module, modules, lost: 0.08, inverter: Inverter::usual(0.85 * peak_w) })
    }

    /// Returns the alternating power, W, for light on the plane by beam (with its incidence), sky and ground.
    pub fn ac_w(
        &self,
        beam_w_m2: f64,
        cos_incidence: f64,
        diffuse_w_m2: f64,
        air_c: f64,
        wind_m_s: f64,
    ) -> f64 {
        // Diffuse light comes in as from 60 degrees.
        let light =
            beam_w_m2 * incidence_share(cos_incidence, 0.05) + diffuse_w_m2 * incidence_share(0.5, 0.05);
        let cell = cell_c(beam_w_m2 + diffuse_w_m2, air_c, wind_m_s);
        self.inverter.ac_w(self.modules * (1.0 - self.lost) * self.module.greatest_w(light, cell))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_usual_module_is_near_400_w_and_loses_a_third_of_a_per_cent_a_kelvin() {
        let p = Module::USUAL.greatest_w(1000.0, 25.0);
        assert!((350.0..450.0).contains(&p), "{p}");
        let per_k = (Module::USUAL.greatest_w(1000.0, 45.0) / p - 1.0) / 20.0;
        assert!((-0.005..-0.002).contains(&per_k), "{per_k}");
    }

    #[test]
    fn an_inverter_gives_its_rating_and_sleeps() {
        let i = Inverter::usual(5000.0);
        assert!((i.ac_w(i.dc_w) - 5000.0).abs() < 1e-6 && i.ac_w(0.0) < 0.0 && i.ac_w(9000.0) == 5000.0);
    }

    proptest! {
        #[test]
        fn more_sun_more_power_never_more_than_the_sun(g in 1.0..1200.0f64, t in -20.0..70.0f64) {
            let m = Module::USUAL;
            let p = m.greatest_w(g, t);
            prop_assert!(p >= 0.0 && p < 0.25 * 2.0 * g && m.greatest_w(g * 1.05, t) > p);
        }
    }
}
