//! Exact text of a reading: what is written here reads back to the same bits.

use crate::{Dimension, Reading, Spread};

/// Writes a reading in canonical units with every digit needed, spread included, so that
/// [`read`](crate::read()) of the text gives the same value, spread and currency to the last bit.
///
/// For people use [`show`](crate::show()), or [`Reading::written`], which keeps the text of the value as it was
/// typed.
///
/// ```
/// use quantity::{Dimension, read, write_exact};
/// let once = read("7 1/2 in ± 1/16 in", Dimension::Length)?;
/// assert_eq!(write_exact(&once), "0.1905 m ± 0.0015875 m");
/// let twice = read(&write_exact(&once), Dimension::Length)?;
/// assert_eq!((once.value, once.spread), (twice.value, twice.spread));
/// # Ok::<(), quantity::ReadError>(())
/// ```
pub fn write_exact(reading: &Reading) -> String {
    let unit = match (reading.dimension, reading.currency) {
        (Dimension::Money, Some(currency)) => currency.code().to_owned(),
        (Dimension::EnergyPrice, Some(currency)) => format!("{}/kWh", currency.code()),
        (dimension, _) => dimension.canonical_unit().to_owned(),
    };
    let half_unit = if reading.dimension == Dimension::Temperature { "K" } else { &unit };
    let value = amount(reading.value, &unit);
    match reading.spread {
        None => value,
        Some(Spread::HalfWidth95(half)) => format!("{value} ± {}", amount(half, half_unit)),
        Some(Spread::Tolerance(half)) => format!("{value} tolerance ± {}", amount(half, half_unit)),
        Some(Spread::Factor95(factor)) => format!("{value} ×/÷ {}", digits(factor)),
        Some(Spread::Range { low, high }) => format!("{}..{}", digits(low), amount(high, &unit)),
    }
}

fn amount(value: f64, unit: &str) -> String {
    if unit.is_empty() { digits(value) } else { format!("{} {unit}", digits(value)) }
}

/// Writes the shortest decimal that reads back to the same float; powers of ten where zeros would fill a line.
fn digits(value: f64) -> String {
    let size = value.abs();
    if size == 0.0 || (1e-5..1e15).contains(&size) { format!("{value}") } else { format!("{value:e}") }
}
