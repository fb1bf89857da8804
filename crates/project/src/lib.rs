//! A project folder: the book, its records, its weather, the result cache, and where the building stands.
//!
//! The way through this crate: [`source`] opens the folder's files, [`reader`] walks the text with its places,
//! [`diagnostic`] says what is wrong and what to write instead, and [`standing`] is the one structure that every
//! view reads.
//!
//! Nothing here computes physics; the laws live below. Nothing here prints; the command does.
#![forbid(unsafe_code)]

pub mod air;
pub mod best;
pub mod book;
pub mod cache;
pub mod chances;
mod check;
pub mod demo;
pub mod detail_file;
pub mod details;
pub mod diagnostic;
pub mod dry;
mod kept;
pub mod left_out;
pub mod log;
pub mod proof;
pub mod reader;
pub mod records;
pub mod source;
pub mod standing;
pub mod starter;
pub mod takeoff;
pub mod weather;
pub mod working;
pub mod works;

pub use check::{Checked, Project, check, open, open_changed, swallow};
pub use kept::{Asked, standing_kept};
