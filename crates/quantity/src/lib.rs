//! Numbers with units and spreads: read, convert, show.
#![forbid(unsafe_code)]
