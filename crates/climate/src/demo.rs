//! The weather year inside the program, so that the demonstration needs no network.

use crate::{Climate, read};

/// Returns the text of the embedded weather year: Greensboro, North Carolina, TMY3, public domain.
pub fn demo_year_text() -> &'static str {
    include_str!("../data/723170TYA.CSV")
}

/// Returns the embedded weather year.
///
/// # Panics
/// Never: the text is part of the program, and a test reads it.
pub fn demo_year() -> Climate {
    read(demo_year_text()).unwrap_or_else(|problems| unreachable!("embedded weather year: {}", problems[0]))
}
