//! One table, read key by key; what nobody asked for is named at the end.

use super::names::{Names, nearest};
use super::problems::Problems;
use super::tree::{Entry, Kind, Node, Table};
use crate::diagnostic::Diagnostic;
use crate::source::Place;
use quantity::{Dimension, Problem, ReadError, Spread};
use std::collections::BTreeSet;
use std::ops::Range;

/// A quantity as read from the book.
#[derive(Clone, Debug, PartialEq)]
pub struct Quantity {
    /// Value in the dimension's canonical unit.
    pub value: f64,
    /// Spread as written.
    pub spread: Option<Spread>,
    /// What it measures.
    pub dimension: Dimension,
    /// Where it is written.
    pub place: Place,
    /// The text as written.
    pub text: String,
}

/// Which values make sense, in canonical units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    low: f64,
    high: f64,
    low_open: bool,
    /// Said when broken: "is more than zero".
    words: &'static str,
}

impl Bounds {
    /// Anything finite.
    pub const ANY: Self =
        Self { low: f64::MIN, high: f64::MAX, low_open: false, words: "is a finite number" };
    /// More than zero.
    pub const POSITIVE: Self = Self { low: 0.0, high: f64::MAX, low_open: true, words: "is more than zero" };
    /// Zero or more.
    pub const NOT_NEGATIVE: Self =
        Self { low: 0.0, high: f64::MAX, low_open: false, words: "is zero or more" };
    /// A share of a whole.
    pub const SHARE: Self =
        Self { low: 0.0, high: 1.0, low_open: false, words: "lies between 0 % and 100 %" };

    /// Values from `low` to `high`; `words` complete "a thickness …".
    pub const fn within(low: f64, high: f64, words: &'static str) -> Self {
        Self { low, high, low_open: false, words }
    }

    /// Values above `low` up to `high`.
    pub const fn above(low: f64, high: f64, words: &'static str) -> Self {
        Self { low, high, low_open: true, words }
    }

    fn hold(&self, value: f64) -> bool {
        value.is_finite()
            && value <= self.high
            && if self.low_open { value > self.low } else { value >= self.low }
    }
}

/// Text with its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Word {
    /// The text, trimmed.
    pub text: String,
    /// Where it is written.
    pub place: Place,
}

/// A table being read.
#[derive(Debug)]
pub struct Fields<'a> {
    table: &'a Table,
    /// What the table describes, for messages: `assembly "upper-wall"`.
    noun: String,
    /// Where its header or name is.
    at: Place,
    /// Path of the item, as the model names it.
    path: String,
    asked: BTreeSet<String>,
}

impl<'a> Fields<'a> {
    /// Starts reading a table. `noun` names it in messages, `path` is remembered for the model's own problems.
    pub fn new(table: &'a Table, noun: impl Into<String>, at: Place, path: impl Into<String>) -> Self {
        Self { table, noun: noun.into(), at, path: path.into(), asked: BTreeSet::new() }
    }

    /// Returns where the table's header or name is.
    pub fn at(&self) -> &Place {
        &self.at
    }

    /// Returns what the table describes.
    pub fn noun(&self) -> &str {
        &self.noun
    }

    /// Returns the path of the item.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// Returns the entry of a key and marks it as known.
    pub fn entry(&mut self, key: &str) -> Option<&'a Entry> {
        self.asked.insert(key.to_owned());
        self.table.get(key)
    }

    /// Returns the value of a key and marks it as known.
    pub fn node(&mut self, key: &str) -> Option<&'a Node> {
        self.entry(key).map(|e| &e.node)
    }

    /// Says whether the key is there and marks it as known.
    pub fn has(&mut self, key: &str) -> bool {
        self.entry(key).is_some()
    }

    /// Returns every entry, marking all as known: for tables keyed by the builder's own names.
    pub fn entries(&mut self) -> &'a [Entry] {
        self.asked.extend(self.table.entries.iter().map(|e| e.key.clone()));
        &self.table.entries
    }

    /// Notes that a key is missing; `example` shows the whole line.
    pub fn missing(&self, cx: &mut Problems, key: &str, example: &str) {
        cx.error(
            "missing",
            &self.at,
            format!("{} has no \"{key}\"", self.noun),
            format!("add a line like: {example}"),
        );
    }

    /// Reads a text.
    pub fn text(&mut self, cx: &mut Problems, key: &str) -> Option<Word> {
        let node = self.node(key)?;
        let word = word(cx, key, node)?;
        cx.remember(format!("{}.{key}", self.path), &word.place);
        Some(word)
    }

    /// Reads a text that must be there.
    pub fn need_text(&mut self, cx: &mut Problems, key: &str, example: &str) -> Option<Word> {
        if !self.has(key) {
            self.missing(cx, key, example);
            return None;
        }
        self.text(cx, key)
    }

    /// Reads true or false.
    pub fn flag(&mut self, cx: &mut Problems, key: &str) -> Option<bool> {
        let node = self.node(key)?;
        if let Kind::Bool(value) = node.kind {
            return Some(value);
        }
        let message = format!("\"{key}\" is true or false, this is {}", node.kind.words());
        cx.error("type", &node.place, message, format!("write {key} = true, without quotes"));
        None
    }

    /// Reads a whole number that is not negative.
    pub fn count(&mut self, cx: &mut Problems, key: &str) -> Option<u32> {
        let node = self.node(key)?;
        cx.remember(format!("{}.{key}", self.path), &node.place);
        let value = match &node.kind {
            Kind::Integer(i) => u32::try_from(*i).ok(),
            Kind::Text { value, .. } => value.trim().parse().ok(),
            _ => None,
        };
        if value.is_none() {
            cx.error(
                "type",
                &node.place,
                format!("\"{key}\" is a whole number, not negative"),
                format!("write it like: {key} = 3"),
            );
        }
        value
    }

    /// Reads a quantity.
    pub fn quantity(
        &mut self,
        cx: &mut Problems,
        key: &str,
        dimension: Dimension,
        bounds: Bounds,
    ) -> Option<Quantity> {
        let node = self.node(key)?;
        cx.remember(format!("{}.{key}", self.path), &node.place);
        quantity(cx, key, node, dimension, bounds)
    }

    /// Reads a quantity that must be there.
    pub fn need_quantity(
        &mut self,
        cx: &mut Problems,
        key: &str,
        dimension: Dimension,
        bounds: Bounds,
    ) -> Option<Quantity> {
        if !self.has(key) {
            let example = if dimension == Dimension::Length { "2.4 m" } else { dimension.example() };
            self.missing(cx, key, &format!("{key} = \"{example}\""));
            return None;
        }
        self.quantity(cx, key, dimension, bounds)
    }

    /// Reads one of several words.
    pub fn choice<T: Copy>(&mut self, cx: &mut Problems, key: &str, choices: &[(&str, T)]) -> Option<T> {
        let word = self.text(cx, key)?;
        choose(cx, key, &word, choices)
    }

    /// Reads the name of something defined elsewhere; notes when there is no such thing.
    pub fn reference(&mut self, cx: &mut Problems, key: &str, names: &Names, kind: &str) -> Option<Word> {
        let word = self.text(cx, key)?;
        refer(cx, &word, names, kind).then_some(word)
    }

    /// Reads a list.
    pub fn list(&mut self, cx: &mut Problems, key: &str) -> Option<&'a [Node]> {
        let node = self.node(key)?;
        cx.remember(format!("{}.{key}", self.path), &node.place);
        if let Kind::List(items) = &node.kind {
            return Some(items);
        }
        let message = format!("\"{key}\" is a list, this is {}", node.kind.words());
        cx.error("type", &node.place, message, format!("write it like: {key} = [\"…\", \"…\"]"));
        None
    }

    /// Reads a list of texts; a single text counts as a list of one.
    pub fn texts(&mut self, cx: &mut Problems, key: &str) -> Vec<Word> {
        if let Some(Node { kind: Kind::Text { .. }, .. }) = self.node(key) {
            return self.text(cx, key).into_iter().collect();
        }
        let Some(items) = self.list(cx, key) else { return Vec::new() };
        items.iter().filter_map(|item| word(cx, key, item)).collect()
    }

    /// Opens a table inside this one.
    pub fn table(&mut self, cx: &mut Problems, key: &str) -> Option<Fields<'a>> {
        let noun = format!("\"{key}\" of {}", self.noun);
        // Tables of the book's top level have no path above them.
        let path = if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) };
        let entry = self.entry(key)?;
        as_table(cx, key, entry).map(|table| {
            cx.remember(path.clone(), &entry.key_place);
            Fields::new(table, noun, entry.key_place.clone(), path)
        })
    }

    /// Ends the reading: every key that nobody asked for is an error, with the nearest known one.
    pub fn finish(self, cx: &mut Problems) {
        for entry in &self.table.entries {
            if self.asked.contains(&entry.key) {
                continue;
            }
            let known: Vec<&str> = self.asked.iter().map(String::as_str).collect();
            let mut d = Diagnostic::error(
                "key",
                &entry.key_place,
                format!("{} knows no key \"{}\"", self.noun, entry.key),
            );
            d = match nearest(&entry.key, known.iter().copied()) {
                Some(near) => d.with_label(format!("did you mean \"{near}\"?")),
                None => d.with_help(format!("it knows: {}", known.join(", "))),
            };
            cx.add(d);
        }
    }
}

/// Takes an entry as a table, or notes that it is none.
pub fn as_table<'a>(cx: &mut Problems, key: &str, entry: &'a Entry) -> Option<&'a Table> {
    if let Kind::Table(table) = &entry.node.kind {
        return Some(table);
    }
    let message = format!("\"{key}\" is a table, this is {}", entry.node.kind.words());
    cx.error(
        "type",
        &entry.node.place,
        message,
        format!("write it as {key} = {{ … }} or under a header [{key}]"),
    );
    None
}

/// Takes a value as text, trimmed, or notes that it is none; empty text is refused.
pub fn word(cx: &mut Problems, key: &str, node: &Node) -> Option<Word> {
    let Kind::Text { value, .. } = &node.kind else {
        let message = format!("{} is text, this is {}", noun(key), node.kind.words());
        cx.error("type", &node.place, message, format!("put it in quotes: {key} = \"…\""));
        return None;
    };
    if value.trim().is_empty() {
        cx.error(
            "empty",
            &node.place,
            format!("{} is empty", noun(key)),
            "write something between the quotes",
        );
        return None;
    }
    Some(Word { text: value.trim().to_owned(), place: node.place.clone() })
}

/// Finds a word among the choices, or notes the nearest.
pub fn choose<T: Copy>(cx: &mut Problems, key: &str, word: &Word, choices: &[(&str, T)]) -> Option<T> {
    if let Some((_, value)) = choices.iter().find(|(name, _)| name.eq_ignore_ascii_case(&word.text)) {
        return Some(*value);
    }
    let names = || choices.iter().map(|(name, _)| *name);
    let mut d =
        Diagnostic::error("choice", &word.place, format!("{} cannot be \"{}\"", noun(key), word.text))
            .with_help(format!("it is one of: {}", names().collect::<Vec<_>>().join(", ")));
    if let Some(near) = nearest(&word.text, names()) {
        d = d.with_label(format!("did you mean \"{near}\"?"));
    }
    cx.add(d);
    None
}

/// Says whether a name is defined; if not, notes the nearest with the place where it is.
pub fn refer(cx: &mut Problems, word: &Word, names: &Names, kind: &str) -> bool {
    if names.contains(&word.text) {
        return true;
    }
    let mut d = Diagnostic::error("name", &word.place, format!("no {kind} called \"{}\"", word.text));
    d = match nearest(&word.text, names.iter()) {
        Some(near) => {
            let at = names.place(near).map(|p| format!(" ({})", cx.sources.file_line(p))).unwrap_or_default();
            d.with_label(format!("did you mean \"{near}\"{at}?"))
        }
        None if names.is_empty() => d.with_help(format!("the book defines no {kind} yet")),
        None => {
            let shown: Vec<&str> = names.iter().take(12).collect();
            d.with_help(format!("defined are: {}", shown.join(", ")))
        }
    };
    cx.add(d);
    false
}

/// Reads a value as a quantity.
pub fn quantity(
    cx: &mut Problems,
    key: &str,
    node: &Node,
    dimension: Dimension,
    bounds: Bounds,
) -> Option<Quantity> {
    let text = match &node.kind {
        Kind::Text { value, .. } => value.clone(),
        Kind::Integer(i) if !dimension.needs_unit() => i.to_string(),
        Kind::Float(f) if !dimension.needs_unit() && f.is_finite() => f.to_string(),
        Kind::Integer(_) | Kind::Float(_) => {
            let written = cx.sources.get(node.place.file).text()[node.place.span.clone()].to_owned();
            let d = Diagnostic::error("unit", &node.place, format!("{} needs its unit", noun(key)))
                .with_label(format!("{written} what?"))
                .with_help(format!("write it as text with a unit, like {}", examples(dimension)));
            cx.add(d);
            return None;
        }
        other => {
            let message = format!("{} is a quantity, this is {}", noun(key), other.words());
            cx.error("type", &node.place, message, format!("write it like {}", examples(dimension)));
            return None;
        }
    };
    piece(cx, key, node, &text, 0..text.len(), dimension, bounds)
}

/// Reads a part of a text as a quantity: one side of "1.22 m × 1.98 m".
pub fn piece(
    cx: &mut Problems,
    key: &str,
    node: &Node,
    text: &str,
    range: Range<usize>,
    dimension: Dimension,
    bounds: Bounds,
) -> Option<Quantity> {
    let part = &text[range.clone()];
    let offset = range.start;
    match quantity::read(part, dimension) {
        Ok(reading) if bounds.hold(reading.value) => Some(Quantity {
            value: reading.value,
            spread: reading.spread,
            dimension,
            place: node.place.clone(),
            text: part.trim().to_owned(),
        }),
        Ok(_) => {
            let place = if range.len() == text.len() { node.place.clone() } else { node.inside(range) };
            let message = format!("{} {}", noun(key), bounds.words);
            let d =
                Diagnostic::error("range", &place, message).with_label(format!("{} cannot be", part.trim()));
            cx.add(d.with_help("correct the figure or its unit"));
            None
        }
        Err(error) => {
            cx.add(unreadable(key, node, &error, offset));
            None
        }
    }
}

/// Says why a quantity could not be read, with the place inside its text.
fn unreadable(key: &str, node: &Node, error: &ReadError, offset: usize) -> Diagnostic {
    let place = node.inside(error.span.start + offset..error.span.end + offset);
    let write = format!("write it like {}", examples(error.dimension));
    let help = error.hint().map_or_else(|| write.clone(), |hint| format!("{hint}; {write}"));
    let (code, message, label) = match &error.problem {
        Problem::WrongDimension { found: Some(found), .. } => (
            "unit",
            format!("{} is {}, this is {}", noun(key), error.dimension.with_article(), found.with_article()),
            format!("expected {}", error.dimension.with_article()),
        ),
        Problem::UnitMissing { number } => {
            ("unit", format!("{} needs its unit", noun(key)), format!("{number} what?"))
        }
        Problem::UnitUnknown { found, near } => (
            "unit",
            format!("\"{found}\" is no unit known here"),
            near.map_or_else(
                || format!("expected {}", error.expected()),
                |n| format!("did you mean \"{n}\"?"),
            ),
        ),
        Problem::Comma { .. } => {
            ("decimal", "a decimal is written with a point".to_owned(), error.hint().unwrap_or_default())
        }
        Problem::BelowAbsoluteZero => ("range", format!("{}: {}", noun(key), error.found()), String::new()),
        _ => (
            "quantity",
            format!("{}: {}", noun(key), error.found()),
            format!("expected {}", error.expected()),
        ),
    };
    let help = match &error.problem {
        Problem::Comma { .. } | Problem::UnitUnknown { .. } => write,
        Problem::UnitMissing { .. } => error.hint().unwrap_or(write),
        _ => help,
    };
    Diagnostic::error(code, &place, message).with_label(label).with_help(help)
}

/// Returns examples of a dimension, each in quotes.
pub fn examples(dimension: Dimension) -> String {
    match dimension {
        Dimension::Length => "\"25 mm\", \"1 in\" or \"2 ft 6 in\"".to_owned(),
        Dimension::Temperature => "\"21 °C\" or \"70 °F\"".to_owned(),
        Dimension::VolumeFlow => "\"210 m³/h\" or \"85 cfm\"".to_owned(),
        Dimension::Area => "\"14.8 m²\" or \"160 ft²\"".to_owned(),
        other => format!("\"{}\"", other.example()),
    }
}

/// Keys that read as nouns in a sentence; the others are quoted.
const NOUNS: [&str; 42] = [
    "absorption",
    "air-leakage",
    "air-permeability",
    "area",
    "basis",
    "ceiling",
    "co2",
    "conductivity",
    "control",
    "density",
    "depth",
    "elevation",
    "emissivity",
    "exponent",
    "factor",
    "floor-level",
    "flow",
    "footprint",
    "height",
    "interval",
    "kind",
    "label",
    "latitude",
    "longitude",
    "name",
    "opaque-share",
    "place",
    "pressure",
    "share",
    "side",
    "sill",
    "size",
    "slope",
    "specific-heat",
    "stage",
    "temperature",
    "thickness",
    "transmittance",
    "trade",
    "vapour-factor",
    "volume",
    "width",
];

/// Returns a key as it reads in a sentence: "a thickness", "\"outdoor-air\"".
pub fn noun(key: &str) -> String {
    match key {
        "u" => return "a U-value".to_owned(),
        "g" => return "a g-value".to_owned(),
        _ if !NOUNS.contains(&key) => return format!("\"{key}\""),
        _ => {}
    }
    let words = key.replace('-', " ");
    let article = if words.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
    format!("{article} {words}")
}
