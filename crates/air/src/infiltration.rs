//! From a leak to the air change it brings: published simple models, each with its range.
//!
//! These are the rules of thumb shown beside the flow network and used where no network is built. None of them knows
//! the building's shape; their errors against a network or a tracer measurement are commonly tens of percent.

use numeric::pow;

/// Returns the year's mean air change by the twentieth rule, 1/h.
///
/// `n_inf ≈ n50 / 20`. Source: attributed to Kronvall and Persily; from memory. A first guess only.
pub fn twentieth_rule_per_h(n50_per_h: f64) -> f64 {
    n50_per_h / 20.0
}

/// How open the site is to wind, for [`excess_infiltration_per_h`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shielding {
    /// Open country, tall buildings in towns.
    Open,
    /// Suburbs, country with trees or other buildings around.
    Moderate,
    /// Town centre, forest.
    Heavy,
}

/// Returns the coefficient e of EN ISO 13789 Annex C for a shielding and for one or several exposed façades.
pub fn shielding_coefficient(shielding: Shielding, several_facades: bool) -> f64 {
    match (shielding, several_facades) {
        (Shielding::Open, true) => 0.10,
        (Shielding::Moderate, true) => 0.07,
        (Shielding::Heavy, true) => 0.04,
        (Shielding::Open, false) => 0.03,
        (Shielding::Moderate, false) => 0.02,
        (Shielding::Heavy, false) => 0.01,
    }
}

/// Returns the extra air change by leaks beside mechanical ventilation, 1/h.
///
/// ```text
/// n_x = n50·e / (1 + f/e · ((V̇_su − V̇_ex)/(V·n50))²)
/// ```
/// | symbol | argument | unit |
/// |---|---|---|
/// | n50 | `n50_per_h` | 1/h |
/// | e, f | by shielding and façades (f 15 several, 20 one) | – |
/// | V̇_su, V̇_ex | `supply_m3_h`, `extract_m3_h` | m³/h |
/// | V | `volume_m3` | m³ |
///
/// # Source
/// EN ISO 13789 Annex C, from memory.
pub fn excess_infiltration_per_h(
    n50_per_h: f64,
    shielding: Shielding,
    several_facades: bool,
    supply_m3_h: f64,
    extract_m3_h: f64,
    volume_m3: f64,
) -> f64 {
    let e = shielding_coefficient(shielding, several_facades);
    let f = if several_facades { 15.0 } else { 20.0 };
    if n50_per_h <= 0.0 {
        return 0.0;
    }
    let imbalance = (supply_m3_h - extract_m3_h) / (volume_m3 * n50_per_h);
    n50_per_h * e / (1.0 + f / e * imbalance * imbalance)
}

/// Returns the momentary flow by the basic effective-leakage-area model, m³/s.
///
/// ```text
/// Q = A_L/1000 · sqrt(C_s·|ΔT| + C_w·U²)
/// ```
/// A_L in cm² at 4 Pa, U the wind at the weather station in m/s; `stack` in (L/s)²/(cm⁴·K) and `wind` in
/// (L/s)²/(cm⁴·(m/s)²) come from the model's tables by storeys and shelter.
///
/// # Source
/// Sherman and Grimsrud 1980, ASHRAE Handbook Fundamentals 2005 ch. 27; from memory. For houses of one to three storeys.
pub fn basic_model_m3_s(leakage_area_cm2: f64, stack: f64, wind: f64, delta_t_k: f64, wind_m_s: f64) -> f64 {
    leakage_area_cm2 / 1000.0 * (stack * delta_t_k.abs() + wind * wind_m_s * wind_m_s).sqrt()
}

/// How stack and wind flow are put together in [`enhanced_model`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Superposition {
    /// Square root of the sum of squares.
    Quadrature,
    /// The original paper's sum with an interaction term.
    Original,
}

/// A leak and its surroundings, for [`enhanced_model`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EnhancedModel {
    /// Flow coefficient, m³/(s·Paⁿ).
    pub coefficient_m3_s: f64,
    /// Flow exponent.
    pub exponent: f64,
    /// Stack coefficient, (Pa/K)ⁿ.
    pub stack: f64,
    /// Wind coefficient, (Pa·s²/m²)ⁿ.
    pub wind: f64,
    /// Shelter factor, 0..1.
    pub shelter: f64,
}

/// Returns the momentary flow by the enhanced single-zone model, m³/s.
///
/// ```text
/// Q_s = c·C_s·|ΔT|ⁿ     Q_w = c·C_w·(s·U)²ⁿ
/// Q = sqrt(Q_s² + Q_w²)  or  (Q_s^(1/n) + Q_w^(1/n) − 0.33·(Q_s·Q_w)^(1/2n))ⁿ
/// ```
/// U is the wind at eaves height, m/s.
///
/// # Source
/// Walker and Wilson 1998; from memory.
pub fn enhanced_model(model: EnhancedModel, delta_t_k: f64, wind_m_s: f64, how: Superposition) -> f64 {
    let n = model.exponent;
    let stack = positive_pow(delta_t_k.abs(), n) * model.coefficient_m3_s * model.stack;
    let wind = positive_pow(model.shelter * wind_m_s, 2.0 * n) * model.coefficient_m3_s * model.wind;
    match how {
        Superposition::Quadrature => (stack * stack + wind * wind).sqrt(),
        Superposition::Original => {
            let sum = positive_pow(stack, 1.0 / n) + positive_pow(wind, 1.0 / n)
                - 0.33 * positive_pow(stack * wind, 0.5 / n);
            positive_pow(sum.max(0.0), n)
        }
    }
}

/// Returns the design infiltration of a heated room, m³/h: `2·V·n50·e·ε`.
///
/// # Source
/// EN 12831:2003, from memory; e by shielding and openings, ε by height.
pub fn design_infiltration_m3_h(volume_m3: f64, n50_per_h: f64, shielding_e: f64, height_factor: f64) -> f64 {
    2.0 * volume_m3 * n50_per_h * shielding_e * height_factor
}

/// Returns xʸ for x ≥ 0, zero at zero.
fn positive_pow(x: f64, y: f64) -> f64 {
    if x <= 0.0 { 0.0 } else { pow(x, y) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn balance_leaves_n50_times_e() {
        let n = excess_infiltration_per_h(0.6, Shielding::Moderate, true, 120.0, 120.0, 360.0);
        assert!((n - 0.042).abs() < 1e-15);
    }

    proptest! {
        #[test]
        fn imbalance_never_adds(n50 in 0.05..10.0f64, su in 0.0..500.0f64, ex in 0.0..500.0f64) {
            let balanced = excess_infiltration_per_h(n50, Shielding::Open, true, su, su, 300.0);
            prop_assert!(excess_infiltration_per_h(n50, Shielding::Open, true, su, ex, 300.0) <= balanced + 1e-12);
        }

        #[test]
        fn superpositions_agree_when_one_force_is_absent(dt in 0.0..60.0f64) {
            let m = EnhancedModel { coefficient_m3_s: 0.05, exponent: 0.67, stack: 0.078, wind: 0.17, shelter: 0.5 };
            let a = enhanced_model(m, dt, 0.0, Superposition::Quadrature);
            let b = enhanced_model(m, dt, 0.0, Superposition::Original);
            prop_assert!((a - b).abs() <= 1e-12 + 1e-12 * a);
        }
    }
}
