//! The model of a building: stated values, geometry, limits, records.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]
