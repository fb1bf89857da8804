//! Heat through solids.
//!
//! Where to start:
//! * [`layers`]: steady transmittance of layered elements (ISO 6946), with its working.
//! * [`transient`]: conduction in time through one layered element, as a handful of modes.
//! * [`periodic`]: the exact periodic and step response of layers (ISO 13786).
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]

mod complex;
mod error;
pub mod ground;
pub mod layers;
pub mod periodic;
pub mod transient;
pub mod working;

pub use complex::Complex;
pub use error::FabricError;
