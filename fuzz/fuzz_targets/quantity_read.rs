//! Any text, read as every dimension: no panic, spans inside the text, exact round trip of what is read.
#![no_main]

#[path = "../../crates/quantity/tests/entry/mod.rs"]
mod entry;

libfuzzer_sys::fuzz_target!(|text: &str| entry::read_as_everything(text));
