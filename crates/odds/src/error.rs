//! What can go wrong.

use numeric::NumericError;

/// Why odds could not be worked out.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum OddsError {
    /// A list has the wrong length.
    #[error("{what}: {found} does not fit")]
    Sizes {
        /// Which list.
        what: &'static str,
        /// What was found.
        found: usize,
    },
    /// A record came twice.
    #[error("record {record} has been taken in already; each record counts once")]
    Twice {
        /// Its id.
        record: String,
    },
    /// A reading that is no number, or whose error is none.
    #[error("a reading of {seen} with error variance {variance} says nothing that can be weighed")]
    Reading {
        /// What was read.
        seen: f64,
        /// Variance of its error.
        variance: f64,
    },
    /// A reading of something that is not uncertain.
    #[error("nothing that this reading speaks of is uncertain: {what}")]
    NothingToLearn {
        /// The value or record.
        what: String,
    },
    /// No sample fits what was read.
    #[error("no sample fits what was read (after {powers} steps): a reading or a spread is wrong")]
    NoFit {
        /// Powers taken before giving up.
        powers: usize,
    },
    /// From the numbers below.
    #[error(transparent)]
    Numeric(#[from] NumericError),
    /// From the year below.
    #[error(transparent)]
    Year(#[from] year::YearError),
}
