//! What the site log says about tightness and flows, up to the day the book speaks of.
//!
//! Only the latest test day counts for the limit, the guarded reading where there is one, the mean of both directions
//! where both were read. Earlier tests remain in the log for the story of the job.

use crate::air::{Air, Logged, TestReport};
use crate::check::Project;
use ::air::readings::Neighbour;
use building::records::{Body, FlowReading, Record};

/// Reference pressure of the limits, Pa (ISO 9972).
pub(super) const REFERENCE_PA: f64 = 50.0;

/// The latest reading of tightness.
#[derive(Clone, Debug, PartialEq)]
pub struct Tightness {
    /// Flow at the reference pressure, m³/h.
    pub flow_m3_h: f64,
    /// 95 % half-width by the full budget, m³/h.
    pub half_width_m3_h: f64,
    /// Day, `2025-09-02`.
    pub day: String,
    /// The record, the last of the day where there are several.
    pub record: String,
    /// The neighbour was held at equal pressure.
    pub guarded: bool,
    /// A whole test of several points, not a single reading.
    pub whole: bool,
    /// Every validity rule that could be decided holds; single readings have none.
    pub valid: bool,
    /// Directions read.
    pub directions: usize,
    /// What was sealed only for the test, or not finished yet.
    pub unfinished: Vec<String>,
    /// Exponent of the fit, or the one assumed for a single reading.
    pub exponent: f64,
}

/// Returns the records up to the day the book speaks of; all of them when it names none.
pub(crate) fn records(project: &Project) -> impl Iterator<Item = &Record> {
    let today = project.building.project.today.map(|d| d.to_string());
    project.log.records.iter().filter(move |r| today.as_deref().is_none_or(|t| day(r) <= t))
}

/// Returns the day of a record, as its client saw it.
pub(crate) fn day(record: &Record) -> &str {
    record.head.client_time.get(..10).unwrap_or("")
}

/// Returns the latest reading of tightness in the log, with the band of its full budget.
pub(super) fn tightness(project: &Project) -> Option<Tightness> {
    let air = Air::of(project);
    let (logged, told) = air.latest()?;
    Some(of_test(&air, logged, told))
}

fn of_test(air: &Air, logged: &Logged, told: &TestReport) -> Tightness {
    let exponents: Vec<f64> =
        told.directions.iter().filter_map(|d| d.iso_9972.map(|line| line.exponent.value)).collect();
    let exponent = match (exponents.as_slice(), told.quick) {
        ([], Some(quick)) => quick.exponent[0],
        ([], None) => air.ask.exponent.value,
        (all, _) => all.iter().sum::<f64>() / all.len() as f64,
    };
    Tightness {
        flow_m3_h: told.flow.value,
        half_width_m3_h: told.flow.half_width_95,
        day: logged.day.clone(),
        record: logged.records.last().cloned().unwrap_or_default(),
        guarded: logged.file.neighbour == Neighbour::EqualPressure,
        whole: told.standard_test,
        valid: told.valid.unwrap_or(true),
        directions: told.directions.len(),
        unfinished: logged.unfinished.clone(),
        exponent,
    }
}

/// The readings of one day, as they count for the leak.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadingDay {
    /// What they say.
    pub tightness: Tightness,
    /// Records behind it.
    pub records: Vec<String>,
    /// Stage of the job.
    pub stage: String,
    /// Fan, when a record names it.
    pub fan: String,
}

/// Returns every day's reading, guarded and not guarded apart, in order of time; of one day a whole test before a quick
/// reading, of equals the later.
pub(crate) fn readings_of_tightness(project: &Project) -> Vec<ReadingDay> {
    let air = Air::of(project);
    let mut all: Vec<ReadingDay> = Vec::new();
    for (logged, told) in &air.tests {
        let fan = records(project)
            .filter(|r| logged.records.contains(&r.head.id))
            .find_map(|r| r.head.instrument.as_ref().map(|i| i.id.clone()));
        let day = ReadingDay {
            tightness: of_test(&air, logged, told),
            records: logged.records.clone(),
            stage: logged.stage.clone(),
            fan: fan.unwrap_or_default(),
        };
        let key = |d: &ReadingDay| (d.tightness.day.clone(), d.tightness.guarded);
        match all.iter_mut().find(|d| key(d) == key(&day)) {
            Some(known) if known.tightness.whole && !day.tightness.whole => {}
            Some(known) => *known = day,
            None => all.push(day),
        }
    }
    all.sort_by(|a, b| a.tightness.day.cmp(&b.tightness.day));
    all
}

/// The latest flows of one unit in one mode.
#[derive(Clone, Debug, PartialEq)]
pub struct Commissioned {
    /// Mode.
    pub mode: String,
    /// Outdoor air, m³/s.
    pub outdoor_m3_s: Option<f64>,
    /// Exhaust air, m³/s.
    pub exhaust_m3_s: Option<f64>,
    /// Fan power, W.
    pub power_w: Option<f64>,
    /// Day of the latest of them.
    pub day: String,
}

impl Commissioned {
    /// Returns |outdoor − exhaust| over the larger.
    pub fn imbalance(&self) -> Option<f64> {
        let (a, b) = (self.outdoor_m3_s?, self.exhaust_m3_s?);
        let larger = a.max(b);
        (larger > 0.0).then(|| (a - b).abs() / larger)
    }

    /// Returns fan energy for the outdoor air moved, Wh/m³.
    pub fn fan_power_wh_m3(&self) -> Option<f64> {
        let flow = self.outdoor_m3_s?;
        (flow > 0.0)
            .then(|| air::duct::specific_fan_power_wh_m3(self.power_w.unwrap_or(f64::NAN), 3600.0 * flow))
            .filter(|v| v.is_finite())
    }
}

/// Returns the latest flows of every mode read at the outdoor and exhaust ducts, in the order modes were first read.
pub(crate) fn commissioned(project: &Project) -> Vec<Commissioned> {
    let mut all: Vec<Commissioned> = Vec::new();
    for record in records(project) {
        let Body::FlowReading(FlowReading { mode, at, flow, power, .. }) = &record.body else { continue };
        let place = at.to_lowercase();
        let (outdoor, exhaust) = (place.contains("outdoor"), place.contains("exhaust"));
        if !outdoor && !exhaust {
            continue;
        }
        let row = match all.iter_mut().find(|c| c.mode == *mode) {
            Some(row) => row,
            None => {
                let (outdoor_m3_s, exhaust_m3_s, power_w) = (None, None, None);
                all.push(Commissioned {
                    mode: mode.clone(),
                    outdoor_m3_s,
                    exhaust_m3_s,
                    power_w,
                    day: String::new(),
                });
                // Just pushed, so there is a last one.
                match all.last_mut() {
                    Some(row) => row,
                    None => continue,
                }
            }
        };
        if outdoor {
            row.outdoor_m3_s = Some(flow.value);
        } else {
            row.exhaust_m3_s = Some(flow.value);
        }
        row.power_w = power.as_ref().map(|p| p.value).or(row.power_w);
        row.day = day(record).to_owned();
    }
    all
}
