//! CSV: `name, value` lines, then a table under headings. Comma, semicolon or tab between cells.

use super::columns::{self, Column, Numbers};
use super::{Entry, Problem, Sheet};

/// Lexes a text; whatever could be read comes back beside the problems.
pub(super) fn lower(text: &str) -> (Sheet, Vec<Problem>) {
    let mut sheet = Sheet::default();
    let mut problems = Vec::new();
    let separator = separator(text);
    let numbers = Numbers { decimal_commas: separator != ',' };
    let mut columns: Option<Vec<Column>> = None;
    for (index, raw) in text.lines().enumerate() {
        let line = index + 1;
        let trimmed = raw.trim();
        if trimmed.trim_matches([separator, ' ', '\t']).is_empty() || trimmed.starts_with('#') {
            continue;
        }
        let cells: Vec<&str> = raw.split(separator).map(unquoted).collect();
        if columns::is_head(&cells) {
            columns = Some(columns::head(&cells, line, &mut problems));
        } else if let Some(columns) = &columns {
            sheet.rows.extend(columns::row(&cells, columns, numbers, line, &mut problems));
        } else {
            entry(raw, line, separator, &mut sheet, &mut problems);
        }
    }
    (sheet, problems)
}

/// The sign between cells: that of the line with the headings, or else the commonest over the file.
fn separator(text: &str) -> char {
    const SIGNS: [char; 3] = [';', '\t', ','];
    let head = text.lines().find_map(|line| {
        SIGNS.into_iter().find(|&sign| columns::is_head(&line.split(sign).map(unquoted).collect::<Vec<_>>()))
    });
    head.unwrap_or(',')
}

fn unquoted(cell: &str) -> &str {
    let cell = cell.trim();
    cell.strip_prefix('"').and_then(|c| c.strip_suffix('"')).unwrap_or(cell)
}

fn entry(raw: &str, line: usize, separator: char, sheet: &mut Sheet, problems: &mut Vec<Problem>) {
    let split = raw.split_once(separator).or_else(|| raw.split_once(','));
    let Some((key, value)) = split.or_else(|| raw.split_once('=')) else {
        problems.push(Problem::error(
            line,
            format!("`{}` is neither a `name, value` line nor a row of a table", raw.trim()),
            "write for instance `volume, 955 m³`, or begin a remark with #",
        ));
        return;
    };
    // Spreadsheets pad short lines with empty cells.
    let value = unquoted(value.trim_end_matches([separator, ' ', '\t', '\r'])).to_owned();
    let value = if separator == ',' { value } else { decimal_point(&value) };
    sheet.entries.push(Entry { line, key: super::entries::normal(unquoted(key)), value });
}

/// Turns a comma between two digits into a point.
fn decimal_point(text: &str) -> String {
    let bytes = text.as_bytes();
    let digit = |i: Option<usize>| i.and_then(|i| bytes.get(i)).is_some_and(u8::is_ascii_digit);
    text.char_indices()
        .map(|(i, c)| if c == ',' && digit(i.checked_sub(1)) && digit(Some(i + 1)) { '.' } else { c })
        .collect()
}
