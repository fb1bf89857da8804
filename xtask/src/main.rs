//! Repository chores.
#![forbid(unsafe_code)]

fn main() {}
