//! Heat, air and moisture transport through layers.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]
