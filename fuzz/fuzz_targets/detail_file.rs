//! Any text as a detail file: read, told, never a panic. Nothing is solved.
#![no_main]

libfuzzer_sys::fuzz_target!(|text: &str| project::detail_file::swallow(text));
