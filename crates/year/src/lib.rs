//! The coupled balance of a building over a year, and limits judged.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]
pub mod monthly;
