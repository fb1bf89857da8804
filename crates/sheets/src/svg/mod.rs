//! Our one SVG writer: a small tree of elements that escapes everything it is given.
//!
//! Element and attribute names are `&'static str`, so that no text of a user can become markup; attribute
//! values and text are escaped on the way out. Numbers are written with at most two decimals and always the
//! same way, so that equal drawings are equal bytes. Start at [`Drawing`].
//!
//! Not here: what is drawn (`draw`), how pages carry it (`page`).

mod metrics;
mod path;
mod style;

pub use metrics::{Weight, fit, text_width};
pub use path::Path;
pub use style::{ACCENT, FAINT, INK, PAPER, RULE, SOFT, drawing_css};

use std::fmt;

/// Writes a number for a drawing: two decimals at most, no trailing zeros, never `-0`.
///
/// A number that is not finite has no place on paper. Drawings filter such numbers out before they get here; if
/// one comes through, it is written as 0 so that the document stays well-formed.
pub fn number(value: f64) -> String {
    decimal(value, 2)
}

/// Writes a number with at most `places` decimals, without trailing zeros and without a negative zero.
pub fn decimal(value: f64, places: usize) -> String {
    if !value.is_finite() {
        return "0".to_owned();
    }
    let mut text = format!("{value:.places$}");
    if text.contains('.') {
        text.truncate(text.trim_end_matches('0').trim_end_matches('.').len());
    }
    if text == "-0" { "0".to_owned() } else { text }
}

/// Appends `text` to `out`, safe as XML or HTML text and inside double quotes.
///
/// Characters XML 1.0 does not allow (clause 2.2) become U+FFFD.
pub fn escape_into(text: &str, out: &mut String) {
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' | '\r' => out.push(' '),
            '\u{0}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            _ => out.push(c),
        }
    }
}

/// One SVG element with its attributes and children.
#[derive(Clone, Debug, PartialEq)]
pub struct Node {
    name: &'static str,
    attributes: Vec<(&'static str, String)>,
    children: Vec<Child>,
}

#[derive(Clone, Debug, PartialEq)]
enum Child {
    Node(Node),
    Text(String),
}

impl Node {
    /// Makes an element without attributes.
    pub fn new(name: &'static str) -> Self {
        Self { name, attributes: Vec::new(), children: Vec::new() }
    }

    /// Sets a text attribute.
    #[must_use]
    pub fn with(mut self, name: &'static str, value: impl Into<String>) -> Self {
        self.attributes.push((name, value.into()));
        self
    }

    /// Sets a number attribute.
    #[must_use]
    pub fn num(self, name: &'static str, value: f64) -> Self {
        self.with(name, number(value))
    }

    /// Sets the class.
    #[must_use]
    pub fn class(self, class: &'static str) -> Self {
        self.with("class", class)
    }

    /// Adds a child element.
    #[must_use]
    pub fn child(mut self, child: Self) -> Self {
        self.push(child);
        self
    }

    /// Adds text.
    #[must_use]
    pub fn content(mut self, text: impl Into<String>) -> Self {
        self.children.push(Child::Text(text.into()));
        self
    }

    /// Adds a child element in place.
    pub fn push(&mut self, child: Self) {
        self.children.push(Child::Node(child));
    }

    /// Adds child elements in order.
    pub fn extend(&mut self, children: impl IntoIterator<Item = Self>) {
        self.children.extend(children.into_iter().map(Child::Node));
    }

    /// Number of child elements and texts.
    pub fn len(&self) -> usize {
        self.children.len()
    }

    /// Whether there is nothing inside.
    pub fn is_empty(&self) -> bool {
        self.children.is_empty()
    }

    fn write(&self, out: &mut String) {
        out.push('<');
        out.push_str(self.name);
        for (name, value) in &self.attributes {
            out.push(' ');
            out.push_str(name);
            out.push_str("=\"");
            escape_into(value, out);
            out.push('"');
        }
        if self.children.is_empty() {
            out.push_str("/>");
            return;
        }
        out.push('>');
        for child in &self.children {
            match child {
                Child::Node(node) => node.write(out),
                Child::Text(text) => escape_into(text, out),
            }
        }
        out.push_str("</");
        out.push_str(self.name);
        out.push('>');
    }
}

impl fmt::Display for Node {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut out = String::new();
        self.write(&mut out);
        f.write_str(&out)
    }
}

/// A group with a class.
pub fn group(class: &'static str) -> Node {
    Node::new("g").class(class)
}

/// A straight line.
pub fn line(x1: f64, y1: f64, x2: f64, y2: f64, class: &'static str) -> Node {
    Node::new("line").num("x1", x1).num("y1", y1).num("x2", x2).num("y2", y2).class(class)
}

/// A rectangle.
pub fn rect(x: f64, y: f64, width: f64, height: f64, class: &'static str) -> Node {
    Node::new("rect").num("x", x).num("y", y).num("width", width).num("height", height).class(class)
}

/// A circle.
pub fn circle(cx: f64, cy: f64, r: f64, class: &'static str) -> Node {
    Node::new("circle").num("cx", cx).num("cy", cy).num("r", r).class(class)
}

/// A polygon through the points.
pub fn polygon(points: &[[f64; 2]], class: &'static str) -> Node {
    let list: Vec<String> = points.iter().map(|p| format!("{},{}", number(p[0]), number(p[1]))).collect();
    Node::new("polygon").with("points", list.join(" ")).class(class)
}

/// Where a text stands relative to its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// The text begins at the point.
    Start,
    /// The text is centred on the point.
    Middle,
    /// The text ends at the point.
    End,
}

/// Text on one line; `CO2` gets its index lowered.
pub fn text(x: f64, y: f64, content: &str, anchor: Anchor, class: &'static str) -> Node {
    let mut node = Node::new("text").num("x", x).num("y", y).class(class);
    match anchor {
        Anchor::Start => {}
        Anchor::Middle => node = node.with("text-anchor", "middle"),
        Anchor::End => node = node.with("text-anchor", "end"),
    }
    for (part, fraction) in fractions(&content.replace("CO2", "CO₂")) {
        node = if fraction {
            node.child(Node::new("tspan").class("fr").content(part))
        } else {
            node.content(part)
        };
    }
    node
}

/// Splits a text into plain parts and ruler fractions (`5/8`), which are set as one figure.
///
/// Only halves, quarters and eighths that stand by themselves count: the typeface sets a denominator of two digits
/// on top of what follows, so sixteenths stay in line, as do dates and ratios.
pub fn fractions(text: &str) -> Vec<(&str, bool)> {
    let mut parts = Vec::new();
    let mut plain_from = 0;
    let mut at = 0;
    for word in text.split_inclusive(' ') {
        let token = word.trim_end_matches([' ', ',', '.', ';', ')', '\u{a0}']);
        let opening = token.len() - token.trim_start_matches('(').len();
        let token = &token[opening..];
        let from = at + opening;
        at += word.len();
        let is_fraction = token.split_once('/').is_some_and(|(over, under)| {
            matches!(under, "2" | "4" | "8") && matches!(over, "1" | "3" | "5" | "7")
        });
        if is_fraction {
            parts.push((&text[plain_from..from], false));
            parts.push((token, true));
            plain_from = from + token.len();
        }
    }
    parts.push((&text[plain_from..], false));
    parts.retain(|(part, _)| !part.is_empty());
    parts
}

/// Text standing on its end, read from the right.
pub fn text_upright(x: f64, y: f64, content: &str, anchor: Anchor, class: &'static str) -> Node {
    let turn = format!("translate({} {}) rotate(-90)", number(x), number(y));
    text(0.0, 0.0, content, anchor, class).with("transform", turn)
}

/// A whole picture: its size in drawing units (one unit is one CSS pixel at natural size), its title and its
/// description for readers who do not see it.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    id: String,
    title: String,
    description: String,
    width: f64,
    height: f64,
    links: bool,
    patterns: Vec<Node>,
    body: Vec<Node>,
}

impl Drawing {
    /// Makes an empty picture. `id` must be unique on its page; characters that do not belong in an id are
    /// replaced.
    pub fn new(id: &str, title: impl Into<String>, width: f64, height: f64) -> Self {
        Self {
            id: slug(id),
            title: title.into(),
            description: String::new(),
            width,
            height,
            links: false,
            patterns: Vec::new(),
            body: Vec::new(),
        }
    }

    /// Says in a sentence or two what the picture shows.
    pub fn describe(&mut self, description: impl Into<String>) {
        self.description = description.into();
    }

    /// Id, safe for an attribute and for a `url(#…)`.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// Natural width.
    pub fn width(&self) -> f64 {
        self.width
    }

    /// Natural height.
    pub fn height(&self) -> f64 {
        self.height
    }

    /// Sets the height once it is known.
    pub fn set_height(&mut self, height: f64) {
        self.height = height;
    }

    /// Declares that elements are links, so that they stay reachable for a screen reader.
    pub fn has_links(&mut self) {
        self.links = true;
    }

    /// Adds a pattern, once for each id.
    pub fn pattern(&mut self, pattern: Node) {
        if !self.patterns.contains(&pattern) {
            self.patterns.push(pattern);
        }
    }

    /// Adds an element on top of what is there.
    pub fn push(&mut self, node: Node) {
        self.body.push(node);
    }

    /// Adds elements in order.
    pub fn extend(&mut self, nodes: impl IntoIterator<Item = Node>) {
        self.body.extend(nodes);
    }

    /// Picture for a page that already carries [`drawing_css`].
    pub fn inline(&self) -> String {
        self.root(None).to_string()
    }

    /// Picture that carries its own style: a file by itself.
    pub fn standalone(&self) -> String {
        self.root(Some(drawing_css())).to_string()
    }

    fn root(&self, css: Option<String>) -> Node {
        let title_id = format!("{}-title", self.id);
        let mut labelled_by = title_id.clone();
        let view = format!("0 0 {} {}", number(self.width), number(self.height));
        let mut head = vec![Node::new("title").with("id", title_id).content(&self.title)];
        if !self.description.is_empty() {
            let description_id = format!("{}-desc", self.id);
            labelled_by = format!("{labelled_by} {description_id}");
            head.push(Node::new("desc").with("id", description_id).content(&self.description));
        }
        let mut root = Node::new("svg")
            .with("xmlns", "http://www.w3.org/2000/svg")
            .class("drawing")
            .with("id", &self.id)
            .with("viewBox", view)
            .num("width", self.width)
            .num("height", self.height)
            .with("role", if self.links { "group" } else { "img" })
            .with("aria-labelledby", labelled_by);
        root.extend(head);
        if let Some(css) = css {
            root.push(Node::new("style").content(css));
        }
        if !self.patterns.is_empty() {
            let mut defs = Node::new("defs");
            defs.extend(self.patterns.iter().cloned());
            root.push(defs);
        }
        root.extend(self.body.iter().cloned());
        root
    }
}

/// Returns a name fit for an id: lower-case letters, digits and single hyphens, never empty, never starting
/// with a digit.
pub fn slug(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars() {
        if c.is_ascii_alphanumeric() {
            out.push(c.to_ascii_lowercase());
        } else if c.is_alphanumeric() {
            // Other scripts keep their letters apart by code point, so that two names stay two ids.
            out.push_str(&format!("u{:x}", u32::from(c)));
        } else if !out.ends_with('-') && !out.is_empty() {
            out.push('-');
        }
    }
    let trimmed = out.trim_end_matches('-');
    match trimmed.chars().next() {
        None => "x".to_owned(),
        Some(c) if c.is_ascii_digit() => format!("x{trimmed}"),
        Some(_) => trimmed.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn numbers_are_short_and_never_minus_zero() {
        for (value, written) in [
            (0.0, "0"),
            (-0.001, "0"),
            (1.0, "1"),
            (1.25, "1.25"),
            (-3.10, "-3.1"),
            (1e3, "1000"),
            (f64::NAN, "0"),
        ] {
            assert_eq!(number(value), written);
        }
    }

    #[test]
    fn the_index_of_co2_is_lowered() {
        let node = text(0.0, 0.0, "CO2 in the hall", Anchor::Start, "t").to_string();
        assert!(node.contains(">CO₂ in the hall<"), "{node}");
    }

    #[test]
    fn ruler_fractions_are_found() {
        assert_eq!(fractions("1 ft 6 5/8 in"), [("1 ft 6 ", false), ("5/8", true), (" in", false)]);
        assert_eq!(fractions("(1/2 in)"), [("(", false), ("1/2", true), (" in)", false)]);
        for plain in ["2/4/2026", "3/5", "1/h", "W/m²", "", "7 in", "2/8", "13/16 in"] {
            assert!(fractions(plain).iter().all(|(_, fraction)| !fraction), "{plain}");
        }
    }

    #[test]
    fn a_standalone_style_survives_escaping() {
        let drawing = Drawing::new("a", "a", 10.0, 10.0);
        let file = drawing.standalone();
        assert!(!drawing_css().contains(['<', '>', '&', '"', '\'']), "style must need no escaping");
        assert!(file.contains("<style>") && file.contains(ACCENT));
    }

    /// Reads back what the writer wrote, as a strict parser would: returns the texts and attribute values.
    fn read_back(xml: &str) -> Result<Vec<String>, String> {
        let mut values = Vec::new();
        let mut rest = xml;
        let mut depth = 0_i32;
        while !rest.is_empty() {
            if let Some(tag) = rest.strip_prefix('<') {
                let end = tag.find('>').ok_or("tag without end")?;
                let (inside, after) = tag.split_at(end);
                if inside.contains('<') {
                    return Err(format!("open bracket inside tag: {inside}"));
                }
                match (inside.starts_with('/'), inside.ends_with('/')) {
                    (true, _) => depth -= 1,
                    (false, false) => depth += 1,
                    (false, true) => {}
                }
                values.extend(inside.split('"').skip(1).step_by(2).map(unescape));
                rest = &after[1..];
            } else {
                let end = rest.find('<').unwrap_or(rest.len());
                values.push(unescape(&rest[..end]));
                rest = &rest[end..];
            }
        }
        if depth == 0 { Ok(values) } else { Err(format!("{depth} elements left open")) }
    }

    fn unescape(text: &str) -> String {
        text.replace("&lt;", "<")
            .replace("&gt;", ">")
            .replace("&quot;", "\"")
            .replace("&#39;", "'")
            .replace("&amp;", "&")
    }

    proptest! {
        /// Whatever a user writes comes back as the same text, and never as markup.
        #[test]
        fn user_text_stays_text(content in any::<String>(), value in any::<String>()) {
            let mut clean = String::new();
            escape_into(&content, &mut clean);
            prop_assert!(!clean.contains(['<', '>', '"', '\'']));
            let written = Node::new("text").with("data-a", value.clone()).content(content.clone()).to_string();
            let read = read_back(&written).map_err(TestCaseError::fail)?;
            let plain = |s: &str| -> String {
                s.chars()
                    .map(|c| match c {
                        '\t' | '\n' | '\r' => ' ',
                        '\u{0}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => '\u{fffd}',
                        c => c,
                    })
                    .collect()
            };
            prop_assert_eq!(&read[0], &plain(&value));
            if !content.is_empty() {
                prop_assert_eq!(&read[1], &plain(&content));
            }
            let split: String = fractions(&content).iter().map(|(part, _)| *part).collect();
            prop_assert_eq!(split, content);
        }

        /// Every id is a plain word.
        #[test]
        fn ids_are_plain(name in any::<String>()) {
            let id = slug(&name);
            prop_assert!(!id.is_empty());
            prop_assert!(id.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-'));
            prop_assert!(id.starts_with(|c: char| c.is_ascii_lowercase()));
        }

        /// Numbers read back within half a hundredth.
        #[test]
        fn numbers_round_trip(value in -1e6..1e6_f64) {
            let read: f64 = number(value).parse().unwrap();
            prop_assert!((read - value).abs() <= 0.005 + 1e-9);
        }
    }
}
