//! Who is left cold or hot: every room by itself, with heads where they are drawn and no stronger than they are.
//!
//! A head warms and cools the rooms it serves and no others; among them its power is shared as their greatest demands are
//! (short ducts balanced to the load). Other rooms get what air brings: transfer by the ventilation unit, recovered air,
//! and doors, which stand open or shut. Capacities are those of the coldest design day and of the hot one, all year.
//!
//! Limits: an open door moves what one kelvin between its rooms moves, whatever the difference; heads do not shift power
//! from one of their rooms to another.

use building::model::SpaceId;
use building::plan::{PlantPlan, SpaceKind};
use building::{Building, Resolved};
use climate::{Climate, HOURS, design_days};
use matter::moist_air;
use plant::air_path::{SupplyLimits, open_door_m3_s};
use serde::Serialize;

use super::machines::{Head, heads};
use crate::assemble::{Frame, YearOptions};
use crate::error::YearError;
use crate::kernel::result::Trace;
use crate::kernel::{self, Model, Options};
use crate::result::{Grain, Use};

/// A room misses its set point when its air is further from it than this, K.
pub const MISS_K: f64 = 0.5;
/// A door leaf, m; rooms larger than [`HALL_M2`] have two.
const DOOR_M: [f64; 2] = [0.9, 2.1];
const HALL_M2: f64 = 60.0;
/// Air of a neighbouring room is taken to be this much better than wanted when a transfer is sized, K.
const TRANSFER_K: f64 = 2.0;
/// Least power for which mending air is told, W.
const LEAST_MEND_W: f64 = 20.0;

/// How far a room stayed from its set points.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct RoomMiss {
    /// Room.
    pub room: String,
    /// What it is called.
    pub label: String,
    /// Whether a head serves it.
    pub served: bool,
    /// Hours colder than the heating set point by more than [`MISS_K`].
    pub cold_h: f64,
    /// Greatest lack, K.
    pub coldest_k: f64,
    /// Hours warmer than the cooling set point by more than [`MISS_K`].
    pub hot_h: f64,
    /// Greatest excess, K.
    pub hottest_k: f64,
    /// Heat that was missing at most, W.
    pub heat_short_w: f64,
    /// Cold that was missing at most, W.
    pub cold_short_w: f64,
    /// Supply air at its warmest that would bring the heat, m³/s; zero where none is missing.
    pub warm_supply_m3_s: f64,
    /// Supply air at its coolest that would take the heat, m³/s.
    pub cool_supply_m3_s: f64,
    /// Air exchanged with a neighbouring room 2 K better that would do the larger of both, m³/s.
    pub transfer_m3_s: f64,
}

/// One layout of heads with doors one way.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Layout {
    /// `as drawn`, or the option's name.
    pub name: String,
    /// Doors between rooms and corridors stand open.
    pub doors_open: bool,
    /// Heads.
    pub heads: Vec<String>,
    /// Rooms, in the book's order.
    pub rooms: Vec<RoomMiss>,
}

impl Layout {
    /// Returns the hours in which a room of the mean floor area misses, by area: cold, hot.
    pub fn hours(&self, building: &Building) -> (f64, f64) {
        let whole: f64 = building.spaces.iter().map(|s| s.area_m2).sum();
        let mut sums = (0.0, 0.0);
        for (room, space) in self.rooms.iter().zip(&building.spaces) {
            sums.0 += room.cold_h * space.area_m2 / whole;
            sums.1 += room.hot_h * space.area_m2 / whole;
        }
        sums
    }
}

/// Runs the drawn layout and every option, doors shut and open. Empty when the book has no heads.
///
/// # Errors
/// [`YearError`] of a run.
pub fn layouts(building: &Building, climate: &Climate, r: &Resolved) -> Result<Vec<Layout>, YearError> {
    let mut lists: Vec<(String, Vec<PlantPlan>)> = vec![("as drawn".to_owned(), building.plant.clone())];
    for plan in &building.plant_options {
        let name = plan.option.clone().unwrap_or_default();
        match lists.iter_mut().find(|(known, _)| *known == name) {
            Some((_, list)) => list.push(plan.clone()),
            None => lists.push((name, vec![plan.clone()])),
        }
    }
    let frame = Frame::new(building, climate, Use::Real, Grain::Rooms, &YearOptions::default())?;
    let model = frame.checked(r)?;
    let options = Options { trace: true, co2: false, ..frame.options };
    let ideal = kernel::run(&frame.drivers, &model, &options)?;
    let Some(ideal) = ideal.trace else { return Ok(Vec::new()) };
    let mut out = Vec::new();
    for (name, plants) in &lists {
        let heads = heads(building, plants, r)?;
        if heads.is_empty() {
            continue;
        }
        for doors_open in [false, true] {
            let mut bounded = bound(&frame, climate, &model, &heads, &ideal);
            if doors_open {
                open_doors(building, &mut bounded);
            }
            let year = kernel::run(&frame.drivers, &bounded, &options)?;
            let Some(trace) = year.trace else { continue };
            out.push(Layout {
                name: name.clone(),
                doors_open,
                heads: heads.iter().map(|h| h.name.clone()).collect(),
                rooms: misses(&frame, r, &heads, &ideal, &trace),
            });
        }
    }
    Ok(out)
}

/// Greatest hourly power of each zone in an ideal run, W: heating, cooling.
fn peaks(trace: &Trace, zones: usize, steps: usize) -> Vec<(f64, f64)> {
    let mut peaks = vec![(0.0f64, 0.0f64); zones];
    for hour in 0..HOURS {
        for (z, peak) in peaks.iter_mut().enumerate() {
            let of = |k: usize| trace.power_w[(hour * steps + k) * zones + z];
            let mean = (0..steps).map(of).sum::<f64>() / steps as f64;
            peak.0 = peak.0.max(mean);
            peak.1 = peak.1.max(-mean);
        }
    }
    peaks
}

fn serves(head: &Head, room: usize) -> bool {
    head.rooms.is_empty() || head.rooms.contains(&SpaceId(room))
}

/// The model with each room's power bounded by what its heads give it.
fn bound(frame: &Frame<'_>, climate: &Climate, model: &Model, heads: &[Head], ideal: &Trace) -> Model {
    let rooms = frame.zones.count();
    let peaks = peaks(ideal, rooms, frame.drivers.steps_per_hour);
    let days = design_days::design_days(climate);
    let points = &frame.building.set_points;
    let nominal = |key| frame.building.values.nominal_of(key);
    let mut heating = vec![0.0; rooms];
    let mut cooling = vec![0.0; rooms];
    let mut drying = vec![0.0; rooms];
    for head in heads {
        let of = |pick: fn(&(f64, f64)) -> f64| -> Vec<f64> {
            let mine: Vec<f64> =
                (0..rooms).map(|z| if serves(head, z) { pick(&peaks[z]).max(1.0) } else { 0.0 }).collect();
            let sum: f64 = mine.iter().sum::<f64>().max(1e-9);
            mine.into_iter().map(|x| x / sum).collect()
        };
        let (warm, cool) = (of(|p| p.0), of(|p| p.1));
        let heat = head.heating.as_ref().map_or(0.0, |m| {
            m.capacity_w(days.clear_cold.lowest_c, nominal(points.heating), 1.0) + m.limits.backup_w
        });
        let cold = head
            .cooling
            .as_ref()
            .map_or(0.0, |m| m.capacity_w(days.hot.highest_c, nominal(points.cooling), head.sensible_share));
        let evaporation = moist_air::evaporation_heat(12.0);
        for z in 0..rooms {
            heating[z] += heat * warm[z];
            cooling[z] += cold * head.sensible_share * cool[z];
            drying[z] += cold * (1.0 - head.sensible_share) * cool[z] / evaporation;
        }
    }
    let mut bounded = model.clone();
    for (z, zone) in bounded.zones.iter_mut().enumerate() {
        zone.heating_limit_w = heating[z];
        zone.cooling_limit_w = cooling[z];
        zone.drying_limit_kg_s = drying[z];
    }
    bounded
}

/// Opens every room to a corridor (or stair) of its storey.
fn open_doors(building: &Building, model: &mut Model) {
    let way = |kind: SpaceKind| matches!(kind, SpaceKind::Circulation | SpaceKind::Stair);
    for (room, space) in building.spaces.iter().enumerate() {
        let hub = building.spaces.iter().enumerate().find(|(other, s)| {
            *other != room && s.storey == space.storey && s.kind == SpaceKind::Circulation
        });
        let Some((hub, other)) = hub else { continue };
        // Two corridors of a storey meet once.
        if way(space.kind) && way(other.kind) && room < hub {
            continue;
        }
        let leaves = if space.area_m2 > HALL_M2 { 2.0 } else { 1.0 };
        let flow = open_door_m3_s(leaves * DOOR_M[0], DOOR_M[1], 1.0);
        for mode in &mut model.air_modes {
            mode.between_m3_s.push((room, hub, flow));
            mode.between_m3_s.push((hub, room, flow));
        }
    }
}

fn misses(frame: &Frame<'_>, r: &Resolved, heads: &[Head], ideal: &Trace, told: &Trace) -> Vec<RoomMiss> {
    let points = &frame.building.set_points;
    let (warm_c, cool_c) = (r[points.heating], r[points.cooling]);
    let (rooms, steps) = (frame.zones.count(), frame.drivers.steps_per_hour);
    let step_h = 1.0 / steps as f64;
    let limits = SupplyLimits::USUAL;
    let heat = moist_air::density(20.0, 0.008, frame.drivers.pressure_pa) * moist_air::specific_heat(0.008);
    let cools = heads.iter().any(|h| h.cooling.is_some());
    frame
        .building
        .spaces
        .iter()
        .enumerate()
        .map(|(z, space)| {
            let mut miss = RoomMiss {
                room: space.name.clone(),
                label: space.label.clone(),
                served: heads.iter().any(|h| serves(h, z)),
                ..RoomMiss::default()
            };
            for hour in 0..HOURS {
                let at = |k: usize| (hour * steps + k) * rooms + z;
                let mean = |values: &[f64]| (0..steps).map(|k| values[at(k)]).sum::<f64>() / steps as f64;
                for k in 0..steps {
                    let operative = told.operative_c[at(k)];
                    let (lack, excess) = (warm_c - operative, operative - cool_c);
                    miss.cold_h += if lack > MISS_K { step_h } else { 0.0 };
                    miss.hot_h += if excess > MISS_K { step_h } else { 0.0 };
                    miss.coldest_k = miss.coldest_k.max(lack);
                    miss.hottest_k = miss.hottest_k.max(excess);
                }
                let operative = mean(&told.operative_c);
                let short = mean(&ideal.power_w) - mean(&told.power_w);
                if operative < warm_c - MISS_K {
                    miss.heat_short_w = miss.heat_short_w.max(short);
                }
                if cools && operative > cool_c + MISS_K {
                    miss.cold_short_w = miss.cold_short_w.max(-short);
                }
            }
            let flow =
                |power: f64, kelvin: f64| if power > LEAST_MEND_W { power / (heat * kelvin) } else { 0.0 };
            miss.warm_supply_m3_s = flow(miss.heat_short_w, limits.warmest_c - warm_c);
            miss.cool_supply_m3_s = flow(miss.cold_short_w, cool_c - limits.coolest_c);
            miss.transfer_m3_s = flow(miss.heat_short_w.max(miss.cold_short_w), TRANSFER_K);
            miss
        })
        .collect()
}
