//! `[assembly.x]` and its layers, outside to inside.

use super::fabric::check_material;
use super::{Book, How, sections, want};
use crate::diagnostic::Diagnostic;
use crate::reader::{Bounds, Fields, Kind, Names, Word, choose, nearest};
use crate::source::Place;
use building::control::ControlKind;
use building::plan::{AirSpace, AssemblyPlace, AssemblyPlan, BridgePlan, LayerMaterial, LayerPlan};
use building::stated::Basis;
use quantity::Dimension;

/// A layer is thicker than a coat of paint and thinner than a fortress.
const THICKNESS: Bounds = Bounds::above(0.0, 5.0, "is more than zero and at most 5 m");
const SHARE: Bounds = Bounds::above(0.0, 0.95, "lies above 0 % and at most 95 %");
const TRANSMITTANCE: Bounds = Bounds::above(0.0, 10.0, "lies above 0 and at most 10 W/(m²·K)");

const PLACES: [(&str, AssemblyPlace); 5] = [
    ("wall", AssemblyPlace::Wall),
    ("roof", AssemblyPlace::Roof),
    ("floor", AssemblyPlace::Floor),
    ("ground floor", AssemblyPlace::GroundFloor),
    ("partition", AssemblyPlace::Partition),
];

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>) {
    if !top.has("assembly") {
        return;
    }
    for (name, f) in sections(book, top, "assembly") {
        assembly(book, name, f);
    }
}

fn assembly(book: &mut Book<'_>, name: String, mut f: Fields<'_>) {
    let place = f.choice(&mut book.cx, "place", &PLACES).unwrap_or_default();
    let how = How::read(&mut book.cx, &mut f, Basis::Drawn);
    let transmittance = book.value(
        &mut f,
        "transmittance",
        want(Dimension::Transmittance, TRANSMITTANCE, "transmittance"),
        &how,
    );
    let correction = want(Dimension::Transmittance, Bounds::NOT_NEGATIVE, "transmittance");
    let mut plan = AssemblyPlan {
        place,
        layers: Vec::new(),
        fire_rated: f.flag(&mut book.cx, "fire-rated").unwrap_or(false),
        sound_rated: f.flag(&mut book.cx, "sound-rated").unwrap_or(false),
        transmittance,
        correction: book.value(&mut f, "correction", correction, &how),
        name: name.clone(),
    };
    if !f.has("layers") && !f.has("transmittance") {
        f.missing(&mut book.cx, "layers", "layers = [{ material = \"softwood\", thickness = \"25 mm\" }]");
    }
    let before = book.cx.len();
    let mut names = Names::default();
    for node in f.list(&mut book.cx, "layers").unwrap_or_default() {
        let Kind::Table(table) = &node.kind else {
            let message = format!("a layer is a table, this is {}", node.kind.words());
            book.cx.error(
                "type",
                &node.place,
                message,
                "write it like: { material = \"softwood\", thickness = \"25 mm\" }",
            );
            continue;
        };
        let path = format!("assembly.{name}.layer[{}]", plan.layers.len() + 1);
        let layer = layer(book, Fields::new(table, "a layer", node.place.clone(), path), &name, &mut names);
        plan.layers.extend(layer);
    }
    check_order(book, &plan, f.at());
    check_bridges(book, &plan, &names);
    if book.cx.len() > before {
        book.taint(f.path());
    }
    f.finish(&mut book.cx);
    book.plan.assemblies.push(plan);
}

fn layer(book: &mut Book<'_>, mut f: Fields<'_>, assembly: &str, names: &mut Names) -> Option<LayerPlan> {
    let how = How::read(&mut book.cx, &mut f, Basis::Drawn);
    let air = f.choice(
        &mut book.cx,
        "air",
        &[
            ("unventilated", AirSpace::Unventilated),
            ("slightly ventilated", AirSpace::Slightly),
            ("well ventilated", AirSpace::Well),
        ],
    );
    let material = f.text(&mut book.cx, "material");
    let (word, material) = match (material, air) {
        (Some(word), None) => {
            check_material(book, &word);
            (word.clone(), LayerMaterial::Named(word.text))
        }
        (None, Some(ventilation)) => {
            let foil = want(Dimension::Ratio, Bounds::SHARE, "emissivity");
            let low_emissivity = book.value(&mut f, "low-emissivity", foil, &how);
            let word = Word { text: "air space".to_owned(), place: f.at().clone() };
            (word, LayerMaterial::Air { ventilation, low_emissivity })
        }
        (Some(word), Some(_)) => {
            book.cx.error(
                "layers",
                &word.place,
                "a layer is a material or an air space, not both",
                "keep one of the two",
            );
            return None;
        }
        (None, None) => {
            if !f.has("material") && !f.has("air") {
                f.missing(&mut book.cx, "material", "material = \"softwood\"");
            }
            f.has("thickness");
            return None;
        }
    };
    let name = f.text(&mut book.cx, "name").unwrap_or_else(|| word.clone());
    let name = settle_name(book, name, assembly, names);
    let path = format!("assembly.{assembly}.layer[{name}]");
    book.cx.remember(path.clone(), f.at());
    let thickness = thickness(book, &mut f, &path, &how);
    let bridged = bridge(book, &mut f, &path, &how);
    let layer = LayerPlan {
        material,
        thickness,
        bridged,
        controls: controls(book, &mut f),
        existing: f.flag(&mut book.cx, "existing").unwrap_or(false),
        service_cavity: f.flag(&mut book.cx, "service-cavity").unwrap_or(false),
        record: f.text(&mut book.cx, "record").map(|w| w.text),
        name,
    };
    f.finish(&mut book.cx);
    Some(layer)
}

/// Gives a layer its name inside the assembly: two layers of one material get a number, two stated names clash.
fn settle_name(book: &mut Book<'_>, word: Word, assembly: &str, names: &mut Names) -> String {
    let Some(first) = names.add(&word.text, &word.place).cloned() else { return word.text };
    // A name that was only taken from the material may repeat: the second coat of plaster is "lime plaster 2".
    for n in 2..=99 {
        let numbered = format!("{} {n}", word.text);
        if names.add(&numbered, &word.place).is_none() {
            return numbered;
        }
    }
    book.given_twice(&format!("layer of \"{assembly}\""), &word.text, &word.place, &first);
    word.text
}

fn thickness(book: &mut Book<'_>, f: &mut Fields<'_>, path: &str, how: &How) -> building::ValueKey {
    let id = format!("{path}.thickness");
    let q = f.need_quantity(&mut book.cx, "thickness", Dimension::Length, THICKNESS);
    let stated = q.and_then(|q| book.state(id.clone(), "thickness", &q, how));
    stated.unwrap_or_else(|| book.stand_in(&id, want(Dimension::Length, THICKNESS, "thickness")))
}

fn bridge(book: &mut Book<'_>, f: &mut Fields<'_>, path: &str, how: &How) -> Option<BridgePlan> {
    let mut inner = f.table(&mut book.cx, "bridged")?;
    let word = inner.need_text(&mut book.cx, "material", "material = \"softwood\"");
    let q = inner.need_quantity(&mut book.cx, "share", Dimension::Ratio, SHARE);
    let with = inner.text(&mut book.cx, "with");
    if let Some(with) = &with {
        book.cx.remember(format!("{path}.bridged.with"), &with.place);
    }
    let with = with.map(|w| w.text);
    inner.finish(&mut book.cx);
    let word = word?;
    check_material(book, &word);
    let share = book.state(format!("{path}.bridged.share"), "share of area", &q?, how)?;
    Some(BridgePlan { material: word.text, share, with })
}

fn controls(book: &mut Book<'_>, f: &mut Fields<'_>) -> Vec<ControlKind> {
    let choices: Vec<(&str, ControlKind)> = ControlKind::ALL.iter().map(|k| (k.word(), *k)).collect();
    let mut kinds = Vec::new();
    for word in f.texts(&mut book.cx, "controls") {
        let word = if word.text == "vapor" { Word { text: "vapour".to_owned(), ..word } } else { word };
        kinds.extend(choose(&mut book.cx, "control", &word, &choices));
    }
    kinds
}

/// Layers run outside to inside; what a layer keeps out shows when they were written the other way round.
fn check_order(book: &mut Book<'_>, plan: &AssemblyPlan, at: &Place) {
    let first = |kind| plan.layers.iter().position(|l| l.controls.contains(&kind));
    let (rain, heat) = (first(ControlKind::Rain), first(ControlKind::Heat));
    if let (Some(rain), Some(heat), AssemblyPlace::Wall) = (rain, heat, plan.place)
        && rain > heat
    {
        let d = Diagnostic::error(
            "layers",
            at,
            format!("in wall \"{}\" the rain layer lies inside the insulation", plan.name),
        )
        .with_help("layers run from outside to inside; turn the list round, or move controls = [\"rain\"]");
        book.cx.add(d);
    }
    for kind in ControlKind::ALL.into_iter().filter(|k| *k != ControlKind::Heat) {
        let carriers: Vec<&LayerPlan> = plan.layers.iter().filter(|l| l.controls.contains(&kind)).collect();
        if let [one, two, ..] = carriers.as_slice() {
            let message = format!(
                "two layers of \"{}\" control {}: {} and {}",
                plan.name,
                kind.word(),
                one.name,
                two.name
            );
            book.cx.warning("layers", at, message, "name the one that the joints carry on");
        }
    }
}

/// A bridge that stands on another names a layer of the same assembly that has one.
fn check_bridges(book: &mut Book<'_>, plan: &AssemblyPlan, names: &Names) {
    for (at, layer) in plan.layers.iter().enumerate() {
        let Some(with) = layer.bridged.as_ref().and_then(|b| b.with.as_ref()) else { continue };
        let target = plan.layers.iter().enumerate().find(|(other, l)| l.name == *with && *other != at);
        let item = format!("assembly.{}.layer[{}].bridged.with", plan.name, layer.name);
        let Some(place) = book.cx.place_of(&item).cloned() else { continue };
        match target {
            Some((_, l)) if l.bridged.is_some() => {}
            Some((_, l)) => book.cx.error(
                "layers",
                &place,
                format!("the bridge stands on layer \"{}\", which has none", l.name),
                "name a bridged layer, or leave `with` out",
            ),
            None => {
                let near = nearest(with, names.iter().filter(|n| *n != layer.name));
                let mut d =
                    Diagnostic::error("name", &place, format!("\"{}\" has no layer \"{with}\"", plan.name))
                        .with_help("`with` names the layer on whose bridges these stand");
                if let Some(near) = near {
                    d = d.with_label(format!("did you mean \"{near}\"?"));
                }
                book.cx.add(d);
            }
        }
    }
}
