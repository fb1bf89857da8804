//! Default spreads, by kind of quantity and basis, and the reading of a written spread as a distribution.
//!
//! The table is `data/spreads.toml`: each row names its source or says that it is this tool's own judgement.

use std::sync::OnceLock;

use numeric::distribution::Distribution;
use quantity::Spread;
use serde::Deserialize;

use crate::stated::Basis;

/// How a row's number spreads a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Form {
    /// 95 % half-width as share of the value.
    Share,
    /// 95 % half-width in the canonical unit.
    Absolute,
    /// Factor, lognormal, 95 % inside.
    Factor,
    /// A point.
    None,
}

/// One row of the table.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Kind of quantity.
    pub kind: String,
    /// How the numbers spread.
    pub form: Form,
    /// One number for each basis, weakest first.
    pub spread: [f64; 5],
    /// Document, or "judgement".
    pub source: String,
}

/// A row at one basis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Default<'a> {
    /// The row.
    pub row: &'a Row,
    /// The basis.
    pub basis: Basis,
}

impl Default<'_> {
    /// Stable id: `conductivity/product sheet`.
    pub fn id(&self) -> String {
        format!("{}/{}", self.row.kind, self.basis)
    }

    /// The spread's number.
    pub fn spread(&self) -> f64 {
        self.row.spread[self.basis as usize]
    }

    /// Returns the distribution around a value; a point when the spread is nothing or the value is zero under a
    /// relative spread.
    pub fn around(&self, value: f64) -> Distribution {
        let spread = self.spread();
        let half_width = match self.row.form {
            Form::Share => spread * value.abs(),
            Form::Absolute => spread,
            Form::Factor if spread > 1.0 && value > 0.0 => {
                return Distribution::factor95(value, spread);
            }
            Form::Factor | Form::None => 0.0,
        };
        if half_width > 0.0 {
            Distribution::half_width95(value, half_width)
        } else {
            Distribution::Point { value }
        }
    }
}

/// The table of defaults.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Table {
    /// Rows, as listed.
    #[serde(rename = "row")]
    pub rows: Vec<Row>,
}

impl Table {
    /// Returns the row of a kind at a basis.
    pub fn find(&self, kind: &str, basis: Basis) -> Option<Default<'_>> {
        self.rows.iter().find(|row| row.kind == kind).map(|row| Default { row, basis })
    }

    /// Returns the table's own text of a kind, `fixed` for a kind it does not have.
    pub(crate) fn kind(&'static self, kind: &str) -> &'static str {
        self.rows.iter().find(|row| row.kind == kind).map_or("fixed", |row| row.kind.as_str())
    }
}

/// Returns the built-in table.
///
/// # Panics
/// Never in a tested build: the table is part of the program and a unit test reads it.
pub fn table() -> &'static Table {
    static TABLE: OnceLock<Table> = OnceLock::new();
    TABLE.get_or_init(|| {
        toml::from_str(include_str!("../data/spreads.toml")).expect("the built-in table is read by a test")
    })
}

/// Returns the distribution of a value written with a spread.
///
/// `± a`: normal, 95 % half-width a. `a..b`: uniform. `×/÷ f`: lognormal. `tolerance ± a`: uniform. A spread of
/// nothing is a point.
///
/// # Errors
/// Says what is wrong with a reversed range, a factor not above one, a negative half-width, a value outside its range.
pub fn distribution(value: f64, spread: Spread) -> Result<Distribution, String> {
    let none = match spread {
        Spread::HalfWidth95(a) | Spread::Tolerance(a) => a == 0.0,
        Spread::Range { low, high } => low == high && low == value,
        Spread::Factor95(f) => f == 1.0,
    };
    if none {
        return Ok(Distribution::Point { value });
    }
    if let Spread::Range { low, high } = spread
        && !(low <= value && value <= high)
    {
        return Err(format!("{value} does not lie in the range {low} .. {high}"));
    }
    let made = match spread {
        Spread::HalfWidth95(a) => Distribution::half_width95(value, a),
        Spread::Tolerance(a) => Distribution::tolerance(value, a),
        Spread::Range { low, high } => Distribution::range(low, high),
        Spread::Factor95(f) => Distribution::factor95(value, f),
    };
    made.check().map_err(|why| why.to_string())?;
    Ok(made)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn table_is_readable_and_never_wider_with_a_better_basis() {
        assert!(table().rows.len() > 30);
        for row in &table().rows {
            assert!(!row.source.is_empty());
            for pair in row.spread.windows(2) {
                assert!(pair[1] <= pair[0], "{}: {:?}", row.kind, row.spread);
            }
        }
    }

    #[test]
    fn kinds_are_unique() {
        let mut kinds: Vec<_> = table().rows.iter().map(|row| &row.kind).collect();
        kinds.sort();
        kinds.dedup();
        assert_eq!(kinds.len(), table().rows.len());
    }

    #[test]
    fn a_half_width_is_two_standard_deviations() {
        let made = distribution(0.039, Spread::HalfWidth95(0.002)).unwrap();
        assert_eq!(made, Distribution::Normal { mean: 0.039, sd: 0.001 });
    }

    #[test]
    fn impossible_spreads_are_refused() {
        assert!(distribution(1.0, Spread::Range { low: 2.0, high: 3.0 }).is_err());
        assert!(distribution(1.0, Spread::Factor95(0.5)).is_err());
        assert!(distribution(-1.0, Spread::Factor95(2.0)).is_err());
        assert!(distribution(1.0, Spread::HalfWidth95(-0.1)).is_err());
    }
}
