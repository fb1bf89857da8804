//! `[rooms]` and `[openings]`: lists in CSV under the builder's own headings.
//!
//! The book names the file and says which heading means what; a heading may carry the unit of its column:
//!
//! ```toml
//! [rooms]
//! file    = "rooms.csv"
//! storey  = "upper"                      # for rows without a storey of their own
//! columns = { name = "Room no.", label = "Room", area = { heading = "Area", unit = "m²" }, ceiling = "Ceiling" }
//! ```

use super::openings::{KINDS, expand};
use super::spaces::{AREA, CEILING};
use super::{Book, How, want};
use crate::diagnostic::Diagnostic;
use crate::reader::{
    Bounds, Fields, Kind, Names, Node, Word, choose, nearest, quantity as read_quantity, refer,
};
use crate::source::{BOOK_LIMIT_BYTES, FileId, Folder, Place};
use building::plan::{Compass, OpeningPlan, SetIn, SpaceKind, SpacePlan};
use building::stated::{Basis, ValueKey};
use quantity::Dimension;
use std::collections::BTreeMap;

/// Rows read of one list; a longer one is a slip.
const ROWS: usize = 5_000;

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>, folder: Option<&Folder>) {
    rooms(book, top, folder);
    openings(book, top, folder);
}

const ROOM_KEYS: [(&str, bool); 7] = [
    ("name", true),
    ("label", false),
    ("storey", false),
    ("area", true),
    ("ceiling", false),
    ("kind", false),
    ("zone", false),
];

const OPENING_KEYS: [(&str, bool); 9] = [
    ("name", true),
    ("storey", false),
    ("side", true),
    ("width", true),
    ("height", true),
    ("sill", true),
    ("unit", false),
    ("kind", false),
    ("at", false),
];

fn rooms(book: &mut Book<'_>, top: &mut Fields<'_>, folder: Option<&Folder>) {
    let Some(mut f) = top.table(&mut book.cx, "rooms") else { return };
    let how = How::read(&mut book.cx, &mut f, Basis::Drawn);
    let storey = super::storeys::reference(book, &mut f, "storey", super::storeys::Of::Storey);
    let rows = rows(book, &mut f, folder, &ROOM_KEYS);
    f.finish(&mut book.cx);
    let mut names = book.names.spaces.clone();
    for row in rows {
        let Some(name) = row.word("name") else { continue };
        if let Some(first) = names.add(&name.text, &name.place).cloned() {
            book.given_twice("space", &name.text, &name.place, &first);
            continue;
        }
        room(book, &row, &name, storey.as_deref(), &how);
    }
    book.names.spaces = names;
}

fn room(book: &mut Book<'_>, row: &Row, name: &Word, storey: Option<&str>, how: &How) {
    let path = format!("space.{}", name.text);
    book.cx.remember(path.clone(), &name.place);
    let own = match row.word("storey") {
        Some(word) => refer(&mut book.cx, &word, &book.names.storeys, "storey").then_some(word.text),
        None => storey.map(str::to_owned),
    };
    let only = book.names.storeys.iter().next().filter(|_| book.names.storeys.iter().count() == 1);
    let Some(storey) = own.or_else(|| only.map(str::to_owned)) else {
        let help = "add a storey column, or storey = \"…\" under [rooms]";
        book.cx.error("missing", &name.place, format!("room \"{}\" has no storey", name.text), help);
        return;
    };
    let area = row.value(book, "area", want(Dimension::Area, AREA, "area"), &path, how);
    let ceiling = row.value(book, "ceiling", want(Dimension::Length, CEILING, "length"), &path, how);
    let kinds: Vec<(&str, SpaceKind)> = SpaceKind::ALL.iter().map(|(k, word)| (*word, *k)).collect();
    let kind = row.word("kind").and_then(|w| choose(&mut book.cx, "kind", &w, &kinds)).unwrap_or_default();
    book.plan.spaces.push(SpacePlan {
        name: name.text.clone(),
        label: row.word("label").map_or_else(|| name.text.clone(), |w| w.text),
        storey,
        plan: None,
        area,
        ceiling,
        kind,
        zone: row.word("zone").map(|w| w.text),
        from_table: true,
    });
}

fn openings(book: &mut Book<'_>, top: &mut Fields<'_>, folder: Option<&Folder>) {
    let Some(mut f) = top.table(&mut book.cx, "openings") else { return };
    let how = How::read(&mut book.cx, &mut f, Basis::Drawn);
    let unit = f.text(&mut book.cx, "unit");
    let rows = rows(book, &mut f, folder, &OPENING_KEYS);
    f.finish(&mut book.cx);
    for row in rows {
        if let Some(name) = row.word("name") {
            opening(book, &row, &name, unit.clone(), &how);
        }
    }
}

fn opening(book: &mut Book<'_>, row: &Row, name: &Word, unit: Option<Word>, how: &How) {
    let path = format!("opening.{}", name.text);
    let taken = book.plan.openings.iter().find(|o| o.names.contains(&name.text)).map(|o| o.pattern.clone());
    if let Some(first) = taken.and_then(|p| book.cx.place_of(&format!("opening.{p}")).cloned()) {
        book.given_twice("opening", &name.text, &name.place, &first);
        return;
    }
    book.cx.remember(path.clone(), &name.place);
    let names = match expand(&name.text) {
        Ok(names) => names,
        Err(why) => {
            book.cx.error("name", &name.place, why, "write one name, or a range like \"S1..S4\"");
            return;
        }
    };
    let Some(unit) = row.word("unit").or(unit) else {
        let help = "add a unit column, or unit = \"…\" under [openings]";
        book.cx.error("missing", &name.place, format!("opening \"{}\" has no unit", name.text), help);
        return;
    };
    let known = refer(&mut book.cx, &unit, &book.names.units, "unit");
    let length = |bounds| want(Dimension::Length, bounds, "length");
    let side = Bounds::above(0.0, 100.0, "is more than zero and at most 100 m");
    let width = row.value(book, "width", length(side), &path, how);
    let height = row.value(book, "height", length(side), &path, how);
    let sill =
        row.value(book, "sill", length(Bounds::within(0.0, 60.0, "lies between 0 and 60 m")), &path, how);
    let at = row.value(book, "at", length(Bounds::NOT_NEGATIVE), &path, how).into_iter().collect();
    let kind = row.word("kind").and_then(|w| choose(&mut book.cx, "kind", &w, &KINDS)).unwrap_or_default();
    let storey =
        row.word("storey").filter(|w| refer(&mut book.cx, w, &book.names.storeys, "storey")).map(|w| w.text);
    let (Some(width), Some(height), Some(sill), Some(side), true) =
        (width, height, sill, row.word("side"), known)
    else {
        return;
    };
    book.plan.openings.push(OpeningPlan {
        pattern: name.text.clone(),
        names,
        kind,
        storey,
        side: Compass::read(&side.text).map_or(side.text, |c| c.name().to_owned()),
        width,
        height,
        sill,
        at,
        unit: unit.text,
        set_in: SetIn::Unstated,
        blind: None,
        overhang: None,
        fin_left: None,
        fin_right: None,
        opens: true,
    });
}

/// One row: its cells by our key, each with its place and the unit of its column.
pub(super) struct Row {
    cells: BTreeMap<String, (Node, Option<String>)>,
}

impl Row {
    pub(super) fn word(&self, key: &str) -> Option<Word> {
        let (node, _) = self.cells.get(key)?;
        let Kind::Text { value, .. } = &node.kind else { return None };
        let text = value.trim().to_owned();
        (!text.is_empty()).then(|| Word { text, place: node.place.clone() })
    }

    /// Reads a cell as a quantity; a bare number takes the column's unit.
    fn value(
        &self,
        book: &mut Book<'_>,
        key: &str,
        w: super::Want,
        path: &str,
        how: &How,
    ) -> Option<ValueKey> {
        let (node, unit) = self.cells.get(key)?;
        let Kind::Text { value, .. } = &node.kind else { return None };
        if value.trim().is_empty() {
            return None;
        }
        let bare = value.trim().parse::<f64>().is_ok();
        let text = match unit {
            Some(unit) if bare => format!("{} {unit}", value.trim()),
            _ => value.clone(),
        };
        let node =
            Node { place: node.place.clone(), kind: Kind::Text { raw: format!("'{text}'"), value: text } };
        let q = read_quantity(&mut book.cx, key, &node, w.dimension, w.bounds)?;
        book.state(format!("{path}.{key}"), w.kind, &q, how)
    }
}

/// Reads the file under the headings that the book maps.
fn rows(book: &mut Book<'_>, f: &mut Fields<'_>, folder: Option<&Folder>, keys: &[(&str, bool)]) -> Vec<Row> {
    let file = f.need_text(&mut book.cx, "file", "file = \"rooms.csv\"");
    let columns = columns(book, f, keys);
    rows_of(book, file, folder, columns)
}

/// Reads a list whose headings are our own keys, unless the book maps them.
pub(super) fn rows_by_key(
    book: &mut Book<'_>,
    f: &mut Fields<'_>,
    folder: Option<&Folder>,
    keys: &[(&str, bool)],
) -> Vec<Row> {
    let file = f.need_text(&mut book.cx, "file", "file = \"works.csv\"");
    let columns = if f.has("columns") {
        columns(book, f, keys)
    } else {
        let place = f.at();
        let ours = |(key, needed): &(&str, bool)| Column {
            key: (*key).to_owned(),
            heading: Word { text: (*key).to_owned(), place: place.clone() },
            unit: None,
            needed: *needed,
        };
        Some(keys.iter().map(ours).collect())
    };
    rows_of(book, file, folder, columns)
}

fn rows_of(
    book: &mut Book<'_>,
    file: Option<Word>,
    folder: Option<&Folder>,
    columns: Option<Vec<Column>>,
) -> Vec<Row> {
    let (Some(file), Some(folder), Some(columns)) = (file, folder, columns) else { return Vec::new() };
    let text = match folder.read_text(&file.text, BOOK_LIMIT_BYTES) {
        Ok(text) => text,
        Err(problem) => {
            let d = problem.diagnose(&file.text, Some(file.place.clone()));
            book.cx.add(d);
            return Vec::new();
        }
    };
    let id = book.cx.sources.add(file.text.clone(), text);
    parse(book, id, &columns)
}

struct Column {
    key: String,
    heading: Word,
    unit: Option<String>,
    /// A list without it cannot be read.
    needed: bool,
}

fn columns(book: &mut Book<'_>, f: &mut Fields<'_>, keys: &[(&str, bool)]) -> Option<Vec<Column>> {
    if !f.has("columns") {
        f.missing(
            &mut book.cx,
            "columns",
            "columns = { name = \"Room no.\", area = { heading = \"Area\", unit = \"m²\" } }",
        );
        return None;
    }
    let mut t = f.table(&mut book.cx, "columns")?;
    let mut all = Vec::new();
    for (key, needed) in keys {
        let Some(node) = t.node(key) else {
            if *needed {
                t.missing(&mut book.cx, key, &format!("{key} = \"the heading in your file\""));
            }
            continue;
        };
        if let Kind::Table(_) = node.kind {
            let Some(mut c) = t.table(&mut book.cx, key) else { continue };
            let heading = c.need_text(&mut book.cx, "heading", "heading = \"Area\"");
            let unit = c.text(&mut book.cx, "unit").map(|w| w.text);
            c.finish(&mut book.cx);
            all.extend(heading.map(|heading| Column { key: (*key).to_owned(), heading, unit, needed: true }));
        } else if let Some(heading) = t.text(&mut book.cx, key) {
            all.push(Column { key: (*key).to_owned(), heading, unit: None, needed: true });
        }
    }
    t.finish(&mut book.cx);
    Some(all)
}

/// Splits the text into rows and cells with their places.
fn parse(book: &mut Book<'_>, file: FileId, columns: &[Column]) -> Vec<Row> {
    let text = book.cx.sources.get(file).text().to_owned();
    // Semicolons are what a spreadsheet writes where the comma is the decimal sign.
    let first = text.lines().next().unwrap_or("");
    let delimiter = if first.matches(';').count() > first.matches(',').count() { b';' } else { b',' };
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes());
    let mut records = reader.records();
    let Some(Ok(header)) = records.next() else {
        book.cx.error(
            "empty",
            &Place::new(file, 0..0),
            "the list has no row of headings",
            "write the headings in the first line",
        );
        return Vec::new();
    };
    let mut headings = Names::default();
    for cell in header.iter() {
        let _ = headings.add(cell.trim(), &Place::new(file, 0..first.len()));
    }
    let mut places: Vec<(usize, &Column)> = Vec::new();
    for column in columns {
        match header.iter().position(|h| h.trim() == column.heading.text) {
            Some(at) => places.push((at, column)),
            None if column.needed => no_heading(book, column, &headings),
            None => {}
        }
    }
    let mut rows = Vec::new();
    for record in records.take(ROWS) {
        match record {
            Ok(record) if record.iter().all(|c| c.trim().is_empty()) => {}
            Ok(record) => rows.push(row(file, &text, &record, &places, delimiter)),
            Err(error) => {
                let at = error.position().map_or(0, |p| p.byte() as usize);
                let d = Diagnostic::error(
                    "syntax",
                    &Place::new(file, at..at),
                    format!("this row cannot be read: {error}"),
                )
                .with_help("check its quotes");
                book.cx.add(d);
                break;
            }
        }
    }
    rows
}

fn no_heading(book: &mut Book<'_>, column: &Column, headings: &Names) {
    let message = format!("the list has no heading \"{}\"", column.heading.text);
    let mut d = Diagnostic::error("name", &column.heading.place, message);
    d = match nearest(&column.heading.text, headings.iter()) {
        Some(near) => d.with_label(format!("did you mean \"{near}\"?")),
        None => d.with_help(format!("its headings are: {}", headings.iter().collect::<Vec<_>>().join(", "))),
    };
    book.cx.add(d);
}

fn row(
    file: FileId,
    text: &str,
    record: &csv::StringRecord,
    places: &[(usize, &Column)],
    delimiter: u8,
) -> Row {
    let start = record.position().map_or(0, |p| p.byte() as usize).min(text.len());
    let end = text[start..].find('\n').map_or(text.len(), |i| start + i);
    let mut cells = BTreeMap::new();
    for (at, column) in places {
        let Some(value) = record.get(*at) else { continue };
        let span = cell_span(&text[start..end], *at, delimiter, start).unwrap_or(start..end);
        let raw = format!("'{value}'");
        let node = Node { place: Place::new(file, span), kind: Kind::Text { value: value.to_owned(), raw } };
        cells.insert(column.key.clone(), (node, column.unit.clone()));
    }
    Row { cells }
}

/// Finds a cell of a line that holds no quotes; a quoted line is marked whole.
fn cell_span(line: &str, at: usize, delimiter: u8, offset: usize) -> Option<std::ops::Range<usize>> {
    if line.contains('"') {
        return None;
    }
    let mut start = 0;
    for (n, cell) in line.split(delimiter as char).enumerate() {
        if n == at {
            let lead = cell.len() - cell.trim_start().len();
            let end = start + cell.trim_end().len();
            return Some(offset + start + lead..(offset + end).max(offset + start + lead));
        }
        start += cell.len() + 1;
    }
    None
}
