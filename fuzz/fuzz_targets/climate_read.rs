//! Any text as a weather file: a whole year or problems with rows, never a panic.
#![no_main]

#[path = "../../crates/climate/tests/entry/mod.rs"]
mod entry;

libfuzzer_sys::fuzz_target!(|text: &str| entry::read_any(text));
