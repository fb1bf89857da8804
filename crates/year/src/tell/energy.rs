//! Ventilation, delivered and primary energy, hot water, and the monthly method of a told year.

use building::plan::PlantKind;
use building::{Building, Resolved, ValueKey};
use climate::HOURS;

use super::leaks::LEAK_INDOOR_C;
use super::report::Report;
use crate::assemble::{Frame, PlantThere, equipment_electricity_j, hot_water_of_a_day};
use crate::kernel;
use crate::monthly::Conventions;
use crate::quasi_steady;
use crate::result::{
    Demand, EndUse, EndUseResult, EnergyResult, HotWaterResult, ModeResult, MonthlyMethod, MonthlyMonth,
    VentilationResult, YearResult,
};
use crate::services::EnergyYear;
use crate::services::hours::electricity_factor;

/// Primary energy for a unit of electricity where the book gives none: older common practice, not renewable (from
/// memory).
pub const ELECTRICITY_PRIMARY: f64 = 2.6;
/// The same for fuel burnt on site (from memory).
pub const FUEL_PRIMARY: f64 = 1.1;

impl Report<'_, '_> {
    pub fn ventilation(&self) -> VentilationResult {
        let f = self.frame;
        let mut out = VentilationResult {
            mean_infiltration_m3_s: self.mean_leak_m3_s(),
            ..VentilationResult::default()
        };
        let (mut heat, mut work) = (0.0, 0.0);
        for (unit, hours) in f.building.ventilation.iter().zip(f.airflow.mode_hours(f.building)) {
            for (mode, hours) in unit.modes.iter().zip(hours) {
                let supply = self.r[mode.supply];
                let share = hours / HOURS as f64;
                out.mean_supply_m3_s += share * supply;
                heat += share * supply * self.r[mode.temperature_recovery];
                work += share * supply * self.r[mode.power];
                out.modes.push(ModeResult {
                    name: mode.name.clone(),
                    hours,
                    supply_m3_s: supply,
                    extract_m3_s: self.r[mode.extract],
                    temperature_recovery: self.r[mode.temperature_recovery],
                    moisture_recovery: self.r[mode.moisture_recovery],
                    power_wh_m3: self.r[mode.power],
                });
            }
        }
        if out.mean_supply_m3_s > 0.0 {
            out.mean_temperature_recovery = heat / out.mean_supply_m3_s;
            out.mean_power_wh_m3 = work / out.mean_supply_m3_s;
        }
        out
    }

    /// Mean flow through leaks by the balance's rule, at the mean inside temperature of each hour taken as 21 °C, m³/s.
    fn mean_leak_m3_s(&self) -> f64 {
        let d = self.drivers;
        let n = d.steps_per_hour;
        let winds = kernel::wind_levels(d);
        let flow = kernel::leakages_m3_s(d, self.model, None, &winds, LEAK_INDOOR_C);
        let mut sum = 0.0;
        for hour in 0..d.hours {
            sum += flow(hour, d.uses[usize::from(d.use_of_step[hour * n])].air_mode);
        }
        sum / d.hours as f64
    }

    /// The monthly method on the same model.
    pub fn monthly(&self) -> MonthlyMethod {
        let f = self.frame;
        let year = quasi_steady::run(f, self.model, self.r, Conventions::default());
        let cools = PlantThere::of(f.building).cools;
        let cooled = |joules: f64| if cools { joules } else { 0.0 };
        let months: Vec<MonthlyMonth> = year
            .inputs
            .iter()
            .zip(&year.months)
            .map(|(input, month)| MonthlyMonth {
                outdoor_c: input.outdoor_c,
                losses_j: month.losses_heating_j,
                solar_j: input.solar_j,
                internal_j: input.internal_j,
                gain_utilisation: month.gain_utilisation,
                loss_utilisation: month.loss_utilisation,
                heating_j: month.heating_j,
                cooling_sensible_j: cooled(month.cooling_j),
            })
            .collect();
        MonthlyMethod {
            transmission_w_k: year.envelope.transmission_w_k,
            capacity_j_k: year.envelope.capacity_j_k,
            heating_j: year.heating_j,
            cooling_sensible_j: cooled(year.cooling_j),
            months,
        }
    }
}

/// Electricity of the fans in a year, J.
fn fans_j(f: &Frame<'_>, r: &Resolved) -> f64 {
    let mut sum = 0.0;
    for (unit, hours) in f.building.ventilation.iter().zip(f.airflow.mode_hours(f.building)) {
        for (mode, hours) in unit.modes.iter().zip(hours) {
            // Wh/m³ · 3600 s/h · m³/s is W; times hours and 3600 s/h is J.
            sum += 3600.0 * r[mode.power] * r[mode.supply] * 3600.0 * hours;
        }
    }
    sum
}

/// Hot water of a year.
pub(crate) fn hot_water(b: &Building, r: &Resolved) -> HotWaterResult {
    let Some(day) = hot_water_of_a_day(b, r) else { return HotWaterResult::default() };
    let open = b.calendar.days.iter().filter(|d| !d.closed).count() as f64;
    let (drawn, loss) = (day.drawn_j * open, day.loss_j * b.calendar.days.len() as f64);
    let electricity = (drawn + loss) / day.factor;
    let from_room = if day.heat_pump { drawn + loss - electricity - loss } else { -loss };
    HotWaterResult {
        drawn_j: drawn,
        standing_loss_j: loss,
        factor: day.factor,
        electricity_j: electricity,
        from_room_j: from_room,
    }
}

/// Hot water of a told year.
pub(super) fn told_water(machines: &EnergyYear) -> HotWaterResult {
    let w = &machines.water;
    let electricity_j = w.machine_j + w.element_j;
    let useful = w.drawn_j + w.lost_j + w.loop_j;
    let taken: f64 = w.months.iter().map(|m| m.taken_sensible_j + m.taken_latent_j - m.given_j).sum();
    HotWaterResult {
        drawn_j: w.drawn_j,
        standing_loss_j: w.lost_j + w.loop_j,
        factor: if electricity_j > 0.0 { useful / electricity_j } else { 0.0 },
        electricity_j,
        from_room_j: taken,
    }
}

/// Delivered and primary energy of a told year: the sum of its hours.
pub(super) fn told(frame: &Frame<'_>, r: &Resolved, demand: &Demand, machines: &EnergyYear) -> EnergyResult {
    let (year, w) = (machines.year(), &machines.water);
    let electric = electricity_factor(frame.building, r);
    // What the sun gives is taken off every use alike.
    let used = year.used_j() - year.fuel_j;
    let bought = if used > 0.0 { year.bought_j / used } else { 1.0 };
    let figures: Vec<&str> = machines.heads.iter().map(|h| h.figures.as_str()).collect();
    let heads = match figures.first() {
        Some(first) if figures.iter().all(|f| f == first) => format!("hour by hour; {first}"),
        Some(_) => "hour by hour; rated points where stated".to_owned(),
        None => "no heating plant in the book: one unit of electricity for one of heat".to_owned(),
    };
    let row = |end_use, useful_j: f64, delivered_j: f64, fuel_j: f64, source: String| {
        let primary_j = (delivered_j - fuel_j) * bought * electric + fuel_j * FUEL_PRIMARY;
        EndUseResult {
            end_use,
            carrier: if fuel_j > 0.5 * delivered_j { "fuel" } else { "electricity" }.to_owned(),
            useful_j,
            factor: if delivered_j > 0.0 { useful_j / delivered_j } else { 1.0 },
            factor_source: source,
            delivered_j,
            primary_factor: if delivered_j > 0.0 { primary_j / delivered_j } else { electric },
            primary_j,
        }
    };
    let water = w.drawn_j + w.lost_j + w.loop_j;
    let end_uses = vec![
        row(EndUse::Heating, demand.heating_j, year.heating_j, year.fuel_j, heads.clone()),
        row(EndUse::Cooling, demand.cooling_j(), year.cooling_j, 0.0, heads),
        row(EndUse::Fans, year.fans_j, year.fans_j, 0.0, "electricity as stated for each mode".to_owned()),
        row(EndUse::HotWater, water, year.hot_water_j, 0.0, "hour by hour from the stated factor".to_owned()),
        row(
            EndUse::Equipment,
            year.equipment_j,
            year.equipment_j,
            0.0,
            "the book's lights and equipment, whatever the use".to_owned(),
        ),
    ];
    EnergyResult { electricity_j: used, primary_j: end_uses.iter().map(|e| e.primary_j).sum(), end_uses }
}

/// How the nominal told year stands to its stated seasonal factors, end use by end use: delivered and primary.
#[derive(Clone, Debug)]
pub(crate) struct Seasons {
    ratios: Vec<(f64, f64)>,
    /// Share of electricity that is bought.
    pub bought: f64,
}

impl Seasons {
    pub fn of(frame: &Frame<'_>, year: &YearResult) -> Self {
        let r = frame.building.values.nominal();
        let stated = energy(frame, &r, &year.demand, &hot_water(frame.building, &r));
        let ratio = |a: f64, b: f64| if b > 0.0 { a / b } else { 1.0 };
        let of = |(told, stated): (&EndUseResult, &EndUseResult)| {
            (ratio(told.delivered_j, stated.delivered_j), ratio(told.primary_j, stated.primary_j))
        };
        let sum = year.machines.year();
        Self {
            ratios: year.energy.end_uses.iter().zip(&stated.end_uses).map(of).collect(),
            bought: ratio(sum.bought_j, sum.used_j() - sum.fuel_j).min(1.0),
        }
    }

    pub fn carry(&self, energy: &mut EnergyResult) {
        for (row, (delivered, primary)) in energy.end_uses.iter_mut().zip(&self.ratios) {
            row.delivered_j *= delivered;
            row.primary_j *= primary;
        }
        energy.electricity_j =
            energy.end_uses.iter().filter(|e| e.carrier == "electricity").map(|e| e.delivered_j).sum();
        energy.primary_j = energy.end_uses.iter().map(|e| e.primary_j).sum();
    }
}

/// Delivered and primary energy of a year.
pub(crate) fn energy(
    frame: &Frame<'_>,
    r: &Resolved,
    demand: &Demand,
    water: &HotWaterResult,
) -> EnergyResult {
    let b = frame.building;
    let heating = factor(b, r, |p| p.heating, |p| p.seasonal_heating);
    let cooling = factor(b, r, |p| p.cooling, |p| p.seasonal_cooling);
    let fans = fans_j(frame, r);
    let machines = equipment_electricity_j(b, r);
    let boiler = b.plant.iter().any(|p| p.kind == PlantKind::Boiler);
    let electric = electricity_factor(b, r);
    let row = |end_use, useful_j: f64, factor: f64, source: &str, fuel: bool| {
        let delivered_j = useful_j / factor;
        let primary_factor = if fuel { FUEL_PRIMARY } else { electric };
        EndUseResult {
            end_use,
            carrier: if fuel { "fuel" } else { "electricity" }.to_owned(),
            useful_j,
            factor,
            factor_source: source.to_owned(),
            delivered_j,
            primary_factor,
            primary_j: delivered_j * primary_factor,
        }
    };
    let water_useful = water.drawn_j + water.standing_loss_j;
    let end_uses = vec![
        row(EndUse::Heating, demand.heating_j, heating.0, &heating.1, boiler),
        row(EndUse::Cooling, demand.cooling_j(), cooling.0, &cooling.1, false),
        row(EndUse::Fans, fans, 1.0, "fans: electricity as stated for each mode", false),
        row(EndUse::HotWater, water_useful, water.factor.max(1e-9), "as stated for the water heater", false),
        row(EndUse::Equipment, machines, 1.0, "the book's lights and equipment, whatever the use", false),
    ];
    EnergyResult {
        electricity_j: end_uses.iter().filter(|e| e.carrier == "electricity").map(|e| e.delivered_j).sum(),
        primary_j: end_uses.iter().map(|e| e.primary_j).sum(),
        end_uses,
    }
}

/// Seasonal factor of heating or cooling, weighted by capacity, and where it comes from.
fn factor(
    building: &Building,
    r: &Resolved,
    capacity: fn(&building::plan::PlantPlan) -> Option<ValueKey>,
    seasonal: fn(&building::plan::PlantPlan) -> Option<ValueKey>,
) -> (f64, String) {
    let (mut sum, mut weight, mut names) = (0.0, 0.0, Vec::new());
    for plant in &building.plant {
        let Some(key) = seasonal(plant) else { continue };
        let size = capacity(plant).map_or(1.0, |key| r[key]);
        sum += size * r[key];
        weight += size;
        names.push(plant.name.as_str());
    }
    if weight > 0.0 {
        return (sum / weight, format!("seasonal factors of {}, by capacity", names.join(" and ")));
    }
    (1.0, "no seasonal factor stated: one unit of electricity for one of heat or cold".to_owned())
}
