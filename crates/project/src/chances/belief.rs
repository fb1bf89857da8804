//! From the site log to what is believed: the leak's story, readings of stated values, choices still open.
//!
//! Every record is taken in once, into one of the three. What cannot be taken in is said in the notes, never dropped in
//! silence.

use crate::check::Project;
use crate::standing::{Commissioned, ReadingDay, commissioned, readings_of_tightness, records};
use building::counting;
use building::limits::{Limit, LimitResult};
use building::records::{Body, Figure, Record};
use building::spreads;
use building::stated::{Basis, Stated};
use building::{StatedValues, ValueKey};
use odds::evidence::{Forward, Reading};
use odds::judgement;
use odds::leak::{Factor, LeakReading, LeakStory};
use odds::site::one_place;

/// The leak so far, as told beside its limit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LeakSoFar {
    /// Readings that count towards the end, by their days.
    pub days: Vec<String>,
    /// Median of the final reading, m³/h, and ×/÷ with 95 % inside.
    pub final_m3_h: f64,
    /// See above.
    pub final_spread95: f64,
    /// What a reading must show today for nine chances in ten, m³/h.
    pub needed_m3_h: Option<f64>,
    /// The final test has been read.
    pub done: bool,
}

/// Something not yet decided that moves a stated value.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// Record.
    pub record: String,
    /// What it is about: `window E1, solar control`.
    pub what: String,
    /// What the values would move by: key, change.
    pub moves: Vec<(ValueKey, f64)>,
}

/// A counting rule in dispute.
#[derive(Clone, Debug, PartialEq)]
pub struct Dispute {
    /// Row of the limit.
    pub limit: String,
    /// Whom it was put to.
    pub to: String,
    /// Rules that may be meant, id and name, taken as equally likely.
    pub rules: Vec<(String, String)>,
}

impl Dispute {
    /// Returns which rule a score stands for.
    pub fn rule_at(&self, score: f64) -> usize {
        let n = self.rules.len();
        ((numeric::normal::cdf(score) * n as f64) as usize).min(n.saturating_sub(1))
    }
}

/// All that the log says.
pub struct Known {
    /// Values as stated, decided substitutions put in.
    pub values: StatedValues,
    /// The leak.
    pub leak: LeakStory,
    /// Work still to come after the last reading.
    pub ahead: Factor,
    /// The final test's reading, m³/h, when it has been taken.
    pub final_reading_m3_h: Option<f64>,
    /// Days of the readings that count.
    pub days: Vec<String>,
    /// Readings of stated values.
    pub readings: Vec<Reading>,
    /// Choices still open.
    pub choices: Vec<Choice>,
    /// Rules in dispute.
    pub disputes: Vec<Dispute>,
    /// What was done with what.
    pub notes: Vec<String>,
}

impl Known {
    /// Reads the log up to the day of the book.
    ///
    /// # Errors
    /// When no stated expectation of the leak is above zero.
    pub fn of(project: &Project) -> Result<Self, String> {
        let mut notes = Vec::new();
        let mut values = project.building.values.clone();
        let choices = choices(project, &mut values, &mut notes);
        let mut readings = properties(project, &values, &mut notes);
        readings.extend(flows(project, &values));
        let (leak, ahead, final_reading_m3_h, days) = leak(project, &mut notes)?;
        Ok(Self {
            values,
            leak,
            ahead,
            final_reading_m3_h,
            days,
            readings,
            choices,
            disputes: disputes(project),
            notes,
        })
    }
}

/// Factor of the stages from one place in the job's order to another.
fn stages(project: &Project, from: usize, to: usize) -> Factor {
    let table = &judgement::table().ahead;
    let order = &project.building.project.stages;
    order[from.min(order.len())..to.min(order.len()).max(from.min(order.len()))]
        .iter()
        .filter_map(|stage| table.iter().find(|a| a.stage == *stage))
        .fold(Factor { median: 1.0, spread95: 1.0 }, |f, a| {
            f.then(Factor { median: a.factor, spread95: a.spread })
        })
}

/// What the book itself says is still to come or to go, as a factor on a reading of today; `None` when it says nothing.
fn stated_ahead(project: &Project, flow_m3_h: f64, from: usize) -> Option<Factor> {
    let building = &project.building;
    let order = &building.project.stages;
    let later = |stage: &Option<String>| {
        stage.as_ref().and_then(|s| order.iter().position(|o| o == s)).is_none_or(|at| at >= from)
    };
    if building.ahead.is_empty() {
        return None;
    }
    let (mut flow, mut variance) = (flow_m3_h, 0.0);
    for item in building.ahead.iter().filter(|a| later(&a.stage)) {
        let stated = building.values.get(item.flow);
        let sd = 3600.0 * stated.distribution.sd();
        flow += 3600.0 * stated.value * if item.goes { -1.0 } else { 1.0 };
        variance += sd * sd;
    }
    // What is left cannot be less than nothing: a hundredth of the reading stands for "almost all goes".
    let flow = flow.max(0.01 * flow_m3_h);
    let spread95 = numeric::exp(numeric::distribution::Z95 * variance.sqrt() / flow);
    Some(Factor { median: flow / flow_m3_h, spread95 })
}

/// No reading is known better than this, as a share.
const LEAST_SHARE: f64 = 0.005;

type LeakKnown = (LeakStory, Factor, Option<f64>, Vec<String>);

fn leak(project: &Project, notes: &mut Vec<String>) -> Result<LeakKnown, String> {
    let building = &project.building;
    let order = &building.project.stages;
    let at = |name: &str| order.iter().position(|s| s == name);
    let (test, barrier) = (at("test").unwrap_or(order.len()), at("barrier").unwrap_or(0));
    let volume = counting::count(building, counting::certification_style()).volume_m3;
    let stated = building.values.get(building.airtightness.expected);
    let expected_m3_h = stated.value * volume;
    if !(expected_m3_h > 0.0) {
        return Err("the expected air change is not above zero, so the leak has no chances".to_owned());
    }
    let days = readings_of_tightness(project);
    let guarded = days.iter().any(|d| d.tightness.guarded);
    let counts =
        |d: &&ReadingDay| d.tightness.guarded == guarded && at(&d.stage).is_none_or(|s| s >= barrier);
    let used: Vec<&ReadingDay> = days.iter().filter(counts).collect();
    let left = days.len() - used.len();
    if left > 0 {
        notes.push(format!(
            "{left} of {} days of fan readings say nothing about the leak at the end: taken before the air barrier, or not \
             guarded as the final test will be.",
            days.len()
        ));
    }
    let table = &judgement::table().reading;
    let place = |d: &ReadingDay| at(&d.stage).unwrap_or(barrier);
    let done =
        used.last().filter(|d| place(d) >= test && d.tightness.whole && d.tightness.unfinished.is_empty());
    let readings = used
        .iter()
        .enumerate()
        .map(|(k, d)| {
            let own = 0.5 * d.tightness.half_width_m3_h / d.tightness.flow_m3_h;
            // The full budget less what all readings of one fan share, which the story holds apart.
            let share = (own * own - table.fan_share * table.fan_share).max(LEAST_SHARE * LEAST_SHARE).sqrt();
            let then = match used.get(k + 1) {
                // Rounds of sealing while the barrier lies open.
                Some(next) if place(next) <= barrier => Factor { median: 1.0, spread95: table.leak_between },
                Some(next) => stages(project, place(d), place(next)),
                None => stated_ahead(project, d.tightness.flow_m3_h, place(d))
                    .unwrap_or_else(|| stages(project, place(d), test)),
            };
            LeakReading {
                record: d.records.join("+"),
                flow_m3_h: d.tightness.flow_m3_h,
                share,
                fan: d.fan.clone(),
                then,
            }
        })
        .collect::<Vec<_>>();
    let factor = numeric::exp(numeric::distribution::Z95 * log_sd(stated));
    let ahead = readings.last().map_or_else(|| stages(project, barrier, test), |r| r.then);
    if done.is_none() && ahead.spread95 > 1.0 {
        let by = if building.ahead.is_empty() { "Judgement" } else { "The book" };
        notes.push(format!(
            "{by}: the work still to come changes the leak by × {:.2}, ×/÷ {:.2}.",
            ahead.median, ahead.spread95
        ));
    }
    let story = LeakStory {
        expected_m3_h,
        expected_spread95: factor.max(1.0 + 1e-9),
        readings,
        fan_share: table.fan_share,
        final_share: table.final_share,
        // The final test may be read by another's fan.
        final_fan: String::new(),
    };
    let days = used.iter().map(|d| d.tightness.day.clone()).collect();
    Ok((story, ahead, done.map(|d| d.tightness.flow_m3_h), days))
}

/// Standard deviation of a value's logarithm, by its relative spread.
fn log_sd(stated: &Stated) -> f64 {
    match stated.distribution {
        numeric::distribution::Distribution::LogNormal { factor95, .. } => {
            numeric::ln(factor95) / numeric::distribution::Z95
        }
        ref other => other.sd() / stated.value.abs().max(f64::MIN_POSITIVE),
    }
}

/// The value a record speaks of: its id, or a unit's figure written short (`unit.north.g` for `unit.north.glazing.g`).
fn key_of(values: &StatedValues, id: &str) -> Option<ValueKey> {
    values.key(id).or_else(|| {
        let (unit, figure) = id.strip_prefix("unit.")?.rsplit_once('.')?;
        ["glazing", "whole"].iter().find_map(|part| values.key(&format!("unit.{unit}.{part}.{figure}")))
    })
}

/// Values read off labels, cores and opened places.
fn properties(project: &Project, values: &StatedValues, notes: &mut Vec<String>) -> Vec<Reading> {
    let mut all: Vec<Reading> = Vec::new();
    let mut unknown = 0;
    for record in records(project) {
        let (list, basis, places): (&[(String, Figure)], _, _) = match &record.body {
            Body::Delivery(d) if d.as_ordered != Some(false) => (&d.properties, Basis::Delivered, None),
            Body::OpenedUp(o) => (&o.properties, Basis::Measured, Some(1)),
            _ => continue,
        };
        for (id, figure) in list {
            match key_of(values, id) {
                Some(key) if values.get(key).distribution.sd() > 0.0 => {
                    all.push(read(record, values, key, figure, basis, places, all.len()));
                }
                Some(_) => {}
                None => unknown += 1,
            }
        }
    }
    for record in records(project) {
        let Body::InsulationDensity(d) = &record.body else { continue };
        if let Some(key) = values.key(&format!("material.{}.density", d.material))
            && values.get(key).distribution.sd() > 0.0
            && !d.reblown
        {
            all.push(read(record, values, key, &d.density, Basis::Measured, Some(1), all.len()));
        }
    }
    if unknown > 0 {
        notes.push(format!(
            "{unknown} figures in the log speak of values the book does not state; they move nothing."
        ));
    }
    all
}

fn read(
    record: &Record,
    values: &StatedValues,
    key: ValueKey,
    figure: &Figure,
    basis: Basis,
    places: Option<u32>,
    number: usize,
) -> Reading {
    let stated = values.get(key);
    let own = figure.half_width.map(|h| 0.5 * h).unwrap_or_else(|| instrument_sd(stated, basis));
    let sd = places.map_or(own, |n| one_place(own, stated.distribution.sd(), n));
    Reading {
        record: format!("{}#{number}", record.head.id),
        of: Forward::Value(key),
        seen: figure.value,
        sd,
        shared: None,
    }
}

/// Error of a figure on another basis: the spread of its kind there; half its own where the book stated the spread.
fn instrument_sd(stated: &Stated, basis: Basis) -> f64 {
    let kind = stated.default_spread.as_deref().and_then(|row| row.split('/').next());
    let by_kind =
        kind.and_then(|kind| spreads::table().find(kind, basis)).map(|row| row.around(stated.value).sd());
    by_kind.filter(|sd| *sd > 0.0).unwrap_or_else(|| 0.5 * stated.distribution.sd())
}

/// The latest flows and fan powers at the ducts.
fn flows(project: &Project, values: &StatedValues) -> Vec<Reading> {
    let mut all = Vec::new();
    let rows = commissioned(project);
    for unit in &project.building.ventilation {
        for mode in &unit.modes {
            let Some(row) = rows.iter().find(|r: &&Commissioned| r.mode == mode.name) else { continue };
            let mut add = |what: &str, key: ValueKey, seen: Option<f64>| {
                let stated = values.get(key);
                if let Some(seen) = seen
                    && stated.distribution.sd() > 0.0
                {
                    all.push(Reading {
                        record: format!("flow {} {} {what} {}", unit.name, mode.name, row.day),
                        of: Forward::Value(key),
                        seen,
                        sd: instrument_sd(stated, Basis::Measured),
                        shared: None,
                    });
                }
            };
            add("outdoor", mode.supply, row.outdoor_m3_s);
            add("exhaust", mode.extract, row.exhaust_m3_s);
            add("power", mode.power, row.fan_power_wh_m3());
        }
    }
    all
}

/// Substitutions and deliveries that are not as ordered: decided ones change the values, open ones are choices.
fn choices(project: &Project, values: &mut StatedValues, notes: &mut Vec<String>) -> Vec<Choice> {
    let mut open = Vec::new();
    for record in records(project) {
        let (what, item, list, accepted) = match &record.body {
            Body::Substitution(s) => (&s.offered, "", &s.properties, s.accepted),
            // What is held back may yet be exchanged.
            Body::Delivery(d) if d.as_ordered == Some(false) => {
                (&d.product, d.for_item.as_str(), &d.properties, if d.held { None } else { Some(true) })
            }
            _ => continue,
        };
        let moves: Vec<(ValueKey, f64)> = list
            .iter()
            .filter_map(|(id, figure)| {
                let key = key_of(values, id)?;
                let share = share_of(project, item, id);
                Some((key, share * (figure.value - values.get(key).value)))
            })
            .collect();
        if moves.is_empty() {
            continue;
        }
        match accepted {
            Some(true) => {
                for (key, change) in moves {
                    *values = values.with(key, |s| {
                        s.distribution = moved(&s.distribution, change);
                        s.value += change;
                    });
                }
                notes.push(format!("{what} is built in and counts with its own figures."));
            }
            Some(false) => {}
            None => open.push(Choice { record: record.head.id.clone(), what: what.clone(), moves }),
        }
    }
    for choice in &open {
        notes.push(format!(
            "Judgement: whether {} stays is taken as evens until someone decides.",
            choice.what
        ));
    }
    open
}

/// A distribution moved along.
fn moved(d: &numeric::distribution::Distribution, by: f64) -> numeric::distribution::Distribution {
    use numeric::distribution::Distribution as D;
    match d {
        D::Normal { mean, sd } => D::Normal { mean: mean + by, sd: *sd },
        D::Uniform { low, high } => D::Uniform { low: low + by, high: high + by },
        D::Point { value } => D::Point { value: value + by },
        D::LogNormal { median, factor95 } if median + by > 0.0 => {
            D::LogNormal { median: median + by, factor95: *factor95 }
        }
        other => other.clone(),
    }
}

/// Share of a unit's glass that one opening has, when the figure of a shared unit is that of one opening.
fn share_of(project: &Project, item: &str, id: &str) -> f64 {
    let (Some(name), Some(unit)) = (item.strip_prefix("opening."), id.strip_prefix("unit.")) else {
        return 1.0;
    };
    let building = &project.building;
    let of_unit = |o: &&building::model::Opening| {
        building.units.get(o.unit.0).is_some_and(|u| unit.starts_with(&format!("{}.", u.name)))
    };
    let area = |o: &building::model::Opening| o.glass_m2;
    let all: f64 = building.openings.iter().filter(of_unit).map(area).sum();
    let own: f64 = building.openings.iter().filter(of_unit).filter(|o| o.name == name).map(area).sum();
    if all > 0.0 && own > 0.0 { own / all } else { 1.0 }
}

/// Open questions that hold a limit whose figure depends on the rule.
fn disputes(project: &Project) -> Vec<Dispute> {
    let mut all: Vec<Dispute> = Vec::new();
    let Some(set) = &project.limits else { return all };
    for record in records(project) {
        let Body::Question(q) = &record.body else { continue };
        if !q.answer.trim().is_empty() || answered(project, record) {
            continue;
        }
        for limit in set.for_climate(project.building.site.climate_class.as_deref()) {
            let held = q.holds.iter().any(|h| h.strip_prefix("limit.").unwrap_or(h) == limit.id);
            if held && !limit.rule.is_empty() && all.iter().all(|d| d.limit != limit.id) {
                let rules = rules_apart(project, limit);
                if rules.len() < 2 {
                    continue;
                }
                all.push(Dispute { limit: limit.id.clone(), to: q.to.clone(), rules });
            }
        }
    }
    all
}

/// Counting rules that give a limit's result different sizes; of equal ones the limit's own, else the first.
fn rules_apart(project: &Project, limit: &Limit) -> Vec<(String, String)> {
    let size = |count: &counting::Count| match limit.result {
        LimitResult::AirChange50 => count.volume_m3,
        LimitResult::AirPermeability50 => count.enclosure_m2,
        _ => count.floor_area_m2,
    };
    let own = |rule: &&counting::Rule| rule.id == limit.rule;
    let order = counting::rules().iter().filter(own).chain(counting::rules().iter().filter(|r| !own(r)));
    let mut apart: Vec<(f64, &counting::Rule)> = Vec::new();
    for rule in order {
        let size = size(&counting::count(&project.building, rule));
        if apart.iter().all(|(known, _)| (known - size).abs() > 1e-6 * size) {
            apart.push((size, rule));
        }
    }
    apart.into_iter().map(|(_, r)| (r.id.clone(), r.name.clone())).collect()
}

/// A later record corrects or answers it.
fn answered(project: &Project, question: &Record) -> bool {
    records(project).any(|r| {
        r.head.corrects.as_deref() == Some(question.head.id.as_str())
            && matches!(&r.body, Body::Question(q) if !q.answer.trim().is_empty())
    })
}
