//! From TOML to a detail, every problem noted with its place.

use super::check::{self, Written};
use super::{Drawn, NamedPlane};
use crate::diagnostic::Diagnostic;
use crate::reader::{Bounds, Fields, Kind, Names, Node, Problems, as_table, piece as part, refer, word};
use crate::source::{FileId, Place};
use fabric::detail::cavity::{Cavity, Opening};
use fabric::detail::joint::Plane;
use fabric::detail::{Body, Detail, Environment, Region};
use quantity::Dimension;
use std::collections::BTreeMap;

const FILM: Bounds = Bounds::within(0.0, 10.0, "lies between 0 and 10 m²·K/W");
const LENGTH: Bounds = Bounds::within(-100.0, 100.0, "lies between -100 and 100 m");
const EXTENT: Bounds = Bounds::within(0.0, 1e4, "lies between 0 and 10 000");
/// Most pieces of one detail.
const MOST_PIECES: usize = 2000;

/// Sides of the drawing that may cut through solids.
pub(super) const SIDES: [&str; 6] = ["left", "right", "bottom", "top", "front", "back"];

struct Materials {
    names: Names,
    conductivity: BTreeMap<String, [f64; 3]>,
}

/// Reads a whole text.
pub(super) fn read(file: FileId, cx: &mut Problems) -> Option<Drawn> {
    let root = crate::book::tree_of(file, cx);
    let mut top = Fields::new(&root, "a detail file", root.place.clone(), "");
    let Some(mut head) = top.table(cx, "detail") else {
        if !top.has("detail") {
            top.missing(cx, "detail", "[detail] name = \"corner of the north wall\"");
        }
        return None;
    };
    let name = head.need_text(cx, "name", "name = \"corner of the north wall\"");
    let about = head.text(cx, "about").map(|w| w.text).unwrap_or_default();
    let invented = head.flag(cx, "invented").unwrap_or(false);
    let solid = head.flag(cx, "solid").unwrap_or(false);
    let cuts = sides(cx, &mut head);
    let head_at = head.at().clone();
    let (environments, names) = environments(cx, &mut top);
    let chosen = |cx: &mut Problems, head: &mut Fields<'_>, key: &str| {
        let w = head.reference(cx, key, &names, "environment")?;
        names.iter().position(|n| n == w.text)
    };
    let (inside, outside) = (chosen(cx, &mut head, "inside"), chosen(cx, &mut head, "outside"));
    head.finish(cx);
    let materials = materials(cx, &mut top);
    let written = pieces(cx, &mut top, solid, &names, &materials);
    let planes = planes(cx, &mut top, &written, &environments, solid);
    let linear = linear(cx, &mut top);
    top.finish(cx);
    if written.is_empty() && top_has_no_piece(&root) {
        let d = Diagnostic::error("missing", &head_at, "the detail has no piece");
        cx.add(d.with_help(
            "add boxes: [[piece]] material = \"brick\" x = \"0 mm .. 203 mm\" y = \"0 m .. 2 m\"",
        ));
    }
    let extreme = |warm: bool| {
        let t = |k: &usize| environments[*k].temperature_c;
        let by = |a: &usize, b: &usize| t(a).total_cmp(&t(b));
        if warm { (0..environments.len()).max_by(by) } else { (0..environments.len()).min_by(by) }
    };
    let (inside, outside) = (inside.or_else(|| extreme(true)), outside.or_else(|| extreme(false)));
    if let (Some(i), Some(o)) = (inside, outside)
        && i == o
    {
        let d = Diagnostic::error("environment", &head_at, "inside and outside are one environment");
        cx.add(d.with_help("give at least two environments of unlike temperature, or name them: inside = \"…\", outside = \"…\""));
        return None;
    }
    check::shape(cx, &written, &cuts, &head_at, solid);
    check::used(cx, &written, &names);
    let regions: Vec<Region> = written.iter().map(|w| w.region.clone()).collect();
    let cavities = written
        .iter()
        .enumerate()
        .filter_map(|(n, w)| w.cavity.map(|(opening, emissivity)| Cavity { region: n, opening, emissivity }))
        .collect();
    Some(Drawn {
        name: name?.text,
        about,
        invented,
        detail: Detail { plane: !solid, regions, environments },
        cavities,
        materials: written.iter().map(|w| w.material.clone()).collect(),
        inside: inside?,
        outside: outside?,
        planes,
        linear,
    })
}

fn top_has_no_piece(root: &crate::reader::Table) -> bool {
    root.get("piece").is_none()
}

fn sides(cx: &mut Problems, head: &mut Fields<'_>) -> Vec<String> {
    let mut found = Vec::new();
    if !head.has("cuts") {
        return found;
    }
    for side in head.texts(cx, "cuts") {
        if SIDES.contains(&side.text.as_str()) {
            found.push(side.text);
        } else {
            let d = Diagnostic::error(
                "choice",
                &side.place,
                format!("\"{}\" is no side of the drawing", side.text),
            );
            cx.add(d.with_help(format!("it is one of: {}", SIDES.join(", "))));
        }
    }
    found
}

/// Opens every table of a section keyed by the user's own names.
fn sections<'a>(cx: &mut Problems, top: &mut Fields<'a>, section: &str) -> Vec<(String, Fields<'a>)> {
    let Some(mut outer) = top.table(cx, section) else { return Vec::new() };
    let mut found = Vec::new();
    for entry in outer.entries() {
        if let Some(table) = as_table(cx, &entry.key, entry) {
            let noun = format!("{section} \"{}\"", entry.key);
            let path = format!("{section}.{}", entry.key);
            found.push((entry.key.clone(), Fields::new(table, noun, entry.key_place.clone(), path)));
        }
    }
    found
}

fn environments(cx: &mut Problems, top: &mut Fields<'_>) -> (Vec<Environment>, Names) {
    let mut names = Names::default();
    let mut all = Vec::new();
    if !top.has("environment") {
        top.missing(cx, "environment", "[environment.room] temperature = \"20 °C\" film = \"0.13 m²·K/W\"");
    }
    for (name, mut f) in sections(cx, top, "environment") {
        let at = f.at().clone();
        let temperature = f.need_quantity(cx, "temperature", Dimension::Temperature, Bounds::ANY);
        let film = f.need_quantity(cx, "film", Dimension::Resistance, FILM);
        f.finish(cx);
        // Names repeated in one text are syntax errors already.
        let _ = names.add(&name, &at);
        all.push(Environment {
            name,
            temperature_c: temperature.map_or(0.0, |q| q.value),
            surface_m2k_w: film.map_or(0.13, |q| q.value),
        });
    }
    // Environments go by their number among the names.
    let order = |e: &Environment| names.iter().position(|n| n == e.name);
    all.sort_by_key(order);
    (all, names)
}

fn materials(cx: &mut Problems, top: &mut Fields<'_>) -> Materials {
    let mut all = Materials { names: Names::default(), conductivity: BTreeMap::new() };
    for (name, mut f) in sections(cx, top, "material") {
        let at = f.at().clone();
        let like = f.text(cx, "like");
        let row = like.as_ref().and_then(|w| matter::find(&w.text));
        if let (Some(w), None) = (&like, row) {
            let mut d =
                Diagnostic::error("name", &w.place, format!("no material \"{}\" in the library", w.text));
            if let Some(near) = matter::nearest(&w.text).first().map(|m| &m.name) {
                d = d.with_label(format!("did you mean \"{near}\"?"));
            }
            cx.add(d);
        }
        let one = |cx: &mut Problems, f: &mut Fields<'_>, key: &str| {
            f.quantity(cx, key, Dimension::Conductivity, Bounds::POSITIVE).map(|q| q.value)
        };
        let k = match f.node("conductivity").map(|n| &n.kind) {
            Some(Kind::Table(_)) => f.table(cx, "conductivity").and_then(|mut t| {
                let mut along = ["x", "y", "z"].map(|key| (t.has(key), one(cx, &mut t, key)));
                // A plane section has no flow along z.
                if !along[2].0 {
                    along[2] = along[1];
                }
                for (key, (there, _)) in ["x", "y"].iter().zip(along) {
                    if !there {
                        t.missing(cx, key, &format!("{key} = \"0.13 W/(m·K)\""));
                    }
                }
                t.finish(cx);
                let [(_, x), (_, y), (_, z)] = along;
                Some([x?, y?, z?])
            }),
            Some(_) => one(cx, &mut f, "conductivity").map(|k| [k; 3]),
            None => row.map(|r| [r.conductivity_w_mk; 3]),
        };
        if k.is_none() && like.is_none() && !f.has("conductivity") {
            f.missing(cx, "conductivity", "conductivity = \"0.70 W/(m·K)\"");
        }
        f.finish(cx);
        let _ = all.names.add(&name, &at);
        all.conductivity.insert(name, k.unwrap_or([1.0; 3]));
    }
    all
}

fn pieces(
    cx: &mut Problems,
    top: &mut Fields<'_>,
    solid: bool,
    environments: &Names,
    materials: &Materials,
) -> Vec<Written> {
    let mut all = Vec::new();
    if !top.has("piece") {
        return all;
    }
    let Some(items) = top.list(cx, "piece") else { return all };
    if items.len() > MOST_PIECES {
        let d =
            Diagnostic::error("range", &items[MOST_PIECES].place, format!("more than {MOST_PIECES} pieces"));
        cx.add(d.with_help("draw the detail with fewer"));
    }
    for (n, item) in items.iter().take(MOST_PIECES).enumerate() {
        let Kind::Table(table) = &item.kind else {
            let message = format!("each piece is a table, this is {}", item.kind.words());
            cx.error("type", &item.place, message, "write it under a header [[piece]]");
            continue;
        };
        let f =
            Fields::new(table, format!("piece {}", n + 1), item.place.clone(), format!("piece[{}]", n + 1));
        all.extend(piece(cx, f, n, solid, environments, materials));
    }
    all
}

fn piece(
    cx: &mut Problems,
    mut f: Fields<'_>,
    n: usize,
    solid: bool,
    environments: &Names,
    materials: &Materials,
) -> Option<Written> {
    let at = f.at().clone();
    let name = f.text(cx, "name").map(|w| w.text);
    let filled = filling(cx, &mut f, environments, materials);
    let over = f.flag(cx, "over").unwrap_or(false);
    let glazed = f.flag(cx, "glazed").unwrap_or(false);
    let films = films(cx, &mut f, environments);
    let shape = if f.has("corners") {
        corners(cx, &mut f).map(|c| (Some(c), [[0.0; 2]; 2]))
    } else {
        let (x, y) = (range(cx, &mut f, "x"), range(cx, &mut f, "y"));
        x.zip(y).map(|(x, y)| (None, [x, y]))
    };
    let z = if solid { range(cx, &mut f, "z") } else { Some([0.0, 1.0]) };
    if !solid && f.has("z") {
        let d = Diagnostic::error("key", f.at(), "a plane section has no z");
        cx.add(d.with_help("write solid = true under [detail], or leave z out"));
    }
    f.finish(cx);
    let (body, material, cavity) = filled?;
    let ((outline, [x, y]), z) = (shape?, z?);
    let name = name
        .unwrap_or_else(|| if material.is_empty() { format!("piece {}", n + 1) } else { material.clone() });
    let mut region = match outline {
        Some(corners) => Region::polygon(name, corners, body),
        None => Region::rectangle(name, [x[0], y[0]], [x[1], y[1]], body),
    };
    (region.low_m[2], region.high_m[2]) = (z[0], z[1]);
    region.films = films;
    region.glazed = glazed;
    Some(Written { region, place: at, over, material, cavity })
}

type Filled = (Body, String, Option<(Opening, f64)>);

/// What a piece holds: one of a material, air, a cavity, or nothing.
fn filling(
    cx: &mut Problems,
    f: &mut Fields<'_>,
    environments: &Names,
    materials: &Materials,
) -> Option<Filled> {
    let keys = ["material", "air", "cavity", "cut"];
    let there: Vec<&str> = keys.into_iter().filter(|k| f.has(k)).collect();
    match there.as_slice() {
        ["material"] => {
            let w = f.text(cx, "material")?;
            let body = |k: [f64; 3]| (Body::Solid(k), w.text.clone(), None);
            if let Some(k) = materials.conductivity.get(&w.text) {
                return Some(body(*k));
            }
            if let Some(row) = matter::find(&w.text) {
                return Some(body([row.conductivity_w_mk; 3]));
            }
            refer(cx, &w, &materials.names, "material");
            None
        }
        ["air"] => {
            let w = f.reference(cx, "air", environments, "environment")?;
            let e = environments.iter().position(|n| n == w.text)?;
            Some((Body::Environment(e), String::new(), None))
        }
        ["cavity"] => {
            let choices = [("closed", Opening::Closed), ("slot", Opening::Slot)];
            let opening = f.choice(cx, "cavity", &choices)?;
            let emissivity =
                f.quantity(cx, "emissivity", Dimension::Ratio, Bounds::SHARE).map_or(0.9, |q| q.value);
            Some((Body::solid(0.1), "air cavity".into(), Some((opening, emissivity.max(0.01)))))
        }
        ["cut"] => f.flag(cx, "cut").and_then(|cut| cut.then_some((Body::Cut, String::new(), None))),
        [] => {
            f.missing(
                cx,
                "material",
                "material = \"brick\" (or air = \"room\", cavity = \"closed\", cut = true)",
            );
            None
        }
        _ => {
            let d = Diagnostic::error("key", f.at(), format!("{} is {}", f.noun(), there.join(" and ")));
            cx.add(d.with_help("keep one of material, air, cavity, cut"));
            None
        }
    }
}

/// Films of a piece that differ from the environments' own: `film = { room = "0.10 m²·K/W" }`.
fn films(cx: &mut Problems, f: &mut Fields<'_>, environments: &Names) -> Vec<(usize, f64)> {
    let Some(mut table) = f.table(cx, "film") else { return Vec::new() };
    let mut all = Vec::new();
    for entry in table.entries() {
        let w = crate::reader::Word { text: entry.key.clone(), place: entry.key_place.clone() };
        if !refer(cx, &w, environments, "environment") {
            continue;
        }
        let number = environments.iter().position(|n| n == entry.key);
        let value = crate::reader::quantity(cx, &entry.key, &entry.node, Dimension::Resistance, FILM);
        all.extend(number.zip(value.map(|q| q.value)));
    }
    all
}

/// Reads "0 mm .. 203 mm".
fn range(cx: &mut Problems, f: &mut Fields<'_>, key: &str) -> Option<[f64; 2]> {
    if !f.has(key) {
        f.missing(cx, key, &format!("{key} = \"0 mm .. 203 mm\""));
        return None;
    }
    let node = f.node(key)?;
    let Kind::Text { value, .. } = &node.kind else {
        let message = format!("\"{key}\" is text, this is {}", node.kind.words());
        cx.error("type", &node.place, message, format!("write it like {key} = \"0 mm .. 203 mm\""));
        return None;
    };
    let Some(dots) = value.find("..") else {
        let d = Diagnostic::error(
            "geometry",
            &node.place,
            format!("\"{key}\" says one place, not from where to where"),
        );
        cx.add(d.with_help(format!("write it like {key} = \"0 mm .. 203 mm\"")));
        return None;
    };
    let low = part(cx, key, node, value, 0..dots, Dimension::Length, LENGTH)?.value;
    let high = part(cx, key, node, value, dots + 2..value.len(), Dimension::Length, LENGTH)?.value;
    if high - low < 1e-6 {
        let message = format!(
            "\"{key}\" runs from {} to {}: it has no width",
            value[..dots].trim(),
            value[dots + 2..].trim()
        );
        cx.error("width", &node.place, message, "write the smaller place first; the least width is 0.001 mm");
        return None;
    }
    Some([low, high])
}

/// Reads `corners = [["0 mm", "0 mm"], …]`.
fn corners(cx: &mut Problems, f: &mut Fields<'_>) -> Option<Vec<[f64; 2]>> {
    let items = f.list(cx, "corners")?;
    let mut all = Vec::new();
    for item in items {
        all.push(corner(cx, item)?);
    }
    let at: Option<&Place> = items.first().map(|n| &n.place);
    if all.len() < 3 {
        let place = at.unwrap_or(f.at()).clone();
        let d = Diagnostic::error("geometry", &place, "a polygon has at least three corners");
        cx.add(d.with_help(
            "write corners = [[\"0 mm\", \"0 mm\"], [\"200 mm\", \"0 mm\"], [\"200 mm\", \"50 mm\"]]",
        ));
        return None;
    }
    let next = |k: usize| all[(k + 1) % all.len()];
    let twice: f64 =
        all.iter().enumerate().map(|(k, a): (usize, &[f64; 2])| a[0] * next(k)[1] - next(k)[0] * a[1]).sum();
    if twice.abs() < 2e-9 {
        let d = Diagnostic::error("width", f.at(), "the polygon has no area");
        cx.add(d.with_help("its corners lie on one line; correct them"));
        return None;
    }
    Some(all)
}

fn corner(cx: &mut Problems, item: &Node) -> Option<[f64; 2]> {
    let Kind::List(pair) = &item.kind else {
        cx.error(
            "type",
            &item.place,
            format!("a corner is a pair, this is {}", item.kind.words()),
            "write [\"0 mm\", \"50 mm\"]",
        );
        return None;
    };
    let [x, y] = pair.as_slice() else {
        cx.error(
            "geometry",
            &item.place,
            format!("a corner is two lengths, these are {}", pair.len()),
            "write [\"0 mm\", \"50 mm\"]",
        );
        return None;
    };
    let mut one = |node: &Node| {
        let w = word(cx, "corners", node)?;
        part(cx, "corners", node, &w.text, 0..w.text.len(), Dimension::Length, LENGTH).map(|q| q.value)
    };
    Some([one(x)?, one(y)?])
}

fn planes(
    cx: &mut Problems,
    top: &mut Fields<'_>,
    written: &[Written],
    environments: &[Environment],
    solid: bool,
) -> Vec<NamedPlane> {
    let mut all = Vec::new();
    if !top.has("plane") {
        return all;
    }
    for item in top.list(cx, "plane").unwrap_or_default() {
        let Kind::Table(table) = &item.kind else {
            let message = format!("each plane is a table, this is {}", item.kind.words());
            cx.error("type", &item.place, message, "write it under a header [[plane]]");
            continue;
        };
        let mut f = Fields::new(table, format!("plane {}", all.len() + 1), item.place.clone(), "plane");
        let name = f.text(cx, "name").map_or_else(|| format!("plane {}", all.len() + 1), |w| w.text);
        let u = transmittance(cx, &mut f, written, environments);
        let extent = |cx: &mut Problems, f: &mut Fields<'_>, key: &str| {
            let dimension = if solid { Dimension::Area } else { Dimension::Length };
            f.quantity(cx, key, dimension, EXTENT).map(|q| q.value)
        };
        let (inside, outside) = (extent(cx, &mut f, "inside"), extent(cx, &mut f, "outside"));
        if inside.is_none() && outside.is_none() {
            f.missing(cx, "inside", if solid { "inside = \"2.4 m²\"" } else { "inside = \"1.2 m\"" });
        }
        f.finish(cx);
        let Some(u_w_m2k) = u else { continue };
        let plane = |extent: f64| Plane { u_w_m2k, extent };
        all.push(NamedPlane { name, inside: inside.map(plane), outside: outside.map(plane) });
    }
    all
}

/// A plane's U: stated, or added up along a line of the drawing where nothing disturbs it.
fn transmittance(
    cx: &mut Problems,
    f: &mut Fields<'_>,
    written: &[Written],
    environments: &[Environment],
) -> Option<f64> {
    let there: Vec<&str> = ["u", "row", "column"].into_iter().filter(|k| f.has(k)).collect();
    let key = match there.as_slice() {
        ["u"] => return f.quantity(cx, "u", Dimension::Transmittance, Bounds::POSITIVE).map(|q| q.value),
        ["row"] => "row",
        ["column"] => "column",
        _ => {
            let d = Diagnostic::error("missing", f.at(), format!("{} needs one U", f.noun()));
            cx.add(d.with_help("write u = \"0.18 W/(m²·K)\", or the line to add it up along: row = \"1.9 m\" (a height y) or column = \"1.9 m\" (a place x)"));
            return None;
        }
    };
    let at = f.quantity(cx, key, Dimension::Length, LENGTH)?.value;
    let along = usize::from(key == "column");
    match check::along(written, environments, along, at) {
        Ok(u) => Some(u),
        Err(why) => {
            let d = Diagnostic::error("plane", f.at(), format!("no U along that {key}: {why}"));
            cx.add(d.with_help("choose a line that runs from air to air through boxes, or write u = \"…\""));
            None
        }
    }
}

fn linear(cx: &mut Problems, top: &mut Fields<'_>) -> Vec<(String, f64, f64)> {
    let mut all = Vec::new();
    if !top.has("line") {
        return all;
    }
    for item in top.list(cx, "line").unwrap_or_default() {
        let Kind::Table(table) = &item.kind else { continue };
        let mut f = Fields::new(table, format!("line {}", all.len() + 1), item.place.clone(), "line");
        let name = f.text(cx, "name").map_or_else(|| format!("line {}", all.len() + 1), |w| w.text);
        let psi = f.need_quantity(cx, "psi", Dimension::LinearTransmittance, Bounds::ANY);
        let length = f.need_quantity(cx, "length", Dimension::Length, EXTENT);
        f.finish(cx);
        all.extend(psi.zip(length).map(|(p, l)| (name, p.value, l.value)));
    }
    all
}
