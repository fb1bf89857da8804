//! Air cavities in frame sections as solids of equivalent conductivity (ISO 10077-2).

use crate::error::{FabricError, positive};

/// Conductivity of still air times one metre per metre, W/(m·K).
const C1: f64 = 0.025;
/// Convection when the faces' temperatures are not known, W/(m²·K).
const C3: f64 = 1.57;
/// Radiation between faces of emissivity 0.9 at 10 °C, W/(m²·K).
const C4: f64 = 2.11;

/// How a cavity meets outdoors.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Opening {
    /// Closed, or open by a slot of at most 2 mm.
    Closed,
    /// Open by a slot of 2 to 10 mm: twice the closed conductivity. Wider ones are not cavities but surfaces.
    Slot,
}

/// Returns the equivalent conductivity of a rectangular cavity, W/(m·K).
///
/// ```text
/// λ = d / R,  R = 1 / (ha + hr)
/// ha = C1/d for b < 5 mm, else max(C1/d, C3);   hr = C4 (1 + √(1 + (d/b)²) − d/b)
/// ```
/// | symbol | argument   | unit | meaning                           |
/// |--------|------------|------|-----------------------------------|
/// | d      | `depth_m`  | m    | along the heat flow, above zero   |
/// | b      | `width_m`  | m    | across the heat flow, above zero  |
///
/// # Errors
/// [`FabricError`] when a dimension is not above zero.
/// # Source
/// ISO 10077-2:2012, clause 6 (C1, C3, C4 seen in a journal paper's nomenclature, Acta Polytechnica Hungarica 11(8)
/// 2014; the form from memory). Faces of emissivity 0.9 at 10 °C mean; the 2017 edition's radiosity is not covered.
pub fn conductivity_w_mk(depth_m: f64, width_m: f64, opening: Opening) -> Result<f64, FabricError> {
    let what = || "cavity".to_string();
    let d = positive(what, "depth along the heat flow, m", depth_m)?;
    let b = positive(what, "width across the heat flow, m", width_m)?;
    let still = C1 / d;
    let convection = if b < 0.005 { still } else { still.max(C3) };
    let slim = d / b;
    let radiation = C4 * (1.0 + (1.0 + slim * slim).sqrt() - slim);
    let closed = d * (convection + radiation);
    Ok(match opening {
        Opening::Closed => closed,
        Opening::Slot => 2.0 * closed,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reference_cavity() {
        let c = conductivity_w_mk(0.020, 0.040, Opening::Closed).unwrap();
        assert!((c - 0.099_681).abs() < 5e-7, "{c}");
        assert_eq!(conductivity_w_mk(0.020, 0.040, Opening::Slot).unwrap(), 2.0 * c);
        assert!(conductivity_w_mk(0.0, 0.04, Opening::Closed).is_err());
    }

    #[test]
    fn narrow_gap_conducts_as_still_air_and_radiation() {
        let c = conductivity_w_mk(0.003, 0.003, Opening::Closed).unwrap();
        assert!(c > 0.025 && c < 0.035, "{c}");
    }
}
