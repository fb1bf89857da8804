//! Values with their unit in front: `$900`, `USD 900`, `R-31`, `RSI 5.4`, `sd 2 m`.

use crate::Dimension;
use crate::error::Problem;
use crate::number::{Fault, Number, number};
use crate::unit::{unit, word_length};
use crate::value::{Raw, at, bare, inverted, opens_or_point, trailing, with_unit};

/// What stands in front of the figure.
#[derive(Clone, Copy)]
enum Prefix {
    /// `R` and `RSI` stand for a unit.
    Unit(&'static str),
    /// `sd` says that a length is an equivalent air layer.
    AirLayer,
    /// A currency.
    Currency,
}

const US_RESISTANCE: Prefix = Prefix::Unit("ft²·h·°F/Btu");

/// Longer words before those they begin with.
const WORDS: [(&str, Prefix); 7] = [
    ("RSI", Prefix::Unit("m²·K/W")),
    ("R-value", US_RESISTANCE),
    ("R", US_RESISTANCE),
    ("r", US_RESISTANCE),
    ("sd", Prefix::AirLayer),
    ("s_d", Prefix::AirLayer),
    ("Sd", Prefix::AirLayer),
];

/// Marks that may stand between a word and its figure; the hyphen of `R-31` is no minus sign.
const LINKS: [char; 4] = [' ', '-', '=', '\u{2011}'];

/// Reads a value that begins with a unit; `None` if the text does not begin so.
pub(crate) fn prefixed(text: &str, dimension: Dimension) -> Result<Option<Raw>, Fault> {
    let Some((length, prefix)) = find(text) else { return Ok(None) };
    let figure = figure_behind(text, length, prefix)?;
    match prefix {
        Prefix::Unit(name) => implied(text, length, name, figure),
        Prefix::AirLayer => air_layer(text, length, figure, dimension),
        Prefix::Currency => money(text, length, figure),
    }
    .map(Some)
}

/// Finds a prefix with a figure behind it, and its length.
fn find(text: &str) -> Option<(usize, Prefix)> {
    let follows = |rest: &str| rest.trim_start_matches(LINKS).starts_with(opens_or_point);
    let word = WORDS.into_iter().find(|(word, _)| text.strip_prefix(word).is_some_and(follows));
    if let Some((word, prefix)) = word {
        return Some((word.len(), prefix));
    }
    let length =
        text.find(|c: char| !(c.is_alphabetic() || "$€£".contains(c))).filter(|length| *length > 0)?;
    let figure =
        text[length..].trim_start().trim_start_matches(['-', '\u{2212}']).starts_with(opens_or_point);
    let currency = || unit(&text[..length], false).is_ok_and(|unit| unit.currency.is_some());
    (figure && currency()).then_some((length, Prefix::Currency))
}

fn figure_behind(text: &str, length: usize, prefix: Prefix) -> Result<Number, Fault> {
    let rest = match prefix {
        Prefix::Currency => text[length..].trim_start(),
        _ => text[length..].trim_start_matches(LINKS),
    };
    let from = text.len() - rest.len();
    let figure = number(rest).map_err(|f| at(f, from))?;
    Ok(Number { value: figure.value, start: figure.start + from, end: figure.end + from })
}

fn implied(text: &str, length: usize, name: &str, figure: Number) -> Result<Raw, Fault> {
    if !text[figure.end..].trim().is_empty() {
        return Err(trailing(text, figure.end));
    }
    Ok(with_unit(text, figure, unit(name, false)?, 0..length, false))
}

fn air_layer(text: &str, length: usize, figure: Number, dimension: Dimension) -> Result<Raw, Fault> {
    if !matches!(dimension, Dimension::Permeance | Dimension::AirLayer) {
        let unit = text[..length].to_owned();
        return Err((0..length, Problem::WrongDimension { unit, found: Some(Dimension::AirLayer) }));
    }
    let rest = text[figure.end..].trim_start();
    if rest.is_empty() {
        return Ok(Raw { air_layer: true, ..bare(text, figure) });
    }
    let start = text.len() - rest.len();
    let found = unit(rest, false).map_err(|f| at(f, start))?;
    let inverted = inverted(found, true, dimension);
    Ok(Raw { air_layer: true, ..with_unit(text, figure, found, start..text.len(), inverted) })
}

/// Reads `$900`, or `$0.18 / kWh` with the rest of the unit behind the figure.
fn money(text: &str, length: usize, figure: Number) -> Result<Raw, Fault> {
    let mut found = unit(&text[..length], false)?;
    let rest = text[figure.end..].trim_start();
    if !rest.is_empty() {
        let start = text.len() - rest.len();
        let tail = unit(rest, false).map_err(|f| at(f, start))?;
        if !rest.starts_with('/') && word_length(rest, "per").is_none() {
            return Err(trailing(text, start));
        }
        found = found.product(tail).map_err(|problem| (start..text.len(), problem))?;
    }
    Ok(with_unit(text, figure, found, 0..length, false))
}
