//! Puts a written unit together: `Btu·in/(h·ft²·°F)`, `W/m2K`, `ng/(Pa s m^2)`.
//!
//! Products are written with `·`, `*`, `×`, `.`, `-`, a blank or nothing. Everything behind a slash is below
//! it, up to the closing bracket: `W/m²K` means W/(m²·K), as the trade writes it.

use crate::Dimension;
use crate::error::Problem;
use crate::number::{Fault, superscript_digit};
use crate::signature::{Signature, Slot};
use crate::units::{ARC_MARKS, ATOMS, Atom, Currency, Scale, Side, YEAR_S};

/// A whole unit, resolved.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Unit {
    pub signature: Signature,
    /// Above the slash, in base units.
    above: f64,
    /// Below it; kept apart so that the quotient is rounded once.
    below: f64,
    pub us: bool,
    pub si: bool,
    /// Set when the unit is one temperature scale and nothing else.
    pub scale: Option<Scale>,
    pub currency: Option<Currency>,
    pub percent: bool,
    atoms: u32,
}

impl Unit {
    /// The unit of a plain number.
    pub(crate) const ONE: Self = Self {
        signature: Signature::NONE,
        above: 1.0,
        below: 1.0,
        us: false,
        si: false,
        scale: None,
        currency: None,
        percent: false,
        atoms: 0,
    };

    fn single(atom: &Atom) -> Self {
        Self {
            signature: atom.signature,
            above: atom.factor,
            below: 1.0,
            us: atom.side == Side::Us,
            si: atom.side == Side::Si,
            scale: atom.scale,
            currency: atom.currency,
            percent: atom.percent,
            atoms: 1,
        }
    }

    /// Returns the size in base units.
    pub(crate) fn factor(&self) -> f64 {
        self.above / self.below
    }

    /// Returns the size in the canonical unit of a dimension that accepts it.
    pub(crate) fn size_in(&self, dimension: Dimension) -> f64 {
        // Only in a duration is a year a time; elsewhere it marks an annual sum.
        let years = dimension == Dimension::Time && self.signature.halves(Slot::Year) == 2;
        let factor = if years { self.factor() * YEAR_S } else { self.factor() };
        factor / dimension.factor()
    }

    /// Returns the product with another unit.
    pub(crate) fn product(mut self, other: Self) -> Result<Self, Problem> {
        self.times(&other, 2)?;
        Ok(self)
    }

    /// Multiplies `other` to the power `halves / 2` in.
    fn times(&mut self, other: &Self, halves: i32) -> Result<(), Problem> {
        let malformed = Problem::UnitMalformed { why: BAD_EXPONENT };
        self.signature = self.signature.times(other.signature, halves).ok_or(malformed.clone())?;
        let size = half_power(other.factor(), halves.unsigned_abs()).ok_or(malformed.clone())?;
        if halves >= 0 {
            self.above *= size;
        } else {
            self.below *= size;
        }
        if !(self.above.is_normal() && self.below.is_normal()) {
            return Err(malformed);
        }
        self.us |= other.us;
        self.si |= other.si;
        self.atoms += other.atoms;
        let alone = self.atoms == 1 && halves == 2;
        self.scale = other.scale.filter(|_| alone);
        self.percent = other.percent && alone;
        match (self.currency, other.currency) {
            (Some(a), Some(b)) if a != b => return Err(Problem::MixedCurrency),
            (a, b) => self.currency = a.or(b),
        }
        Ok(())
    }
}

const BAD_EXPONENT: &str = "an exponent that is zero, too large or no half or whole number";

/// Combines an exponent with the root sign before it, both in halves.
fn under_root(exponent: i32, halves: i32) -> Result<i32, Problem> {
    let twice = exponent * halves;
    if twice % 2 == 0 { Ok(twice / 2) } else { Err(Problem::UnitMalformed { why: BAD_EXPONENT }) }
}

fn half_power(size: f64, halves: u32) -> Option<f64> {
    if halves > 24 {
        return None;
    }
    let whole = (0..halves / 2).fold(1.0, |product, _| product * size);
    Some(if halves % 2 == 1 { whole * size.sqrt() } else { whole })
}

/// Reads a whole unit text. With `arc`, `'` and `"` are minutes and seconds of arc.
pub(crate) fn unit(text: &str, arc: bool) -> Result<Unit, Fault> {
    let mut reader = Reader { text, at: 0, arc };
    let out = reader.product(0)?;
    if reader.at < text.len() {
        return Err((
            reader.at..reader.at + 1,
            Problem::UnitMalformed { why: "a closing bracket without an opening one" },
        ));
    }
    Ok(out)
}

const DEEPEST: u32 = 8;

struct Reader<'a> {
    text: &'a str,
    at: usize,
    arc: bool,
}

impl<'a> Reader<'a> {
    fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    fn fault(&self, from: usize, problem: Problem) -> Fault {
        let to = self.at.max(from);
        let to =
            if to == from { from + self.text[from..].chars().next().map_or(0, char::len_utf8) } else { to };
        (from..to, problem)
    }

    fn product(&mut self, depth: u32) -> Result<Unit, Fault> {
        let mut out = Unit::ONE;
        let mut below = false;
        while let Some(c) = self.peek() {
            let start = self.at;
            if c.is_whitespace() || "·⋅*×.-‐‑".contains(c) {
                self.at += c.len_utf8();
            } else if matches!(c, '/' | '\u{2044}' | '\u{2215}') {
                self.at += c.len_utf8();
                below = true;
                self.refuse_empty_below(start)?;
            } else if let Some(length) = word_length(self.rest(), "per").filter(|_| !self.is_percent()) {
                self.at += length;
                below = true;
                self.refuse_empty_below(start)?;
            } else if c == ')' {
                break;
            } else {
                let (factor, halves) = self.factor(depth)?;
                let halves = if below { -halves } else { halves };
                out.times(&factor, halves).map_err(|problem| self.fault(start, problem))?;
            }
        }
        Ok(out)
    }

    fn is_percent(&self) -> bool {
        word_length(self.rest(), "per cent").is_some()
    }

    fn refuse_empty_below(&self, slash: usize) -> Result<(), Fault> {
        if self.rest().trim().is_empty() {
            return Err((slash..self.at, Problem::UnitMalformed { why: "nothing below the slash" }));
        }
        Ok(())
    }

    /// Reads one atom or bracket with its exponent, which is returned in halves.
    fn factor(&mut self, depth: u32) -> Result<(Unit, i32), Fault> {
        let start = self.at;
        let mut halves = 2;
        if let Some(rest) = self.rest().strip_prefix('√') {
            self.at = self.text.len() - rest.len();
            halves = 1;
        }
        let inner = match self.peek() {
            Some('(') => self.bracket(depth)?,
            Some('1') if !self.rest()[1..].starts_with(|c: char| c.is_ascii_digit() || c == '.') => {
                self.at += 1;
                return Ok((Unit::ONE, 2));
            }
            Some(c) if is_unit_letter(c) => return self.atoms(halves),
            _ => {
                let found = self.rest().chars().take(12).collect();
                return Err(self.fault(start, Problem::Trailing { found }));
            }
        };
        let exponent = self.exponent()?;
        Ok((inner, under_root(exponent, halves).map_err(|problem| self.fault(start, problem))?))
    }

    fn bracket(&mut self, depth: u32) -> Result<Unit, Fault> {
        let open = self.at;
        if depth >= DEEPEST {
            return Err(self.fault(open, Problem::UnitMalformed { why: "brackets too deep" }));
        }
        self.at += 1;
        let inner = self.product(depth + 1)?;
        if self.peek() != Some(')') {
            return Err((
                open..self.at,
                Problem::UnitMalformed { why: "an opening bracket that is not closed" },
            ));
        }
        self.at += 1;
        Ok(inner)
    }

    /// Reads a word, or a run of symbols such as `mK`; an exponent belongs to the last of them.
    fn atoms(&mut self, halves: i32) -> Result<(Unit, i32), Fault> {
        let start = self.at;
        let mut out = Unit::ONE;
        if let Some((atom, length)) = longest_word(self.rest()) {
            self.at += length;
            self.multiply(&mut out, atom, halves, start)?;
            return Ok((out, 2));
        }
        let length =
            self.rest().chars().take_while(|c| is_unit_letter(*c)).map(char::len_utf8).sum::<usize>();
        let run = &self.rest()[..length.min(64)];
        let Some(atoms) = split(run, self.arc, 0) else {
            let found: String = run.chars().take(24).collect();
            self.at += found.len();
            let near = nearest(&found);
            return Err(self.fault(start, Problem::UnitUnknown { found, near }));
        };
        self.at += length;
        let last = atoms.len().saturating_sub(1);
        for (i, atom) in atoms.into_iter().enumerate() {
            if i < last {
                out.times(&Unit::single(atom), 2).map_err(|problem| self.fault(start, problem))?;
            } else {
                self.multiply(&mut out, atom, halves, start)?;
            }
        }
        Ok((out, 2))
    }

    fn multiply(&mut self, out: &mut Unit, atom: &Atom, halves: i32, start: usize) -> Result<(), Fault> {
        let exponent = self.exponent()?;
        let halves = under_root(exponent, halves).map_err(|problem| self.fault(start, problem))?;
        out.times(&Unit::single(atom), halves).map_err(|problem| self.fault(start, problem))
    }

    /// Reads `²`, `^2`, `2`, `-1`, `^0.5`, `^(1/2)`, `½`; none is one. Returned in halves.
    fn exponent(&mut self) -> Result<i32, Fault> {
        let start = self.at;
        let rest = self.rest();
        let (text, length) = match rest.chars().next() {
            Some('^') => caret_exponent(&rest[1..]),
            Some('½') => ("0.5".to_owned(), '½'.len_utf8()),
            Some(c) if c == '⁻' || superscript_digit(c).is_some() => superscripts(rest),
            Some(c) if c.is_ascii_digit() => decimal(rest, 0),
            Some('-' | '\u{2212}') => decimal(rest, rest.chars().next().map_or(0, char::len_utf8)),
            _ => return Ok(2),
        };
        let length = if rest.starts_with('^') { length + 1 } else { length };
        if text.is_empty() {
            // A hyphen before a letter joins two units, as in perm-in.
            if rest.starts_with('^') {
                self.at += 1;
                return Err(
                    self.fault(start, Problem::UnitMalformed { why: "nothing after the exponent sign" })
                );
            }
            return Ok(2);
        }
        self.at += length;
        let halves = text.parse::<f64>().map_or(f64::NAN, |value| value * 2.0);
        if !(halves.abs() <= 24.0 && halves.fract() == 0.0 && halves != 0.0) {
            return Err(self.fault(start, Problem::UnitMalformed { why: BAD_EXPONENT }));
        }
        // Whole and small by the test above, so the cast is exact.
        Ok(halves as i32)
    }
}

/// Reads digits with an optional point after a sign of `sign` bytes.
fn decimal(rest: &str, sign: usize) -> (String, usize) {
    let body = &rest[sign..];
    let whole = body.bytes().take_while(u8::is_ascii_digit).count();
    let mut length = whole;
    if whole > 0 && body[whole..].starts_with('.') {
        let more = body[whole + 1..].bytes().take_while(u8::is_ascii_digit).count();
        length += if more > 0 { more + 1 } else { 0 };
    }
    if length == 0 {
        return (String::new(), 0);
    }
    let text = format!("{}{}", if sign > 0 { "-" } else { "" }, &body[..length]);
    (text, sign + length)
}

fn caret_exponent(rest: &str) -> (String, usize) {
    let bracketed = rest.starts_with('(');
    let inner = if bracketed { &rest[1..] } else { rest };
    if let Some(after) = inner.strip_prefix("1/2") {
        let closes = usize::from(bracketed && after.starts_with(')'));
        return ("0.5".to_owned(), usize::from(bracketed) + 3 + closes);
    }
    let sign = inner.chars().next().filter(|c| matches!(c, '-' | '\u{2212}')).map_or(0, char::len_utf8);
    let (text, length) = decimal(inner, sign);
    let closes = bracketed && inner[length..].starts_with(')');
    if bracketed && !closes {
        return (String::new(), 0);
    }
    (text, length + if bracketed { 2 } else { 0 })
}

fn superscripts(rest: &str) -> (String, usize) {
    let signed = rest.strip_prefix('⁻');
    let mut text = if signed.is_some() { "-".to_owned() } else { String::new() };
    let mut length = rest.len() - signed.unwrap_or(rest).len();
    for c in signed.unwrap_or(rest).chars() {
        let Some(digit) = superscript_digit(c) else { break };
        text.push(digit);
        length += c.len_utf8();
    }
    if text == "-" { (String::new(), 0) } else { (text, length) }
}

/// Tells whether a character can be part of a unit's symbol.
fn is_unit_letter(c: char) -> bool {
    c.is_alphabetic() || "°º˚%‰'\"′″’”$€£℃℉₂".contains(c)
}

/// Returns a character's plain form: one degree sign, one micro sign, straight quotes.
fn plain(c: char) -> char {
    match c {
        'º' | '˚' => '°',
        'μ' => 'µ',
        '′' | '’' => '\'',
        '″' | '”' => '"',
        '₂' => '2',
        other => other,
    }
}

/// Splits a run of symbols into known ones, longest first.
fn split(run: &str, arc: bool, depth: u32) -> Option<Vec<&'static Atom>> {
    if run.is_empty() {
        return Some(Vec::new());
    }
    if depth > 5 {
        return None;
    }
    let mut ends: Vec<usize> = run.char_indices().map(|(i, c)| i + c.len_utf8()).collect();
    ends.reverse();
    ends.into_iter().find_map(|end| {
        let atom = symbol(&run[..end], arc)?;
        let mut tail = split(&run[end..], arc, depth + 1)?;
        tail.insert(0, atom);
        Some(tail)
    })
}

fn symbol(text: &str, arc: bool) -> Option<&'static Atom> {
    let same = |symbol: &&str| text.chars().map(plain).eq(symbol.chars().map(plain));
    let sign = match text {
        "℃" => "°C",
        "℉" => "°F",
        "''" | "′′" => "\"",
        _ => "",
    };
    let mut found = ARC_MARKS.iter().filter(|_| arc).chain(ATOMS);
    found.find(|atom| atom.symbols.iter().any(|s| same(s) || *s == sign))
}

/// Returns the length of `word` at the start of `text`, in any case and ending at a word's end. A blank in
/// `word` matches blanks, dots and hyphens, or nothing.
pub(crate) fn word_length(text: &str, word: &str) -> Option<usize> {
    let mut rest = text;
    for expected in word.chars() {
        if expected == ' ' {
            rest = rest.trim_start_matches(|c: char| c.is_whitespace() || c == '.' || c == '-');
        } else {
            let c = rest.chars().next()?;
            if !plain(c).eq_ignore_ascii_case(&expected) {
                return None;
            }
            rest = &rest[c.len_utf8()..];
        }
    }
    let ends = !rest.starts_with(|c: char| c.is_alphabetic());
    ends.then_some(text.len() - rest.len())
}

fn longest_word(text: &str) -> Option<(&'static Atom, usize)> {
    let mut best: Option<(&'static Atom, usize)> = None;
    for atom in ATOMS {
        for word in atom.words {
            if let Some(length) = word_length(text, word).filter(|l| best.is_none_or(|(_, b)| *l > b)) {
                best = Some((atom, length));
            }
        }
    }
    // A symbol that ends at the same place wins, so that `C` in `C°` or `MW` against `mw` stays exact.
    let (atom, length) = best?;
    let run = text.chars().take_while(|c| is_unit_letter(*c)).map(char::len_utf8).sum::<usize>();
    (length >= run || symbol(&text[..run], false).is_none()).then_some((atom, length))
}

/// Returns the known spelling nearest to a word, if one is near.
fn nearest(found: &str) -> Option<&'static str> {
    let lower = found.to_lowercase();
    let letters = found.chars().count();
    let most = if letters > 4 { 2 } else { 1 };
    let spellings = || {
        let all = ATOMS.iter().flat_map(|atom| atom.symbols.iter().chain(atom.words)).copied();
        // A word that differs more in length differs more in letters too.
        all.filter(|s| s.chars().count().abs_diff(letters) <= most)
    };
    if let Some(same) = spellings().find(|s| s.to_lowercase() == lower) {
        return Some(same);
    }
    // Of two equally near, the one of the same length: `mn` is a slip for `mm` rather than for `m`.
    let key =
        |s: &str| (strsim::osa_distance(&s.to_lowercase(), &lower), s.chars().count().abs_diff(letters));
    let near = spellings().map(|s| (key(s), s)).min_by_key(|(key, _)| *key)?;
    let slips = near.0.0;
    (slips <= most && slips < letters).then_some(near.1)
}
