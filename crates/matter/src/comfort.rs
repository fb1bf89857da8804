//! How warm people feel: predicted mean vote (ISO 7730) and the adaptive bands of EN 16798-1 and ASHRAE 55.
//!
//! Start at [`predicted_mean_vote`] for conditioned rooms ([`standard_effective_temperature`] where air moves fast or
//! clothes are light), [`en16798_adaptive`] or [`ashrae55_adaptive`] for rooms
//! cooled by windows alone. All are averages over people; no single person is promised anything.

mod two_node;

use numeric::{exp, pow};

pub use two_node::standard_effective_temperature;

/// One metabolic unit, W/m² of body surface (ISO 7730).
pub const MET_W_M2: f64 = 58.15;
/// One clothing unit, m²·K/W (ISO 7730).
pub const CLO_M2K_W: f64 = 0.155;

/// What a person in a room is exposed to, wears and does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exposure {
    /// Air temperature, °C.
    pub air_c: f64,
    /// Mean radiant temperature, °C.
    pub radiant_c: f64,
    /// Air speed relative to the person, m/s.
    pub air_speed_m_s: f64,
    /// Partial pressure of vapour, Pa. [`iso7730_vapour_pressure`] gives it by the standard's own formula.
    pub vapour_pressure_pa: f64,
    /// Metabolic rate, met (1 = seated at rest).
    pub metabolic_met: f64,
    /// Clothing insulation, clo.
    pub clothing_clo: f64,
}

/// The vote and what led to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vote {
    /// Predicted mean vote: −3 cold, 0 neutral, +3 hot.
    pub pmv: f64,
    /// Predicted percentage dissatisfied, %.
    pub ppd_percent: f64,
    /// Surface temperature of the clothing, °C.
    pub clothing_surface_c: f64,
    /// Convective film coefficient at the clothing, W/(m²·K).
    pub convection_w_m2k: f64,
}

/// Why there is no vote.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum ComfortError {
    /// An input lies outside the range the equations are stated for.
    #[error("{quantity} is {value}, outside {low} to {high}")]
    OutOfRange {
        /// Which input.
        quantity: &'static str,
        /// Its value.
        value: f64,
        /// Lowest allowed.
        low: f64,
        /// Highest allowed.
        high: f64,
    },
}

/// Returns the partial pressure of vapour, Pa, by the simple saturation formula inside ISO 7730 (annex D). It lies
/// within 0.3 % of [`crate::moist_air::saturation_pressure`] between 10 and 30 °C; published votes rest on it.
pub fn iso7730_vapour_pressure(air_c: f64, relative_humidity: f64) -> f64 {
    relative_humidity * 1000.0 * exp(16.6536 - 4030.183 / (air_c + 235.0))
}

/// Returns the predicted mean vote and percentage dissatisfied.
///
/// # Valid for
/// Air and radiant temperature 0 to 50 °C, air speed 0 to 2 m/s, 0.5 to 5 met, 0 to 3 clo, vapour 0 to 6 000 Pa;
/// the standard itself vouches for 10 to 30 °C air, up to 1 m/s, 0.8 to 4 met, up to 2 clo, up to 2 700 Pa and
/// votes between −2 and +2. External work is taken as zero.
/// # Errors
/// [`ComfortError::OutOfRange`] outside the wider ranges above, or when a number is not finite.
/// # Source
/// ISO 7730:2005, clause 4.1, equations (1) to (4), and 4.2, equation (5); recalled.
pub fn predicted_mean_vote(e: &Exposure) -> Result<Vote, ComfortError> {
    within("air temperature (°C)", e.air_c, 0.0, 50.0)?;
    within("radiant temperature (°C)", e.radiant_c, 0.0, 50.0)?;
    within("air speed (m/s)", e.air_speed_m_s, 0.0, 2.0)?;
    within("vapour pressure (Pa)", e.vapour_pressure_pa, 0.0, 6_000.0)?;
    within("metabolic rate (met)", e.metabolic_met, 0.5, 5.0)?;
    within("clothing (clo)", e.clothing_clo, 0.0, 3.0)?;

    let m = e.metabolic_met * MET_W_M2;
    let body = Body { m, icl: e.clothing_clo * CLO_M2K_W, e };
    let tcl = body.clothing_surface();
    let pa = e.vapour_pressure_pa;
    let load = m
        - 3.05e-3 * (5733.0 - 6.99 * m - pa)
        - 0.42 * (m - MET_W_M2)
        - 1.7e-5 * m * (5867.0 - pa)
        - 0.0014 * m * (34.0 - e.air_c)
        - body.radiation(tcl)
        - body.area_factor() * body.convection(tcl) * (tcl - e.air_c);
    let pmv = (0.303 * exp(-0.036 * m) + 0.028) * load;
    Ok(Vote {
        pmv,
        ppd_percent: percentage_dissatisfied(pmv),
        clothing_surface_c: tcl,
        convection_w_m2k: body.convection(tcl),
    })
}

/// Returns the predicted percentage dissatisfied, %, at a mean vote. ISO 7730:2005, equation (5); recalled.
pub fn percentage_dissatisfied(pmv: f64) -> f64 {
    let square = pmv * pmv;
    100.0 - 95.0 * exp(-0.033_53 * square * square - 0.217_9 * square)
}

struct Body<'a> {
    m: f64,
    icl: f64,
    e: &'a Exposure,
}

impl Body<'_> {
    fn area_factor(&self) -> f64 {
        if self.icl <= 0.078 { 1.0 + 1.29 * self.icl } else { 1.05 + 0.645 * self.icl }
    }

    fn radiation(&self, tcl: f64) -> f64 {
        let fourth = |t: f64| {
            let square = (t + 273.0) * (t + 273.0);
            square * square
        };
        3.96e-8 * self.area_factor() * (fourth(tcl) - fourth(self.e.radiant_c))
    }

    fn convection(&self, tcl: f64) -> f64 {
        let free = 2.38 * pow((tcl - self.e.air_c).abs(), 0.25);
        free.max(12.1 * self.e.air_speed_m_s.sqrt())
    }

    /// Solves the heat balance of the clothing. The imbalance rises with the temperature all the way, so bisection
    /// cannot fail; fixed-point iteration, as printed in the standard, can cycle at high clo.
    fn clothing_surface(&self) -> f64 {
        let skin = 35.7 - 0.028 * self.m;
        let imbalance = |t: f64| {
            t - skin
                + self.icl
                    * (self.radiation(t) + self.area_factor() * self.convection(t) * (t - self.e.air_c))
        };
        let (mut low, mut high) = (-50.0, 80.0);
        while high - low > 1e-10 {
            let middle = 0.5 * (low + high);
            if imbalance(middle) > 0.0 {
                high = middle;
            } else {
                low = middle;
            }
        }
        0.5 * (low + high)
    }
}

fn within(quantity: &'static str, value: f64, low: f64, high: f64) -> Result<(), ComfortError> {
    if (low..=high).contains(&value) {
        Ok(())
    } else {
        Err(ComfortError::OutOfRange { quantity, value, low, high })
    }
}

/// A band of operative temperatures, °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Lower edge.
    pub low_c: f64,
    /// Comfort temperature in between.
    pub comfort_c: f64,
    /// Upper edge.
    pub high_c: f64,
}

/// Category of EN 16798-1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Category {
    /// High expectation.
    One,
    /// Normal expectation.
    Two,
    /// Moderate expectation.
    Three,
}

/// Returns the adaptive band of EN 16798-1 for rooms without mechanical cooling.
///
/// # Errors
/// [`ComfortError::OutOfRange`] when the running mean is not within 10 to 30 °C.
/// # Source
/// EN 16798-1:2019, annex B.2.2: comfort = 0.33·T_rm + 18.8; recalled, limits confirmed by an open validation set.
pub fn en16798_adaptive(running_mean_c: f64, category: Category) -> Result<Band, ComfortError> {
    within("running mean outdoor temperature (°C)", running_mean_c, 10.0, 30.0)?;
    let comfort_c = 0.33 * running_mean_c + 18.8;
    let (above, below) = match category {
        Category::One => (2.0, 3.0),
        Category::Two => (3.0, 4.0),
        Category::Three => (4.0, 5.0),
    };
    Ok(Band { low_c: comfort_c - below, comfort_c, high_c: comfort_c + above })
}

/// Returns the adaptive band of ASHRAE 55 that 80 or 90 of a hundred occupants accept.
///
/// # Errors
/// [`ComfortError::OutOfRange`] when the prevailing mean is not within 10 to 33.5 °C.
/// # Source
/// ASHRAE 55-2017, clause 5.4.2.2: comfort = 0.31·T_pm + 17.8, ±3.5 K for 80 %, ±2.5 K for 90 %; recalled.
pub fn ashrae55_adaptive(prevailing_mean_c: f64, ninety_of_hundred: bool) -> Result<Band, ComfortError> {
    within("prevailing mean outdoor temperature (°C)", prevailing_mean_c, 10.0, 33.5)?;
    let comfort_c = 0.31 * prevailing_mean_c + 17.8;
    let half = if ninety_of_hundred { 2.5 } else { 3.5 };
    Ok(Band { low_c: comfort_c - half, comfort_c, high_c: comfort_c + half })
}

/// Returns the running mean of the seven daily mean outdoor temperatures before a day, °C, yesterday first.
/// EN 16798-1:2019, annex B.2.2, seven-day approximation; recalled.
pub fn running_mean(daily_means_c: &[f64; 7]) -> f64 {
    const WEIGHTS: [f64; 7] = [1.0, 0.8, 0.6, 0.5, 0.4, 0.3, 0.2];
    daily_means_c.iter().zip(WEIGHTS).map(|(t, w)| t * w).sum::<f64>() / 3.8
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn seated(air_c: f64) -> Exposure {
        Exposure {
            air_c,
            radiant_c: air_c,
            air_speed_m_s: 0.1,
            vapour_pressure_pa: iso7730_vapour_pressure(air_c, 0.5),
            metabolic_met: 1.2,
            clothing_clo: 0.7,
        }
    }

    #[test]
    fn running_mean_of_a_week() {
        assert!((running_mean(&[21.0, 19.0, 24.0, 26.0, 23.0, 20.0, 18.0]) - 21.684).abs() < 5e-4);
    }

    #[test]
    fn nonsense_is_refused() {
        assert!(predicted_mean_vote(&Exposure { air_c: f64::NAN, ..seated(20.0) }).is_err());
        assert!(predicted_mean_vote(&Exposure { clothing_clo: -1.0, ..seated(20.0) }).is_err());
        assert!(en16798_adaptive(9.9, Category::Two).is_err());
    }

    proptest! {
        #[test]
        fn warmer_air_feels_warmer(air in 10.0..34.0_f64, step in 0.1..2.0_f64) {
            let vote = |t| predicted_mean_vote(&seated(t)).expect("in range").pmv;
            prop_assert!(vote(air + step) > vote(air));
        }

        #[test]
        fn at_least_five_are_dissatisfied(pmv in -3.0..3.0_f64) {
            let ppd = percentage_dissatisfied(pmv);
            prop_assert!((5.0 - 1e-12..=100.0).contains(&ppd));
        }
    }
}
