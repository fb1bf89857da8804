//! Cold water by season.
//!
//! ```text
//! T = (T̄ + 6 °F) + R (ΔT/2) sin(0.986 (day − 15 − L) − 90°)     R = 0.4 + 0.01 (T̄ − 44)    L = 35 − (T̄ − 44)  in °F
//! ```
//! T̄ is the year's mean of the outdoor air, ΔT the largest difference between monthly means. Source: Burch and
//! Christensen 2007, Towards development of an algorithm for mains water temperature; offset and size of the swing seen
//! in its abstract, coefficients from memory. Valid for buried mains in the United States' climates.

use numeric::scalar::sin;

/// Cold water of a climate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mains {
    mean_f: f64,
    half_swing_f: f64,
    ratio: f64,
    lag_days: f64,
}

impl Mains {
    /// Takes the mean outdoor air of the year, °C, and the largest difference between monthly means, K.
    pub fn new(mean_air_c: f64, swing_k: f64) -> Self {
        let mean_f = 1.8 * mean_air_c + 32.0;
        Self {
            mean_f,
            half_swing_f: 0.5 * 1.8 * swing_k,
            ratio: 0.4 + 0.01 * (mean_f - 44.0),
            lag_days: 35.0 - (mean_f - 44.0),
        }
    }

    /// Returns the temperature on a day, 1 to 365, °C.
    pub fn on_day_c(&self, day: f64) -> f64 {
        let angle = (0.986 * (day - 15.0 - self.lag_days) - 90.0).to_radians();
        let f = self.mean_f + 6.0 + self.ratio * self.half_swing_f * sin(angle);
        // Water that runs is liquid.
        ((f - 32.0) / 1.8).max(0.5)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn winter_water_is_colder() {
        let m = Mains::new(14.5, 21.0);
        assert!(m.on_day_c(45.0) + 8.0 < m.on_day_c(225.0));
    }
}
