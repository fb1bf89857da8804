//! The full budget of a pressure test: how often its interval holds the truth of simulated windy days.

use crate::{Check, Compute, Kind, Tolerance};
use air::simulated_test::{Coverage, Days, coverage};
use air::test_budget::{Estimate, Instruments};

/// Seed and number of the simulated tests.
const SEED: u64 = 9972;
const TESTS: usize = 500;
/// Share of truths inside the regression's own 90 % interval, over 20 000 other tests (seed 20 000): run
/// `cargo run -p air --example coverage`.
const REGRESSION_ALONE_OF_20_000: f64 = 0.1270;

pub(crate) fn checks() -> Vec<Check> {
    vec![
        held(
            "full-budget",
            "truths inside the 90 % interval of the full budget, 500 simulated windy tests",
            0.90,
            Kind::ClosedForm,
            "meaning of a 90 % interval: 86 to 94 in 100 of 500 tests (three standard deviations of the count)",
            |c| c.budget,
        ),
        held(
            "regression-alone",
            "the same tests: truths inside the 90 % interval of the regression alone",
            REGRESSION_ALONE_OF_20_000,
            Kind::OwnConverged,
            "the same count over 20 000 other tests; shown beside, since the standards' own interval sees scatter only",
            |c| c.regression_only,
        ),
        Check {
            id: "test-budget.chance-of-a-stated-result".to_owned(),
            topic: "Pressure test budget",
            quantity: "0.57 ± 0.06 1/h (95 %): chance of being at or under 0.60".to_owned(),
            unit: "in 100",
            // Half of the last digit of the tabulated normal distribution at one standard deviation.
            reference: 84.134_474_6,
            tolerance: Tolerance::Absolute(5e-6),
            kind: Kind::ClosedForm,
            source: "normal distribution at one standard deviation (coverage factor 2)".to_owned(),
            seen: false,
            known_gap: None,
            compute: Box::new(|nudge| {
                Ok(100.0 * Estimate::stated(0.57, 0.06 * nudge).chance_at_or_under(0.60))
            }),
        },
    ]
}

fn held(
    id: &str,
    quantity: &str,
    reference: f64,
    kind: Kind,
    source: &str,
    of: fn(&Coverage) -> f64,
) -> Check {
    Check {
        id: format!("test-budget.coverage.{id}"),
        topic: "Pressure test budget",
        quantity: quantity.to_owned(),
        unit: "share",
        reference,
        tolerance: Tolerance::Absolute(0.04),
        kind,
        source: source.to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(move |nudge| {
            // Nudged days have better or worse fans and steadier hands than believed.
            let plain = Days::default();
            let days = Days {
                instruments: Instruments {
                    fan_share: plain.instruments.fan_share * nudge,
                    gauge_share: plain.instruments.gauge_share * nudge,
                    ..plain.instruments
                },
                preparation_share: plain.preparation_share * nudge,
                ..plain
            };
            let c = coverage(SEED, TESTS, 0.90, 50.0, &days, plain.instruments).map_err(|e| e.to_string())?;
            Ok(of(&c))
        }) as Compute,
    }
}
