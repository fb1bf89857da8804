//! Heat through solids.
//!
//! Where to start:
//! * [`layers`]: steady transmittance of layered elements (ISO 6946), with its working.
//! * [`window`], [`glazing`]: windows and doors (ISO 10077-1), centre of glass (EN 673), sun through panes.
//! * [`ground`]: floors and basements (ISO 13370), and the element that stands for the ground hour by hour.
//! * [`transient`]: conduction in time through one layered element, as a handful of modes.
//! * [`periodic`]: the exact periodic and step response of layers (ISO 13786).
//! * [`thermal_bridge`], [`surface`], [`conversion`]: joints with stated values, surfaces that stay dry, conductivity
//!   at other conditions (ISO 10456).
//!
//! Layers run inside → outside everywhere. Heat flow is positive into an element at the face it is stated for.
//! Results that a builder may question carry a [`working::Working`].
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]

mod complex;
pub mod conversion;
pub mod detail;
mod error;
pub mod glazing;
pub mod ground;
pub mod layers;
pub mod periodic;
pub mod surface;
pub mod thermal_bridge;
pub mod transient;
pub mod window;
pub mod working;

pub use complex::Complex;
pub use error::FabricError;
