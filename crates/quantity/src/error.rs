//! What can be wrong with a written quantity, where, and what to write instead.

use crate::show::usual_unit;
use crate::{Dimension, System};
use std::fmt;
use std::ops::Range;

/// A text that is not a quantity of the dimension asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadError {
    /// Where in the text, in bytes; always on character boundaries.
    pub span: Range<usize>,
    /// What was asked for.
    pub dimension: Dimension,
    /// What is wrong.
    pub problem: Problem,
}

/// What is wrong with the text at the [span](ReadError::span).
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Problem {
    /// Nothing but white space.
    Empty,
    /// More text than any quantity needs.
    TooLong {
        /// Length of the text in bytes.
        bytes: usize,
    },
    /// A number was due.
    NotANumber {
        /// What stands there instead.
        found: String,
    },
    /// A comma inside a number.
    Comma {
        /// The number as written.
        written: String,
        /// The same with a decimal point.
        decimal: String,
        /// The same with the comma taken as a thousands mark, where that is possible.
        thousands: Option<String>,
    },
    /// A fraction over zero.
    ZeroDenominator,
    /// A number beyond the range of a 64-bit float, or so small that it would become zero.
    OutOfRange {
        /// The number as written.
        written: String,
    },
    /// A bare number where a unit is needed.
    UnitMissing {
        /// The number as written.
        number: String,
    },
    /// A word or symbol that is no unit.
    UnitUnknown {
        /// The word.
        found: String,
        /// The nearest unit known.
        near: Option<&'static str>,
    },
    /// A unit that is not put together rightly.
    UnitMalformed {
        /// What is wrong with it.
        why: &'static str,
    },
    /// A right unit of another dimension.
    WrongDimension {
        /// The unit as written.
        unit: String,
        /// What it is a unit of, where that has a name here.
        found: Option<Dimension>,
    },
    /// Text left over after the quantity.
    Trailing {
        /// The text.
        found: String,
    },
    /// In `2 ft 6 in` each unit must be smaller than the one before and of the same kind.
    PiecesOutOfOrder,
    /// Lower than absolute zero.
    BelowAbsoluteZero,
    /// A spread sign with nothing behind it.
    SpreadMissing {
        /// The sign.
        sign: &'static str,
    },
    /// A spread that is zero or negative.
    SpreadNotPositive,
    /// `0.82 ± 3 %` can mean 0.03 or 0.0246.
    SpreadAmbiguous,
    /// A spread in per cent or by a factor, of a value that has no natural zero or is zero.
    SpreadNeedsAmount {
        /// Why not.
        why: &'static str,
    },
    /// A factor must be above one.
    FactorNotAboveOne,
    /// A factor needs a value above zero.
    FactorOfNonPositive,
    /// A factor is a plain number.
    FactorWithUnit,
    /// Two spreads on one value.
    SpreadTwice,
    /// The ends of a range are equal or swapped.
    RangeNotRising,
    /// Two currencies in one quantity.
    MixedCurrency,
    /// An equivalent air layer of zero has no finite permeance, and the other way round.
    NoReciprocal,
}

impl ReadError {
    /// Returns what was expected, such as `a length with its unit`.
    pub fn expected(&self) -> String {
        match &self.problem {
            Problem::NotANumber { .. } | Problem::Comma { .. } => "a number".into(),
            Problem::FactorWithUnit => "a plain factor".into(),
            Problem::UnitMissing { .. } | Problem::UnitUnknown { .. }
                if self.dimension == Dimension::Money =>
            {
                "a currency".into()
            }
            Problem::UnitMissing { .. } | Problem::UnitUnknown { .. } | Problem::UnitMalformed { .. } => {
                format!("a unit of {}", self.dimension.name())
            }
            Problem::SpreadMissing { .. } => "a spread".into(),
            _ => self.dimension.with_article(),
        }
    }

    /// Returns what was found, as one phrase.
    pub fn found(&self) -> String {
        match &self.problem {
            Problem::Empty => "nothing".into(),
            Problem::TooLong { bytes } => format!("a text of {bytes} bytes"),
            Problem::NotANumber { found } if found.is_empty() => "nothing".into(),
            Problem::NotANumber { found } | Problem::Trailing { found } => format!("`{found}`"),
            Problem::Comma { written, .. } => format!("`{written}`, a number with a comma"),
            Problem::ZeroDenominator => "a fraction over zero".into(),
            Problem::OutOfRange { written } => format!("`{written}`, which no 64-bit number can hold"),
            Problem::UnitMissing { number } => format!("the bare number `{number}`"),
            Problem::UnitUnknown { found, .. } => format!("`{found}`, which is no unit known here"),
            Problem::UnitMalformed { why } => (*why).into(),
            Problem::WrongDimension { unit, found: Some(found) } => {
                format!("{} (`{unit}`)", found.with_article())
            }
            Problem::WrongDimension { unit, found: None } => format!("`{unit}`, a unit of something else"),
            Problem::PiecesOutOfOrder => "parts that do not run from large to small units of one kind".into(),
            Problem::BelowAbsoluteZero => "a temperature below absolute zero".into(),
            Problem::SpreadMissing { sign } => format!("nothing after `{sign}`"),
            Problem::SpreadNotPositive => "a spread that is not above zero".into(),
            Problem::SpreadAmbiguous => "per cent of a ratio that is not itself in per cent".into(),
            Problem::SpreadNeedsAmount { why } => (*why).into(),
            Problem::FactorWithUnit => "a factor with a unit".into(),
            Problem::FactorNotAboveOne => "a factor that is not above one".into(),
            Problem::FactorOfNonPositive => "a factor on a value that is not above zero".into(),
            Problem::SpreadTwice => "a second spread".into(),
            Problem::RangeNotRising => "a range that does not rise".into(),
            Problem::MixedCurrency => "two currencies in one sum".into(),
            Problem::NoReciprocal => "a value whose reciprocal is not finite".into(),
        }
    }

    /// Returns a text that would have been right.
    pub fn example(&self) -> &'static str {
        self.dimension.example()
    }

    /// Returns what to write instead, where more can be said than the example says.
    pub fn hint(&self) -> Option<String> {
        let text = match &self.problem {
            Problem::Comma { written, decimal, thousands: None } => format!("write {decimal}, not {written}"),
            Problem::Comma { written, decimal, thousands: Some(thousands) } => format!(
                "{written} can be read two ways: write {thousands} for the large number, {decimal} for the small one"
            ),
            Problem::UnitUnknown { found, .. } if found == "to" => RANGE.into(),
            Problem::UnitUnknown { near: Some(near), .. } => format!("did you mean `{near}`?"),
            Problem::UnitMissing { number } => {
                format!("write its unit after it: {}", with_units(number, self.dimension))
            }
            Problem::WrongDimension { found, .. } => return wrong_dimension_hint(self.dimension, *found),
            Problem::PiecesOutOfOrder => "write the larger unit first, as in 2 ft 6 in".into(),
            Problem::SpreadMissing { .. } => "write an amount with its unit, or per cent, as in ± 5 %".into(),
            Problem::SpreadNotPositive => "leave the spread out if the value is exact".into(),
            Problem::SpreadAmbiguous => {
                "write 82 % ± 3 % for three points in a hundred, or 0.82 ± 0.03 with a plain number".into()
            }
            Problem::SpreadNeedsAmount { .. } => "give the spread as an amount with its unit".into(),
            Problem::FactorNotAboveOne | Problem::FactorWithUnit => {
                "×/÷ 2 means between half and twice the value".into()
            }
            Problem::FactorOfNonPositive => "use ± with an amount instead".into(),
            Problem::RangeNotRising => "write the lower end first, as in 5..7 mm".into(),
            Problem::Trailing { found } => return trailing_hint(found),
            Problem::TooLong { .. } => "a quantity is a number, a unit and at most one spread".into(),
            _ => return None,
        };
        Some(text)
    }
}

/// Returns a bare number with the usual unit of each system.
fn with_units(number: &str, dimension: Dimension) -> String {
    let [si, us] = [System::Si, System::Us].map(|system| usual_unit(dimension, system));
    match dimension {
        Dimension::Money => format!("{number} USD or ${number}"),
        Dimension::Resistance => format!("{number} {si} or R-{number}"),
        _ if si == us => format!("{number} {si}"),
        _ => format!("{number} {si} or {number} {us}"),
    }
}

const RANGE: &str = "a range is written with two dots, as in 5..7 mm";

fn wrong_dimension_hint(expected: Dimension, found: Option<Dimension>) -> Option<String> {
    use Dimension as D;
    let text = match (expected, found?) {
        (D::Transmittance, D::Resistance) => {
            "this asks for U; a resistance is its reciprocal with films added"
        }
        (D::Resistance, D::Transmittance) => "this asks for R; a transmittance is not its plain reciprocal",
        (D::Mass, D::Power) => "a ton here is a ton of cooling; write t (1000 kg) or lb for a mass",
        (D::Concentration, D::Ratio) => "1 % by volume is 10 000 ppm",
        (D::Temperature, D::TemperatureDifference) => "F° and C° are differences; write °F or °C",
        (D::Resistance, D::Conductivity) => "divide the thickness by the conductivity",
        _ => return None,
    };
    Some(text.into())
}

fn trailing_hint(found: &str) -> Option<String> {
    let start = found.trim_start();
    let dash = start.starts_with(['-', '–', '—']) || start.starts_with("to ");
    dash.then(|| RANGE.into())
}

impl fmt::Display for ReadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "expected {}, found {}", self.expected(), self.found())?;
        if let Some(hint) = self.hint() {
            write!(f, "; {hint}")?;
        }
        write!(f, " (example: {})", self.example())
    }
}

impl std::error::Error for ReadError {}
