//! Values stated when the book leaves something out (`data/defaults.toml`).

use std::sync::OnceLock;

use serde::Deserialize;

/// One default.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Stable id, named by the source of the values it makes.
    pub id: String,
    /// As one would write it.
    pub value: String,
    /// Kind of quantity, for its spread.
    pub kind: String,
    /// Where it comes from.
    pub source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    row: Vec<Row>,
}

/// Returns the built-in defaults.
///
/// # Panics
/// Never in a tested build: the table is part of the program and a unit test reads it.
pub fn rows() -> &'static [Row] {
    static ROWS: OnceLock<Vec<Row>> = OnceLock::new();
    ROWS.get_or_init(|| {
        let file: File = toml::from_str(include_str!("../data/defaults.toml")).expect("read by a test");
        file.row
    })
}

/// Returns a default by id.
pub fn row(id: &str) -> Option<&'static Row> {
    rows().iter().find(|row| row.id == id)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_default_has_a_source_and_a_known_kind() {
        for row in rows() {
            assert!(!row.source.is_empty(), "{}", row.id);
            let kind = crate::spreads::table().find(&row.kind, crate::stated::Basis::Assumed);
            assert!(kind.is_some(), "{}: {}", row.id, row.kind);
        }
    }
}
