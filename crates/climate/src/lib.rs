//! One weather year and what follows from it: sun, sky, tilted irradiance, ground temperature, design days.
//!
//! * [`read`] turns the text of a weather file into a [`Climate`]: 8 760 hours of a year without 29 February, in
//!   local standard time. Every problem of the file comes back at once, with its row.
//! * [`sun`], [`perez`] and [`tilted`] say where the sun stands and what falls on a plane of any slope.
//! * [`shade`] says which share of a window an overhang and fins leave sunlit.
//! * [`sky`], [`ground`], [`design_days`] and [`degree_days`] give the other boundary conditions;
//!   [`rain`] what of the rain reaches a wall, [`synthetic_rain`] hours made up from a year's sum.
//!
//! Text comes in, numbers go out: this crate opens no file.
//!
//! ```
//! let year = climate::demo_year();
//! assert_eq!(year.hours.len(), climate::HOURS);
//! let mean = year.hours.iter().map(|h| h.dry_bulb_c).sum::<f64>() / climate::HOURS as f64;
//! assert!((14.0..15.0).contains(&mean), "{mean}");
//! ```
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]

pub mod calendar;
pub mod degree_days;
mod demo;
pub mod design_days;
pub mod ground;
pub mod perez;
mod problem;
pub mod rain;
mod read;
pub mod shade;
pub mod sky;
pub mod sun;
pub mod synthetic_rain;
pub mod tilted;
mod year;

pub use calendar::HOURS;
pub use demo::{demo_year, demo_year_text};
pub use problem::{WeatherProblem, WeatherProblemKind};
pub use read::{Format, ReadOptions, detect, read, read_with};
pub use year::{Climate, CloudOrigin, Hour, LongwaveOrigin, Outdoor, Place};
