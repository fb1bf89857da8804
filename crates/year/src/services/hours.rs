//! Every hour's demand met by the heads, and what else takes electricity, to months that close.

use building::calendar::{Profile, QUARTERS};
use building::model::Ventilation;
use building::plan::FrostKind;
use building::{Building, Resolved, ValueKey};
use climate::{Climate, HOURS};
use matter::moist_air;
use plant::heat_pump::{HeatPump, Running};
use plant::primary::{self, Flow};
use plant::solar::Array;
use plant::storage::Battery;
use plant::tariff::Tariff;

use super::machines::{Head, shares};
use super::results::{Cost, EnergyMonth, EnergyYear, FrostYear, HeadYear, Weighting};
use super::water::WaterHours;
use crate::assemble::Frame;
use crate::error::YearError;
use crate::kernel::input::MONTH_ENDS_H;
use crate::kernel::result::Trace;
use crate::result::EndUse;
use crate::tell::ELECTRICITY_PRIMARY;

/// Temperature at which drying condenses, °C, as in the demand.
const DRYING_AT_C: f64 = 12.0;
/// Sensible share of a coil run slowly for drying. Common practice, no source.
const DRYING_SENSIBLE: f64 = 0.5;
/// Outdoor air below which plates without moisture recovery freeze, °C. Common practice, no source.
pub const FROST_BELOW_C: f64 = -4.0;

/// What an account is made from.
pub struct Account<'a, 'f> {
    /// Building and climate in zones.
    pub frame: &'a Frame<'f>,
    /// The told run.
    pub trace: &'a Trace,
    /// Numbers.
    pub r: &'a Resolved,
    /// Heads in force.
    pub heads: &'a [Head],
    /// The water heater.
    pub water: Option<&'a WaterHours>,
}

/// Demand of an hour by head.
#[derive(Clone, Copy, Debug, Default)]
struct Asked {
    heat_w: f64,
    sensible_w: f64,
    latent_w: f64,
}

impl Account<'_, '_> {
    /// Works the year out.
    ///
    /// # Errors
    /// [`YearError::Missing`] when solar or battery figures make no machine.
    pub fn year(&self) -> Result<EnergyYear, YearError> {
        let (building, climate) = (self.frame.building, self.frame.climate);
        let asked = self.asked();
        let equipment = equipment_w(building, self.r);
        let fans = fans_w(building, self.r);
        let (frost_w, frost) = frost(building, climate, self.r);
        let solar = solar_w(building, climate, self.r)?;
        let mut battery = battery(building, self.r)?;
        let tariff = tariff(building, self.r);
        let at_start = battery.kept_j;
        let mut heads: Vec<HeadYear> = self
            .heads
            .iter()
            .map(|h| HeadYear { name: h.name.clone(), figures: h.figures.clone(), ..HeadYear::default() })
            .collect();
        let mut months = vec![EnergyMonth::default(); 12];
        let (mut month, mut residual) = (0, 0.0f64);
        for hour in 0..HOURS {
            if hour >= MONTH_ENDS_H[month] {
                month += 1;
            }
            let out_c = climate.state_at(hour as f64 + 0.5).dry_bulb_c;
            let mut m = EnergyMonth {
                fans_j: 3600.0 * fans[hour],
                equipment_j: 3600.0 * equipment[hour],
                hot_water_j: 3600.0 * self.water.map_or(0.0, |w| w.electricity_w[hour]),
                solar_j: 3600.0 * solar[hour],
                ..EnergyMonth::default()
            };
            self.heads(hour, out_c, &asked, frost_w[hour], &mut m, &mut heads);
            let electric = m.used_j() - m.fuel_j;
            let meter = battery.step(m.solar_j, electric, 3600.0);
            m.bought_j = meter.bought_j;
            m.sold_j = meter.sold_j;
            m.battery_lost_j = meter.lost_j;
            let open = m.solar_j + m.bought_j - electric - m.sold_j - meter.lost_j - meter.stored_j;
            residual = residual.max(open.abs());
            m.cost = tariff.as_ref().map_or(0.0, |(t, _)| t.cost(hour, m.bought_j, m.sold_j));
            months[month].add(&m);
        }
        let cost = tariff.map(|(t, currency)| Cost {
            year: months.iter().map(|m| m.cost).sum::<f64>() + 12.0 * t.standing_per_month,
            currency,
        });
        let mut out = EnergyYear {
            months,
            heads,
            water: self.water.map(|w| w.year.clone()).unwrap_or_default(),
            frost,
            weighting: Weighting::default(),
            cost,
            battery_stored_j: battery.kept_j - at_start,
            residual_j: residual,
        };
        out.weighting = weighting(building, &out.year());
        Ok(out)
    }

    /// Each hour's demand by head, from the told steps.
    fn asked(&self) -> Vec<Asked> {
        let zones = self.frame.zones.count();
        let steps = self.frame.drivers.steps_per_hour;
        let of_space = &self.frame.zones.of_space;
        let capacity = |pump: &Option<HeatPump>| pump.as_ref().map_or(0.0, |m| m.capacity_w(7.0, 20.0, 1.0));
        let cold = |pump: &Option<HeatPump>| pump.as_ref().map_or(0.0, |m| m.capacity_w(35.0, 27.0, 0.75));
        let warm_shares = shares(self.heads, of_space, zones, |h| capacity(&h.heating));
        let cold_shares = shares(self.heads, of_space, zones, |h| cold(&h.cooling));
        let evaporation = moist_air::evaporation_heat(DRYING_AT_C);
        let n = self.heads.len().max(1);
        let mut out = vec![Asked::default(); HOURS * n];
        for step in 0..HOURS * steps {
            let row = step / steps * n;
            for z in 0..zones {
                let power = self.trace.power_w[step * zones + z] / steps as f64;
                let drying = self.trace.drying_kg_s.get(step * zones + z).copied().unwrap_or(0.0).max(0.0);
                if power > 0.0 {
                    // Without any heating head the demand is kept under the first place and met by resistance.
                    if warm_shares[z].is_empty() {
                        out[row].heat_w += power;
                    }
                    for (head, share) in &warm_shares[z] {
                        out[row + head].heat_w += share * power;
                    }
                }
                for (head, share) in &cold_shares[z] {
                    out[row + head].sensible_w += share * (-power).max(0.0);
                    out[row + head].latent_w += share * drying * evaporation / steps as f64;
                }
            }
        }
        out
    }

    fn heads(
        &self,
        hour: usize,
        out_c: f64,
        asked: &[Asked],
        frost: FrostHour,
        m: &mut EnergyMonth,
        years: &mut [HeadYear],
    ) {
        let points = &self.frame.building.set_points;
        let (warm_c, cool_c) = (self.r[points.heating], self.r[points.cooling]);
        let n = self.heads.len().max(1);
        let row = &asked[hour * n..(hour + 1) * n];
        let all_heat: f64 = row.iter().map(|a| a.heat_w).sum();
        // Part of the preheater's heat comes through the exchanger into the rooms and spares the heads as much.
        let spared = (frost.to_rooms_w / all_heat.max(1e-9)).min(1.0);
        m.heating_j += 3600.0 * frost.preheat_w;
        if self.heads.is_empty() {
            m.heating_j += 3600.0 * all_heat * (1.0 - spared);
            return;
        }
        for ((head, ask), year) in self.heads.iter().zip(row).zip(years.iter_mut()) {
            let heat_w = ask.heat_w * (1.0 - spared);
            match &head.heating {
                Some(pump) => {
                    let run = pump.meet(heat_w, out_c, warm_c, 1.0);
                    let resistance_w = run.backup_w + run.unmet_w;
                    year.heat_j += 3600.0 * run.heat_w;
                    year.heating_j += 3600.0 * run.power_w;
                    year.backup_j += 3600.0 * resistance_w;
                    m.heating_j += 3600.0 * (run.power_w + resistance_w);
                    m.fuel_j += if head.fuel { 3600.0 * run.power_w } else { 0.0 };
                    count(&run, year);
                }
                None => m.heating_j += 3600.0 * heat_w,
            }
            let Some(pump) = &head.cooling else { continue };
            if ask.sensible_w + ask.latent_w <= 0.0 {
                continue;
            }
            let least_sensible = ask.latent_w * DRYING_SENSIBLE / (1.0 - DRYING_SENSIBLE);
            let over_w = (least_sensible - ask.sensible_w).max(0.0);
            let sensible = ask.sensible_w + over_w;
            let load = sensible + ask.latent_w;
            let run = pump.meet(load, out_c, cool_c, sensible / load);
            let ratio = if run.heat_w > 0.0 { run.heat_w / run.power_w } else { 1.0 };
            // What it cannot give counts at its own ratio: another machine of its kind.
            let more_w = (run.backup_w + run.unmet_w) / ratio;
            year.cold_j += 3600.0 * run.heat_w;
            year.cooling_j += 3600.0 * (run.power_w + more_w);
            year.overcooled_j += 3600.0 * over_w;
            m.cooling_j += 3600.0 * (run.power_w + more_w);
            count(&run, year);
        }
    }
}

fn count(run: &Running, year: &mut HeadYear) {
    year.short_h += f64::from(u8::from(run.unmet_w > 1.0));
    year.running_h += run.on_share;
    year.cycling_h += f64::from(u8::from(run.on_share > 0.0 && run.on_share < 1.0));
}

/// Returns light and plugs by the hour, W.
pub fn equipment_w(building: &Building, r: &Resolved) -> Vec<f64> {
    let mut out = vec![0.0; HOURS];
    let at = |p: &Profile<ValueKey>, q: usize| -> Option<ValueKey> {
        let level = p.index.get(q).copied().unwrap_or(0);
        usize::from(level).checked_sub(1).and_then(|i| p.levels.get(i)).copied()
    };
    for u in &building.uses {
        let area: f64 = u.spaces.iter().map(|s| building.spaces[s.0].area_m2).sum();
        for q in 0..QUARTERS {
            let density = at(&u.power_density, q).or(u.standby).map_or(0.0, |key| r[key] * area);
            let power = at(&u.power, q).map_or(0.0, |key| r[key]);
            out[q / 4] += 0.25 * (density + power);
        }
    }
    for g in &building.gatherings {
        let Some(key) = g.power_density else { continue };
        let power = r[key] * building.spaces[g.space.0].area_m2;
        for day in &g.days {
            for q in g.quarters_of_day(*day).filter(|q| *q < QUARTERS) {
                out[q / 4] += 0.25 * power;
            }
        }
    }
    out
}

/// Returns the fans' power by the hour, W.
pub fn fans_w(building: &Building, r: &Resolved) -> Vec<f64> {
    let mut out = vec![0.0; HOURS];
    for unit in &building.ventilation {
        // Wh/m³ times m³/h is W.
        let powers: Vec<f64> = unit.modes.iter().map(|m| r[m.power] * 3600.0 * r[m.supply]).collect();
        for (q, mode) in unit.running.iter().enumerate().take(QUARTERS) {
            out[q / 4] += 0.25 * powers.get(usize::from(*mode)).copied().unwrap_or(0.0);
        }
    }
    out
}

/// Frost protection in an hour.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct FrostHour {
    preheat_w: f64,
    to_rooms_w: f64,
}

fn frost(building: &Building, climate: &Climate, r: &Resolved) -> (Vec<FrostHour>, FrostYear) {
    let mut hours = vec![FrostHour::default(); HOURS];
    let mut year =
        FrostYear { stated: building.ventilation.iter().all(|u| u.frost.is_some()), ..FrostYear::default() };
    for (hour, row) in hours.iter_mut().enumerate() {
        let out = climate.state_at(hour as f64 + 0.5);
        let mut cold = false;
        for unit in &building.ventilation {
            cold |= frost_of(unit, hour, out.dry_bulb_c, out.pressure_pa, r, row, &mut year);
        }
        year.hours += f64::from(u8::from(cold));
    }
    (hours, year)
}

fn frost_of(
    unit: &Ventilation,
    hour: usize,
    outdoor_c: f64,
    pressure_pa: f64,
    r: &Resolved,
    row: &mut FrostHour,
    year: &mut FrostYear,
) -> bool {
    let below = unit.frost.as_ref().map_or(FROST_BELOW_C, |f| r[f.below]);
    let running = unit.running.get(4 * hour).map_or(0, |m| usize::from(*m));
    let Some(mode) = unit.modes.get(running) else { return false };
    let flow = r[mode.supply];
    if outdoor_c >= below || flow <= 0.0 {
        return false;
    }
    let heat = moist_air::density(20.0, 0.006, pressure_pa) * moist_air::specific_heat(0.006) * flow;
    let lack_k = below - outdoor_c;
    match unit.frost.as_ref().map(|f| f.kind) {
        Some(FrostKind::Preheat) => {
            row.preheat_w += heat * lack_k;
            row.to_rooms_w += heat * lack_k * (1.0 - r[mode.temperature_recovery].clamp(0.0, 1.0));
            year.preheat_j += 3600.0 * heat * lack_k;
        }
        Some(FrostKind::Recirculate) => {
            // Extract air near 20 °C mixed in up to the limit.
            year.lost_air_m3 += 3600.0 * flow * (lack_k / (20.0 - outdoor_c)).clamp(0.0, 1.0);
        }
        Some(FrostKind::ReduceSupply) => {
            // The exhaust keeps above freezing as if the outdoor air were at the limit: supply in that proportion.
            year.lost_air_m3 += 3600.0 * flow * (lack_k / (20.0 - outdoor_c)).clamp(0.0, 1.0);
        }
        None => {}
    }
    true
}

fn refuse(item: &str, why: &plant::PlantError) -> YearError {
    YearError::Missing { item: item.to_owned(), why: why.to_string() }
}

/// Solar electricity by the hour, W.
fn solar_w(building: &Building, climate: &Climate, r: &Resolved) -> Result<Vec<f64>, YearError> {
    let mut out = vec![0.0; HOURS];
    let arrays = &building.electricity.solar;
    if arrays.is_empty() {
        return Ok(out);
    }
    let planes: Vec<climate::tilted::Plane> = arrays
        .iter()
        .map(|a| climate::tilted::Plane { tilt_deg: r[a.tilt], azimuth_deg: r[a.azimuth] })
        .collect();
    let sun = climate::tilted::year(climate, &planes, 1);
    for (plan, plane) in arrays.iter().zip(&sun.planes) {
        let array = Array::of_peak(r[plan.peak]).map_err(|e| refuse(&format!("solar.{}", plan.name), &e))?;
        for (hour, made) in out.iter_mut().enumerate() {
            let state = climate.state_at(hour as f64 + 0.5);
            let diffuse = plane.sky_w_m2[hour] + plane.ground_w_m2[hour];
            let power = array.ac_w(
                plane.beam_w_m2[hour],
                plane.cos_incidence[hour],
                diffuse,
                state.dry_bulb_c,
                state.wind_speed_m_s,
            );
            *made += power.max(0.0);
        }
    }
    Ok(out)
}

fn battery(building: &Building, r: &Resolved) -> Result<Battery, YearError> {
    let Some(plan) = &building.electricity.battery else { return Ok(Battery::NONE) };
    Battery::new(r[plan.capacity], r[plan.power], plan.efficiency.map_or(0.9, |key| r[key]))
        .map_err(|e| refuse("battery", &e))
}

/// Returns the book's tariff with its currency; `None` when it states no price.
pub fn tariff(building: &Building, r: &Resolved) -> Option<(Tariff, String)> {
    let plan = building.electricity.tariff.as_ref()?;
    let mut tariff = Tariff::even(r[plan.price], HOURS);
    for band in &plan.bands {
        let held = building.calendar.quarters(&band.when, true);
        tariff.over(held.chunks(4).map(|hour| hour.iter().any(|h| *h)), r[band.price]);
    }
    tariff.sold_per_kwh = plan.sold.map_or(0.0, |key| r[key]);
    tariff.standing_per_month = plan.standing.map_or(0.0, |key| r[key]);
    Some((tariff, plan.currency.clone()))
}

/// Factor that holds for electricity where primary energy is not renewable: the book's own, else older common practice.
pub fn electricity_factor(building: &Building, r: &Resolved) -> f64 {
    let stated = building.plant.iter().find_map(|p| p.primary_factor).map(|key| r[key]);
    stated.unwrap_or(ELECTRICITY_PRIMARY)
}

/// Returns the factor of a wholly renewable supply for an end use.
pub fn renewable_supply(end_use: EndUse) -> f64 {
    let name = if end_use == EndUse::Cooling { "cooling" } else { end_use.word() };
    let name = if end_use == EndUse::Fans { "fans" } else { name };
    primary::renewable_supply(name).unwrap_or(1.0)
}

fn weighting(building: &Building, year: &EnergyMonth) -> Weighting {
    let set = building.electricity.factors.as_deref().unwrap_or("ISO 52000-1");
    let of = |carrier: &str| {
        let row = primary::find(set, carrier).or_else(|| primary::find("ISO 52000-1", carrier));
        row.map(|f| {
            (
                f.not_renewable.or(f.total).unwrap_or(0.0),
                f.renewable.unwrap_or(0.0),
                f.co2_g_kwh.unwrap_or(0.0),
            )
        })
    };
    let flow = |energy: f64, carrier: &str| {
        let (not_renewable, renewable, co2_g_kwh) = of(carrier).unwrap_or_default();
        Flow { energy, not_renewable, renewable, co2_g_kwh }
    };
    let own = year.solar_j - year.sold_j;
    let weighted = primary::weigh(
        &[
            flow(year.bought_j, "electricity grid"),
            flow(own, "solar PV or thermal on site"),
            flow(year.fuel_j, "fuel gaseous fossil"),
        ],
        &[],
        0.0,
    );
    // What the sun gives is taken off every use alike.
    let electric = year.used_j() - year.fuel_j;
    let bought_share = if electric > 0.0 { year.bought_j / electric } else { 0.0 };
    let by_use = [
        (EndUse::Heating, year.heating_j - year.fuel_j),
        (EndUse::Cooling, year.cooling_j),
        (EndUse::Fans, year.fans_j),
        (EndUse::HotWater, year.hot_water_j),
        (EndUse::Equipment, year.equipment_j),
    ];
    let renewable_supply_j =
        bought_share * by_use.iter().map(|(end_use, j)| renewable_supply(*end_use) * j).sum::<f64>();
    let source = primary::find(set, "electricity grid")
        .map_or_else(|| "ISO 52000-1:2017 Annex B default".to_owned(), |f| f.source.clone());
    Weighting {
        source,
        not_renewable_j: weighted.not_renewable,
        renewable_j: weighted.renewable,
        co2_kg: weighted.co2 / plant::J_PER_KWH / 1000.0,
        renewable_supply_j,
    }
}
