//! A project folder: the book, records, cache and where it stands.
#![forbid(unsafe_code)]
