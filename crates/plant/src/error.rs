//! What a law refuses.

/// Why plant figures make no machine.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PlantError {
    /// A figure lies outside what is possible.
    #[error("{what} is {value}; it {allowed}")]
    Range {
        /// What.
        what: &'static str,
        /// Its value.
        value: f64,
        /// What is allowed, after "it".
        allowed: &'static str,
    },
    /// Too few points to fit.
    #[error("{what} needs at least {least} points, {found} given")]
    TooFew {
        /// What is fitted.
        what: &'static str,
        /// Least number.
        least: usize,
        /// Number given.
        found: usize,
    },
    /// A row of a table that cannot be read.
    #[error("row {row}: {why}")]
    Row {
        /// Row, from 1, the header being row 1.
        row: usize,
        /// Why.
        why: String,
    },
    /// A rated point is better than any machine can be.
    #[error("{what}: {found:.2} is more than the reversible {most:.2} between these temperatures")]
    SecondLaw {
        /// Which point.
        what: String,
        /// Ratio stated.
        found: f64,
        /// Reversible ratio.
        most: f64,
    },
}

/// Passes a figure that is finite and inside `low..=high`.
pub(crate) fn within(
    what: &'static str,
    value: f64,
    low: f64,
    high: f64,
    allowed: &'static str,
) -> Result<f64, PlantError> {
    if value.is_finite() && value >= low && value <= high {
        Ok(value)
    } else {
        Err(PlantError::Range { what, value, allowed })
    }
}
