//! Any text as a book: reading, deriving and drawing its problems never panics.
#![no_main]

libfuzzer_sys::fuzz_target!(|text: &str| project::swallow(text));
