//! Temperatures of neighbours outside the limits' boundary, hour by hour.

use building::Building;
use building::Resolved;
use building::model::NeighbourTemperature;
use climate::Climate;
use numeric::exp;

use crate::kernel::input::GivenSeries;

/// Inside temperature against which a floating neighbour's share is counted, °C: the usual heating set point.
const INSIDE_C: f64 = 20.0;

/// CO2 of a neighbour's air, ppm: that of a room with few people.
const NEIGHBOUR_CO2_PPM: f64 = 600.0;

/// One series a neighbour, in the building's order.
///
/// A neighbour's air carries the outdoor humidity ratio: nothing is stated about its moisture.
pub(super) fn series(building: &Building, climate: &Climate, r: &Resolved) -> Vec<GivenSeries> {
    let humidity: Vec<f64> = climate.hours.iter().map(|h| h.humidity_ratio).collect();
    building
        .neighbours
        .iter()
        .map(|n| GivenSeries {
            temperature_c: temperature(&n.temperature, climate, r),
            humidity_kg_kg: humidity.clone(),
            co2_ppm: NEIGHBOUR_CO2_PPM,
        })
        .collect()
}

fn temperature(of: &NeighbourTemperature, climate: &Climate, r: &Resolved) -> Vec<f64> {
    let days = climate.daily_means_c();
    match of {
        NeighbourTemperature::Floating { factor } => {
            // b = (θi − θu) / (θi − θe), EN ISO 13789.
            let b = r[*factor];
            climate.hours.iter().map(|h| INSIDE_C - b * (INSIDE_C - h.dry_bulb_c)).collect()
        }
        NeighbourTemperature::Stated { profile, usual, floats_up_with_outdoors, decay } => {
            let kept = decay.map_or(0.0, |key| exp(-3600.0 / r[key].max(1.0)));
            let mut now = r[*usual];
            // Two rounds, so that New Year's morning remembers New Year's Eve.
            let mut out = Vec::with_capacity(climate.hours.len());
            for round in 0..2 {
                for hour in 0..climate.hours.len() {
                    let mut rest = r[*usual];
                    if *floats_up_with_outdoors {
                        rest = rest.max(days[hour / 24]);
                    }
                    let stated = (0..4)
                        .map(|quarter| profile.at(hour * 4 + quarter).map_or(rest, |key| r[key]))
                        .sum::<f64>()
                        / 4.0;
                    // Held at a higher stated level at once; the way back to the usual one takes its time.
                    now = if stated > rest + 1e-9 { stated } else { rest + (now - rest).max(0.0) * kept };
                    if round == 1 {
                        out.push(now);
                    }
                }
            }
            out
        }
    }
}
