//! Corrections to a layered transmittance: gaps, fasteners, rain on inverted roofs (ISO 6946).

use crate::error::{FabricError, positive, within};

/// How well insulation is fitted (ISO 6946:2007 Annex D, 2017 Annex F; from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gaps {
    /// No gaps, or only small ones that do not matter: ΔU″ = 0.
    None,
    /// Gaps that bridge the insulation, but no air circulates on its warm side: ΔU″ = 0.01 W/(m²·K).
    Bridging,
    /// Gaps that bridge it and air that circulates on its warm side: ΔU″ = 0.04 W/(m²·K).
    Circulating,
}

impl Gaps {
    /// Returns ΔU″, W/(m²·K).
    pub fn addition_w_m2k(self) -> f64 {
        match self {
            Self::None => 0.0,
            Self::Bridging => 0.01,
            Self::Circulating => 0.04,
        }
    }
}

/// Metal fasteners or ties through an insulation layer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fasteners {
    /// Conductivity of the metal, W/(m·K); below 1 nothing is added.
    pub conductivity_w_mk: f64,
    /// Number per area, 1/m².
    pub count_per_m2: f64,
    /// Cross-section of one, m².
    pub area_m2: f64,
    /// Thickness of the insulation layer d0, m.
    pub insulation_thickness_m: f64,
    /// Length inside the insulation d1, m; at most d0 unless it runs slanting.
    pub length_in_insulation_m: f64,
}

/// Returns ΔUg = ΔU″ (R1/RT)², W/(m²·K).
pub fn gap_addition_w_m2k(gaps: Gaps, r1_m2k_w: f64, r_total_m2k_w: f64) -> f64 {
    let share = r1_m2k_w / r_total_m2k_w;
    gaps.addition_w_m2k() * share * share
}

/// Returns ΔUf = α λf nf Af / d0 (R1/RT)², W/(m²·K), with α = 0.8 right through and 0.8 d1/d0 when recessed.
///
/// # Errors
/// [`FabricError`] when a quantity is not above zero.
/// # Source
/// ISO 6946:2007 Annex D.3 (from memory). Not for ties across an empty cavity, plastic ties, or metal at both ends.
pub fn fastener_addition_w_m2k(
    fasteners: &Fasteners,
    r1_m2k_w: f64,
    r_total_m2k_w: f64,
) -> Result<f64, FabricError> {
    let what = || "fasteners".to_string();
    positive(what, "conductivity, W/(m·K)", fasteners.conductivity_w_mk)?;
    positive(what, "cross-section, m²", fasteners.area_m2)?;
    let d0 = positive(what, "insulation thickness, m", fasteners.insulation_thickness_m)?;
    let d1 = positive(what, "length in the insulation, m", fasteners.length_in_insulation_m)?;
    within(what, "number per m²", fasteners.count_per_m2, 0.0, 1e4)?;
    if fasteners.conductivity_w_mk < 1.0 {
        return Ok(0.0);
    }
    let recess = (d1 / d0).min(1.0);
    let share = r1_m2k_w / r_total_m2k_w;
    Ok(0.8 * recess * fasteners.conductivity_w_mk * fasteners.count_per_m2 * fasteners.area_m2 / d0
        * share
        * share)
}

/// Returns ΔUr = p f x (R1/RT)², W/(m²·K), for rain that flows between inverted insulation and the membrane.
///
/// `rain_mm_day` is the mean rain in the heating season, `drainage_fx` the product f·x, W·day/(m²·K·mm): 0.04 for
/// a single layer of butt-jointed boards under an open covering, the worst usual case.
///
/// # Errors
/// [`FabricError::OutOfRange`] for rain outside 0..50 mm/day or f·x outside 0..0.1.
/// # Source
/// ISO 6946:2007 Annex D.4 (from memory).
pub fn inverted_roof_addition_w_m2k(
    rain_mm_day: f64,
    drainage_fx: f64,
    r1_m2k_w: f64,
    r_total_m2k_w: f64,
) -> Result<f64, FabricError> {
    let what = || "inverted roof".to_string();
    within(what, "rain, mm/day", rain_mm_day, 0.0, 50.0)?;
    within(what, "f·x, W·day/(m²·K·mm)", drainage_fx, 0.0, 0.1)?;
    let share = r1_m2k_w / r_total_m2k_w;
    Ok(rain_mm_day * drainage_fx * share * share)
}
