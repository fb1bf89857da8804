//! One value: a figure and its unit, before the dimension is checked.
//!
//! Also `2 ft 6 in` and `1:24`; forms with the unit in front, such as `R-31`, are read by [`prefix`](crate::prefix).

use crate::Dimension;
use crate::error::Problem;
use crate::number::{Fault, Number, number, opens_number};
use crate::prefix::prefixed;
use crate::signature::Slot;
use crate::unit::{Unit, unit};
use std::ops::Range;

/// A figure with its unit, as written.
#[derive(Clone, Debug)]
pub(crate) struct Raw {
    pub figure: f64,
    /// `None` for a bare number.
    pub unit: Option<Unit>,
    /// The value is a reciprocal: an air layer where a permeance is asked for, or the other way round.
    pub inverted: bool,
    /// Marked `sd`.
    pub air_layer: bool,
    pub span: Range<usize>,
    pub unit_span: Range<usize>,
    pub unit_text: String,
    pub number: String,
}

/// Reads the value in `part` of `text`.
pub(crate) fn raw(text: &str, part: Range<usize>, dimension: Dimension) -> Result<Raw, Fault> {
    let inner = &text[part.clone()];
    let lead = inner.len() - inner.trim_start().len();
    let base = part.start + lead;
    let trimmed = inner.trim();
    let shift = |(span, problem): Fault| (span.start + base..span.end + base, problem);
    let mut out = one(trimmed, dimension).map_err(shift)?;
    out.span = base..base + trimmed.len();
    out.unit_span = out.unit_span.start + base..out.unit_span.end + base;
    Ok(out)
}

fn one(text: &str, dimension: Dimension) -> Result<Raw, Fault> {
    if let Some(found) = slope(text, dimension)? {
        return Ok(found);
    }
    if let Some(found) = prefixed(text, dimension)? {
        return Ok(found);
    }
    let first = number(text)?;
    if matches!(dimension, Dimension::Length | Dimension::Time | Dimension::Mass | Dimension::Angle) {
        return pieces(text, first, dimension);
    }
    let rest = text[first.end..].trim();
    let start = text.len() - rest.len();
    let (rest, air_layer) = strip_air_layer(rest, dimension);
    if rest.is_empty() {
        return Ok(Raw { air_layer, ..bare(text, first) });
    }
    if rest.strip_prefix(is_dash).is_some_and(|tail| tail.trim_start().starts_with(opens_or_point)) {
        return Err(trailing(text, first.end));
    }
    let found = unit(rest, false).map_err(|f| at(f, start))?;
    let inverted = inverted(found, air_layer, dimension);
    Ok(Raw { air_layer, ..with_unit(text, first, found, start..start + rest.len(), inverted) })
}

pub(crate) fn at((span, problem): Fault, start: usize) -> Fault {
    (span.start + start..span.end + start, problem)
}

/// What follows where nothing more should.
pub(crate) fn trailing(text: &str, from: usize) -> Fault {
    let rest = text[from..].trim_start();
    (text.len() - rest.len()..text.len(), Problem::Trailing { found: rest.chars().take(24).collect() })
}

pub(crate) fn opens_or_point(c: char) -> bool {
    opens_number(c) || c == '.'
}

fn is_dash(c: char) -> bool {
    matches!(c, '-' | '–' | '—' | '\u{2212}')
}

pub(crate) fn bare(text: &str, figure: Number) -> Raw {
    Raw {
        figure: figure.value,
        unit: None,
        inverted: false,
        air_layer: false,
        span: 0..text.len(),
        unit_span: figure.end..text.len(),
        unit_text: String::new(),
        number: text[figure.start..figure.end].to_owned(),
    }
}

pub(crate) fn with_unit(text: &str, figure: Number, unit: Unit, span: Range<usize>, inverted: bool) -> Raw {
    Raw {
        unit: Some(unit),
        unit_text: text[span.clone()].to_owned(),
        unit_span: span,
        inverted,
        ..bare(text, figure)
    }
}

/// An air layer stands for a permeance and the other way round.
pub(crate) fn inverted(unit: Unit, air_layer: bool, dimension: Dimension) -> bool {
    let is = |d: Dimension| unit.signature == d.signature();
    match dimension {
        Dimension::Permeance => air_layer && is(Dimension::AirLayer),
        Dimension::AirLayer => is(Dimension::Permeance),
        _ => false,
    }
}

/// Takes the mark off `2 m sd`.
fn strip_air_layer(rest: &str, dimension: Dimension) -> (&str, bool) {
    let wanted = matches!(dimension, Dimension::Permeance | Dimension::AirLayer);
    let marks = ["sd", "s_d", "Sd"];
    let stripped = marks.iter().find_map(|mark| rest.strip_suffix(mark)).filter(|_| wanted);
    stripped.map_or((rest, false), |inner| (inner.trim_end(), true))
}

/// Reads `1:24` as a slope (an angle) or a ratio.
fn slope(text: &str, dimension: Dimension) -> Result<Option<Raw>, Fault> {
    if !matches!(dimension, Dimension::Angle | Dimension::Ratio) || !text.contains(':') {
        return Ok(None);
    }
    let rise = number(text)?;
    let Some(colon) = text[rise.end..].trim_start().strip_prefix(':') else { return Ok(None) };
    let from = text.len() - colon.len();
    let run = number(colon).map_err(|f| at(f, from))?;
    let end = from + run.end;
    if end < text.len() {
        return Err(trailing(text, end));
    }
    if run.value <= 0.0 {
        return Err((from..text.len(), Problem::ZeroDenominator));
    }
    let ratio = rise.value / run.value;
    let mut out = bare(text, Number { value: ratio, start: rise.start, end });
    if dimension == Dimension::Angle {
        out.figure = libm::atan2(rise.value, run.value).to_degrees();
        out.unit = Some(unit("°", true)?);
        out.unit_text = ":".into();
    }
    Ok(Some(out))
}

/// Reads `2 ft 6 in`, `2'-6"`, `1 h 30 min`, `36° 30'`: each unit smaller than the one before, all of one kind.
fn pieces(text: &str, first: Number, dimension: Dimension) -> Result<Raw, Fault> {
    let arc = dimension == Dimension::Angle;
    let mut figure = first;
    let mut total: Option<(f64, Unit, Range<usize>)> = None;
    loop {
        let (span, next) = unit_span(text, figure.end);
        let piece = text[span.clone()].trim();
        if piece.is_empty() {
            return match total {
                None if next >= text.len() => Ok(bare(text, first)),
                None => Err(trailing(text, figure.end)),
                Some(_) => {
                    let number = text[figure.start..figure.end].to_owned();
                    Err((figure.start..figure.end, Problem::UnitMissing { number }))
                }
            };
        }
        let found = unit(piece, arc).map_err(|f| at(f, span.start))?;
        let (sum, big) = match total {
            None => (figure.value, found),
            Some((sum, big, ref before)) => {
                let size = found.factor() / big.factor();
                let in_order = found.signature == big.signature && size < 1.0 && plain_time(found);
                if !in_order {
                    return Err((before.start..span.end, Problem::PiecesOutOfOrder));
                }
                let negative = first.value.is_sign_negative();
                (sum + if negative { -figure.value } else { figure.value } * size, big)
            }
        };
        if next >= text.len() {
            let mut out = with_unit(text, first, big, span.start..span.start + piece.len(), false);
            out.figure = sum;
            return Ok(out);
        }
        total = Some((sum, big, span));
        let signed = number(&text[next..]).map_err(|f| at(f, next))?;
        figure = Number { value: signed.value, start: signed.start + next, end: signed.end + next };
    }
}

/// A year next to hours would need a calendar.
fn plain_time(unit: Unit) -> bool {
    unit.signature.halves(Slot::Year) == 0
}

/// Returns where the unit text that starts at `from` ends and where the next figure starts.
fn unit_span(text: &str, from: usize) -> (Range<usize>, usize) {
    let lead = text[from..].len() - text[from..].trim_start().len();
    let start = from + lead;
    let mut previous = ' ';
    let next = text[start..]
        .char_indices()
        .find(|(i, c)| {
            let inside = previous == '^' || (*i == 0 && text[start..].starts_with("1/"));
            previous = *c;
            opens_number(*c) && !inside
        })
        .map_or(text.len(), |(i, _)| start + i);
    let unit = text[start..next].trim_end_matches(|c: char| c.is_whitespace() || c == '-' || c == ',');
    let unit = if next < text.len() {
        unit.strip_suffix(" and").unwrap_or(unit)
    } else {
        text[start..next].trim_end()
    };
    (start..start + unit.len(), next)
}
