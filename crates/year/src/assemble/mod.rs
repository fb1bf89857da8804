//! From a building and a climate to what the balance takes.
//!
//! A [`Frame`] holds what all samples of a building share: geometry sorted into zones and surfaces, sun, neighbours,
//! the calendar, and how each assembly is reduced to modes. [`Frame::model`] then turns one sample's numbers into a
//! kernel model, cheaply. Sub-modules: `zones` (which rooms make a zone), `fabric_of` (assemblies), `surfaces`
//! (elements and their faces), `sun` (irradiance and shading), `occupancy` (people and the calendar), `airflow`
//! (ventilation and leaks), `network` (the air flow network of the year), `neighbours` (given temperatures).
//!
//! # Assumptions, all visible here and in the sub-modules' docs
//! * Inside convection is constant by direction; long-wave exchange goes by Carroll's mean radiant node.
//! * People, neighbours' temperatures and the ground's virtual temperature follow the nominal calendar and numbers;
//!   samples scale people and equipment a zone and shift set points.
//! * The plant is ideal and convective.

mod airflow;
pub(crate) mod fabric_of;
mod neighbours;
mod network;
pub(crate) mod occupancy;
mod sun;
mod surfaces;
mod zones;

#[cfg(test)]
mod tests;

use building::{Building, Resolved};
use climate::Climate;
use matter::moist_air;

use crate::error::YearError;
use crate::kernel::input::{Bypass, Drivers, MONTH_ENDS_H, Model, Options, Zone as KernelZone};
use crate::result::{Grain, Use};
pub use fabric_of::transmittance;
pub use occupancy::{PlantThere, StandardUse, WaterDay, equipment_electricity_j, hot_water_of_a_day};
pub use surfaces::window_u_w_m2k;

/// Wind at the building's middle height over the station's.
pub(crate) fn wind_factor(building: &Building, climate: &Climate) -> f64 {
    airflow::wind_factor(building, climate)
}

/// Temperatures of the neighbours, hour by hour, °C, in the building's order.
pub(crate) fn neighbour_temperatures(building: &Building, climate: &Climate, r: &Resolved) -> Vec<Vec<f64>> {
    neighbours::series(building, climate, r).into_iter().map(|s| s.temperature_c).collect()
}

/// A temperature over a threshold by less than this does not count, K: below any thermometer, above the rounding of a
/// set point that is held.
const THRESHOLD_SLACK_K: f64 = 0.05;
/// The same for humidity, kg/kg.
const THRESHOLD_SLACK_KG_KG: f64 = 5e-5;

/// How a year is run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct YearOptions {
    /// Steps an hour: 1, 2, 4, or a multiple of 4.
    pub steps_per_hour: usize,
    /// Gains of the standard use; `None` takes [`StandardUse::fitting`] the building.
    pub standard: Option<StandardUse>,
    /// Humidity ratio above which an hour is humid, kg/kg.
    pub humid_above_kg_kg: f64,
    /// Days run before the year, with its last days.
    pub warm_up_days: usize,
}

impl Default for YearOptions {
    fn default() -> Self {
        Self { steps_per_hour: 4, standard: None, humid_above_kg_kg: 0.012, warm_up_days: 21 }
    }
}

/// What all samples of a building in a climate share.
pub struct Frame<'a> {
    /// The building.
    pub building: &'a Building,
    /// The climate.
    pub climate: &'a Climate,
    /// Assumptions about use.
    pub use_case: Use,
    /// How finely rooms are kept apart.
    pub grain: Grain,
    /// Weather, sun, neighbours and calendar as the kernel takes them.
    pub drivers: Drivers,
    /// What the kernel is asked for.
    pub options: Options,
    /// Zones of the run.
    pub zones: zones::Zones,
    /// Watched gatherings: which gathering and day each of [`Drivers::watches`] belongs to.
    pub watched: Vec<(building::model::GatheringId, usize)>,
    /// Whether people are anywhere in the building, step by step.
    pub occupied_steps: Vec<bool>,
    /// Days, from 0, on which heating is sized: cold and clear, cold and overcast; periods of their own in the balance.
    pub design_days: [usize; 2],
    /// Humidity ratio above which an hour is humid, kg/kg.
    pub humid_above_kg_kg: f64,
    pub(crate) surfaces: surfaces::Surfaces,
    pub(crate) airflow: airflow::Airflow,
    pub(crate) occupancy: occupancy::Occupancy,
}

impl<'a> Frame<'a> {
    /// Prepares a building for runs.
    ///
    /// # Errors
    /// [`YearError`] when rooms are missing, too many, or an assembly's figures make no sense.
    pub fn new(
        building: &'a Building,
        climate: &'a Climate,
        use_case: Use,
        grain: Grain,
        options: &YearOptions,
    ) -> Result<Self, YearError> {
        let nominal = building.values.nominal();
        let zones = zones::Zones::of(building, grain)?;
        let mut drivers = weather(climate, zones.count(), options.steps_per_hour);
        drivers.given = neighbours::series(building, climate, &nominal);
        let surfaces = surfaces::Surfaces::new(building, climate, &nominal, &zones, &mut drivers)?;
        let airflow =
            airflow::Airflow::new(building, climate, &zones, &mut drivers, use_case, grain, &nominal)?;
        let mut occupancy =
            occupancy::Occupancy::new(building, &nominal, use_case, &zones, &airflow, options, &mut drivers);
        let days = climate::design_days::design_days(climate);
        let design_days = [days.clear_cold.first_day, days.overcast_cold.first_day];
        drivers.bin_ends.extend(design_days.iter().flat_map(|day| [day * 24, day * 24 + 24]));
        drivers.bin_ends = crate::tell::sorted_bins(drivers.bin_ends, drivers.hours);
        let watched = std::mem::take(&mut occupancy.watched);
        let occupied_steps = std::mem::take(&mut occupancy.occupied_steps);
        let kernel_options = Options {
            warm_up_days: options.warm_up_days,
            vapour: true,
            co2: use_case != Use::Standard,
            warm_above_c: nominal[building.set_points.warm_above] + THRESHOLD_SLACK_K,
            humid_above_kg_kg: options.humid_above_kg_kg + THRESHOLD_SLACK_KG_KG,
            trace: false,
        };
        Ok(Self {
            building,
            climate,
            use_case,
            grain,
            drivers,
            options: kernel_options,
            zones,
            watched,
            occupied_steps,
            design_days,
            humid_above_kg_kg: options.humid_above_kg_kg,
            surfaces,
            airflow,
            occupancy,
        })
    }

    /// Returns how many air modes the calendar uses.
    pub fn airflow_modes(&self) -> usize {
        self.airflow.modes()
    }

    /// Returns the net floor of all zones, m².
    pub fn net_floor_m2(&self) -> f64 {
        self.zones.area_m2.iter().sum()
    }

    /// Turns one sample's numbers into a model.
    ///
    /// # Errors
    /// [`YearError`] when an assembly's or window's figures make no sense in this sample.
    pub fn model(&self, resolved: &Resolved) -> Result<Model, YearError> {
        let density = air_density_kg_m3(self.drivers.pressure_pa);
        let heat = density * moist_air::specific_heat(0.006);
        let zones: Vec<KernelZone> = (0..self.zones.count())
            .map(|z| KernelZone {
                heat_capacity_j_k: self.zones.heat_capacity_j_k(z, heat),
                ..KernelZone::of_air(self.zones.volume_m3[z], 0.0)
            })
            .collect();
        let mut model = Model::of_zones(zones);
        model.air_heat_j_m3k = heat;
        model.air_density_kg_m3 = density;
        model.initial_kg_kg = self.drivers.outdoor_kg_kg.last().copied().unwrap_or(0.006).max(0.004);
        self.surfaces.fill(self, resolved, &mut model)?;
        self.airflow.fill(self, resolved, &mut model);
        self.occupancy.fill(self, resolved, &mut model);
        model.bypass = self.building.ventilation.iter().find_map(|unit| {
            let bypass = unit.bypass.as_ref()?;
            Some(Bypass {
                extract_above_c: resolved[bypass.extract_above],
                outdoor_above_c: airflow::COOLEST_BYPASS_C,
            })
        });
        Ok(model)
    }
}

/// Density with which the balance turns volumes of air into masses, kg/m³.
fn air_density_kg_m3(pressure_pa: f64) -> f64 {
    moist_air::density(20.0, 0.006, pressure_pa)
}

/// Outdoor air and the frame of the calendar; sun and given temperatures come later.
fn weather(climate: &Climate, zones: usize, steps_per_hour: usize) -> Drivers {
    let hours = climate.hours.len();
    let mut d = Drivers::constant(zones, hours, steps_per_hour.max(1), 0.0, 0.0);
    let step_h = 1.0 / d.steps_per_hour as f64;
    for step in 0..d.steps() {
        // Readings stand at the ends of hours; a step's mean is the state at its middle.
        let state = climate.state_at((step as f64 + 0.5) * step_h);
        d.outdoor_c[step] = state.dry_bulb_c;
        d.outdoor_kg_kg[step] = state.humidity_ratio;
    }
    d.wind_m_s = climate.hours.iter().map(|h| h.wind_speed_m_s.max(0.0)).collect();
    let mean = climate.hours.iter().map(|h| h.pressure_pa).sum::<f64>() / hours as f64;
    d.pressure_pa = mean;
    d.bin_ends = MONTH_ENDS_H.to_vec();
    d
}
