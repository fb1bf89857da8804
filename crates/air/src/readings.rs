//! Reading files of a pressure test: CSV or TOML text to series, conditions and sizes.
//!
//! The format is our own and is described with examples in `docs/pressure-test-file.md`. Start at [`parse`]. All
//! problems come back at once, each with its line, what is wrong, the likely mistake and what to write instead; what
//! reads well but looks wrong (swapped columns, inches of water, one absurd point) is a problem too.
//! Not here: evaluating the readings (`fan_test`), opening files.

mod columns;
mod csv_text;
mod entries;
mod suspect;
mod toml_text;

use crate::fan_test::{Conditions, Direction, FlowState, Reading, Series};
use crate::leakage::PowerLaw;
use quantity::Spread;
use std::fmt;

/// A reading file, understood.
#[derive(Clone, Debug, PartialEq)]
pub struct TestFile {
    /// Name of the test; empty where none is given.
    pub title: String,
    /// Date as written; empty where none is given.
    pub date: String,
    /// A full test, or one or two points.
    pub kind: TestKind,
    /// Readings by direction, in the order they first appear.
    pub series: Vec<Series>,
    /// Air and building on the day.
    pub conditions: Conditions,
    /// Inside air volume, m³.
    pub volume: Option<Size>,
    /// Envelope area, m².
    pub envelope_area: Option<Size>,
    /// Floor area, m².
    pub floor_area: Option<Size>,
    /// The gauge.
    pub gauge: Instrument,
    /// The fans, by name.
    pub fans: Vec<Fan>,
    /// What was done with the neighbour.
    pub neighbour: Neighbour,
    /// Standard deviation of the pressure left across a guarded party boundary, Pa.
    pub guard_residual_pa: Option<f64>,
    /// Method of preparation of ISO 9972, 1 to 3.
    pub method: Option<u8>,
    /// What was assumed, and what looks odd without being wrong.
    pub notes: Vec<Problem>,
}

/// What the file claims to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TestKind {
    /// A line is to be fitted.
    Full,
    /// One or two points, never a standard test.
    OneOrTwoPoints,
}

/// What was done with the space beyond a party boundary.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Neighbour {
    /// No neighbour, or not said.
    None,
    /// Held at the pressure of the tested space by a fan of its own.
    EqualPressure,
    /// Opened to outside.
    Opened,
    /// Left as found.
    Untouched,
}

/// A volume or area with its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Size {
    /// m³ or m².
    pub value: f64,
    /// Standard uncertainty as a share; zero where none is written.
    pub share: f64,
}

impl Size {
    /// Takes a reading with its spread as a standard uncertainty.
    pub fn of(reading: &quantity::Reading) -> Self {
        let deviation = match reading.spread {
            None => 0.0,
            Some(Spread::HalfWidth95(a)) => 0.5 * a,
            Some(Spread::Range { low, high }) => (high - low) / 12.0_f64.sqrt(),
            Some(Spread::Tolerance(a)) => a / 3.0_f64.sqrt(),
            Some(Spread::Factor95(f)) => reading.value * numeric::ln(f) / numeric::distribution::Z95,
        };
        Self { value: reading.value, share: deviation / reading.value }
    }
}

/// Which instrument, and how good.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Instrument {
    /// Number or name on it.
    pub id: String,
    /// Date of calibration as written.
    pub calibrated: String,
    /// 95 % half-width of its scale as a share, where the certificate says.
    pub accuracy: Option<f64>,
}

/// A fan and its calibration.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fan {
    /// Name used in the columns; empty for the only fan.
    pub name: String,
    /// Which one, and how good.
    pub instrument: Instrument,
    /// Flow by fan pressure, where the file gives fan pressures.
    pub calibration: Option<PowerLaw>,
}

/// Weight of a problem.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Severity {
    /// The file cannot be used.
    Error,
    /// The file can be used; someone should look.
    Note,
}

/// Something to mend or to look at.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// Line, from 1; `None` for the file as a whole.
    pub line: Option<usize>,
    /// How bad.
    pub severity: Severity,
    /// What is wrong.
    pub what: String,
    /// The likely mistake behind it.
    pub mistake: Option<String>,
    /// What to write or do instead.
    pub fix: String,
}

impl Problem {
    fn error(line: impl Into<Option<usize>>, what: impl Into<String>, fix: impl Into<String>) -> Self {
        Self {
            line: line.into(),
            severity: Severity::Error,
            what: what.into(),
            mistake: None,
            fix: fix.into(),
        }
    }

    fn note(line: impl Into<Option<usize>>, what: impl Into<String>, fix: impl Into<String>) -> Self {
        Self { severity: Severity::Note, ..Self::error(line, what, fix) }
    }

    fn likely(mut self, mistake: impl Into<String>) -> Self {
        self.mistake = Some(mistake.into());
        self
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(line) = self.line {
            write!(f, "line {line}: ")?;
        }
        write!(f, "{}", self.what)?;
        if let Some(mistake) = &self.mistake {
            write!(f, "; likely {mistake}")?;
        }
        write!(f, "; {}", self.fix)
    }
}

/// How a file is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// Lines of cells.
    Csv,
    /// TOML.
    Toml,
}

/// A file of more bytes than this is no reading file.
const LONGEST_FILE: usize = 4 << 20;

/// Reads a file of either format; which one is told by its first line that says something.
///
/// # Errors
/// Every problem found, notes included.
///
/// # Example
/// ```
/// let text = "
/// flows, corrected
/// volume, 954.9 m³
///
/// direction, pressure [Pa], flow [m³/h]
/// depressurisation, -1.4,
/// depressurisation, -20.2, 289
/// depressurisation, -33.9, 406
/// depressurisation, -47.7, 511
/// depressurisation, -55.6, 561
/// depressurisation, -69.8, 654
/// depressurisation, -1.1,
/// ";
/// let file = air::readings::parse(text).unwrap();
/// assert_eq!(file.series[0].readings.len(), 5);
/// assert_eq!(file.series[0].zero_before_pa, [-1.4]);
/// ```
pub fn parse(text: &str) -> Result<TestFile, Vec<Problem>> {
    parse_as(text, detect(text))
}

/// Reads a file of a known format.
///
/// # Errors
/// As [`parse`].
pub fn parse_as(text: &str, format: Format) -> Result<TestFile, Vec<Problem>> {
    if text.len() > LONGEST_FILE {
        let what = format!("{} bytes are more than any pressure test has", text.len());
        return Err(vec![Problem::error(None, what, "give the reading file itself")]);
    }
    let text = text.trim_start_matches('\u{feff}');
    let (sheet, mut problems) = match format {
        Format::Csv => csv_text::lower(text),
        Format::Toml => toml_text::lower(text),
    };
    let said = entries::understand(&sheet, &mut problems);
    let series = series(&sheet, &said, &mut problems);
    if !problems.iter().any(|p| p.severity == Severity::Error) {
        suspect::look(&sheet, &said, &mut problems);
    }
    let conditions = said.conditions(&mut problems);
    if problems.iter().any(|p| p.severity == Severity::Error) {
        problems.sort_by_key(|p| (p.severity == Severity::Note, p.line));
        return Err(problems);
    }
    Ok(TestFile {
        title: said.title,
        date: said.date,
        kind: said.kind,
        series,
        conditions,
        volume: said.volume,
        envelope_area: said.envelope_area,
        floor_area: said.floor_area,
        gauge: said.gauge,
        fans: said.fans,
        neighbour: said.neighbour,
        guard_residual_pa: said.guard_residual_pa,
        method: said.method,
        notes: problems,
    })
}

/// Tells the format: TOML assigns with `=` or opens a table; in CSV the first sign is a separator.
pub fn detect(text: &str) -> Format {
    let first = text
        .lines()
        .map(|l| l.trim_start_matches('\u{feff}').trim())
        .find(|l| !l.is_empty() && !l.starts_with('#'));
    let Some(line) = first else { return Format::Csv };
    let sign = line.chars().find(|c| matches!(c, '=' | ',' | ';' | '\t'));
    if sign == Some('=') || line.starts_with('[') { Format::Toml } else { Format::Csv }
}

/// A file after lexing, the same for both formats.
#[derive(Debug, Default)]
struct Sheet {
    entries: Vec<Entry>,
    rows: Vec<Row>,
}

/// A named value.
#[derive(Debug)]
struct Entry {
    line: usize,
    /// Lower case, single blanks.
    key: String,
    value: String,
}

/// One row of a table, converted to Pa and m³/h.
#[derive(Debug)]
struct Row {
    line: usize,
    direction: Option<Direction>,
    pressure_pa: f64,
    /// Pressure as it stands in the file, and its unit.
    pressure_written: (f64, String),
    /// One a fan; empty for a zero-flow reading.
    flows: Vec<FanReading>,
}

/// What one fan showed.
#[derive(Clone, Debug)]
struct FanReading {
    fan: String,
    /// m³/h, or Pa at the fan.
    value: f64,
    is_pressure: bool,
}

/// Returns the direction a word names.
fn direction(word: &str) -> Option<Direction> {
    match word.trim().to_lowercase().as_str() {
        "depressurisation" | "depressurization" | "depressurise" | "depressurize" | "depress" => {
            Some(Direction::Depressurisation)
        }
        "pressurisation" | "pressurization" | "pressurise" | "pressurize" | "press" => {
            Some(Direction::Pressurisation)
        }
        _ => None,
    }
}

/// Builds the series: rows of a direction in their order; zero-flow readings before the first flow are "before".
fn series(sheet: &Sheet, said: &entries::Said, problems: &mut Vec<Problem>) -> Vec<Series> {
    let mut all: Vec<Series> = Vec::new();
    for row in &sheet.rows {
        let Some(direction) = direction_of(row, sheet, said) else {
            problems.push(Problem::error(
                row.line,
                "this reading has no direction",
                "add a column `direction`, or a line `direction, depressurisation` above the table",
            ));
            continue;
        };
        let at = all.iter().position(|s| s.direction == direction).unwrap_or_else(|| {
            all.push(Series {
                direction,
                zero_before_pa: Vec::new(),
                zero_after_pa: Vec::new(),
                readings: Vec::new(),
                flows: said.flows,
            });
            all.len() - 1
        });
        let series = &mut all[at];
        if row.flows.is_empty() {
            let zeros = if series.readings.is_empty() {
                &mut series.zero_before_pa
            } else {
                &mut series.zero_after_pa
            };
            zeros.push(row.pressure_pa);
        } else if let Some(flow_m3_h) = said.flow(row, problems) {
            series.readings.push(Reading { pressure_pa: row.pressure_pa, flow_m3_h });
        }
    }
    if sheet.rows.is_empty() && problems.is_empty() {
        problems.push(Problem::error(
            None,
            "there are no readings",
            "give a table with the columns `direction, pressure [Pa], flow [m³/h]`",
        ));
    }
    for s in &mut all {
        settle_signs(s, problems);
    }
    all
}

/// A row's direction: its own, that of the file, or the sign all flow readings share.
fn direction_of(row: &Row, sheet: &Sheet, said: &entries::Said) -> Option<Direction> {
    row.direction.or(said.direction).or_else(|| {
        let blowing = || sheet.rows.iter().filter(|r| !r.flows.is_empty());
        let all = |sign: f64| blowing().next().is_some() && blowing().all(|r| r.pressure_pa * sign > 0.0);
        if all(-1.0) {
            Some(Direction::Depressurisation)
        } else if all(1.0) {
            Some(Direction::Pressurisation)
        } else {
            None
        }
    })
}

/// Takes depressurisation written without its minus sign, where no zero-flow pressure makes that ambiguous.
fn settle_signs(series: &mut Series, problems: &mut Vec<Problem>) {
    let wrong = series.direction == Direction::Depressurisation
        && !series.readings.is_empty()
        && series.readings.iter().all(|r| r.pressure_pa > 0.0);
    if !wrong {
        return;
    }
    let zeros = series.zero_before_pa.iter().chain(&series.zero_after_pa);
    if zeros.clone().any(|&z| z != 0.0) {
        problems.push(
            Problem::error(
                None,
                "depressurisation readings are positive, and there are zero-flow pressures",
                "write every pressure as inside minus outside: negative while air is drawn out",
            )
            .likely("pressures written without their minus sign"),
        );
        return;
    }
    for reading in &mut series.readings {
        reading.pressure_pa = -reading.pressure_pa;
    }
    problems.push(Problem::note(
        None,
        "depressurisation readings are positive and were taken as inside below outside",
        "write them with a minus sign",
    ));
}

/// Returns what the flows are when the file does not say.
const FLOWS_UNSAID: FlowState = FlowState::AtFan;

#[cfg(test)]
mod tests;
