//! Recovery, fans, heat pumps, water heating, electricity.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]
