//! Surface resistances (ISO 6946).

use crate::error::{FabricError, positive, within};

/// Stefan–Boltzmann constant, W/(m²·K⁴), as ISO 6946 and EN 673 round it.
pub const STEFAN_BOLTZMANN_ISO: f64 = 5.67e-8;

/// Direction of heat flow through an element.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Direction {
    /// Up, as through a roof in winter.
    Upwards,
    /// Sideways, as through a wall; within 30° of the horizontal.
    Horizontal,
    /// Down, as through a floor in winter.
    Downwards,
}

impl Direction {
    /// Returns the direction for an element whose outward normal makes this angle with straight up, degrees:
    /// 0 roof, 90 wall, 180 floor. Flow within 30° of the horizontal counts as horizontal.
    pub fn of_tilt(tilt_deg: f64) -> Self {
        if tilt_deg < 60.0 {
            Self::Upwards
        } else if tilt_deg <= 120.0 {
            Self::Horizontal
        } else {
            Self::Downwards
        }
    }
}

/// Returns the conventional inside surface resistance Rsi, m²·K/W (ISO 6946:2017 Table 7; from memory, 0.13 seen).
pub fn rsi_m2k_w(direction: Direction) -> f64 {
    match direction {
        Direction::Upwards => 0.10,
        Direction::Horizontal => 0.13,
        Direction::Downwards => 0.17,
    }
}

/// Conventional outside surface resistance Rse, m²·K/W (ISO 6946:2017 Table 7).
pub const RSE_M2K_W: f64 = 0.04;

/// Returns the black-body radiative coefficient 4 σ T³ at a temperature, W/(m²·K).
pub fn black_radiative_w_m2k(temperature_c: f64) -> f64 {
    let t = temperature_c + 273.15;
    4.0 * STEFAN_BOLTZMANN_ISO * t * t * t
}

/// Returns an inside surface resistance from its parts: `1 / (hc + ε hr0)`, m²·K/W.
///
/// hc is 5.0 up, 2.5 sideways, 0.7 W/(m²·K) down.
///
/// # Errors
/// [`FabricError::OutOfRange`] for an emissivity outside 0..1.
/// # Source
/// ISO 6946:2007 Annex A (from memory; reproduces the conventional values).
pub fn inside_film_m2k_w(
    direction: Direction,
    emissivity: f64,
    temperature_c: f64,
) -> Result<f64, FabricError> {
    within(|| "inside surface".into(), "emissivity", emissivity, 0.0, 1.0)?;
    let convective = match direction {
        Direction::Upwards => 5.0,
        Direction::Horizontal => 2.5,
        Direction::Downwards => 0.7,
    };
    Ok(1.0 / (convective + emissivity * black_radiative_w_m2k(temperature_c)))
}

/// Returns an outside surface resistance from wind and radiation: `1 / (4 + 4 v + ε hr0)`, m²·K/W.
///
/// # Errors
/// [`FabricError`] for an emissivity outside 0..1 or a wind speed (m/s) that is not above zero.
/// # Source
/// ISO 6946:2007 Annex A (from memory; reproduces its table).
pub fn outside_film_m2k_w(wind_m_s: f64, emissivity: f64, temperature_c: f64) -> Result<f64, FabricError> {
    within(|| "outside surface".into(), "emissivity", emissivity, 0.0, 1.0)?;
    positive(|| "outside surface".into(), "wind speed, m/s", wind_m_s)?;
    Ok(1.0 / (4.0 + 4.0 * wind_m_s + emissivity * black_radiative_w_m2k(temperature_c)))
}
