//! Where the water heater would stand best: the same year with the water made four ways.

use building::plan::WaterSource;
use building::{Building, Resolved};
use climate::Climate;
use serde::Serialize;

use super::water::{MACHINE_W, Way, room_of};
use crate::assemble::{Frame, YearOptions};
use crate::error::YearError;
use crate::result::{Grain, Use, YearResult};

/// Room volume that makers commonly ask of a heat-pump water heater without ducts, m³: 1 000 ft³. Common practice, no
/// source.
pub const ROOM_ASKED_M3: f64 = 28.0;
/// Inner walls of a small room, W/(m²·K): two boards and air. Judgement.
const PARTITION_W_M2K: f64 = 2.0;

/// One way to make the water.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Place {
    /// `in the room`, `ducted to outdoors`, `outdoors`, `resistance`.
    pub name: String,
    /// The book's own.
    pub drawn: bool,
    /// Electricity of the water heater, J.
    pub water_j: f64,
    /// Electricity of heating, J.
    pub heating_j: f64,
    /// Electricity of cooling and drying, J.
    pub cooling_j: f64,
    /// Electricity of the whole building, J.
    pub electricity_j: f64,
    /// Cost of it; `None` without a tariff.
    pub cost: Option<f64>,
    /// Currency.
    pub currency: String,
    /// Heating demand, J.
    pub heating_demand_j: f64,
    /// Cooling demand with drying, J.
    pub cooling_demand_j: f64,
    /// Coldest hour of the air round the tank, °C.
    pub coldest_c: f64,
    /// Heat missing at the tap over heat drawn.
    pub short_share: f64,
}

/// What the tank's room bears.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct TankRoom {
    /// Room.
    pub room: String,
    /// Its air, m³.
    pub volume_m3: f64,
    /// What is commonly asked, m³.
    pub asked_m3: f64,
    /// Heat taken while it runs, W.
    pub taken_w: f64,
    /// Air that ventilation moves through it, mean, m³/s.
    pub air_m3_s: f64,
    /// How far its air falls in steady running with the door shut, K.
    pub fall_k: f64,
    /// The same with air moved at the flow commonly asked (door louvres or ducts), K: 0.12 m³/s of transfer.
    pub fall_with_louvres_k: f64,
}

/// Transfer air of two louvres of half a door's leaf at the machine's own fan, m³/s. Judgement.
const LOUVRE_M3_S: f64 = 0.12;

/// Runs the year four ways. Empty when the book draws no hot water or names no room for the tank.
///
/// # Errors
/// [`YearError`] of a run.
pub fn compare(building: &Building, climate: &Climate, r: &Resolved) -> Result<Vec<Place>, YearError> {
    let Some(own) = Way::of(building) else { return Ok(Vec::new()) };
    if room_of(building).is_none() {
        return Ok(Vec::new());
    }
    let frame = Frame::new(building, climate, Use::Real, Grain::Limits, &YearOptions::default())?;
    let ways = [
        ("in the room", Way { source: Some(WaterSource::Room) }),
        ("ducted to outdoors", Way { source: Some(WaterSource::Duct) }),
        ("outdoors", Way { source: Some(WaterSource::Outdoors) }),
        ("resistance", Way { source: None }),
    ];
    ways.into_iter()
        .map(|(name, way)| Ok(place(name, way == own, &frame.year_with_water(r, Some(way))?)))
        .collect()
}

fn place(name: &str, drawn: bool, year: &YearResult) -> Place {
    let m = year.machines.year();
    let w = &year.machines.water;
    Place {
        name: name.to_owned(),
        drawn,
        water_j: m.hot_water_j,
        heating_j: m.heating_j,
        cooling_j: m.cooling_j,
        electricity_j: m.used_j() - m.fuel_j,
        cost: year.machines.cost.as_ref().map(|c| c.year),
        currency: year.machines.cost.as_ref().map(|c| c.currency.clone()).unwrap_or_default(),
        heating_demand_j: year.demand.heating_j,
        cooling_demand_j: year.demand.cooling_j(),
        coldest_c: w.coldest_around_c,
        short_share: if w.drawn_j > 0.0 { w.short_j / w.drawn_j } else { 0.0 },
    }
}

/// Says what a heat pump that takes its heat from the tank's room does to it; `None` for any other heater.
pub fn tank_room(building: &Building, r: &Resolved, pressure_pa: f64) -> Option<TankRoom> {
    let way = Way::of(building)?;
    if way.source != Some(WaterSource::Room) {
        return None;
    }
    let id = room_of(building)?;
    let space = &building.spaces[id.0];
    let plan = &building.hot_water;
    let named = plan.plant.as_deref().and_then(|name| building.plant.iter().find(|p| p.name == name));
    let output = named.and_then(|p| p.heating).map_or(MACHINE_W, |key| r[key]);
    let factor = plan.factor.map_or(2.5, |key| r[key]).max(1.01);
    let taken_w = output * (1.0 - 1.0 / factor);
    let mut air_m3_s = 0.0;
    for unit in &building.ventilation {
        for running in &unit.running {
            let Some(mode) = unit.modes.get(usize::from(*running)) else { continue };
            let of = |shares: &[(building::model::SpaceId, f64)], flow: f64| -> f64 {
                shares.iter().filter(|(s, _)| *s == id).map(|(_, share)| share * flow).sum()
            };
            let supply = of(&mode.supply_shares, r[mode.supply]);
            let extract = of(&mode.extract_shares, r[mode.extract]);
            air_m3_s += supply.max(extract) / unit.running.len() as f64;
        }
    }
    // A square room's walls, all of them inside the building.
    let walls_w_k = PARTITION_W_M2K * 4.0 * space.area_m2.sqrt() * space.ceiling_m;
    let heat = matter::moist_air::density(20.0, 0.007, pressure_pa) * matter::moist_air::specific_heat(0.007);
    let fall = |air: f64| taken_w / (heat * air + walls_w_k).max(1e-9);
    Some(TankRoom {
        room: space.label.clone(),
        volume_m3: space.volume_m3,
        asked_m3: ROOM_ASKED_M3,
        taken_w,
        air_m3_s,
        fall_k: fall(air_m3_s),
        fall_with_louvres_k: fall(air_m3_s + LOUVRE_M3_S),
    })
}
