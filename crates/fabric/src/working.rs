//! The working behind a number: symbols, values, units, clause.

/// One line of a working.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Symbol, such as `R_T`.
    pub symbol: String,
    /// What it is, in words.
    pub meaning: String,
    /// Its value, in `unit`.
    pub value: f64,
    /// Unit; empty for a ratio.
    pub unit: &'static str,
    /// Document and clause the step rests on; empty for what was given.
    pub clause: &'static str,
}

/// How a number came about, in the order of the steps; the last line is the result.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Working {
    /// The steps.
    pub lines: Vec<Line>,
}

impl Working {
    /// Returns an empty working.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a step and returns its value, so that a formula can be written down as it is worked out.
    pub fn step(
        &mut self,
        symbol: impl Into<String>,
        meaning: impl Into<String>,
        value: f64,
        unit: &'static str,
        clause: &'static str,
    ) -> f64 {
        self.lines.push(Line { symbol: symbol.into(), meaning: meaning.into(), value, unit, clause });
        value
    }

    /// Returns the value last given to a symbol.
    pub fn value(&self, symbol: &str) -> Option<f64> {
        self.lines.iter().rev().find(|line| line.symbol == symbol).map(|line| line.value)
    }
}
