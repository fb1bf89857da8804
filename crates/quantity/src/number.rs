//! Reads the figure of a quantity: decimals, fractions, grouped thousands, powers of ten.
//!
//! A decimal or thousands comma is always refused, because `33,722` means two different things on two sides
//! of a border. Thousands may be grouped by a blank, a thin blank or `_`.

use crate::error::Problem;
use std::ops::Range;

/// A problem and its place in the text it was found in.
pub(crate) type Fault = (Range<usize>, Problem);

/// A figure and where it ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Number {
    pub value: f64,
    pub start: usize,
    pub end: usize,
}

/// Tells whether a character opens a figure.
pub(crate) fn opens_number(c: char) -> bool {
    c.is_ascii_digit() || vulgar(c).is_some()
}

/// Tells whether a character is a minus sign.
fn is_minus(c: char) -> bool {
    matches!(c, '-' | '\u{2212}')
}

/// Tells whether a character is a blank that may group thousands.
fn is_group_blank(c: char) -> bool {
    matches!(c, ' ' | '\u{a0}' | '\u{2009}' | '\u{202f}')
}

/// Returns numerator and denominator of a one-character fraction.
fn vulgar(c: char) -> Option<(f64, f64)> {
    let (n, d) = match c {
        '½' => (1, 2),
        '⅓' => (1, 3),
        '⅔' => (2, 3),
        '¼' => (1, 4),
        '¾' => (3, 4),
        '⅕' => (1, 5),
        '⅖' => (2, 5),
        '⅗' => (3, 5),
        '⅘' => (4, 5),
        '⅙' => (1, 6),
        '⅚' => (5, 6),
        '⅛' => (1, 8),
        '⅜' => (3, 8),
        '⅝' => (5, 8),
        '⅞' => (7, 8),
        _ => return None,
    };
    Some((f64::from(n), f64::from(d)))
}

/// Returns the digit a superscript stands for.
pub(crate) fn superscript_digit(c: char) -> Option<char> {
    let digits = "⁰¹²³⁴⁵⁶⁷⁸⁹";
    digits.chars().position(|d| d == c).and_then(|i| char::from_digit(u32::try_from(i).ok()?, 10))
}

fn digits_end(text: &str, from: usize) -> usize {
    from + text[from..].bytes().take_while(u8::is_ascii_digit).count()
}

/// Reads one figure at the start of `text`, after blanks and at most one sign.
pub(crate) fn number(text: &str) -> Result<Number, Fault> {
    let start = text.len() - text.trim_start().len();
    let mut at = start;
    let mut negative = false;
    if let Some(c) = text[at..].chars().next().filter(|c| is_minus(*c) || *c == '+') {
        negative = is_minus(c);
        at += c.len_utf8();
        at += text[at..].len() - text[at..].trim_start().len();
    }
    let (value, end) = unsigned(text, at)?;
    let value = if negative { -value } else { value };
    if !value.is_finite() {
        return Err((start..end, Problem::OutOfRange { written: text[start..end].to_owned() }));
    }
    Ok(Number { value, start, end })
}

fn unsigned(text: &str, at: usize) -> Result<(f64, usize), Fault> {
    let (plain, end) = plain_digits(text, at);
    if plain.is_empty() {
        if let Some((c, (n, d))) = text[at..].chars().next().and_then(|c| Some((c, vulgar(c)?))) {
            return Ok((n / d, at + c.len_utf8()));
        }
        return Err(not_a_number(text, at));
    }
    refuse_comma(text, at, end)?;
    let whole = plain.bytes().all(|b| b.is_ascii_digit());
    if whole && let Some(found) = fraction(text, at, end, &plain)? {
        return Ok(found);
    }
    let (exponent, end) = exponent(text, end);
    let written = format!("{plain}{exponent}");
    let value: f64 = written.parse().map_err(|_| not_a_number(text, at))?;
    let lost = value == 0.0 && plain.bytes().any(|b| matches!(b, b'1'..=b'9'));
    if lost || !value.is_finite() {
        return Err((at..end, Problem::OutOfRange { written: text[at..end].to_owned() }));
    }
    Ok((value, end))
}

/// Collects digits with an optional decimal point, dropping group marks; a point before another point belongs
/// to a range.
fn plain_digits(text: &str, at: usize) -> (String, usize) {
    let mut end = digits_end(text, at);
    let mut plain = text[at..end].to_owned();
    // The first group has one to three digits: `1 000` is grouped, `2024 100` is not.
    let may_group = (1..=3).contains(&plain.len());
    while let Some(group) = group_of_three(text, end).filter(|_| may_group) {
        plain.push_str(&text[group.clone()]);
        end = group.end;
    }
    if text[end..].starts_with('.') && !text[end..].starts_with("..") {
        let to = digits_end(text, end + 1);
        if to > end + 1 || !plain.is_empty() {
            plain.push_str(&text[end..to]);
            end = to;
        }
    }
    (plain, end)
}

/// Finds a group mark with exactly three digits behind it that are no numerator, and returns where the digits are.
fn group_of_three(text: &str, at: usize) -> Option<Range<usize>> {
    let mark = text[at..].chars().next().filter(|c| is_group_blank(*c) || *c == '_')?;
    let from = at + mark.len_utf8();
    let to = digits_end(text, from);
    (to == from + 3 && denominator(text, to).is_none()).then_some(from..to)
}

/// Reads `/2` after a numerator, or ` 1/2`, `-1/2`, `½` after a whole number.
fn fraction(text: &str, at: usize, end: usize, plain: &str) -> Result<Option<(f64, usize)>, Fault> {
    let whole: f64 = plain.parse().unwrap_or(f64::INFINITY);
    if let Some((below, to)) = denominator(text, end) {
        return ratio(0.0, whole, below, at..to).map(Some);
    }
    let rest = &text[end..];
    let gap = rest.len() - rest.trim_start_matches(|c: char| is_group_blank(c) || c == '-').len();
    let from = end + gap;
    if let Some((c, (n, d))) = text[from..].chars().next().and_then(|c| Some((c, vulgar(c)?))) {
        return ratio(whole, n, d, at..from + c.len_utf8()).map(Some);
    }
    let above_end = digits_end(text, from);
    if gap == 0 || above_end == from {
        return Ok(None);
    }
    let Some((below, to)) = denominator(text, above_end) else { return Ok(None) };
    let above: f64 = text[from..above_end].parse().unwrap_or(f64::INFINITY);
    ratio(whole, above, below, at..to).map(Some)
}

fn denominator(text: &str, at: usize) -> Option<(f64, usize)> {
    let slash = text[at..].chars().next().filter(|c| matches!(c, '/' | '\u{2044}'))?;
    let from = at + slash.len_utf8();
    let to = digits_end(text, from);
    if to == from {
        return None;
    }
    // `2 1/2.5` or `1/2e3` is no carpenter's fraction; what follows is left for the caller to refuse.
    text[from..to].parse().ok().map(|value| (value, to))
}

fn ratio(whole: f64, above: f64, below: f64, span: Range<usize>) -> Result<(f64, usize), Fault> {
    if below == 0.0 {
        return Err((span, Problem::ZeroDenominator));
    }
    Ok(((whole * below + above) / below, span.end))
}

/// Reads `e-11`, `×10^-11` or `×10⁻¹¹` and returns it as `e-11`.
fn exponent(text: &str, end: usize) -> (String, usize) {
    let rest = &text[end..];
    if rest.starts_with(['e', 'E']) {
        let sign = usize::from(rest[1..].starts_with(['+', '-']));
        let to = digits_end(rest, 1 + sign);
        if to > 1 + sign {
            return (rest[..to].to_owned(), end + to);
        }
    }
    power_of_ten(rest)
        .map_or_else(|| (String::new(), end), |(power, length)| (format!("e{power}"), end + length))
}

fn power_of_ten(rest: &str) -> Option<(String, usize)> {
    let inner = rest.trim_start_matches(is_group_blank);
    let inner = inner.strip_prefix(['×', 'x', '·', '*'])?;
    let inner = inner.trim_start_matches(is_group_blank).strip_prefix("10")?;
    let mut power = String::new();
    let after = if let Some(caret) = inner.strip_prefix('^') {
        let signed = caret.strip_prefix(is_minus);
        power.push_str(if signed.is_some() { "-" } else { "" });
        let digits = signed.unwrap_or(caret);
        let to = digits_end(digits, 0);
        power.push_str(&digits[..to]);
        &digits[to..]
    } else {
        let signed = inner.strip_prefix('⁻');
        power.push_str(if signed.is_some() { "-" } else { "" });
        let mut digits = signed.unwrap_or(inner);
        while let Some((c, digit)) = digits.chars().next().and_then(|c| Some((c, superscript_digit(c)?))) {
            power.push(digit);
            digits = &digits[c.len_utf8()..];
        }
        digits
    };
    power.ends_with(|c: char| c.is_ascii_digit()).then(|| (power, rest.len() - after.len()))
}

/// Refuses a comma that touches digits on both sides.
fn refuse_comma(text: &str, at: usize, end: usize) -> Result<(), Fault> {
    let after = text[end..].strip_prefix(',');
    if !after.is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit())) {
        return Ok(());
    }
    let length = text[at..].bytes().take_while(|b| b.is_ascii_digit() || matches!(b, b',' | b'.')).count();
    let written = text[at..at + length].trim_end_matches(['.', ',']);
    let groups: Vec<&str> = written.split(',').collect();
    let grouped = groups.iter().enumerate().all(|(i, group)| match i {
        0 => (1..=3).contains(&group.len()) && !group.starts_with('0'),
        _ if i + 1 == groups.len() => group.split('.').next().is_some_and(|g| g.len() == 3),
        _ => group.len() == 3,
    });
    let last_comma = written.rfind(',').unwrap_or_default();
    let decimal = format!("{}.{}", written[..last_comma].replace([',', '.'], ""), &written[last_comma + 1..]);
    let thousands = grouped.then(|| written.replace(',', ""));
    let problem = match thousands {
        // More than one comma, or a point behind one: only the thousands reading is left.
        Some(plain) if groups.len() > 2 || written.contains('.') => {
            Problem::Comma { written: written.to_owned(), decimal: plain, thousands: None }
        }
        thousands => Problem::Comma { written: written.to_owned(), decimal, thousands },
    };
    Err((at..at + written.len(), problem))
}

fn not_a_number(text: &str, at: usize) -> Fault {
    let rest = &text[at..];
    let word = rest.split_whitespace().next().unwrap_or_default();
    let word: String = word.chars().take(24).collect();
    let from = at + (rest.len() - rest.trim_start().len());
    let to = (from + word.len()).min(text.len());
    (from.min(to)..to, Problem::NotANumber { found: word })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, value: f64, end: usize) {
        let read = number(text).unwrap_or_else(|e| panic!("{text}: {e:?}"));
        assert_eq!((read.value, read.end), (value, end), "{text}");
    }

    #[test]
    fn figures_as_people_write_them() {
        check("7.5 mm", 7.5, 3);
        check("7 1/2 in", 7.5, 5);
        check("7-1/2 in", 7.5, 5);
        check("7½ in", 7.5, 3);
        check("7 ½ in", 7.5, 4);
        check("1/2 in", 0.5, 3);
        check("½", 0.5, 2);
        check("-6 Pa", -6.0, 2);
        check("− 6 Pa", -6.0, 5);
        check(".5", 0.5, 2);
        check("5..7", 5.0, 1);
        check("5. m", 5.0, 2);
        check("5.7e-11 kg", 5.7e-11, 7);
        check("5.7×10⁻¹¹ kg", 5.7e-11, 14);
        check("5.7 x 10^-11 kg", 5.7e-11, 12);
        check("3 erg", 3.0, 1);
        check("10 000 ppm", 10_000.0, 6);
        check("1\u{202f}234\u{202f}567.5", 1_234_567.5, 15);
        check("33_722 ft3", 33_722.0, 6);
        check("0.6 1/h", 0.6, 3);
        check("2024 100", 2024.0, 4);
        check("6 125/1000 in", 6.125, 10);
    }

    #[test]
    fn what_is_not_a_number_says_so() {
        assert!(matches!(number("NaN").unwrap_err().1, Problem::NotANumber { .. }));
        assert!(matches!(number("1e999").unwrap_err().1, Problem::OutOfRange { .. }));
        assert!(matches!(number("1e-999").unwrap_err().1, Problem::OutOfRange { .. }));
        assert!(matches!(number("3 1/0 in").unwrap_err().1, Problem::ZeroDenominator));
        assert!(matches!(number("7,5 mm").unwrap_err().1, Problem::Comma { thousands: None, .. }));
        assert!(matches!(number("33,722").unwrap_err().1, Problem::Comma { thousands: Some(_), .. }));
    }
}
