//! `[[opening]]`: windows and doors, one by one or several alike.

use super::storeys::{Of, reference};
use super::{Book, How, listed, outline, want};
use crate::diagnostic::Diagnostic;
use crate::reader::{Bounds, Fields, Kind, Word, refer};
use building::plan::{BlindPlan, Compass, OpeningKind, OpeningPlan, ProjectionPlan, SetIn};
use building::stated::{Basis, ValueKey};
use quantity::Dimension;

pub(super) const KINDS: [(&str, OpeningKind); 4] = [
    ("window", OpeningKind::Window),
    ("glazed door", OpeningKind::GlazedDoor),
    ("door", OpeningKind::Door),
    ("rooflight", OpeningKind::Rooflight),
];

const ALONG: Bounds = Bounds::within(0.0, 2_000.0, "is zero or more");
const SILL: Bounds = Bounds::within(0.0, 60.0, "lies between 0 and 60 m above the floor");
const PROJECTION: Bounds = Bounds::above(0.0, 30.0, "is more than zero and at most 30 m");

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>) {
    for (item, table) in listed(book, top, "opening") {
        let name = table.get("name").and_then(|e| match &e.node.kind {
            Kind::Text { value, .. } => Some(value.trim().to_owned()),
            _ => None,
        });
        let shown = name.as_ref().map_or_else(|| "an opening".to_owned(), |n| format!("opening \"{n}\""));
        let path = format!("opening.{}", name.as_deref().unwrap_or("unnamed"));
        opening(book, Fields::new(table, shown, item.place.clone(), path));
    }
}

fn opening(book: &mut Book<'_>, mut f: Fields<'_>) {
    book.cx.remember(f.path().to_owned(), f.at());
    let how = How::read(&mut book.cx, &mut f, Basis::Drawn);
    let before = book.cx.len();
    let name = f.need_text(&mut book.cx, "name", "name = \"S1\", or \"S1..S4\" for four alike");
    if let Some(word) = &name
        && taken(book, word)
    {
        // What follows would only be said twice.
        book.taint(f.path());
        return;
    }
    let kind = f.choice(&mut book.cx, "kind", &KINDS).unwrap_or_default();
    let storey = reference(book, &mut f, "storey", Of::Storey);
    let side = f
        .need_text(&mut book.cx, "side", "side = \"S\"")
        .map(|w| Compass::read(&w.text).map_or(w.text, |c| c.name().to_owned()));
    if !f.has("size") {
        f.missing(&mut book.cx, "size", "size = \"1.22 m × 1.98 m\"");
    }
    let size = outline::size(book, &mut f, "size", &how);
    let sill = book.need(&mut f, "sill", want(Dimension::Length, SILL, "length"), &how);
    let at = positions(book, &mut f, &how);
    let unit = f.need_text(&mut book.cx, "unit", "unit = \"triple\"");
    let unit = unit.filter(|w| refer(&mut book.cx, w, &book.names.units, "unit")).map(|w| w.text);
    let set_in = set_in(book, &mut f, &how);
    let blind = blind(book, &mut f, &how);
    let overhang = projection(book, &mut f, "overhang", &how);
    let fin_left = projection(book, &mut f, "fin-left", &how);
    let fin_right = projection(book, &mut f, "fin-right", &how);
    let opens = f.flag(&mut book.cx, "opens").unwrap_or(true);
    let names = name.map(|word| settle(book, &mut f, &word, at.len()));
    if book.cx.len() > before {
        book.taint(f.path());
    }
    let header = f.at().clone();
    f.finish(&mut book.cx);
    let (Some((pattern, names)), Some(side), Some([width, height]), Some(unit)) = (names, side, size, unit)
    else {
        return;
    };
    for name in &names {
        for part in ["", ".size", ".at", ".sill", ".side", ".unit"] {
            let place = book.cx.place_of(&format!("opening.{pattern}{part}")).unwrap_or(&header).clone();
            book.cx.remember(format!("opening.{name}{part}"), &place);
        }
    }
    book.plan.openings.push(OpeningPlan {
        pattern,
        names,
        kind,
        storey,
        side,
        width,
        height,
        sill,
        at,
        unit,
        set_in,
        blind,
        overhang,
        fin_left,
        fin_right,
        opens,
    });
}

/// Notes the first name of a pattern that an earlier opening has, and says whether there is one.
fn taken(book: &mut Book<'_>, word: &Word) -> bool {
    for name in expand(&word.text).unwrap_or_default() {
        let by = book.plan.openings.iter().find(|o| o.names.contains(&name)).map(|o| o.pattern.clone());
        if let Some(first) =
            by.and_then(|pattern| book.cx.place_of(&format!("opening.{pattern}.name")).cloned())
        {
            book.given_twice("opening", &name, &word.place, &first);
            return true;
        }
    }
    false
}

/// Expands a name pattern, and checks that `at` fits the count.
fn settle(book: &mut Book<'_>, f: &mut Fields<'_>, word: &Word, at: usize) -> (String, Vec<String>) {
    let names = match expand(&word.text) {
        Ok(names) => names,
        Err(why) => {
            book.cx.error("name", &word.place, why, "write one name, or a range like \"S1..S4\"");
            vec![word.text.clone()]
        }
    };
    if at > 0 && at != names.len() {
        let place = f.node("at").map_or_else(|| word.place.clone(), |n| n.place.clone());
        let d = Diagnostic::error(
            "count",
            &place,
            format!("\"{}\" is {} openings, \"at\" names {at} places", word.text, names.len()),
        )
        .with_help("give one place for each, or leave \"at\" out to spread them evenly");
        book.cx.add(d);
    }
    (word.text.clone(), names)
}

/// Expands `S1..S4` to its names.
///
/// # Errors
/// When the range has no end, falls, mixes stems, or is longer than 200.
pub(super) fn expand(pattern: &str) -> Result<Vec<String>, String> {
    let Some((first, last)) = pattern.split_once("..") else { return Ok(vec![pattern.to_owned()]) };
    let split = |text: &str| -> Option<(String, u32)> {
        let text = text.trim();
        let digits = text.len() - text.trim_end_matches(|c: char| c.is_ascii_digit()).len();
        let (stem, number) = text.split_at(text.len() - digits);
        number.parse().ok().map(|n| (stem.to_owned(), n))
    };
    let (Some((stem, from)), Some((other, to))) = (split(first), split(last)) else {
        return Err(format!("\"{pattern}\" is no range of names"));
    };
    if stem != other && !other.is_empty() {
        return Err(format!("\"{pattern}\" starts with \"{stem}\" and ends with \"{other}\""));
    }
    if to < from || to - from >= 200 {
        return Err(format!("\"{pattern}\" does not rise, or names more than 200"));
    }
    Ok((from..=to).map(|n| format!("{stem}{n}")).collect())
}

fn positions(book: &mut Book<'_>, f: &mut Fields<'_>, how: &How) -> Vec<ValueKey> {
    let Some(node) = f.node("at") else { return Vec::new() };
    if matches!(node.kind, Kind::Text { .. }) {
        return book.value(f, "at", want(Dimension::Length, ALONG, "length"), how).into_iter().collect();
    }
    let id = format!("{}.at", f.path());
    let mut all = Vec::new();
    for (n, item) in f.list(&mut book.cx, "at").unwrap_or_default().iter().enumerate() {
        let q = crate::reader::quantity(&mut book.cx, "at", item, Dimension::Length, ALONG);
        all.extend(q.and_then(|q| book.state(format!("{id}[{}]", n + 1), "length", &q, how)));
    }
    all
}

fn set_in(book: &mut Book<'_>, f: &mut Fields<'_>, how: &How) -> SetIn {
    let Some(node) = f.node("set-in") else { return SetIn::Unstated };
    if let Kind::Text { value, .. } = &node.kind {
        if let Some(layer) = value.trim().strip_prefix("middle of ") {
            return SetIn::MiddleOf(layer.trim().to_owned());
        }
        let help = "write \"middle of LAYER\", or { depth = \"330 mm\" } from the wall's outside face";
        book.cx.error("choice", &node.place, format!("\"{value}\" is no place in the wall"), help);
        return SetIn::Unstated;
    }
    let Some(mut s) = f.table(&mut book.cx, "set-in") else { return SetIn::Unstated };
    let depth = want(Dimension::Length, Bounds::NOT_NEGATIVE, "length");
    let depth = book.value(&mut s, "depth", depth, how);
    s.finish(&mut book.cx);
    depth.map_or(SetIn::Unstated, SetIn::Depth)
}

fn blind(book: &mut Book<'_>, f: &mut Fields<'_>, how: &How) -> Option<BlindPlan> {
    let mut b = f.table(&mut book.cx, "blind")?;
    let factor = book.need(&mut b, "factor", want(Dimension::Ratio, Bounds::SHARE, "solar gain"), how);
    let above =
        book.value(&mut b, "above", want(Dimension::PowerPerArea, Bounds::NOT_NEGATIVE, "set point"), how);
    let warm = want(
        Dimension::Temperature,
        Bounds::within(-20.0, 60.0, "lies between -20 °C and 60 °C"),
        "set point",
    );
    let when_warmer_than = book.value(&mut b, "when-warmer-than", warm, how);
    b.finish(&mut book.cx);
    Some(BlindPlan { factor, above, when_warmer_than })
}

fn projection(book: &mut Book<'_>, f: &mut Fields<'_>, key: &str, how: &How) -> Option<ProjectionPlan> {
    let mut p = f.table(&mut book.cx, key)?;
    let depth = book.need(&mut p, "depth", want(Dimension::Length, PROJECTION, "length"), how);
    let gap = book.value(&mut p, "gap", want(Dimension::Length, Bounds::NOT_NEGATIVE, "length"), how);
    let extends = book.value(&mut p, "extends", want(Dimension::Length, Bounds::NOT_NEGATIVE, "length"), how);
    p.finish(&mut book.cx);
    Some(ProjectionPlan { depth, gap, extends })
}

#[cfg(test)]
mod tests {
    use super::expand;

    #[test]
    fn ranges_of_names() {
        assert_eq!(expand("S1..S3").unwrap(), ["S1", "S2", "S3"]);
        assert_eq!(expand("S9..11").unwrap(), ["S9", "S10", "S11"]);
        assert_eq!(expand("front door").unwrap(), ["front door"]);
        for bad in ["S4..S1", "S1..N4", "S1..", "a..b", "S1..S900"] {
            assert!(expand(bad).is_err(), "{bad}");
        }
    }
}
