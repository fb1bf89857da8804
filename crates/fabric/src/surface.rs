//! Inside surfaces that stay dry: temperature factor and lowest safe surface temperature (ISO 13788).
//!
//! For plane walls; joints come from a detail. A surface temperature above the limit does not promise a house free of
//! mould: furniture, leaks, and rooms kept cold or damp were not looked at.

use crate::error::{FabricError, positive, within};
use crate::working::Working;
use numeric::{exp, ln};

/// Inside surface resistance for surface moisture on opaque parts, m²·K/W (ISO 13788: corners, behind furniture).
pub const RSI_OPAQUE: f64 = 0.25;
/// The same on glazing and frames, m²·K/W.
pub const RSI_GLAZING: f64 = 0.13;
/// Highest mean relative humidity at a surface that mould does not grow at, ISO 13788.
pub const MOULD_HUMIDITY: f64 = 0.8;

/// Returns the temperature factor of a surface: `f_Rsi = (θsi − θe) / (θi − θe)`.
///
/// # Errors
/// [`FabricError::Inconsistent`] when inside and outside are equally warm.
pub fn temperature_factor(surface_c: f64, inside_c: f64, outside_c: f64) -> Result<f64, FabricError> {
    let span = inside_c - outside_c;
    if span == 0.0 || !span.is_finite() {
        return Err(FabricError::Inconsistent {
            what: "temperature factor".into(),
            detail: format!("inside ({inside_c} °C) and outside ({outside_c} °C) must differ"),
        });
    }
    Ok((surface_c - outside_c) / span)
}

/// Returns the temperature factor of a plane wall: `1 − Rsi / (Rsi + R + Rse)`.
///
/// `own_m2k_w` is the resistance between its faces, `rsi_m2k_w` usually [`RSI_OPAQUE`].
///
/// # Errors
/// [`FabricError`] for resistances out of range.
/// # Source
/// ISO 13788:2012, 5.2 (from memory).
pub fn plain_wall_factor(own_m2k_w: f64, rsi_m2k_w: f64, rse_m2k_w: f64) -> Result<f64, FabricError> {
    let what = || "plain wall".to_string();
    positive(what, "resistance between the faces, m²·K/W", own_m2k_w)?;
    within(what, "Rsi, m²·K/W", rsi_m2k_w, 0.0, 1.0)?;
    within(what, "Rse, m²·K/W", rse_m2k_w, 0.0, 1.0)?;
    Ok(1.0 - rsi_m2k_w / (rsi_m2k_w + own_m2k_w + rse_m2k_w))
}

/// Returns the saturation pressure, Pa, by the formula of ISO 13788 (Annex E); −40..60 °C.
pub fn saturation_pa(temperature_c: f64) -> f64 {
    let t = temperature_c;
    if t >= 0.0 { 610.5 * exp(17.269 * t / (237.3 + t)) } else { 610.5 * exp(21.875 * t / (265.5 + t)) }
}

/// Returns the temperature whose saturation pressure is given, °C: the inverse of [`saturation_pa`].
///
/// # Errors
/// [`FabricError::OutOfRange`] outside 10..20 000 Pa.
pub fn saturation_temperature_c(pressure_pa: f64) -> Result<f64, FabricError> {
    within(|| "saturation temperature".into(), "vapour pressure, Pa", pressure_pa, 10.0, 20_000.0)?;
    let x = ln(pressure_pa / 610.5);
    Ok(if x >= 0.0 { 237.3 * x / (17.269 - x) } else { 265.5 * x / (21.875 - x) })
}

/// What a surface must reach.
#[derive(Clone, Debug, PartialEq)]
pub struct SurfaceLimit {
    /// Lowest safe surface temperature, °C.
    pub surface_c: f64,
    /// Lowest safe temperature factor.
    pub factor: f64,
    /// The working.
    pub working: Working,
}

/// Returns the lowest surface temperature at which the humidity there stays at or under `limit` (0.8 mould, 1.0
/// condensation).
///
/// ```text
/// p = φ psat(θi),   psat(θsi,min) = p / limit,   f = (θsi,min − θe) / (θi − θe)
/// ```
///
/// # Errors
/// [`FabricError`] for humidities outside 0..1 or equal temperatures.
/// # Source
/// ISO 13788:2012, 5.3 (from memory).
pub fn limit(
    inside_c: f64,
    inside_humidity: f64,
    outside_c: f64,
    limit: f64,
) -> Result<SurfaceLimit, FabricError> {
    let what = || "surface moisture".to_string();
    within(what, "inside temperature, °C", inside_c, -20.0, 50.0)?;
    within(what, "outside temperature, °C", outside_c, -50.0, 50.0)?;
    within(what, "inside relative humidity", inside_humidity, 0.01, 1.0)?;
    within(what, "humidity allowed at the surface", limit, 0.1, 1.0)?;
    let mut w = Working::new();
    let p = w.step("p", "vapour pressure", inside_humidity * saturation_pa(inside_c), "Pa", "ISO 13788 E.1");
    let needed =
        w.step("psat", "saturation pressure needed at the surface", p / limit, "Pa", "ISO 13788 5.3");
    let surface = saturation_temperature_c(needed)?;
    w.step("θsi,min", "lowest safe surface temperature", surface, "°C", "ISO 13788 5.3");
    let factor = temperature_factor(surface, inside_c, outside_c)?;
    w.step("f_Rsi,min", "lowest safe temperature factor", factor, "", "ISO 13788 5.3");
    Ok(SurfaceLimit { surface_c: surface, factor, working: w })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn saturation_inverts() {
        for t in [-20.0, -0.5, 0.0, 0.5, 12.6, 30.0] {
            let back = saturation_temperature_c(saturation_pa(t)).unwrap();
            assert!((back - t).abs() < 1e-10, "{t} {back}");
        }
    }

    #[test]
    fn usual_room_needs_twelve_point_six() {
        // 20 °C, 50 %, −5 °C outside: the often quoted 12.6 °C and 0.70.
        let l = limit(20.0, 0.5, -5.0, MOULD_HUMIDITY).unwrap();
        assert!((l.surface_c - 12.6).abs() < 0.05, "{}", l.surface_c);
        assert!((l.factor - 0.70).abs() < 0.005);
        let dew = limit(20.0, 0.5, -5.0, 1.0).unwrap();
        assert!((dew.surface_c - 9.3).abs() < 0.05, "{}", dew.surface_c);
    }

    #[test]
    fn plain_wall_factor_is_that_of_its_surface() {
        let f = plain_wall_factor(2.0, 0.25, 0.04).unwrap();
        let surface = 20.0 - 25.0 * 0.25 / 2.29;
        assert!((temperature_factor(surface, 20.0, -5.0).unwrap() - f).abs() < 1e-12);
        assert!(temperature_factor(1.0, 5.0, 5.0).is_err());
    }
}
