//! Lengths as builders write them: inches with fractions, feet and inches, millimetres.

use crate::show::{Digits, figure};
use crate::units::{FOOT_M, INCH_M};

/// Returns a length in US units: inches to the nearest 1/16 below a foot and 1/8 below ten feet, feet and inches
/// to the nearest half inch below a hundred feet, then feet. Membranes thinner than 1/8 in are shown in decimals.
pub(crate) fn us(metres: f64) -> String {
    let inches = metres.abs() / INCH_M;
    let sign = if metres < 0.0 { "-" } else { "" };
    if inches < 0.125 {
        return format!("{} in", figure(metres / INCH_M, Digits::Significant));
    }
    let text = if inches < 12.0 {
        format!("{} in", sixteenths(inches, 1))
    } else if inches < 120.0 {
        format!("{} in", sixteenths(inches, 2))
    } else if inches < 1200.0 {
        feet_and_inches(inches)
    } else {
        return format!("{} ft", figure(metres / FOOT_M, Digits::Significant));
    };
    format!("{sign}{text}")
}

/// Returns a length in SI units: millimetres below a metre, then metres with centimetres.
pub(crate) fn si(metres: f64) -> String {
    let size = metres.abs();
    if size < 0.9995 {
        let millimetres = metres * 1000.0;
        // A tenth of a millimetre is the finest a builder's rule shows; thinner things need more digits.
        let tenths = (millimetres * 10.0).round() / 10.0;
        let shown = if size < 0.01 { millimetres } else { tenths };
        let text = if size < 0.1 { figure(shown, Digits::Significant) } else { trimmed(shown, 1) };
        return format!("{text} mm");
    }
    let text = if size < 1000.0 { trimmed(metres, 2) } else { figure(metres, Digits::Significant) };
    format!("{text} m")
}

fn trimmed(value: f64, decimals: usize) -> String {
    let text = figure(value, Digits::Fixed(decimals));
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Writes inches rounded to `step` sixteenths as a mixed fraction.
fn sixteenths(inches: f64, step: u32) -> String {
    let step_in = f64::from(step) / 16.0;
    let whole_sixteenths = (inches / step_in).round() * f64::from(step);
    let whole = (whole_sixteenths / 16.0).floor();
    // Between 0 and 15 by construction, so the cast is exact.
    let mut above = (whole_sixteenths - 16.0 * whole) as u32;
    if above == 0 {
        return format!("{whole}");
    }
    let mut below = 16;
    while above.is_multiple_of(2) {
        above /= 2;
        below /= 2;
    }
    if whole == 0.0 { format!("{above}/{below}") } else { format!("{whole} {above}/{below}") }
}

fn feet_and_inches(inches: f64) -> String {
    let halves = (inches * 2.0).round();
    let feet = (halves / 24.0).floor();
    let rest = halves / 2.0 - 12.0 * feet;
    if rest == 0.0 { format!("{feet} ft") } else { format!("{feet} ft {} in", sixteenths(rest, 8)) }
}
