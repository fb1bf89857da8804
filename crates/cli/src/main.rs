//! The `windtight` command.
#![forbid(unsafe_code)]

fn main() {}
