//! `[product.x]`: what joins, and what its sheet asks for. `[drainage]`: how rain water leaves.

use super::joints::exceptions;
use super::storeys::{Of, checked};
use super::{Book, How, sections, want};
use crate::reader::{Bounds, Fields, Kind, Word, word};
use building::plan::{DrainedGapPlan, ProductKind, ProductPlan, SillPlan, Way};
use building::stated::{Basis, Enters};
use quantity::Dimension;

const LOWEST: Bounds = Bounds::within(-40.0, 40.0, "lies between -40 and 40 °C");
const CURE: Bounds = Bounds::within(0.0, 365.0 * 86_400.0, "is not negative and at most a year");
const PERMEANCE: Bounds = Bounds::above(0.0, 1e-6, "is more than zero and at most 1e-6 kg/(m²·s·Pa)");
const SLOPE: Bounds = Bounds::within(-45.0, 60.0, "lies between -45 and 60 degrees");

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>) {
    if top.has("product") {
        for (name, f) in sections(book, top, "product") {
            product(book, name, f);
        }
    }
    let Some(mut f) = top.table(&mut book.cx, "drainage") else { return };
    book.plan.drainage.sills = bottoms(book, &mut f, "sill");
    book.plan.drainage.thresholds = bottoms(book, &mut f, "threshold");
    for (assembly, mut inner) in by_assembly(book, &mut f, "gap") {
        let bottom = way(book, &mut inner, "bottom");
        let top = way(book, &mut inner, "top");
        inner.finish(&mut book.cx);
        book.plan.drainage.gaps.push(DrainedGapPlan { assembly, bottom, top });
    }
    for (assembly, mut inner) in by_assembly(book, &mut f, "roof") {
        let out = way(book, &mut inner, "out");
        if out.is_none() && !inner.has("out") {
            inner.missing(&mut book.cx, "out", "out = \"two scuppers on the north side\"");
        }
        inner.finish(&mut book.cx);
        book.plan.drainage.roofs.extend(out.map(|out| (assembly, out)));
    }
    f.finish(&mut book.cx);
}

fn product(book: &mut Book<'_>, name: String, mut f: Fields<'_>) {
    // What a sheet asks for decides no limit.
    let how = How { enters: Enters::NEITHER, ..How::read(&mut book.cx, &mut f, Basis::ProductSheet) };
    let text = |book: &mut Book<'_>, f: &mut Fields<'_>, key: &str| f.text(&mut book.cx, key).map(|w| w.text);
    let plan = ProductPlan {
        name,
        about: text(book, &mut f, "about").unwrap_or_default(),
        kind: kind(book, &mut f),
        bonds_to: names(book, &mut f, "bonds-to"),
        not_on: names(book, &mut f, "not-on"),
        primer_on: names(book, &mut f, "primer-on"),
        primer: text(book, &mut f, "primer"),
        surface: text(book, &mut f, "surface"),
        dryness: text(book, &mut f, "dryness"),
        lowest_temperature: book.value(&mut f, "lowest", want(Dimension::Temperature, LOWEST, "fixed"), &how),
        cure: book.value(&mut f, "cure", want(Dimension::Time, CURE, "fixed"), &how),
        permeance: book.value(&mut f, "vapour", want(Dimension::Permeance, PERMEANCE, "vapour factor"), &how),
        source: text(book, &mut f, "source"),
    };
    if let Some(both) = plan.bonds_to.iter().find(|m| plan.not_on.contains(m)) {
        let message = format!("{} is said to bond to \"{both}\" and not to", plan.name);
        book.cx.error("product", f.at(), message, "leave it in one of the two lists");
    }
    f.finish(&mut book.cx);
    book.plan.products.push(plan);
}

fn kind(book: &mut Book<'_>, f: &mut Fields<'_>) -> ProductKind {
    if !f.has("kind") {
        f.missing(&mut book.cx, "kind", "kind = \"tape\"");
    }
    f.choice(&mut book.cx, "kind", &ProductKind::ALL).unwrap_or_default()
}

/// Reads names of materials, each of the book or of the library, `frame`, or another product.
fn names(book: &mut Book<'_>, f: &mut Fields<'_>, key: &str) -> Vec<String> {
    let mut found = Vec::new();
    for word in f.texts(&mut book.cx, key) {
        let known = word.text == "frame"
            || book.names.products.contains(&word.text)
            || super::fabric::check_material(book, &word);
        if known {
            found.push(word.text);
        }
    }
    found
}

/// Reads `[drainage.sill]` or `[drainage.threshold]` with its exceptions by opening.
fn bottoms(book: &mut Book<'_>, f: &mut Fields<'_>, key: &str) -> Vec<SillPlan> {
    let Some(mut inner) = f.table(&mut book.cx, key) else { return Vec::new() };
    let mut kind = SillPlan::default();
    bottom(book, &mut inner, &mut kind);
    let mut found = Vec::new();
    for (opening, mut own) in exceptions(book, &mut inner) {
        let mut sill = SillPlan { at: Some(opening), ..kind.clone() };
        bottom(book, &mut own, &mut sill);
        own.finish(&mut book.cx);
        found.push(sill);
    }
    inner.finish(&mut book.cx);
    found.insert(0, kind);
    found
}

fn bottom(book: &mut Book<'_>, f: &mut Fields<'_>, sill: &mut SillPlan) {
    let how = How { enters: Enters::NEITHER, ..How::by(Basis::Drawn) };
    sill.pan = way(book, f, "pan").or(sill.pan.take());
    sill.end_dams = f.flag(&mut book.cx, "end-dams").or(sill.end_dams);
    sill.slope = book.value(f, "slope", want(Dimension::Angle, SLOPE, "fixed"), &how).or(sill.slope);
    sill.out = way(book, f, "out").or(sill.out.take());
}

/// Reads a thing in words; `false` says that it is not there, `true` that it is and nobody wrote how.
fn way(book: &mut Book<'_>, f: &mut Fields<'_>, key: &str) -> Option<Way> {
    let node = f.node(key)?;
    match node.kind {
        Kind::Bool(true) => Some(Way::Is(String::new())),
        Kind::Bool(false) => Some(Way::Missing),
        _ => word(&mut book.cx, key, node).map(|w| Way::Is(w.text)),
    }
}

/// Opens the tables of a drainage section that is keyed by assemblies.
fn by_assembly<'a>(book: &mut Book<'_>, f: &mut Fields<'a>, key: &str) -> Vec<(String, Fields<'a>)> {
    let Some(mut outer) = f.table(&mut book.cx, key) else { return Vec::new() };
    let mut found = Vec::new();
    for entry in outer.entries() {
        let path = format!("{}.{}", outer.path(), entry.key);
        book.cx.remember(path.clone(), &entry.key_place);
        let name = Word { text: entry.key.clone(), place: entry.key_place.clone() };
        let known = checked(book, name, Of::Assembly);
        if let (Some(name), Some(table)) = (known, crate::reader::as_table(&mut book.cx, &entry.key, entry)) {
            let noun = format!("the {key} of \"{}\"", entry.key);
            found.push((name, Fields::new(table, noun, entry.key_place.clone(), path)));
        }
    }
    found
}
