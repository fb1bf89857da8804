//! Heat through solids.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]
