//! People, machines, set points and gatherings over the calendar, as states of use.
//!
//! Heating is always there; cooling and drying only when the book has plant for them ([`PlantThere`]). Where nothing
//! cools, windows are opened: in real use by people who are there, in standard use at any hour. In real use a
//! heat-pump water heater takes its heat from the room it stands in, other heaters give it their standing loss; half of
//! the fans' electricity (the supply fan's) warms the supply air where the unit's ratio is rated without fan heat.

use std::collections::BTreeMap;

use building::calendar::{Profile, QUARTERS, QUARTERS_A_DAY};
use building::model::{Building, GatheringId, Person, SpaceId};
use building::plan::{PlantKind, SpaceKind};
use building::stated::Rating;
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
    /// Heating set point, °C.
    pub heating_c: f64,
    /// Cooling set point, °C.
    pub cooling_c: f64,
    /// Where the figures come from.
    pub source: &'static str,
}

impl StandardUse {
    /// Dwellings: 2.1 W/m² and 2 g/(m²·h).
    pub const DWELLING: Self = Self {
        gains_w_m2: 2.1,
        vapour_g_m2h: 2.0,
        heating_c: 20.0,
        cooling_c: 25.0,
        source: "common practice for dwellings: 2.1 W/m², 2 g/(m²·h), 20 and 25 °C (from memory)",
    };
    /// Schools and halls with daytime use: 2.8 W/m² and 1 g/(m²·h).
    pub const SCHOOL: Self = Self {
        gains_w_m2: 2.8,
        vapour_g_m2h: 1.0,
        heating_c: 20.0,
        cooling_c: 25.0,
        source: "common practice for schools and halls: 2.8 W/m², 1 g/(m²·h), 20 and 25 °C (from memory)",
    };

    /// Returns the school's use for buildings with gatherings, else the dwelling's.
    pub fn fitting(building: &Building) -> Self {
        if building.gatherings.is_empty() { Self::DWELLING } else { Self::SCHOOL }
    }
}

/// What plant the book has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PlantThere {
    /// Something cools.
    pub cools: bool,
    /// Something dries.
    pub dries: bool,
}

impl PlantThere {
    /// Reads the book's plant.
    pub fn of(building: &Building) -> Self {
        let cools = building.plant.iter().any(|p| p.cooling.is_some());
        let dries = cools || building.plant.iter().any(|p| p.kind == PlantKind::Dehumidifier);
        Self { cools, dries }
    }
}

/// Hot water of an open day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WaterDay {
    /// Drawn, J.
    pub drawn_j: f64,
    /// Standing loss, J.
    pub loss_j: f64,
    /// Electricity, J.
    pub electricity_j: f64,
    /// Heat over electricity.
    pub factor: f64,
    /// Its heat comes from the room.
    pub heat_pump: bool,
}

/// Heat of a cubic metre of water near 40 °C, J/(m³·K).
const WATER_J_M3K: f64 = 4.15e6;

/// Returns the hot water of a day; `None` when the book draws none.
pub fn hot_water_of_a_day(building: &Building, r: &Resolved) -> Option<WaterDay> {
    let plan = &building.hot_water;
    let (draw, rise) = (plan.draw_per_day?, plan.rise?);
    let named = |name: &str| building.plant.iter().find(|p| p.name == name);
    let plant = plan.plant.as_deref().and_then(named);
    let heat_pump = plant.is_some_and(|p| p.kind == PlantKind::HeatPumpWaterHeater);
    let factor = plan.factor.map_or(1.0, |key| r[key]);
    let drawn_j = WATER_J_M3K * r[draw] * r[rise];
    let loss_j = plan.standing_loss_per_day.map_or(0.0, |key| r[key]);
    Some(WaterDay { drawn_j, loss_j, electricity_j: (drawn_j + loss_j) / factor, factor, heat_pump })
}

/// Returns what hot water plant gives its room all day, W: negative for a heat-pump heater.
pub(crate) fn tank_heat_w(building: &Building, r: &Resolved) -> Option<(SpaceId, f64)> {
    let water = hot_water_of_a_day(building, r)?;
    let name = building.hot_water.space.as_deref()?;
    let space = building.spaces.iter().position(|s| s.name == name).map(SpaceId)?;
    let taken = if water.heat_pump { water.drawn_j + water.loss_j - water.electricity_j } else { 0.0 };
    Some((space, (water.loss_j - taken) / 86_400.0))
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
    real: bool,
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
        let plant = PlantThere::of(building);
        let tank = tank_heat_w(building, nominal);
        let mut state_occupied = Vec::with_capacity(keys.len());
        let mut uses = Vec::with_capacity(keys.len());
        for (key, count) in keys.iter().zip(&counts) {
            let mut builder = State::new(building, nominal, zones, &mut scaling, *count);
            if real {
                builder.everyday(&key.0);
                builder.crowds(&key.1);
                if let Some((space, heat)) = tank {
                    builder.zones[zones.zone_of(space)].equipment_w += heat;
                }
                builder.fans(airflow.modes_of(key.2));
            } else {
                builder.standard(standard);
            }
            builder.plant(plant);
            state_occupied.push(builder.occupied);
            uses.push(UseState {
                zones: builder.zones,
                air_mode: usize::from(key.2),
                airing: !plant.cools && builder.occupied,
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
            airing: !plant.cools,
            real,
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
            if self.real {
                zone.heating_shift_k = r[points.heating] - self.heating_c;
                zone.cooling_shift_k = r[points.cooling] - self.cooling_c;
            }
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

    /// Half of the fans' heat, where the recovery ratio leaves it out.
    fn fans(&mut self, modes: &[u8]) {
        let units = self.building.ventilation.iter().zip(modes);
        for (unit, mode) in units.filter(|(unit, _)| unit.rating == Some(Rating::SupplySide)) {
            let Some(mode) = unit.modes.get(usize::from(*mode)) else { continue };
            // Wh/m³ times m³/h is W.
            let heat = 0.5 * self.r[mode.power] * 3600.0 * self.r[mode.supply];
            for (space, share) in &mode.supply_shares {
                self.zones[self.of.zone_of(*space)].equipment_w += heat * share;
            }
        }
    }

    /// Takes out what no plant does.
    fn plant(&mut self, there: PlantThere) {
        for zone in &mut self.zones {
            if !there.cools {
                zone.cool_below_c = f64::INFINITY;
            }
            if !there.dries {
                zone.dry_below_kg_kg = f64::INFINITY;
            }
        }
    }

    fn standard(&mut self, standard: StandardUse) {
        for (zone, area) in self.zones.iter_mut().zip(&self.of.area_m2) {
            zone.heat_above_c = standard.heating_c;
            zone.cool_below_c = standard.cooling_c;
            // Half counts as people's, so that samples and radiant shares treat both alike.
            zone.people_w = 0.5 * standard.gains_w_m2 * area;
            zone.equipment_w = 0.5 * standard.gains_w_m2 * area;
            zone.vapour_kg_s = standard.vapour_g_m2h * 1e-3 / 3600.0 * area;
        }
        self.occupied = true;
    }
}

/// Returns the electricity of lights and equipment in a year by the book's schedules, J.
pub fn equipment_electricity_j(building: &Building, r: &Resolved) -> f64 {
    let mut energy_wh = 0.0;
    for u in &building.uses {
        let area: f64 = u.spaces.iter().map(|s| building.spaces[s.0].area_m2).sum();
        let mut left = QUARTERS as f64 / 4.0;
        for (key, hours) in u.power_density.levels.iter().zip(u.power_density.hours()) {
            energy_wh += hours * r[*key] * area;
            left -= hours;
        }
        energy_wh += u.standby.map_or(0.0, |key| left * r[key] * area);
        for (key, hours) in u.power.levels.iter().zip(u.power.hours()) {
            energy_wh += hours * r[*key];
        }
    }
    for g in &building.gatherings {
        let lit_h = g.days.len() as f64 * g.span.hours();
        let area = building.spaces[g.space.0].area_m2;
        energy_wh += g.power_density.map_or(0.0, |key| lit_h * r[key] * area);
    }
    3600.0 * energy_wh
}
