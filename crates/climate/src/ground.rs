//! Temperature of undisturbed ground.
//!
//! The surface is taken to follow the year's first harmonic of the air, and the wave sinks into uniform soil. Snow,
//! sun on bare ground and groundwater are left out; they shift the mean by one to three kelvin in places.

use numeric::exp;
use numeric::scalar::{atan2, cos, hypot, sin_cos};
use std::f64::consts::PI;

use crate::calendar::{DAYS, DAYS_BEFORE_MONTH, DAYS_IN_MONTH, HOURS};
use crate::year::Climate;

/// The year's mean and first harmonic: `mean − amplitude·cos(2π(t − coldest)/year)`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Harmonic {
    /// Mean, °C.
    pub mean_c: f64,
    /// Half the swing, K.
    pub amplitude_k: f64,
    /// When it is coldest, days from the start of the year, 0 to 365.
    pub coldest_day: f64,
}

impl Harmonic {
    /// Fits the hourly dry bulb, by projection on the first harmonic (the least-squares fit, because hours are
    /// evenly spaced).
    pub fn of_air(climate: &Climate) -> Self {
        let (mut mean, mut c, mut s) = (0.0, 0.0, 0.0);
        for (hour, h) in climate.hours.iter().enumerate() {
            // The reading stands at the hour's end.
            let (sin, cos) = sin_cos(2.0 * PI * (hour + 1) as f64 / HOURS as f64);
            mean += h.dry_bulb_c;
            c += h.dry_bulb_c * cos;
            s += h.dry_bulb_c * sin;
        }
        let n = HOURS as f64;
        let (c, s) = (2.0 * c / n, 2.0 * s / n);
        Self {
            mean_c: mean / n,
            amplitude_k: hypot(c, s),
            coldest_day: (atan2(-s, -c) / (2.0 * PI)).rem_euclid(1.0) * DAYS as f64,
        }
    }

    /// Returns the surface temperature at a time in days from the start of the year, °C.
    pub fn at(&self, day: f64) -> f64 {
        self.mean_c - self.amplitude_k * cos(2.0 * PI * (day - self.coldest_day) / DAYS as f64)
    }
}

/// Returns the ground's temperature, °C, at a depth below a surface that follows the harmonic.
///
/// `diffusivity_m2_s` is conductivity over volumetric heat capacity: about 7e-7 for ordinary moist soil.
/// # Source
/// Kusuda and Achenbach, ASHRAE Transactions 71 (1965): the damped, delayed wave in a half-space; closed form.
pub fn undisturbed_c(surface: &Harmonic, depth_m: f64, diffusivity_m2_s: f64, day: f64) -> f64 {
    let depths = depth_m / damping_depth_m(diffusivity_m2_s);
    surface.mean_c
        - surface.amplitude_k
            * exp(-depths)
            * cos(2.0 * PI * (day - surface.coldest_day) / DAYS as f64 - depths)
}

/// Returns the depth at which the yearly swing is down to 1/e, m.
pub fn damping_depth_m(diffusivity_m2_s: f64) -> f64 {
    (diffusivity_m2_s * DAYS as f64 * 86_400.0 / PI).sqrt()
}

/// Returns [`undisturbed_c`] averaged over each month, °C, in closed form.
pub fn monthly_c(surface: &Harmonic, depth_m: f64, diffusivity_m2_s: f64) -> [f64; 12] {
    let depths = depth_m / damping_depth_m(diffusivity_m2_s);
    std::array::from_fn(|month| {
        let from = DAYS_BEFORE_MONTH[month] as f64;
        let days = DAYS_IN_MONTH[month] as f64;
        let phase = |day: f64| 2.0 * PI * (day - surface.coldest_day) / DAYS as f64 - depths;
        let mean_cos = (numeric::scalar::sin(phase(from + days)) - numeric::scalar::sin(phase(from)))
            * DAYS as f64
            / (2.0 * PI * days);
        surface.mean_c - surface.amplitude_k * exp(-depths) * mean_cos
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo_year;

    #[test]
    fn deep_ground_rests_at_the_mean() {
        let air = Harmonic::of_air(&demo_year());
        assert!((14.0..15.0).contains(&air.mean_c), "{air:?}");
        assert!((9.0..13.0).contains(&air.amplitude_k), "{air:?}");
        // Coldest in January, as northern continents are.
        assert!((5.0..35.0).contains(&air.coldest_day), "{air:?}");
        assert!((undisturbed_c(&air, 30.0, 7e-7, 100.0) - air.mean_c).abs() < 1e-3);
        assert!((undisturbed_c(&air, 0.0, 7e-7, 100.0) - air.at(100.0)).abs() < 1e-12);
        // About 2.6 m for ordinary soil.
        assert!((damping_depth_m(7e-7) - 2.65).abs() < 0.01);
    }

    #[test]
    fn months_average_the_wave() {
        let wave = Harmonic { mean_c: 10.0, amplitude_k: 12.0, coldest_day: 20.0 };
        let months = monthly_c(&wave, 1.0, 7e-7);
        let steps = 2_000;
        for (month, value) in months.iter().enumerate() {
            let mean = (0..steps)
                .map(|i| {
                    let day = DAYS_BEFORE_MONTH[month] as f64
                        + DAYS_IN_MONTH[month] as f64 * (f64::from(i) + 0.5) / f64::from(steps);
                    undisturbed_c(&wave, 1.0, 7e-7, day)
                })
                .sum::<f64>()
                / f64::from(steps);
            assert!((value - mean).abs() < 1e-6, "{month}");
        }
    }
}
