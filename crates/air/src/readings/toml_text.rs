//! TOML: the same names as in CSV as keys, and one table a direction with `columns` and `rows`.

use super::columns::{self, Column, Numbers};
use super::{Entry, Problem, Row, Sheet, direction, entries};
use crate::fan_test::Direction;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Lexes a text; whatever could be read comes back beside the problems.
pub(super) fn lower(text: &str) -> (Sheet, Vec<Problem>) {
    let mut sheet = Sheet::default();
    let mut problems = Vec::new();
    let (root, errors) = DeTable::parse_recoverable(text);
    let lines = Lines(text);
    for error in &errors {
        let line = error.span().map(|span| lines.of(span.start));
        let what = error.message().trim().lines().next().unwrap_or("this is not TOML").to_owned();
        problems.push(Problem::error(line, what, "see the example in the description of the format"));
    }
    let top = columns_of(root.get_ref(), &lines, &mut problems);
    let mut parts: Vec<_> = root.get_ref().iter().collect();
    parts.sort_by_key(|(key, _)| key.span().start);
    for (key, value) in parts {
        let name = key.get_ref();
        match (direction(name), value.get_ref()) {
            (Some(way), DeValue::Table(table)) => {
                series(way, table, top.as_deref(), &lines, &mut sheet, &mut problems);
            }
            _ if name == "columns" => {}
            _ => flatten(name, value, &lines, &mut sheet, &mut problems),
        }
    }
    (sheet, problems)
}

/// Finds the line of a byte.
struct Lines<'a>(&'a str);

impl Lines<'_> {
    fn of(&self, at: usize) -> usize {
        // A problem found at the end of the text belongs to its last line, not to the one after.
        let last = self.0.lines().count().max(1);
        (1 + self.0.bytes().take(at).filter(|&b| b == b'\n').count()).min(last)
    }
}

fn columns_of(table: &DeTable<'_>, lines: &Lines<'_>, problems: &mut Vec<Problem>) -> Option<Vec<Column>> {
    let value = table.get("columns")?;
    let line = lines.of(value.span().start);
    let DeValue::Array(items) = value.get_ref() else {
        problems.push(Problem::error(line, "`columns` is no list", COLUMNS_FIX));
        return None;
    };
    let cells: Vec<&str> = items.iter().filter_map(|item| item.get_ref().as_str()).collect();
    if cells.len() != items.len() {
        problems.push(Problem::error(line, "`columns` holds something that is no text", COLUMNS_FIX));
        return None;
    }
    Some(columns::head(&cells, line, problems))
}

const COLUMNS_FIX: &str = "write `columns = [\"pressure [Pa]\", \"flow [m³/h]\"]`";

fn series(
    way: Direction,
    table: &DeTable<'_>,
    top: Option<&[Column]>,
    lines: &Lines<'_>,
    sheet: &mut Sheet,
    problems: &mut Vec<Problem>,
) {
    let own = columns_of(table, lines, problems);
    let mut parts: Vec<_> = table.iter().collect();
    parts.sort_by_key(|(key, _)| key.span().start);
    for (key, value) in parts {
        let line = lines.of(key.span().start);
        match (key.get_ref().as_ref(), value.get_ref()) {
            ("columns", _) => {}
            ("rows", DeValue::Array(items)) => {
                let Some(columns) = own.as_deref().or(top) else {
                    problems.push(Problem::error(line, "these rows have no columns", COLUMNS_FIX));
                    continue;
                };
                for item in items {
                    let read = row(item, columns, lines, problems);
                    sheet.rows.extend(read.map(|r| Row { direction: Some(way), ..r }));
                }
            }
            (other, _) => problems.push(Problem::error(
                line,
                format!("`{other}` is not known here"),
                "a direction has `columns` and `rows = [[-1.2], [-20.1, 290], …]`",
            )),
        }
    }
}

fn row(
    item: &Spanned<DeValue<'_>>,
    columns: &[Column],
    lines: &Lines<'_>,
    problems: &mut Vec<Problem>,
) -> Option<Row> {
    let line = lines.of(item.span().start);
    let DeValue::Array(cells) = item.get_ref() else {
        problems.push(Problem::error(line, "a row is a list of numbers", "write `[-20.1, 290]`"));
        return None;
    };
    let texts: Vec<String> =
        cells.iter().map(|c| scalar(c.get_ref()).unwrap_or_else(|| "a list".into())).collect();
    let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
    columns::row(&texts, columns, Numbers { decimal_commas: false }, line, problems)
}

/// Returns a value as the text CSV would hold.
fn scalar(value: &DeValue<'_>) -> Option<String> {
    match value {
        DeValue::String(s) => Some(s.clone().into_owned()),
        // Underscores are digit marks of TOML; hexadecimal and the like stay as they are and are refused as numbers.
        DeValue::Integer(i) if i.radix() == 10 => Some(i.as_str().replace('_', "")),
        DeValue::Integer(i) => Some(format!("number of base {}", i.radix())),
        DeValue::Float(f) => Some(f.as_str().replace('_', "")),
        DeValue::Boolean(b) => Some(b.to_string()),
        DeValue::Datetime(d) => Some(d.to_string()),
        DeValue::Array(_) | DeValue::Table(_) => None,
    }
}

/// Turns `[fan.A] coefficient = …` into the entry `fan a coefficient`.
fn flatten(
    name: &str,
    value: &Spanned<DeValue<'_>>,
    lines: &Lines<'_>,
    sheet: &mut Sheet,
    problems: &mut Vec<Problem>,
) {
    let line = lines.of(value.span().start);
    match value.get_ref() {
        DeValue::Table(table) => {
            let mut parts: Vec<_> = table.iter().collect();
            parts.sort_by_key(|(key, _)| key.span().start);
            for (key, inner) in parts {
                let key = key.get_ref().as_ref();
                // `id` of an instrument is the instrument itself.
                let full = if key == "id" { name.to_owned() } else { format!("{name} {key}") };
                flatten(&full, inner, lines, sheet, problems);
            }
        }
        other => match scalar(other) {
            Some(value) => sheet.entries.push(Entry { line, key: entries::normal(name), value }),
            None => problems.push(Problem::error(line, format!("`{name}` is a list"), "give one value")),
        },
    }
}
