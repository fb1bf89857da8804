//! Drawings, charts and pages.
#![forbid(unsafe_code)]
