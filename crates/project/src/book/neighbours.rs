//! `[neighbour.x]`: rooms and buildings outside the limits' boundary.

use super::{Book, How, sections, want};
use crate::diagnostic::Diagnostic;
use crate::reader::{Bounds, Fields, Kind, Names, Word, refer};
use building::plan::{NeighbourPlan, NeighbourTemperature, Scheduled, WhenPlan};
use building::stated::Basis;
use quantity::Dimension;

const ROOM: Bounds = Bounds::within(-60.0, 200.0, "lies between -60 °C and 200 °C");
const PRESSURE: Bounds = Bounds::within(-500.0, 500.0, "lies within 500 Pa");

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>) {
    if !top.has("neighbour") {
        return;
    }
    for (name, f) in sections(book, top, "neighbour") {
        neighbour(book, name, f);
    }
}

fn neighbour(book: &mut Book<'_>, name: String, mut f: Fields<'_>) {
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    let about = f.text(&mut book.cx, "about").map(|w| w.text).unwrap_or_default();
    let (when, states) = whens(book, &mut f);
    if !f.has("temperature") {
        f.missing(&mut book.cx, "temperature", "temperature = \"20 °C\"");
        book.taint(f.path());
    }
    let temperature = temperature(book, &mut f, &states, &how);
    let pressure = pressure(book, &mut f, &states, &how);
    f.finish(&mut book.cx);
    match temperature {
        Some(temperature) => {
            book.plan.neighbours.push(NeighbourPlan { name, about, temperature, pressure, when });
        }
        None => book.taint(&format!("neighbour.{name}")),
    }
}

/// Reads `when.firing = "Tue, Thu 16:00–23:00"`.
fn whens(book: &mut Book<'_>, f: &mut Fields<'_>) -> (Vec<WhenPlan>, Names) {
    let mut names = Names::default();
    let mut all = Vec::new();
    let Some(mut inner) = f.table(&mut book.cx, "when") else { return (all, names) };
    for entry in inner.entries() {
        let _ = names.add(&entry.key, &entry.key_place);
        if let Some(rule) = super::usage::rule(book, &entry.key, &entry.node) {
            all.push(WhenPlan { state: entry.key.clone(), rule });
        }
    }
    (all, names)
}

fn temperature(
    book: &mut Book<'_>,
    f: &mut Fields<'_>,
    states: &Names,
    how: &How,
) -> Option<NeighbourTemperature> {
    let w = want(Dimension::Temperature, ROOM, "temperature");
    let node = f.node("temperature")?;
    if matches!(node.kind, Kind::Text { .. }) {
        let usual = book.value(f, "temperature", w, how)?;
        let temperature = Scheduled { usual, states: Vec::new() };
        return Some(NeighbourTemperature::Stated {
            temperature,
            floats_up_with_outdoors: false,
            decay: None,
        });
    }
    let mut t = f.table(&mut book.cx, "temperature")?;
    if t.has("floating") {
        let factor =
            book.value(&mut t, "floating", want(Dimension::Ratio, Bounds::SHARE, "share of area"), how);
        t.finish(&mut book.cx);
        return factor.map(|factor| NeighbourTemperature::Floating { factor });
    }
    let floats_up_with_outdoors = t.flag(&mut book.cx, "floats-up-with-outdoors").unwrap_or(false);
    let decay = book.value(&mut t, "decay", want(Dimension::Time, Bounds::POSITIVE, "time constant"), how);
    let temperature = scheduled(book, &mut t, states, w, how)?;
    Some(NeighbourTemperature::Stated { temperature, floats_up_with_outdoors, decay })
}

fn pressure(book: &mut Book<'_>, f: &mut Fields<'_>, states: &Names, how: &How) -> Option<Scheduled> {
    let w = want(Dimension::Pressure, PRESSURE, "pressure");
    let node = f.node("pressure")?;
    if matches!(node.kind, Kind::Text { .. }) {
        let usual = book.value(f, "pressure", w, how)?;
        return Some(Scheduled { usual, states: Vec::new() });
    }
    let mut t = f.table(&mut book.cx, "pressure")?;
    scheduled(book, &mut t, states, w, how)
}

/// Reads a usual value and others by state; every state needs its `when`.
fn scheduled(
    book: &mut Book<'_>,
    t: &mut Fields<'_>,
    states: &Names,
    w: super::Want,
    how: &How,
) -> Option<Scheduled> {
    let known = ["usual", "floats-up-with-outdoors", "decay", "floating"];
    if !t.has("usual") {
        t.missing(&mut book.cx, "usual", &format!("usual = \"{}\"", w.dimension.example()));
    }
    let usual = book.value(t, "usual", w, how);
    let mut named = Vec::new();
    for entry in t.entries().iter().filter(|e| !known.contains(&e.key.as_str())) {
        let word = Word { text: entry.key.clone(), place: entry.key_place.clone() };
        if states.is_empty() {
            let d =
                Diagnostic::error("name", &word.place, format!("nobody says when \"{}\" holds", word.text))
                    .with_help(format!("add a line like: when.{} = \"Mon–Fri 8:00–17:00\"", word.text));
            book.cx.add(d);
            continue;
        }
        if refer(&mut book.cx, &word, states, "state under \"when\"")
            && let Some(key) = book.value(t, &entry.key, w, how)
        {
            named.push((entry.key.clone(), key));
        }
    }
    Some(Scheduled { usual: usual?, states: named })
}
