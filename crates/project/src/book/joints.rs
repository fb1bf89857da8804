//! `[joint."a / b"]`, `[junction.x]`, `[[penetration]]`, `[airtightness]`: who carries the control layers across.

use super::storeys::{Of, checked, reference};
use super::{Book, How, listed, sections, want};
use crate::diagnostic::Diagnostic;
use crate::reader::{Bounds, Fields, Kind, Word, as_table, choose};
use building::control::ControlKind;
use building::plan::{AirtightnessPlan, Carrier, JointPlan, JunctionPlan, Lap, PenetrationPlan, WorkClass};
use building::stated::{Basis, Enters};
use quantity::Dimension;

const PSI: Bounds = Bounds::within(-2.0, 5.0, "lies between -2 and 5 W/(m·K)");
/// A leak of turbulent holes has 0.5, of fine cracks 1 (ISO 9972:2015, 6.2).
const EXPONENT: Bounds = Bounds::within(0.5, 1.0, "lies between 0.5 and 1");
const AIR_CHANGE: Bounds = Bounds::above(0.0, 100.0, "is more than zero and at most 100 1/h");
const REFERENCE: Bounds = Bounds::within(1.0, 100.0, "lies between 1 and 100 Pa");

const CHANCE: Bounds = Bounds::within(0.5, 0.999, "lies between 50 % and 99.9 %");

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
    let mut kind = JointPlan::default();
    fields(book, &mut f, &how, &mut kind);
    let places = exceptions(book, &mut f);
    let at = f.at().clone();
    f.finish(&mut book.cx);
    let Some((first, second)) = ends else { return };
    (kind.first, kind.second) = (first, second);
    book.cx.remember(format!("joint.\"{}\"", kind.pair()), &at);
    for (place, mut own) in places {
        // What a place leaves unsaid is as everywhere.
        let mut joint = JointPlan { at: Some(place), ..kind.clone() };
        fields(book, &mut own, &how, &mut joint);
        own.finish(&mut book.cx);
        book.plan.joints.push(joint);
    }
    book.plan.joints.push(kind);
}

/// Opens `[joint."a / b".except.PLACE]`.
pub(super) fn exceptions<'a>(book: &mut Book<'_>, f: &mut Fields<'a>) -> Vec<(String, Fields<'a>)> {
    let Some(mut outer) = f.table(&mut book.cx, "except") else { return Vec::new() };
    let mut found = Vec::new();
    for entry in outer.entries() {
        let path = format!("{}.{}", outer.path(), entry.key);
        book.cx.remember(path.clone(), &entry.key_place);
        if let Some(table) = as_table(&mut book.cx, &entry.key, entry) {
            let noun = format!("the exception \"{}\"", entry.key);
            found.push((entry.key.clone(), Fields::new(table, noun, entry.key_place.clone(), path)));
        }
    }
    found
}

/// Reads what a table says over what was known before.
fn fields(book: &mut Book<'_>, f: &mut Fields<'_>, how: &How, joint: &mut JointPlan) {
    for control in ControlKind::ALL {
        if let Some(carrier) = carrier(book, f, control.word(), control) {
            joint.carries.retain(|c| c.control != control);
            joint.carries.push(carrier);
        }
    }
    let classes =
        [("careful", WorkClass::Careful), ("ordinary", WorkClass::Ordinary), ("unknown", WorkClass::Unknown)];
    let text = |book: &mut Book<'_>, f: &mut Fields<'_>, key: &str| f.text(&mut book.cx, key).map(|w| w.text);
    joint.trade = text(book, f, "trade").or(joint.trade.take());
    joint.stage = stage(book, f).or(joint.stage.take());
    joint.work = f.choice(&mut book.cx, "work", &classes).unwrap_or(joint.work);
    joint.tested_system = text(book, f, "tested-system").or(joint.tested_system.take());
    joint.at = text(book, f, "at").or(joint.at.take());
    for (key, list) in
        [("proof", &mut joint.proof), ("photograph", &mut joint.photograph), ("joins", &mut joint.joins)]
    {
        if f.has(key) {
            *list = f.texts(&mut book.cx, key).into_iter().map(|w| w.text).collect();
        }
    }
    let leak = book.value(f, "leak", want(Dimension::FlowPerLength, Bounds::NOT_NEGATIVE, "leak"), how);
    joint.leak = leak.or(joint.leak);
}

/// Reads a stage of the job.
fn stage(book: &mut Book<'_>, f: &mut Fields<'_>) -> Option<String> {
    let word = f.text(&mut book.cx, "stage")?;
    let stages = book.plan.project.stages.clone();
    let known: Vec<(&str, ())> = stages.iter().map(|s| (s.as_str(), ())).collect();
    choose(&mut book.cx, "stage", &word, &known).map(|()| word.text)
}

/// Reads what carries one layer across: words, or a table with words, product, lap and trade.
fn carrier(book: &mut Book<'_>, f: &mut Fields<'_>, key: &str, control: ControlKind) -> Option<Carrier> {
    if let Kind::Text { .. } = f.node(key)?.kind {
        return Some(Carrier::words(control, f.text(&mut book.cx, key)?.text));
    }
    let mut inner = f.table(&mut book.cx, key)?;
    let product = product(book, &mut inner);
    let how = inner.text(&mut book.cx, "how").map(|w| w.text);
    if how.is_none() && product.is_none() && !inner.has("with") {
        inner.missing(&mut book.cx, "how", "how = \"tape over primer\"");
    }
    let lap = inner.choice(&mut book.cx, "lap", &Lap::ALL);
    let trade = inner.text(&mut book.cx, "trade").map(|w| w.text);
    inner.finish(&mut book.cx);
    let how = how.or_else(|| product.clone())?;
    Some(Carrier { control, how, product, lap, trade })
}

/// Reads the name of a product.
fn product(book: &mut Book<'_>, f: &mut Fields<'_>) -> Option<String> {
    f.reference(&mut book.cx, "with", &book.names.products, "product").map(|w| w.text)
}

/// Words for edges of openings, which stand in place of an assembly.
const EDGES: [&str; 5] = ["opening", "head", "jamb", "sill", "threshold"];

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
    let first = if EDGES.contains(&first.text.as_str()) {
        Some(first.text)
    } else {
        checked(book, first, Of::Assembly)
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
    let product = product(book, &mut f);
    let mut carries = Vec::new();
    for control in [ControlKind::Rain, ControlKind::Vapour, ControlKind::Heat] {
        carries.extend(carrier(book, &mut f, control.word(), control));
    }
    let place = f.text(&mut book.cx, "at").map(|w| w.text);
    let trade = f.text(&mut book.cx, "trade").map(|w| w.text);
    let embedded_timber = f.flag(&mut book.cx, "embedded-timber").unwrap_or(false);
    let section_m = super::outline::sides(book, &mut f, "section");
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
    let plan = PenetrationPlan {
        name,
        count,
        through,
        at: place,
        seal,
        carries,
        product,
        trade,
        embedded_timber,
        section_m,
        leak,
        chi,
        tested_system,
    };
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
        wanted_chance: book.value(&mut f, "chance", want(Dimension::Ratio, CHANCE, "fixed"), &how),
    };
    super::air::ahead(book, &mut f);
    f.finish(&mut book.cx);
}
