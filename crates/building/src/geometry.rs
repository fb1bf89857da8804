//! Shape: polygons with named sides, offsets, overlaps, roofs.
//!
//! Coordinates are metres on the plan's axes (x to plan-right, y to plan-up). Polygons are simple and run
//! counter-clockwise. [`TOUCH_M`] is how far apart two faces may lie and still be one: rooms are surveyed to the
//! centimetre.

mod overlap;
mod polygon;
mod roof;

pub use overlap::{Shared, intersection, minus, shared_edges};
pub use polygon::{Polygon, PolygonError};
pub(crate) use roof::low_headroom_m2;
pub use roof::{RoofGeometry, roof_geometry};

/// Faces closer than this are one, m.
pub const TOUCH_M: f64 = 0.025;
