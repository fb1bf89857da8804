//! The pressure test: from readings at the fan to the leak, its rates and areas, and every validity rule by name.
//!
//! Start at [`evaluate`] for one direction and [`combine`] for the mean of both. Sign: pressures are inside minus
//! outside, so readings under depressurisation are negative. Flows are m³/h, as the trade writes them.
//! Not here: reading files, chances of passing (the regression interval is *not* the full uncertainty).

use crate::leakage::{PowerLaw, REFERENCE_DENSITY_KG_M3, REFERENCE_TEMPERATURE_C};
use crate::network::air_density_kg_m3;
use numeric::regression::{self, Line};
use numeric::{NumericError, beta, exp, ln, pow};
use std::fmt;

/// Which way the fan blew.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Air drawn out; inside below outside.
    Depressurisation,
    /// Air blown in; inside above outside.
    Pressurisation,
}

/// What the flows of a series mean.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FlowState {
    /// Calibrated flow of the air that went through the fan: inside air when depressurising, outside air when
    /// pressurising. Corrected here to flow through the envelope, and to the reference state.
    AtFan,
    /// Corrected to the reference state already by whoever wrote the readings: used as they are.
    Corrected,
}

/// One pair at the fan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Measured pressure difference, Pa, baseline not yet taken off.
    pub pressure_pa: f64,
    /// Flow, m³/h.
    pub flow_m3_h: f64,
}

/// The air and the building on the day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions {
    /// Inside temperature, °C.
    pub inside_c: f64,
    /// Outside temperature, °C.
    pub outside_c: f64,
    /// Barometric pressure, Pa.
    pub barometer_pa: f64,
    /// Height of the tested space, m, for the stack rule; `None` leaves the rule open.
    pub height_m: Option<f64>,
    /// Wind; `None` leaves the rule open.
    pub wind: Option<Wind>,
}

/// Wind, and where it was read: the rule's limit depends on it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Wind {
    /// Read near the ground, m/s.
    NearGround(f64),
    /// Of a weather station, m/s.
    Station(f64),
}

/// Readings in one direction.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// Which way.
    pub direction: Direction,
    /// Zero-flow pressures before: single readings or one mean, Pa.
    pub zero_before_pa: Vec<f64>,
    /// Zero-flow pressures after, Pa.
    pub zero_after_pa: Vec<f64>,
    /// Pressure and flow pairs.
    pub readings: Vec<Reading>,
    /// What the flows mean.
    pub flows: FlowState,
}

/// How the line through the logarithms is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fit {
    /// Ordinary least squares of ln q on ln Δp: what both standards prescribe.
    Unweighted,
    /// Weights q²: each flow equally uncertain in m³/h.
    WeightedByFlow,
    /// Line of organic correlation: both axes carry error (proposal for the next edition of ISO 9972, abstract seen).
    OrganicCorrelation,
    /// Errors in both axes, stated: pressure, Pa, and flow as a share.
    ErrorsInBoth {
        /// Standard uncertainty of a pressure reading, Pa.
        pressure_pa: f64,
        /// Standard uncertainty of a flow reading, as a share.
        flow_share: f64,
    },
}

/// Which rules correct the coefficient to the reference state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standard {
    /// ISO 9972:2015, density ratio to the power 1 − n.
    Iso9972,
    /// ISO 9972:2015, the simplified form by temperatures alone.
    Iso9972TemperatureOnly,
    /// ASTM E779-19, density and viscosity.
    AstmE779,
}

/// One point after correction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Pressure difference without the zero-flow pressure, Pa, positive.
    pub pressure_pa: f64,
    /// Flow through the envelope, m³/h.
    pub envelope_m3_h: f64,
}

/// A value with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Best value.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// The evaluated test of one direction.
#[derive(Clone, Debug, PartialEq)]
pub struct Evaluation {
    /// Which way.
    pub direction: Direction,
    /// Mean zero-flow pressure taken off, Pa.
    pub zero_pa: f64,
    /// Corrected points, in the order read.
    pub points: Vec<Point>,
    /// Line through the logarithms: intercept ln C_env, slope n.
    pub line: Line,
    /// Exponent, with the regression interval.
    pub exponent: Interval,
    /// Flow coefficient at the day's air, m³/(h·Paⁿ), with the regression interval.
    pub envelope_coefficient: Interval,
    /// Factor from the day's coefficient to that of the reference state.
    pub reference_factor: f64,
    /// Coefficient of determination of the logarithms.
    pub r2: f64,
    /// Validity rules, each with its value.
    pub rules: Vec<Rule>,
}

/// A validity rule with what was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Rule {
    /// Standard and clause family.
    pub standard: &'static str,
    /// Stable name.
    pub id: &'static str,
    /// Whether it holds; `None` where the readings do not say.
    pub ok: Option<bool>,
    /// What was found.
    pub value: f64,
    /// What it is held against.
    pub limit: f64,
    /// The rule in words.
    pub text: &'static str,
}

/// Why a series cannot be evaluated.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum TestError {
    /// Fewer than three usable points: no line with an interval.
    TooFewPoints {
        /// Points usable.
        found: usize,
    },
    /// A point's pressure, with the zero-flow pressure taken off, is not on the side of its direction.
    WrongSide {
        /// Index of the reading, from 0.
        reading: usize,
        /// Pressure without the zero-flow pressure, Pa.
        pressure_pa: f64,
    },
    /// A flow, temperature or barometer reading is not a positive number.
    NotPositive {
        /// What it is.
        what: &'static str,
        /// Its value.
        value: f64,
    },
    /// The regression failed: all pressures alike, say.
    Regression(NumericError),
}

impl fmt::Display for TestError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooFewPoints { found } => {
                write!(f, "{found} usable points; a line with its band needs three")
            }
            Self::WrongSide { reading, pressure_pa } => write!(
                f,
                "reading {}: {pressure_pa:.1} Pa after the zero-flow pressure is on the wrong side for its direction",
                reading + 1
            ),
            Self::NotPositive { what, value } => write!(f, "{what} must be above zero, found {value}"),
            Self::Regression(error) => write!(f, "no line fits these readings: {error}"),
        }
    }
}

impl std::error::Error for TestError {}

/// Confidence level of every interval here; the standards' own.
const LEVEL: f64 = 0.95;

/// Evaluates one direction.
///
/// ```text
/// Δp = Δp_m − (Δp0_before + Δp0_after)/2
/// q_env = q_m · ρ_fan side / ρ_other side
/// ln q_env = ln C_env + n·ln Δp          C_L = C_env · (ρ_through leaks / ρ0)^(1−n)
/// ```
///
/// # Errors
/// Any [`TestError`].
///
/// # Source
/// ISO 9972:2015 clauses 5–7 and Annex C; ASTM E779-19 clauses 8–9. Both from memory; checked on synthetic tests with
/// known leaks (`reference/air/pressure_tests`).
pub fn evaluate(
    series: &Series,
    conditions: Conditions,
    fit: Fit,
    standard: Standard,
) -> Result<Evaluation, TestError> {
    let zero = zero_pa(series);
    let points = corrected_points(series, conditions, zero)?;
    if points.len() < 3 {
        return Err(TestError::TooFewPoints { found: points.len() });
    }
    let x: Vec<f64> = points.iter().map(|p| ln(p.pressure_pa)).collect();
    let y: Vec<f64> = points.iter().map(|p| ln(p.envelope_m3_h)).collect();
    let plain = regression::ordinary(&x, &y).map_err(TestError::Regression)?;
    let line = fitted(&points, &x, &y, fit, &plain)?;
    let t = beta::student_t_two_sided(LEVEL, plain.degrees_of_freedom()).map_err(TestError::Regression)?;
    let half_n = t * line.slope_variance.max(0.0).sqrt();
    let half_c = t * line.intercept_variance.max(0.0).sqrt();
    let reference_factor = match series.flows {
        FlowState::Corrected => 1.0,
        FlowState::AtFan => reference_factor(series.direction, conditions, line.slope, standard),
    };
    let rules = rules(series, conditions, &points, line.slope, plain.r2);
    Ok(Evaluation {
        direction: series.direction,
        zero_pa: zero,
        exponent: Interval { value: line.slope, low: line.slope - half_n, high: line.slope + half_n },
        envelope_coefficient: Interval {
            value: exp(line.intercept),
            low: exp(line.intercept - half_c),
            high: exp(line.intercept + half_c),
        },
        reference_factor,
        r2: plain.r2,
        points,
        line,
        rules,
    })
}

impl Evaluation {
    /// Returns the leak at the reference state.
    pub fn leak(&self) -> PowerLaw {
        PowerLaw {
            coefficient_m3_h: self.envelope_coefficient.value * self.reference_factor,
            exponent: self.exponent.value,
        }
    }

    /// Returns the flow at a pressure, m³/h at the reference state, with the regression's 95 % interval.
    ///
    /// Annex C of ISO 9972: the interval of the fitted line, not of what another day would read.
    pub fn flow_at(&self, pressure_pa: f64) -> Interval {
        let value = self.leak().flow_m3_h(pressure_pa);
        let t = beta::student_t_two_sided(LEVEL, self.line.degrees_of_freedom()).unwrap_or(f64::NAN);
        let half = t * self.line.variance_at(ln(pressure_pa)).max(0.0).sqrt();
        Interval { value, low: value * exp(-half), high: value * exp(half) }
    }

    /// Says whether every rule that could be decided holds.
    pub fn valid(&self) -> bool {
        self.rules.iter().all(|rule| rule.ok != Some(false))
    }
}

/// Mean of both directions at a pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Combined {
    /// Mean flow, m³/h.
    pub flow_m3_h: f64,
    /// 95 % half-width with the directions taken as independent, m³/h. They share gauges, wind and preparation, so the
    /// true half-width is larger.
    pub half_width_m3_h: f64,
    /// |difference| over the mean.
    pub difference_share: f64,
}

/// Returns the mean of two directions, or the one there is.
pub fn combine(directions: &[Evaluation], pressure_pa: f64) -> Option<Combined> {
    let flows: Vec<Interval> = directions.iter().map(|d| d.flow_at(pressure_pa)).collect();
    let n = flows.len() as f64;
    if flows.is_empty() {
        return None;
    }
    let mean = flows.iter().map(|f| f.value).sum::<f64>() / n;
    let squares: f64 = flows.iter().map(|f| ((f.high - f.low) / 2.0) * ((f.high - f.low) / 2.0)).sum();
    let spread = flows.iter().map(|f| f.value).fold(f64::NEG_INFINITY, f64::max)
        - flows.iter().map(|f| f.value).fold(f64::INFINITY, f64::min);
    Some(Combined { flow_m3_h: mean, half_width_m3_h: squares.sqrt() / n, difference_share: spread / mean })
}

/// Returns the zero-flow pressure to take off: the mean of before and after; a side that was not read does not count as
/// zero.
pub(crate) fn zero_pa(series: &Series) -> f64 {
    let (before, after) = (&series.zero_before_pa, &series.zero_after_pa);
    match (before.is_empty(), after.is_empty()) {
        (false, true) => mean(before),
        (true, false) => mean(after),
        _ => 0.5 * (mean(before) + mean(after)),
    }
}

fn mean(values: &[f64]) -> f64 {
    if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 }
}

/// Returns the points without their zero-flow pressure, as flows through the envelope: (Pa, m³/h).
///
/// # Errors
/// As [`evaluate`], but for the number of points.
pub fn plain_points(series: &Series, conditions: Conditions) -> Result<Vec<(f64, f64)>, TestError> {
    let points = corrected_points(series, conditions, zero_pa(series))?;
    Ok(points.iter().map(|p| (p.pressure_pa, p.envelope_m3_h)).collect())
}

pub(crate) fn corrected_points(
    series: &Series,
    conditions: Conditions,
    zero: f64,
) -> Result<Vec<Point>, TestError> {
    let inside = air_density_kg_m3(conditions.inside_c, conditions.barometer_pa);
    let outside = air_density_kg_m3(conditions.outside_c, conditions.barometer_pa);
    for (what, value) in
        [("the barometric pressure", conditions.barometer_pa), ("the inside air's density", inside)]
    {
        if !(value > 0.0 && value.is_finite()) {
            return Err(TestError::NotPositive { what, value });
        }
    }
    let (sign, ratio) = match series.direction {
        Direction::Depressurisation => (-1.0, inside / outside),
        Direction::Pressurisation => (1.0, outside / inside),
    };
    let ratio = if series.flows == FlowState::Corrected { 1.0 } else { ratio };
    let correct = |(i, reading): (usize, &Reading)| {
        let pressure = sign * (reading.pressure_pa - zero);
        if !(pressure > 0.0) {
            return Err(TestError::WrongSide { reading: i, pressure_pa: reading.pressure_pa - zero });
        }
        if !(reading.flow_m3_h > 0.0) {
            return Err(TestError::NotPositive { what: "a flow", value: reading.flow_m3_h });
        }
        Ok(Point { pressure_pa: pressure, envelope_m3_h: reading.flow_m3_h * ratio })
    };
    series.readings.iter().enumerate().map(correct).collect()
}

fn fitted(points: &[Point], x: &[f64], y: &[f64], fit: Fit, plain: &Line) -> Result<Line, TestError> {
    match fit {
        Fit::Unweighted => Ok(*plain),
        Fit::WeightedByFlow => {
            let weights: Vec<f64> = points.iter().map(|p| p.envelope_m3_h * p.envelope_m3_h).collect();
            regression::weighted(x, y, &weights).map_err(TestError::Regression)
        }
        Fit::OrganicCorrelation => {
            let (intercept, slope) = regression::organic_correlation(x, y).map_err(TestError::Regression)?;
            Ok(Line { intercept, slope, ..*plain })
        }
        Fit::ErrorsInBoth { pressure_pa, flow_share } => {
            let u_x: Vec<f64> = points.iter().map(|p| pressure_pa / p.pressure_pa).collect();
            let u_y = vec![flow_share; y.len()];
            Ok(regression::york(x, y, &u_x, &u_y).map_err(TestError::Regression)?.line)
        }
    }
}

/// Dynamic viscosity of air, Pa·s: Sutherland's law as ASTM E779 prints it, from memory.
fn viscosity_pa_s(temperature_c: f64) -> f64 {
    let t = temperature_c + 273.15;
    1.458e-6 * t.sqrt() / (1.0 + 110.4 / t)
}

/// Factor from the day's flow coefficient to that of the reference state. The leaks pass outside air when the house is
/// depressurised, inside air when it is pressurised.
pub(crate) fn reference_factor(direction: Direction, c: Conditions, n: f64, standard: Standard) -> f64 {
    let through_c = match direction {
        Direction::Depressurisation => c.outside_c,
        Direction::Pressurisation => c.inside_c,
    };
    let density_share = air_density_kg_m3(through_c, c.barometer_pa) / REFERENCE_DENSITY_KG_M3;
    match standard {
        Standard::Iso9972 => pow(density_share, 1.0 - n),
        Standard::Iso9972TemperatureOnly => {
            pow((REFERENCE_TEMPERATURE_C + 273.15) / (through_c + 273.15), 1.0 - n)
        }
        Standard::AstmE779 => {
            let viscosity_share = viscosity_pa_s(through_c) / viscosity_pa_s(REFERENCE_TEMPERATURE_C);
            pow(viscosity_share, 2.0 * n - 1.0) * pow(density_share, 1.0 - n)
        }
    }
}

/// Limits of ISO 9972:2015 clauses 5 and 6, from memory (the 5 Pa baseline and the lowest-pressure rule also seen in a
/// conference abstract of 2019). Check the edition your test follows.
mod limit {
    pub const ZERO_FLOW_PA: f64 = 5.0;
    pub const LEAST_POINTS: f64 = 5.0;
    pub const WIDEST_STEP_PA: f64 = 10.0;
    pub const LOWEST_PA: f64 = 10.0;
    pub const LOWEST_OVER_ZERO: f64 = 5.0;
    pub const LOWEST_TOLERANCE_PA: f64 = 3.0;
    pub const HIGHEST_AT_LEAST_PA: f64 = 50.0;
    pub const EXPONENT: (f64, f64) = (0.5, 1.0);
    pub const R2: f64 = 0.98;
    pub const HEIGHT_TIMES_DT_M_K: f64 = 250.0;
    pub const GROUND_WIND_M_S: f64 = 3.0;
    pub const STATION_WIND_M_S: f64 = 6.0;
}

fn rules(series: &Series, c: Conditions, points: &[Point], n: f64, r2: f64) -> Vec<Rule> {
    const ISO: &str = "ISO 9972:2015";
    let rule = |id, ok: Option<bool>, value, limit, text| Rule { standard: ISO, id, ok, value, limit, text };
    let zero = largest_zero(series);
    // Pressures that came already corrected bring no zero-flow reading: the rule stays open.
    let zero_read = !(series.zero_before_pa.is_empty() && series.zero_after_pa.is_empty());
    let mut pressures: Vec<f64> = points.iter().map(|p| p.pressure_pa).collect();
    pressures.sort_by(f64::total_cmp);
    let lowest = pressures.first().copied().unwrap_or(f64::NAN);
    let highest = pressures.last().copied().unwrap_or(f64::NAN);
    let step = pressures.windows(2).map(|w| w[1] - w[0]).fold(0.0, f64::max);
    let lowest_limit = limit::LOWEST_PA.max(limit::LOWEST_OVER_ZERO * zero) - limit::LOWEST_TOLERANCE_PA;
    let stack = c.height_m.map(|h| h * (c.inside_c - c.outside_c).abs());
    let count = points.len() as f64;
    let (wind, wind_limit) = match c.wind {
        Some(Wind::NearGround(speed)) => (speed, limit::GROUND_WIND_M_S),
        Some(Wind::Station(speed)) => (speed, limit::STATION_WIND_M_S),
        None => (f64::NAN, limit::GROUND_WIND_M_S),
    };
    vec![
        rule(
            "zero-flow-pressure",
            zero_read.then_some(zero <= limit::ZERO_FLOW_PA),
            if zero_read { zero } else { f64::NAN },
            limit::ZERO_FLOW_PA,
            "zero-flow pressure at most 5 Pa, before and after, each sign by itself",
        ),
        rule(
            "points",
            Some(count >= limit::LEAST_POINTS),
            count,
            limit::LEAST_POINTS,
            "at least five pressure differences",
        ),
        rule(
            "step",
            Some(step <= limit::WIDEST_STEP_PA + 1e-9),
            step,
            limit::WIDEST_STEP_PA,
            "steps of at most about 10 Pa",
        ),
        rule(
            "lowest-pressure",
            Some(lowest >= lowest_limit),
            lowest,
            lowest_limit,
            "no pressure below 10 Pa or five times the zero-flow pressure, whichever is greater (3 Pa tolerance)",
        ),
        rule(
            "highest-pressure",
            Some(highest >= limit::HIGHEST_AT_LEAST_PA - 1e-9),
            highest,
            limit::HIGHEST_AT_LEAST_PA,
            "highest pressure at least 50 Pa",
        ),
        rule("exponent-low", Some(n >= limit::EXPONENT.0), n, limit::EXPONENT.0, "exponent at least 0.5"),
        rule("exponent-high", Some(n <= limit::EXPONENT.1), n, limit::EXPONENT.1, "exponent at most 1"),
        rule("r2", Some(r2 >= limit::R2), r2, limit::R2, "coefficient of determination at least 0.98"),
        rule(
            "stack",
            stack.map(|s| s <= limit::HEIGHT_TIMES_DT_M_K),
            stack.unwrap_or(f64::NAN),
            limit::HEIGHT_TIMES_DT_M_K,
            "height times temperature difference at most 250 m·K",
        ),
        rule(
            "wind",
            c.wind.map(|_| wind <= wind_limit),
            wind,
            wind_limit,
            "wind at most 3 m/s near the ground, or 6 m/s at the weather station",
        ),
    ]
}

/// Largest mean zero-flow pressure: positive and negative readings averaged apart, before and after.
fn largest_zero(series: &Series) -> f64 {
    let part = |readings: &[f64], negative: bool| {
        let side: Vec<f64> = readings.iter().copied().filter(|&p| (p < 0.0) == negative).collect();
        mean(&side).abs()
    };
    [&series.zero_before_pa, &series.zero_after_pa]
        .into_iter()
        .flat_map(|readings| [part(readings, true), part(readings, false)])
        .fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn conditions() -> Conditions {
        Conditions {
            inside_c: 21.0,
            outside_c: 2.0,
            barometer_pa: 98_000.0,
            height_m: Some(6.0),
            wind: Some(Wind::NearGround(1.0)),
        }
    }

    fn series(coefficient: f64, n: f64, direction: Direction) -> Series {
        let sign = if direction == Direction::Depressurisation { -1.0 } else { 1.0 };
        let readings = (1..=7)
            .map(|i| {
                let p = 10.0 * f64::from(i);
                Reading { pressure_pa: sign * p - 1.0, flow_m3_h: coefficient * pow(p, n) }
            })
            .collect();
        Series {
            direction,
            zero_before_pa: vec![-1.0],
            zero_after_pa: vec![-1.0],
            readings,
            flows: FlowState::Corrected,
        }
    }

    #[test]
    fn too_few_points_are_named() {
        let mut s = series(20.0, 0.65, Direction::Depressurisation);
        s.readings.truncate(2);
        let error = evaluate(&s, conditions(), Fit::Unweighted, Standard::Iso9972).unwrap_err();
        assert_eq!(error, TestError::TooFewPoints { found: 2 });
    }

    #[test]
    fn a_reading_on_the_wrong_side_is_named() {
        let mut s = series(20.0, 0.65, Direction::Depressurisation);
        s.readings[3].pressure_pa = 40.0;
        let error = evaluate(&s, conditions(), Fit::Unweighted, Standard::Iso9972).unwrap_err();
        assert!(matches!(error, TestError::WrongSide { reading: 3, .. }), "{error}");
    }

    proptest! {
        #[test]
        fn corrected_readings_give_their_leak_back(c in 5.0..500.0f64, n in 0.5..1.0f64, press in prop::bool::ANY) {
            let direction = if press { Direction::Pressurisation } else { Direction::Depressurisation };
            let e = evaluate(&series(c, n, direction), conditions(), Fit::Unweighted, Standard::Iso9972).unwrap();
            prop_assert!((e.leak().exponent - n).abs() < 1e-10);
            prop_assert!((e.leak().coefficient_m3_h / c - 1.0).abs() < 1e-9);
            prop_assert!(e.valid());
        }

        #[test]
        fn every_fit_agrees_without_noise(c in 5.0..500.0f64, n in 0.5..1.0f64) {
            let s = series(c, n, Direction::Depressurisation);
            for fit in [
                Fit::WeightedByFlow,
                Fit::OrganicCorrelation,
                Fit::ErrorsInBoth { pressure_pa: 0.5, flow_share: 0.02 },
            ] {
                let e = evaluate(&s, conditions(), fit, Standard::AstmE779).unwrap();
                prop_assert!((e.leak().flow_m3_h(50.0) / (c * pow(50.0, n)) - 1.0).abs() < 1e-8);
            }
        }
    }
}
