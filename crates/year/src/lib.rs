//! The coupled balance of a building over a year, and limits judged.
//!
//! [`result`] is what a year says.
//! [`kernel`] runs the balance on plain arrays, one building or a lane of many; [`monthly`] is the quasi-steady method
//! beside it.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]

mod error;
pub mod kernel;
pub mod monthly;
pub mod result;

pub use error::YearError;
pub use result::{Grain, Use, YearResult};
