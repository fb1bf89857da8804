//! Any text, read as a pressure-test file of both formats: no panic, lines inside the text, usable or refused in words.
#![no_main]

#[path = "../../crates/air/tests/entry/mod.rs"]
mod entry;

libfuzzer_sys::fuzz_target!(|text: &str| entry::read_anything(text));
