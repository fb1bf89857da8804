//! Materials and moist air.
//!
//! * [`library`]: about two hundred building materials with thermal and vapour properties, each row with its
//!   source; look one up with [`find`], or ask [`nearest`] what a misspelt name may have meant.
//! * [`moist_air`]: saturation, humidity, dew point, wet bulb, enthalpy and density of moist air.
//! * [`comfort`]: how warm people feel: the comfort equations of ISO 7730, EN 16798-1 and ASHRAE 55.
//!
//! Numbers in, numbers out: nothing here knows a building. Transport of moisture through materials is the business
//! of crate `moisture`; this crate only keeps the data.
//!
//! ```
//! let brick = matter::find("soft brick").expect("a library row");
//! assert_eq!(brick.conductivity_w_mk, 0.70);
//! // 203 mm of it resists 0.29 m²·K/W.
//! assert!((0.203 / brick.conductivity_w_mk - 0.29).abs() < 1e-12);
//! ```
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]

pub mod comfort;
mod material;
pub mod moist_air;

pub use material::{Family, Hygric, Material, Rating, VapourRating, find, library, nearest};
