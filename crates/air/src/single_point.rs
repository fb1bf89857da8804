//! One- and two-point readings: good enough for a stage target or a difference, never a standard test.
//!
//! One point cannot show its exponent, so the exponent is stated, with a spread that the result carries. Two points tell
//! something of it; how much follows from their distance. Start at [`quick_reading`]. Method: ASTM E1827 (from memory),
//! at any reference pressure (50 Pa, or 75 Pa as ASTM E3158 asks of large buildings, from memory).

use crate::fan_test::{
    Conditions, FlowState, Series, Standard, TestError, Wind, corrected_points, reference_factor, zero_pa,
};
use crate::leakage::PowerLaw;
use crate::network::air_density_kg_m3;
use crate::test_budget::{Circumstances, Estimate, Instruments};
use numeric::{exp, ln};

/// An exponent as stated, not measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StatedExponent {
    /// Best value.
    pub value: f64,
    /// Standard uncertainty.
    pub standard_uncertainty: f64,
}

impl Default for StatedExponent {
    /// 0.65 as ASTM E1827 assumes (from memory); exponents of whole buildings scatter by about 0.05 (judgement).
    fn default() -> Self {
        Self { value: 0.65, standard_uncertainty: 0.05 }
    }
}

/// What one or two points say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct QuickReading {
    /// Flow at the reference pressure, m³/h at the reference state, with its full uncertainty.
    pub flow: Estimate,
    /// Exponent after the points were seen.
    pub exponent: StatedExponent,
    /// Points used.
    pub points: usize,
    /// Always false: neither ISO 9972 nor ASTM E779 knows such a test.
    pub standard_test: bool,
}

impl QuickReading {
    /// Returns the leak through the result.
    pub fn leak(&self, pressure_pa: f64) -> PowerLaw {
        PowerLaw::through(self.flow.value, pressure_pa, self.exponent.value)
    }
}

/// Scatter of a single flow reading at steady pressure, as a share; common practice, no source.
pub const READING_SHARE: f64 = 0.01;

/// Evaluates one or more points with a stated exponent.
///
/// Unknown are `a = ln Q_ref` and n; each point says `ln q = a + n·ln(p/p_ref) ± u`, the statement says `n = n0 ± u_n`.
/// Both together are a small weighted least-squares problem with a closed solution. What all points share (fan, gauge,
/// preparation, guard) is added afterwards.
///
/// # Errors
/// As [`crate::fan_test::evaluate`], and [`TestError::TooFewPoints`] without any point.
///
/// # Example
/// ```
/// use air::fan_test::{Conditions, Direction, FlowState, Reading, Series, Standard};
/// use air::single_point::{StatedExponent, quick_reading};
/// let series = Series {
///     direction: Direction::Depressurisation,
///     zero_before_pa: vec![],
///     zero_after_pa: vec![],
///     readings: vec![Reading { pressure_pa: -40.0, flow_m3_h: 520.0 }],
///     flows: FlowState::Corrected,
/// };
/// let day = Conditions { inside_c: 20.0, outside_c: 20.0, barometer_pa: 101_325.0, height_m: None, wind: None };
/// let quick = quick_reading(&series, day, StatedExponent::default(), 50.0, Standard::Iso9972,
///     Default::default(), Default::default())?;
/// assert!((quick.flow.value - 520.0 * (50.0_f64 / 40.0).powf(0.65)).abs() < 1e-9);
/// assert!(!quick.standard_test);
/// # Ok::<(), air::fan_test::TestError>(())
/// ```
pub fn quick_reading(
    series: &Series,
    conditions: Conditions,
    exponent: StatedExponent,
    pressure_pa: f64,
    standard: Standard,
    instruments: Instruments,
    circumstances: Circumstances,
) -> Result<QuickReading, TestError> {
    let zero = zero_pa(series);
    let points = corrected_points(series, conditions, zero)?;
    if points.is_empty() {
        return Err(TestError::TooFewPoints { found: 0 });
    }
    if !(exponent.standard_uncertainty > 0.0) {
        return Err(TestError::NotPositive {
            what: "the standard uncertainty of the exponent",
            value: exponent.standard_uncertainty,
        });
    }
    let wind = match conditions.wind {
        Some(Wind::NearGround(speed)) => speed,
        Some(Wind::Station(speed)) => 0.5 * speed,
        None => 2.0,
    };
    let stagnation = 0.5 * air_density_kg_m3(conditions.outside_c, conditions.barometer_pa) * wind * wind;
    // One reading at one moment: gusts and the gauge's leftover enter each point by themselves.
    let gust = circumstances.drift_per_stagnation * 2.0_f64.sqrt() * stagnation;
    let point_pa = (instruments.gauge_pa * instruments.gauge_pa + gust * gust).sqrt();
    let prior = 1.0 / (exponent.standard_uncertainty * exponent.standard_uncertainty);
    // Normal equations of (a, n).
    let (mut waa, mut wan, mut wnn) = (0.0, 0.0, prior);
    let (mut ba, mut bn) = (0.0, prior * exponent.value);
    for point in &points {
        let x = ln(point.pressure_pa / pressure_pa);
        let y = ln(point.envelope_m3_h);
        let by_pressure = exponent.value * point_pa / point.pressure_pa;
        let w = 1.0 / (READING_SHARE * READING_SHARE + by_pressure * by_pressure);
        waa += w;
        wan += w * x;
        wnn += w * x * x;
        ba += w * y;
        bn += w * x * y;
    }
    let determinant = waa * wnn - wan * wan;
    let n = (waa * bn - wan * ba) / determinant;
    let a = (wnn * ba - wan * bn) / determinant;
    let correction = match series.flows {
        FlowState::Corrected => 1.0,
        FlowState::AtFan => reference_factor(series.direction, conditions, n, standard),
    };
    let flow = exp(a) * correction;
    let guard = circumstances.guard.map_or(0.0, |g| g.party.flow_m3_h(g.residual_pa.abs()) / flow);
    let zero_shift = circumstances.zero_per_stagnation * stagnation * n / pressure_pa;
    let shared = [
        n * instruments.gauge_share,
        instruments.fan_share,
        circumstances.preparation_share,
        guard,
        zero_shift,
    ];
    let variance = wnn / determinant + shared.iter().map(|u| u * u).sum::<f64>();
    Ok(QuickReading {
        flow: Estimate {
            value: flow,
            standard_uncertainty: flow * variance.sqrt(),
            degrees_of_freedom: f64::INFINITY,
        },
        exponent: StatedExponent { value: n, standard_uncertainty: (waa / determinant).sqrt() },
        points: points.len(),
        standard_test: false,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fan_test::{Direction, Reading};
    use numeric::pow;
    use proptest::prelude::*;

    fn calm() -> Conditions {
        Conditions {
            inside_c: 20.0,
            outside_c: 20.0,
            barometer_pa: 101_325.0,
            height_m: None,
            wind: Some(Wind::NearGround(1.0)),
        }
    }

    fn series(points: &[(f64, f64)]) -> Series {
        Series {
            direction: Direction::Depressurisation,
            zero_before_pa: vec![],
            zero_after_pa: vec![],
            readings: points.iter().map(|&(p, q)| Reading { pressure_pa: -p, flow_m3_h: q }).collect(),
            flows: FlowState::Corrected,
        }
    }

    fn quick(points: &[(f64, f64)], at: f64) -> QuickReading {
        quick_reading(
            &series(points),
            calm(),
            StatedExponent::default(),
            at,
            Standard::Iso9972,
            Instruments::default(),
            Circumstances::default(),
        )
        .unwrap()
    }

    #[test]
    fn read_at_the_reference_pressure_the_exponent_hardly_matters() {
        let q = quick(&[(50.0, 601.0)], 50.0);
        assert!((q.flow.value - 601.0).abs() < 1e-9);
        let far = quick(&[(20.0, 601.0 * pow(0.4, 0.65))], 50.0);
        assert!((far.flow.value - 601.0).abs() < 1e-6);
        assert!(far.flow.standard_uncertainty > 1.5 * q.flow.standard_uncertainty);
    }

    #[test]
    fn two_points_teach_the_exponent() {
        let steep = quick(&[(12.5, 20.0 * pow(12.5, 0.8)), (50.0, 20.0 * pow(50.0, 0.8))], 50.0);
        assert!(steep.exponent.value > 0.76 && steep.exponent.standard_uncertainty < 0.02, "{steep:?}");
        // Near one another they teach little.
        let near = quick(&[(48.0, 20.0 * pow(48.0, 0.8)), (50.0, 20.0 * pow(50.0, 0.8))], 50.0);
        assert!((near.exponent.value - 0.65).abs() < 0.03, "{near:?}");
    }

    #[test]
    fn nothing_is_refused_in_words() {
        let error = quick_reading(
            &series(&[]),
            calm(),
            StatedExponent::default(),
            50.0,
            Standard::Iso9972,
            Instruments::default(),
            Circumstances::default(),
        )
        .unwrap_err();
        assert_eq!(error, TestError::TooFewPoints { found: 0 });
    }

    proptest! {
        #[test]
        fn another_point_never_widens(p in 10.0..70.0f64, c in 5.0..500.0f64) {
            let one = quick(&[(50.0, c * pow(50.0, 0.65))], 75.0);
            let two = quick(&[(50.0, c * pow(50.0, 0.65)), (p, c * pow(p, 0.65))], 75.0);
            prop_assert!(two.flow.standard_uncertainty <= one.flow.standard_uncertainty * (1.0 + 1e-9));
            prop_assert!((two.flow.value / one.flow.value - 1.0).abs() < 1e-9);
        }
    }
}
