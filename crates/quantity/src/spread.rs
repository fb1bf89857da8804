//! How sure a value is: the four ways to write it.

/// The spread of a written value, in the canonical unit of its dimension.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Spread {
    /// `± a`: half of the interval that holds the value with 95 % (k = 2, ISO/IEC Guide 98-3).
    HalfWidth95(f64),
    /// `a..b`: anywhere between the two, each place as likely.
    Range {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// `×/÷ f`: with 95 % between the value divided by f and the value times f, lognormal. f > 1.
    Factor95(f64),
    /// `tolerance ± a`: anywhere within a of the value, each place as likely.
    Tolerance(f64),
}

/// The sign between a value and its spread.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sign {
    PlusMinus,
    Tolerance,
    Factor,
    Range,
}

impl Sign {
    pub(crate) fn text(self) -> &'static str {
        match self {
            Self::PlusMinus => "±",
            Self::Tolerance => "tolerance ±",
            Self::Factor => "×/÷",
            Self::Range => "..",
        }
    }
}

/// A sign found in a text: the value ends before `start`, the spread begins at `end`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Found {
    pub sign: Sign,
    pub start: usize,
    pub end: usize,
}

const PLUS_MINUS: [&str; 3] = ["±", "+/-", "+-"];
const FACTOR: [&str; 8] = ["×/÷", "x/÷", "×/", "x/", "×÷", "*/÷", "*/", "X/"];
const TOLERANCE: [&str; 2] = ["tolerance", "tol."];

/// Finds the first spread sign.
pub(crate) fn find_sign(text: &str) -> Option<Found> {
    text.char_indices().find_map(|(start, _)| sign_at(text, start))
}

fn sign_at(text: &str, start: usize) -> Option<Found> {
    let rest = &text[start..];
    let starts = |signs: &[&str]| signs.iter().find(|s| rest.starts_with(**s)).map(|s| start + s.len());
    if let Some(end) = starts(&PLUS_MINUS) {
        return Some(Found { sign: Sign::PlusMinus, start, end });
    }
    if let Some(end) = starts(&FACTOR) {
        return Some(Found { sign: Sign::Factor, start, end });
    }
    if let Some(end) = starts(&TOLERANCE) {
        let after = &text[end..];
        let gap = after.len() - after.trim_start().len();
        let plus_minus = PLUS_MINUS.iter().find(|s| after[gap..].starts_with(**s))?;
        return Some(Found { sign: Sign::Tolerance, start, end: end + gap + plus_minus.len() });
    }
    if rest.starts_with('…') {
        return Some(Found { sign: Sign::Range, start, end: start + '…'.len_utf8() });
    }
    let dots = rest.bytes().take_while(|b| *b == b'.').count();
    // Of `w.g...0.3` the last two dots are the range; the first ends the abbreviation.
    (dots >= 2).then(|| Found { sign: Sign::Range, start: start + dots - 2, end: start + dots })
}
