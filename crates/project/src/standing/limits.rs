//! Limits held against what is known: the simulated years, the fan, the sheets, the readings.
//!
//! Each row of the limit set becomes one finding. A figure that nothing computed or read stays absent; the sentence
//! says what is missing. Where the result is known under another use, rule or method, it stands beside.

use super::Years;
use super::evidence::{REFERENCE_PA, Tightness, commissioned, tightness};
use super::types::{Cause, Comparison, CountedBeside, Finding, FindingKind, Outcome};
use super::words::{Words, capital};
use crate::check::Project;
use building::counting::{self, Count};
use building::limits::{self, Allowance, Join, Limit, LimitResult, UseCase};
use quantity::{Dimension, value_in};
use year::result::{Balance, YearResult};

const HOURS: f64 = 8760.0;

/// Everything a limit may look at.
pub(super) struct Known<'a> {
    project: &'a Project,
    years: &'a Years,
    pub(super) tightness: Option<Tightness>,
    counts: Vec<Count>,
    words: Words,
}

/// A result in its dimension's canonical unit.
struct Measured {
    value: Option<f64>,
    /// How the figure was found, where it is not the row's own method.
    method: Option<&'static str>,
    /// False: only assumed, so the limit is not judged by it.
    judged: bool,
    beside: Vec<(String, String, String, f64)>,
    causes: Vec<Cause>,
    /// Said after the figure, or instead of it.
    remark: String,
}

impl Measured {
    fn of(value: Option<f64>) -> Self {
        Self {
            value,
            method: None,
            judged: true,
            beside: Vec::new(),
            causes: Vec::new(),
            remark: String::new(),
        }
    }

    fn unknown(remark: &str) -> Self {
        Self { remark: remark.to_owned(), ..Self::of(None) }
    }
}

impl<'a> Known<'a> {
    pub(super) fn new(project: &'a Project, years: &'a Years) -> Self {
        let counts = counting::rules().iter().map(|rule| counting::count(&project.building, rule)).collect();
        let words = Words::of(&project.building);
        Self { project, years, tightness: tightness(project), counts, words }
    }

    /// Returns the counts by every rule.
    pub(super) fn counts(&self) -> &[Count] {
        &self.counts
    }

    /// Judges every row that applies, nearest to failing first.
    pub(super) fn findings(&self) -> Vec<Finding> {
        let Some(set) = &self.project.limits else { return Vec::new() };
        let class = self.project.building.site.climate_class.as_deref();
        let rows = set.for_climate(class).into_iter().filter(|row| self.applies(row));
        let mut all: Vec<Finding> = rows.map(|row| self.finding(row)).collect();
        // Of equals the order of the set stays.
        all.sort_by(|a, b| rank(a).cmp(&rank(b)).then(margin(a).total_cmp(&margin(b))));
        all
    }

    fn dropped(&self, id: &str) -> bool {
        self.project.building.limits.iter().any(|l| l.id == id && l.dropped)
    }

    /// Ventilation limits say nothing about a building without a unit.
    fn applies(&self, row: &Limit) -> bool {
        let of_unit = matches!(
            row.result,
            LimitResult::RecoveryRatio | LimitResult::FanPower | LimitResult::FlowImbalance
        );
        let no_unit = of_unit && self.project.building.ventilation.is_empty();
        !self.dropped(&row.id) && !no_unit
    }

    fn count(&self, rule: &str) -> Option<&Count> {
        let rule = if rule.is_empty() { counting::certification_style().id.as_str() } else { rule };
        self.counts.iter().find(|c| c.rule == rule)
    }

    fn year(&self, of: UseCase) -> Option<&YearResult> {
        match of {
            UseCase::Real => self.years.real.as_ref(),
            UseCase::Standard | UseCase::None => self.years.standard.as_ref(),
        }
    }

    fn finding(&self, row: &Limit) -> Finding {
        let measured = self.measure(row);
        let own = self.project.building.limits.iter().find(|l| l.id == row.id);
        let agreed = own.and_then(|l| l.value).map(|key| self.project.building.values.nominal_of(key));
        // The job's own figure stands as agreed, allowances included.
        let allowance =
            if agreed.is_none() && row.allowance == Allowance::Drying { self.drying() } else { 0.0 };
        let threshold = agreed.unwrap_or(row.value) + allowance;
        let unit = unit_of(row);
        let shown = |v: f64| in_unit(v, row, &unit);
        let mut f = Finding::new(format!("limit.{}", row.id), FindingKind::Limit, row.title.clone());
        f.r#use = if row.use_case == UseCase::None { String::new() } else { row.use_case.word().to_owned() };
        f.rule.clone_from(&row.rule);
        f.method = measured.method.unwrap_or(row.method.word()).to_owned();
        f.value = measured.value.map(shown);
        f.threshold = Some(shown(threshold));
        // A plain factor is shown as it is, not in per cent.
        f.dimension = if unit.is_empty() { String::new() } else { row.dimension.name().to_owned() };
        f.comparison = Some(comparison(row));
        f.status = status(row, measured.value.filter(|_| measured.judged), threshold);
        f.margin = measured.value.and_then(|v| room(row, v, threshold));
        f.beside = measured
            .beside
            .iter()
            .map(|(r#use, rule, method, value)| CountedBeside {
                r#use: r#use.clone(),
                rule: rule.clone(),
                method: method.clone(),
                value: shown(*value),
            })
            .collect();
        f.any_of =
            row.group.as_ref().filter(|g| g.join == Join::AnyOf).map(|g| g.name.clone()).unwrap_or_default();
        f.advisory = row.advisory;
        f.source = own.and_then(|l| l.source.clone()).unwrap_or_else(|| row.source.clone());
        f.stage = self.stage(row);
        f.sentence = self.sentence(row, &measured, threshold, allowance);
        f.causes = measured.causes;
        f.unit = unit;
        f
    }

    fn measure(&self, row: &Limit) -> Measured {
        match row.result {
            LimitResult::HeatingDemand => self.demand(row, |y| y.demand.heating_j, true),
            LimitResult::CoolingDemand => self.demand(row, |y| y.demand.cooling_j(), false),
            LimitResult::HeatingLoad => self.load(row, |y| &y.peaks.heating_day, true),
            LimitResult::CoolingLoad => self.load(row, |y| &y.peaks.cooling_day, false),
            LimitResult::AirChange50 => self.air_change(row),
            LimitResult::AirPermeability50 => self.permeability(row),
            LimitResult::WarmHours => self.hours(row, |y| y.comfort.warm_hours),
            LimitResult::HumidHours => self.hours(row, |y| y.comfort.humid_hours),
            LimitResult::PrimaryEnergy => self.per_area(row, |y| y.energy.primary_j),
            LimitResult::RenewablePrimaryEnergy => {
                Measured::unknown("renewable primary energy is not computed yet")
            }
            LimitResult::SurfaceTemperatureFactor => {
                Measured::unknown("no joint has been computed in section yet")
            }
            LimitResult::RecoveryRatio => self.recovery(row),
            LimitResult::FanPower => self.fan_power(row),
            LimitResult::FlowImbalance => self.imbalance(),
            LimitResult::OutdoorAirRate => Measured::unknown(
                "which rate applies to which room is the code official's to say; it is not judged here",
            ),
        }
    }

    fn per_area(&self, row: &Limit, of: impl Fn(&YearResult) -> f64) -> Measured {
        let (Some(year), Some(count)) = (self.year(row.use_case), self.count(&row.rule)) else {
            return Measured::unknown("no year was run");
        };
        let mut m = Measured::of(Some(of(year) / count.floor_area_m2));
        m.method = Some("hourly");
        let other = if row.use_case == UseCase::Real { UseCase::Standard } else { UseCase::Real };
        if let Some(year) = self.year(other) {
            m.beside.push((
                other.word().to_owned(),
                row.rule.clone(),
                "hourly".to_owned(),
                of(year) / count.floor_area_m2,
            ));
        }
        for other in self.counts.iter().filter(|c| c.rule != count.rule) {
            let value = of(year) / other.floor_area_m2;
            m.beside.push((row.use_case.word().to_owned(), other.rule.clone(), "hourly".to_owned(), value));
        }
        m
    }

    fn demand(&self, row: &Limit, of: impl Fn(&YearResult) -> f64, heating: bool) -> Measured {
        let mut m = self.per_area(row, of);
        if let (Some(year), Some(count)) = (self.year(row.use_case), self.count(&row.rule)) {
            m.causes = causes(&season(year, heating), heating, count.floor_area_m2, "kWh/(m²·a)", 3.6e6);
        }
        m
    }

    fn load(
        &self,
        row: &Limit,
        of: impl Fn(&YearResult) -> &year::result::PeakLoad,
        heating: bool,
    ) -> Measured {
        let (Some(year), Some(count)) = (self.year(row.use_case), self.count(&row.rule)) else {
            return Measured::unknown("no year was run");
        };
        let peak = of(year);
        let mut m = Measured::of(Some(peak.power_w / count.floor_area_m2));
        let over_s = 3600.0 * peak.over_h as f64;
        m.causes = causes(&peak.balance, heating, count.floor_area_m2 * over_s, "W/m²", 1.0);
        m.remark = format!(
            "on {}, {} outside",
            climate::calendar::words(peak.hour),
            self.words.show(peak.outdoor.temperature_c, Dimension::Temperature)
        );
        let other = if row.use_case == UseCase::Real { UseCase::Standard } else { UseCase::Real };
        if let Some(year) = self.year(other) {
            let value = of(year).power_w / count.floor_area_m2;
            m.beside.push((other.word().to_owned(), row.rule.clone(), "hourly".to_owned(), value));
        }
        m
    }

    fn hours(&self, row: &Limit, of: impl Fn(&YearResult) -> f64) -> Measured {
        let Some(year) = self.year(row.use_case) else { return Measured::unknown("no year was run") };
        let mut m = Measured::of(Some(of(year) / HOURS));
        let other = if row.use_case == UseCase::Real { UseCase::Standard } else { UseCase::Real };
        if let Some(year) = self.year(other) {
            m.beside.push((other.word().to_owned(), String::new(), "hourly".to_owned(), of(year) / HOURS));
        }
        m
    }

    fn air_change(&self, row: &Limit) -> Measured {
        let Some(count) = self.count(&row.rule) else { return Measured::unknown("no volume is counted") };
        let Some(reading) = &self.tightness else {
            let building = &self.project.building;
            let mut m = Measured::of(Some(building.values.nominal_of(building.airtightness.expected)));
            m.method = Some("stated");
            m.judged = false;
            m.remark = "as expected in the book; nobody has measured yet".to_owned();
            return m;
        };
        let mut m = Measured::of(Some(reading.flow_m3_h / count.volume_m3));
        for other in self.counts.iter().filter(|c| c.rule != count.rule) {
            let value = reading.flow_m3_h / other.volume_m3;
            m.beside.push((String::new(), other.rule.clone(), row.method.word().to_owned(), value));
        }
        m.remark = self.reading_words(reading);
        m.causes = super::site::open_leaks(self.project)
            .into_iter()
            .map(|(at, m3_h)| Cause {
                stated: at,
                share: (m3_h / reading.flow_m3_h).min(1.0),
                value: Some(m3_h / count.volume_m3),
                unit: "1/h".to_owned(),
            })
            .collect();
        m
    }

    fn reading_words(&self, reading: &Tightness) -> String {
        let guard = if reading.guarded { "guarded, " } else { "" };
        let kind = match (reading.whole, reading.valid, reading.directions) {
            (false, ..) => "single reading, not a standard test",
            (true, false, _) => "a validity rule of the standard is broken",
            (true, true, 1) => "one direction",
            (true, true, _) => "mean of both directions",
        };
        let spread = reading.half_width_m3_h / reading.flow_m3_h;
        format!(
            "{} at {REFERENCE_PA:.0} Pa on {}, {guard}{kind}, ± {:.0} %",
            self.words.test_flow(reading.flow_m3_h),
            reading.day,
            100.0 * spread
        )
    }

    fn permeability(&self, row: &Limit) -> Measured {
        let (Some(count), Some(reading)) = (self.count(&row.rule), &self.tightness) else {
            return Measured::unknown("nobody has measured yet");
        };
        let mut m = Measured::of(Some(reading.flow_m3_h / count.enclosure_m2));
        m.remark = self.reading_words(reading);
        m
    }

    fn recovery(&self, row: &Limit) -> Measured {
        let Some(year) = self.year(row.use_case) else { return Measured::unknown("no year was run") };
        let mut m = Measured::of(Some(year.ventilation.mean_temperature_recovery));
        let rating = self.project.building.ventilation.iter().find_map(|v| v.rating.as_ref());
        m.remark = match rating {
            Some(rating) => format!("by its sheet ({rating}), mean over the year's flows"),
            None => "its rating is not stated: ratios of unlike ratings do not compare".to_owned(),
        };
        m.judged = rating.is_some();
        m
    }

    fn fan_power(&self, row: &Limit) -> Measured {
        let read =
            commissioned(self.project).into_iter().filter_map(|c| c.fan_power_wh_m3()).reduce(f64::max);
        if let Some(value) = read {
            return Measured { remark: "as read on site".to_owned(), ..Measured::of(Some(value)) };
        }
        let Some(year) = self.year(row.use_case) else { return Measured::unknown("no year was run") };
        let mut m = Measured::of(Some(year.ventilation.mean_power_wh_m3));
        m.method = Some("product sheet");
        m.remark = "by its sheet; not yet read on site".to_owned();
        m
    }

    fn imbalance(&self) -> Measured {
        let modes = commissioned(self.project);
        let worst = modes
            .iter()
            .filter_map(|c| c.imbalance().map(|v| (v, &c.mode)))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        match worst {
            Some((value, mode)) => {
                Measured { remark: format!("largest at \"{mode}\""), ..Measured::of(Some(value)) }
            }
            None => Measured::unknown("outdoor and exhaust flows have not been read yet"),
        }
    }

    /// The yearly cold for drying outdoor air to the set point, without recovery, J/m² of the counted floor.
    ///
    /// Σ V̇·ρ·h_fg·max(0, x_out − x_set) over the hours, with the year's mean supply flow. Common practice adds an
    /// allowance of this kind by climate; its exact form differs between certifying bodies and is not ours to claim.
    fn drying(&self) -> f64 {
        let (Some(year), Some(count)) = (self.years.standard.as_ref(), self.count("")) else { return 0.0 };
        let building = &self.project.building;
        let set = building.values.nominal_of(building.set_points.dehumidify_above);
        let hours = self.project.weather.climate.hours.iter();
        let water: f64 = hours
            .map(|h| {
                let density = matter::moist_air::density(h.dry_bulb_c, h.humidity_ratio, h.pressure_pa);
                let heat = matter::moist_air::evaporation_heat(h.dry_bulb_c);
                3600.0
                    * year.ventilation.mean_supply_m3_s
                    * density
                    * heat
                    * (h.humidity_ratio - set).max(0.0)
            })
            .sum();
        water / count.floor_area_m2
    }

    fn stage(&self, row: &Limit) -> String {
        let wanted = match row.result {
            LimitResult::AirChange50 | LimitResult::AirPermeability50 => "test",
            LimitResult::FanPower | LimitResult::FlowImbalance => "commission",
            LimitResult::RecoveryRatio => "order",
            _ => "design",
        };
        let stages = &self.project.building.project.stages;
        if stages.iter().any(|s| s == wanted) { wanted.to_owned() } else { String::new() }
    }

    fn sentence(&self, row: &Limit, m: &Measured, threshold: f64, allowance: f64) -> String {
        let limit = format!("{} {}", row.comparison.word(), self.words.show(threshold, row.dimension));
        let drying = if allowance > 0.0 {
            format!(", {} of it for drying", self.words.show(allowance, row.dimension))
        } else {
            String::new()
        };
        let title = capital(&row.title);
        let Some(value) = m.value else {
            return format!("{title}: {limit}{drying}; {}.", m.remark);
        };
        let value = self.words.show(value, row.dimension);
        let remark = if m.remark.is_empty() { String::new() } else { format!(" ({})", m.remark) };
        let cause = m
            .causes
            .first()
            .map_or_else(String::new, |c| format!("; most of it {}, {:.0} %", c.stated, 100.0 * c.share));
        format!("{title} {value}{remark}, {limit}{drying}{cause}.")
    }
}

fn comparison(row: &Limit) -> Comparison {
    match row.comparison {
        limits::Comparison::AtMost => Comparison::AtMost,
        limits::Comparison::AtLeast => Comparison::AtLeast,
    }
}

fn status(row: &Limit, value: Option<f64>, threshold: f64) -> Outcome {
    match (value, comparison(row)) {
        (None, _) => Outcome::NotKnown,
        (Some(v), _) if !v.is_finite() => Outcome::NotKnown,
        (Some(v), Comparison::AtMost) if v <= threshold => Outcome::Met,
        (Some(v), Comparison::AtLeast) if v >= threshold => Outcome::Met,
        _ => Outcome::NotMet,
    }
}

/// Room left as a share of the threshold.
fn room(row: &Limit, value: f64, threshold: f64) -> Option<f64> {
    let room = match comparison(row) {
        Comparison::AtMost => threshold - value,
        Comparison::AtLeast => value - threshold,
    };
    let share = room / threshold.abs();
    share.is_finite().then_some(share)
}

/// Failing first, then met, then not known; recommendations and what an alternative rescues come after the rest.
fn rank(f: &Finding) -> u8 {
    let base = match f.status {
        Outcome::NotMet => 0,
        Outcome::Met => 1,
        Outcome::NotKnown => 2,
    };
    if f.advisory { base + 3 } else { base }
}

fn margin(f: &Finding) -> f64 {
    f.margin.unwrap_or(f64::INFINITY)
}

/// Unit of a finding: the row's own, with the year named where it is a yearly sum.
fn unit_of(row: &Limit) -> String {
    match (row.dimension, row.unit.as_str()) {
        (Dimension::EnergyPerArea, _) => "kWh/(m²·a)".to_owned(),
        (_, "1") => String::new(),
        (_, unit) => unit.to_owned(),
    }
}

/// Turns a canonical value into the finding's unit.
fn in_unit(value: f64, row: &Limit, unit: &str) -> f64 {
    if unit.is_empty() {
        return value;
    }
    value_in(value, row.dimension, unit).unwrap_or(value)
}

/// Sum of the balances of the months in which the plant heats, or cools.
fn season(year: &YearResult, heating: bool) -> Balance {
    let mut sum = Balance::default();
    for month in &year.months {
        let wanted = if heating { month.demand.heating_j } else { month.demand.cooling_j() };
        if wanted > 0.0 {
            sum.add(&month.balance);
        }
    }
    sum
}

/// What the plant has to make up for, largest first: losses when heating, gains when cooling.
fn causes(balance: &Balance, heating: bool, per: f64, unit: &str, divisor: f64) -> Vec<Cause> {
    use year::result::Cause as Of;
    let plant = [Of::Heating, Of::Cooling, Of::Storage, Of::OtherZones];
    let sign = if heating { -1.0 } else { 1.0 };
    let mut all: Vec<(Of, f64)> = balance
        .causes()
        .filter(|(cause, _)| !plant.contains(cause))
        .map(|(cause, heat)| (cause, sign * heat))
        .filter(|(_, heat)| *heat > 0.0)
        .collect();
    let total: f64 = all.iter().map(|(_, heat)| heat).sum();
    all.sort_by(|a, b| b.1.total_cmp(&a.1));
    let cause = |(cause, heat): (Of, f64)| Cause {
        stated: cause.word().to_owned(),
        share: heat / total,
        value: Some(heat / per / divisor),
        unit: unit.to_owned(),
    };
    all.into_iter().map(cause).collect()
}
