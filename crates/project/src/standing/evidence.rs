//! What the site log says about tightness and flows, up to the day the book speaks of.
//!
//! Only the latest test day counts for the limit, the guarded reading where there is one, the mean of both directions
//! where both were read. Earlier tests remain in the log for the story of the job.

use crate::check::Project;
use air::fan_test::{Conditions, Direction, Fit, FlowState, Reading, Series, Standard, combine, evaluate};
use air::leakage::PowerLaw;
use building::records::{Body, FlowReading, PressureTest, Record};

/// Reference pressure of the limits, Pa (ISO 9972).
pub(super) const REFERENCE_PA: f64 = 50.0;

/// Relative 95 % half-width of a single reading at the reference pressure: gauge, fan and wind together; this tool's own
/// judgement.
const SINGLE_READING: f64 = 0.07;

/// The latest reading of tightness.
#[derive(Clone, Debug, PartialEq)]
pub struct Tightness {
    /// Flow at the reference pressure, m³/h.
    pub flow_m3_h: f64,
    /// 95 % half-width, m³/h: of the fitted line, or of a single reading.
    pub half_width_m3_h: f64,
    /// Day, `2025-09-02`.
    pub day: String,
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

/// Returns the latest reading of tightness in the log.
pub(super) fn tightness(project: &Project) -> Option<Tightness> {
    let tests: Vec<(&Record, &PressureTest)> = records(project)
        .filter_map(|r| match &r.body {
            Body::PressureTest(test) if !test.points.is_empty() => Some((r, test)),
            _ => None,
        })
        .collect();
    let last = tests.iter().map(|(r, _)| day(r)).max()?;
    let of_day: Vec<&(&Record, &PressureTest)> = tests.iter().filter(|(r, _)| day(r) == last).collect();
    let guarded = of_day.iter().any(|(_, t)| is_guarded(t));
    let chosen: Vec<&PressureTest> =
        of_day.iter().filter(|(_, t)| is_guarded(t) == guarded).map(|(_, t)| *t).collect();
    let exponent = project.building.values.nominal_of(project.building.airtightness.exponent);
    read(&chosen, exponent, guarded, last)
}

fn is_guarded(test: &PressureTest) -> bool {
    test.neighbour.trim().eq_ignore_ascii_case("guarded")
}

fn read(tests: &[&PressureTest], exponent: f64, guarded: bool, day: &str) -> Option<Tightness> {
    let unfinished =
        tests.iter().flat_map(|t| t.unfinished.iter().chain(&t.temporary_seals)).cloned().collect();
    let whole: Vec<_> = tests.iter().filter_map(|t| fit(t)).collect();
    if let Some(mean) = combine(&whole, REFERENCE_PA) {
        return Some(Tightness {
            flow_m3_h: mean.flow_m3_h,
            half_width_m3_h: mean.half_width_m3_h,
            day: day.to_owned(),
            guarded,
            whole: true,
            valid: whole.iter().all(|e| e.valid()),
            directions: whole.len(),
            unfinished,
            exponent: whole.iter().map(|e| e.exponent.value).sum::<f64>() / whole.len() as f64,
        });
    }
    // Too few points for a line: the last pair nearest to the reference pressure, with the book's exponent.
    let points = tests.iter().flat_map(|t| &t.points);
    let off = |p: &&building::records::TestPoint| (p.pressure.value.abs() - REFERENCE_PA).abs();
    let point = points.min_by(|a, b| off(a).total_cmp(&off(b)))?;
    let law = PowerLaw::through(3600.0 * point.flow.value, point.pressure.value.abs(), exponent);
    let flow_m3_h = law.flow_m3_h(REFERENCE_PA);
    flow_m3_h.is_finite().then(|| Tightness {
        flow_m3_h,
        half_width_m3_h: SINGLE_READING * flow_m3_h,
        day: day.to_owned(),
        guarded,
        whole: false,
        valid: true,
        directions: 1,
        unfinished,
        exponent,
    })
}

/// Fits the line of one direction; `None` with too few or impossible points.
fn fit(test: &PressureTest) -> Option<air::fan_test::Evaluation> {
    let direction = if test.depressurised { Direction::Depressurisation } else { Direction::Pressurisation };
    // Logs write sizes; the laws count inside less outside. Zero-flow pressures keep the sign they were read with.
    let sign = if test.depressurised { -1.0 } else { 1.0 };
    let value = |f: &Option<building::records::Figure>, or: f64| f.as_ref().map_or(or, |f| f.value);
    let series = Series {
        direction,
        zero_before_pa: test.zero_flow_before.iter().map(|f| f.value).collect(),
        zero_after_pa: test.zero_flow_after.iter().map(|f| f.value).collect(),
        readings: test
            .points
            .iter()
            .map(|p| Reading { pressure_pa: sign * p.pressure.value.abs(), flow_m3_h: 3600.0 * p.flow.value })
            .collect(),
        flows: if test.flows_corrected { FlowState::Corrected } else { FlowState::AtFan },
    };
    let conditions = Conditions {
        inside_c: value(&test.temperature_inside, 20.0),
        outside_c: value(&test.temperature_outside, 20.0),
        barometer_pa: value(&test.barometer, 101_325.0),
        height_m: None,
        wind: test.wind.as_ref().map(|w| air::fan_test::Wind::Station(w.value)),
    };
    evaluate(&series, conditions, Fit::Unweighted, Standard::Iso9972).ok()
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
pub(super) fn commissioned(project: &Project) -> Vec<Commissioned> {
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

#[cfg(test)]
mod tests {
    use super::*;
    use building::records::{Figure, TestPoint};

    fn test(points: &[(f64, f64)]) -> PressureTest {
        let figure = |value: f64| Figure { value, ..Figure::default() };
        let point = |(p, q): &(f64, f64)| TestPoint {
            pressure: figure(*p),
            flow: figure(q / 3600.0),
            ..TestPoint::default()
        };
        PressureTest {
            depressurised: true,
            flows_corrected: true,
            points: points.iter().map(point).collect(),
            ..PressureTest::default()
        }
    }

    #[test]
    fn a_whole_test_is_fitted_and_both_directions_averaged() {
        // The invented final test: fits 524 and 540 m³/h, mean 532.
        let down = test(&[
            (20.2, 289.0),
            (26.5, 347.0),
            (33.9, 406.0),
            (40.7, 455.0),
            (47.7, 511.0),
            (55.6, 561.0),
            (62.4, 604.0),
            (69.8, 654.0),
        ]);
        let mut up = test(&[
            (19.7, 299.0),
            (27.3, 366.0),
            (33.8, 420.0),
            (40.8, 469.0),
            (47.5, 526.0),
            (54.5, 568.0),
            (62.1, 622.0),
            (69.7, 670.0),
        ]);
        up.depressurised = false;
        let t = read(&[&down, &up], 0.65, true, "2026-01-20").expect("a reading");
        assert!((t.flow_m3_h - 532.0).abs() < 1.0, "{}", t.flow_m3_h);
        assert!(t.whole && t.directions == 2);
    }

    #[test]
    fn a_single_reading_is_brought_to_the_reference_pressure() {
        let t = read(&[&test(&[(25.0, 300.0)])], 0.65, false, "2025-09-02").expect("a reading");
        assert!((t.flow_m3_h - 300.0 * 2.0_f64.powf(0.65)).abs() < 1e-6);
        assert!(!t.whole);
    }
}
