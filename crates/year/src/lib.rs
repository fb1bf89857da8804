//! The coupled balance of a building over a year, and limits judged.
//!
//! [`kernel`] runs the hourly balance on plain arrays, one building or a lane of many; [`monthly`] is the
//! quasi-steady method beside it.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]

pub mod kernel;
pub mod monthly;
