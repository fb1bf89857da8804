//! A small walker over TOML text that keeps every place and collects every problem.
//!
//! [`tree`] turns a text into [`Node`]s that know their byte range; [`Fields`] reads one table key by key and, when
//! finished, names the keys nobody asked for. Nothing stops at the first problem: a getter returns `None` after
//! noting why, and the caller carries on.
//!
//! Deriving a deserialiser would be shorter, but it stops at the first error and loses places under flattened or
//! untagged types; a book deserves better.

mod fields;
mod names;
mod problems;
mod tree;

pub use fields::{
    Bounds, Fields, Quantity, Word, as_table, choose, examples, noun, piece, quantity, refer, word,
};
pub use names::{Names, nearest};
pub use problems::Problems;
pub use tree::{Entry, Kind, Node, Table, parse};
