//! What can be wrong with a request to this crate.

use thiserror::Error;

/// Why a fabric calculation has no answer. Every variant says which input, what it was and what it must be.
#[derive(Clone, Debug, Error, PartialEq)]
#[non_exhaustive]
pub enum FabricError {
    /// A quantity that must be above zero (and finite) is not.
    #[error("{what}: {quantity} is {value}, but must be above zero and finite")]
    NotPositive {
        /// The thing described, such as `layer 3`.
        what: String,
        /// The quantity at fault, with its unit.
        quantity: &'static str,
        /// Its value.
        value: f64,
    },
    /// A quantity lies outside the range the method holds for.
    #[error("{what}: {quantity} is {value}, but must lie between {low} and {high}")]
    OutOfRange {
        /// The thing described.
        what: String,
        /// The quantity at fault, with its unit.
        quantity: &'static str,
        /// Its value.
        value: f64,
        /// Lowest value allowed.
        low: f64,
        /// Highest value allowed.
        high: f64,
    },
    /// There is nothing between the two faces.
    #[error("{what}: no layer has any thermal resistance, so the faces are one; give at least one layer")]
    NoResistance {
        /// The thing described.
        what: String,
    },
    /// The parts of something that must add up to a whole do not.
    #[error("{what}: {detail}")]
    Inconsistent {
        /// The thing described.
        what: String,
        /// What does not fit, and what to give instead.
        detail: String,
    },
    /// Two product figures were declared under rules that do not compare.
    #[error("{quantity}: declared by {found}, wanted by {wanted}; {hint}")]
    UnlikeRatings {
        /// The quantity compared.
        quantity: &'static str,
        /// The rating it carries.
        found: String,
        /// The rating it was asked by.
        wanted: String,
        /// What to do instead.
        hint: &'static str,
    },
    /// An iteration stopped before its tolerance.
    #[error("{what}: no convergence after {iterations} iterations (last change {change})")]
    NoConvergence {
        /// The calculation.
        what: String,
        /// Iterations done.
        iterations: u32,
        /// Last relative change.
        change: f64,
    },
    /// Numbers too extreme to carry through in double precision.
    #[error("{what}: {detail}")]
    Numerical {
        /// The calculation.
        what: String,
        /// What failed, and what to do about it.
        detail: String,
    },
}

/// Checks that a value is above zero and finite.
pub(crate) fn positive(
    what: impl FnOnce() -> String,
    quantity: &'static str,
    value: f64,
) -> Result<f64, FabricError> {
    if value > 0.0 && value.is_finite() {
        Ok(value)
    } else {
        Err(FabricError::NotPositive { what: what(), quantity, value })
    }
}

/// Checks that a value lies in a closed range.
pub(crate) fn within(
    what: impl FnOnce() -> String,
    quantity: &'static str,
    value: f64,
    low: f64,
    high: f64,
) -> Result<f64, FabricError> {
    if value >= low && value <= high {
        Ok(value)
    } else {
        Err(FabricError::OutOfRange { what: what(), quantity, value, low, high })
    }
}
