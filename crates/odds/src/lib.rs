//! Evidence, sampling, chances, causes.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]
