//! Air on a job: from readings, records and the book to what a builder asks about leaks and fresh air.
//!
//! Each file puts questions to the laws of the air crate and answers with a plain structure that terminal, JSON and sheet
//! share; no law is written here. [`report`](fn@report) evaluates a pressure test.

mod evaluate;
mod file;
mod report;

pub use evaluate::{Ask, Per, circumstances, instruments, neighbour_words, report, source_words};
pub use file::{ask_of, read};
pub use report::*;

/// Reference pressure of the limits, Pa (ISO 9972).
pub const REFERENCE_PA: f64 = 50.0;
