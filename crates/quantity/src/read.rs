//! Text to value: [`read`].
//!
//! A text is a value and at most one spread sign with what belongs to it; the sign is found first
//! ([`spread`](crate::spread)), then each side is read as a figure and a unit ([`value`](crate::value)).

use crate::error::{Problem, ReadError};
use crate::number::Fault;
use crate::spread::{Found, Sign, Spread, find_sign};
use crate::unit::Unit;
use crate::value::{Raw, inverted, raw};
use crate::{Currency, Dimension, System};
use std::ops::Range;

/// A quantity as read.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The value in the [canonical unit](Dimension::canonical_unit); the middle of a range.
    pub value: f64,
    /// The spread, if one was written.
    pub spread: Option<Spread>,
    /// What it is a quantity of.
    pub dimension: Dimension,
    /// The system of the unit it was written in; `None` for units both systems use.
    pub system: Option<System>,
    /// The currency of a sum of money or price.
    pub currency: Option<Currency>,
    /// The value as written, without its spread (the whole range, if it is a range).
    pub written: String,
}

/// Longest text looked at, in bytes. A number written out to the last digit of the smallest float is longer, but
/// no one writes it, and [`write_exact`](crate::write_exact) uses powers of ten.
const LONGEST: usize = 400;

/// Reads a quantity of the given dimension, such as `7 1/2 in`, `85 cfm ± 5 %` or `5..7 mm`.
///
/// Both systems may be mixed freely. The result is in the dimension's
/// [canonical unit](Dimension::canonical_unit). A spread is `± a` or `+/- a` (half-width that holds 95 %; an
/// amount or per cent), `a..b`, `×/÷ f` or `x/ f`, `tolerance ± a`. Of a ratio written in per cent, `± 2 %` means
/// two points. The year of a duration has 8760 h.
///
/// # Errors
/// [`ReadError`] with the place, what was expected and found, and what to write instead: no number, a comma in
/// it, a missing, unknown or wrong unit, a value that is not finite, a spread that makes no sense. Signs and
/// sensible ranges of the value are the caller's business, but for absolute zero.
///
/// # Example
/// ```
/// use quantity::{Dimension, Spread, read};
/// let thickness = read("7 1/2 in ± 5 %", Dimension::Length)?;
/// assert_eq!(thickness.value, 0.1905);
/// assert_eq!(thickness.spread, Some(Spread::HalfWidth95(0.009525)));
/// let error = read("12 kg", Dimension::Length).unwrap_err();
/// assert_eq!(&"12 kg"[error.span.clone()], "kg");
/// assert_eq!(error.found(), "a mass (`kg`)");
/// # Ok::<(), quantity::ReadError>(())
/// ```
pub fn read(text: &str, dimension: Dimension) -> Result<Reading, ReadError> {
    read_whole(text, dimension).map_err(|(span, problem)| ReadError { span, dimension, problem })
}

fn read_whole(text: &str, dimension: Dimension) -> Result<Reading, Fault> {
    if text.len() > LONGEST {
        return Err((0..0, Problem::TooLong { bytes: text.len() }));
    }
    if text.trim().is_empty() {
        return Err((0..text.len(), Problem::Empty));
    }
    let Some(found) = find_sign(text) else {
        let value = raw(text, 0..text.len(), dimension)?;
        return finish(text, 0..text.len(), &value, convert(&value, dimension)?, None, dimension);
    };
    if let Some(second) = find_sign(&text[found.end..]) {
        let span = found.end + second.start..found.end + second.end;
        return Err((span, Problem::SpreadTwice));
    }
    if text[found.end..].trim().is_empty() {
        return Err((found.start..found.end, Problem::SpreadMissing { sign: found.sign.text() }));
    }
    match found.sign {
        Sign::Range => range(text, found, dimension),
        _ => value_and_spread(text, found, dimension),
    }
}

/// Reads `a..b`; a bare end takes the unit of the other.
fn range(text: &str, found: Found, dimension: Dimension) -> Result<Reading, Fault> {
    let mut low = raw(text, 0..found.start, dimension)?;
    let mut high = raw(text, found.end..text.len(), dimension)?;
    (low.unit, high.unit) = (low.unit.or(high.unit), high.unit.or(low.unit));
    let air_layer = low.air_layer || high.air_layer;
    for end in [&mut low, &mut high] {
        end.inverted = end.unit.is_some_and(|unit| inverted(unit, air_layer, dimension));
    }
    let (mut a, mut b) = (convert(&low, dimension)?, convert(&high, dimension)?);
    if low.inverted && high.inverted {
        (a, b) = (b, a);
    }
    if a >= b {
        return Err((low.span.start..high.span.end, Problem::RangeNotRising));
    }
    let merged = same_currency(&low, &high)?;
    let spread = Spread::Range { low: a, high: b };
    finish(text, 0..text.len(), &Raw { unit: merged, ..low }, a / 2.0 + b / 2.0, Some(spread), dimension)
}

fn same_currency(value: &Raw, other: &Raw) -> Result<Option<Unit>, Fault> {
    let currency = |raw: &Raw| raw.unit.and_then(|unit| unit.currency);
    if currency(value) != currency(other) {
        return Err((other.span.clone(), Problem::MixedCurrency));
    }
    Ok(value.unit)
}

fn value_and_spread(text: &str, found: Found, dimension: Dimension) -> Result<Reading, Fault> {
    // A comma may set the word off: `60 mm, tolerance ± 3 mm`.
    let end = text[..found.start].trim_end().trim_end_matches(',').len();
    let value = raw(text, 0..end, dimension)?;
    let canonical = convert(&value, dimension)?;
    let spread = match found.sign {
        Sign::Factor => factor(text, found, canonical, dimension)?,
        sign => {
            let half = half_width(text, found, &value, canonical, dimension)?;
            if sign == Sign::Tolerance { Spread::Tolerance(half) } else { Spread::HalfWidth95(half) }
        }
    };
    finish(text, 0..end, &value, canonical, Some(spread), dimension)
}

/// Reads the factor after `×/÷`.
fn factor(text: &str, found: Found, value: f64, dimension: Dimension) -> Result<Spread, Fault> {
    let right = raw(text, found.end..text.len(), Dimension::Ratio)?;
    let span = right.span.clone();
    if right.unit.is_some() {
        return Err((right.unit_span, Problem::FactorWithUnit));
    }
    if dimension == Dimension::Temperature {
        return Err((span, Problem::SpreadNeedsAmount { why: NO_ZERO }));
    }
    if right.figure <= 1.0 {
        return Err((span, Problem::FactorNotAboveOne));
    }
    if value <= 0.0 {
        return Err((0..found.start, Problem::FactorOfNonPositive));
    }
    Ok(Spread::Factor95(right.figure))
}

const NO_ZERO: &str = "a share of a temperature, whose zero is arbitrary";

/// Reads the amount after `±` and returns it in the canonical unit.
fn half_width(
    text: &str,
    found: Found,
    value: &Raw,
    canonical: f64,
    dimension: Dimension,
) -> Result<f64, Fault> {
    let part = found.end..text.len();
    let of = match dimension {
        Dimension::Temperature => Dimension::TemperatureDifference,
        other => other,
    };
    let right = raw(text, part, of)?;
    let percent = right.unit.is_some_and(|unit| unit.percent);
    let half = if percent {
        share(&right, value, canonical, dimension)?
    } else if value.inverted || right.inverted {
        let why = "an amount on one side of a reciprocal (air layer against permeance)";
        return Err((right.span, Problem::SpreadNeedsAmount { why }));
    } else {
        same_currency(value, &right)?;
        convert(&right, of)?
    };
    if half <= 0.0 {
        return Err((right.span, Problem::SpreadNotPositive));
    }
    if !half.is_finite() {
        return Err((right.span.clone(), Problem::OutOfRange { written: text[right.span].to_owned() }));
    }
    Ok(half)
}

/// Turns a spread in per cent into an amount.
fn share(right: &Raw, value: &Raw, canonical: f64, dimension: Dimension) -> Result<f64, Fault> {
    let fail = |problem| Err((right.span.clone(), problem));
    let points = right.figure * 0.01;
    match dimension {
        Dimension::Ratio if value.unit.is_some_and(|unit| unit.percent) => Ok(points),
        Dimension::Ratio => fail(Problem::SpreadAmbiguous),
        Dimension::Temperature => fail(Problem::SpreadNeedsAmount { why: NO_ZERO }),
        _ if canonical == 0.0 => fail(Problem::SpreadNeedsAmount { why: "per cent of zero" }),
        _ => Ok(points * canonical.abs()),
    }
}

/// Converts a figure with its unit into the canonical unit, checking the dimension.
fn convert(raw: &Raw, dimension: Dimension) -> Result<f64, Fault> {
    let unit = match raw.unit {
        Some(unit) => unit,
        None if dimension.needs_unit() => {
            let number = raw.number.clone();
            return Err((raw.span.clone(), Problem::UnitMissing { number }));
        }
        None => Unit::ONE,
    };
    let out_of_range = || (raw.span.clone(), Problem::OutOfRange { written: raw.number.clone() });
    let value = if dimension == Dimension::Temperature {
        temperature(raw, unit)?
    } else {
        if !raw.inverted && !dimension.accepts(unit.signature) {
            return Err((raw.unit_span.clone(), wrong(unit, raw.unit_text.clone())));
        }
        scale(raw, unit, dimension)
    };
    if !value.is_finite() || (value == 0.0 && raw.figure != 0.0 && dimension != Dimension::Temperature) {
        return Err(if raw.inverted { (raw.span.clone(), Problem::NoReciprocal) } else { out_of_range() });
    }
    Ok(value)
}

fn scale(raw: &Raw, unit: Unit, dimension: Dimension) -> f64 {
    if raw.inverted {
        // permeance = δ_air / s_d, and the other way round.
        let other =
            if dimension == Dimension::Permeance { Dimension::AirLayer } else { Dimension::Permeance };
        return crate::AIR_VAPOUR_PERMEABILITY / (raw.figure * unit.size_in(other));
    }
    raw.figure * unit.size_in(dimension)
}

fn temperature(raw: &Raw, unit: Unit) -> Result<f64, Fault> {
    use crate::units::Scale;
    let Some(scale) = unit.scale else {
        return Err((raw.unit_span.clone(), wrong(unit, raw.unit_text.clone())));
    };
    let celsius = match scale {
        Scale::Celsius => raw.figure,
        Scale::Fahrenheit => (raw.figure - 32.0) / 1.8,
        Scale::Kelvin => raw.figure - ABSOLUTE_ZERO_K,
    };
    // Half a nano-kelvin of room for a rounded -459.67 °F.
    if celsius < -ABSOLUTE_ZERO_K - 5e-10 {
        return Err((raw.span.clone(), Problem::BelowAbsoluteZero));
    }
    Ok(celsius)
}

/// Zero of the Celsius scale in kelvins, exact by definition.
pub(crate) const ABSOLUTE_ZERO_K: f64 = 273.15;

/// Says which dimension a unit belongs to.
fn wrong(unit: Unit, text: String) -> Problem {
    let difference = unit.signature == Dimension::TemperatureDifference.signature();
    let found = if difference && unit.scale.is_none() {
        Some(Dimension::TemperatureDifference)
    } else if unit.signature == Dimension::Ratio.signature() {
        Some(Dimension::Ratio)
    } else {
        Dimension::ALL.into_iter().find(|d| d.accepts(unit.signature))
    };
    Problem::WrongDimension { unit: text, found }
}

fn finish(
    text: &str,
    written: Range<usize>,
    raw: &Raw,
    value: f64,
    spread: Option<Spread>,
    dimension: Dimension,
) -> Result<Reading, Fault> {
    let unit = raw.unit.unwrap_or(Unit::ONE);
    let system = match (unit.us, unit.si) {
        (true, _) => Some(System::Us),
        (false, true) => Some(System::Si),
        (false, false) => None,
    };
    let written = text[written].trim().to_owned();
    // `$/$` is a plain ratio.
    let money = matches!(dimension, Dimension::Money | Dimension::EnergyPrice);
    let currency = unit.currency.filter(|_| money);
    Ok(Reading { value, spread, dimension, system, currency, written })
}
