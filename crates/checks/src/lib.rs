//! Published checks: every law of the lower floors held against the outside world.
//!
//! A [`Check`] is one number computed by our engines beside one number from elsewhere, with a tolerance whose
//! reason is known. The same list runs as tests and as `windtight verify`. Topics live in [`topics`], one file
//! a subject; their reference data lies under `/reference` with its source.
//!
//! Every check can be *nudged*: its closure takes a factor that scales one engine input, so that
//! [`self_test`] can show that the check would notice an error.
#![forbid(unsafe_code)]

pub mod reference;
pub mod topics;

use std::fmt;

/// Where a reference number comes from; said beside every check.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Read in the published source itself.
    PublishedSeen,
    /// Published, but recalled from memory.
    PublishedMemory,
    /// Computed by an independent general-purpose library.
    IndependentLibrary,
    /// A closed form, evaluated exactly.
    ClosedForm,
    /// Our own converged solution by another method.
    OwnConverged,
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::PublishedSeen => "published, seen",
            Self::PublishedMemory => "published, from memory",
            Self::IndependentLibrary => "independent library",
            Self::ClosedForm => "closed form",
            Self::OwnConverged => "own converged solution",
        })
    }
}

/// How far a computed number may lie from its reference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tolerance {
    /// |computed − reference| at most this, in the check's unit.
    Absolute(f64),
    /// |computed − reference| at most this share of |reference|.
    Relative(f64),
}

impl Tolerance {
    /// Returns the tolerance in the check's unit.
    pub fn absolute(self, reference: f64) -> f64 {
        match self {
            Self::Absolute(a) => a,
            Self::Relative(r) => r * reference.abs(),
        }
    }
}

/// Computes a check's number with one of its engine inputs scaled by the factor given (1 = as stated).
pub type Compute = Box<dyn Fn(f64) -> Result<f64, String> + Send + Sync>;

/// One number held against the world.
pub struct Check {
    /// Stable path, such as `iso6946.case-3.u-value`.
    pub id: String,
    /// Table heading, such as `ISO 6946`.
    pub topic: &'static str,
    /// What is compared, in words.
    pub quantity: String,
    /// Unit of `reference` and of the computed number.
    pub unit: &'static str,
    /// The outside number.
    pub reference: f64,
    /// Allowed deviation, with its reason in the reference data.
    pub tolerance: Tolerance,
    /// Kind of evidence.
    pub kind: Kind,
    /// Document, table or library, with clause.
    pub source: String,
    /// True when the number itself was read in its source.
    pub seen: bool,
    /// Diagnosis, when the check is known to lie outside its tolerance.
    pub known_gap: Option<&'static str>,
    /// The engine's number; the argument scales one engine input.
    pub compute: Compute,
}

/// Outcome of one check.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Status {
    /// Inside its tolerance.
    Ok,
    /// Outside, unexplained.
    Out,
    /// Outside, with a diagnosis on record.
    KnownGap,
}

/// One check, run.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// The engine's number, or why there is none.
    pub computed: Result<f64, String>,
    /// `computed − reference`, in the check's unit; NaN without a number.
    pub deviation: f64,
    /// Verdict.
    pub status: Status,
}

impl Check {
    /// Runs the check as stated.
    pub fn run(&self) -> Outcome {
        let computed = (self.compute)(1.0);
        let deviation = computed.as_ref().map_or(f64::NAN, |v| v - self.reference);
        let within = deviation.abs() <= self.tolerance.absolute(self.reference);
        let status = match (within, self.known_gap) {
            (true, _) => Status::Ok,
            (false, Some(_)) => Status::KnownGap,
            (false, None) => Status::Out,
        };
        Outcome { computed, deviation, status }
    }

    /// Scales the check's engine input until the result has moved three tolerances, and says whether the check
    /// then reports `Out`. `Err` when no factor between 1/16 and 16 moves it that far: such a check proves nothing.
    pub fn self_test(&self) -> Result<f64, String> {
        let base = (self.compute)(1.0)?;
        let tolerance = self.tolerance.absolute(self.reference);
        let mut step = 1e-9;
        while step < 15.0 {
            for factor in [1.0 + step, 1.0 / (1.0 + step)] {
                if let Ok(moved) = (self.compute)(factor)
                    && (moved - base).abs() >= 3.0 * tolerance
                    && (moved - self.reference).abs() > tolerance
                {
                    return Ok(factor);
                }
            }
            step *= 2.0;
        }
        Err(format!("{}: no nudge of its input moves the result by three tolerances", self.id))
    }
}

/// Returns every check of every topic, in a fixed order.
pub fn all() -> Vec<Check> {
    topics::all()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_check_holds_or_is_a_diagnosed_gap() {
        let mut out = Vec::new();
        for check in all() {
            let outcome = check.run();
            if outcome.status == Status::Out {
                out.push(format!(
                    "{}: computed {:?}, reference {} {}, tolerance {:?}",
                    check.id, outcome.computed, check.reference, check.unit, check.tolerance
                ));
            }
        }
        assert!(out.is_empty(), "{}", out.join("\n"));
    }

    #[test]
    fn every_check_would_notice_an_error() {
        let blind: Vec<String> = all().iter().filter_map(|check| check.self_test().err()).collect();
        assert!(blind.is_empty(), "{}", blind.join("\n"));
    }

    #[test]
    fn ids_are_unique() {
        let mut ids: Vec<String> = all().into_iter().map(|check| check.id).collect();
        ids.sort();
        let before = ids.len();
        ids.dedup();
        assert_eq!(ids.len(), before);
    }
}
