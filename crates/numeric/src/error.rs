//! What can go wrong in a numerical method, as data.

use std::fmt;

/// Why a numerical method gave no result.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum NumericError {
    /// A root was sought between two places where the function has the same sign.
    NotBracketed {
        /// Lower end of the interval.
        a: f64,
        /// Upper end of the interval.
        b: f64,
        /// Function value at `a`.
        f_a: f64,
        /// Function value at `b`.
        f_b: f64,
    },
    /// An iteration ran out of steps.
    NoConvergence {
        /// The method.
        method: &'static str,
        /// Steps taken.
        iterations: usize,
        /// What was still left, in the method's own measure.
        residual: f64,
    },
    /// A matrix has no inverse to working precision.
    Singular {
        /// Row of the pivot that vanished, from 0.
        row: usize,
    },
    /// A matrix that should be positive definite is not.
    NotPositiveDefinite {
        /// Row where it showed, from 0.
        row: usize,
    },
    /// Sizes of the arguments do not fit together.
    Sizes {
        /// What was given.
        what: &'static str,
        /// Length needed.
        expected: usize,
        /// Length found.
        found: usize,
    },
    /// A parameter lies outside its range or is not finite.
    Parameter {
        /// Name of the parameter.
        name: &'static str,
        /// Its value.
        value: f64,
        /// What it must be.
        needed: &'static str,
    },
}

impl fmt::Display for NumericError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotBracketed { a, b, f_a, f_b } => {
                write!(f, "no sign change between {a} (value {f_a}) and {b} (value {f_b})")
            }
            Self::NoConvergence { method, iterations, residual } => {
                write!(f, "{method} did not converge in {iterations} steps; left over {residual}")
            }
            Self::Singular { row } => write!(f, "the matrix is singular (pivot of row {row})"),
            Self::NotPositiveDefinite { row } => {
                write!(f, "the matrix is not positive definite (row {row})")
            }
            Self::Sizes { what, expected, found } => {
                write!(f, "{what}: {expected} values needed, {found} given")
            }
            Self::Parameter { name, value, needed } => write!(f, "{name} is {value}; it must be {needed}"),
        }
    }
}

impl std::error::Error for NumericError {}

/// Checks a parameter; the sentence says what it must be.
pub(crate) fn require(
    ok: bool,
    name: &'static str,
    value: f64,
    needed: &'static str,
) -> Result<(), NumericError> {
    if ok { Ok(()) } else { Err(NumericError::Parameter { name, value, needed }) }
}

/// Checks a length.
pub(crate) fn require_len(what: &'static str, expected: usize, found: usize) -> Result<(), NumericError> {
    if expected == found { Ok(()) } else { Err(NumericError::Sizes { what, expected, found }) }
}
