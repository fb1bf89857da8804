//! The air flow network of a building, solved for every hour of the year at nominal numbers.
//!
//! Zones are joined to outdoors by leaks spread over the enclosure by area, to neighbours of stated pressure by the
//! party leak spread likewise, to each other by doors and holes in floors. Each hour and air mode is solved at 20 °C
//! inside and again a little warmer, and with a little less supply, so that the balance and its samples can follow zone
//! temperatures, leaks and fans ([`HourlyFlows`]). Days are solved apart from each other, each from rest: the result
//! does not depend on how many threads share them.
//!
//! # Limits
//! Nobody knows where leaks are before a test has found them: even by area is an assumption. A neighbour's stated
//! pressure holds where a logger stands, and its air stacks from there. Air that passes from zone to zone because of wind or stack
//! is solved for, but its heat is not moved: doors move it ([`super::airflow`]).

use air::leakage::PowerLaw;
use air::network::{GRAVITY_M_S2, air_density_kg_m3};
use air::wind::{self, Air, Beyond as AirBeyond, FacadeLeak, Face, Moment, PartyLeak, Plan, Shelter};
use building::Resolved;
use building::model::{Beyond, Building, Element};
use building::plan::Terrain;
use climate::Climate;
use rayon::prelude::*;

use super::zones::Zones;
use crate::error::YearError;
use crate::kernel::input::{Drivers, FLOW_AT_C, HourlyFlow, HourlyFlows, LeakFrom, PARTY_TRIED};
use crate::result::Grain;

/// How much warmer the second solution is, K.
const WARMER_K: f64 = 6.0;
/// Surplus taken away in the third, m³/h.
const LESS_SUPPLY_M3_H: f64 = 20.0;
/// Free area round and under a shut inside door, m². Judgement: 0.8 m of 10 mm undercut and its rebate.
const DOOR_GAP_M2: f64 = 0.01;
/// Height over the ground at which a neighbour's pressure is read, m: where a logger stands.
const LOGGER_M: f64 = 1.5;
/// Height over which a wall leaks when nothing is drawn of it, m.
const WALL_SPREAD_M: f64 = 2.5;

/// What the network is made from besides the building.
pub(crate) struct Setting<'a> {
    pub building: &'a Building,
    pub climate: &'a Climate,
    pub zones: &'a Zones,
    pub nominal: &'a Resolved,
    pub drivers: &'a Drivers,
    pub grain: Grain,
    /// Leak to outdoors, m³/s at 1 Pa; leak to each neighbour of stated pressure likewise; exponent.
    pub outer_m3_s: f64,
    pub party_m3_s: Vec<f64>,
    pub exponent: f64,
    /// Supply less extract of each zone by air mode, transfers counted, m³/h.
    pub surplus_m3_h: Vec<Vec<f64>>,
    /// Pairs of zones joined by a door, and by a hole of an area, m².
    pub doors: &'a [(usize, usize)],
    pub holes: &'a [(usize, usize, f64)],
    /// Air mode of each quarter-hour.
    pub of_quarter: &'a [u16],
    /// Density that turns mass into the balance's volumes, kg/m³.
    pub density_kg_m3: f64,
}

/// The year's flows.
#[derive(Clone, Debug, Default)]
pub(crate) struct Found {
    pub flows: HourlyFlows,
    /// Zone and source of each table.
    pub entries: Vec<(usize, LeakFrom)>,
    /// Air that each neighbour takes from us, m³/s, by slot.
    pub taken_m3_s: Vec<Vec<f64>>,
}

/// One solved slot: inflow of each table, m³/s, at 20 °C, and what neighbours take; the inflows at other states, empty
/// where nobody asks.
struct Slot {
    mode: u16,
    now: Vec<f64>,
    taken: Vec<f64>,
    warmer: Vec<f64>,
    less_supply: Vec<f64>,
    party: [Vec<f64>; 2],
}

/// The network, and again with other leaks to neighbours.
#[derive(Clone)]
struct Networks {
    own: Air,
    party: Vec<Air>,
}

impl Setting<'_> {
    /// Solves the year.
    pub fn solve(&self) -> Result<Found, YearError> {
        if !(self.outer_m3_s > 0.0) {
            return Ok(Found::default());
        }
        let own = self.air()?;
        // Only the limits run has samples.
        let asked = self.grain == Grain::Limits && self.party_m3_s.iter().any(|c| *c > 0.0);
        let party = PARTY_TRIED.iter().filter(|_| asked).map(|g| Ok(Air::new(self.plan(*g))?));
        let air = Networks { own, party: party.collect::<Result<_, YearError>>()? };
        let entries = self.entries(air.own.plan());
        let days = self.drivers.hours / 24;
        let solved: Vec<Vec<Vec<Slot>>> = (0..days)
            .into_par_iter()
            .map(|day| {
                let mut air = air.clone();
                (day * 24..day * 24 + 24).map(|hour| self.hour(&mut air, &entries, hour)).collect()
            })
            .collect::<Result<_, YearError>>()?;
        Ok(self.gather(entries, solved.into_iter().flatten()))
    }

    /// Solves one hour at given temperatures; returns what comes in from outdoors by zone, m³/s.
    pub fn outdoors_at(
        &self,
        air: &mut Air,
        hour: usize,
        mode: usize,
        zones_c: &[f64],
    ) -> Result<Vec<f64>, YearError> {
        let mut moment = self.moment(hour, mode, FLOW_AT_C);
        moment.zones_c.copy_from_slice(zones_c);
        Ok(air.at(&moment)?.iter().map(|z| z.from_outside_kg_s / self.density_kg_m3).collect())
    }

    /// The network itself.
    pub fn air(&self) -> Result<Air, YearError> {
        Ok(Air::new(self.plan(1.0))?)
    }

    fn gather(&self, entries: Vec<(usize, LeakFrom)>, hours: impl Iterator<Item = Vec<Slot>>) -> Found {
        let neighbours = self.party_m3_s.len();
        let mut found = Found {
            flows: HourlyFlows {
                first: vec![0],
                mode: Vec::new(),
                tables: vec![HourlyFlow::default(); entries.len()],
            },
            entries,
            taken_m3_s: vec![Vec::new(); neighbours],
        };
        for slots in hours {
            for slot in slots {
                found.flows.mode.push(slot.mode);
                for (k, table) in found.flows.tables.iter_mut().enumerate() {
                    let now = slot.now[k];
                    table.flow_m3_s.push(now);
                    table.per_k.push((slot.warmer[k] - now) / WARMER_K);
                    if let Some(less) = slot.less_supply.get(k) {
                        table.per_surplus.push(-(less - now) / (LESS_SUPPLY_M3_H / 3600.0));
                    }
                    for (column, tried) in table.party.iter_mut().zip(&slot.party) {
                        column.extend(tried.get(k).map(|q| q - now));
                    }
                }
                for (sum, taken) in found.taken_m3_s.iter_mut().zip(slot.taken) {
                    sum.push(taken);
                }
            }
            found.flows.first.push(found.flows.mode.len() as u32);
        }
        found
    }

    /// Zones and sources through which air can come in.
    fn entries(&self, plan: &Plan) -> Vec<(usize, LeakFrom)> {
        let mut entries: Vec<(usize, LeakFrom)> = Vec::new();
        let outer = plan.facades.iter().map(|f| (f.zone, LeakFrom::Outdoors));
        let party = plan.parties.iter().filter_map(|p| match p.beyond {
            AirBeyond::Neighbour(n) => Some((p.zone, LeakFrom::Given(n))),
            AirBeyond::Zone(_) => None,
        });
        for entry in outer.chain(party) {
            if !entries.contains(&entry) {
                entries.push(entry);
            }
        }
        entries
    }

    /// Solves an hour in each of its air modes.
    fn hour(
        &self,
        air: &mut Networks,
        entries: &[(usize, LeakFrom)],
        hour: usize,
    ) -> Result<Vec<Slot>, YearError> {
        let quarters = self.of_quarter.get(hour * 4..hour * 4 + 4).unwrap_or(&[0]);
        let mut modes = quarters.to_vec();
        modes.sort_unstable();
        modes.dedup();
        modes
            .into_iter()
            .map(|mode| {
                let mut moment = self.moment(hour, usize::from(mode), FLOW_AT_C);
                let (now, taken) = self.inflow(&mut air.own, &moment, entries)?;
                let mut party = [Vec::new(), Vec::new()];
                for (inflow, other) in party.iter_mut().zip(&mut air.party) {
                    *inflow = self.inflow(other, &moment, entries)?.0;
                }
                moment.zones_c.fill(FLOW_AT_C + WARMER_K);
                let warmer = self.inflow(&mut air.own, &moment, entries)?.0;
                moment.zones_c.fill(FLOW_AT_C);
                let mut less_supply = Vec::new();
                if self.grain == Grain::Limits {
                    let share = LESS_SUPPLY_M3_H / moment.surplus_m3_h.len() as f64;
                    moment.surplus_m3_h.iter_mut().for_each(|s| *s -= share);
                    less_supply = self.inflow(&mut air.own, &moment, entries)?.0;
                }
                Ok(Slot { mode, now, taken, warmer, less_supply, party })
            })
            .collect()
    }

    fn moment(&self, hour: usize, mode: usize, inside_c: f64) -> Moment {
        let weather = &self.climate.hours[hour % self.climate.hours.len()];
        let outside_c = self.drivers.outdoor_c[hour * self.drivers.steps_per_hour];
        let density = |celsius| air_density_kg_m3(celsius, self.drivers.pressure_pa);
        let of = |n: usize| {
            let pressure = self.building.neighbours[n].pressure.as_ref();
            let quarters = (hour * 4..hour * 4 + 4).filter_map(|q| pressure?.at(q));
            let stated_pa = quarters.map(|key| self.nominal[key]).sum::<f64>() / 4.0;
            let neighbour_c = self.drivers.given[n].temperature_c[hour];
            let stack_pa = (density(outside_c) - density(neighbour_c)) * GRAVITY_M_S2 * LOGGER_M;
            (stated_pa - stack_pa, neighbour_c)
        };
        Moment {
            wind_m_s: weather.wind_speed_m_s.max(0.0),
            from_deg: weather.wind_direction_deg,
            outside_c,
            zones_c: vec![inside_c; self.zones.count()],
            neighbours: (0..self.party_m3_s.len()).map(of).collect(),
            surplus_m3_h: self.surplus_m3_h[mode].clone(),
            barometer_pa: self.drivers.pressure_pa,
        }
    }

    /// Inflow of each entry and what each neighbour takes, m³/s.
    fn inflow(
        &self,
        air: &mut Air,
        moment: &Moment,
        entries: &[(usize, LeakFrom)],
    ) -> Result<(Vec<f64>, Vec<f64>), YearError> {
        let zones = air.at(moment)?;
        let mut taken = vec![0.0; self.party_m3_s.len()];
        let mut inflow: Vec<f64> = entries
            .iter()
            .map(|(zone, from)| match from {
                LeakFrom::Outdoors => zones[*zone].from_outside_kg_s / self.density_kg_m3,
                LeakFrom::Given(_) => 0.0,
            })
            .collect();
        for (party, flow) in air.plan().parties.iter().zip(air.party_flows_kg_s()) {
            let AirBeyond::Neighbour(n) = party.beyond else { continue };
            let volume = flow / self.density_kg_m3;
            taken[n] += (-volume).max(0.0);
            if let Some(k) = entries.iter().position(|e| *e == (party.zone, LeakFrom::Given(n))) {
                inflow[k] += volume.max(0.0);
            }
        }
        Ok((inflow, taken))
    }

    /// The building with leaks to neighbours so many times the nominal ones.
    fn plan(&self, party: f64) -> Plan {
        let terrain = self.building.site.terrain;
        let facades = self.facades();
        let mut parties = self.parties(party);
        let opening = |area_m2: f64| PowerLaw {
            coefficient_m3_h: 3600.0
                * air::leakage::SHARP_EDGE_DISCHARGE
                * area_m2
                * (2.0 / air::leakage::REFERENCE_DENSITY_KG_M3).sqrt(),
            exponent: 0.5,
        };
        let doors = self.doors.iter().map(|(a, b)| (*a, *b, DOOR_GAP_M2));
        for (a, b, area_m2) in doors.chain(self.holes.iter().copied()) {
            let height_m = self.height_of(a).min(self.height_of(b));
            parties.push(PartyLeak { zone: a, beyond: AirBeyond::Zone(b), leak: opening(area_m2), height_m });
        }
        let mut plan = Plan {
            zones: self.zones.count(),
            neighbours: self.party_m3_s.len(),
            eaves_m: facades.iter().map(|f| f.height_m + 0.5 * f.spread_m).fold(2.5, f64::max),
            facades,
            parties,
            terrain: match terrain {
                Terrain::Open => wind::Terrain::Open,
                Terrain::Country => wind::Terrain::Country,
                Terrain::Suburb => wind::Terrain::Urban,
                Terrain::Town => wind::Terrain::City,
            },
            shelter: match terrain {
                Terrain::Open => Shelter::Exposed,
                Terrain::Country | Terrain::Suburb => Shelter::HalfHeight,
                Terrain::Town => Shelter::FullHeight,
            },
        };
        // A zone without any way out takes no part: one opening to air at rest lets nothing through.
        for zone in cut_off(&plan) {
            let leak = opening(DOOR_GAP_M2);
            plan.facades.push(FacadeLeak { zone, face: Face::Still, leak, height_m: 0.0, spread_m: 0.0 });
        }
        plan
    }

    /// Leaks to outdoors, one for each zone, face and height.
    fn facades(&self) -> Vec<FacadeLeak> {
        let outer = |e: &&Element| e.beyond == Beyond::Outside && e.gross_m2 > 0.0;
        let whole: f64 = self.building.elements.iter().filter(outer).map(|e| e.gross_m2).sum();
        let mut facades: Vec<FacadeLeak> = Vec::new();
        for e in self.building.elements.iter().filter(outer) {
            let share = 3600.0 * self.outer_m3_s * e.gross_m2 / whole;
            let face = match e.tilt_deg {
                tilt if tilt < 60.0 => Face::Roof,
                tilt if tilt <= 120.0 => Face::Wall(e.azimuth_deg.round()),
                _ => Face::Still,
            };
            let height_m = (4.0 * e.mid_height_m).round() / 4.0;
            let zone = self.zones.zone_of(e.space);
            let same = |f: &&mut FacadeLeak| f.zone == zone && f.face == face && f.height_m == height_m;
            if let Some(found) = facades.iter_mut().find(same) {
                found.leak.coefficient_m3_h += share;
                continue;
            }
            let leak = PowerLaw { coefficient_m3_h: share, exponent: self.exponent };
            facades.push(FacadeLeak { zone, face, leak, height_m, spread_m: spread_m(e) });
        }
        facades
    }

    /// Leaks to neighbours, one for each zone.
    fn parties(&self, times: f64) -> Vec<PartyLeak> {
        let mut parties = Vec::new();
        for (n, coefficient) in self.party_m3_s.iter().enumerate().filter(|(_, c)| **c > 0.0) {
            let elements = self.building.elements.iter();
            let party =
                elements.filter(|e| matches!(e.beyond, Beyond::Neighbour(id) if id.0 == n) && e.in_enclosure);
            let mut zones = vec![(0.0, 0.0); self.zones.count()];
            for e in party {
                let zone = &mut zones[self.zones.zone_of(e.space)];
                zone.0 += e.gross_m2;
                zone.1 += e.gross_m2 * e.mid_height_m;
            }
            let whole: f64 = zones.iter().map(|z| z.0).sum();
            for (zone, (area, moment)) in zones.into_iter().enumerate().filter(|(_, z)| z.0 > 0.0) {
                parties.push(PartyLeak {
                    zone,
                    beyond: AirBeyond::Neighbour(n),
                    leak: PowerLaw {
                        coefficient_m3_h: 3600.0 * times * coefficient * area / whole,
                        exponent: self.exponent,
                    },
                    height_m: moment / area,
                });
            }
        }
        parties
    }

    /// Mean height of a zone's outer elements, m.
    fn height_of(&self, zone: usize) -> f64 {
        let own = self.building.elements.iter().filter(|e| self.zones.zone_of(e.space) == zone);
        let (mut area, mut moment) = (0.0, 0.0);
        for e in own.filter(|e| e.tilt_deg > 60.0 && e.tilt_deg < 120.0) {
            area += e.gross_m2;
            moment += e.gross_m2 * e.mid_height_m;
        }
        if area > 0.0 { moment / area } else { 0.0 }
    }
}

/// Height an element's leaks are spread over, m.
fn spread_m(e: &Element) -> f64 {
    if !(60.0..=120.0).contains(&e.tilt_deg) {
        return 0.0;
    }
    let heights = || e.outline_m.iter().map(|p| p[2]);
    let (low, high) = (heights().fold(f64::INFINITY, f64::min), heights().fold(f64::NEG_INFINITY, f64::max));
    if high > low { high - low } else { WALL_SPREAD_M }
}

/// Zones that no leak joins, even by way of others, to outdoors or a neighbour.
fn cut_off(plan: &Plan) -> Vec<usize> {
    let mut held = vec![false; plan.zones];
    plan.facades.iter().for_each(|f| held[f.zone] = true);
    loop {
        let mut grew = false;
        for p in &plan.parties {
            let beyond = match p.beyond {
                AirBeyond::Neighbour(_) => None,
                AirBeyond::Zone(z) => Some(z),
            };
            let other = beyond.is_none_or(|z| held[z]);
            if held[p.zone] != other {
                grew |= !held[p.zone] || beyond.is_some();
                held[p.zone] = true;
                if let Some(z) = beyond {
                    held[z] = true;
                }
            }
        }
        if !grew {
            return (0..plan.zones).filter(|z| !held[*z]).collect();
        }
    }
}
