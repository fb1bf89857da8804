//! Where a project stands: limits judged, gaps found, the next thing worth doing.
//!
//! [`Standing`] is the single structure that the terminal, the sheets and scripts read. It is a wire type of its
//! own (see [`SCHEMA`]), always in SI; views convert for display through the `dimension` of each figure.
//! Odds stay `None` until chances are computed: nothing is invented to fill a picture.

mod types;

pub use types::{
    Cause, Comparison, CountedBeside, Figure, Finding, FindingKind, Headline, NextStep, Odds, Outcome, Place,
    ProjectLine, SCHEMA, Stage, StageState, Standing,
};
