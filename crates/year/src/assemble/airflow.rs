//! Ventilation modes and leaks.
//!
//! Leaks of the limits run follow the enhanced stack-and-wind model, whole building, shared among zones by their
//! enclosure towards outdoors. The flow network replaces this rule by tables ([`LeakLaw::Response`]) once it has run
//! on the nominal building.

use std::collections::BTreeMap;

use building::model::{Beyond, Building};
use building::plan::{SpaceKind, Terrain};
use building::{Resolved, counting};
use climate::Climate;
use numeric::pow;

use super::Frame;
use super::surfaces::power_law;
use super::zones::Zones;
use crate::kernel::input::{AirMode, Drivers, Leak, LeakFrom, LeakLaw, Model};

/// The recovery is passed by only while outdoor air is at least this warm, °C. Judgement: cooler supply draughts.
pub(crate) const COOLEST_BYPASS_C: f64 = 12.0;
/// Exchange through a hole in a floor, m/s of its area, both ways. Judgement: stairwells mix at 0.02 to 0.1 m/s.
const STAIR_EXCHANGE_M_S: f64 = 0.05;
/// Ceiling-floor sum R and ceiling-floor difference X of the leak distribution: evenly spread.
const CEILING_FLOOR_SUM: f64 = 0.5;
/// Shelter by buildings around, factor on the wind speed: 0.7 for suburbs (from memory).
const SHELTER: [(Terrain, f64); 4] =
    [(Terrain::Open, 0.9), (Terrain::Country, 0.8), (Terrain::Suburb, 0.6), (Terrain::Town, 0.5)];
/// Exponent and boundary-layer height, m, by terrain: ASHRAE Fundamentals, airflow around buildings (from memory).
const PROFILES: [(Terrain, f64, f64); 4] = [
    (Terrain::Open, 0.10, 210.0),
    (Terrain::Country, 0.14, 270.0),
    (Terrain::Suburb, 0.22, 370.0),
    (Terrain::Town, 0.33, 460.0),
];
const GRAVITY: f64 = 9.81;

/// Wind at the building's middle height over the station's.
pub(super) fn wind_factor(building: &Building, climate: &Climate) -> f64 {
    let (_, station_exponent, station_layer) = PROFILES[1];
    let (exponent, layer) = PROFILES
        .iter()
        .find(|(terrain, ..)| *terrain == building.site.terrain)
        .map_or((0.22, 370.0), |(_, exponent, layer)| (*exponent, *layer));
    let height = (0.5 * height_m(building)).max(1.0);
    power_law(height, layer, exponent)
        / power_law(climate.wind_height_m.max(1.0), station_layer, station_exponent)
}

/// Height of the leaking shell, m: from the lowest to the highest of its outer elements' middles, at least 2.5.
fn height_m(building: &Building) -> f64 {
    let middles = building.elements.iter().filter(|e| e.beyond == Beyond::Outside).map(|e| e.mid_height_m);
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for middle in middles {
        low = low.min(middle);
        high = high.max(middle);
    }
    if high > low { (high - low + 1.0).max(2.5) } else { 2.5 }
}

/// What ventilation and leaks share between samples.
#[derive(Clone, Debug)]
pub(crate) struct Airflow {
    /// Mode of each unit, for every combination that occurs.
    pub combinations: Vec<Vec<u8>>,
    /// Combination of each quarter-hour.
    pub of_quarter: Vec<u16>,
    /// Share of the outdoor leaks by zone.
    leak_share: Vec<f64>,
    volume_m3: f64,
    height_m: f64,
    wind_factor: f64,
    mean_outdoor_k: f64,
    stairs: Vec<(usize, usize, f64)>,
    hubs: Vec<bool>,
}

impl Airflow {
    pub fn new(building: &Building, zones: &Zones, drivers: &Drivers) -> Self {
        let quarters = building::calendar::QUARTERS;
        let mut known: BTreeMap<Vec<u8>, u16> = BTreeMap::new();
        let mut combinations = Vec::new();
        let of_quarter = (0..quarters)
            .map(|q| {
                let modes: Vec<u8> = building
                    .ventilation
                    .iter()
                    .map(|unit| unit.running.get(q).copied().unwrap_or(0))
                    .collect();
                *known.entry(modes.clone()).or_insert_with(|| {
                    combinations.push(modes);
                    (combinations.len() - 1) as u16
                })
            })
            .collect();
        let mut leak_share = vec![0.0; zones.count()];
        for e in building.elements.iter().filter(|e| e.beyond == Beyond::Outside) {
            leak_share[zones.zone_of(e.space)] += e.gross_m2;
        }
        let sum: f64 = leak_share.iter().sum();
        for share in &mut leak_share {
            *share = if sum > 0.0 { *share / sum } else { 0.0 };
        }
        let stairs = building
            .floor_openings
            .iter()
            .map(|h| (zones.zone_of(h.upper), zones.zone_of(h.lower), h.area_m2))
            .filter(|(a, b, _)| a != b)
            .collect();
        let mut hubs = vec![false; zones.count()];
        for (i, space) in building.spaces.iter().enumerate() {
            hubs[zones.of_space[i]] |= space.kind == SpaceKind::Circulation;
        }
        let shelter = SHELTER
            .iter()
            .find(|(terrain, _)| *terrain == building.site.terrain)
            .map_or(0.7, |(_, factor)| *factor);
        let mean = drivers.outdoor_c.iter().sum::<f64>() / drivers.outdoor_c.len() as f64;
        Self {
            combinations,
            of_quarter,
            leak_share,
            volume_m3: counting::count(building, counting::certification_style()).volume_m3,
            height_m: height_m(building),
            wind_factor: shelter,
            mean_outdoor_k: mean + 273.15,
            stairs,
            hubs,
        }
    }

    /// Fills modes and leaks with one sample's numbers.
    pub fn fill(&self, frame: &Frame<'_>, r: &Resolved, model: &mut Model) {
        model.air_modes = self.combinations.iter().map(|modes| self.mode(frame, r, modes)).collect();
        let air = &frame.building.airtightness;
        let (n50, exponent, pressure) =
            (r[air.expected], r[air.exponent].clamp(0.5, 1.0), r[air.reference_pressure]);
        // m³/s at 1 Pa.
        let coefficient = n50 * self.volume_m3 / 3600.0 / pow(pressure, exponent);
        let (stack, wind) = enhanced_model_factors(exponent);
        let density = model.air_density_kg_m3;
        for (zone, share) in self.leak_share.iter().enumerate().filter(|(_, share)| **share > 0.0) {
            model.leaks.push(Leak {
                zone,
                from: LeakFrom::Outdoors,
                law: LeakLaw::StackWind {
                    coefficient: coefficient * share,
                    exponent,
                    stack_pa_k: stack * density * GRAVITY * self.height_m / self.mean_outdoor_k,
                    wind_pa_s2_m2: wind * 0.5 * density * self.wind_factor * self.wind_factor,
                },
            });
        }
    }

    /// One combination of the units' modes.
    ///
    /// Several units act as one whose recovery is their mean by supply. What is extracted beyond the supply comes in
    /// through the shell and passes no recovery: it is added to the zones by their share of the leaks.
    fn mode(&self, frame: &Frame<'_>, r: &Resolved, modes: &[u8]) -> AirMode {
        let zones = &frame.zones;
        let n = zones.count();
        let mut mode =
            AirMode { supply_m3_s: vec![0.0; n], extract_m3_s: vec![0.0; n], ..AirMode::default() };
        let (mut recovered, mut moisture) = (0.0, 0.0);
        for (unit, running) in frame.building.ventilation.iter().zip(modes) {
            let Some(m) = unit.modes.get(usize::from(*running)) else { continue };
            let (supply, extract) = (r[m.supply], r[m.extract]);
            for (space, share) in &m.supply_shares {
                mode.supply_m3_s[zones.zone_of(*space)] += supply * share;
            }
            for (space, share) in &m.extract_shares {
                mode.extract_m3_s[zones.zone_of(*space)] += extract * share;
            }
            recovered += supply * r[m.temperature_recovery].clamp(0.0, 1.0);
            moisture += supply * r[m.moisture_recovery].clamp(0.0, 1.0);
        }
        let supply: f64 = mode.supply_m3_s.iter().sum();
        let extract: f64 = mode.extract_m3_s.iter().sum();
        let missing = (extract - supply).max(0.0);
        for (q, share) in mode.supply_m3_s.iter_mut().zip(&self.leak_share) {
            *q += missing * share;
        }
        let brought = supply + missing;
        if brought > 0.0 {
            mode.recovery = recovered / brought;
            mode.moisture_recovery = moisture / brought;
        }
        mode.between_m3_s = self.transfers(&mode);
        for (a, b, area) in &self.stairs {
            let q = STAIR_EXCHANGE_M_S * area;
            mode.between_m3_s.push((*a, *b, q));
            mode.between_m3_s.push((*b, *a, q));
        }
        mode
    }

    /// Air that moves from zones with more supply to zones with more extract: through corridors where there are any,
    /// else straight.
    fn transfers(&self, mode: &AirMode) -> Vec<(usize, usize, f64)> {
        let net: Vec<f64> = mode.supply_m3_s.iter().zip(&mode.extract_m3_s).map(|(s, e)| s - e).collect();
        let wanted: f64 = net.iter().map(|q| (-q).max(0.0)).sum();
        let spare: f64 = net.iter().map(|q| q.max(0.0)).sum();
        if wanted <= 0.0 || spare <= 0.0 {
            return Vec::new();
        }
        // What is supplied beyond the extract leaves through the shell.
        let moved = wanted.min(spare);
        let hub = self.hubs.iter().position(|hub| *hub);
        let mut flows = Vec::new();
        if let Some(hub) = hub {
            for (zone, q) in net.iter().enumerate().filter(|(zone, _)| *zone != hub) {
                if *q > 0.0 {
                    flows.push((zone, hub, q * moved / spare));
                } else if *q < 0.0 {
                    flows.push((hub, zone, -q * moved / wanted));
                }
            }
            return flows;
        }
        for (from, q) in net.iter().enumerate().filter(|(_, q)| **q > 0.0) {
            for (to, p) in net.iter().enumerate().filter(|(_, p)| **p < 0.0) {
                flows.push((from, to, q * -p / wanted * moved / spare));
            }
        }
        flows
    }
}

/// Stack and wind factors as pressures: `Q_s = c f_s (ρ g H ΔT / T)ⁿ`, `Q_w = c f_w (½ ρ S² v²)ⁿ`, so `f^(1/n)` goes
/// into the driving pressure.
///
/// Walker and Wilson 1990/1998, AIM-2, no flue, leaks spread evenly (from memory):
/// `f_s = (1 + n R)/(n + 1) · (½)^(n + 1)`, `f_w = 0.19 (2 − n) (1 − (R/2)^(3/2))`.
fn enhanced_model_factors(n: f64) -> (f64, f64) {
    let r = CEILING_FLOOR_SUM;
    let stack = (1.0 + n * r) / (n + 1.0) * pow(0.5, n + 1.0);
    let wind = 0.19 * (2.0 - n) * (1.0 - pow(r / 2.0, 1.5));
    (pow(stack, 1.0 / n), pow(wind, 1.0 / n))
}
