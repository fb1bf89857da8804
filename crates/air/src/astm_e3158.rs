//! What ASTM E3158 (large and multizone buildings) asks of a test besides its reference pressure of 75 Pa.
//!
//! The standard's text was not open: these limits are from memory of the test protocol for large public buildings that it
//! grew from, and each says so. Use them to see trouble coming; the edition your contract names decides. The result itself
//! is the flow at 75 Pa over the envelope area, by the same line.

use crate::fan_test::{Direction, Evaluation, Rule, Series};

const STANDARD: &str = "ASTM E3158-18";
/// Reference pressure, Pa.
pub const REFERENCE_PA: f64 = 75.0;
const POINTS: f64 = 10.0;
const HIGHEST_PA: f64 = 50.0;
const SPAN_PA: f64 = 25.0;
const EXPONENT: (f64, f64) = (0.45, 0.80);
const R2: f64 = 0.98;
const ZERO_SHARE: f64 = 0.3;

/// Returns the rules for a test of one or both directions; each takes the direction that fares worst.
///
/// # Example
/// ```
/// let rules = air::astm_e3158::rules(&[], &[]);
/// assert!(rules.iter().any(|r| r.id == "e3158-directions" && r.ok == Some(false)));
/// ```
pub fn rules(evaluations: &[Evaluation], series: &[Series]) -> Vec<Rule> {
    let rule =
        |id, ok: Option<bool>, value, limit, text| Rule { standard: STANDARD, id, ok, value, limit, text };
    let has = |d: Direction| evaluations.iter().any(|e| e.direction == d);
    let directions =
        f64::from(u8::from(has(Direction::Depressurisation)) + u8::from(has(Direction::Pressurisation)));
    let least = |of: &dyn Fn(&Evaluation) -> f64| evaluations.iter().map(of).fold(f64::INFINITY, f64::min);
    let most = |of: &dyn Fn(&Evaluation) -> f64| evaluations.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
    let low = |e: &Evaluation| e.points.iter().map(|p| p.pressure_pa).fold(f64::INFINITY, f64::min);
    let high = |e: &Evaluation| e.points.iter().map(|p| p.pressure_pa).fold(f64::NEG_INFINITY, f64::max);
    let read = !evaluations.is_empty();
    let at_least = |id, value: f64, limit, text| rule(id, read.then_some(value >= limit), value, limit, text);
    let zeros: Vec<f64> = series
        .iter()
        .flat_map(|s| s.zero_before_pa.iter().chain(&s.zero_after_pa))
        .map(|z| z.abs())
        .collect();
    let zero_share = zeros.iter().copied().fold(0.0, f64::max) / least(&low);
    let known = read && !zeros.is_empty();
    let most_exponent = most(&|e| e.exponent.value);
    vec![
        rule(
            "e3158-directions",
            Some(directions == 2.0),
            directions,
            2.0,
            "both pressurised and depressurised (from memory)",
        ),
        at_least(
            "e3158-points",
            least(&|e| e.points.len() as f64),
            POINTS,
            "at least ten pressures in each direction (from memory)",
        ),
        at_least("e3158-highest", least(&high), HIGHEST_PA, "highest pressure at least 50 Pa (from memory)"),
        at_least(
            "e3158-span",
            least(&|e| high(e) - low(e)),
            SPAN_PA,
            "highest and lowest pressure at least 25 Pa apart (from memory)",
        ),
        at_least(
            "e3158-exponent-low",
            least(&|e| e.exponent.value),
            EXPONENT.0,
            "exponent at least 0.45 (from memory)",
        ),
        rule(
            "e3158-exponent-high",
            read.then_some(most_exponent <= EXPONENT.1),
            most_exponent,
            EXPONENT.1,
            "exponent at most 0.80 (from memory)",
        ),
        at_least(
            "e3158-r2",
            least(&|e| e.r2),
            R2,
            "coefficient of determination at least 0.98 (from memory)",
        ),
        rule(
            "e3158-zero-share",
            known.then_some(zero_share <= ZERO_SHARE),
            if known { zero_share } else { f64::NAN },
            ZERO_SHARE,
            "zero-flow pressure at most 30 % of the lowest pressure (from memory)",
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fan_test::{Conditions, Fit, FlowState, Reading, Standard, evaluate};

    #[test]
    fn a_good_test_of_both_directions_keeps_every_rule_and_a_short_one_does_not() {
        let series = |direction, sign: f64, points: usize| Series {
            direction,
            zero_before_pa: vec![1.0],
            zero_after_pa: vec![1.0],
            readings: (0..points)
                .map(|k| 25.0 + 5.0 * k as f64)
                .map(|p| Reading { pressure_pa: sign * p + 1.0, flow_m3_h: 40.0 * numeric::pow(p, 0.65) })
                .collect(),
            flows: FlowState::Corrected,
        };
        let day = Conditions {
            inside_c: 20.0,
            outside_c: 20.0,
            barometer_pa: 101_325.0,
            height_m: None,
            wind: None,
        };
        let judged = |all: &[Series]| {
            let e: Vec<Evaluation> =
                all.iter().map(|s| evaluate(s, day, Fit::Unweighted, Standard::AstmE779).unwrap()).collect();
            rules(&e, all)
        };
        let both =
            [series(Direction::Depressurisation, -1.0, 10), series(Direction::Pressurisation, 1.0, 11)];
        assert!(judged(&both).iter().all(|r| r.ok == Some(true)), "{:?}", judged(&both));
        let short = judged(&[series(Direction::Depressurisation, -1.0, 4)]);
        let broken: Vec<&str> = short.iter().filter(|r| r.ok == Some(false)).map(|r| r.id).collect();
        assert_eq!(broken, ["e3158-directions", "e3158-points", "e3158-highest", "e3158-span"]);
    }
}
