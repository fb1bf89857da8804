//! Pressure tests of the site log as reading files, so that one evaluation serves files and records.

use super::evaluate::{Ask, report};
use super::report::TestReport;
use crate::check::Project;
use crate::standing::records_until_today;
use ::air::fan_test::{Conditions, Direction, FlowState, Reading, Series, Wind};
use ::air::leakage::{REFERENCE_PRESSURE_PA, REFERENCE_TEMPERATURE_C};
use ::air::readings::{Fan, Instrument, Neighbour, TestFile, TestKind};
use building::records::{Body, Figure, PressureTest, Record};
use quantity::Dimension;

/// A test of the log: one day, one set-up, one direction or both.
#[derive(Clone, Debug, PartialEq)]
pub struct Logged {
    /// Day, `2025-09-02`.
    pub day: String,
    /// Records it was read from.
    pub records: Vec<String>,
    /// Stage at which it was logged.
    pub stage: String,
    /// Who and what, in the logger's words.
    pub note: String,
    /// Sealed only for the test, or not finished yet.
    pub unfinished: Vec<String>,
    /// The readings.
    pub file: TestFile,
}

impl Logged {
    /// Evaluates it against what the project asks; `None` where its readings allow no evaluation.
    pub fn told(&self, ask: &Ask) -> Option<TestReport> {
        report(&self.file, ask).ok()
    }
}

/// Returns the tests logged up to the day the book speaks of, in the order of the log.
pub fn logged(project: &Project) -> Vec<Logged> {
    let mut all: Vec<Logged> = Vec::new();
    for record in records_until_today(project) {
        let Body::PressureTest(test) = &record.body else { continue };
        if test.points.is_empty() {
            continue;
        }
        let series = series(test);
        let neighbour = neighbour(&test.neighbour);
        let day = record.head.client_time.get(..10).unwrap_or("").to_owned();
        // Both directions of one day and set-up are one test; a direction read again is another.
        let same = all.iter_mut().find(|l| {
            l.day == day
                && l.file.neighbour == neighbour
                && l.file.series.iter().all(|s| s.direction != series.direction)
        });
        match same {
            Some(one) => {
                one.records.push(record.head.id.clone());
                one.file.series.push(series);
                one.file.kind = kind(&one.file.series);
                one.unfinished.extend(unfinished(test));
            }
            None => all.push(begun(record, test, series, neighbour, day)),
        }
    }
    all
}

fn begun(record: &Record, test: &PressureTest, series: Series, neighbour: Neighbour, day: String) -> Logged {
    let value = |figure: &Option<Figure>| figure.as_ref().map(|f| f.value);
    let instrument = record.head.instrument.as_ref();
    let fan = instrument.map(|i| Fan {
        name: String::new(),
        instrument: Instrument {
            id: i.id.clone(),
            calibrated: i.calibrated.clone().unwrap_or_default(),
            accuracy: i.uncertainty.as_deref().and_then(accuracy),
        },
        calibration: None,
    });
    let (inside, outside) = (value(&test.temperature_inside), value(&test.temperature_outside));
    let file = TestFile {
        title: test.standard.clone(),
        date: day.clone(),
        kind: kind(std::slice::from_ref(&series)),
        conditions: Conditions {
            inside_c: inside.unwrap_or(REFERENCE_TEMPERATURE_C),
            outside_c: outside.unwrap_or(REFERENCE_TEMPERATURE_C),
            barometer_pa: value(&test.barometer).unwrap_or(REFERENCE_PRESSURE_PA),
            height_m: None,
            wind: value(&test.wind).map(|speed| Wind::NearGround(speed.abs())),
        },
        series: vec![series],
        volume: None,
        envelope_area: None,
        floor_area: None,
        gauge: Instrument::default(),
        fans: fan.into_iter().collect(),
        neighbour,
        guard_residual_pa: value(&test.guard_residual).map(f64::abs),
        method: method(&test.preparation),
        notes: Vec::new(),
    };
    Logged {
        day,
        records: vec![record.head.id.clone()],
        stage: record.head.stage.clone(),
        note: record.head.note.clone(),
        unfinished: unfinished(test),
        file,
    }
}

fn unfinished(test: &PressureTest) -> Vec<String> {
    test.unfinished.iter().chain(&test.temporary_seals).cloned().collect()
}

fn kind(series: &[Series]) -> TestKind {
    if series.iter().any(|s| s.readings.len() >= 3) { TestKind::Full } else { TestKind::OneOrTwoPoints }
}

fn series(test: &PressureTest) -> Series {
    // Logs write sizes; the laws count inside less outside. Zero-flow pressures keep the sign they were read with.
    let (direction, sign) = match test.depressurised {
        true => (Direction::Depressurisation, -1.0),
        false => (Direction::Pressurisation, 1.0),
    };
    let values = |figures: &[Figure]| figures.iter().map(|f| f.value).collect();
    Series {
        direction,
        zero_before_pa: values(&test.zero_flow_before),
        zero_after_pa: values(&test.zero_flow_after),
        readings: test
            .points
            .iter()
            .map(|p| Reading { pressure_pa: sign * p.pressure.value.abs(), flow_m3_h: 3600.0 * p.flow.value })
            .collect(),
        flows: if test.flows_corrected { FlowState::Corrected } else { FlowState::AtFan },
    }
}

fn neighbour(word: &str) -> Neighbour {
    let word = word.trim().to_lowercase();
    match word.as_str() {
        "guarded" | "equal pressure" => Neighbour::EqualPressure,
        "untouched" => Neighbour::Untouched,
        _ if word.starts_with("open") => Neighbour::Opened,
        _ => Neighbour::None,
    }
}

/// 95 % half-width of a certificate, as a share.
pub(super) fn accuracy(text: &str) -> Option<f64> {
    let plain = text.trim().trim_start_matches(['±', '+', '-', '/']).trim();
    quantity::read(plain, Dimension::Ratio).ok().map(|r| r.value.abs()).filter(|share| *share > 0.0)
}

/// Method of ISO 9972 named in the words of the preparation.
fn method(words: &str) -> Option<u8> {
    let at = words.to_lowercase().find("method")?;
    words[at..].chars().find_map(|c| c.to_digit(10)).filter(|m| (1..=3).contains(m)).map(|m| m as u8)
}
