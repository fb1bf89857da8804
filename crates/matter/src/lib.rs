//! Materials and moist air.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]
