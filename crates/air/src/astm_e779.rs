//! The conditions ASTM E779 sets beside those of ISO 9972, each by name with its value and limit.
//!
//! From memory of E779-19 (and of its 10 Pa to 60 Pa range, wind and temperature advice); check the edition your contract
//! names. What the standard only prefers says so in its text.

use crate::fan_test::{Conditions, Direction, Evaluation, Rule, Wind};

const STANDARD: &str = "ASTM E779-19";
const LOWEST_PA: f64 = 10.0;
const WIDEST_STEP_PA: f64 = 10.0;
const HEIGHT_TIMES_DT_M_K: f64 = 200.0;
const WIND_M_S: f64 = 2.0;
const OUTDOOR_C: (f64, f64) = (5.0, 35.0);

/// Returns the rules for a test of one or both directions.
///
/// # Example
/// ```
/// use air::fan_test::{Conditions, Wind};
/// let day = Conditions { inside_c: 21.0, outside_c: 2.0, barometer_pa: 99_000.0, height_m: Some(4.0), wind: Some(Wind::NearGround(1.0)) };
/// let rules = air::astm_e779::rules(&[], day);
/// let cold = rules.iter().find(|r| r.id == "e779-outdoor-low").unwrap();
/// assert_eq!(cold.ok, Some(false));
/// ```
pub fn rules(evaluations: &[Evaluation], conditions: Conditions) -> Vec<Rule> {
    let rule =
        |id, ok: Option<bool>, value, limit, text| Rule { standard: STANDARD, id, ok, value, limit, text };
    let has = |d: Direction| evaluations.iter().any(|e| e.direction == d);
    let directions =
        f64::from(u8::from(has(Direction::Depressurisation)) + u8::from(has(Direction::Pressurisation)));
    let sorted = |e: &Evaluation| {
        let mut p: Vec<f64> = e.points.iter().map(|p| p.pressure_pa).collect();
        p.sort_by(f64::total_cmp);
        p
    };
    let lowest = evaluations.iter().filter_map(|e| sorted(e).first().copied()).fold(f64::INFINITY, f64::min);
    let step = evaluations
        .iter()
        .flat_map(|e| sorted(e).windows(2).map(|w| w[1] - w[0]).collect::<Vec<_>>())
        .fold(0.0, f64::max);
    let stack = conditions.height_m.map(|h| h * (conditions.inside_c - conditions.outside_c).abs());
    let wind = conditions.wind.map(|w| match w {
        Wind::NearGround(speed) | Wind::Station(speed) => speed,
    });
    let outdoor = conditions.outside_c;
    let read = !evaluations.is_empty();
    vec![
        rule(
            "e779-directions",
            Some(directions == 2.0),
            directions,
            2.0,
            "both pressurised and depressurised",
        ),
        rule(
            "e779-lowest-pressure",
            read.then_some(lowest >= LOWEST_PA - 1e-9),
            lowest,
            LOWEST_PA,
            "pressures from 10 Pa to 60 Pa, as the fan allows",
        ),
        rule(
            "e779-step",
            read.then_some(step <= WIDEST_STEP_PA + 1e-9),
            step,
            WIDEST_STEP_PA,
            "steps of 5 Pa to 10 Pa",
        ),
        rule(
            "e779-stack",
            stack.map(|s| s <= HEIGHT_TIMES_DT_M_K),
            stack.unwrap_or(f64::NAN),
            HEIGHT_TIMES_DT_M_K,
            "height times temperature difference at most 200 m·K",
        ),
        rule(
            "e779-wind",
            wind.map(|w| w <= WIND_M_S),
            wind.unwrap_or(f64::NAN),
            WIND_M_S,
            "preferred: wind at most 2 m/s",
        ),
        rule(
            "e779-outdoor-low",
            Some(outdoor >= OUTDOOR_C.0),
            outdoor,
            OUTDOOR_C.0,
            "preferred: at least 5 °C outdoors",
        ),
        rule(
            "e779-outdoor-high",
            Some(outdoor <= OUTDOOR_C.1),
            outdoor,
            OUTDOOR_C.1,
            "preferred: at most 35 °C outdoors",
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fan_test::{Fit, FlowState, Reading, Series, Standard, evaluate};

    fn evaluation(direction: Direction, lowest: f64) -> Evaluation {
        let sign = crate::test_budget::sign(direction);
        let readings = (0..6)
            .map(|i| {
                let p = lowest + 9.0 * f64::from(i);
                Reading { pressure_pa: sign * p, flow_m3_h: 40.0 * numeric::pow(p, 0.65) }
            })
            .collect();
        let series = Series {
            direction,
            zero_before_pa: vec![],
            zero_after_pa: vec![],
            readings,
            flows: FlowState::Corrected,
        };
        evaluate(&series, day(), Fit::Unweighted, Standard::AstmE779).unwrap()
    }

    fn day() -> Conditions {
        Conditions {
            inside_c: 21.0,
            outside_c: 12.0,
            barometer_pa: 99_000.0,
            height_m: Some(4.0),
            wind: Some(Wind::NearGround(1.0)),
        }
    }

    fn broken(evaluations: &[Evaluation]) -> Vec<&'static str> {
        rules(evaluations, day()).iter().filter(|r| r.ok == Some(false)).map(|r| r.id).collect()
    }

    #[test]
    fn each_rule_breaks_alone() {
        let (down, up) = (Direction::Depressurisation, Direction::Pressurisation);
        let good = [evaluation(down, 12.0), evaluation(up, 12.0)];
        assert!(broken(&good).is_empty());
        assert_eq!(broken(&good[..1]), ["e779-directions"]);
        assert_eq!(broken(&[evaluation(down, 8.0), evaluation(up, 12.0)]), ["e779-lowest-pressure"]);
        let still_open = Conditions { height_m: None, wind: None, ..day() };
        let open = rules(&good, still_open).iter().filter(|r| r.ok.is_none()).count();
        assert_eq!(open, 2);
    }
}
