//! What can be wrong with a plan, each with the plan item it belongs to.

use std::fmt;

/// How bad a problem is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The model is not what was meant: nothing is run.
    Error,
    /// The model stands, but someone should look.
    Warning,
}

/// Something wrong with the plan.
///
/// `item` is the path of the plan item as the book writes it, `storey.upper.footprint`, `opening.S1.size`, `space.hall.plan`,
/// so that whoever read the text can say file, line and column.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ModelProblem {
    /// Short stable code: `name`, `geometry`, `overlap`, ...
    pub code: &'static str,
    /// Error or warning.
    pub severity: Severity,
    /// Path of the plan item.
    pub item: String,
    /// What is wrong, one sentence without a full stop.
    pub message: String,
    /// What to write instead.
    pub help: String,
}

impl ModelProblem {
    /// Makes an error.
    pub fn error(
        code: &'static str,
        item: impl Into<String>,
        message: String,
        help: impl Into<String>,
    ) -> Self {
        Self { code, severity: Severity::Error, item: item.into(), message, help: help.into() }
    }

    /// Makes a warning.
    pub fn warning(
        code: &'static str,
        item: impl Into<String>,
        message: String,
        help: impl Into<String>,
    ) -> Self {
        Self { code, severity: Severity::Warning, item: item.into(), message, help: help.into() }
    }
}

impl fmt::Display for ModelProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let word = match self.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
        };
        write!(f, "{word}[{}] {}: {}; {}", self.code, self.item, self.message, self.help)
    }
}
