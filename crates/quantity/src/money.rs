//! Sums of money as text; the currency is never converted.

use crate::Currency;
use crate::show::{Digits, figure};

/// Returns a sum in its currency: `$900`, `€12 500`, `900 CHF`; cents are shown below ten.
pub fn show_money(value: f64, currency: Currency) -> String {
    if !value.is_finite() {
        return "not known".into();
    }
    let text = figure(value.abs(), Digits::Fixed(if value.abs() < 10.0 { 2 } else { 0 }));
    let minus = if value < 0.0 && text.bytes().any(|b| matches!(b, b'1'..=b'9')) { "-" } else { "" };
    match currency.sign() {
        Some(sign) => format!("{minus}{sign}{text}"),
        None => format!("{minus}{text} {}", currency.code()),
    }
}
