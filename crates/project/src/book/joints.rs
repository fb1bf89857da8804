//! `[joint."a / b"]`, `[junction.x]`, `[[penetration]]`, `[airtightness]`: who carries the control layers across.

use super::storeys::{Of, checked, reference};
use super::{Book, How, listed, sections, want};
use crate::diagnostic::Diagnostic;
use crate::reader::{Bounds, Fields, Word};
use building::control::ControlKind;
use building::plan::{AirtightnessPlan, JointPlan, JunctionPlan, PenetrationPlan, WorkClass};
use building::stated::{Basis, Enters};
use quantity::Dimension;

const PSI: Bounds = Bounds::within(-2.0, 5.0, "lies between -2 and 5 W/(m·K)");
/// A leak of turbulent holes has 0.5, of fine cracks 1 (ISO 9972:2015, 6.2).
const EXPONENT: Bounds = Bounds::within(0.5, 1.0, "lies between 0.5 and 1");
const AIR_CHANGE: Bounds = Bounds::above(0.0, 100.0, "is more than zero and at most 100 1/h");
const REFERENCE: Bounds = Bounds::within(1.0, 100.0, "lies between 1 and 100 Pa");

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>) {
    if top.has("joint") {
        for (name, f) in sections(book, top, "joint") {
            joint(book, &name, f);
        }
    }
    if top.has("junction") {
        for (what, mut f) in sections(book, top, "junction") {
            let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
            let psi = book.value(
                &mut f,
                "psi",
                want(Dimension::LinearTransmittance, PSI, "linear transmittance"),
                &how,
            );
            let length =
                book.value(&mut f, "length", want(Dimension::Length, Bounds::NOT_NEGATIVE, "length"), &how);
            f.finish(&mut book.cx);
            book.plan.junctions.push(JunctionPlan { what, psi, length });
        }
    }
    for (n, (item, table)) in listed(book, top, "penetration").into_iter().enumerate() {
        let path = format!("penetration[{}]", n + 1);
        penetration(book, Fields::new(table, "a penetration", item.place.clone(), path));
    }
    airtightness(book, top);
}

fn joint(book: &mut Book<'_>, name: &str, mut f: Fields<'_>) {
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    let ends = ends(book, &f, name);
    let mut carries = Vec::new();
    for kind in ControlKind::ALL {
        if let Some(word) = f.text(&mut book.cx, kind.word()) {
            carries.push((kind, word.text));
        }
    }
    let classes =
        [("careful", WorkClass::Careful), ("ordinary", WorkClass::Ordinary), ("unknown", WorkClass::Unknown)];
    let trade = f.text(&mut book.cx, "trade").map(|w| w.text);
    let work = f.choice(&mut book.cx, "work", &classes).unwrap_or_default();
    let proof = f.texts(&mut book.cx, "proof").into_iter().map(|w| w.text).collect();
    let leak = book.value(&mut f, "leak", want(Dimension::FlowPerLength, Bounds::NOT_NEGATIVE, "leak"), &how);
    let at = f.text(&mut book.cx, "at").map(|w| w.text);
    f.finish(&mut book.cx);
    if let Some((first, second)) = ends {
        book.plan.joints.push(JointPlan { first, second, carries, trade, work, proof, leak, at });
    }
}

/// Reads the two ends of a joint: two assemblies, or an opening and an assembly.
fn ends(book: &mut Book<'_>, f: &Fields<'_>, name: &str) -> Option<(String, String)> {
    let Some((first, second)) = name.split_once('/') else {
        let d = Diagnostic::error("name", f.at(), format!("joint \"{name}\" does not say what meets what"))
            .with_help("write both with a slash between, like [joint.\"upper-wall / deck-roof\"]");
        book.cx.add(d);
        return None;
    };
    let word = |text: &str| Word { text: text.trim().to_owned(), place: f.at().clone() };
    let (first, second) = (word(first), word(second));
    let first = match first.text.as_str() {
        "opening" => Some(first.text),
        _ => checked(book, first, Of::Assembly),
    };
    let second = checked(book, second, Of::Assembly);
    Some((first?, second?))
}

fn penetration(book: &mut Book<'_>, mut f: Fields<'_>) {
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    let name = f.need_text(&mut book.cx, "name", "name = \"roof hatch\"");
    let count = f.count(&mut book.cx, "count").unwrap_or(1);
    if !f.has("through") {
        f.missing(&mut book.cx, "through", "through = \"deck-roof\"");
    }
    let through = reference(book, &mut f, "through", Of::Assembly);
    let seal = f.text(&mut book.cx, "seal").map(|w| w.text);
    let trade = f.text(&mut book.cx, "trade").map(|w| w.text);
    let embedded_timber = f.flag(&mut book.cx, "embedded-timber").unwrap_or(false);
    let leak = book.value(&mut f, "leak", want(Dimension::VolumeFlow, Bounds::NOT_NEGATIVE, "leak"), &how);
    let chi = book.value(
        &mut f,
        "chi",
        want(Dimension::PointTransmittance, Bounds::NOT_NEGATIVE, "point transmittance"),
        &how,
    );
    let tested_system = f.text(&mut book.cx, "tested-system").map(|w| w.text);
    let at = f.at().clone();
    f.finish(&mut book.cx);
    let (Some(name), Some(through)) = (name, through) else { return };
    let name = name.text;
    book.cx.remember(format!("penetration.{name}"), &at);
    let plan =
        PenetrationPlan { name, count, through, seal, trade, embedded_timber, leak, chi, tested_system };
    book.plan.penetrations.push(plan);
}

fn airtightness(book: &mut Book<'_>, top: &mut Fields<'_>) {
    let Some(mut f) = top.table(&mut book.cx, "airtightness") else { return };
    // What is still to be read enters both chances.
    let how = How { enters: Enters::BOTH, ..How::read(&mut book.cx, &mut f, Basis::Assumed) };
    book.plan.airtightness = AirtightnessPlan {
        expected: book.value(&mut f, "expected", want(Dimension::AirChange, AIR_CHANGE, "leak"), &how),
        exponent: book.value(&mut f, "exponent", want(Dimension::Ratio, EXPONENT, "leak exponent"), &how),
        party: book.value(&mut f, "party", want(Dimension::VolumeFlow, Bounds::NOT_NEGATIVE, "leak"), &how),
        reference_pressure: book.value(
            &mut f,
            "reference-pressure",
            want(Dimension::Pressure, REFERENCE, "fixed"),
            &how,
        ),
    };
    f.finish(&mut book.cx);
}
