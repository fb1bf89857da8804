//! Outlines and sizes: "rectangle 8.40 m × 12.47 m at 15.04 m, 0 m", corner lists, "1.22 m × 1.98 m".

use super::{Book, How, want};
use crate::diagnostic::Diagnostic;
use crate::reader::{Bounds, Fields, Kind, Node, Quantity, piece};
use building::plan::{Compass, Outline, Placement};
use building::stated::ValueKey;
use quantity::Dimension;
use std::ops::Range;

/// Longest side read; larger is a slip of the unit.
const SIDE: Bounds = Bounds::above(0.0, 2_000.0, "is more than zero and at most 2000 m");
const COORDINATE: Bounds = Bounds::within(-5_000.0, 5_000.0, "lies within 5000 m");
const HELP: &str = "write it like \"rectangle 24 ft × 36 ft\", \"rectangle 3.6 m × 4.1 m at 11.2 m, 0 m\", \
                    \"rectangle 2.6 m × 7.2 m at NW\", or as a list of corners [\"0 m, 0 m\", \"8 m, 0 m\", …]";

/// Reads the outline under `key`; numbers are stated under the table's path.
pub(super) fn read(book: &mut Book<'_>, f: &mut Fields<'_>, key: &str, how: &How) -> Option<Outline> {
    let node = f.node(key)?;
    let id = format!("{}.{key}", f.path());
    book.cx.remember(id.clone(), &node.place);
    let before = book.cx.len();
    let outline = match &node.kind {
        Kind::Text { value, .. } => rectangle(book, key, node, value, &id, how),
        Kind::List(items) => corners(book, key, node, items, &id, how),
        other => {
            let message = format!("\"{key}\" is an outline, this is {}", other.words());
            book.cx.error("type", &node.place, message, HELP);
            None
        }
    };
    if book.cx.len() > before {
        book.taint(f.path());
    }
    outline
}

fn rectangle(
    book: &mut Book<'_>,
    key: &str,
    node: &Node,
    text: &str,
    id: &str,
    how: &How,
) -> Option<Outline> {
    let Some(rest) = text.trim_start().strip_prefix("rectangle") else {
        let message = format!("\"{text}\" is no outline known here");
        book.cx.error("geometry", &node.place, message, HELP);
        return None;
    };
    let start = text.len() - rest.len();
    let (size_end, at) = match rest.find(" at ") {
        Some(i) => (start + i, Some(start + i + 4)),
        None => (text.len(), None),
    };
    let [width, depth] = pair(book, key, node, text, start..size_end, SIDE)?;
    let width = book.state(format!("{id}.width"), "length", &width, how)?;
    let depth = book.state(format!("{id}.depth"), "length", &depth, how)?;
    let at = match at {
        Some(at) => placement(book, key, node, text, at..text.len(), id, how)?,
        None => Placement::Origin,
    };
    Some(Outline::Rectangle { width, depth, at })
}

fn placement(
    book: &mut Book<'_>,
    key: &str,
    node: &Node,
    text: &str,
    range: Range<usize>,
    id: &str,
    how: &How,
) -> Option<Placement> {
    let part = &text[range.clone()];
    if let Some(side) = Compass::read(part) {
        return Some(Placement::Side(side));
    }
    if !part.contains(',') {
        let d =
            Diagnostic::error("geometry", &node.inside(range), format!("\"{}\" is no place", part.trim()))
                .with_help(
                    "write a side or corner (N, east, NW) or the south-west corner as \"15.04 m, 0 m\"",
                );
        book.cx.add(d);
        return None;
    }
    let point = point(book, key, node, text, range, id, how)?;
    Some(Placement::Point(point))
}

fn point(
    book: &mut Book<'_>,
    key: &str,
    node: &Node,
    text: &str,
    range: Range<usize>,
    id: &str,
    how: &How,
) -> Option<[ValueKey; 2]> {
    let part = &text[range.clone()];
    // "3,5 m" is a decimal comma, not a point: the comma of a point is followed by a blank.
    let comma = part.find(", ").map(|i| range.start + i);
    let Some(comma) = comma else {
        let d =
            Diagnostic::error("geometry", &node.inside(range), format!("\"{}\" is no point", part.trim()))
                .with_help("write x and y with a comma and a blank between, like \"15.04 m, 0 m\"");
        book.cx.add(d);
        return None;
    };
    let x = piece(&mut book.cx, key, node, text, range.start..comma, Dimension::Length, COORDINATE);
    let y = piece(&mut book.cx, key, node, text, comma + 2..range.end, Dimension::Length, COORDINATE);
    let x = book.state(format!("{id}.x"), "length", &x?, how)?;
    let y = book.state(format!("{id}.y"), "length", &y?, how)?;
    Some([x, y])
}

fn corners(
    book: &mut Book<'_>,
    key: &str,
    node: &Node,
    items: &[Node],
    id: &str,
    how: &How,
) -> Option<Outline> {
    if items.len() < 3 {
        let message = format!("an outline has at least three corners, this has {}", items.len());
        book.cx.error("geometry", &node.place, message, HELP);
        return None;
    }
    let mut points = Vec::new();
    for (n, item) in items.iter().enumerate() {
        let Kind::Text { value, .. } = &item.kind else {
            let message = format!("a corner is text, this is {}", item.kind.words());
            book.cx.error("type", &item.place, message, "write it like \"8.40 m, 0 m\"");
            continue;
        };
        points.extend(point(book, key, item, value, 0..value.len(), &format!("{id}[{}]", n + 1), how));
    }
    (points.len() == items.len()).then_some(Outline::Corners(points))
}

/// Reads "a × b" in a part of a text; " x " and " by " serve as well.
pub(super) fn pair(
    book: &mut Book<'_>,
    key: &str,
    node: &Node,
    text: &str,
    range: Range<usize>,
    bounds: Bounds,
) -> Option<[Quantity; 2]> {
    let Some((end, start)) = cross(text, range.clone()) else {
        let part = text[range.clone()].trim().to_owned();
        let place = if range.len() == text.len() { node.place.clone() } else { node.inside(range) };
        let d = Diagnostic::error("geometry", &place, format!("\"{part}\" is not a width and a height"))
            .with_help("write both with × between, like \"1.22 m × 1.98 m\" or \"4 ft x 6 ft 6 in\"");
        book.cx.add(d);
        return None;
    };
    let a = piece(&mut book.cx, key, node, text, range.start..end, Dimension::Length, bounds);
    let b = piece(&mut book.cx, key, node, text, start..range.end, Dimension::Length, bounds);
    Some([a?, b?])
}

/// Finds the cross between two sizes: where the first ends and the second starts. A spread sign ×/÷ is none.
fn cross(text: &str, range: Range<usize>) -> Option<(usize, usize)> {
    let part = &text[range.clone()];
    for (i, c) in part.char_indices() {
        if c == '×' && !part[i + c.len_utf8()..].starts_with('/') {
            return Some((range.start + i, range.start + i + c.len_utf8()));
        }
    }
    for word in [" x ", " by "] {
        if let Some(i) = part.find(word) {
            return Some((range.start + i, range.start + i + word.len()));
        }
    }
    None
}

/// Reads a size under `key` as width and height.
pub(super) fn size(book: &mut Book<'_>, f: &mut Fields<'_>, key: &str, how: &How) -> Option<[ValueKey; 2]> {
    let node = f.node(key)?;
    let id = format!("{}.{key}", f.path());
    book.cx.remember(id.clone(), &node.place);
    let Kind::Text { value, .. } = &node.kind else {
        let message = format!("\"{key}\" is text, this is {}", node.kind.words());
        book.cx.error("type", &node.place, message, "write it like \"1.22 m × 1.98 m\"");
        return None;
    };
    let [width, height] = pair(book, key, node, value, 0..value.len(), SIDE)?;
    let width = book.state(format!("{id}.width"), "length", &width, how)?;
    let height = book.state(format!("{id}.height"), "length", &height, how)?;
    Some([width, height])
}

/// Reads a width and a height that enter as drawn, m.
pub(super) fn sides(book: &mut Book<'_>, f: &mut Fields<'_>, key: &str) -> Option<[f64; 2]> {
    let node = f.node(key)?;
    let Kind::Text { value, .. } = &node.kind else {
        let message = format!("\"{key}\" is text, this is {}", node.kind.words());
        book.cx.error("type", &node.place, message, "write it like \"203 mm × 305 mm\"");
        return None;
    };
    let [width, height] = pair(book, key, node, value, 0..value.len(), SIDE)?;
    Some([width.value, height.value])
}

/// Reads a section "203 mm × 305 mm" as an area.
pub(super) fn section(book: &mut Book<'_>, f: &mut Fields<'_>, key: &str, how: &How) -> Option<ValueKey> {
    let node = f.node(key)?;
    let id = format!("{}.{key}", f.path());
    let Kind::Text { value, .. } = &node.kind else {
        return book.value(f, key, want(Dimension::Area, Bounds::POSITIVE, "area"), how);
    };
    if cross(value, 0..value.len()).is_none() {
        return book.value(f, key, want(Dimension::Area, Bounds::POSITIVE, "area"), how);
    }
    let [a, b] = pair(book, key, node, value, 0..value.len(), SIDE)?;
    let area = Quantity {
        value: a.value * b.value,
        spread: None,
        dimension: Dimension::Area,
        place: node.place.clone(),
        text: value.clone(),
    };
    book.state(id, "area", &area, how)
}
