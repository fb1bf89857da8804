//! Rain that reaches a wall.
//!
//! Two ways: the airfield and wall indices of ISO 15927-3, a year's sum in litres a square metre for comparing walls
//! and places; and the hourly deposit of ASHRAE 160, the boundary condition of a moisture run. Both need rain in the
//! weather file, which typical years rarely carry: see [`Climate::with_rain`](crate::Climate::with_rain).

use numeric::pow;
use numeric::scalar::cos;

use crate::year::{Climate, Hour};

/// Factors by which ISO 15927-3 turns an airfield index into one of a wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WallExposure {
    /// Terrain roughness, C_R: about 1.0 open country, 0.6 to 0.8 suburbs, at ordinary heights.
    pub roughness: f64,
    /// Topography, C_T: 1 on level ground, up to 1.6 at a cliff or hilltop.
    pub topography: f64,
    /// Obstruction, O: 0.2 at 4 to 8 m from the next building, 1 with none within 120 m.
    pub obstruction: f64,
    /// Wall, W: 0.2 to 0.5 by kind and height.
    pub wall: f64,
}

/// Returns the yearly airfield index of a direction, l/m²: rain through an upright plane in open country.
///
/// ```text
/// I = (2/9) Σ v·r^(8/9)·cos(D − θ), over hours with wind on the wall
/// ```
/// v wind speed (m/s), r rain (mm/h), D wind direction, θ the wall's azimuth. `None` when an hour's rain is not known.
/// # Source
/// ISO 15927-3:2009, clause 3, equation (1); recalled.
pub fn airfield_index_l_m2(climate: &Climate, wall_azimuth_deg: f64) -> Option<f64> {
    let hourly: Option<Vec<f64>> = climate
        .hours
        .iter()
        .map(|h| {
            let rain = h.rain_mm?;
            let on_wall = wind_on_wall(h, wall_azimuth_deg);
            Some(if rain > 0.0 && on_wall > 0.0 { 2.0 / 9.0 * pow(rain, 8.0 / 9.0) * on_wall } else { 0.0 })
        })
        .collect();
    Some(numeric::sum::pairwise(&hourly?))
}

/// Returns the yearly index of a wall, l/m². ISO 15927-3:2009, clause 5; recalled.
pub fn wall_index_l_m2(climate: &Climate, wall_azimuth_deg: f64, exposure: &WallExposure) -> Option<f64> {
    let e = exposure;
    Some(
        airfield_index_l_m2(climate, wall_azimuth_deg)? * e.roughness * e.topography * e.obstruction * e.wall,
    )
}

/// Rain on a wall by ASHRAE 160: F_L, kg·s/(m³·mm), times the factors below.
const DRIVING_RAIN_CONSTANT: f64 = 0.2;

/// Returns the rain an hour puts on a wall, kg/(m²·h), or `None` when its rain is not known.
///
/// | argument | meaning | common values |
/// |---|---|---|
/// | `exposure` | F_E by terrain and height | 1.4 exposed, 1.0 medium, 0.7 sheltered, below 10 m; more above |
/// | `deposition` | F_D by what is over the wall | 0.35 below a steep roof, 0.5 below a low one, 1 where water runs down |
///
/// # Source
/// ASHRAE 160-2016, clause 4.6, equation (1); equation and common values recalled.
pub fn deposit_kg_m2h(hour: &Hour, wall_azimuth_deg: f64, exposure: f64, deposition: f64) -> Option<f64> {
    let on_wall = wind_on_wall(hour, wall_azimuth_deg).max(0.0);
    Some(exposure * deposition * DRIVING_RAIN_CONSTANT * on_wall * hour.rain_mm?)
}

/// Wind speed square to a wall, m/s; negative in its lee.
fn wind_on_wall(h: &Hour, wall_azimuth_deg: f64) -> f64 {
    h.wind_speed_m_s * cos((h.wind_direction_deg - wall_azimuth_deg).to_radians())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{HOURS, demo_year};

    #[test]
    fn rain_from_one_side_wets_that_side() {
        let dry = demo_year();
        assert_eq!(airfield_index_l_m2(&dry, 180.0), None);
        let mut year =
            dry.with_rain(vec![0.1; HOURS], "a tenth of a millimetre every hour, invented").expect("whole");
        for h in &mut year.hours {
            (h.wind_speed_m_s, h.wind_direction_deg) = (4.5, 225.0);
        }
        let index = |azimuth| airfield_index_l_m2(&year, azimuth).expect("rain is known");
        // 8760 hours of (2/9)·4.5·0.1^(8/9) on the side the wind comes from.
        let expected = 8_760.0 * pow(0.1, 8.0 / 9.0);
        assert!((index(225.0) - expected).abs() < 1e-9 * expected);
        assert_eq!(index(45.0), 0.0);
        assert!((index(180.0) / index(225.0) - 0.5_f64.sqrt()).abs() < 1e-9);
        let deposit = deposit_kg_m2h(&year.hours[0], 225.0, 1.0, 0.5).expect("rain is known");
        assert!((deposit - 0.5 * 0.2 * 4.5 * 0.1).abs() < 1e-12);
        let open = WallExposure { roughness: 1.0, topography: 1.0, obstruction: 1.0, wall: 0.4 };
        assert!(
            (wall_index_l_m2(&year, 225.0, &open).expect("known") - 0.4 * expected).abs() < 1e-9 * expected
        );
    }

    #[test]
    fn impossible_rain_is_refused() {
        let year = demo_year();
        assert!(year.clone().with_rain(vec![0.0; 3], "short").is_err());
        assert!(year.clone().with_rain(vec![-1.0; HOURS], "negative").is_err());
        assert!(year.with_rain(vec![f64::NAN; HOURS], "nothing").is_err());
    }
}
