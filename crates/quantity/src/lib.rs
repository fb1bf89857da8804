//! Numbers with units and spreads: read, convert, show.
//!
//! - [`read`] turns text such as `7 1/2 in ± 5 %` into a [`Reading`]: a plain `f64` in the canonical unit of its
//!   [`Dimension`], with its [`Spread`]. [`ReadError`] says where and why not, and what to write instead.
//! - [`show`] turns a value back into text with sensible digits, in US or SI units ([`System`]);
//!   [`write_exact`] writes a reading so that reading it again gives the same bits.
//! - [`Length`], [`Temperature`], [`Resistance`] and their like carry values across public boundaries.
//!
//! ```
//! use quantity::{Dimension, System, read, show};
//! let flow = read("210 m³/h", Dimension::VolumeFlow)?;
//! assert_eq!(show(flow.value, Dimension::VolumeFlow, System::Us), "124 cfm");
//! # Ok::<(), quantity::ReadError>(())
//! ```
//!
//! Not here: what range of values makes sense where (the caller knows), and distributions (crate `numeric`).
#![forbid(unsafe_code)]

mod dimension;
mod error;
mod length_text;
mod money;
mod newtypes;
mod number;
mod prefix;
mod read;
mod show;
mod signature;
mod spread;
mod unit;
mod units;
mod value;
mod write;

pub use dimension::Dimension;
pub use error::{Problem, ReadError};
pub use money::show_money;
pub use newtypes::{
    AirChange, Area, Conductivity, Energy, Length, Permeance, Power, Pressure, Resistance, Temperature,
    TemperatureDifference, Time, Transmittance, Volume, VolumeFlow,
};
pub use read::{Reading, read};
pub use show::{Qualifier, System, show, show_as, show_both, show_in, show_with_original, value_in};
pub use spread::Spread;
pub use units::{Currency, FactorSource, UnitRow, units};
pub use write::write_exact;

/// Water vapour permeability of still air, kg/(m·s·Pa), by which an equivalent air layer s_d and a permeance are
/// turned into one another. ISO 13788:2012 uses this one value (from memory).
pub const AIR_VAPOUR_PERMEABILITY: f64 = 2.0e-10;
