//! The party boundary apart from the outside, where one day's records hold two set-ups.

use super::leaks::{UNTOUCHED_SHARE, setup};
use super::logged::Logged;
use super::report::TestReport;
use super::{Air, REFERENCE_PA, neighbour_words};
use crate::check::Project;
use ::air::guarded::{GuardedTest, separate};
use ::air::readings::Neighbour;
use ::air::test_budget::Estimate;
use serde::Serialize;

/// Both leaks of a day, at the reference pressure.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Separation {
    /// Day of the tests.
    pub day: String,
    /// Set-ups, with the flow each read, m³/h.
    pub tests: Vec<(&'static str, f64)>,
    /// Leak to outdoors and its 95 % half-width, m³/h.
    pub outdoors_m3_h: [f64; 2],
    /// Leak through the party boundary and its 95 % half-width, m³/h.
    pub party_m3_h: [f64; 2],
    /// Correlation of the two uncertainties.
    pub correlation: f64,
    /// What had to be assumed.
    pub assumed: Option<String>,
}

/// Separates the leaks of the latest day on which two set-ups were read.
pub fn separation(project: &Project, air: &Air) -> Option<Separation> {
    let exponent = project.building.values.nominal_of(project.building.airtightness.exponent);
    let mut days: Vec<&str> = air.tests.iter().map(|(l, _)| l.day.as_str()).collect();
    days.dedup();
    days.iter().rev().find_map(|day| {
        let of_day: Vec<&(Logged, TestReport)> = air.tests.iter().filter(|(l, _)| l.day == *day).collect();
        let differ = of_day.iter().any(|(l, _)| l.file.neighbour != of_day[0].0.file.neighbour);
        if of_day.len() < 2 || !differ {
            return None;
        }
        let fan = of_day
            .iter()
            .flat_map(|(_, t)| t.budget.iter().filter(|b| b.source == "fan calibration"))
            .map(|b| b.share)
            .fold(0.0, f64::max);
        let tests: Vec<GuardedTest> = of_day
            .iter()
            .map(|(l, t)| {
                let u = t.flow.standard_uncertainty;
                let shared = fan * t.flow.value;
                let own = (u * u - shared * shared).max(0.0).sqrt().max(0.005 * t.flow.value);
                GuardedTest { setup: setup(l), flow: Estimate::stated(t.flow.value, 2.0 * own) }
            })
            .collect();
        let found = separate(&tests, REFERENCE_PA, exponent, fan).ok()?;
        let both = |e: Estimate| [e.value, e.half_width(0.95)];
        let untouched = of_day.iter().any(|(l, _)| l.file.neighbour == Neighbour::Untouched);
        Some(Separation {
            day: (*day).to_owned(),
            tests: of_day.iter().map(|(l, t)| (neighbour_words(l.file.neighbour), t.flow.value)).collect(),
            outdoors_m3_h: both(found.outside),
            party_m3_h: both(found.party),
            correlation: found.correlation,
            assumed: untouched.then(|| {
                format!(
                    "no second gauge is on record: the untouched neighbour is taken to leave {:.0} ± {:.0} % of the pressure \
                     across the boundary (judgement)",
                    100.0 * UNTOUCHED_SHARE.0,
                    200.0 * UNTOUCHED_SHARE.1
                )
            }),
        })
    })
}
