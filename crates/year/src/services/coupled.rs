//! The water heater and its room: what the tank takes follows the room's air, and the room feels what is taken.
//!
//! One pass: the balance runs with the book's even tank heat, the tank follows the air that came out, and its hourly heat
//! and vapour take the even heat's place. After the told run the tank is followed once more with the told air; how far
//! the two differ is [`crate::services::WaterYear::unsettled`].

use building::Resolved;
use climate::HOURS;

use super::water::{RoomAir, WaterHours, Way, follow, room_of};
use crate::assemble::Frame;
use crate::assemble::occupancy::tank_heat_w;
use crate::error::YearError;
use crate::kernel::input::MachineHeat;
use crate::kernel::result::Trace;
use crate::kernel::{self, Drivers, Model, Options};
use crate::result::Use;

/// Returns the hourly air of the room of the tank (its zone's), or of the first zone where the book names no room.
pub(crate) fn air_of(frame: &Frame<'_>, trace: &Trace) -> RoomAir {
    let zone = room_of(frame.building).map_or(0, |room| frame.zones.zone_of(room));
    let (zones, steps) = (frame.zones.count(), frame.drivers.steps_per_hour);
    let mean = |values: &[f64]| -> Vec<f64> {
        (0..HOURS)
            .map(|hour| {
                let of = |k: usize| values[(hour * steps + k) * zones + zone];
                (0..steps).map(of).sum::<f64>() / steps as f64
            })
            .collect()
    };
    RoomAir { temperature_c: mean(&trace.air_c), kg_kg: mean(&trace.kg_kg) }
}

/// Puts the tank's hourly heat into the drivers; returns them with what the tank did.
///
/// # Errors
/// [`YearError`] of the tank or the balance.
pub(crate) fn couple(
    frame: &Frame<'_>,
    r: &Resolved,
    model: &Model,
    way: Option<Way>,
) -> Result<(Drivers, Option<WaterHours>), YearError> {
    let mut drivers = frame.drivers.clone();
    let Some(room) = room_of(frame.building).filter(|_| frame.use_case == Use::Real) else {
        return Ok((drivers, None));
    };
    let Some(way) = way.filter(|_| frame.building.hot_water.rise.is_some()) else {
        return Ok((drivers, None));
    };
    let options = Options { trace: true, ..frame.options };
    let even = kernel::run(&drivers, model, &options)?;
    let Some(trace) = &even.trace else { return Ok((drivers, None)) };
    let Some(water) = follow(frame.building, frame.climate, r, way, &air_of(frame, trace))? else {
        return Ok((drivers, None));
    };
    let zone = frame.zones.zone_of(room);
    if let Some((_, heat)) = tank_heat_w(frame.building, &frame.building.values.nominal()) {
        for state in &mut drivers.uses {
            state.zones[zone].equipment_w -= heat;
        }
    }
    drivers.machines =
        vec![MachineHeat { zone, heat_w: water.room_w.clone(), vapour_kg_s: water.room_kg_s.clone() }];
    Ok((drivers, Some(water)))
}

/// Follows the tank with the told air and says how far the coupling has settled.
///
/// # Errors
/// [`YearError`] of the tank.
pub(crate) fn settle(
    frame: &Frame<'_>,
    r: &Resolved,
    way: Option<Way>,
    trace: &Trace,
    before: Option<&WaterHours>,
) -> Result<Option<WaterHours>, YearError> {
    let Some(way) = way else { return Ok(None) };
    let mut told = follow(frame.building, frame.climate, r, way, &air_of(frame, trace))?;
    if let (Some(told), Some(before)) = (&mut told, before) {
        let taken = before.year.taken_j;
        if taken > 0.0 {
            told.year.unsettled = (told.year.taken_j - taken) / taken;
        }
    }
    Ok(told)
}
