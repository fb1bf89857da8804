//! Drawings, charts and pages.
#![forbid(unsafe_code)]

pub mod adapt;
pub mod draw;
pub mod page;
pub mod reader;
pub mod sheet;
pub mod svg;
