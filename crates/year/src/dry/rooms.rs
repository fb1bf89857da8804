//! Air of the rooms, hour by hour, from a simulated year.

use building::{Building, Resolved};
use climate::Climate;
use matter::moist_air;

use crate::assemble::{Frame, YearOptions};
use crate::error::YearError;
use crate::kernel;
use crate::kernel::input::Options;
use crate::result::{Grain, Use};

/// Air of one room.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct RoomAir {
    /// Air temperature, °C.
    pub temperature_c: Vec<f64>,
    /// Vapour pressure, Pa.
    pub vapour_pressure_pa: Vec<f64>,
}

impl RoomAir {
    /// Relative humidity, a share, hour by hour.
    pub fn humidity(&self) -> Vec<f64> {
        let of = |(t, pv): (&f64, &f64)| (pv / moist_air::saturation_pressure(*t)).clamp(0.0, 1.0);
        self.temperature_c.iter().zip(&self.vapour_pressure_pa).map(of).collect()
    }
}

/// Runs the building's year as it will be used and returns the air of each of its rooms, with the grain it came from.
pub(crate) fn air(
    building: &Building,
    climate: &Climate,
    r: &Resolved,
) -> Result<(Vec<RoomAir>, Grain), YearError> {
    let options = YearOptions::default();
    let frame = match Frame::new(building, climate, Use::Real, Grain::Rooms, &options) {
        // More rooms than a run can tell apart: their zones stand for them.
        Err(YearError::TooMany { .. }) => Frame::new(building, climate, Use::Real, Grain::Limits, &options)?,
        other => other?,
    };
    let model = frame.model(r)?;
    let year = kernel::run(&frame.drivers, &model, &Options { trace: true, co2: false, ..frame.options })?;
    let trace = year.trace.unwrap_or_default();
    let (zones, steps) = (frame.zones.count(), frame.drivers.steps_per_hour);
    let pressure = frame.drivers.pressure_pa;
    let of_zone = |zone: usize| {
        let hourly = |list: &[f64]| -> Vec<f64> {
            (0..frame.drivers.hours)
                .map(|hour| {
                    let quarters = hour * steps..(hour + 1) * steps;
                    let sum: f64 = quarters.map(|step| list[step * zones + zone]).sum();
                    sum / steps as f64
                })
                .collect()
        };
        let humid = hourly(&trace.kg_kg);
        RoomAir {
            temperature_c: hourly(&trace.air_c),
            vapour_pressure_pa: humid.iter().map(|w| moist_air::vapour_pressure(*w, pressure)).collect(),
        }
    };
    let by_zone: Vec<RoomAir> = (0..zones).map(of_zone).collect();
    let rooms = frame.zones.of_space.iter().map(|zone| by_zone[*zone].clone()).collect();
    Ok((rooms, frame.grain))
}
