//! Drawings on plain structs: no model, no results, only what is needed to put ink on paper.
//!
//! `hatch` fills, `scale` and `decimate` measure, `chart` and `tally` show figures, `section`, `long_section`,
//! `axonometric`, `barrier` and `joint` show the building. The model is turned into these structs in `crate::adapt`.

pub mod axonometric;
pub mod barrier;
pub mod chart;
pub mod damp;
pub mod decimate;
pub mod detail;
pub mod hatch;
pub mod joint;
pub mod log_log;
pub mod long_section;
pub mod scale;
pub mod section;
pub mod tally;
