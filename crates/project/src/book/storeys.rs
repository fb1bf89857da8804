//! `[storey.x]`: footprint, heights, walls, roof, floor.

use super::{Book, How, outline, sections, want};
use crate::diagnostic::Diagnostic;
use crate::reader::{Bounds, Fields, Kind, Word, refer};
use building::plan::{
    BeyondPlan, Compass, EdgeInsulationPlan, FloorPlan, ObstructionPlan, RoofForm, RoofPlan, StoreyPlan,
    WallSidePlan, WallsPlan,
};
use building::stated::Basis;
use quantity::Dimension;

const LEVEL: Bounds = Bounds::within(-100.0, 1_000.0, "lies between -100 m and 1000 m");
const HEIGHT: Bounds = Bounds::above(0.0, 60.0, "is more than zero and at most 60 m");
const SLOPE: Bounds = Bounds::within(0.0, 85.0, "lies between level and 85°");
const LONG: Bounds = Bounds::above(0.0, 10_000.0, "is more than zero and at most 10 km");

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>) {
    if !top.has("storey") {
        return;
    }
    for (name, f) in sections(book, top, "storey") {
        storey(book, name, f);
    }
}

fn storey(book: &mut Book<'_>, name: String, mut f: Fields<'_>) {
    let how = How::read(&mut book.cx, &mut f, Basis::Drawn);
    let floor_level = book.need(&mut f, "floor-level", want(Dimension::Length, LEVEL, "length"), &how);
    let height = book.need(&mut f, "height", want(Dimension::Length, HEIGHT, "length"), &how);
    let footprint = outline::read(book, &mut f, "footprint", &how);
    let inside = outline::read(book, &mut f, "inside", &how);
    if !f.has("footprint") && !f.has("inside") {
        f.missing(&mut book.cx, "footprint", "footprint = \"rectangle 24 ft × 36 ft\"");
        book.taint(f.path());
    }
    let side_names = f.texts(&mut book.cx, "sides").into_iter().map(|w| w.text).collect();
    let plan = StoreyPlan {
        walls: walls(book, &mut f),
        rest: reference(book, &mut f, "rest", Of::Neighbour),
        inner_walls: reference(book, &mut f, "inner-walls", Of::Assembly),
        partitions: reference(book, &mut f, "partitions", Of::Assembly),
        roof: roof(book, &mut f, &how),
        floor: floor(book, &mut f, &how),
        obstructions: beams(book, &mut f, &how),
        name,
        floor_level,
        height,
        footprint,
        inside,
        side_names,
    };
    f.finish(&mut book.cx);
    book.plan.storeys.push(plan);
}

/// What a name refers to.
#[derive(Clone, Copy)]
pub(super) enum Of {
    Assembly,
    Neighbour,
    Space,
    Storey,
}

/// Reads a name and checks that it is defined.
pub(super) fn reference(book: &mut Book<'_>, f: &mut Fields<'_>, key: &str, of: Of) -> Option<String> {
    let word = f.text(&mut book.cx, key)?;
    checked(book, word, of)
}

/// Returns the name when it is defined; notes and taints otherwise.
pub(super) fn checked(book: &mut Book<'_>, word: Word, of: Of) -> Option<String> {
    let (names, kind) = match of {
        Of::Assembly => (&book.names.assemblies, "assembly"),
        Of::Neighbour => (&book.names.neighbours, "neighbour"),
        Of::Space => (&book.names.spaces, "space"),
        Of::Storey => (&book.names.storeys, "storey"),
    };
    refer(&mut book.cx, &word, names, kind).then_some(word.text)
}

fn walls(book: &mut Book<'_>, f: &mut Fields<'_>) -> WallsPlan {
    let Some(node) = f.node("walls") else { return WallsPlan::default() };
    if matches!(node.kind, Kind::Text { .. }) {
        return WallsPlan { assembly: reference(book, f, "walls", Of::Assembly), sides: Vec::new() };
    }
    let Some(mut inner) = f.table(&mut book.cx, "walls") else { return WallsPlan::default() };
    let assembly = reference(book, &mut inner, "assembly", Of::Assembly);
    let mut sides = Vec::new();
    for entry in inner.entries().iter().filter(|e| e.key != "assembly") {
        let path = format!("{}.{}", inner.path(), entry.key);
        book.cx.remember(path.clone(), &entry.key_place);
        if let Kind::Text { .. } = entry.node.kind {
            let word = crate::reader::word(&mut book.cx, &entry.key, &entry.node);
            let assembly = word.and_then(|w| checked(book, w, Of::Assembly));
            sides.push(WallSidePlan { side: entry.key.clone(), assembly, beyond: BeyondPlan::Outside });
            continue;
        }
        let Some(table) = crate::reader::as_table(&mut book.cx, &entry.key, entry) else { continue };
        let mut side = Fields::new(table, format!("side \"{}\"", entry.key), entry.key_place.clone(), path);
        let assembly = reference(book, &mut side, "assembly", Of::Assembly);
        let beyond = beyond(book, &mut side, "beyond");
        side.finish(&mut book.cx);
        sides.push(WallSidePlan { side: entry.key.clone(), assembly, beyond });
    }
    WallsPlan { assembly, sides }
}

/// Reads what lies beyond: `outside`, `ground` or a neighbour.
pub(super) fn beyond(book: &mut Book<'_>, f: &mut Fields<'_>, key: &str) -> BeyondPlan {
    let Some(word) = f.text(&mut book.cx, key) else { return BeyondPlan::Outside };
    match word.text.as_str() {
        "outside" | "outdoors" => BeyondPlan::Outside,
        "ground" => BeyondPlan::Ground,
        _ => checked(book, word, Of::Neighbour).map_or(BeyondPlan::Outside, BeyondPlan::Neighbour),
    }
}

fn roof(book: &mut Book<'_>, f: &mut Fields<'_>, how: &How) -> Option<RoofPlan> {
    let mut r = f.table(&mut book.cx, "roof")?;
    let form = r.choice(&mut book.cx, "form", &[("flat", 0), ("shed", 1), ("gable", 2)]);
    if !r.has("form") {
        r.missing(&mut book.cx, "form", "form = \"flat\"");
    }
    let form = match form.unwrap_or(0) {
        1 => RoofForm::Shed { low_side: low_side(book, &mut r) },
        2 => {
            let axes = [
                ("E–W", true),
                ("east-west", true),
                ("E-W", true),
                ("N–S", false),
                ("north-south", false),
                ("N-S", false),
            ];
            RoofForm::Gable { ridge_along_x: r.choice(&mut book.cx, "ridge", &axes).unwrap_or(true) }
        }
        _ => RoofForm::Flat,
    };
    let slope = book.value(&mut r, "slope", want(Dimension::Angle, SLOPE, "fixed"), how);
    if form != RoofForm::Flat && !r.has("slope") {
        r.missing(&mut book.cx, "slope", "slope = \"35 deg\"");
    }
    if !r.has("assembly") {
        r.missing(&mut book.cx, "assembly", "assembly = \"roof\"");
    }
    let assembly = reference(book, &mut r, "assembly", Of::Assembly);
    let parapet = book.value(&mut r, "parapet", want(Dimension::Length, HEIGHT, "length"), how);
    let under = if r.has("under") { beyond(book, &mut r, "under") } else { beyond(book, &mut r, "beyond") };
    r.finish(&mut book.cx);
    let Some(assembly) = assembly else {
        book.taint(f.path());
        return None;
    };
    Some(RoofPlan { form, slope, assembly, parapet, beyond: under })
}

fn low_side(book: &mut Book<'_>, r: &mut Fields<'_>) -> String {
    match r.need_text(&mut book.cx, "low-side", "low-side = \"N\"") {
        Some(word) => Compass::read(&word.text).map_or(word.text, |c| c.name().to_owned()),
        None => "S".to_owned(),
    }
}

fn floor(book: &mut Book<'_>, f: &mut Fields<'_>, how: &How) -> Option<FloorPlan> {
    let mut g = f.table(&mut book.cx, "floor")?;
    if !g.has("assembly") {
        g.missing(&mut book.cx, "assembly", "assembly = \"slab\"");
    }
    let assembly = reference(book, &mut g, "assembly", Of::Assembly);
    let both = g.has("over") && g.has("on");
    let below = if g.has("over") { beyond(book, &mut g, "over") } else { beyond(book, &mut g, "on") };
    if both {
        let d = Diagnostic::error(
            "layers",
            g.at(),
            "a floor lies \"over\" a room or \"on\" the ground, not both",
        )
        .with_help("keep one of the two");
        book.cx.add(d);
    }
    let mut get = |g: &mut Fields<'_>, key, dimension, bounds, kind| {
        book.value(g, key, want(dimension, bounds, kind), how)
    };
    let exposed_perimeter = get(&mut g, "exposed-perimeter", Dimension::Length, LONG, "length");
    let area = get(&mut g, "area", Dimension::Area, Bounds::POSITIVE, "area");
    let depth = get(&mut g, "depth", Dimension::Length, Bounds::NOT_NEGATIVE, "length");
    let edge = edge(book, &mut g, how);
    g.finish(&mut book.cx);
    let Some(assembly) = assembly else {
        book.taint(f.path());
        return None;
    };
    Some(FloorPlan { assembly, beyond: below, exposed_perimeter, area, depth, edge })
}

fn edge(book: &mut Book<'_>, g: &mut Fields<'_>, how: &How) -> Option<EdgeInsulationPlan> {
    let mut e = g.table(&mut book.cx, "edge")?;
    let vertical =
        e.choice(&mut book.cx, "lies", &[("vertical", true), ("horizontal", false)]).unwrap_or(true);
    let width = book.need(&mut e, "width", want(Dimension::Length, HEIGHT, "length"), how);
    let thickness = book.need(&mut e, "thickness", want(Dimension::Length, HEIGHT, "thickness"), how);
    let conductivity = book.need(
        &mut e,
        "conductivity",
        want(Dimension::Conductivity, Bounds::POSITIVE, "conductivity"),
        how,
    );
    e.finish(&mut book.cx);
    Some(EdgeInsulationPlan { vertical, width, thickness, conductivity })
}

fn beams(book: &mut Book<'_>, f: &mut Fields<'_>, how: &How) -> Vec<ObstructionPlan> {
    let mut all = Vec::new();
    for key in ["beams", "posts"] {
        let Some(mut b) = f.table(&mut book.cx, key) else { continue };
        if !b.has("section") {
            b.missing(&mut book.cx, "section", "section = \"203 mm × 305 mm\"");
        }
        let section = outline::section(book, &mut b, "section", how);
        let volume = book.need(&mut b, "volume", want(Dimension::Volume, Bounds::POSITIVE, "volume"), how);
        let floor_area =
            book.value(&mut b, "floor-area", want(Dimension::Area, Bounds::POSITIVE, "area"), how);
        let space = reference(book, &mut b, "space", Of::Space);
        b.finish(&mut book.cx);
        if let Some(section) = section {
            all.push(ObstructionPlan { name: key.to_owned(), space, section, volume, floor_area });
        }
    }
    all
}
