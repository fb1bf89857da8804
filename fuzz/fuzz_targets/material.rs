//! Any bytes, taken for the numbers of a material: refused in words, or prepared and able to stand a wet day.
#![no_main]

#[path = "../../crates/moisture/tests/entry/mod.rs"]
mod entry;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| entry::take_any_material(bytes));
