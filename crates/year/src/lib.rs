//! The coupled balance of a building over a year, and limits judged.
//!
//! * [`run`] takes a building through a year; [`result`] is what the year says.
//! * [`Frame`] is what samples of a building share; [`Frame::model`] and [`kernel::run_many`] run them by the thousand.
//! * [`details`] lays the model's joints out as sections to be solved.
//! * [`mod@judge`] holds years against limits.
//! * [`dry`] runs every exterior assembly through years of heat and moisture and judges whether it stays dry.
//! * [`kernel`] is the hourly balance itself, on plain arrays; [`monthly`] the quasi-steady method beside it, fed by
//!   [`quasi_steady`] from the same model.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]

pub mod assemble;
pub mod details;
pub mod dry;
mod error;
pub mod judge;
pub mod kernel;
pub mod monthly;
pub mod quasi_steady;
pub mod result;
pub mod sampled;
pub mod services;
pub mod simple;
pub mod tell;

pub use assemble::{Frame, StandardUse, YearOptions, transmittance, window_u_w_m2k};
pub use error::YearError;
pub use judge::{Judged, Judgement, Known, Shown, Years, judge};
pub use result::{Grain, Use, YearResult};
pub use tell::{Figures, compare_grains, required_outdoor_air, run};
