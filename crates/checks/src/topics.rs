//! The checks by subject, one file each. A topic's `checks()` returns its list; add it to [`all`].

use crate::Check;

mod contaminants;
mod ducts;
mod pressure_tests;
mod ventilation;

/// Returns every check of every topic, in a fixed order.
pub(crate) fn all() -> Vec<Check> {
    let topics: &[fn() -> Vec<Check>] =
        &[contaminants::checks, ducts::checks, pressure_tests::checks, ventilation::checks];
    topics.iter().flat_map(|topic| topic()).collect()
}
