//! People, machines, set points and gatherings over the calendar, as states of use.

use std::collections::BTreeMap;

use building::calendar::{Profile, QUARTERS, QUARTERS_A_DAY};
use building::model::{Building, GatheringId, Person, SpaceId};
use building::plan::SpaceKind;
use building::{Resolved, ValueKey};
use matter::moist_air;

use super::airflow::Airflow;
use super::zones::Zones;
use super::{Frame, YearOptions};
use crate::kernel::input::{Airing, Drivers, Model, UseState, Watch, ZoneUse};
use crate::result::Use;

/// Heat of evaporation at skin and room temperature, for turning latent watts into vapour, °C of the water.
const EVAPORATION_C: f64 = 25.0;
/// Opened windows in real use: air change of the room, 1/h, above this operative temperature, °C, while outdoors is
/// cooler by this, K. Judgement: single-sided airing by people who are there.
const AIRING_PER_H: f64 = 2.0;
const AIRING_ABOVE_C: f64 = 24.0;
const AIRING_COOLER_K: f64 = 2.0;

/// Gains of a limit set's standard use: even over the year and the floor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StandardUse {
    /// Sensible heat of people, lights and equipment, W/m².
    pub gains_w_m2: f64,
    /// Vapour, g/(m²·h).
    pub vapour_g_m2h: f64,
}

impl StandardUse {
    /// Dwellings: 2.1 W/m² and 2 g/(m²·h); common practice of very-low-energy limits, from memory.
    pub const DWELLING: Self = Self { gains_w_m2: 2.1, vapour_g_m2h: 2.0 };
    /// Schools and halls with daytime use: 2.8 W/m² and 1 g/(m²·h); common practice, from memory.
    pub const SCHOOL: Self = Self { gains_w_m2: 2.8, vapour_g_m2h: 1.0 };

    /// Returns the school's use for buildings with gatherings, else the dwelling's.
    pub fn fitting(building: &Building) -> Self {
        if building.gatherings.is_empty() { Self::DWELLING } else { Self::SCHOOL }
    }
}

/// What of a zone's gains scales with a sample: products of stated values with their weight over the year.
#[derive(Clone, Debug, Default)]
struct Scaling {
    people: Vec<(ValueKey, ValueKey, f64)>,
    equipment: Vec<(ValueKey, f64)>,
}

/// States of use and how samples scale them.
#[derive(Clone, Debug)]
pub(crate) struct Occupancy {
    pub watched: Vec<(GatheringId, usize)>,
    /// Steps with people anywhere; handed to the frame.
    pub occupied_steps: Vec<bool>,
    scaling: Vec<Scaling>,
    nominal: Vec<(f64, f64)>,
    airing: bool,
    heating_c: f64,
    cooling_c: f64,
}

/// Where a gathering stands in a quarter-hour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Crowd {
    Away,
    There,
    Interval,
}

/// A quarter-hour's state: levels of every use, crowds, ventilation, whether the day is closed.
type Key = (Vec<u16>, Vec<Crowd>, u16, bool);

impl Occupancy {
    pub fn new(
        building: &Building,
        nominal: &Resolved,
        use_case: Use,
        zones: &Zones,
        airflow: &Airflow,
        options: &YearOptions,
        drivers: &mut Drivers,
    ) -> Self {
        let real = use_case == Use::Real;
        let crowds = if real { crowds(building) } else { Vec::new() };
        let mut known: BTreeMap<Key, u16> = BTreeMap::new();
        let mut keys: Vec<Key> = Vec::new();
        let mut of_quarter = Vec::with_capacity(QUARTERS);
        for q in 0..QUARTERS {
            let levels = if real { use_levels(building, q) } else { Vec::new() };
            let there: Vec<Crowd> = crowds.iter().map(|c| c[q]).collect();
            let closed = building.calendar.days[q / QUARTERS_A_DAY].closed;
            let key = (levels, there, airflow.of_quarter[q], closed);
            let place = *known.entry(key.clone()).or_insert_with(|| {
                keys.push(key);
                (keys.len() - 1) as u16
            });
            of_quarter.push(place);
        }
        let mut scaling = vec![Scaling::default(); zones.count()];
        let mut counts = vec![0.0; keys.len()];
        for place in &of_quarter {
            counts[usize::from(*place)] += 1.0;
        }
        let standard = options.standard.unwrap_or_else(|| StandardUse::fitting(building));
        let mut state_occupied = Vec::with_capacity(keys.len());
        let mut uses = Vec::with_capacity(keys.len());
        for (key, count) in keys.iter().zip(&counts) {
            let mut builder = State::new(building, nominal, zones, &mut scaling, *count);
            if real {
                builder.everyday(&key.0);
                builder.crowds(&key.1);
            } else {
                builder.standard(standard);
            }
            state_occupied.push(builder.occupied);
            uses.push(UseState {
                zones: builder.zones,
                air_mode: usize::from(key.2),
                airing: real && builder.occupied,
            });
        }
        drivers.uses = uses;
        let n = drivers.steps_per_hour;
        let quarter = |step: usize| (step * 4 / n).min(QUARTERS - 1);
        drivers.use_of_step = (0..drivers.steps()).map(|step| of_quarter[quarter(step)]).collect();
        let watched = if real { watch(building, zones, drivers) } else { Vec::new() };
        let occupied_steps =
            drivers.use_of_step.iter().map(|place| state_occupied[usize::from(*place)]).collect();
        let nominal_sums = scaling.iter().map(|s| s.sums(nominal)).collect();
        Self {
            watched,
            occupied_steps,
            scaling,
            nominal: nominal_sums,
            airing: real,
            heating_c: nominal[building.set_points.heating],
            cooling_c: nominal[building.set_points.cooling],
        }
    }

    /// Fills a model with one sample's scale of people, equipment and set points.
    pub fn fill(&self, frame: &Frame<'_>, r: &Resolved, model: &mut Model) {
        let points = &frame.building.set_points;
        for (z, zone) in model.zones.iter_mut().enumerate() {
            let (people, equipment) = self.scaling[z].sums(r);
            let (nominal_people, nominal_equipment) = self.nominal[z];
            if nominal_people > 0.0 {
                zone.people_factor = people / nominal_people;
            }
            if nominal_equipment > 0.0 {
                zone.equipment_factor = equipment / nominal_equipment;
            }
            zone.heating_shift_k = r[points.heating] - self.heating_c;
            zone.cooling_shift_k = r[points.cooling] - self.cooling_c;
            let opens = frame.building.openings.iter().any(|o| o.opens && frame.zones.zone_of(o.space) == z);
            if self.airing && opens {
                zone.airing = Some(Airing {
                    flow_m3_s: AIRING_PER_H * zone.volume_m3 / 3600.0,
                    above_c: AIRING_ABOVE_C,
                    cooler_by_k: AIRING_COOLER_K,
                });
            }
        }
    }
}

impl Scaling {
    fn sums(&self, r: &Resolved) -> (f64, f64) {
        let people = self.people.iter().map(|(count, heat, weight)| r[*count] * r[*heat] * weight).sum();
        let equipment = self.equipment.iter().map(|(key, weight)| r[*key] * weight).sum();
        (people, equipment)
    }
}

/// Levels of people, power density and power of every use in a quarter-hour.
fn use_levels(building: &Building, quarter: usize) -> Vec<u16> {
    let level = |p: &Profile<ValueKey>| p.index.get(quarter).copied().unwrap_or(0);
    building.uses.iter().flat_map(|u| [level(&u.people), level(&u.power_density), level(&u.power)]).collect()
}

/// Each gathering's crowd by quarter-hour.
fn crowds(building: &Building) -> Vec<Vec<Crowd>> {
    building
        .gatherings
        .iter()
        .map(|g| {
            let mut there = vec![Crowd::Away; QUARTERS];
            for day in &g.days {
                for q in g.quarters_of_day(*day) {
                    let pause = g.interval.is_some_and(|i| i.holds_quarter(q % QUARTERS_A_DAY));
                    if let Some(slot) = there.get_mut(q) {
                        *slot = if pause { Crowd::Interval } else { Crowd::There };
                    }
                }
            }
            there
        })
        .collect()
}

/// Watches every gathering from its beginning to its end.
fn watch(building: &Building, zones: &Zones, drivers: &mut Drivers) -> Vec<(GatheringId, usize)> {
    let n = drivers.steps_per_hour;
    let mut found = Vec::new();
    for (i, g) in building.gatherings.iter().enumerate() {
        for day in &g.days {
            let quarters = g.quarters_of_day(*day);
            let (from, to) = (quarters.start * n / 4, (quarters.end * n).div_ceil(4));
            if from < to && to <= drivers.steps() {
                let watch = Watch { zone: zones.zone_of(g.space), from_step: from, to_step: to };
                found.push((watch, (GatheringId(i), *day)));
            }
        }
    }
    found.sort_by_key(|(w, (g, _))| (w.from_step, g.0));
    drivers.watches = found.iter().map(|(w, _)| *w).collect();
    found.into_iter().map(|(_, whose)| whose).collect()
}

/// One state of use in the making.
struct State<'a> {
    building: &'a Building,
    r: &'a Resolved,
    of: &'a Zones,
    scaling: &'a mut [Scaling],
    quarters: f64,
    zones: Vec<ZoneUse>,
    occupied: bool,
}

impl<'a> State<'a> {
    fn new(
        building: &'a Building,
        r: &'a Resolved,
        of: &'a Zones,
        scaling: &'a mut [Scaling],
        quarters: f64,
    ) -> Self {
        let points = &building.set_points;
        let zone = ZoneUse {
            heat_above_c: r[points.heating],
            cool_below_c: r[points.cooling],
            dry_below_kg_kg: r[points.dehumidify_above],
            ..ZoneUse::FREE
        };
        Self { building, r, of, scaling, quarters, zones: vec![zone; of.count()], occupied: false }
    }

    fn people(&mut self, space: SpaceId, count: ValueKey, share: f64, person: Person) {
        let zone = self.of.zone_of(space);
        let heads = self.r[count] * share;
        let z = &mut self.zones[zone];
        z.people_w += heads * self.r[person.sensible];
        z.vapour_kg_s += heads * self.r[person.latent] / moist_air::evaporation_heat(EVAPORATION_C);
        z.co2_m3_s += heads * self.r[person.co2];
        self.occupied |= heads > 0.0;
        self.scaling[zone].people.push((count, person.sensible, share * self.quarters));
    }

    fn power(&mut self, space: SpaceId, key: ValueKey, weight: f64) {
        let zone = self.of.zone_of(space);
        self.zones[zone].equipment_w += self.r[key] * weight;
        self.scaling[zone].equipment.push((key, weight * self.quarters));
    }

    fn everyday(&mut self, levels: &[u16]) {
        let building = self.building;
        let at = |p: &Profile<ValueKey>, level: u16| -> Option<ValueKey> {
            p.levels.get(usize::from(level).checked_sub(1)?).copied()
        };
        for (u, level) in building.uses.iter().zip(levels.chunks(3)) {
            let density = at(&u.power_density, level[1]).or(u.standby);
            for (space, share) in u.spaces.iter().zip(&u.shares) {
                if let Some(count) = at(&u.people, level[0]) {
                    self.people(*space, count, *share, u.person);
                }
                if let Some(key) = density {
                    self.power(*space, key, building.spaces[space.0].area_m2);
                }
                if let Some(key) = at(&u.power, level[2]) {
                    self.power(*space, key, *share);
                }
            }
        }
    }

    fn crowds(&mut self, crowds: &[Crowd]) {
        let building = self.building;
        for (g, crowd) in building.gatherings.iter().zip(crowds) {
            match crowd {
                Crowd::Away => continue,
                Crowd::There => self.people(g.space, g.people, 1.0, g.person),
                // In the interval people stand in the corridors; without any they stay.
                Crowd::Interval => {
                    let elsewhere = building.spaces.iter().position(|s| s.kind == SpaceKind::Circulation);
                    self.people(elsewhere.map_or(g.space, SpaceId), g.people, 1.0, g.person);
                }
            }
            if let Some(key) = g.power_density {
                self.power(g.space, key, building.spaces[g.space.0].area_m2);
            }
        }
    }

    fn standard(&mut self, standard: StandardUse) {
        for (zone, area) in self.zones.iter_mut().zip(&self.of.area_m2) {
            // Half counts as people's, so that samples and radiant shares treat both alike.
            zone.people_w = 0.5 * standard.gains_w_m2 * area;
            zone.equipment_w = 0.5 * standard.gains_w_m2 * area;
            zone.vapour_kg_s = standard.vapour_g_m2h * 1e-3 / 3600.0 * area;
        }
        self.occupied = true;
    }
}
