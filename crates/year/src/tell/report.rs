//! Zones, months, peaks and comfort of a told year.

use building::calendar::QUARTERS;
use building::{Building, Resolved, counting};
use climate::HOURS;

use super::{Figures, STEP_H, STEPS_A_DAY, STEPS_PER_HOUR, demand_of, design_load_w, energy};
use crate::assemble::{Frame, PlantThere, StandardUse};
use crate::kernel::input::{MONTH_ENDS_H, Part};
use crate::kernel::{self, Drivers, KernelYear, Model, ZoneBalance};
use crate::result::{
    Balance, Cause, Comfort, Counted, DayResult, Demand, MonthResult, OutdoorState, PeakLoad, Peaks,
    Uncooled, Use, YearResult, ZoneResult,
};
use crate::services::EnergyYear;

/// Hours of the greatest loads.
#[derive(Clone, Copy, Debug)]
pub(super) struct PeakHours {
    hourly: [usize; 2],
    daily: [usize; 2],
}

impl PeakHours {
    /// Reads them from a run.
    pub fn of(year: &KernelYear) -> Self {
        Self {
            hourly: [year.heating_peak_w.hour, year.cooling_peak_w.hour],
            daily: [year.heating_day_peak_w.hour / 24 * 24, year.cooling_day_peak_w.hour / 24 * 24],
        }
    }

    /// Bounds of the periods.
    pub fn bounds(&self) -> Vec<usize> {
        let hourly = self.hourly.iter().flat_map(|h| [*h, h + 1]);
        hourly.chain(self.daily.iter().flat_map(|h| [*h, h + 24])).collect()
    }
}

/// Heat by cause of one zone's period: parts by what left through their outside, storage apart.
pub fn balance(zone: &ZoneBalance) -> Balance {
    sorted(zone, false)
}

/// Heat by cause of one zone's hour or day: parts by what their inside faces took. Over so short a time the mass between
/// both faces hides the cause.
fn balance_at_faces(zone: &ZoneBalance) -> Balance {
    sorted(zone, true)
}

fn sorted(zone: &ZoneBalance, at_faces: bool) -> Balance {
    let mut out = Balance::default();
    for (part, cause) in [
        (Part::Walls, Cause::Walls),
        (Part::Roof, Cause::Roof),
        (Part::Ground, Cause::Ground),
        (Part::Party, Cause::Neighbours),
        (Part::Windows, Cause::Windows),
        (Part::Between, Cause::OtherZones),
        (Part::Mass, Cause::Storage),
    ] {
        let heat = zone.part(part);
        out.add_to(cause, -heat.through_j);
        out.add_to(if at_faces { cause } else { Cause::Storage }, -heat.stored_j);
    }
    out.add_to(Cause::Storage, -zone.air_stored_j);
    out.add_to(Cause::OtherZones, zone.air_between_j);
    out.add_to(Cause::Joints, zone.bridges_j);
    out.add_to(Cause::Sun, zone.sun_j);
    out.add_to(Cause::People, zone.people_j);
    out.add_to(Cause::Equipment, zone.equipment_j + zone.lights_j);
    out.add_to(Cause::Infiltration, zone.leaks_j);
    out.add_to(Cause::Ventilation, zone.ventilation_j);
    out.add_to(Cause::Airing, zone.airing_j);
    out.add_to(Cause::Heating, zone.heating_j);
    out.add_to(Cause::Cooling, -zone.cooling_j);
    out
}

/// What a report is made from.
pub(super) struct Report<'a, 'f> {
    pub frame: &'a Frame<'f>,
    pub drivers: &'a Drivers,
    pub model: &'a Model,
    pub r: &'a Resolved,
    pub year: &'a KernelYear,
    pub peaks: PeakHours,
    pub uncooled: Option<Figures>,
    pub machines: EnergyYear,
}

impl Report<'_, '_> {
    /// Makes the result.
    pub fn result(&self) -> YearResult {
        let f = self.frame;
        let zones: Vec<ZoneResult> = (0..f.zones.count()).map(|z| self.zone(z)).collect();
        let months = self.whole_months(&zones);
        let mut demand = Demand::default();
        for zone in &zones {
            demand.add(&zone.demand);
        }
        let hot_water = energy::told_water(&self.machines);
        YearResult {
            use_case: f.use_case,
            grain: f.grain,
            climate: format!("{} ({})", f.climate.place.name, f.climate.source),
            counted: counted(f.building),
            demand,
            comfort: self.whole_comfort(&zones),
            months,
            peaks: self.peaks(),
            gatherings: self.gatherings(),
            ventilation: self.ventilation(),
            leaks: self.leak_air(),
            energy: energy::told(self.frame, self.r, &demand, &self.machines),
            hot_water,
            machines: self.machines.clone(),
            outdoor_days_c: f.climate.daily_means_c(),
            design_heating_load_w: design_load_w(&self.drivers.bin_ends, self.year, f.design_days),
            design_days: f.design_days.to_vec(),
            monthly: self.monthly(),
            uncooled: self
                .uncooled
                .map(|f| Uncooled { warm_hours: f.warm_hours, humid_hours: f.humid_hours }),
            occupied_warm_share: self.occupied_warm_share(),
            closure: closure(self.year),
            notes: self.notes(),
            zones,
        }
    }

    /// Balances of a zone by month.
    fn months_of(&self, zone: usize) -> Vec<ZoneBalance> {
        let mut months = vec![ZoneBalance::default(); 12];
        for (bin, end) in self.drivers.bin_ends.iter().enumerate() {
            let month = MONTH_ENDS_H.iter().position(|last| end <= last).unwrap_or(11);
            months[month].add(&self.year.balances[bin * self.year.zones + zone]);
        }
        months
    }

    fn zone(&self, z: usize) -> ZoneResult {
        let f = self.frame;
        let months: Vec<MonthResult> = self
            .months_of(z)
            .iter()
            .map(|m| MonthResult {
                demand: demand_of(m),
                balance: balance(m),
                mean_operative_c: m.mean_operative_c,
                mean_kg_kg: m.mean_kg_kg,
                warm_hours: m.warm_steps * STEP_H,
                humid_hours: m.humid_steps * STEP_H,
            })
            .collect();
        let mut sum = Demand::default();
        for month in &months {
            sum.add(&month.demand);
        }
        let (heating, cooling) = (self.year.zone_heating_peak_w[z], self.year.zone_cooling_peak_w[z]);
        let operative: Vec<f64> = self.column(|t| &t.operative_c, z);
        let humidity: Vec<f64> = self.column(|t| &t.kg_kg, z);
        let comfort = Comfort {
            warm_hours: months.iter().map(|m| m.warm_hours).sum(),
            humid_hours: months.iter().map(|m| m.humid_hours).sum(),
            ..self.comfort(&operative, &humidity)
        };
        ZoneResult {
            name: f.zones.names[z].clone(),
            spaces: f
                .building
                .spaces
                .iter()
                .zip(&f.zones.of_space)
                .filter(|(_, zone)| **zone == z)
                .map(|(space, _)| space.name.clone())
                .collect(),
            area_m2: f.zones.area_m2[z],
            volume_m3: f.zones.volume_m3[z],
            demand: sum,
            months,
            heating_peak_w: heating.value,
            heating_peak_hour: heating.hour,
            cooling_peak_w: cooling.value,
            cooling_peak_hour: cooling.hour,
            comfort,
            days: self.days(z, &operative, &humidity),
        }
    }

    /// One zone's column of the trace.
    fn column(&self, of: impl Fn(&kernel::result::Trace) -> &Vec<f64>, zone: usize) -> Vec<f64> {
        let Some(trace) = &self.year.trace else { return vec![0.0; QUARTERS] };
        of(trace).iter().skip(zone).step_by(self.year.zones).copied().collect()
    }

    fn comfort(&self, operative: &[f64], humidity: &[f64]) -> Comfort {
        let points = &self.frame.building.set_points;
        let cool_below_c = self.heating_set_point_c() - 1.0;
        let extreme = |values: &[f64], better: fn(f64, f64) -> bool| {
            let mut best = 0;
            for (k, value) in values.iter().enumerate() {
                if better(*value, values[best]) {
                    best = k;
                }
            }
            (values.get(best).copied().unwrap_or(0.0), best / STEPS_PER_HOUR)
        };
        let (warmest_c, warmest_hour) = extreme(operative, |a, b| a > b);
        let (coolest_c, coolest_hour) = extreme(operative, |a, b| a < b);
        let (dampest_kg_kg, dampest_hour) = extreme(humidity, |a, b| a > b);
        Comfort {
            warm_above_c: self.r[points.warm_above],
            warm_hours: 0.0,
            cool_below_c,
            cool_hours: operative.iter().filter(|t| **t < cool_below_c).count() as f64 * STEP_H,
            humid_above_kg_kg: self.frame.humid_above_kg_kg,
            humid_hours: 0.0,
            warmest_c,
            warmest_hour,
            coolest_c,
            coolest_hour,
            dampest_kg_kg,
            dampest_hour,
        }
    }

    /// Share of the hours with people that are warm, zones weighted by floor area; all hours under standard use.
    fn occupied_warm_share(&self) -> f64 {
        let Some(trace) = &self.year.trace else { return 0.0 };
        let f = self.frame;
        let whole = f.net_floor_m2();
        let (mut warm, mut all) = (0.0, 0.0);
        for (step, _) in f.occupied_steps.iter().enumerate().filter(|(_, there)| **there) {
            all += 1.0;
            for (z, area) in f.zones.area_m2.iter().enumerate() {
                if trace.operative_c[step * self.year.zones + z] > f.options.warm_above_c {
                    warm += area / whole;
                }
            }
        }
        if all > 0.0 { warm / all } else { 0.0 }
    }

    pub fn heating_set_point_c(&self) -> f64 {
        match self.frame.use_case {
            Use::Standard => StandardUse::fitting(self.frame.building).heating_c,
            Use::Real => self.r[self.frame.building.set_points.heating],
        }
    }

    fn days(&self, z: usize, operative: &[f64], humidity: &[f64]) -> Vec<DayResult> {
        let power = self.column(|t| &t.power_w, z);
        let co2 = self.column(|t| &t.co2_ppm, z);
        let n = STEPS_A_DAY as f64;
        let most = |values: &[f64]| values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        (0..operative.len() / STEPS_A_DAY)
            .map(|day| {
                let steps = day * STEPS_A_DAY..(day + 1) * STEPS_A_DAY;
                let t = &operative[steps.clone()];
                DayResult {
                    lowest_c: t.iter().copied().fold(f64::INFINITY, f64::min),
                    mean_c: t.iter().sum::<f64>() / n,
                    highest_c: most(t),
                    mean_kg_kg: humidity[steps.clone()].iter().sum::<f64>() / n,
                    highest_co2_ppm: most(&co2[steps.clone()]),
                    heating_w: power[steps.clone()].iter().map(|p| p.max(0.0)).sum::<f64>() / n,
                    cooling_w: power[steps].iter().map(|p| (-p).max(0.0)).sum::<f64>() / n,
                }
            })
            .collect()
    }

    fn whole_months(&self, zones: &[ZoneResult]) -> Vec<MonthResult> {
        let area = self.frame.net_floor_m2();
        (0..12)
            .map(|month| {
                let mut whole = MonthResult::default();
                for zone in zones {
                    let (m, share) = (&zone.months[month], zone.area_m2 / area);
                    whole.demand.add(&m.demand);
                    whole.balance.add(&m.balance);
                    whole.balance.join_zones();
                    whole.mean_operative_c += share * m.mean_operative_c;
                    whole.mean_kg_kg += share * m.mean_kg_kg;
                    whole.warm_hours += share * m.warm_hours;
                    whole.humid_hours += share * m.humid_hours;
                }
                whole
            })
            .collect()
    }

    fn whole_comfort(&self, zones: &[ZoneResult]) -> Comfort {
        let area = self.frame.net_floor_m2();
        let mean = |of: fn(&kernel::result::Trace) -> &Vec<f64>| -> Vec<f64> {
            let mut sum = vec![0.0; QUARTERS];
            for (z, zone) in zones.iter().enumerate() {
                for (to, from) in sum.iter_mut().zip(self.column(of, z)) {
                    *to += from * zone.area_m2 / area;
                }
            }
            sum
        };
        let (operative, humidity) = (mean(|t| &t.operative_c), mean(|t| &t.kg_kg));
        let weighted = |of: fn(&Comfort) -> f64| -> f64 {
            zones.iter().map(|zone| of(&zone.comfort) * zone.area_m2 / area).sum()
        };
        Comfort {
            warm_hours: weighted(|c| c.warm_hours),
            humid_hours: weighted(|c| c.humid_hours),
            cool_hours: weighted(|c| c.cool_hours),
            ..self.comfort(&operative, &humidity)
        }
    }

    fn peaks(&self) -> Peaks {
        let [heating, cooling] = self.peaks.hourly;
        let [heating_day, cooling_day] = self.peaks.daily;
        let load = |hour: usize, over_h: usize, cause: Cause| {
            let balance = self.balance_between(hour, hour + over_h);
            PeakLoad {
                power_w: balance.get(cause).abs() / (3600.0 * over_h as f64),
                hour,
                over_h,
                outdoor: self.outdoor(hour, over_h),
                balance,
            }
        };
        Peaks {
            heating: load(heating, 1, Cause::Heating),
            cooling: load(cooling, 1, Cause::Cooling),
            heating_day: load(heating_day, 24, Cause::Heating),
            cooling_day: load(cooling_day, 24, Cause::Cooling),
        }
    }

    /// Balance of the whole over the periods that lie between two hours.
    fn balance_between(&self, from: usize, to: usize) -> Balance {
        let mut sum = Balance::default();
        let mut start = 0;
        for (bin, end) in self.drivers.bin_ends.iter().enumerate() {
            if start >= from && *end <= to {
                for z in 0..self.year.zones {
                    sum.add(&balance_at_faces(&self.year.balances[bin * self.year.zones + z]));
                }
            }
            start = *end;
        }
        sum.join_zones();
        sum
    }

    fn outdoor(&self, hour: usize, over_h: usize) -> OutdoorState {
        let climate = self.frame.climate;
        let mut out = OutdoorState::default();
        for h in hour..hour + over_h {
            let state = climate.state_at(h as f64 + 0.5);
            let share = 1.0 / over_h as f64;
            out.temperature_c += share * state.dry_bulb_c;
            out.humidity_kg_kg += share * state.humidity_ratio;
            out.wind_m_s += share * state.wind_speed_m_s;
            out.global_w_m2 += share * climate.hours[h % HOURS].global_w_m2;
        }
        out
    }

    fn notes(&self) -> Vec<String> {
        let f = self.frame;
        let b = f.building;
        let mut notes = Vec::new();
        if f.use_case == Use::Standard {
            notes.push(format!("Standard use: {}.", StandardUse::fitting(b).source));
            notes.push("Standard use runs the ventilation at the book's yearly mean flow.".to_owned());
        }
        if f.surfaces.unstated_m > 0.0 {
            notes.push(format!(
                "{:.0} m of joints have no stated extra loss: their elements count by outside dimensions there, until a detail is worked out.",
                f.surfaces.unstated_m
            ));
        }
        if b.ventilation.iter().any(|unit| unit.demand.is_some()) {
            notes.push(
                "Demand control of the ventilation is not followed hour by hour; the schedule is.".to_owned(),
            );
        }
        if !PlantThere::of(b).cools {
            notes.push(
                "No plant cools or dries: summers run free, with windows opened above 24 °C.".to_owned(),
            );
        }
        if b.airtightness.party.is_none() && !b.neighbours.is_empty() {
            notes.push("No leak to neighbours is stated: none is counted.".to_owned());
        }
        for neighbour in b.neighbours.iter().filter(|n| n.pressure.is_none()) {
            notes.push(format!(
                "{}: no pressure is stated; it is taken to be at ours, and no air is exchanged with it.",
                neighbour.name
            ));
        }
        notes.push(
            "Demands are those of an ideal plant: no limit of capacity, heat and cold reach the air at once."
                .to_owned(),
        );
        if b.plant.iter().any(|p| !p.points.is_empty()) {
            notes.push(
                "Heads meet each hour's demand by a law fitted to their rated points; what they cannot give counts as resistance heat.".to_owned(),
            );
        }
        notes
    }
}

/// Sizes by every counting rule, the certification-style one first.
fn counted(building: &Building) -> Vec<Counted> {
    let first = counting::certification_style();
    let others = counting::rules().iter().filter(|rule| rule.id != first.id);
    std::iter::once(first)
        .chain(others)
        .map(|rule| {
            let count = counting::count(building, rule);
            Counted {
                rule: rule.id.clone(),
                floor_area_m2: count.floor_area_m2,
                volume_m3: count.volume_m3,
                enclosure_m2: count.enclosure_m2,
            }
        })
        .collect()
}

/// Greatest heat that does not close, over zones and periods, over their gross flow.
fn closure(year: &KernelYear) -> f64 {
    let open = |b: &ZoneBalance| b.heat_residual_j().abs() / b.gross_heat_j().max(1.0);
    year.balances.iter().map(open).fold(0.0, f64::max)
}
