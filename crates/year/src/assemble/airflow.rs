//! Ventilation modes and leaks.
//!
//! Leaks of the limits run follow the enhanced stack-and-wind model, whole building, shared among zones by their
//! enclosure towards outdoors. The flow network replaces this rule by tables ([`LeakLaw::Response`]) once it has run
//! on the nominal building.
//!
//! Leaks to neighbours stand apart: a neighbour whose pressure is stated draws air from us (below outdoors) or pushes it
//! in (above) through the party leak and our outer leak in series, while its schedule says so; stack over the party
//! boundary is left out. What is drawn from us comes in from outdoors. These flows are tables by air mode.
//!
//! Standard use runs one mode: the year's mean flows, recovery weighted by flow, and the year's mean party air.

use std::collections::BTreeMap;

use building::model::{Beyond, Building};
use building::plan::{SpaceKind, Terrain};
use building::{Resolved, ValueKey, counting};
use climate::Climate;
use numeric::pow;

use super::Frame;
use super::surfaces::power_law;
use super::zones::Zones;
use crate::kernel::input::{AirMode, Drivers, FlowResponse, Leak, LeakFrom, LeakLaw, Model};
use crate::result::Use;

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

/// A combination of the units' modes and the neighbours' pressures.
#[derive(Clone, Debug, PartialEq)]
struct Combination {
    /// Mode of each unit.
    modes: Vec<u8>,
    /// Pressure of each neighbour against outdoors.
    pressures: Vec<Option<ValueKey>>,
    /// Share of the year.
    share: f64,
}

/// What ventilation and leaks share between samples.
#[derive(Clone, Debug)]
pub(crate) struct Airflow {
    combinations: Vec<Combination>,
    /// Air mode of each quarter-hour.
    pub of_quarter: Vec<u16>,
    /// One air mode with the year's means.
    even: bool,
    /// Zones between which ventilation moves air in some mode.
    pairs: Vec<(usize, usize)>,
    /// Area of the party boundary by neighbour and zone, m².
    party_m2: Vec<Vec<f64>>,
    /// Air pushed in (drawn: negative) by neighbour and air mode at nominal numbers, m³/s.
    party_nominal: Vec<Vec<f64>>,
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
    pub fn new(
        building: &Building,
        zones: &Zones,
        drivers: &Drivers,
        use_case: Use,
        nominal: &Resolved,
    ) -> Self {
        let (combinations, mut of_quarter) = combinations(building);
        let even = use_case == Use::Standard;
        if even {
            of_quarter.fill(0);
        }
        let mut leak_share = vec![0.0; zones.count()];
        let mut party_m2 = vec![vec![0.0; zones.count()]; building.neighbours.len()];
        for e in &building.elements {
            match e.beyond {
                Beyond::Outside => leak_share[zones.zone_of(e.space)] += e.gross_m2,
                Beyond::Neighbour(n) if e.in_enclosure => party_m2[n.0][zones.zone_of(e.space)] += e.gross_m2,
                _ => {}
            }
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
        let mut it = Self {
            combinations,
            of_quarter,
            even,
            pairs: Vec::new(),
            party_m2,
            party_nominal: Vec::new(),
            leak_share,
            volume_m3: counting::count(building, counting::certification_style()).volume_m3,
            height_m: height_m(building),
            wind_factor: shelter,
            mean_outdoor_k: mean + 273.15,
            stairs,
            hubs,
        };
        for mode in 0..it.modes() {
            for (from, to, _) in it.transfers(&it.flows(building, zones, mode, nominal)) {
                if !it.pairs.contains(&(from, to)) {
                    it.pairs.push((from, to));
                }
            }
        }
        it.pairs.sort_unstable();
        it.party_nominal =
            (0..building.neighbours.len()).map(|n| it.party_flows(building, n, nominal)).collect();
        it
    }

    /// Returns how many air modes there are.
    pub fn modes(&self) -> usize {
        if self.even { 1 } else { self.combinations.len() }
    }

    /// Returns each unit's mode in an air mode; in even use, of the first combination.
    pub fn modes_of(&self, air_mode: u16) -> &[u8] {
        &self.combinations[usize::from(air_mode)].modes
    }

    /// Combinations of an air mode with their weights.
    fn parts(&self, air_mode: usize) -> impl Iterator<Item = (&Combination, f64)> {
        let range = if self.even { 0..self.combinations.len() } else { air_mode..air_mode + 1 };
        self.combinations[range].iter().map(|c| (c, if self.even { c.share } else { 1.0 }))
    }

    /// Fills modes and leaks with one sample's numbers.
    pub fn fill(&self, frame: &Frame<'_>, r: &Resolved, model: &mut Model) {
        model.air_modes = (0..self.modes()).map(|mode| self.mode(frame, r, mode)).collect();
        let (coefficient, exponent) = self.outer(frame.building, r);
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
        for neighbour in 0..self.party_nominal.len() {
            self.fill_party(frame.building, neighbour, r, model);
        }
    }

    /// Leak to outdoors, m³/s at 1 Pa, and its exponent.
    fn outer(&self, building: &Building, r: &Resolved) -> (f64, f64) {
        let air = &building.airtightness;
        let exponent = r[air.exponent].clamp(0.5, 1.0);
        (r[air.expected] * self.volume_m3 / 3600.0 / pow(r[air.reference_pressure], exponent), exponent)
    }

    /// Air a neighbour pushes in (draws: negative) in each air mode, m³/s.
    fn party_flows(&self, building: &Building, neighbour: usize, r: &Resolved) -> Vec<f64> {
        let air = &building.airtightness;
        let all: f64 = self.party_m2.iter().flatten().sum();
        let own: f64 = self.party_m2[neighbour].iter().sum();
        let Some(party) = air.party.filter(|_| own > 0.0) else { return vec![0.0; self.modes()] };
        let (outer, exponent) = self.outer(building, r);
        let through = r[party] * own / all / pow(r[air.reference_pressure], exponent);
        (0..self.modes())
            .map(|mode| {
                let flow = |(c, weight): (&Combination, f64)| {
                    let pressure = c.pressures[neighbour].map_or(0.0, |key| r[key]);
                    weight * in_series(outer, through, exponent, pressure)
                };
                self.parts(mode).map(flow).sum()
            })
            .collect()
    }

    fn fill_party(&self, building: &Building, neighbour: usize, r: &Resolved, model: &mut Model) {
        let nominal = &self.party_nominal[neighbour];
        let flows = self.party_flows(building, neighbour, r);
        for (from, sign) in [(LeakFrom::Outdoors, -1.0), (LeakFrom::Given(neighbour), 1.0)] {
            let one_way = |q: &f64| (sign * q).max(0.0);
            let sum: f64 = nominal.iter().map(one_way).sum();
            if sum == 0.0 {
                continue;
            }
            let scale = flows.iter().map(one_way).sum::<f64>() / sum;
            let areas = if from == LeakFrom::Outdoors { &self.leak_share } else { &self.party_m2[neighbour] };
            let whole: f64 = areas.iter().sum();
            for (zone, area) in areas.iter().enumerate().filter(|(_, area)| **area > 0.0) {
                // The same at any wind and temperature: two of each make a table.
                model.responses.push(FlowResponse {
                    wind_step_m_s: 10.0,
                    winds: 2,
                    first_difference_k: -50.0,
                    difference_step_k: 100.0,
                    differences: 2,
                    flow_m3_s: nominal.iter().flat_map(|q| [one_way(q) * area / whole; 4]).collect(),
                });
                let table = model.responses.len() - 1;
                model.leaks.push(Leak { zone, from, law: LeakLaw::Response { table, scale } });
            }
        }
    }

    /// One combination of the units' modes.
    ///
    /// Several units act as one whose recovery is their mean by supply. What is extracted beyond the supply comes in
    /// through the shell and passes no recovery: it is added to the zones by their share of the leaks.
    fn mode(&self, frame: &Frame<'_>, r: &Resolved, air_mode: usize) -> AirMode {
        let mut mode = self.flows(frame.building, &frame.zones, air_mode, r);
        // Lanes must list the same pairs, whatever their flows.
        let moved = self.transfers(&mode);
        let flow = |(from, to): (usize, usize)| -> f64 {
            moved.iter().filter(|(a, b, _)| (*a, *b) == (from, to)).map(|m| m.2).sum()
        };
        mode.between_m3_s = self.pairs.iter().map(|pair| (pair.0, pair.1, flow(*pair))).collect();
        for (a, b, area) in &self.stairs {
            let q = STAIR_EXCHANGE_M_S * area;
            mode.between_m3_s.push((*a, *b, q));
            mode.between_m3_s.push((*b, *a, q));
        }
        mode
    }

    /// Supply, extract and recovery of an air mode.
    fn flows(&self, building: &Building, zones: &Zones, air_mode: usize, r: &Resolved) -> AirMode {
        let n = zones.count();
        let mut mode =
            AirMode { supply_m3_s: vec![0.0; n], extract_m3_s: vec![0.0; n], ..AirMode::default() };
        let (mut recovered, mut moisture) = (0.0, 0.0);
        let running = self.parts(air_mode).flat_map(|(c, weight)| {
            building.ventilation.iter().zip(&c.modes).map(move |(unit, mode)| (unit, *mode, weight))
        });
        for (unit, running, weight) in running {
            let Some(m) = unit.modes.get(usize::from(running)) else { continue };
            let (supply, extract) = (weight * r[m.supply], weight * r[m.extract]);
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
        mode
    }

    /// Hours a year of each unit's modes.
    pub fn mode_hours(&self, building: &Building) -> Vec<Vec<f64>> {
        let mut hours: Vec<Vec<f64>> =
            building.ventilation.iter().map(|unit| vec![0.0; unit.modes.len()]).collect();
        for c in &self.combinations {
            for (unit, mode) in hours.iter_mut().zip(&c.modes) {
                if let Some(sum) = unit.get_mut(usize::from(*mode)) {
                    *sum += 8760.0 * c.share;
                }
            }
        }
        hours
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

/// Combinations that occur in a year and each quarter-hour's place among them.
fn combinations(building: &Building) -> (Vec<Combination>, Vec<u16>) {
    let quarters = building::calendar::QUARTERS;
    let mut known: BTreeMap<(Vec<u8>, Vec<u16>), u16> = BTreeMap::new();
    let mut combinations: Vec<Combination> = Vec::new();
    let of_quarter = (0..quarters)
        .map(|q| {
            let units = building.ventilation.iter();
            let modes: Vec<u8> = units.map(|unit| unit.running.get(q).copied().unwrap_or(0)).collect();
            let profiles = || building.neighbours.iter().map(|n| n.pressure.as_ref());
            let levels: Vec<u16> = profiles().map(|p| p.map_or(0, |p| p.index[q])).collect();
            let place = *known.entry((modes.clone(), levels)).or_insert_with(|| {
                let pressures = profiles().map(|p| p.and_then(|p| p.at(q))).collect();
                combinations.push(Combination { modes, pressures, share: 0.0 });
                (combinations.len() - 1) as u16
            });
            combinations[usize::from(place)].share += 1.0 / quarters as f64;
            place
        })
        .collect();
    (combinations, of_quarter)
}

/// Flow through two leaks in series under a pressure, m³/s, with its sign. With one exponent the pressures share as
/// the n-th roots of the coefficients.
fn in_series(outer: f64, party: f64, exponent: f64, pressure_pa: f64) -> f64 {
    if pressure_pa == 0.0 || outer <= 0.0 || party <= 0.0 {
        return 0.0;
    }
    let ratio = pow(party / outer, 1.0 / exponent);
    let size = outer * pow(pressure_pa.abs() * ratio / (1.0 + ratio), exponent);
    if pressure_pa < 0.0 { -size } else { size }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn leaks_in_series_pass_the_same_flow() {
        let (outer, party, n) = (0.012, 0.005, 0.65);
        let q = in_series(outer, party, n, -6.0);
        let ours = pow(-q / outer, 1.0 / n);
        assert!((party * pow(6.0 - ours, n) + q).abs() < 1e-12);
        assert!(q < 0.0 && -q < party * pow(6.0, n));
    }
}
