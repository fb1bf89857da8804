//! `[unit.x]` and `[install]`: windows and doors as products, and the joint around them.
//!
//! A unit that is `like` another takes every figure that it does not state itself, with the very same stated value:
//! what is uncertain about the one is uncertain about the other in the same way.

use super::{Book, How, sections, want};
use crate::diagnostic::Diagnostic;
use crate::reader::{Bounds, Fields, Names, refer};
use crate::source::Place;
use building::plan::{InstallPlan, UnitPlan};
use building::stated::{Basis, Rating};
use quantity::Dimension;
use std::collections::BTreeMap;

/// Between the best vacuum glazing and a single pane with an aluminium frame.
const U: Bounds = Bounds::above(0.0, 10.0, "lies above 0 and at most 10 W/(m²·K)");
const PSI: Bounds = Bounds::within(-1.0, 5.0, "lies between -1 and 5 W/(m·K)");
const FACE: Bounds = Bounds::above(0.0, 0.6, "is more than zero and at most 0.6 m");

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>) {
    if top.has("unit") {
        let mut likes = BTreeMap::new();
        for (name, f) in sections(book, top, "unit") {
            unit(book, name, f, &mut likes);
        }
        inherit(book, &likes);
    }
    install(book, top);
}

/// What a unit takes from another: the other's name and where that is written.
type Likes = BTreeMap<String, (String, Place)>;

fn unit(book: &mut Book<'_>, name: String, mut f: Fields<'_>, likes: &mut Likes) {
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    if let Some(word) = f.text(&mut book.cx, "like") {
        let names: &Names = &book.names.units;
        if refer(&mut book.cx, &word, names, "unit") {
            likes.insert(name.clone(), (word.text, word.place));
        } else {
            book.taint(f.path());
        }
    }
    let mut plan = UnitPlan { name, rating: how.rating.clone(), ..UnitPlan::default() };
    plan.about = f.text(&mut book.cx, "about").map(|w| w.text).unwrap_or_default();
    if let Some(mut g) = f.table(&mut book.cx, "glazing") {
        plan.glazing_u = book.value(&mut g, "u", want(Dimension::Transmittance, U, "transmittance"), &how);
        plan.glazing_g = book.value(&mut g, "g", want(Dimension::Ratio, Bounds::SHARE, "solar gain"), &how);
        plan.light = book.value(&mut g, "light", want(Dimension::Ratio, Bounds::SHARE, "solar gain"), &how);
        plan.panes = panes(book, &mut g);
        g.finish(&mut book.cx);
    }
    if let Some(mut r) = f.table(&mut book.cx, "frame") {
        plan.frame_u = book.value(&mut r, "u", want(Dimension::Transmittance, U, "transmittance"), &how);
        plan.frame_face = book.value(&mut r, "face", want(Dimension::Length, FACE, "length"), &how);
        plan.frame_depth = book.value(&mut r, "depth", want(Dimension::Length, FACE, "length"), &how);
        r.finish(&mut book.cx);
    }
    plan.edge_psi =
        book.value(&mut f, "edge", want(Dimension::LinearTransmittance, PSI, "linear transmittance"), &how);
    if let Some(mut w) = f.table(&mut book.cx, "whole") {
        plan.whole_u = book.value(&mut w, "u", want(Dimension::Transmittance, U, "transmittance"), &how);
        plan.whole_g = book.value(&mut w, "g", want(Dimension::Ratio, Bounds::SHARE, "solar gain"), &how);
        w.finish(&mut book.cx);
    }
    plan.opaque_share =
        book.value(&mut f, "opaque-share", want(Dimension::Ratio, Bounds::SHARE, "share of area"), &how);
    let leak = want(Dimension::AirPermeability, Bounds::NOT_NEGATIVE, "leak");
    plan.air_leakage = book.value(&mut f, "air-leakage", leak, &how);
    let nothing = plan.glazing_u.is_none() && plan.whole_u.is_none();
    if nothing && !f.has("like") && !f.has("glazing") && !f.has("whole") {
        f.missing(
            &mut book.cx,
            "glazing",
            "glazing = { u = \"0.6 W/(m²·K)\", g = \"0.5\" }, or whole = { u = …, g = … }",
        );
        book.taint(f.path());
    }
    f.finish(&mut book.cx);
    book.plan.units.push(plan);
}

fn panes(book: &mut Book<'_>, g: &mut Fields<'_>) -> Option<u8> {
    let place = g.node("panes")?.place.clone();
    let n = g.count(&mut book.cx, "panes")?;
    if !(1..=5).contains(&n) {
        book.cx.error(
            "range",
            &place,
            format!("a glazing has one to five panes, this says {n}"),
            "correct the number",
        );
        return None;
    }
    u8::try_from(n).ok()
}

/// Fills what a unit takes from another, following chains; a circle and unlike ratings are errors.
fn inherit(book: &mut Book<'_>, likes: &Likes) {
    // A circle is said once, at the first unit of it.
    let mut said: Vec<String> = Vec::new();
    for at in 0..book.plan.units.len() {
        let mut seen = vec![book.plan.units[at].name.clone()];
        let mut from = book.plan.units[at].name.clone();
        while let Some((base, place)) = likes.get(&from) {
            if seen.contains(base) {
                if said.contains(&seen[0]) {
                    break;
                }
                said.extend(seen.iter().cloned());
                let d = Diagnostic::error("name", place, format!("unit \"{}\" is like itself", seen[0]))
                    .with_label(format!("{} → {base}", seen.join(" → ")))
                    .with_help("let one of them state its figures");
                book.cx.add(d);
                break;
            }
            let Some(other) = book.plan.units.iter().find(|u| u.name == *base).cloned() else { break };
            if let (Some(own), Some(theirs)) = (&book.plan.units[at].rating, &other.rating)
                && own != theirs
            {
                unlike(book, at, own.clone(), theirs.clone(), base, place);
                break;
            }
            fill(&mut book.plan.units[at], &other);
            seen.push(base.clone());
            from = base.clone();
        }
    }
}

fn unlike(book: &mut Book<'_>, at: usize, own: Rating, theirs: Rating, base: &str, place: &Place) {
    let name = book.plan.units[at].name.clone();
    let d =
        Diagnostic::error("rating", place, format!("unit \"{name}\" would mix figures of unlike ratings"))
            .with_label(format!("{own} here, {theirs} at \"{base}\""))
            .with_help(
                "figures found under different procedures do not compare: state all of them under one rating",
            );
    book.cx.add(d);
}

fn fill(own: &mut UnitPlan, other: &UnitPlan) {
    let whole = own.whole_u.is_some() || own.whole_g.is_some();
    own.light = own.light.or(other.light);
    own.panes = own.panes.or(other.panes);
    own.frame_face = own.frame_face.or(other.frame_face);
    own.frame_depth = own.frame_depth.or(other.frame_depth);
    own.opaque_share = own.opaque_share.or(other.opaque_share);
    own.air_leakage = own.air_leakage.or(other.air_leakage);
    own.rating = own.rating.clone().or_else(|| other.rating.clone());
    // A unit that states its whole does not take parts from another, nor the other way round.
    if !whole {
        own.glazing_u = own.glazing_u.or(other.glazing_u);
        own.glazing_g = own.glazing_g.or(other.glazing_g);
        own.frame_u = own.frame_u.or(other.frame_u);
        own.edge_psi = own.edge_psi.or(other.edge_psi);
    }
    if own.glazing_u.is_none() {
        own.whole_u = own.whole_u.or(other.whole_u);
        own.whole_g = own.whole_g.or(other.whole_g);
    }
}

fn install(book: &mut Book<'_>, top: &mut Fields<'_>) {
    let Some(mut f) = top.table(&mut book.cx, "install") else { return };
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    let mut get = |key| {
        book.value(&mut f, key, want(Dimension::LinearTransmittance, PSI, "linear transmittance"), &how)
    };
    let plan =
        InstallPlan { jamb: get("jamb"), head: get("head"), sill: get("sill"), threshold: get("threshold") };
    book.plan.install = plan;
    f.finish(&mut book.cx);
}
