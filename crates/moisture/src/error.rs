//! What can be wrong with a request to this crate.

use thiserror::Error;

/// Why a moisture calculation has no answer. Every variant says which input, what it was and what it must be.
#[derive(Clone, Debug, Error, PartialEq)]
#[non_exhaustive]
pub enum MoistureError {
    /// A quantity lies outside the range the method holds for.
    #[error("{what}: {quantity} is {value}, but must lie between {low} and {high}")]
    OutOfRange {
        /// The thing described, such as `layer 3 (plywood)`.
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
    /// A property is needed, not given, and no documented estimate covers it.
    #[error("{material}: {property} is not known and nothing here may guess it; {hint}")]
    Missing {
        /// The material.
        material: String,
        /// The property.
        property: &'static str,
        /// What to give instead.
        hint: &'static str,
    },
    /// Parts of a request do not fit each other.
    #[error("{what}: {detail}")]
    Inconsistent {
        /// The thing described.
        what: String,
        /// What does not fit, and what to give instead.
        detail: String,
    },
    /// The equations of a step found no solution, even in the shortest step allowed.
    #[error(
        "no solution at hour {hour:.3} in {place}: the moisture balance misses {residual_kg_m2:.2e} kg/m² and the \
         heat balance {residual_j_m2:.2e} J/m² after {iterations} iterations of a {step_s} s step"
    )]
    NoConvergence {
        /// Time from the start, h.
        hour: f64,
        /// Layer or interface with the worst balance.
        place: String,
        /// Its moisture balance, kg/m².
        residual_kg_m2: f64,
        /// Its heat balance, J/m².
        residual_j_m2: f64,
        /// Iterations done.
        iterations: u32,
        /// Last step tried, s.
        step_s: f64,
    },
    /// The number of steps allowed was used up.
    #[error(
        "stopped at hour {hour:.1}: {steps} steps were not enough; loosen the tolerances or allow more steps"
    )]
    TooManySteps {
        /// Time reached, h.
        hour: f64,
        /// Steps done.
        steps: u64,
    },
}

/// Checks that a value lies in a closed range; NaN does not.
pub(crate) fn within(
    what: &str,
    quantity: &'static str,
    value: f64,
    low: f64,
    high: f64,
) -> Result<f64, MoistureError> {
    if value >= low && value <= high {
        Ok(value)
    } else {
        Err(MoistureError::OutOfRange { what: what.to_owned(), quantity, value, low, high })
    }
}
