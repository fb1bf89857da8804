//! An invented year for tests, benches and examples: no place on earth.
//!
//! Seasons and days are cosines, storms come from a counter-based stream, so the year is the same everywhere.

use crate::drive::{Drive, SideState};
use crate::error::MoistureError;
use crate::surfaces::{OutsideFace, Weather, inside, outside};
use matter::moist_air::saturation_pressure;
use numeric::scalar::cos;

/// Columns of an invented year of 8 760 hours on a wall that faces the weather.
#[derive(Clone, Debug, PartialEq)]
pub struct Year {
    /// Air temperature, °C.
    pub temperature_c: Vec<f64>,
    /// Vapour pressure, Pa.
    pub vapour_pressure_pa: Vec<f64>,
    /// Wind, m/s.
    pub wind_m_s: Vec<f64>,
    /// Sun on the wall, W/m².
    pub solar_w_m2: Vec<f64>,
    /// Long-wave radiation onto the wall, W/m².
    pub long_wave_w_m2: Vec<f64>,
    /// Driving rain on the wall, kg/(m²·h).
    pub rain_kg_m2h: Vec<f64>,
}

/// Returns the year: 12 °C in the mean, ± 11 K by season, ± 5 K by day; about 300 kg/m² of driving rain.
pub fn year() -> Year {
    const TURN: f64 = std::f64::consts::TAU;
    let mut y = Year {
        temperature_c: Vec::new(),
        vapour_pressure_pa: Vec::new(),
        wind_m_s: Vec::new(),
        solar_w_m2: Vec::new(),
        long_wave_w_m2: Vec::new(),
        rain_kg_m2h: Vec::new(),
    };
    let noise = |day: u64, salt: u64| {
        let mut z = (day + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ salt.wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    };
    for h in 0..8_760_u64 {
        let (day, hour) = (h / 24, (h % 24) as f64);
        let season = cos(TURN * (day as f64 - 200.0) / 365.0);
        let daily = cos(TURN * (hour - 15.0) / 24.0);
        let t = 12.0 + 11.0 * season + 5.0 * daily + 5.0 * (noise(day, 1) - 0.5);
        // One day in three is wet, for some hours.
        let wet = noise(day, 2) < 0.33;
        let starts = 20.0 * noise(day, 3);
        let raining = wet && hour >= starts && hour < starts + 2.0 + 8.0 * noise(day, 4);
        let humidity = if raining { 0.95 } else { 0.78 - 0.15 * daily };
        let wind = 2.0 + 4.0 * noise(day, 5);
        let sun = (cos(TURN * (hour - 13.0) / 24.0) - 0.1).max(0.0);
        y.temperature_c.push(t);
        y.vapour_pressure_pa.push((humidity.min(0.97)) * saturation_pressure(t));
        y.wind_m_s.push(wind);
        y.solar_w_m2.push(if raining { 30.0 * sun } else { (350.0 + 150.0 * season) * sun });
        let kelvin = t + 273.15;
        let clear = if wet { 0.97 } else { 0.92 };
        y.long_wave_w_m2.push(clear * 5.67e-8 * kelvin * kelvin * kelvin * kelvin);
        y.rain_kg_m2h.push(if raining { 0.12 * wind * (0.2 + 1.6 * noise(h, 6)) } else { 0.0 });
    }
    y
}

/// Returns the year as a drive: outside by [`year`], inside 21 °C at 35 % in winter to 60 % in summer.
///
/// # Errors
/// None in fact: the columns are of one length.
pub fn drive(face: &OutsideFace) -> Result<Drive, MoistureError> {
    let y = year();
    let weather = Weather {
        temperature_c: &y.temperature_c,
        vapour_pressure_pa: &y.vapour_pressure_pa,
        wind_m_s: &y.wind_m_s,
        solar_w_m2: &y.solar_w_m2,
        long_wave_w_m2: &y.long_wave_w_m2,
        rain_kg_m2h: &y.rain_kg_m2h,
    };
    let rooms: Vec<f64> = (0..8_760)
        .map(|h| 0.475 + 0.125 * cos(std::f64::consts::TAU * (f64::from(h) / 24.0 - 200.0) / 365.0))
        .collect();
    let air: Vec<SideState> = inside(&vec![21.0; 8_760], &rooms, 2.5, 0.0)?;
    Ok(Drive::new(3600.0, air, outside(&weather, face)?))
}
