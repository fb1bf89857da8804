//! The table: column headings with their units, and rows of numbers under them.

use super::{FanReading, Problem, Row, direction};
use quantity::Dimension;

/// What a column holds.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Column {
    Direction,
    /// Factor to Pa, and the unit as written.
    Pressure(f64, String),
    /// Fan's name and factor to m³/h.
    Flow(String, f64),
    /// Fan's name and factor to Pa.
    FanPressure(String, f64),
    /// Read by people, not by us.
    Ignored,
}

/// Says whether a line of cells looks like the head of a table.
pub(super) fn is_head(cells: &[&str]) -> bool {
    let starts = |word: &str| cells.iter().any(|c| c.trim().to_lowercase().starts_with(word));
    starts("pressure") && (starts("flow") || starts("fan"))
}

/// Reads the headings of a table.
pub(super) fn head(cells: &[&str], line: usize, problems: &mut Vec<Problem>) -> Vec<Column> {
    let columns: Vec<Column> = cells.iter().map(|cell| column(cell, line, problems)).collect();
    let count = |is: fn(&Column) -> bool| columns.iter().filter(|c| is(c)).count();
    if count(|c| matches!(c, Column::Pressure(..))) > 1 {
        problems.push(Problem::error(
            line,
            "two pressure columns",
            "keep one; a fan's pressure is `fan pressure`",
        ));
    }
    columns
}

fn column(cell: &str, line: usize, problems: &mut Vec<Problem>) -> Column {
    let lower = cell.trim().to_lowercase();
    if lower == "direction" {
        return Column::Direction;
    }
    if ["note", "notes", "time"].contains(&lower.as_str()) || lower.is_empty() {
        return Column::Ignored;
    }
    let (name, unit) = split_unit(cell.trim());
    let name = name.to_lowercase();
    let (dimension, example) = if name.starts_with("flow") {
        (Dimension::VolumeFlow, "flow [m³/h]")
    } else {
        (Dimension::Pressure, "pressure [Pa]")
    };
    let words: Vec<&str> = name.split_whitespace().collect();
    let fan = |skip: usize| words[skip.min(words.len())..].join(" ");
    let factor = |problems: &mut Vec<Problem>| unit_factor(unit, dimension, example, cell, line, problems);
    match words.as_slice() {
        ["pressure"] | ["pressure", "difference"] => {
            let factor = factor(problems);
            Column::Pressure(factor, unit.unwrap_or("Pa").to_owned())
        }
        ["flow", ..] => Column::Flow(fan(1), factor(problems) * 3600.0),
        ["fan", "pressure", ..] => Column::FanPressure(fan(2), factor(problems)),
        _ => {
            problems.push(Problem::error(
                line,
                format!("the column `{}` is not known", cell.trim()),
                "columns are `direction`, `pressure [Pa]`, `flow [m³/h]` (`flow A`, `flow B` for several fans), \
                 `fan pressure [Pa]`, `time`, `note`",
            ));
            Column::Ignored
        }
    }
}

/// Splits `flow A [m³/h]` or `flow A (m³/h)` into name and unit.
fn split_unit(cell: &str) -> (&str, Option<&str>) {
    let Some(open) = cell.find(['[', '(']) else { return (cell, None) };
    let unit = cell[open + 1..].trim_end().trim_end_matches([']', ')']).trim();
    (cell[..open].trim(), Some(unit))
}

/// Returns the size of a column's unit in the canonical one.
fn unit_factor(
    unit: Option<&str>,
    dimension: Dimension,
    example: &str,
    cell: &str,
    line: usize,
    problems: &mut Vec<Problem>,
) -> f64 {
    let Some(unit) = unit.filter(|u| !u.is_empty()) else {
        problems.push(Problem::error(
            line,
            format!("the column `{}` has no unit", cell.trim()),
            format!("write the unit in the heading: `{example}`"),
        ));
        return 1.0;
    };
    match quantity::read(&format!("1 {unit}"), dimension) {
        Ok(reading) if reading.spread.is_none() && reading.value > 0.0 => reading.value,
        Ok(_) => {
            problems.push(Problem::error(
                line,
                format!("`{unit}` is no plain unit"),
                format!("write `{example}`"),
            ));
            1.0
        }
        Err(error) => {
            problems.push(Problem::error(
                line,
                error.to_string(),
                format!("write the heading like `{example}`"),
            ));
            1.0
        }
    }
}

/// How a cell's number is read: some files write decimal commas.
#[derive(Clone, Copy, Debug)]
pub(super) struct Numbers {
    /// Cells are separated by something else than a comma, so that a comma is a decimal sign.
    pub decimal_commas: bool,
}

impl Numbers {
    fn read(self, cell: &str) -> Option<f64> {
        let mut text = cell.trim().replace('\u{2212}', "-");
        if self.decimal_commas && text.matches(',').count() == 1 && !text.contains('.') {
            text = text.replace(',', ".");
        }
        text.parse::<f64>().ok().filter(|x| x.is_finite())
    }
}

/// Reads one row under its columns; `None` (with a problem) when it makes no sense.
pub(super) fn row(
    cells: &[&str],
    columns: &[Column],
    numbers: Numbers,
    line: usize,
    problems: &mut Vec<Problem>,
) -> Option<Row> {
    let filled = cells.iter().rposition(|c| !c.trim().is_empty()).map_or(0, |last| last + 1);
    if filled > columns.len() {
        let problem = Problem::error(
            line,
            format!("{filled} cells under {} columns", columns.len()),
            "write decimals with a point, or separate the cells by semicolons",
        );
        problems.push(if numbers.decimal_commas { problem } else { problem.likely("decimal commas") });
        return None;
    }
    let mut out = Row {
        line,
        direction: None,
        pressure_pa: f64::NAN,
        pressure_written: (f64::NAN, String::new()),
        flows: Vec::new(),
    };
    let mut good = true;
    for (cell, column) in cells.iter().zip(columns).filter(|(cell, _)| !cell.trim().is_empty()) {
        good &= fill(&mut out, cell, column, numbers, problems);
    }
    if good && out.pressure_pa.is_nan() {
        problems.push(Problem::error(line, "this row has no pressure", "fill it in or leave the row out"));
        good = false;
    }
    good.then_some(out)
}

fn fill(out: &mut Row, cell: &str, column: &Column, numbers: Numbers, problems: &mut Vec<Problem>) -> bool {
    let line = out.line;
    match column {
        Column::Ignored => return true,
        Column::Direction => {
            out.direction = direction(cell);
            if out.direction.is_none() {
                problems.push(Problem::error(
                    line,
                    format!("`{}` is no direction", cell.trim()),
                    "write `depressurisation` or `pressurisation`",
                ));
            }
            return out.direction.is_some();
        }
        _ => {}
    }
    let Some(value) = numbers.read(cell) else {
        problems.push(not_a_number(cell, line));
        return false;
    };
    match column {
        Column::Pressure(factor, unit) => {
            out.pressure_pa = value * factor;
            out.pressure_written = (value, unit.clone());
        }
        Column::Flow(fan, factor) => {
            out.flows.push(FanReading { fan: fan.clone(), value: value * factor, is_pressure: false });
        }
        Column::FanPressure(fan, factor) => {
            out.flows.push(FanReading { fan: fan.clone(), value: value * factor, is_pressure: true });
        }
        Column::Direction | Column::Ignored => {}
    }
    true
}

fn not_a_number(cell: &str, line: usize) -> Problem {
    let cell = cell.trim();
    let problem = Problem::error(
        line,
        format!("`{cell}` is no number"),
        "write a plain number; the unit stands in the heading",
    );
    let comma = cell.contains(',') && cell.chars().all(|c| c.is_ascii_digit() || ",.-+".contains(c));
    if comma { problem.likely("a decimal comma or a thousands mark") } else { problem }
}
