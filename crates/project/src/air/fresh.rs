//! Outdoor air each room needs by two standards, beside what its terminal gives; and what burns beside what is sucked out.

use super::Air;
use crate::check::Project;
use crate::standing::records_until_today;
use ::air::leakage::PowerLaw;
use ::air::outdoor_air::{Category, Pollution, averaging_time_h, perceived_quality_l_s};
use building::Building;
use building::calendar::{QUARTERS, QUARTERS_A_DAY};
use building::model::{SpaceId, Ventilation};
use building::plan::{ApplianceKind, AppliancePlan};
use building::records::Body;
use serde::Serialize;

/// Outdoor air of one room on one occasion.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RoomAir {
    /// Room by its name in the book.
    pub room: String,
    /// What it is called.
    pub label: String,
    /// Occasion: the use or the gathering.
    pub occasion: String,
    /// People counted.
    pub people: f64,
    /// Speed of the ventilation then.
    pub mode: String,
    /// Supply to the room, outdoor air without what the unit carries over, m³/h.
    pub supply_m3_h: f64,
    /// By ASHRAE 62.1, m³/h.
    pub ashrae_62_1_m3_h: f64,
    /// Kind of space its rates were taken for.
    pub rate: String,
    /// By EN 16798-1, category II, low-polluting building, m³/h.
    pub en_16798_1_m3_h: f64,
    /// Hours it lasts.
    pub hours: f64,
    /// Averaging time T = 3·V/V_bz, h: a shorter crowd may be averaged over it.
    pub averaging_h: f64,
    /// Supply over the larger need by ASHRAE 62.1.
    pub share: f64,
}

impl RoomAir {
    /// Says whether a short crowd may be averaged away by ASHRAE 62.1.
    pub fn averages(&self) -> bool {
        self.hours < self.averaging_h
    }
}

/// Outdoor air of every room with people, the neediest first.
pub fn rooms(project: &Project) -> Vec<RoomAir> {
    let building = &project.building;
    let values = &building.values;
    let mut all = Vec::new();
    for g in &building.gatherings {
        let Some(&day) = g.days.first() else { continue };
        let quarter = g.quarters_of_day(day).start;
        let people = values.nominal_of(g.people);
        all.push(room(building, g.space, &g.label, people, true, quarter, g.span.hours()));
    }
    for one in &building.uses {
        let busiest = (0..QUARTERS)
            .filter_map(|q| one.people.at(q).map(|key| (q, values.nominal_of(key))))
            .fold(None, |best: Option<(usize, f64)>, (q, n)| match best {
                Some((_, most)) if most >= n => best,
                _ => Some((q, n)),
            });
        let Some((quarter, mean)) = busiest else { continue };
        let peak = one.peak.map_or(mean, |key| values.nominal_of(key)).max(mean);
        let hours = (0..QUARTERS_A_DAY)
            .filter(|q| one.people.at(quarter - quarter % QUARTERS_A_DAY + q).is_some())
            .count() as f64
            / 4.0;
        for (&space, &share) in one.spaces.iter().zip(&one.shares) {
            all.push(room(building, space, &one.name, share * peak, false, quarter, hours));
        }
    }
    all.retain(|r| r.people > 0.0);
    all.sort_by(|a, b| a.share.total_cmp(&b.share));
    all
}

fn room(
    building: &Building,
    space: SpaceId,
    occasion: &str,
    people: f64,
    gathers: bool,
    quarter: usize,
    hours: f64,
) -> RoomAir {
    let room = &building.spaces[space.0];
    let (needed, rate) = year::required_outdoor_air(room.kind, gathers, people, room.area_m2);
    let ashrae = 3600.0 * needed;
    let en = 3.6 * perceived_quality_l_s(Category::II, Pollution::Low, people, room.area_m2);
    let mut supply = 0.0;
    let mut mode = String::new();
    for unit in &building.ventilation {
        let running = &unit.modes[usize::from(unit.running[quarter])];
        let to_room = supply_m3_h(building, unit, usize::from(unit.running[quarter]), space);
        if to_room > 0.0 || mode.is_empty() {
            mode.clone_from(&running.name);
        }
        supply += to_room;
    }
    RoomAir {
        room: room.name.clone(),
        label: room.label.clone(),
        occasion: occasion.to_owned(),
        people,
        mode,
        supply_m3_h: supply,
        ashrae_62_1_m3_h: ashrae,
        rate: rate.to_owned(),
        en_16798_1_m3_h: en,
        hours,
        averaging_h: averaging_time_h(room.volume_m3, ashrae),
        share: if ashrae > 0.0 { supply / ashrae } else { 1.0 },
    }
}

/// Outdoor air a unit gives a room in a mode, what it carries over taken off, m³/h.
pub(super) fn supply_m3_h(building: &Building, unit: &Ventilation, mode: usize, space: SpaceId) -> f64 {
    let values = &building.values;
    let Some(mode) = unit.modes.get(mode) else { return 0.0 };
    let share = mode.supply_shares.iter().find(|(s, _)| *s == space).map_or(0.0, |s| s.1);
    let fresh = 1.0 - unit.exhaust_transfer.map_or(0.0, |key| values.nominal_of(key));
    3600.0 * values.nominal_of(mode.supply) * share * fresh
}

/// Largest share of extract air that may come over into the supply where the extract air is class 2, as of toilets and
/// kitchenettes (ASHRAE 62.1, from memory; class 3 allows 5 %).
const TRANSFER_CLASS_2: f64 = 0.10;

/// Extract air that comes over into the supply of a unit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Transfer {
    /// Unit.
    pub unit: String,
    /// Share of the supply, by the maker's test; absent: not stated, none is taken off.
    pub share: Option<f64>,
    /// Largest share allowed, the extract air being class 2.
    pub most: f64,
}

/// Every unit with what it carries over.
pub fn transfers(project: &Project) -> Vec<Transfer> {
    let values = &project.building.values;
    project
        .building
        .ventilation
        .iter()
        .map(|unit| Transfer {
            unit: unit.name.clone(),
            share: unit.exhaust_transfer.map(|key| values.nominal_of(key)),
            most: TRANSFER_CLASS_2,
        })
        .collect()
}

/// Something that burns, and the pressure it must draw against.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MakeUp {
    /// Name of the appliance.
    pub appliance: String,
    /// What it is.
    pub kind: &'static str,
    /// Where.
    pub place: String,
    /// Whether it takes air from its room.
    pub room_air: bool,
    /// Lowest pressure of its place against outdoors, Pa; absent where nothing tells.
    pub pressure_pa: Option<f64>,
    /// Suction beyond which flues of such appliances are known to spill, Pa (common practice, no source).
    pub spills_beyond_pa: f64,
    /// How the pressure is known.
    pub basis: String,
}

impl MakeUp {
    /// Says whether the suction is beyond what such flues stand; `None` where it is not known.
    pub fn spills(&self) -> Option<bool> {
        if !self.room_air {
            return Some(false);
        }
        self.pressure_pa.map(|p| p < -self.spills_beyond_pa)
    }
}

/// Suction at which natural-draught flues are known to spill, Pa: common practice of draught testing, no source. Whoever is
/// licensed for the appliance decides.
fn spills_beyond_pa(kind: ApplianceKind) -> f64 {
    match kind {
        ApplianceKind::WaterHeater | ApplianceKind::Range => 2.0,
        ApplianceKind::Kiln | ApplianceKind::Fireplace => 3.0,
        ApplianceKind::Stove | ApplianceKind::Boiler => 4.0,
    }
}

/// Every appliance of the book with the suction of its place.
pub fn make_up(project: &Project, air: &Air) -> Vec<MakeUp> {
    project.building.appliances.iter().map(|a| one_appliance(project, air, a)).collect()
}

fn one_appliance(project: &Project, air: &Air, a: &AppliancePlan) -> MakeUp {
    let building = &project.building;
    let ours = building.spaces.iter().any(|s| s.name == a.place);
    let (pressure_pa, basis) = if ours { inside(project, air, a) } else { next_door(project, &a.place) };
    MakeUp {
        appliance: a.name.clone(),
        kind: a.kind.word(),
        place: a.place.clone(),
        room_air: !a.own_air,
        pressure_pa,
        spills_beyond_pa: spills_beyond_pa(a.kind),
        basis,
    }
}

/// Suction in a neighbour: the lowest on record, else the lowest the book states.
fn next_door(project: &Project, name: &str) -> (Option<f64>, String) {
    let read = records_until_today(project).filter_map(|r| match &r.body {
        Body::PressureLog(log) if log.between.to_lowercase().starts_with(&name.to_lowercase()) => {
            let mean = log.mean.as_ref()?.value;
            Some((mean, format!("read with {}, {}", log.state, r.head.client_time.get(..10).unwrap_or(""))))
        }
        _ => None,
    });
    if let Some((pa, words)) = read.min_by(|a, b| a.0.total_cmp(&b.0)) {
        return (Some(pa), words);
    }
    let values = &project.building.values;
    let stated =
        project.building.neighbours.iter().find(|n| n.name == name).and_then(|n| n.pressure.as_ref()).map(
            |p| (0..QUARTERS).filter_map(|q| p.at(q)).map(|key| values.nominal_of(key)).fold(0.0, f64::min),
        );
    match stated {
        Some(pa) => (Some(pa), "as the book states it".to_owned()),
        None => (None, "nobody has read the pressure there".to_owned()),
    }
}

/// Suction in our own rooms: what fans blow out more than in, through the leak that was read.
fn inside(project: &Project, air: &Air, a: &AppliancePlan) -> (Option<f64>, String) {
    let building = &project.building;
    let values = &building.values;
    let own: f64 = building
        .appliances
        .iter()
        .filter(|other| building.spaces.iter().any(|s| s.name == other.place))
        .filter_map(|other| other.exhaust)
        .map(|key| 3600.0 * values.nominal_of(key))
        .sum();
    let worst = building
        .ventilation
        .iter()
        .map(|unit| {
            unit.modes
                .iter()
                .map(|m| 3600.0 * (values.nominal_of(m.extract) - values.nominal_of(m.supply)))
                .fold(0.0, f64::max)
        })
        .sum::<f64>();
    let Some((_, told)) = air.latest() else {
        return (None, "nobody has read the leak yet".to_owned());
    };
    let exponent = values.nominal_of(building.airtightness.exponent);
    let leak = PowerLaw::through(told.flow.value, told.reference_pressure_pa, exponent);
    let out = own + worst;
    let basis = format!(
        "{out:.0} m³/h blown out more than in, through the leak read on {}; wind and {}'s own draught left out",
        told.test.date, a.name
    );
    (Some(-leak.pressure_pa(out)), basis)
}
