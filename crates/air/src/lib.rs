//! Leakage, pressure tests, flow network, contaminants, outdoor air.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]
