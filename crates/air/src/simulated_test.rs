//! Simulated windy pressure tests: readings whose truth is known, to ask how often an interval holds it.
//!
//! A building with four leaky façades stands in gusty wind; each pressure and flow is what a real gauge and fan would
//! show. Everything comes from a seed, so that the same tests come back. Start at [`coverage`].

use crate::fan_test::{Conditions, Direction, Fit, FlowState, Reading, Series, Standard, TestError, Wind};
use crate::leakage::PowerLaw;
use crate::network::air_density_kg_m3;
use crate::test_budget::{self, Circumstances, Instruments, Test, sign};
use numeric::counter::Stream;
use numeric::{exp, root};

/// How the simulated days differ, and how wrong their instruments are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Days {
    /// Standard uncertainties the instruments are drawn with.
    pub instruments: Instruments,
    /// Scatter of a single flow reading, standard deviation as a share.
    pub reading_share: f64,
    /// Wind near the ground, uniform between these, m/s.
    pub wind_m_s: (f64, f64),
    /// Standard deviation of one averaged reading's wind speed, as a share of the mean.
    pub turbulence: f64,
    /// Standard deviation of the preparation's effect, as a share.
    pub preparation_share: f64,
}

impl Default for Days {
    fn default() -> Self {
        Self {
            instruments: Instruments::default(),
            reading_share: 0.005,
            wind_m_s: (0.5, 4.0),
            turbulence: 0.2,
            preparation_share: 0.01,
        }
    }
}

/// One simulated test with its truth.
#[derive(Clone, Debug, PartialEq)]
pub struct SimulatedTest {
    /// Readings in both directions.
    pub series: Vec<Series>,
    /// Air and building.
    pub conditions: Conditions,
    /// Leak of each façade.
    pub facades: Vec<PowerLaw>,
}

impl SimulatedTest {
    /// Returns the true flow of the building at a pressure, without wind, m³/h.
    pub fn true_flow_m3_h(&self, pressure_pa: f64) -> f64 {
        self.facades.iter().map(|leak| leak.flow_m3_h(pressure_pa)).sum()
    }
}

/// Numbers of one test, drawn in turn.
struct Draws {
    stream: Stream,
    next: u64,
}

/// No test draws more numbers than this, so that tests never share one.
const DRAWS_PER_TEST: u64 = 1 << 20;

impl Draws {
    fn uniform(&mut self, low: f64, high: f64) -> f64 {
        self.next += 1;
        low + (high - low) * self.stream.uniform(self.next)
    }

    fn normal(&mut self) -> f64 {
        self.next += 1;
        self.stream.normal(self.next)
    }
}

/// Wind pressure coefficients of four sides, wind onto the first; usual figures for a low building, from memory.
const COEFFICIENTS: [f64; 4] = [0.6, -0.4, -0.3, -0.4];

/// Makes the test of an index: a house of 100 to 2 000 m³/h at 50 Pa.
pub fn simulate(seed: u64, index: u64, days: &Days) -> SimulatedTest {
    let mut draw = Draws { stream: Stream::new(seed, "windy-test"), next: index * DRAWS_PER_TEST };
    let size = 100.0 * exp(draw.uniform(0.0, 3.0));
    let facades: Vec<PowerLaw> = (0..4)
        .map(|_| PowerLaw::through(size * draw.uniform(0.05, 0.45), 50.0, draw.uniform(0.55, 0.75)))
        .collect();
    let coefficients = COEFFICIENTS.map(|c| c + 0.1 * draw.normal());
    let wind = draw.uniform(days.wind_m_s.0, days.wind_m_s.1);
    // The outside tap: a tee over all sides that weighs them unevenly.
    let weights = COEFFICIENTS.map(|_| draw.uniform(0.5, 1.5));
    let tap =
        weights.iter().zip(&coefficients).map(|(w, c)| w * c).sum::<f64>() / weights.iter().sum::<f64>();
    let instruments = days.instruments;
    let gauge = 1.0 + instruments.gauge_share * draw.normal();
    let preparation = 1.0 + days.preparation_share * draw.normal();
    let shared_fan = draw.normal();
    let mut series = Vec::new();
    for direction in [Direction::Depressurisation, Direction::Pressurisation] {
        let common = instruments.fan_common;
        let fan = 1.0
            + instruments.fan_share
                * (common.sqrt() * shared_fan + (1.0 - common).max(0.0).sqrt() * draw.normal());
        let offset = instruments.gauge_pa * draw.normal();
        let air = Outdoors { facades: &facades, coefficients, tap, wind, turbulence: days.turbulence };
        let zero_before = gauge * air.pressure(0.0, &mut draw) + offset;
        let readings = (0..8)
            .map(|step| {
                let target = sign(direction) * (15.0 + 8.0 * f64::from(step));
                // The operator sets a flow near the target; wind decides what pressure it makes.
                let flow: f64 = preparation * facades.iter().map(|f| f.flow_m3_h(target)).sum::<f64>();
                let pressure = gauge * air.pressure(flow / preparation, &mut draw);
                let shown = flow.abs() * fan * (1.0 + days.reading_share * draw.normal());
                Reading { pressure_pa: pressure, flow_m3_h: shown }
            })
            .collect();
        let zero_after = gauge * air.pressure(0.0, &mut draw) + offset;
        series.push(Series {
            direction,
            zero_before_pa: vec![zero_before],
            zero_after_pa: vec![zero_after],
            readings,
            flows: FlowState::Corrected,
        });
    }
    let conditions = Conditions {
        inside_c: 20.0,
        outside_c: 20.0,
        barometer_pa: 101_325.0,
        height_m: Some(6.0),
        wind: Some(Wind::NearGround(wind)),
    };
    SimulatedTest { series, conditions, facades }
}

struct Outdoors<'a> {
    facades: &'a [PowerLaw],
    coefficients: [f64; 4],
    tap: f64,
    wind: f64,
    turbulence: f64,
}

impl Outdoors<'_> {
    /// Returns the pressure a true gauge would show, inside minus tap, with this flow driven through the leaks, Pa.
    fn pressure(&self, flow_m3_h: f64, draw: &mut Draws) -> f64 {
        let speed = self.wind * (1.0 + self.turbulence * draw.normal()).max(0.0);
        let stagnation = 0.5 * air_density_kg_m3(20.0, 101_325.0) * speed * speed;
        let balance = |inside: f64| {
            let out = self.facades.iter().zip(&self.coefficients);
            out.map(|(leak, c)| leak.flow_m3_h(inside - c * stagnation)).sum::<f64>() - flow_m3_h
        };
        // The bracket holds any target (80 Pa) and any wind drawn; the end is never used unless the root is lost.
        let inside = root::brent(balance, -300.0, 300.0, 1e-9).unwrap_or(f64::NAN);
        inside - self.tap * stagnation
    }
}

/// How often intervals held the truth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coverage {
    /// Tests simulated.
    pub tests: usize,
    /// Level asked of the intervals.
    pub level: f64,
    /// Share of truths inside the full budget's interval.
    pub budget: f64,
    /// Share of truths inside the regression's interval alone.
    pub regression_only: f64,
}

/// Simulates tests and counts the truths inside both intervals at `pressure_pa` and `level`.
///
/// The budget is given the instruments of `believed`; the days are drawn with their own, so that a wrong belief shows.
///
/// # Errors
/// As [`test_budget::budget`].
pub fn coverage(
    seed: u64,
    tests: usize,
    level: f64,
    pressure_pa: f64,
    days: &Days,
    believed: Instruments,
) -> Result<Coverage, TestError> {
    let (mut inside_budget, mut inside_regression) = (0usize, 0usize);
    let circumstances =
        Circumstances { preparation_share: days.preparation_share, ..Circumstances::default() };
    for index in 0..tests {
        let simulated = simulate(seed, index as u64, days);
        let test = Test {
            series: &simulated.series,
            conditions: simulated.conditions,
            fit: Fit::Unweighted,
            standard: Standard::Iso9972,
        };
        let truth = simulated.true_flow_m3_h(pressure_pa);
        let holds = |i: crate::fan_test::Interval| usize::from(i.low <= truth && truth <= i.high);
        inside_budget +=
            holds(test_budget::budget(test, pressure_pa, believed, circumstances)?.flow.interval(level));
        inside_regression += holds(test_budget::regression_only(test, pressure_pa)?.interval(level));
    }
    let share = |count: usize| count as f64 / tests as f64;
    Ok(Coverage { tests, level, budget: share(inside_budget), regression_only: share(inside_regression) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ninety_in_a_hundred_hold_the_truth() {
        let days = Days::default();
        let c = coverage(9972, 500, 0.90, 50.0, &days, days.instruments).unwrap();
        assert!((0.86..=0.94).contains(&c.budget), "{c:?}");
        assert!(c.regression_only < c.budget, "{c:?}");
    }

    #[test]
    fn a_fan_worse_than_believed_shows() {
        let days = Days {
            instruments: Instruments { fan_share: 0.08, ..Instruments::default() },
            ..Days::default()
        };
        let c = coverage(9972, 200, 0.90, 50.0, &days, Instruments::default()).unwrap();
        assert!(c.budget < 0.7, "{c:?}");
    }

    #[test]
    fn the_same_seed_gives_the_same_test() {
        let days = Days::default();
        assert_eq!(simulate(1, 7, &days), simulate(1, 7, &days));
        assert_ne!(simulate(1, 7, &days), simulate(1, 8, &days));
    }
}
