//! The result of each kind of row, by the count the row names, with the others beside.

use building::limits::{Limit, LimitResult, Method, Normalisation};
use building::model::{Beyond, Ventilation};
use building::{Building, counting};
use climate::HOURS;
use fabric::surface;

use super::causes::{self, Side};
use super::{Beside, Found, Judge, Shown};
use crate::assemble::PlantThere;
use crate::result::YearResult;
use crate::services::hours::renewable_supply;
use crate::tell::{ELECTRICITY_PRIMARY, required_outdoor_air};

fn beside(count: impl Into<String>, value: f64) -> Beside {
    Beside { count: count.into(), value }
}

fn not_known(how: impl Into<String>) -> Found {
    Found { how: how.into(), ..Found::default() }
}

/// Crowds, said beside every finding about rooms full of people.
const CROWD_CAUTION: &str =
    "How many may be in the room is for the code official (egress, floor, fire), not for this tool.";
/// Joints and corners, said beside surface temperatures.
const MOULD_CAUTION: &str = "Corners, joints, furniture and damp rooms were not looked at; mould follows the coldest and dampest spot.";

/// Sum over units and modes of hours times something.
pub(super) fn over_modes(
    building: &Building,
    of: impl Fn(&Ventilation, &building::model::Mode) -> f64,
) -> f64 {
    let mut sum = 0.0;
    for unit in &building.ventilation {
        let mut quarters = vec![0u32; unit.modes.len()];
        for running in &unit.running {
            if let Some(count) = quarters.get_mut(usize::from(*running)) {
                *count += 1;
            }
        }
        let modes = unit.modes.iter().zip(&quarters);
        sum += modes.map(|(mode, count)| f64::from(*count) * of(unit, mode)).sum::<f64>();
    }
    sum
}

impl Judge<'_> {
    pub(super) fn find(&self, limit: &Limit) -> Found {
        match limit.result {
            LimitResult::HeatingDemand => self.per_area(
                limit,
                "useful heat of a year",
                |year, monthly| if monthly { year.monthly.heating_j } else { year.demand.heating_j },
                |year| causes::over_months(year, Side::Losses, |m| m.demand.heating_j, &[]),
            ),
            LimitResult::CoolingDemand => self.per_area(
                limit,
                "sensible cold and drying of a year, drying by the hourly balance",
                |year, monthly| {
                    let sensible = if monthly {
                        year.monthly.cooling_sensible_j
                    } else {
                        year.demand.cooling_sensible_j
                    };
                    sensible + year.demand.drying_j
                },
                |year| {
                    let drying = [("drying", year.demand.drying_j)];
                    causes::over_months(year, Side::Gains, |m| m.demand.cooling_sensible_j, &drying)
                },
            ),
            LimitResult::HeatingLoad => {
                let mut found = self.per_area(
                    limit,
                    "larger mean heating power of the coldest clear and the coldest overcast day, in the year as it runs",
                    |year, _| year.design_heating_load_w,
                    |year| causes::of_balance(&year.peaks.heating_day.balance, Side::Losses),
                );
                let area = self.count(&limit.rule).floor_area_m2;
                let (year, ..) = self.year_of(limit.use_case);
                found.beside.push(beside("greatest day of the year", year.peaks.heating_day.power_w / area));
                found.beside.push(beside("greatest hour of the year", year.peaks.heating.power_w / area));
                found
            }
            LimitResult::CoolingLoad => self.per_area(
                limit,
                "greatest daily mean of sensible cooling power",
                |year, _| year.peaks.cooling_day.power_w,
                |year| causes::of_balance(&year.peaks.cooling_day.balance, Side::Gains),
            ),
            LimitResult::PrimaryEnergy => self.primary(limit),
            LimitResult::RenewablePrimaryEnergy => self.renewable_primary(limit),
            LimitResult::AirChange50 => self.air_change(limit),
            LimitResult::AirPermeability50 => self.air_permeability(limit),
            LimitResult::WarmHours => self.hours(limit, true),
            LimitResult::HumidHours => self.hours(limit, false),
            LimitResult::SurfaceTemperatureFactor => self.surface(),
            LimitResult::RecoveryRatio => self.recovery(),
            LimitResult::FanPower => self.fan_power(),
            LimitResult::FlowImbalance => self.imbalance(),
            LimitResult::OutdoorAirRate => self.outdoor_air(),
        }
    }

    /// A result of the year over the reference floor area, with other rules, uses and methods beside.
    fn per_area(
        &self,
        limit: &Limit,
        what: &str,
        of: impl Fn(&YearResult, bool) -> f64,
        causes: impl Fn(&YearResult) -> Vec<super::CauseShare>,
    ) -> Found {
        let monthly = limit.method == Method::Monthly;
        let (year, other, other_use) = self.year_of(limit.use_case);
        let area = self.count(&limit.rule).floor_area_m2;
        let total = of(year, monthly);
        let value = total / area;
        let mut found = Found {
            value: Some(value),
            how: format!(
                "{what}; {} use, {} method, {} floor area",
                year.use_case.word(),
                if monthly { "monthly" } else { "hourly" },
                if limit.rule.is_empty() { "certification-style" } else { &limit.rule }
            ),
            causes: causes(year),
            ..Found::default()
        };
        if of(year, true) != of(year, false) {
            let name = if monthly { "hourly method" } else { "monthly method" };
            found.beside.push(beside(name, of(year, !monthly) / area));
        }
        found.beside.push(beside(other_use, of(other, monthly) / area));
        for rule in counting::rules().iter().filter(|rule| rule.id != limit.rule) {
            let other_area = counting::count(self.building, rule).floor_area_m2;
            if (other_area - area).abs() > 1e-6 {
                found.beside.push(beside(format!("floor area by {}", rule.name), total / other_area));
            }
        }
        let (symbol, unit, per) = match limit.result {
            LimitResult::HeatingLoad | LimitResult::CoolingLoad => ("Φ", "W", "W/m²"),
            _ => ("Q", "J", "J/m²"),
        };
        let clause = if monthly { "EN ISO 52016-1 6.6" } else { "" };
        found.working.step(symbol, what, total, unit, clause);
        found.working.step("A", "reference floor area", area, "m²", "");
        found.working.step("q", "per reference floor area", value, per, "");
        found
    }

    fn primary(&self, limit: &Limit) -> Found {
        let mut found = self.per_area(
            limit,
            "primary energy of all delivered energy, yearly factors",
            |year, _| year.energy.primary_j,
            |year| causes::of_energy(&year.energy),
        );
        let (year, ..) = self.year_of(limit.use_case);
        for row in &year.energy.end_uses {
            found.working.step(
                "E",
                format!("{}, delivered ({})", row.end_use.word(), row.factor_source),
                row.delivered_j,
                "J",
                "",
            );
        }
        let stated = self.building.plant.iter().any(|p| p.primary_factor.is_some());
        if !stated {
            found.cautions.push(format!(
                "No primary energy factor is stated: {ELECTRICITY_PRIMARY} for electricity is older common practice, from memory."
            ));
        }
        found
    }

    fn renewable_primary(&self, limit: &Limit) -> Found {
        let mut found = self.per_area(
            limit,
            "electricity of a year weighted for a wholly renewable supply, end use by end use",
            |year, _| year.machines.weighting.renewable_supply_j,
            |year| causes::of_energy(&year.energy),
        );
        let (year, ..) = self.year_of(limit.use_case);
        for row in &year.energy.end_uses {
            found.working.step("E", format!("{}, delivered", row.end_use.word()), row.delivered_j, "J", "");
            found.working.step("f", "weight of it", renewable_supply(row.end_use), "", "from memory");
        }
        found.cautions.push(
            "The weights of a renewable supply are common practice for temperate climates, from memory; your certifying body's own depend on the place.".to_owned(),
        );
        found
    }

    /// Leak at the reference pressure, m³/h, and its words.
    fn leak(&self) -> (f64, String) {
        if let Some(Shown { value, source }) = &self.known.leak_m3_h {
            return (*value, source.clone());
        }
        let volume = counting::count(self.building, counting::certification_style()).volume_m3;
        let stated = self.r[self.building.airtightness.expected];
        (stated * volume, "stated in the book, until a reading says better".to_owned())
    }

    fn air_change(&self, limit: &Limit) -> Found {
        let (leak, words) = self.leak();
        let volume = self.count(&limit.rule).volume_m3;
        let mut found = Found {
            value: Some(leak / volume),
            how: format!("leak {words}, over the {} volume", limit.rule),
            ..Found::default()
        };
        for rule in counting::rules().iter().filter(|rule| rule.id != limit.rule) {
            let other = counting::count(self.building, rule).volume_m3;
            if (other - volume).abs() > 1e-6 {
                found.beside.push(beside(format!("volume by {}", rule.name), leak / other));
            }
        }
        if self.known.leak_m3_h.is_some() {
            found.beside.push(beside("as stated in the book", self.r[self.building.airtightness.expected]));
        }
        let w = &mut found.working;
        w.step("q", "leak at the reference pressure", leak, "m³/h", "ISO 9972 6.3");
        w.step("V", "counted volume", volume, "m³", "");
        w.step("n", "air change at the reference pressure", leak / volume, "1/h", "ISO 9972 6.3");
        found
    }

    fn air_permeability(&self, limit: &Limit) -> Found {
        let (leak, words) = self.leak();
        let count = self.count(&limit.rule);
        let mut found = Found {
            value: Some(leak / count.enclosure_m2),
            how: format!("leak {words}, over the enclosure of {:.0} m²", count.enclosure_m2),
            ..Found::default()
        };
        found.beside.push(beside("without party surfaces", leak / (count.enclosure_m2 - count.party_m2)));
        found.working.step("q", "leak at the reference pressure", leak, "m³/h", "ISO 9972 6.3");
        found.working.step("A_E", "enclosure", count.enclosure_m2, "m²", "ISO 9972 6.1.2");
        found
    }

    /// Warm or humid hours as a share.
    fn hours(&self, limit: &Limit, warm: bool) -> Found {
        let there = PlantThere::of(self.building);
        let treated = if warm { there.cools } else { there.dries };
        let (year, other, other_use) = self.year_of(limit.use_case);
        let all = HOURS as f64;
        let share = |year: &YearResult| {
            if warm && limit.normalisation == Normalisation::OccupiedHours {
                return year.occupied_warm_share;
            }
            (if warm { year.comfort.warm_hours } else { year.comfort.humid_hours }) / all
        };
        let what = match (warm, treated) {
            (true, true) => "hourly balance with unlimited cooling at its set point",
            (true, false) => "hourly balance, no cooling plant",
            (false, true) => "hourly balance with unlimited drying at its set point",
            (false, false) => "hourly balance, nothing dries",
        };
        let over = match limit.normalisation {
            Normalisation::OccupiedHours => "hours with people",
            _ => "all hours",
        };
        let mut found = Found {
            value: Some(share(year)),
            how: format!("{what}; share of {over}, zones weighted by floor area"),
            ..Found::default()
        };
        found.beside.push(beside(other_use, share(other)));
        if let Some(free) = &year.uncooled {
            let hours = if warm { free.warm_hours } else { free.humid_hours };
            found.beside.push(beside("without cooling and drying", hours / all));
        }
        if warm && limit.normalisation != Normalisation::OccupiedHours {
            found.beside.push(beside("of hours with people", year.occupied_warm_share));
        }
        let weight = |m: &crate::result::MonthResult| if warm { m.warm_hours } else { m.humid_hours };
        if warm {
            found.causes = causes::over_months(year, Side::Gains, weight, &[]);
        }
        let hours = share(year) * all;
        found.working.step("h", if warm { "warm hours" } else { "humid hours" }, hours, "h", "");
        found.working.step("H", "hours of the year", all, "h", "");
        found
    }

    /// The plain part of outer elements bounds the factor from above; details may lie lower, so a pass is claimed only
    /// by a detail worked out.
    fn surface(&self) -> Found {
        let mut lowest: Option<(f64, String)> = None;
        let mut plain = Vec::new();
        for id in 0..self.building.assemblies.len() {
            let outer = |e: &&building::model::Element| e.assembly.0 == id && e.beyond == Beyond::Outside;
            if !self.building.elements.iter().any(|e| outer(&e)) {
                continue;
            }
            let name = &self.building.assemblies[id].name;
            let id = building::model::AssemblyId(id);
            let Ok(steady) = crate::assemble::transmittance(self.building, id, self.r) else { continue };
            // The conventional films of the transmittance are replaced by those for surface moisture.
            let own = steady.layers_m2k_w.iter().sum::<f64>();
            let factor = surface::plain_wall_factor(own, surface::RSI_OPAQUE, 0.04);
            if let Ok(factor) = factor {
                plain.push(beside(format!("plain part of {name}"), factor));
                if lowest.as_ref().is_none_or(|(low, _)| factor < *low) {
                    lowest = Some((factor, name.clone()));
                }
            }
        }
        let words = lowest.map_or(String::new(), |(factor, name)| {
            format!("; of the plain parts {name} is coldest with {factor:.2}")
        });
        let mut found = match &self.known.surface_factor {
            Some(shown) => Found {
                value: Some(shown.value),
                how: format!("lowest of the details worked out: {}{words}", shown.source),
                ..Found::default()
            },
            None => not_known(format!("corners and joints must be worked out as details first{words}")),
        };
        for row in &plain {
            found.working.step("f_Rsi", row.count.clone(), row.value, "", "EN ISO 13788 5.2");
        }
        found.beside = plain;
        found.cautions.push(MOULD_CAUTION.to_owned());
        found
    }

    fn over_modes(&self, of: impl Fn(&Ventilation, &building::model::Mode) -> f64) -> f64 {
        over_modes(self.building, of)
    }

    fn each_mode(&self, of: impl Fn(&building::model::Mode) -> f64) -> Vec<Beside> {
        let modes =
            self.building.ventilation.iter().flat_map(|unit| unit.modes.iter().map(move |m| (unit, m)));
        modes.map(|(unit, m)| beside(format!("{}, {}", unit.name, m.name), of(m))).collect()
    }

    fn recovery(&self) -> Found {
        let flow = self.over_modes(|_, m| self.r[m.supply]);
        if flow <= 0.0 {
            return not_known("no ventilation is stated");
        }
        let ratio = self.over_modes(|_, m| self.r[m.supply] * self.r[m.temperature_recovery]) / flow;
        let rated: Vec<String> = self
            .building
            .ventilation
            .iter()
            .map(|u| u.rating.as_ref().map_or("rating not stated".to_owned(), ToString::to_string))
            .collect();
        Found {
            value: Some(ratio),
            how: format!("stated ratios ({}), weighted by the air of the year", rated.join(", ")),
            beside: self.each_mode(|m| self.r[m.temperature_recovery]),
            ..Found::default()
        }
    }

    fn fan_power(&self) -> Found {
        let flow = self.over_modes(|_, m| self.r[m.supply]);
        if flow <= 0.0 {
            return not_known("no ventilation is stated");
        }
        let stated = self.over_modes(|_, m| self.r[m.supply] * self.r[m.power]) / flow;
        let mut beside_it = self.each_mode(|m| self.r[m.power]);
        match &self.known.fan_power_wh_m3 {
            Some(shown) => {
                beside_it.insert(0, beside("as stated", stated));
                Found {
                    value: Some(shown.value),
                    how: shown.source.clone(),
                    beside: beside_it,
                    ..Found::default()
                }
            }
            None => Found {
                value: Some(stated),
                how: "stated figures, weighted by the air of the year, until a reading says better"
                    .to_owned(),
                beside: beside_it,
                ..Found::default()
            },
        }
    }

    fn imbalance(&self) -> Found {
        let of = |m: &building::model::Mode| {
            let (supply, extract) = (self.r[m.supply], self.r[m.extract]);
            let larger = supply.max(extract);
            if larger > 0.0 { (supply - extract).abs() / larger } else { 0.0 }
        };
        let modes = self.each_mode(of);
        if let Some(shown) = &self.known.imbalance {
            return Found {
                value: Some(shown.value),
                how: shown.source.clone(),
                beside: modes,
                ..Found::default()
            };
        }
        let Some(worst) = modes.iter().max_by(|a, b| a.value.total_cmp(&b.value)) else {
            return not_known("no ventilation is stated");
        };
        Found {
            value: Some(worst.value),
            how: format!("stated flows, worst of {}; nothing read yet", worst.count),
            beside: modes.clone(),
            ..Found::default()
        }
    }

    /// Least outdoor air supplied over outdoor air required, over the gatherings; without any, the highest mode over
    /// what each use's most people need.
    fn outdoor_air(&self) -> Found {
        let year = self.years.real;
        let mut found = Found { cautions: vec![CROWD_CAUTION.to_owned()], ..Found::default() };
        for g in year.gatherings.iter().filter(|g| g.required_m3_s > 0.0) {
            let ratio = g.supply_m3_s / g.required_m3_s;
            found.beside.push(beside(format!("{}, {:.0} people in {}", g.label, g.people, g.space), ratio));
            if found.value.is_some_and(|least| least <= ratio) {
                continue;
            }
            found.value = Some(ratio);
            found.how = format!(
                "{}: air supplied to the room over the {} rate of ASHRAE 62.1 for {:.0} people and its floor; by the end CO2 shows about {:.0} ppm with the doors shut, with the required air it would show {:.0} ppm",
                g.label, g.required_rate, g.people, g.shut_peak_ppm, g.required_peak_ppm
            );
            found.working = fabric::working::Working::new();
            let w = &mut found.working;
            w.step("V̇_bz", "outdoor air required", 3600.0 * g.required_m3_s, "m³/h", "ASHRAE 62.1 6.2.1");
            w.step("V̇", "outdoor air supplied while it lasts", 3600.0 * g.supply_m3_s, "m³/h", "");
            w.step("C", "highest CO2, room shut, air as supplied", g.shut_peak_ppm, "ppm", "");
            w.step("C_req", "highest CO2, room shut, air as required", g.required_peak_ppm, "ppm", "");
            w.step("C_sim", "highest CO2 in the simulated zone", g.co2_peak_ppm, "ppm", "");
        }
        if found.value.is_none() {
            self.everyday_air(&mut found);
        }
        found
    }

    fn everyday_air(&self, found: &mut Found) {
        let b = self.building;
        let mut required = 0.0;
        for u in &b.uses {
            let most = u.peak.map_or_else(
                || u.people.levels.iter().map(|key| self.r[*key]).fold(0.0, f64::max),
                |key| self.r[key],
            );
            if most <= 0.0 {
                continue;
            }
            for (space, share) in u.spaces.iter().zip(&u.shares) {
                let room = &b.spaces[space.0];
                required += required_outdoor_air(room.kind, false, most * share, room.area_m2).0;
            }
        }
        let most: f64 = b
            .ventilation
            .iter()
            .map(|unit| unit.modes.iter().map(|m| self.r[m.supply]).fold(0.0, f64::max))
            .sum();
        if required <= 0.0 || most <= 0.0 {
            found.how = "no people or no ventilation are stated".to_owned();
            return;
        }
        found.value = Some(most / required);
        found.how =
            "highest mode over the ASHRAE 62.1 rates for the most people of each use and their rooms' floor"
                .to_owned();
    }
}
