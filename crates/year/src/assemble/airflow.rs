//! Ventilation modes and leaks.
//!
//! Leaks follow the air flow network of the nominal building, solved hour by hour (`network`); samples scale its flows by
//! their leaks and fans. What a mode supplies or extracts beyond the other goes through the network, whose leaks let the
//! rest in or out. A neighbour whose pressure is stated draws air from us or pushes it in; one without is taken to be at
//! our pressure and exchanges none. [`Airflow::rule_of_thumb_m3_s`] is the enhanced stack-and-wind model beside it.
//!
//! Rooms and corridors exchange air through their doors, also between zones of the limits run.
//!
//! Standard use runs one mode: the year's mean flows, recovery weighted by flow.

use std::collections::BTreeMap;

use building::model::{Beyond, Building};
use building::plan::{SpaceKind, Terrain};
use building::{Resolved, counting};
use climate::Climate;
use numeric::pow;

use super::Frame;
use super::network::{Found, Setting};
use super::surfaces::power_law;
use super::zones::Zones;
use crate::error::YearError;
use crate::kernel::input::{AirMode, Drivers, Leak, LeakLaw, Model};
use crate::result::{Grain, Use};

/// The recovery is passed by only while outdoor air is at least this warm, °C. Judgement: cooler supply draughts.
pub(crate) const COOLEST_BYPASS_C: f64 = 12.0;
/// Exchange through a hole in a floor, m/s of its area, both ways. Judgement: stairwells mix at 0.02 to 0.1 m/s.
const STAIR_EXCHANGE_M_S: f64 = 0.05;
/// Exchange through the door of a room, m³/s, both ways: a fifth of the time it stands open, where 0.8 m by 2.0 m passes
/// about 300 m³/h at 1 K (`C_d/3 W H^1.5 √(g ΔT/T)`, C_d = 0.6), and shut it still passes about 20 m³/h. The share of
/// time is judgement: without any exchange, rooms with shut doors share nothing all year.
const DOOR_EXCHANGE_M3_S: f64 = (0.2 * 300.0 + 20.0) / 3600.0;
/// Pressure at which samples' leaks are compared where the network finds no inflow, Pa.
const USUAL_PA: f64 = 2.0;
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

/// A combination of the units' modes.
#[derive(Clone, Debug, PartialEq)]
struct Combination {
    /// Mode of each unit.
    modes: Vec<u8>,
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
    /// The network's flows.
    found: Found,
    /// Nominal numbers the network was solved with.
    solved: Solved,
    volume_m3: f64,
    height_m: f64,
    wind_factor: f64,
    mean_outdoor_k: f64,
    stairs: Vec<(usize, usize, f64)>,
    /// Rooms' doors: zones on both sides.
    doors: Vec<(usize, usize)>,
    hubs: Vec<bool>,
}

/// What the network was solved with, for samples to be compared with.
#[derive(Clone, Debug, Default)]
struct Solved {
    /// Flows of the leaks to outdoors and to neighbours at the pressure that drives them, m³/s, and that pressure, Pa.
    outer: f64,
    party: f64,
    driving_pa: f64,
    /// Supply less extract by air mode, m³/s.
    surplus: Vec<f64>,
}

impl Airflow {
    pub fn new(
        building: &Building,
        climate: &Climate,
        zones: &Zones,
        drivers: &mut Drivers,
        use_case: Use,
        grain: Grain,
        nominal: &Resolved,
    ) -> Result<Self, YearError> {
        let (combinations, mut of_quarter) = combinations(building);
        let even = use_case == Use::Standard;
        if even {
            of_quarter.fill(0);
        }
        let mut party_m2 = vec![vec![0.0; zones.count()]; building.neighbours.len()];
        for e in &building.elements {
            if let Beyond::Neighbour(n) = e.beyond
                && e.in_enclosure
            {
                party_m2[n.0][zones.zone_of(e.space)] += e.gross_m2;
            }
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
            found: Found::default(),
            solved: Solved::default(),
            volume_m3: counting::count(building, counting::certification_style()).volume_m3,
            height_m: height_m(building),
            wind_factor: shelter,
            mean_outdoor_k: mean + 273.15,
            stairs,
            doors: doors(building, zones),
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
        it.solve(building, climate, zones, drivers, grain, nominal)?;
        drivers.hourly_flows = std::mem::take(&mut it.found.flows);
        Ok(it)
    }

    /// What the network is made from.
    pub(crate) fn setting<'a>(
        &'a self,
        building: &'a Building,
        climate: &'a Climate,
        zones: &'a Zones,
        drivers: &'a Drivers,
        grain: Grain,
        nominal: &'a Resolved,
    ) -> Setting<'a> {
        let surplus = |mode| self.zone_surplus_m3_h(&self.flows(building, zones, mode, nominal));
        let (outer_m3_s, exponent) = self.outer(building, nominal);
        Setting {
            building,
            climate,
            zones,
            nominal,
            drivers,
            grain,
            outer_m3_s,
            party_m3_s: (0..building.neighbours.len()).map(|n| self.party(building, n, nominal)).collect(),
            exponent,
            surplus_m3_h: (0..self.modes()).map(surplus).collect(),
            doors: &self.doors,
            holes: &self.stairs,
            of_quarter: &self.of_quarter,
            density_kg_m3: super::air_density_kg_m3(drivers.pressure_pa),
        }
    }

    /// Solves the network and remembers what it was solved with.
    fn solve(
        &mut self,
        building: &Building,
        climate: &Climate,
        zones: &Zones,
        drivers: &Drivers,
        grain: Grain,
        nominal: &Resolved,
    ) -> Result<(), YearError> {
        self.found = self.setting(building, climate, zones, drivers, grain, nominal).solve()?;
        let (outer_m3_s, exponent) = self.outer(building, nominal);
        let party_m3_s = self.whole_party(building, nominal);
        // Half the leaks let in what the other half lets out: so the mean inflow tells the pressure that drives it.
        let mean: f64 = self.found.flows.tables.iter().map(|table| mean(&table.flow_m3_s)).sum();
        let driving_pa =
            if mean > 0.0 { pow(2.0 * mean / (outer_m3_s + party_m3_s), 1.0 / exponent) } else { USUAL_PA };
        self.solved = Solved {
            outer: outer_m3_s * pow(driving_pa, exponent),
            party: party_m3_s * pow(driving_pa, exponent),
            driving_pa,
            surplus: (0..self.modes())
                .map(|mode| surplus_m3_s(&self.flows(building, zones, mode, nominal)))
                .collect(),
        };
        Ok(())
    }

    /// Supply less extract of each zone with the transfers between zones, m³/h.
    fn zone_surplus_m3_h(&self, mode: &AirMode) -> Vec<f64> {
        let mut surplus: Vec<f64> =
            mode.supply_m3_s.iter().zip(&mode.extract_m3_s).map(|(s, e)| 3600.0 * (s - e)).collect();
        for (from, to, q) in self.transfers(mode) {
            surplus[from] -= 3600.0 * q;
            surplus[to] += 3600.0 * q;
        }
        surplus
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
        let (outer_m3_s, exponent) = self.outer(frame.building, r);
        let over = |m3_s: f64, nominal: f64| if nominal > 0.0 { m3_s / nominal } else { 0.0 };
        let driven = pow(self.solved.driving_pa, exponent);
        let outer = over(outer_m3_s * driven, self.solved.outer);
        let party = over(self.whole_party(frame.building, r) * driven, self.solved.party);
        let party = over(party, outer);
        model.air_modes = (0..self.modes())
            .map(|mode| {
                let mut flows = self.mode(frame, r, mode);
                flows.surplus_beyond_m3_s =
                    surplus_m3_s(&flows) - outer * self.solved.surplus.get(mode).copied().unwrap_or(0.0);
                flows
            })
            .collect();
        for (table, (zone, from)) in self.found.entries.iter().enumerate() {
            let law = LeakLaw::Hourly { table, factor: outer, party };
            model.leaks.push(Leak { zone: *zone, from: *from, law });
        }
    }

    /// Leak to outdoors, m³/s at 1 Pa, and its exponent.
    fn outer(&self, building: &Building, r: &Resolved) -> (f64, f64) {
        let air = &building.airtightness;
        let exponent = r[air.exponent].clamp(0.5, 1.0);
        (r[air.expected] * self.volume_m3 / 3600.0 / pow(r[air.reference_pressure], exponent), exponent)
    }

    /// Leak to a neighbour of stated pressure, m³/s at 1 Pa; zero to others.
    fn party(&self, building: &Building, neighbour: usize, r: &Resolved) -> f64 {
        let air = &building.airtightness;
        let all: f64 = self.party_m2.iter().flatten().sum();
        let own: f64 = self.party_m2[neighbour].iter().sum();
        let stated = building.neighbours[neighbour].pressure.is_some();
        let Some(party) = air.party.filter(|_| own > 0.0 && stated) else { return 0.0 };
        r[party] * own / all / pow(r[air.reference_pressure], self.outer(building, r).1)
    }

    /// Leak to all neighbours of stated pressure, m³/s at 1 Pa.
    fn whole_party(&self, building: &Building, r: &Resolved) -> f64 {
        (0..building.neighbours.len()).map(|n| self.party(building, n, r)).sum()
    }

    /// Mean flow through the outer leaks by the enhanced stack-and-wind model at an inside temperature, m³/s: the rule
    /// beside the network.
    pub fn rule_of_thumb_m3_s(
        &self,
        building: &Building,
        drivers: &Drivers,
        r: &Resolved,
        inside_c: f64,
    ) -> f64 {
        let (coefficient, exponent) = self.outer(building, r);
        let (stack, wind) = enhanced_model_factors(exponent);
        let density = super::air_density_kg_m3(drivers.pressure_pa);
        let stack_pa_k = stack * density * GRAVITY * self.height_m / self.mean_outdoor_k;
        let wind_pa_s2_m2 = wind * 0.5 * density * self.wind_factor * self.wind_factor;
        let flows: Vec<f64> = (0..drivers.hours)
            .map(|hour| {
                let difference = (inside_c - drivers.outdoor_c[hour * drivers.steps_per_hour]).abs();
                let v = drivers.wind_m_s[hour];
                let part = |pa: f64| if pa > 0.0 { pow(pa, 2.0 * exponent) } else { 0.0 };
                coefficient * (part(stack_pa_k * difference) + part(wind_pa_s2_m2 * v * v)).sqrt()
            })
            .collect();
        mean(&flows)
    }

    /// Returns what each neighbour takes from us by slot of the hourly flows, m³/s, at nominal numbers.
    pub fn taken_m3_s(&self) -> &[Vec<f64>] {
        &self.found.taken_m3_s
    }

    /// One combination of the units' modes.
    ///
    /// Several units act as one whose recovery is their mean by supply.
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
        for (a, b) in &self.doors {
            mode.between_m3_s.push((*a, *b, DOOR_EXCHANGE_M3_S));
            mode.between_m3_s.push((*b, *a, DOOR_EXCHANGE_M3_S));
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
        if supply > 0.0 {
            mode.recovery = recovered / supply;
            mode.moisture_recovery = moisture / supply;
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
    let mut known: BTreeMap<Vec<u8>, u16> = BTreeMap::new();
    let mut combinations: Vec<Combination> = Vec::new();
    let of_quarter = (0..quarters)
        .map(|q| {
            let units = building.ventilation.iter();
            let modes: Vec<u8> = units.map(|unit| unit.running.get(q).copied().unwrap_or(0)).collect();
            let place = *known.entry(modes.clone()).or_insert_with(|| {
                combinations.push(Combination { modes, share: 0.0 });
                (combinations.len() - 1) as u16
            });
            combinations[usize::from(place)].share += 1.0 / quarters as f64;
            place
        })
        .collect();
    (combinations, of_quarter)
}

/// Doors: each room that no gathering shuts and that borders on a corridor or stair has one there.
fn doors(building: &Building, zones: &Zones) -> Vec<(usize, usize)> {
    let circulation = |i: usize| building.spaces[i].kind == SpaceKind::Circulation;
    let mut doors = Vec::new();
    for room in (0..building.spaces.len()).filter(|i| !circulation(*i)) {
        if building.gatherings.iter().any(|g| g.space.0 == room) {
            continue;
        }
        let across = building.elements.iter().find_map(|e| match e.beyond {
            Beyond::Space(other) if e.space.0 == room && circulation(other.0) => Some(other.0),
            Beyond::Space(other) if other.0 == room && circulation(e.space.0) => Some(e.space.0),
            _ => None,
        });
        // Within one zone the air is mixed anyway.
        let pair = across.map(|corridor| (zones.of_space[room], zones.of_space[corridor]));
        doors.extend(pair.filter(|(a, b)| a != b));
    }
    doors
}

fn mean(values: &[f64]) -> f64 {
    if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 }
}

/// Supply less extract of the whole, m³/s.
fn surplus_m3_s(mode: &AirMode) -> f64 {
    mode.supply_m3_s.iter().sum::<f64>() - mode.extract_m3_s.iter().sum::<f64>()
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
