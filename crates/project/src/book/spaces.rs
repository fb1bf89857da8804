//! `[space.x]`, `[zone.x]`, `[[shade]]`, `[[element]]`.

use super::storeys::{Of, beyond, reference};
use super::{Book, How, listed, outline, sections, want};
use crate::diagnostic::Diagnostic;
use crate::reader::{Bounds, Fields, Table};
use crate::source::Place;
use building::plan::{FloorOpeningPlan, ListedElement, ShadePlan, SpaceKind, SpacePlan, ZonePlan};
use building::stated::Basis;
use quantity::Dimension;

/// Ceilings of rooms; a hall of forty metres is the tallest read.
pub(super) const CEILING: Bounds = Bounds::above(0.0, 60.0, "is more than zero and at most 60 m");
/// Floor areas.
pub(super) const AREA: Bounds = Bounds::above(0.0, 1e6, "is more than zero and at most 1 000 000 m²");

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>) {
    if top.has("space") {
        for (name, f) in sections(book, top, "space") {
            space(book, name, f);
        }
    }
    if top.has("zone") {
        for (name, f) in sections(book, top, "zone") {
            zone(book, name, f);
        }
    }
    shades(book, top);
    elements(book, top);
}

fn space(book: &mut Book<'_>, name: String, mut f: Fields<'_>) {
    let how = How::read(&mut book.cx, &mut f, Basis::Drawn);
    let label = f.text(&mut book.cx, "label").map_or_else(|| name.clone(), |w| w.text);
    if !f.has("storey") && book.names.storeys.iter().count() != 1 {
        f.missing(&mut book.cx, "storey", "storey = \"upper\"");
    }
    let storey = match f.has("storey") {
        true => reference(book, &mut f, "storey", Of::Storey),
        false => book.names.storeys.iter().next().map(str::to_owned),
    };
    let plan = outline::read(book, &mut f, "plan", &how);
    let area = book.value(&mut f, "area", want(Dimension::Area, AREA, "area"), &how);
    if !f.has("plan") && !f.has("area") {
        f.missing(
            &mut book.cx,
            "plan",
            "plan = \"rectangle 3.6 m × 4.1 m at 0 m, 0 m\", or area = \"14.8 m²\"",
        );
        book.taint(f.path());
    }
    let ceiling = book.value(&mut f, "ceiling", want(Dimension::Length, CEILING, "length"), &how);
    let kinds: Vec<(&str, SpaceKind)> = SpaceKind::ALL.iter().map(|(k, word)| (*word, *k)).collect();
    let kind = f.choice(&mut book.cx, "kind", &kinds).unwrap_or_default();
    let zone = f.text(&mut book.cx, "zone").map(|w| w.text);
    open_to(book, &mut f, &name, &how);
    f.finish(&mut book.cx);
    let Some(storey) = storey else {
        book.taint(&format!("space.{name}"));
        return;
    };
    book.plan.spaces.push(SpacePlan {
        name,
        label,
        storey,
        plan,
        area,
        ceiling,
        kind,
        zone,
        from_table: false,
    });
}

fn open_to(book: &mut Book<'_>, f: &mut Fields<'_>, upper: &str, how: &How) {
    let Some(mut hole) = f.table(&mut book.cx, "open-to") else { return };
    let lower = match hole.has("space") {
        true => reference(book, &mut hole, "space", Of::Space),
        false => {
            hole.missing(&mut book.cx, "space", "space = \"lobby\"");
            None
        }
    };
    if !hole.has("opening") {
        hole.missing(&mut book.cx, "opening", "opening = \"2.60 m × 4.60 m\"");
    }
    let size = outline::size(book, &mut hole, "opening", how);
    let thickness = book.value(&mut hole, "thickness", want(Dimension::Length, CEILING, "length"), how);
    hole.finish(&mut book.cx);
    if let (Some(lower), Some([width, depth])) = (lower, size) {
        let name = format!("{upper} to {lower}");
        let upper = upper.to_owned();
        book.plan.floor_openings.push(FloorOpeningPlan { name, upper, lower, width, depth, thickness });
    }
}

fn zone(book: &mut Book<'_>, name: String, mut f: Fields<'_>) {
    let words = f.texts(&mut book.cx, "spaces");
    let spaces = words.into_iter().filter_map(|w| super::storeys::checked(book, w, Of::Space)).collect();
    f.finish(&mut book.cx);
    book.plan.zones.push(ZonePlan { name, spaces });
}

fn shades(book: &mut Book<'_>, top: &mut Fields<'_>) {
    for (n, (item, table)) in listed(book, top, "shade").into_iter().enumerate() {
        let mut f = Fields::new(table, "a shade", item.place.clone(), format!("shade[{}]", n + 1));
        let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
        let name = f.need_text(&mut book.cx, "name", "name = \"house across the lane\"");
        if !f.has("outline") {
            f.missing(&mut book.cx, "outline", "outline = \"rectangle 10 m × 8 m at 5 m, -12 m\"");
        }
        let outline = outline::read(book, &mut f, "outline", &how);
        let top = book.need(&mut f, "top", want(Dimension::Length, Bounds::ANY, "length"), &how);
        let transmits =
            book.value(&mut f, "transmits", want(Dimension::Ratio, Bounds::SHARE, "solar gain"), &how);
        f.finish(&mut book.cx);
        if let (Some(name), Some(outline)) = (name, outline) {
            book.plan.shades.push(ShadePlan { name: name.text, outline, top, transmits });
        }
    }
}

fn elements(book: &mut Book<'_>, top: &mut Fields<'_>) {
    for (n, (item, table)) in listed(book, top, "element").into_iter().enumerate() {
        let mut f = Fields::new(table, "an element", item.place.clone(), format!("element[{}]", n + 1));
        let how = How::read(&mut book.cx, &mut f, Basis::Drawn);
        let name = f.need_text(&mut book.cx, "name", "name = \"north wall\"");
        if !f.has("assembly") {
            f.missing(&mut book.cx, "assembly", "assembly = \"upper-wall\"");
        }
        let assembly = reference(book, &mut f, "assembly", Of::Assembly);
        let area = book.need(&mut f, "area", want(Dimension::Area, AREA, "area"), &how);
        let space = reference(book, &mut f, "space", Of::Space);
        let beyond = beyond(book, &mut f, "beyond");
        let turn = Bounds::within(-360.0, 360.0, "is one turn at most");
        let azimuth = book.value(&mut f, "azimuth", want(Dimension::Angle, turn, "fixed"), &how);
        let tilt = Bounds::within(0.0, 180.0, "lies between 0° (facing up) and 180° (facing down)");
        let tilt = book.value(&mut f, "tilt", want(Dimension::Angle, tilt, "fixed"), &how);
        f.finish(&mut book.cx);
        if let (Some(name), Some(assembly)) = (name, assembly) {
            let name = name.text;
            book.plan.listed_elements.push(ListedElement {
                name,
                assembly,
                area,
                space,
                beyond,
                azimuth,
                tilt,
            });
        }
    }
}

/// A book must describe some building: a storey or a list of elements.
pub(super) fn check_some_room(book: &mut Book<'_>, root: &Table) {
    let some = ["storey", "element", "elements", "rooms"].iter().any(|key| root.get(key).is_some());
    if some {
        return;
    }
    let file = root.place.file;
    let d =
        Diagnostic::error("missing", &Place::new(file, 0..0), "the book describes no storey and no element")
            .with_help(
                "add [storey.ground] with floor-level, height, footprint and walls, or a list of [[element]]",
            );
    book.cx.add(d);
}
