//! Heat through solids.
//!
//! Where to start:
//! * [`transient`]: conduction in time through one layered element, as a handful of modes.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]

mod complex;
pub mod transient;

pub use complex::Complex;
