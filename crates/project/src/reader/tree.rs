//! TOML as a tree of our own: every key and value with its place, in the order written.

use crate::diagnostic::Diagnostic;
use crate::source::{FileId, Place, Sources};
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A value with its place.
#[derive(Clone, Debug)]
pub struct Node {
    /// Where it is written.
    pub place: Place,
    /// What it is.
    pub kind: Kind,
}

/// What a value is.
#[derive(Clone, Debug)]
pub enum Kind {
    /// Text, decoded, with the text as it stands in the file (quotes and escapes included).
    Text {
        /// Decoded.
        value: String,
        /// As written.
        raw: String,
    },
    /// A whole number.
    Integer(i64),
    /// A number.
    Float(f64),
    /// true or false.
    Bool(bool),
    /// A date or time, as written.
    Date(String),
    /// A list.
    List(Vec<Node>),
    /// A table.
    Table(Table),
}

impl Kind {
    /// Returns what it is, in words with an article.
    pub fn words(&self) -> &'static str {
        match self {
            Self::Text { .. } => "text",
            Self::Integer(_) | Self::Float(_) => "a bare number",
            Self::Bool(_) => "true or false",
            Self::Date(_) => "a date",
            Self::List(_) => "a list",
            Self::Table(_) => "a table",
        }
    }
}

/// A table, its keys in the order written.
#[derive(Clone, Debug)]
pub struct Table {
    /// Where its header or brace is.
    pub place: Place,
    /// Its entries.
    pub entries: Vec<Entry>,
}

/// One key and its value.
#[derive(Clone, Debug)]
pub struct Entry {
    /// The key, decoded.
    pub key: String,
    /// Where the key is written.
    pub key_place: Place,
    /// The value.
    pub node: Node,
}

impl Table {
    /// Returns the entry of that key.
    pub fn get(&self, key: &str) -> Option<&Entry> {
        self.entries.iter().find(|e| e.key == key)
    }
}

impl Node {
    /// Maps a byte range of the decoded text to its place in the file, escapes and quotes considered.
    ///
    /// For anything but text the whole value is returned.
    pub fn inside(&self, span: Range<usize>) -> Place {
        let Kind::Text { value, raw } = &self.kind else { return self.place.clone() };
        if span.start >= value.len() && span.end >= value.len() {
            return self.place.clone();
        }
        let start = raw_offset(raw, span.start);
        let end = raw_offset(raw, span.end).max(start + 1);
        Place::new(
            self.place.file,
            self.place.span.start + start..(self.place.span.start + end).min(self.place.span.end),
        )
    }
}

/// Returns the byte offset in a TOML string literal at which the decoded text has reached `decoded` bytes.
fn raw_offset(raw: &str, decoded: usize) -> usize {
    let (open, basic) = if raw.starts_with("\"\"\"") {
        (3, true)
    } else if raw.starts_with("'''") {
        (3, false)
    } else if raw.starts_with(['"', '\'']) {
        (1, raw.starts_with('"'))
    } else {
        // After a syntax error the parser may take unquoted text for a text.
        (0, false)
    };
    let mut at = open;
    // A line end directly after an opening triple quote is not part of the text.
    if open == 3 {
        at += raw[3..].len() - raw[3..].trim_start_matches('\r').trim_start_matches('\n').len();
    }
    let mut done = 0;
    while done < decoded && at < raw.len() {
        let rest = &raw[at..];
        let Some(c) = rest.chars().next() else { break };
        if basic && c == '\\' {
            let (length, bytes) = escape(rest);
            at += length;
            done += bytes;
        } else {
            at += c.len_utf8();
            done += c.len_utf8();
        }
    }
    at
}

/// Returns how many bytes an escape takes in the file and in the decoded text.
fn escape(rest: &str) -> (usize, usize) {
    let hex = |digits: usize| {
        let code = rest.get(2..2 + digits).and_then(|h| u32::from_str_radix(h, 16).ok());
        (2 + digits, code.and_then(char::from_u32).map_or(1, char::len_utf8))
    };
    match rest.as_bytes().get(1) {
        Some(b'x') => hex(2),
        Some(b'u') => hex(4),
        Some(b'U') => hex(8),
        // A backslash at a line's end swallows the white space after it.
        Some(b'\n' | b'\r' | b' ' | b'\t') => {
            let swallowed = rest[1..].len() - rest[1..].trim_start().len();
            (1 + swallowed, 0)
        }
        _ => (2, 1),
    }
}

/// Parses a text; returns what could be read of it and every syntax problem.
pub fn parse(sources: &Sources, file: FileId) -> (Table, Vec<Diagnostic>) {
    let text = sources.get(file).text();
    let (root, errors) = DeTable::parse_recoverable(text);
    let place = Place::new(file, 0..0);
    let table = table(text, file, root.get_ref(), place);
    let mut diagnostics: Vec<Diagnostic> = errors.iter().map(|e| syntax(text, file, e)).collect();
    // One slip often upsets the parser twice on a line; the first message is the useful one.
    diagnostics.dedup_by_key(|d| d.place().map(|p| sources.get(file).line_column(p.span.start).0));
    forget_repeats_under_a_repeated_header(sources, file, &mut diagnostics);
    (table, diagnostics)
}

/// Under a header given twice every key is "given twice" too; only the header is said.
fn forget_repeats_under_a_repeated_header(
    sources: &Sources,
    file: FileId,
    diagnostics: &mut Vec<Diagnostic>,
) {
    let source = sources.get(file);
    let header_of = |line: usize| {
        (1..=line).rev().find(|l| source.text()[source.line_range(*l)].trim_start().starts_with('['))
    };
    let line = |d: &Diagnostic| d.place().map_or(0, |p| source.line_column(p.span.start).0);
    let repeated: Vec<usize> = diagnostics
        .iter()
        .filter(|d| d.code == "duplicate" && header_of(line(d)) == Some(line(d)))
        .map(line)
        .collect();
    diagnostics.retain(|d| {
        let own = line(d);
        d.code != "duplicate"
            || repeated.contains(&own)
            || header_of(own).is_none_or(|h| !repeated.contains(&h))
    });
}

fn table(text: &str, file: FileId, from: &DeTable<'_>, place: Place) -> Table {
    let mut entries: Vec<Entry> = from
        .iter()
        .map(|(key, value)| Entry {
            key: key.get_ref().clone().into_owned(),
            key_place: Place::new(file, clamp(text, key.span())),
            node: node(text, file, value),
        })
        .collect();
    entries.sort_by_key(|e| (e.key_place.span.start, e.node.place.span.start));
    Table { place, entries }
}

fn node(text: &str, file: FileId, value: &Spanned<DeValue<'_>>) -> Node {
    let span = clamp(text, value.span());
    let place = Place::new(file, span.clone());
    let kind = match value.get_ref() {
        DeValue::String(s) => Kind::Text { value: s.clone().into_owned(), raw: text[span].to_owned() },
        DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix())
            .map_or_else(|_| Kind::Float(i.as_str().parse().unwrap_or(f64::INFINITY)), Kind::Integer),
        // Text that the parser took for a float but that overflows stands as infinite and is refused by its bounds.
        DeValue::Float(f) => Kind::Float(f.as_str().parse().unwrap_or(f64::NAN)),
        DeValue::Boolean(b) => Kind::Bool(*b),
        DeValue::Datetime(d) => Kind::Date(d.to_string()),
        DeValue::Array(items) => Kind::List(items.iter().map(|v| node(text, file, v)).collect()),
        DeValue::Table(t) => Kind::Table(table(text, file, t, place.clone())),
    };
    Node { place, kind }
}

/// Keeps a span inside the text and on character boundaries, whatever a recovering parser says.
fn clamp(text: &str, span: Range<usize>) -> Range<usize> {
    let floor = |mut at: usize| {
        at = at.min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let start = floor(span.start);
    start..floor(span.end).max(start)
}

/// Says a syntax error in the builder's words, with a hint where the line shows what was meant.
fn syntax(text: &str, file: FileId, error: &toml::de::Error) -> Diagnostic {
    let span = clamp(text, error.span().unwrap_or(0..0));
    let place = Place::new(file, span.clone());
    let raw = error.message().trim();
    if raw.contains("duplicate key") {
        let key = text[span].trim_matches(['"', '\'']).to_owned();
        return Diagnostic::error("duplicate", &place, format!("\"{key}\" is given twice in the same table"))
            .with_help("keep one of the two");
    }
    let message = raw.lines().next().unwrap_or("this is not TOML").to_owned();
    Diagnostic::error("syntax", &place, message).with_help(syntax_help(text, span.start))
}

fn syntax_help(text: &str, at: usize) -> &'static str {
    let start = text[..at].rfind('\n').map_or(0, |i| i + 1);
    let end = text[at..].find('\n').map_or(text.len(), |i| at + i);
    let line = text[start..end].trim();
    let value = line.split_once('=').map_or("", |(_, v)| v.trim());
    if value.starts_with(|c: char| c.is_ascii_digit() || c == '-') && value.contains(char::is_alphabetic) {
        return "a quantity is text: put it in quotes, like \"25 mm\"";
    }
    if value.starts_with(|c: char| c.is_ascii_digit()) && value.contains(',') {
        return "write decimals with a point, and quantities in quotes, like \"0.035 W/(m·K)\"";
    }
    if line.matches('"').count() % 2 == 1 {
        return "a quote opened on this line is not closed; an inch sign inside quotes is written in";
    }
    if line.starts_with('[') && !line.contains(']') {
        return "a header ends with ], like [assembly.upper-wall]";
    }
    if !line.contains('=') && !line.starts_with('[') && !line.is_empty() {
        return "a line is a [header], a key = value, or a # comment";
    }
    "a line is key = value; text and quantities stand in quotes, lists in [ ], tables in { }"
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> (Sources, Table, Vec<Diagnostic>) {
        let mut sources = Sources::default();
        let id = sources.add("b", text);
        let (table, problems) = parse(&sources, id);
        (sources, table, problems)
    }

    #[test]
    fn keeps_order_and_places() {
        let (sources, table, problems) = read("b = 1\na = \"x\"\n[t]\nz = [1, 2]\n");
        assert!(problems.is_empty());
        let keys: Vec<&str> = table.entries.iter().map(|e| e.key.as_str()).collect();
        assert_eq!(keys, ["b", "a", "t"]);
        let a = &table.entries[1];
        assert_eq!(sources.get(a.node.place.file).line_column(a.node.place.span.start), (2, 5));
    }

    #[test]
    fn spans_inside_text_count_escapes() {
        for text in ["a = \"\\u00b0 25 kg\"", "a = '° 25 kg'", "a = \"° 25 kg\"", "a = \"\"\"\n° 25 kg\"\"\""]
        {
            let (sources, table, _) = read(text);
            let node = &table.entries[0].node;
            let Kind::Text { value, .. } = &node.kind else { panic!("text") };
            let at = value.find("kg").expect("there");
            let place = node.inside(at..at + 2);
            assert_eq!(&sources.get(place.file).text()[place.span.clone()], "kg", "{text}");
        }
    }

    #[test]
    fn several_syntax_problems_are_found_at_once() {
        let (_, _, problems) = read("a = 25 mm\nb = \"ok\"\nc = \nd = 1\nd = 2\n");
        assert!(problems.len() >= 3, "{problems:?}");
        assert!(problems[0].help.contains("quotes"));
        assert!(problems.iter().any(|d| d.code == "duplicate"));
    }
}
