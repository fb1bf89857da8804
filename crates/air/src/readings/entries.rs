//! The named values of a reading file.

use super::{
    Entry, FLOWS_UNSAID, Fan, Instrument, Neighbour, Problem, Row, Sheet, Size, TestKind, direction,
};
use crate::fan_test::{Conditions, Direction, FlowState, Wind};
use crate::leakage::{PowerLaw, REFERENCE_PRESSURE_PA, REFERENCE_TEMPERATURE_C};
use matter::moist_air::altitude_pressure;
use quantity::{Dimension, Reading};

/// Brings a name to lower case with single blanks; underscores are blanks.
pub(super) fn normal(key: &str) -> String {
    key.replace('_', " ").to_lowercase().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What the entries say.
#[derive(Debug)]
pub(super) struct Said {
    pub title: String,
    pub date: String,
    pub kind: TestKind,
    pub flows: FlowState,
    pub flows_said: bool,
    pub direction: Option<Direction>,
    inside_c: Option<f64>,
    outside_c: Option<f64>,
    barometer_pa: Option<f64>,
    wind: Option<Wind>,
    height_m: Option<f64>,
    pub volume: Option<Size>,
    pub envelope_area: Option<Size>,
    pub floor_area: Option<Size>,
    pub gauge: Instrument,
    pub fans: Vec<Fan>,
    coefficients: Vec<(String, f64)>,
    exponents: Vec<(String, f64)>,
    pub neighbour: Neighbour,
    pub guard_residual_pa: Option<f64>,
    pub method: Option<u8>,
}

/// Names known, for the message about one that is not.
const KNOWN: &str = "names are: test, date, by, kind, flows, direction, inside temperature, outside temperature, \
    barometer, elevation, wind near ground, wind at station, height, volume, envelope area, floor area, method, \
    neighbour, guard residual, gauge, gauge calibrated, gauge accuracy, fan, fan calibrated, fan accuracy, \
    fan coefficient, fan exponent (fan A …, fan B … for several)";

/// Understands every entry.
pub(super) fn understand(sheet: &Sheet, problems: &mut Vec<Problem>) -> Said {
    let mut said = Said {
        title: String::new(),
        date: String::new(),
        kind: TestKind::Full,
        flows: FLOWS_UNSAID,
        flows_said: false,
        direction: None,
        inside_c: None,
        outside_c: None,
        barometer_pa: None,
        wind: None,
        height_m: None,
        volume: None,
        envelope_area: None,
        floor_area: None,
        gauge: Instrument::default(),
        fans: Vec::new(),
        coefficients: Vec::new(),
        exponents: Vec::new(),
        neighbour: Neighbour::None,
        guard_residual_pa: None,
        method: None,
    };
    let mut seen: Vec<&str> = Vec::new();
    for entry in &sheet.entries {
        if seen.contains(&entry.key.as_str()) {
            problems.push(Problem::error(
                entry.line,
                format!("`{}` is given twice", entry.key),
                "keep one of the two",
            ));
        }
        seen.push(&entry.key);
        said.take(entry, problems);
    }
    said.calibrate();
    if !said.flows_said {
        problems.push(Problem::error(
            None,
            "the file does not say whether flows are raw or corrected",
            "add `flows, raw` (as the fan's calibration gives them) or `flows, corrected` (to the reference state)",
        ));
    }
    said
}

impl Said {
    fn take(&mut self, entry: &Entry, problems: &mut Vec<Problem>) {
        let text = entry.value.trim();
        let number = |dimension, problems: &mut Vec<Problem>| number(entry, dimension, problems);
        match entry.key.as_str() {
            "test" => self.title = text.to_owned(),
            "date" => self.date = text.to_owned(),
            // Who read; kept by whoever keeps the file.
            "by" | "note" => {}
            "inside temperature" => self.inside_c = number(Dimension::Temperature, problems).map(|r| r.value),
            "outside temperature" => {
                self.outside_c = number(Dimension::Temperature, problems).map(|r| r.value)
            }
            "barometer" => {
                self.barometer_pa = positive(entry, Dimension::Pressure, problems).map(|r| r.value);
            }
            "elevation" => {
                let read = number(Dimension::Length, problems).map(|r| altitude_pressure(r.value));
                self.barometer_pa = self.barometer_pa.or(read.filter(|p| *p > 0.0));
            }
            "wind near ground" => {
                self.wind = number(Dimension::Speed, problems).map(|r| Wind::NearGround(r.value.abs()))
            }
            "wind at station" => {
                self.wind = number(Dimension::Speed, problems).map(|r| Wind::Station(r.value.abs()))
            }
            "height" => self.height_m = number(Dimension::Length, problems).map(|r| r.value.abs()),
            "volume" => self.volume = positive(entry, Dimension::Volume, problems).map(|r| Size::of(&r)),
            "envelope area" => {
                self.envelope_area = positive(entry, Dimension::Area, problems).map(|r| Size::of(&r))
            }
            "floor area" => {
                self.floor_area = positive(entry, Dimension::Area, problems).map(|r| Size::of(&r))
            }
            "guard residual" => {
                self.guard_residual_pa = number(Dimension::Pressure, problems).map(|r| r.value.abs());
            }
            "kind" => self.kind(entry, problems),
            "flows" => self.flows(entry, problems),
            "direction" => {
                self.direction = direction(text);
                if self.direction.is_none() {
                    problems.push(unknown_word(entry, "depressurisation, pressurisation"));
                }
            }
            "neighbour" | "neighbor" => self.neighbour(entry, problems),
            "method" => match text.trim_start_matches("method").trim().parse::<u8>() {
                Ok(m @ 1..=3) => self.method = Some(m),
                _ => problems.push(unknown_word(entry, "1, 2, 3 (methods of preparation of ISO 9972)")),
            },
            "gauge" => self.gauge.id = text.to_owned(),
            "gauge calibrated" => self.gauge.calibrated = text.to_owned(),
            "gauge accuracy" => {
                self.gauge.accuracy = number(Dimension::Ratio, problems).map(|r| r.value.abs())
            }
            key if key == "fan" || key.starts_with("fan ") => self.fan(&key[3..], entry, problems),
            _ => problems.push(Problem::error(entry.line, format!("`{}` is not known", entry.key), KNOWN)),
        }
    }

    fn kind(&mut self, entry: &Entry, problems: &mut Vec<Problem>) {
        match normal(&entry.value).as_str() {
            "full" | "full test" => self.kind = TestKind::Full,
            "single point" | "one point" | "two points" | "one or two points" => {
                self.kind = TestKind::OneOrTwoPoints;
            }
            _ => problems.push(unknown_word(entry, "full, single point, two points")),
        }
    }

    fn flows(&mut self, entry: &Entry, problems: &mut Vec<Problem>) {
        self.flows_said = true;
        match normal(&entry.value).as_str() {
            "raw" | "at fan" => self.flows = FlowState::AtFan,
            "corrected" => self.flows = FlowState::Corrected,
            _ => problems.push(unknown_word(entry, "raw, corrected")),
        }
    }

    fn neighbour(&mut self, entry: &Entry, problems: &mut Vec<Problem>) {
        match normal(&entry.value).as_str() {
            "none" => self.neighbour = Neighbour::None,
            "equal pressure" | "guarded" => self.neighbour = Neighbour::EqualPressure,
            "opened" | "opened to outside" => self.neighbour = Neighbour::Opened,
            "untouched" => self.neighbour = Neighbour::Untouched,
            _ => problems.push(unknown_word(entry, "none, equal pressure, opened, untouched")),
        }
    }

    /// Takes `fan`, `fan A`, `fan A calibrated`, `fan coefficient` and so on; `rest` follows the word fan.
    fn fan(&mut self, rest: &str, entry: &Entry, problems: &mut Vec<Problem>) {
        let rest = rest.trim();
        const PARTS: [&str; 4] = ["calibrated", "accuracy", "coefficient", "exponent"];
        let part = PARTS.into_iter().find(|part| rest == *part || rest.ends_with(&format!(" {part}")));
        let name = part.map_or(rest, |part| rest[..rest.len() - part.len()].trim());
        let text = entry.value.trim().to_owned();
        match part {
            None => self.fan_named(name).instrument.id = text,
            Some("calibrated") => self.fan_named(name).instrument.calibrated = text,
            Some("accuracy") => {
                let read = number(entry, Dimension::Ratio, problems).map(|r| r.value.abs());
                self.fan_named(name).instrument.accuracy = read;
            }
            Some("coefficient") => {
                let read = positive(entry, Dimension::VolumeFlow, problems);
                self.coefficients.extend(read.map(|r| (name.to_owned(), r.value * 3600.0)));
            }
            Some(_) => match text.parse::<f64>() {
                Ok(n) if (0.3..=1.0).contains(&n) => self.exponents.push((name.to_owned(), n)),
                _ => problems.push(Problem::error(
                    entry.line,
                    format!("`{text}` is no exponent of a fan"),
                    "write a number between 0.3 and 1, near 0.5",
                )),
            },
        }
    }

    fn fan_named(&mut self, name: &str) -> &mut Fan {
        let at = self.fans.iter().position(|f| f.name == name).unwrap_or_else(|| {
            self.fans.push(Fan { name: name.to_owned(), ..Fan::default() });
            self.fans.len() - 1
        });
        &mut self.fans[at]
    }

    /// Joins coefficients and exponents, once all entries are taken.
    fn calibrate(&mut self) {
        for (name, coefficient_m3_h) in self.coefficients.clone() {
            // A fan's flow goes with the root of its pressure unless the certificate says otherwise.
            let exponent = self.exponents.iter().find(|(n, _)| *n == name).map_or(0.5, |e| e.1);
            self.fan_named(&name).calibration = Some(PowerLaw { coefficient_m3_h, exponent });
        }
    }

    /// Returns the sum of a row's fans, m³/h.
    pub(super) fn flow(&self, row: &Row, problems: &mut Vec<Problem>) -> Option<f64> {
        let mut sum = 0.0;
        for reading in &row.flows {
            if reading.value < 0.0 {
                problems.push(
                    Problem::error(row.line, "a flow is negative", "write flows as positive numbers")
                        .likely("pressure and flow columns swapped"),
                );
                return None;
            }
            sum += if reading.is_pressure {
                let law = self.fans.iter().find(|f| f.name == reading.fan).and_then(|f| f.calibration);
                let Some(law) = law else {
                    problems.push(Problem::error(
                        row.line,
                        format!("no calibration for fan `{}`", reading.fan),
                        "add `fan coefficient, 95 m³/h` (flow at 1 Pa of fan pressure) and `fan exponent, 0.5`",
                    ));
                    return None;
                };
                law.flow_m3_h(reading.value)
            } else {
                reading.value
            };
        }
        if sum <= 0.0 || !sum.is_finite() {
            problems.push(Problem::error(
                row.line,
                "the flow is zero",
                "leave the flow cell empty for a zero-flow reading",
            ));
            return None;
        }
        Some(sum)
    }

    /// Returns the conditions; what is missing is assumed with a note, or an error where the flows need it.
    pub(super) fn conditions(&self, problems: &mut Vec<Problem>) -> Conditions {
        let temperatures = self.inside_c.zip(self.outside_c);
        if temperatures.is_none() {
            let fix = "add `inside temperature, 21 °C` and `outside temperature, 4 °C`";
            problems.push(if self.flows == FlowState::AtFan && self.flows_said {
                Problem::error(None, "raw flows need both temperatures for their density", fix)
            } else {
                Problem::note(None, "no temperatures: the stack rule stays open", fix)
            });
        }
        if self.barometer_pa.is_none() && self.flows == FlowState::AtFan {
            problems.push(Problem::note(
                None,
                "no barometer: 101 325 Pa taken",
                "add `barometer, 988 hPa` or `elevation, 215 m`",
            ));
        }
        let (inside_c, outside_c) =
            temperatures.unwrap_or((REFERENCE_TEMPERATURE_C, REFERENCE_TEMPERATURE_C));
        Conditions {
            inside_c,
            outside_c,
            barometer_pa: self.barometer_pa.unwrap_or(REFERENCE_PRESSURE_PA),
            height_m: self.height_m.filter(|_| temperatures.is_some()),
            wind: self.wind,
        }
    }
}

fn number(entry: &Entry, dimension: Dimension, problems: &mut Vec<Problem>) -> Option<Reading> {
    match quantity::read(entry.value.trim(), dimension) {
        Ok(reading) => Some(reading),
        Err(error) => {
            problems.push(Problem::error(entry.line, format!("`{}`: {error}", entry.key), "mend the value"));
            None
        }
    }
}

fn positive(entry: &Entry, dimension: Dimension, problems: &mut Vec<Problem>) -> Option<Reading> {
    let reading = number(entry, dimension, problems)?;
    if reading.value > 0.0 {
        return Some(reading);
    }
    problems.push(Problem::error(
        entry.line,
        format!("`{}` must be above zero", entry.key),
        "mend the value",
    ));
    None
}

fn unknown_word(entry: &Entry, words: &str) -> Problem {
    Problem::error(
        entry.line,
        format!("`{}` is no answer to `{}`", entry.value.trim(), entry.key),
        format!("write one of: {words}"),
    )
}
