//! The machines of a very-low-energy building: numbers in, numbers out; they know no project.
//!
//! * Air: [`exchanger`] (recovery fitted to a test report), [`ventilation_unit`] (the unit round it: carry-over,
//!   frost, bypass, condensate), [`fan`] (affinity, filters), [`air_path`] (duct loss, open doors, supply-air limits).
//! * Heat and cold: [`heat_pump`] (a maker's map, or a second-law fit to a few points; cycling, defrost, cut-out,
//!   backup), [`seasonal`] (EN 14825 and US bins), [`regression`] (published field figures by lift).
//! * Hot water: [`tank`] (nodes, stable at any step), [`water_heater`] (what heats it, and when), [`draws`] (24-hour
//!   patterns), [`mains`] (cold water by season), [`drain`] (recovery from waste water).
//! * Electricity: [`solar`], [`storage`], [`tariff`], [`primary`] (ISO 52000-1 weighting, emissions).
//!
//! Signs: heat *given to* water or rooms and electricity *taken* are positive. Every step of every machine closes:
//! what goes in comes out or is stored. No machine beats the reversible one between the temperatures it works at.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]

pub mod air_path;
pub mod drain;
pub mod draws;
mod error;
pub mod exchanger;
pub mod fan;
pub mod heat_pump;
pub mod mains;
pub mod primary;
pub mod regression;
pub mod seasonal;
pub mod solar;
pub mod storage;
pub mod tank;
pub mod tariff;
pub mod ventilation_unit;
pub mod water_heater;

pub use error::PlantError;

/// Zero Celsius in kelvin.
pub const KELVIN: f64 = 273.15;
/// Joules of a kilowatt-hour.
pub const J_PER_KWH: f64 = 3.6e6;
