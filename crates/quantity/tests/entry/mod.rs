//! What the property tests and the fuzz target `quantity_read` both run.

use quantity::{Dimension, Reading, Spread, read, write_exact};

/// Reads a text as every dimension; whatever comes back must hang together.
pub fn read_as_everything(text: &str) {
    for dimension in Dimension::ALL {
        match read(text, dimension) {
            Ok(found) => {
                assert!(found.value.is_finite(), "{text:?} as {dimension:?}");
                let again = read(&write_exact(&found), dimension);
                let same = again.as_ref().is_ok_and(|again| same_bits(&found, again));
                assert!(same, "{text:?} as {dimension:?}: {found:?} became {again:?}");
            }
            Err(error) => {
                assert!(text.get(error.span.clone()).is_some(), "{text:?}: {:?} is not in it", error.span);
                assert!(!error.to_string().is_empty());
            }
        }
    }
}

/// Tells whether value, spread and currency are the same to the last bit.
pub fn same_bits(a: &Reading, b: &Reading) -> bool {
    let bits = |spread: Option<Spread>| {
        spread.map(|spread| match spread {
            Spread::HalfWidth95(half) => (0, half.to_bits(), 0),
            Spread::Range { low, high } => (1, low.to_bits(), high.to_bits()),
            Spread::Factor95(factor) => (2, factor.to_bits(), 0),
            Spread::Tolerance(half) => (3, half.to_bits(), 0),
        })
    };
    a.value.to_bits() == b.value.to_bits() && bits(a.spread) == bits(b.spread) && a.currency == b.currency
}
