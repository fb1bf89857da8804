//! Tells a year: from the kernel's sums and traces to a [`YearResult`].
//!
//! [`run`] does it all for a building's nominal numbers; [`Frame::year`] for one sample; [`Frame::figures`] takes many
//! samples side by side and returns the few numbers that chances need.
//!
//! A year is run twice: once for its peaks, once more with the peaks as periods of their own and every step kept. Where
//! plant cools or dries, a third run without it says how warm and humid it would be.

mod energy;
mod evening;
mod leaks;
mod report;

use building::model::SpaceId;
use building::{Building, Resolved};
use climate::Climate;
use matter::moist_air;

use crate::assemble::{Frame, PlantThere, YearOptions};
use crate::error::YearError;
use crate::kernel::input::{UseState, ZoneUse};
use crate::kernel::{self, Drivers, KernelYear, Model, Options, ZoneBalance};
use crate::result::{Demand, Grain, Use, YearResult};
use crate::services::hours::Account;
use crate::services::water::{WaterHours, Way};
use crate::services::{self, EnergyYear};

pub(crate) use energy::Seasons;
pub use energy::{ELECTRICITY_PRIMARY, FUEL_PRIMARY};
pub use evening::required_outdoor_air;
pub use leaks::LeakCheck;
pub use report::balance;

use report::{PeakHours, Report};

/// Temperature at which drying condenses, °C: the heat of evaporation is taken there.
const DRYING_AT_C: f64 = 12.0;
/// Steps an hour of a told year: traces are read by quarter-hours.
const STEPS_PER_HOUR: usize = 4;
const STEPS_A_DAY: usize = 24 * STEPS_PER_HOUR;
const STEP_H: f64 = 1.0 / STEPS_PER_HOUR as f64;

/// The few numbers of a sample's year that chances need.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Figures {
    /// Demand of the whole year.
    pub demand: Demand,
    /// Heating load: larger mean of the two design days, W.
    pub heating_load_w: f64,
    /// Greatest hourly heating, W.
    pub heating_peak_w: f64,
    /// Greatest hourly sensible cooling, W.
    pub cooling_peak_w: f64,
    /// Hours above the warm threshold, zones weighted by floor area.
    pub warm_hours: f64,
    /// Hours above the humid threshold, likewise.
    pub humid_hours: f64,
}

/// Runs a building's year at its nominal numbers.
///
/// # Errors
/// [`YearError`] names the item of the book that makes no model.
pub fn run(
    building: &Building,
    climate: &Climate,
    use_case: Use,
    grain: Grain,
) -> Result<YearResult, YearError> {
    let frame = Frame::new(building, climate, use_case, grain, &YearOptions::default())?;
    frame.year(&building.values.nominal())
}

impl Frame<'_> {
    /// Runs one sample and tells all about its year.
    ///
    /// # Errors
    /// [`YearError`] names what makes no model with these numbers.
    pub fn year(&self, r: &Resolved) -> Result<YearResult, YearError> {
        self.year_with_water(r, Way::of(self.building))
    }

    /// The same with the hot water made another way; `None` leaves it out.
    ///
    /// # Errors
    /// [`YearError`] names what makes no model with these numbers.
    pub fn year_with_water(&self, r: &Resolved, way: Option<Way>) -> Result<YearResult, YearError> {
        let model = self.checked(r)?;
        let (mut drivers, coupled) = services::couple(self, r, &model, way)?;
        let first = kernel::run(&drivers, &model, &self.options)?;
        let peaks = PeakHours::of(&first);
        let free = without_plant(&drivers);
        drivers.bin_ends.extend(peaks.bounds());
        drivers.bin_ends = sorted_bins(drivers.bin_ends, drivers.hours);
        let options = Options { trace: true, co2: true, ..self.options };
        let year = kernel::run(&drivers, &model, &options)?;
        let there = PlantThere::of(self.building);
        let uncooled = if there.cools || there.dries {
            Some(self.figures_of(&kernel::run(&free, &model, &self.options)?))
        } else {
            None
        };
        let machines = self.machines(r, &year, way, coupled.as_ref())?;
        let report = Report {
            frame: self,
            drivers: &drivers,
            model: &model,
            r,
            year: &year,
            peaks,
            uncooled,
            machines,
        };
        Ok(report.result())
    }

    fn machines(
        &self,
        r: &Resolved,
        year: &KernelYear,
        way: Option<Way>,
        coupled: Option<&WaterHours>,
    ) -> Result<EnergyYear, YearError> {
        let Some(trace) = &year.trace else { return Ok(EnergyYear::default()) };
        let water = services::settle(self, r, way, trace, coupled)?;
        let heads = services::machines::heads(self.building, &self.building.plant, r)?;
        Account { frame: self, trace, r, heads: &heads, water: water.as_ref() }.year()
    }

    /// Runs samples side by side, `width` (1, 8 or 16) at a time, and returns their figures in order.
    ///
    /// # Errors
    /// [`YearError`], for the first sample found wrong.
    pub fn figures(&self, samples: &[Resolved], width: usize) -> Result<Vec<Figures>, YearError> {
        let models: Vec<Model> = samples.iter().map(|r| self.checked(r)).collect::<Result<_, _>>()?;
        let years = kernel::run_many(&self.drivers, &models, width, &self.options)?;
        Ok(years.iter().map(|year| self.figures_of(year)).collect())
    }

    pub(crate) fn checked(&self, r: &Resolved) -> Result<Model, YearError> {
        let (found, expected) = (r.0.len(), self.building.values.len());
        if found != expected {
            return Err(YearError::Sample { found, expected });
        }
        self.model(r)
    }

    pub(crate) fn figures_of(&self, year: &KernelYear) -> Figures {
        let mut demand = Demand::default();
        for balance in &year.balances {
            demand.add(&demand_of(balance));
        }
        let whole = self.net_floor_m2();
        let (mut warm, mut humid) = (0.0, 0.0);
        for (z, area) in self.zones.area_m2.iter().enumerate() {
            let sum = year.zone(z);
            warm += sum.warm_steps * area / whole;
            humid += sum.humid_steps * area / whole;
        }
        let step_h = 1.0 / self.drivers.steps_per_hour as f64;
        Figures {
            demand,
            heating_load_w: design_load_w(&self.drivers.bin_ends, year, self.design_days),
            heating_peak_w: year.heating_peak_w.value,
            cooling_peak_w: year.cooling_peak_w.value,
            warm_hours: warm * step_h,
            humid_hours: humid * step_h,
        }
    }

    /// Returns the outdoor air supplied to a room in a quarter-hour by the book's schedule, m³/s.
    pub fn supply_of(&self, space: SpaceId, quarter: usize, r: &Resolved) -> f64 {
        let mut supply = 0.0;
        for unit in &self.building.ventilation {
            let mode = &unit.modes[usize::from(unit.running[quarter])];
            let share: f64 = mode.supply_shares.iter().filter(|(s, _)| *s == space).map(|(_, x)| x).sum();
            supply += r[mode.supply] * share;
        }
        supply
    }
}

/// Delivered and primary energy of a sample's year.
///
/// The season's factors are the stated ones, or those of the rated points' own year (`seasons`), moved by the sample.
pub(crate) fn sample_energy(
    frame: &Frame<'_>,
    r: &Resolved,
    demand: &Demand,
    seasons: Option<&Seasons>,
) -> crate::result::EnergyResult {
    let mut energy = energy::energy(frame, r, demand, &energy::hot_water(frame.building, r));
    if let Some(seasons) = seasons {
        seasons.carry(&mut energy);
    }
    energy
}

/// Ends of balance periods, rising, without doubles.
pub(crate) fn sorted_bins(mut ends: Vec<usize>, hours: usize) -> Vec<usize> {
    ends.retain(|end| *end > 0 && *end <= hours);
    ends.sort_unstable();
    ends.dedup();
    ends
}

/// The same calendar without cooling or drying.
fn without_plant(drivers: &Drivers) -> Drivers {
    let free = |z: &ZoneUse| ZoneUse { cool_below_c: f64::INFINITY, dry_below_kg_kg: f64::INFINITY, ..*z };
    let uses = drivers
        .uses
        .iter()
        .map(|u| UseState { zones: u.zones.iter().map(free).collect(), ..u.clone() })
        .collect();
    Drivers { uses, ..drivers.clone() }
}

fn demand_of(balance: &ZoneBalance) -> Demand {
    Demand {
        heating_j: balance.heating_j,
        cooling_sensible_j: balance.cooling_j,
        drying_j: balance.dried_kg * moist_air::evaporation_heat(DRYING_AT_C),
        dried_kg: balance.dried_kg,
    }
}

/// Larger mean heating power of the two design days, W.
fn design_load_w(bin_ends: &[usize], year: &KernelYear, days: [usize; 2]) -> f64 {
    let of = |day: usize| -> f64 {
        let mut heat = 0.0;
        let mut start = 0;
        for (bin, end) in bin_ends.iter().enumerate() {
            if start >= day * 24 && *end <= day * 24 + 24 {
                heat += (0..year.zones).map(|z| year.balances[bin * year.zones + z].heating_j).sum::<f64>();
            }
            start = *end;
        }
        heat / 86_400.0
    };
    days.into_iter().map(of).fold(0.0, f64::max)
}

/// One result by both grains.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct GrainDifference {
    /// What.
    pub result: &'static str,
    /// By the limits run.
    pub limits: f64,
    /// By the rooms run.
    pub rooms: f64,
    /// Unit.
    pub unit: &'static str,
    /// Limits less rooms, over rooms; zero where both are zero.
    pub relative: f64,
}

/// A merge of rooms into zones is good while demands and peaks move by no more than this share.
pub const GOOD_MERGE: f64 = 0.02;

/// Runs both grains and returns how far the limits run is from the rooms run, result by result.
///
/// # Errors
/// [`YearError`] of either run.
pub fn compare_grains(
    building: &Building,
    climate: &Climate,
    use_case: Use,
) -> Result<Vec<GrainDifference>, YearError> {
    let nominal = [building.values.nominal()];
    let of = |grain: Grain| -> Result<Figures, YearError> {
        let frame = Frame::new(building, climate, use_case, grain, &YearOptions::default())?;
        Ok(frame.figures(&nominal, 1)?.first().copied().unwrap_or_default())
    };
    let (limits, rooms) = (of(Grain::Limits)?, of(Grain::Rooms)?);
    type Pick = fn(&Figures) -> f64;
    let rows: [(&'static str, &'static str, Pick); 7] = [
        ("heating demand", "J", |f| f.demand.heating_j),
        ("sensible cooling demand", "J", |f| f.demand.cooling_sensible_j),
        ("drying", "J", |f| f.demand.drying_j),
        ("heating load", "W", |f| f.heating_load_w),
        ("cooling peak", "W", |f| f.cooling_peak_w),
        ("warm hours", "h", |f| f.warm_hours),
        ("humid hours", "h", |f| f.humid_hours),
    ];
    let difference = |(result, unit, pick): (&'static str, &'static str, Pick)| {
        let (a, b) = (pick(&limits), pick(&rooms));
        GrainDifference {
            result,
            limits: a,
            rooms: b,
            unit,
            relative: if b != 0.0 { (a - b) / b } else { 0.0 },
        }
    };
    Ok(rows.into_iter().map(difference).collect())
}
