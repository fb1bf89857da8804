//! Heat, air and moisture transport through layers.
//!
//! - [`material`]: storage, vapour, liquid, conductivity and heat capacity of a material over the whole range of
//!   dampness; what a library row lacks is refused or filled by a listed estimate.
//! - [`wall`]: layers (inside to outside), what lies between them, where rain and air get in.
//! - [`drive`]: what acts on the two faces, period by period.
//! - [`transport`]: the coupled balance in time (EN 15026), with its error control and its tallies.
//! - [`surfaces`] and [`indoor`]: from weather, rooms and published suppositions to a drive.
//! - [`judge`], [`mould`], [`thresholds`]: what a run means.
//! - [`drying`]: the drying test; [`vapour_open`]: resistance to vapour and drying reserve without a run.
//! - [`monthly`]: the monthly method of ISO 13788, over [`glaser`].
//! - [`vapour`]: saturation curves and diffusion in air.
//!
//! The crate knows no project: numbers in, numbers out. Layers run inside to outside; flows into the wall are positive;
//! water is kg/m³ of material or kg/m² of wall, relative humidity a fraction.
//!
//! Not modelled: hysteresis of sorption, salts, rising damp, flow in two or three dimensions. Nothing here says "safe":
//! embedded timber and structure belong to a licensed designer.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]

pub mod drive;
pub mod drying;
mod error;
pub mod glaser;
pub mod indoor;
pub mod invented;
pub mod judge;
pub mod material;
pub mod monthly;
pub mod mould;
pub mod surfaces;
pub mod thresholds;
pub mod transport;
pub mod vapour;
pub mod vapour_open;
pub mod wall;

pub use error::MoistureError;
