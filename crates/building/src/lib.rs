//! The model of a building: what the book says ([`plan`]), what follows from it ([`model`]), and the numbers of
//! both as stated values ([`stated`]).
//!
//! A [`plan::Plan`] is close to the text a builder writes: storeys with footprints, rooms, assemblies, openings.
//! [`Building::derive`] turns it into an immutable [`Building`]: elements with areas and orientation, junctions with
//! lengths, the calendar of the year. Model structs never hold a number that may be uncertain: they hold a
//! [`ValueKey`], and an engine is handed a [`Resolved`], the plain vector of numbers of one sample.
//!
//! Reading order: [`stated`], [`plan`], [`model`], [`geometry`], [`counting`], [`calendar`], [`control`],
//! [`continuity`], [`limits`], [`records`]. Lengths are metres, areas square metres, azimuths degrees clockwise from
//! true north (S = 180), tilts degrees from horizontal (0 faces up, 90 vertical, 180 faces down).
//!
//! Not here: files and their text (`project`), any physics (`fabric`, `air`, `year`).
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]

pub mod calendar;
pub mod continuity;
pub mod control;
pub mod counting;
pub mod defaults;
mod derive;
pub mod geometry;
pub mod limits;
pub mod model;
pub mod plan;
pub mod problem;
pub mod records;
pub mod sample;
pub mod spreads;
pub mod stated;

pub use model::Building;
pub use problem::ModelProblem;
pub use stated::{Resolved, Stated, StatedValues, ValueKey};
