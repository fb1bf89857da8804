//! What the fan must be able to do on a test day.

use super::leaks::ForecastReport;
use super::{Air, REFERENCE_PA};
use crate::check::Project;
use ::air::leakage::PowerLaw;
use serde::Serialize;

/// Pressures of a usual test, Pa.
const PRESSURES_PA: [f64; 7] = [10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0];

/// Flow to expect at one pressure.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ExpectedFlow {
    /// Pressure difference, Pa.
    pub pressure_pa: f64,
    /// Best, m³/h.
    pub best_m3_h: f64,
    /// Low end, m³/h.
    pub low_m3_h: f64,
    /// High end, m³/h.
    pub high_m3_h: f64,
}

/// What the fan must do.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FanNeed {
    /// Where the flows come from, in words.
    pub from: String,
    /// Flow by pressure, the neighbour at equal pressure where there is one.
    pub flows: Vec<ExpectedFlow>,
    /// What comes through the party boundary on top when the neighbour is not guarded, m³/h at the reference pressure.
    pub party_m3_h: Option<f64>,
    /// Largest flow the fan must reach, m³/h: highest pressure, high end, unguarded.
    pub largest_m3_h: f64,
    /// Smallest flow it must read, m³/h: lowest pressure, low end.
    pub smallest_m3_h: f64,
}

/// Returns what the fan must do, by the latest reading, else by the forecast; `None` with neither.
pub fn fan_need(project: &Project, air: &Air, forecast: Option<&ForecastReport>) -> Option<FanNeed> {
    let building = &project.building;
    let exponent = building.values.nominal_of(building.airtightness.exponent);
    let (best, low, high, from) = match (air.latest(), forecast) {
        (Some((logged, told)), _) => {
            let (q, half) = (told.flow.value, told.flow.half_width_95);
            (q, q - half, q + half, format!("the reading of {}", logged.day))
        }
        (None, Some(f)) => {
            let [median, low, high] = f.outdoors_m3_h;
            (median, low, high, "the forecast".to_owned())
        }
        (None, None) => return None,
    };
    let party = building.airtightness.party.map(|key| 3600.0 * building.values.nominal_of(key));
    let at = |flow: f64, pressure: f64| PowerLaw::through(flow, REFERENCE_PA, exponent).flow_m3_h(pressure);
    let flows: Vec<ExpectedFlow> = PRESSURES_PA
        .into_iter()
        .map(|p| ExpectedFlow {
            pressure_pa: p,
            best_m3_h: at(best, p),
            low_m3_h: at(low.max(0.0), p),
            high_m3_h: at(high, p),
        })
        .collect();
    let highest = PRESSURES_PA[PRESSURES_PA.len() - 1];
    Some(FanNeed {
        from,
        party_m3_h: party,
        largest_m3_h: at(high + party.unwrap_or(0.0), highest),
        smallest_m3_h: at(low.max(0.0), PRESSURES_PA[0]),
        flows,
    })
}
