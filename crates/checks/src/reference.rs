//! Reading the embedded reference data: TOML tables and CSV rows, by name.
//!
//! The data is part of the program, so a name that is not there is a mistake of ours: it reads as NaN or as an empty
//! text, and every check on it reports `out` instead of passing by accident.

use std::collections::BTreeMap;
use toml::Value;

/// A piece of an embedded TOML file.
#[derive(Clone, Debug)]
pub struct Data(Value);

impl Data {
    /// Reads a whole file; an unreadable one is empty, so that every check on it fails.
    pub fn read(text: &str) -> Self {
        Self(text.parse::<toml::Table>().map_or(Value::Boolean(false), Value::Table))
    }

    /// Returns what lies at a path such as `case.2.volume_m3` (numbers index arrays).
    pub fn at(&self, path: &str) -> Self {
        let mut here = &self.0;
        for step in path.split('.') {
            let next = match here {
                Value::Table(table) => table.get(step),
                Value::Array(items) => step.parse::<usize>().ok().and_then(|i| items.get(i)),
                _ => None,
            };
            match next {
                Some(value) => here = value,
                None => return Self(Value::Boolean(false)),
            }
        }
        Self(here.clone())
    }

    /// Returns the number at a path; NaN where there is none.
    pub fn number(&self, path: &str) -> f64 {
        self.at(path).as_number()
    }

    /// Returns this piece as a number; NaN where it is none.
    pub fn as_number(&self) -> f64 {
        match &self.0 {
            Value::Float(x) => *x,
            Value::Integer(i) => *i as f64,
            _ => f64::NAN,
        }
    }

    /// Returns the text at a path; empty where there is none.
    pub fn text(&self, path: &str) -> String {
        match self.at(path).0 {
            Value::String(text) => text,
            _ => String::new(),
        }
    }

    /// Returns this piece as a text; empty where it is none.
    pub fn text_here(&self) -> String {
        self.0.as_str().unwrap_or_default().to_owned()
    }

    /// Returns the members of the array at a path; empty where there is none.
    pub fn list(&self, path: &str) -> Vec<Self> {
        match self.at(path).0 {
            Value::Array(items) => items.into_iter().map(Self).collect(),
            _ => Vec::new(),
        }
    }

    /// Returns the numbers of the array at a path.
    pub fn numbers(&self, path: &str) -> Vec<f64> {
        self.list(path).iter().map(Self::as_number).collect()
    }

    /// Says whether something lies at a path.
    pub fn has(&self, path: &str) -> bool {
        !matches!(self.at(path).0, Value::Boolean(false))
    }
}

/// One row of an embedded CSV file, by column name.
#[derive(Clone, Debug)]
pub struct Row(BTreeMap<String, String>);

impl Row {
    /// Returns the number in a column; NaN where there is none.
    pub fn number(&self, column: &str) -> f64 {
        self.0.get(column).and_then(|text| text.trim().parse().ok()).unwrap_or(f64::NAN)
    }

    /// Returns the text in a column; empty where there is none.
    pub fn text(&self, column: &str) -> &str {
        self.0.get(column).map_or("", String::as_str)
    }
}

/// Reads a CSV file with a header line; lines that begin with `#` are notes.
pub fn rows(text: &str) -> Vec<Row> {
    let mut reader =
        csv::ReaderBuilder::new().comment(Some(b'#')).flexible(true).from_reader(text.as_bytes());
    let Ok(header) = reader.headers().cloned() else { return Vec::new() };
    reader
        .records()
        .filter_map(Result::ok)
        .map(|record| Row(header.iter().map(str::to_owned).zip(record.iter().map(str::to_owned)).collect()))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_name_is_not_a_number() {
        let data = Data::read("[a]\nb = [1, 2.5]\n");
        assert_eq!(data.number("a.b.1"), 2.5);
        assert!(data.number("a.c").is_nan());
        assert!(Data::read("not toml").number("a").is_nan());
    }
}
