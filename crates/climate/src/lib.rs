//! Weather files, sun, sky, tilted irradiance, ground temperature, design days.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]
