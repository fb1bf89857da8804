//! Heat through solids.
//!
//! Where to start:
//! * [`transient`]: conduction in time through one layered element, as a handful of modes.
//! * [`periodic`]: the exact periodic and step response of layers (ISO 13786).
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]

mod complex;
mod error;
pub mod periodic;
pub mod transient;

pub use complex::Complex;
pub use error::FabricError;
