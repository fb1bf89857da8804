//! The full uncertainty of a pressure test's result, and the chance of being at or under a limit.
//!
//! The interval of the regression knows only how the points scatter about their line. What all points share (the
//! gauge's scale, the fan's calibration, a zero-flow pressure that drifted, openings prepared a little differently) it
//! cannot see. Start at [`budget`]; divide by a volume or an area with [`Budget::per`]; ask
//! [`Estimate::chance_at_or_under`]. Derivation: `docs/method/pressure-test.md`.
//! Not here: what a future test will read (`forecast`).

use crate::fan_test::{
    Conditions, Direction, Evaluation, Fit, Interval, Series, Standard, TestError, Wind, evaluate,
};
use crate::leakage::PowerLaw;
use crate::network::{GRAVITY_M_S2, air_density_kg_m3};
use numeric::{beta, exp, ln, normal, regression};

/// A value with its standard uncertainty and the degrees of freedom that uncertainty was found with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Best value.
    pub value: f64,
    /// Standard uncertainty, in the unit of the value.
    pub standard_uncertainty: f64,
    /// Degrees of freedom; infinite where the uncertainty itself is stated.
    pub degrees_of_freedom: f64,
}

/// Beyond this many degrees of freedom Student's t is the normal distribution to six digits.
const MANY_DEGREES: f64 = 1e6;

impl Estimate {
    /// `value ± a`: `a` is the 95 % half-width with coverage factor 2 (ISO/IEC Guide 98-3).
    ///
    /// # Example
    /// ```
    /// use air::test_budget::Estimate;
    /// // 0.57 ± 0.06 1/h (95 %): 84 in 100 at or under 0.60.
    /// let n50 = Estimate::stated(0.57, 0.06);
    /// assert_eq!((100.0 * n50.chance_at_or_under(0.60)).round(), 84.0);
    /// ```
    pub fn stated(value: f64, half_width95: f64) -> Self {
        Self { value, standard_uncertainty: 0.5 * half_width95, degrees_of_freedom: f64::INFINITY }
    }

    /// Returns half the interval that holds the truth with probability `level`; NaN for a level outside (0, 1).
    pub fn half_width(&self, level: f64) -> f64 {
        let k = if self.degrees_of_freedom > MANY_DEGREES {
            normal::quantile(0.5 + 0.5 * level)
        } else {
            beta::student_t_two_sided(level, self.degrees_of_freedom).unwrap_or(f64::NAN)
        };
        k * self.standard_uncertainty
    }

    /// Returns the interval that holds the truth with probability `level`.
    pub fn interval(&self, level: f64) -> Interval {
        let half = self.half_width(level);
        Interval { value: self.value, low: self.value - half, high: self.value + half }
    }

    /// Returns the chance that the truth is at or under a limit.
    pub fn chance_at_or_under(&self, limit: f64) -> f64 {
        if self.standard_uncertainty == 0.0 {
            return f64::from(u8::from(self.value <= limit));
        }
        let z = (limit - self.value) / self.standard_uncertainty;
        if self.degrees_of_freedom > MANY_DEGREES {
            normal::cdf(z)
        } else {
            beta::student_t_cdf(z, self.degrees_of_freedom)
        }
    }
}

/// Where uncertainty comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Source {
    /// Scatter of the points about their line.
    Regression,
    /// Scale of the pressure gauge.
    Gauge,
    /// Calibration of the fan.
    Fan,
    /// Zero-flow pressure that drifted between its own reading and the others.
    ZeroDrift,
    /// Wind and stack: the zero-flow pressure is not the mean pressure over the leaks.
    WindZero,
    /// Wind and stack: façades at unequal pressures pass less than at their mean.
    WindFacades,
    /// Openings closed, sealed or forgotten.
    Preparation,
    /// Air through the party boundary driven by what was left of the guard's pressure difference.
    GuardResidual,
    /// Volume or area the flow is divided by.
    Size,
}

/// One line of the budget.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// What it is.
    pub source: Source,
    /// Standard uncertainty of each direction's flow, as a signed share: sources that push the directions apart have
    /// opposite signs.
    pub by_direction: Vec<f64>,
    /// Correlation of the source between directions: 1 the same cause, 0 a new one.
    pub correlation: f64,
    /// Degrees of freedom it was found with, for each direction alone.
    pub degrees_of_freedom: f64,
}

impl Item {
    /// Returns the standard uncertainty of the mean of directions, as a share.
    pub fn share(&self) -> f64 {
        let n = self.by_direction.len() as f64;
        let own: f64 = self.by_direction.iter().map(|u| u * u).sum();
        let sum: f64 = self.by_direction.iter().sum();
        // Σ_d u_d² + ρ Σ_{d≠e} u_d u_e, the cross terms written by the square of the sum.
        ((1.0 - self.correlation) * own + self.correlation * sum * sum).max(0.0).sqrt() / n
    }
}

/// Standard uncertainties of the instruments, from their certificates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Instruments {
    /// Scale of the pressure gauge, as a share.
    pub gauge_share: f64,
    /// What is left of the gauge's offset after zeroing, Pa.
    pub gauge_pa: f64,
    /// Calibration of the fan's flow, as a share.
    pub fan_share: f64,
    /// Correlation of the fan's error between the two directions, 0..1.
    pub fan_common: f64,
}

impl Default for Instruments {
    /// What ISO 9972 allows at most, read as a uniform tolerance: 1 Pa or so of gauge, 7 % of flow (from memory), would
    /// be far wider than instruments in use; these are common practice, no source: 0.5 %, 0.1 Pa, 2 %, half common.
    fn default() -> Self {
        Self { gauge_share: 0.005, gauge_pa: 0.1, fan_share: 0.02, fan_common: 0.5 }
    }
}

/// What else made the test uncertain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circumstances {
    /// Standard uncertainty by preparation, as a share of the flow. Judgement: 0.01 for a listed and photographed
    /// preparation, 0.03 otherwise.
    pub preparation_share: f64,
    /// The neighbour held at equal pressure, if it was.
    pub guard: Option<Guard>,
    /// Drift of the zero-flow pressure per wind stagnation pressure ρ/2·U². With coefficients 0.3 apart and speeds
    /// that vary by 20 % between averages, 2·0.2·0.3/√2 = 0.085: 0.10 by judgement.
    pub drift_per_stagnation: f64,
    /// Zero-flow pressure against the mean over the leaks, per stagnation pressure; 0.10 by judgement.
    pub zero_per_stagnation: f64,
    /// Spread of façade pressures, standard deviation per stagnation pressure: coefficients of +0.6 and −0.4 give 0.45.
    pub facades_per_stagnation: f64,
}

impl Default for Circumstances {
    fn default() -> Self {
        Self {
            preparation_share: 0.01,
            guard: None,
            drift_per_stagnation: 0.10,
            zero_per_stagnation: 0.10,
            facades_per_stagnation: 0.45,
        }
    }
}

/// A guarded party boundary.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guard {
    /// Leak through the party boundary.
    pub party: PowerLaw,
    /// Standard deviation of the pressure left across it during the test, Pa.
    pub residual_pa: f64,
}

/// A test as run: one or two directions.
#[derive(Clone, Copy, Debug)]
pub struct Test<'a> {
    /// Readings, one series a direction.
    pub series: &'a [Series],
    /// Air and building on the day.
    pub conditions: Conditions,
    /// How the line is drawn.
    pub fit: Fit,
    /// Rules of the reference state.
    pub standard: Standard,
}

/// The budget of the mean of directions.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// Reference pressure, Pa.
    pub pressure_pa: f64,
    /// Mean flow at the reference pressure, m³/h.
    pub flow: Estimate,
    /// Every source, also those that came out as zero.
    pub items: Vec<Item>,
    /// Evaluation of each direction.
    pub evaluations: Vec<Evaluation>,
}

/// Returns the flow at a reference pressure with its full uncertainty.
///
/// Shares add as variances, with their correlation between directions; the degrees of freedom of the sum are
/// Welch and Satterthwaite's (ISO/IEC Guide 98-3, annex G). What shifts a pressure is carried through by fitting the
/// shifted readings again, so that its leverage at the reference pressure is the test's own.
///
/// # Errors
/// As [`evaluate`]; [`TestError::TooFewPoints`] without any series.
pub fn budget(
    test: Test<'_>,
    pressure_pa: f64,
    instruments: Instruments,
    circumstances: Circumstances,
) -> Result<Budget, TestError> {
    let evaluations = evaluations(test)?;
    let (zeros, shapes) = weather(test, circumstances);
    let mut items = vec![
        regression_item(&evaluations, pressure_pa),
        item(Source::Gauge, evaluations.iter().map(|e| e.exponent.value * instruments.gauge_share), 1.0),
        item(Source::Fan, evaluations.iter().map(|_| instruments.fan_share), instruments.fan_common),
    ];
    let mut drift = Vec::new();
    let mut zero = Vec::new();
    let mut facades = Vec::new();
    for (series, evaluation) in test.series.iter().zip(&evaluations) {
        // A small difference between before and after proves nothing: one degree of freedom. A large one does.
        let both = !series.zero_before_pa.is_empty() && !series.zero_after_pa.is_empty();
        let difference = mean(&series.zero_before_pa) - mean(&series.zero_after_pa);
        let seen = if both { 0.5 * difference.abs() } else { 0.0 };
        let expected =
            squares(&[instruments.gauge_pa, circumstances.drift_per_stagnation * shapes.stagnation_pa]);
        drift.push(shift_share(test, series, evaluation, pressure_pa, seen.max(expected))?);
        zero.push(shift_share(test, series, evaluation, pressure_pa, zeros)?);
        facades.push(facade_share(evaluation, pressure_pa, shapes.facades_pa)?);
    }
    items.push(item(Source::ZeroDrift, drift, 0.0));
    items.push(item(Source::WindZero, zero, 1.0));
    items.push(item(Source::WindFacades, facades, 1.0));
    items.push(item(Source::Preparation, evaluations.iter().map(|_| circumstances.preparation_share), 1.0));
    let guard = |e: &Evaluation| match circumstances.guard {
        Some(guard) => guard.party.flow_m3_h(guard.residual_pa.abs()) / e.leak().flow_m3_h(pressure_pa),
        None => 0.0,
    };
    items.push(item(Source::GuardResidual, evaluations.iter().map(guard), 0.0));
    let flow =
        evaluations.iter().map(|e| e.leak().flow_m3_h(pressure_pa)).sum::<f64>() / evaluations.len() as f64;
    Ok(Budget { pressure_pa, flow: estimate(flow, &items), items, evaluations })
}

/// Returns the mean flow with the regression's uncertainty alone, directions taken as independent: what the standards'
/// own interval says.
///
/// # Errors
/// As [`budget`].
pub fn regression_only(test: Test<'_>, pressure_pa: f64) -> Result<Estimate, TestError> {
    let evaluations = evaluations(test)?;
    let flow =
        evaluations.iter().map(|e| e.leak().flow_m3_h(pressure_pa)).sum::<f64>() / evaluations.len() as f64;
    Ok(estimate(flow, &[regression_item(&evaluations, pressure_pa)]))
}

impl Budget {
    /// Returns flow over a volume or an area (air-change rate, specific leakage), with that size's own standard
    /// uncertainty as a share added to the budget.
    pub fn per(&self, size: f64, size_share: f64) -> Estimate {
        let mut items = self.items.clone();
        items.push(item(Source::Size, self.evaluations.iter().map(|_| size_share), 1.0));
        estimate(self.flow.value / size, &items)
    }

    /// Returns the same readings under each counting rule: name, size and its standard uncertainty as a share.
    pub fn by_rule(&self, rules: &[(&str, f64, f64)], limit: f64) -> Vec<Ruled> {
        rules
            .iter()
            .map(|&(rule, size, share)| {
                let value = self.per(size, share);
                Ruled {
                    rule: rule.to_owned(),
                    value,
                    met: value.value <= limit,
                    chance: value.chance_at_or_under(limit),
                }
            })
            .collect()
    }

    /// Returns the sources with their share of the variance, largest first.
    pub fn causes(&self) -> Vec<(Source, f64)> {
        let total: f64 = self.items.iter().map(|i| i.share() * i.share()).sum();
        let mut causes: Vec<(Source, f64)> =
            self.items.iter().map(|i| (i.source, i.share() * i.share() / total)).collect();
        causes.sort_by(|a, b| b.1.total_cmp(&a.1));
        causes
    }
}

/// A result under one counting rule.
#[derive(Clone, Debug, PartialEq)]
pub struct Ruled {
    /// Name of the rule.
    pub rule: String,
    /// The result.
    pub value: Estimate,
    /// Whether the best value meets the limit: where rules differ in this, the rule decides, not the building.
    pub met: bool,
    /// Chance of being at or under the limit.
    pub chance: f64,
}

/// Pressures that wind and stack lay on the leaks.
struct Shapes {
    stagnation_pa: f64,
    facades_pa: f64,
}

/// Returns the standard uncertainty of the zero-flow pressure against the leaks' mean, Pa, and the shapes behind it.
/// Without a wind reading 2 m/s is assumed: a light wind, never none.
fn weather(test: Test<'_>, c: Circumstances) -> (f64, Shapes) {
    const ASSUMED_WIND_M_S: f64 = 2.0;
    // Near the ground about half of what a station's mast reads (common practice, no source).
    let speed = match test.conditions.wind {
        Some(Wind::NearGround(speed)) => speed,
        Some(Wind::Station(speed)) => 0.5 * speed,
        None => ASSUMED_WIND_M_S,
    };
    let air = |t| air_density_kg_m3(t, test.conditions.barometer_pa);
    let outside = air(test.conditions.outside_c);
    let stagnation_pa = 0.5 * outside * speed * speed;
    // Evenly spread leaks over the height: the stack's standard deviation is its whole over √12.
    let stack = (outside - air(test.conditions.inside_c)).abs()
        * GRAVITY_M_S2
        * test.conditions.height_m.unwrap_or(0.0)
        / 12.0_f64.sqrt();
    let facades_pa = squares(&[c.facades_per_stagnation * stagnation_pa, stack]);
    (c.zero_per_stagnation * stagnation_pa, Shapes { stagnation_pa, facades_pa })
}

fn evaluations(test: Test<'_>) -> Result<Vec<Evaluation>, TestError> {
    if test.series.is_empty() {
        return Err(TestError::TooFewPoints { found: 0 });
    }
    test.series.iter().map(|s| evaluate(s, test.conditions, test.fit, test.standard)).collect()
}

fn regression_item(evaluations: &[Evaluation], pressure_pa: f64) -> Item {
    let shares: Vec<f64> = evaluations.iter().map(|e| e.line.variance_at(ln(pressure_pa)).sqrt()).collect();
    let degrees = evaluations.iter().map(|e| e.line.degrees_of_freedom()).fold(f64::INFINITY, f64::min);
    Item { source: Source::Regression, by_direction: shares, correlation: 0.0, degrees_of_freedom: degrees }
}

fn item(source: Source, shares: impl IntoIterator<Item = f64>, correlation: f64) -> Item {
    Item {
        source,
        by_direction: shares.into_iter().collect(),
        correlation,
        degrees_of_freedom: f64::INFINITY,
    }
}

/// Returns the signed share by which a direction's flow moves when its zero-flow pressure is shifted by `shift_pa`.
///
/// By the difference of two fits: the line's own leverage, whatever the points. Where a shift would push a point to the
/// wrong side the smaller shift that keeps it is used and scaled up.
fn shift_share(
    test: Test<'_>,
    series: &Series,
    evaluation: &Evaluation,
    pressure_pa: f64,
    shift_pa: f64,
) -> Result<f64, TestError> {
    let lowest = evaluation.points.iter().map(|p| p.pressure_pa).fold(f64::INFINITY, f64::min);
    let step = shift_pa.min(0.25 * lowest);
    if step <= 0.0 {
        return Ok(0.0);
    }
    let at = |shift: f64| -> Result<f64, TestError> {
        let mut moved = series.clone();
        for reading in &mut moved.readings {
            reading.pressure_pa -= shift;
        }
        Ok(evaluate(&moved, test.conditions, test.fit, test.standard)?.leak().flow_m3_h(pressure_pa))
    };
    Ok(ln(at(step)? / at(-step)?) / 2.0 * shift_pa / step)
}

/// Returns the share by which unequal façade pressures of standard deviation σ bend the line at the reference pressure.
///
/// `mean (p + δ)ⁿ ≈ pⁿ·(1 − n(1−n)/2·(σ/p)²)`: the low points read low, the line turns about its middle.
fn facade_share(evaluation: &Evaluation, pressure_pa: f64, facades_pa: f64) -> Result<f64, TestError> {
    let n = evaluation.exponent.value;
    let x: Vec<f64> = evaluation.points.iter().map(|p| ln(p.pressure_pa)).collect();
    let bend: Vec<f64> = evaluation
        .points
        .iter()
        .map(|p| 0.5 * n * (1.0 - n) * (facades_pa / p.pressure_pa) * (facades_pa / p.pressure_pa))
        .collect();
    let line = regression::ordinary(&x, &bend).map_err(TestError::Regression)?;
    Ok(exp(line.at(ln(pressure_pa))) - 1.0)
}

fn estimate(value: f64, items: &[Item]) -> Estimate {
    let variance: f64 = items.iter().map(|i| i.share() * i.share()).sum();
    // Welch–Satterthwaite, over each direction of each item with its own degrees of freedom.
    let fourth: f64 = items
        .iter()
        .flat_map(|i| {
            let n = i.by_direction.len() as f64;
            i.by_direction.iter().map(move |u| {
                let part = u / n * (u / n);
                part * part / i.degrees_of_freedom
            })
        })
        .sum();
    let degrees_of_freedom = if fourth > 0.0 { variance * variance / fourth } else { f64::INFINITY };
    Estimate { value, standard_uncertainty: value * variance.sqrt(), degrees_of_freedom }
}

fn squares(parts: &[f64]) -> f64 {
    parts.iter().map(|x| x * x).sum::<f64>().sqrt()
}

fn mean(values: &[f64]) -> f64 {
    if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 }
}

/// Returns the sign a direction's pressures carry.
pub(crate) fn sign(direction: Direction) -> f64 {
    match direction {
        Direction::Depressurisation => -1.0,
        Direction::Pressurisation => 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fan_test::{FlowState, Reading};
    use numeric::pow;
    use proptest::prelude::*;

    fn series(direction: Direction, c: f64, n: f64) -> Series {
        let readings = (2..=7)
            .map(|i| {
                let p = 10.0 * f64::from(i);
                // A fixed scatter of half a per cent.
                let scatter = if i % 2 == 0 { 1.005 } else { 0.995 };
                Reading { pressure_pa: sign(direction) * p, flow_m3_h: c * pow(p, n) * scatter }
            })
            .collect();
        Series {
            direction,
            zero_before_pa: vec![-0.2],
            zero_after_pa: vec![0.2],
            readings,
            flows: FlowState::Corrected,
        }
    }

    fn calm() -> Conditions {
        Conditions {
            inside_c: 20.0,
            outside_c: 20.0,
            barometer_pa: 101_325.0,
            height_m: Some(4.0),
            wind: Some(Wind::NearGround(1.0)),
        }
    }

    fn both(c: f64, n: f64) -> Vec<Series> {
        [Direction::Depressurisation, Direction::Pressurisation].map(|d| series(d, c, n)).to_vec()
    }

    fn test(series: &[Series]) -> Test<'_> {
        Test { series, conditions: calm(), fit: Fit::Unweighted, standard: Standard::Iso9972 }
    }

    #[test]
    fn the_stated_sentence() {
        let n50 = Estimate::stated(0.57, 0.06);
        assert_eq!((100.0 * n50.chance_at_or_under(0.60)).round(), 84.0);
        assert!((n50.half_width(0.95) - 0.0588).abs() < 1e-4);
        assert_eq!(Estimate::stated(0.6, 0.0).chance_at_or_under(0.6), 1.0);
    }

    #[test]
    fn a_shift_common_to_both_directions_cancels() {
        let s = both(40.0, 0.65);
        let b = budget(test(&s), 50.0, Instruments::default(), Circumstances::default()).unwrap();
        let zero = b.items.iter().find(|i| i.source == Source::WindZero).unwrap();
        assert!(zero.by_direction[0] * zero.by_direction[1] < 0.0);
        assert!(zero.share() < 0.2 * zero.by_direction[0].abs());
        let total: f64 = b.causes().iter().map(|c| c.1).sum();
        assert!((total - 1.0).abs() < 1e-12);
    }

    #[test]
    fn one_gust_of_a_zero_reading_counts() {
        let mut s = both(40.0, 0.65);
        let at = |s: &[Series]| {
            budget(test(s), 50.0, Instruments::default(), Circumstances::default()).unwrap().flow
        };
        let before = at(&s);
        s[0].zero_after_pa = vec![3.0];
        s[0].zero_before_pa = vec![-3.0];
        assert!(at(&s).standard_uncertainty > before.standard_uncertainty);
    }

    #[test]
    fn a_guard_that_leaks_widens() {
        let s = both(40.0, 0.65);
        let guard = Guard { party: PowerLaw::through(219.0, 50.0, 0.66), residual_pa: 0.6 };
        let with = Circumstances { guard: Some(guard), ..Circumstances::default() };
        let plain = budget(test(&s), 50.0, Instruments::default(), Circumstances::default()).unwrap();
        let guarded = budget(test(&s), 50.0, Instruments::default(), with).unwrap();
        assert!(guarded.flow.standard_uncertainty > plain.flow.standard_uncertainty);
    }

    #[test]
    fn a_volume_rule_can_flip_the_outcome() {
        let s = both(47.4, 0.65);
        let b = budget(test(&s), 50.0, Instruments::default(), Circumstances::default()).unwrap();
        let ruled = b.by_rule(&[("voids out", 954.9, 0.005), ("voids in", 1059.7, 0.005)], 0.60);
        assert!(!ruled[0].met && ruled[1].met && ruled[1].chance > ruled[0].chance, "{ruled:?}");
    }

    #[test]
    fn no_series_is_an_error() {
        let error = budget(test(&[]), 50.0, Instruments::default(), Circumstances::default()).unwrap_err();
        assert_eq!(error, TestError::TooFewPoints { found: 0 });
    }

    proptest! {
        #[test]
        fn the_budget_is_never_narrower_than_the_regression(c in 5.0..500.0f64, n in 0.5..0.95f64) {
            let s = both(c, n);
            let full = budget(test(&s), 50.0, Instruments::default(), Circumstances::default()).unwrap();
            let plain = regression_only(test(&s), 50.0).unwrap();
            prop_assert!(full.flow.standard_uncertainty >= plain.standard_uncertainty);
            prop_assert!((full.flow.value - plain.value).abs() < 1e-9 * plain.value);
        }

        #[test]
        fn a_wider_limit_is_met_more_often(v in 0.1..2.0f64, a in 0.001..0.5f64, limit in 0.1..2.0f64) {
            let e = Estimate::stated(v, a);
            prop_assert!(e.chance_at_or_under(limit + 0.01) >= e.chance_at_or_under(limit));
        }

        #[test]
        fn dividing_by_a_volume_adds_its_share(c in 5.0..500.0f64, u in 0.0..0.1f64) {
            let s = both(c, 0.65);
            let b = budget(test(&s), 50.0, Instruments::default(), Circumstances::default()).unwrap();
            let n50 = b.per(955.0, u);
            let flow = b.flow.standard_uncertainty / b.flow.value;
            let share = n50.standard_uncertainty / n50.value;
            prop_assert!((share * share - flow * flow - u * u).abs() < 1e-12);
        }
    }
}
