//! What is wrong, where, why, and what to write instead.
//!
//! A [`Diagnostic`] is one problem. A [`Report`] holds all of them with the texts they point into, sorted by
//! place, and renders them for a terminal ([`Report::render`]) or for scripts ([`Report::to_json`]).
//!
//! User text is shown with control characters replaced, so that no file can speak to the terminal.

use crate::source::{Place, Source, Sources};
use serde::Serialize;
use std::fmt::Write as _;
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Nothing can be run.
    Error,
    /// It runs, but the reader should know.
    Warning,
    /// For information.
    Note,
}

impl Severity {
    /// Returns its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Error => "error",
            Self::Warning => "warning",
            Self::Note => "note",
        }
    }
}

/// Where a diagnostic points.
#[derive(Clone, Debug, PartialEq)]
enum Target {
    /// Nowhere in particular.
    Nowhere,
    /// A file that was not taken in; line 0 when not known.
    File { name: String, line: usize, column: usize },
    /// A range of a text.
    Place(Place),
}

/// One problem.
#[derive(Clone, Debug, PartialEq)]
pub struct Diagnostic {
    /// How bad.
    pub severity: Severity,
    /// Kind, one short word: `unit`, `name`, `key`, `range`, …
    pub code: &'static str,
    /// What is wrong, one sentence without a full stop.
    pub message: String,
    /// Said beside the marked text.
    pub label: String,
    /// What to write instead; may be empty.
    pub help: String,
    /// Other places that matter, each with its words.
    pub related: Vec<(Place, String)>,
    target: Target,
}

impl Diagnostic {
    /// Starts a diagnostic that points nowhere yet.
    pub fn new(severity: Severity, code: &'static str, message: impl Into<String>) -> Self {
        Self {
            severity,
            code,
            message: message.into(),
            label: String::new(),
            help: String::new(),
            related: Vec::new(),
            target: Target::Nowhere,
        }
    }

    /// Starts an error at a place.
    pub fn error(code: &'static str, place: &Place, message: impl Into<String>) -> Self {
        Self::new(Severity::Error, code, message).at(place.clone())
    }

    /// Starts a warning at a place.
    pub fn warning(code: &'static str, place: &Place, message: impl Into<String>) -> Self {
        Self::new(Severity::Warning, code, message).at(place.clone())
    }

    /// Points at a range of a text.
    #[must_use]
    pub fn at(mut self, place: Place) -> Self {
        self.target = Target::Place(place);
        self
    }

    /// Points at a file that was not taken in; line 0 means the file as a whole.
    #[must_use]
    pub fn in_file(mut self, name: &str, line: usize, column: usize) -> Self {
        self.target = Target::File { name: name.to_owned(), line, column };
        self
    }

    /// Adds the words beside the marked text.
    #[must_use]
    pub fn with_label(mut self, label: impl Into<String>) -> Self {
        self.label = label.into();
        self
    }

    /// Adds what to write instead.
    #[must_use]
    pub fn with_help(mut self, help: impl Into<String>) -> Self {
        self.help = help.into();
        self
    }

    /// Adds another place that matters.
    #[must_use]
    pub fn with_related(mut self, place: Place, words: impl Into<String>) -> Self {
        self.related.push((place, words.into()));
        self
    }

    /// Returns the place it points at, when it points into a text.
    pub fn place(&self) -> Option<&Place> {
        match &self.target {
            Target::Place(p) => Some(p),
            _ => None,
        }
    }

    /// Orders by file, then offset; what points nowhere comes first.
    fn sort_key(&self) -> (u8, u32, usize, usize) {
        match &self.target {
            Target::Nowhere => (0, 0, 0, 0),
            Target::File { line, column, .. } => (1, 0, *line, *column),
            Target::Place(p) => (2, p.file_index(), p.span.start, p.span.end),
        }
    }
}

/// How a report is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Style {
    /// Columns to stay within; at least 40 are used.
    pub width: usize,
    /// Drawn with plain ASCII.
    pub ascii: bool,
    /// Coloured by ANSI sequences; colour only repeats what the words say.
    pub colour: bool,
}

impl Default for Style {
    fn default() -> Self {
        Self { width: 100, ascii: false, colour: false }
    }
}

/// One diagnostic as scripts read it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Line {
    /// `error`, `warning` or `note`.
    pub severity: Severity,
    /// Kind.
    pub code: &'static str,
    /// File as named in the project; empty when it points nowhere.
    pub file: String,
    /// Line from 1; 0 when not known.
    pub line: usize,
    /// Column from 1, in characters; 0 when not known.
    pub column: usize,
    /// What is wrong.
    pub message: String,
    /// What to write instead.
    pub help: String,
}

/// All problems of a reading, with the texts they point into.
#[derive(Clone, Debug, Default)]
pub struct Report {
    /// The texts.
    pub sources: Sources,
    diagnostics: Vec<Diagnostic>,
}

impl Report {
    /// Collects diagnostics, sorted by place; exact repeats are dropped.
    pub fn new(sources: Sources, mut diagnostics: Vec<Diagnostic>) -> Self {
        diagnostics.sort_by_key(Diagnostic::sort_key);
        diagnostics.dedup();
        Self { sources, diagnostics }
    }

    /// Returns the diagnostics in order.
    pub fn diagnostics(&self) -> &[Diagnostic] {
        &self.diagnostics
    }

    /// Returns how many are errors.
    pub fn errors(&self) -> usize {
        self.diagnostics.iter().filter(|d| d.severity == Severity::Error).count()
    }

    /// Returns how many are warnings.
    pub fn warnings(&self) -> usize {
        self.diagnostics.iter().filter(|d| d.severity == Severity::Warning).count()
    }

    /// Returns file, line and column of a diagnostic, as far as known.
    pub fn locate(&self, d: &Diagnostic) -> (String, usize, usize) {
        match &d.target {
            Target::Nowhere => (String::new(), 0, 0),
            Target::File { name, line, column } => (name.clone(), *line, *column),
            Target::Place(p) => {
                let source = self.sources.get(p.file);
                let (line, column) = source.line_column(p.span.start);
                (source.name().to_owned(), line, column)
            }
        }
    }

    /// Returns the rows of `check --json`.
    pub fn to_json(&self) -> Vec<Line> {
        let line = |d: &Diagnostic| {
            let (file, line, column) = self.locate(d);
            Line {
                severity: d.severity,
                code: d.code,
                file,
                line,
                column,
                message: d.message.clone(),
                help: if d.help.is_empty() { d.label.clone() } else { d.help.clone() },
            }
        };
        self.diagnostics.iter().map(line).collect()
    }

    /// Draws every problem, then the closing sentence; ends with a line end unless there is nothing to say.
    pub fn render(&self, style: Style) -> String {
        let mut out = String::new();
        for d in &self.diagnostics {
            self.draw(&mut out, d, style);
        }
        for line in self.summary().iter().flat_map(|s| wrap(&clean(s), style.width.max(40), "")) {
            out.push_str(&line);
            out.push('\n');
        }
        out
    }

    /// Returns the closing sentence: "2 errors in building.toml; nothing was run, nothing was changed".
    pub fn summary(&self) -> Option<String> {
        let (errors, warnings) = (self.errors(), self.warnings());
        let mut parts = Vec::new();
        if errors > 0 {
            parts.push(count(errors, "error"));
        }
        if warnings > 0 {
            parts.push(count(warnings, "warning"));
        }
        if parts.is_empty() {
            return None;
        }
        let mut files: Vec<String> = Vec::new();
        for d in self.diagnostics.iter().filter(|d| d.severity <= Severity::Warning) {
            let (name, _, _) = self.locate(d);
            if !name.is_empty() && !files.contains(&name) {
                files.push(name);
            }
        }
        let mut text = parts.join(" and ");
        if !files.is_empty() {
            let _ = write!(text, " in {}", list(&files));
        }
        if errors > 0 {
            text.push_str("; nothing was run, nothing was changed");
        }
        Some(text)
    }

    fn draw(&self, out: &mut String, d: &Diagnostic, style: Style) {
        let glyph = Glyphs::of(style);
        let paint = Paint { on: style.colour };
        let head = format!("{}[{}]", d.severity.word(), d.code);
        let tone = if d.severity == Severity::Error { Tone::Error } else { Tone::Warning };
        let mut lines =
            wrap(&format!("{head}: {}", clean(&d.message)), style.width.max(40), "  ").into_iter();
        if let Some(first) = lines.next() {
            let rest = first.strip_prefix(&head).map(str::to_owned);
            match rest {
                Some(rest) => {
                    let _ = writeln!(out, "{}{}", paint.wrap(tone, &head), paint.wrap(Tone::Strong, &rest));
                }
                None => {
                    let _ = writeln!(out, "{first}");
                }
            }
        }
        for line in lines {
            let _ = writeln!(out, "{line}");
        }
        let gutter = self.gutter(d);
        match &d.target {
            Target::Nowhere => draw_text(out, &glyph, gutter, &d.label, style),
            Target::File { name, line, column } => {
                let at = if *line > 0 { format!(":{line}:{column}") } else { String::new() };
                let _ = writeln!(out, "{:gutter$} {} {}{at}", "", glyph.open, clean(name));
                draw_text(out, &glyph, gutter, &d.label, style);
            }
            Target::Place(p) => self.draw_place(out, p, &d.label, glyph.open, gutter, style, tone),
        }
        for (place, words) in &d.related {
            self.draw_place(out, place, words, glyph.middle, gutter, style, Tone::Quiet);
        }
        draw_text(out, &glyph, gutter, &d.help, style);
    }

    /// Returns the width of the widest line number shown, at least two.
    fn gutter(&self, d: &Diagnostic) -> usize {
        let places = d.place().into_iter().chain(d.related.iter().map(|(p, _)| p));
        let widest = places.map(|p| self.sources.get(p.file).line_column(p.span.start).0).max().unwrap_or(0);
        widest.to_string().len().max(2)
    }

    fn draw_place(
        &self,
        out: &mut String,
        place: &Place,
        label: &str,
        open: &str,
        gutter: usize,
        style: Style,
        tone: Tone,
    ) {
        let glyph = Glyphs::of(style);
        let paint = Paint { on: style.colour };
        let source = self.sources.get(place.file);
        let (line, column) = source.line_column(place.span.start);
        let _ = writeln!(out, "{:gutter$} {open} {}:{line}:{column}", "", clean(source.name()));
        let room = style.width.max(40) - gutter - 3;
        let snippet = Snippet::cut(source, place, line, room, &glyph);
        let _ = writeln!(out, "{line:>gutter$} {} {}", glyph.bar, snippet.text);
        let marks = "^".repeat(snippet.marks);
        let indent = " ".repeat(snippet.indent);
        let used = snippet.indent + snippet.marks;
        let label = clean(label);
        if label.is_empty() || used + 1 + label.width() <= room {
            let space = if label.is_empty() { "" } else { " " };
            let marked = format!("{marks}{space}{label}");
            let _ = writeln!(out, "{:gutter$} {} {indent}{}", "", glyph.bar, paint.wrap(tone, &marked));
            return;
        }
        let _ = writeln!(out, "{:gutter$} {} {indent}{}", "", glyph.bar, paint.wrap(tone, &marks));
        draw_text(out, &glyph, gutter, &label, style);
    }
}

fn draw_text(out: &mut String, glyph: &Glyphs, gutter: usize, text: &str, style: Style) {
    if text.is_empty() {
        return;
    }
    let room = style.width.max(40) - gutter - 3;
    for paragraph in text.lines() {
        for line in wrap(&clean(paragraph), room, "") {
            let _ = writeln!(out, "{:gutter$} {} {line}", "", glyph.bar);
        }
    }
}

/// The line signs of a drawing.
struct Glyphs {
    open: &'static str,
    middle: &'static str,
    bar: &'static str,
    cut: &'static str,
}

impl Glyphs {
    fn of(style: Style) -> Self {
        if style.ascii {
            Self { open: ",-", middle: "|-", bar: "|", cut: "..." }
        } else {
            Self { open: "╭─", middle: "├─", bar: "│", cut: "…" }
        }
    }
}

/// A source line cut to the width, with where its marks go.
struct Snippet {
    text: String,
    indent: usize,
    marks: usize,
}

impl Snippet {
    /// Cuts around the span when the line is too wide; a tab shows as four spaces.
    fn cut(source: &Source, place: &Place, line: usize, room: usize, glyph: &Glyphs) -> Self {
        let range = source.line_range(line);
        let mut cells: Vec<(char, bool)> = Vec::new();
        for (i, c) in source.text()[range.clone()].char_indices() {
            let at = range.start + i;
            let marked = at >= place.span.start && at < place.span.end;
            match c {
                '\t' => cells.extend([(' ', marked); 4]),
                c if c.is_control() => cells.push(('\u{fffd}', marked)),
                c => cells.push((c, marked)),
            }
        }
        let first = cells.iter().position(|c| c.1).unwrap_or(cells.len());
        let last = cells.iter().rposition(|c| c.1).map_or(first, |p| p + 1);
        let width = |part: &[(char, bool)]| part.iter().map(|c| c.0.width().unwrap_or(0)).sum::<usize>();
        let (mut from, mut to) = (0, cells.len());
        let cut = glyph.cut.width();
        if width(&cells) > room {
            // Keep the marked text and as much before it as fits in a third of the room.
            from = first;
            while from > 0 && width(&cells[from - 1..first]) + cut <= room / 3 {
                from -= 1;
            }
            to = from;
            let lead = if from > 0 { cut } else { 0 };
            while to < cells.len() && lead + width(&cells[from..=to]) + cut <= room {
                to += 1;
            }
        }
        let last = last.clamp(first, to.max(first));
        let lead = if from > 0 { glyph.cut } else { "" };
        let tail = if to < cells.len() { glyph.cut } else { "" };
        let body: String = cells[from..to].iter().map(|c| c.0).collect();
        let text = format!("{lead}{body}{tail}");
        Self {
            text: text.trim_end().to_owned(),
            indent: lead.width() + width(&cells[from..first]),
            marks: width(&cells[first..last]).max(1),
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Tone {
    Error,
    Warning,
    Strong,
    Quiet,
}

struct Paint {
    on: bool,
}

impl Paint {
    fn wrap(&self, tone: Tone, text: &str) -> String {
        if !self.on || text.is_empty() {
            return text.to_owned();
        }
        let code = match tone {
            Tone::Error => "1;31",
            Tone::Warning => "1;33",
            Tone::Strong => "1",
            Tone::Quiet => "2",
        };
        format!("\u{1b}[{code}m{text}\u{1b}[0m")
    }
}

/// Replaces control characters, which could otherwise drive the terminal.
pub fn clean(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect()
}

/// Breaks a text at spaces into lines of at most `width` columns; later lines start with `indent`.
pub fn wrap(text: &str, width: usize, indent: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split(' ') {
        let gap = usize::from(!line.trim().is_empty());
        if !line.trim().is_empty() && line.width() + gap + word.width() > width {
            lines.push(std::mem::replace(&mut line, indent.to_owned()));
        }
        if !line.trim().is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    lines.push(line);
    lines
}

/// Returns "1 error" or "3 errors".
pub fn count(n: usize, noun: &str) -> String {
    if n == 1 { format!("1 {noun}") } else { format!("{n} {noun}s") }
}

/// Returns "a", "a and b" or "a, b and c".
pub fn list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report() -> Report {
        let mut sources = Sources::default();
        let text = "[material.dense-cellulose]\nlayers = [\n  { material = \"lime plaster\",    thickness = \"25 kg\" },\n]\n";
        let id = sources.add("building.toml", text);
        let at = |s: &str| {
            let start = text.find(s).expect("there");
            Place::new(id, start..start + s.len())
        };
        let unit = Diagnostic::error("unit", &at("\"25 kg\""), "a thickness is a length, this is a mass")
            .with_label("expected a length")
            .with_help("write it like \"25 mm\", \"1 in\" or \"2 ft 6 in\"");
        let twice = Diagnostic::error("name", &at("lime plaster"), "this name is given twice")
            .with_label("again here")
            .with_related(at("dense-cellulose"), "first here");
        Report::new(sources, vec![unit, twice])
    }

    #[test]
    fn drawn_like_a_compiler_would() {
        insta::assert_snapshot!("unicode", report().render(Style::default()));
        insta::assert_snapshot!("ascii", report().render(Style { ascii: true, ..Style::default() }));
        insta::assert_snapshot!("narrow", report().render(Style { width: 60, ..Style::default() }));
    }

    #[test]
    fn stays_within_its_width() {
        for width in [60, 72, 100] {
            for line in report().render(Style { width, ..Style::default() }).lines() {
                assert!(line.width() <= width, "{} columns: {line}", line.width());
            }
        }
    }

    #[test]
    fn control_characters_never_reach_the_terminal() {
        let mut sources = Sources::default();
        let id = sources.add("b\u{1b}[2J", "name = \"\u{1b}[31m\"\n");
        let d = Diagnostic::error("x", &Place::new(id, 7..12), "bad \u{7} bell");
        let drawn = Report::new(sources, vec![d]).render(Style::default());
        assert!(!drawn.contains(['\u{1b}', '\u{7}']), "{drawn:?}");
    }

    #[test]
    fn an_empty_file_and_an_end_of_file_place_are_drawn() {
        let mut sources = Sources::default();
        let id = sources.add("b", "");
        let d = Diagnostic::error("empty", &Place::new(id, 0..0), "nothing in it");
        assert!(Report::new(sources, vec![d]).render(Style::default()).contains("b:1:1"));
    }
}
