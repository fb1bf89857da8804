//! Sections through walls, roofs and floors, drawn from their layers.
//!
//! Walls stand with the outside on the left; roofs and floors lie with their upper side up. Thicknesses are to one
//! scale within a drawing, except that a layer thinner than the pen can show is drawn three units thick. Figures
//! at an interface are written like a surveyor's levels, in bands below; no curve runs across the layers.

use super::chart::{Format, spread, wrap};
use super::hatch::{Hatch, Run, hatched};
use crate::svg::{
    Anchor, Drawing, Node, Path, Weight, circle, line, polygon, text, text_upright, text_width,
};

/// Which way an assembly lies in the building.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lie {
    /// Upright: outside on the left.
    Wall,
    /// Overhead: outside on top.
    Roof,
    /// Underfoot: inside on top.
    Floor,
}

/// Something through a layer at regular distance.
#[derive(Clone, Debug, PartialEq)]
pub struct Bridge {
    /// Name, with its share in words.
    pub words: String,
    /// Share of the layer's area, 0 to 1.
    pub share: f64,
    /// Its hatch.
    pub hatch: Hatch,
}

/// One layer.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// Name as the builder calls it.
    pub name: String,
    /// Thickness, m; finite and above zero, other layers are drawn at the least thickness.
    pub thickness_m: f64,
    /// Thickness in the reader's units.
    pub thickness: String,
    /// Its hatch.
    pub hatch: Hatch,
    /// What goes through it.
    pub bridge: Option<Bridge>,
    /// Whether it is the air barrier.
    pub air_barrier: bool,
    /// Whether it was there before the works.
    pub existing: bool,
}

/// Figures at one interface, in the reader's units, each with its time.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// Coldest, and when.
    pub coldest: String,
    /// Usual.
    pub usual: String,
    /// Wettest, and when.
    pub wettest: String,
}

/// An assembly to draw.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Unique on its page.
    pub id: String,
    /// Name of the assembly.
    pub title: String,
    /// Which way it lies.
    pub lie: Lie,
    /// What lies on the outer side: "outdoors", "the pottery", "ground".
    pub outside: String,
    /// Layers, outside to inside.
    pub layers: Vec<Layer>,
    /// Whole thickness in the reader's units.
    pub total: String,
    /// Figures at the interfaces, outside to inside, one more than layers; empty when not known.
    pub levels: Vec<Option<Level>>,
}

/// Least drawn thickness of a layer.
const THINNEST: f64 = 3.0;
/// Most units a metre, so that a thin board does not look like a wall.
const MOST_A_METRE: f64 = 820.0;

/// Draws a section.
pub fn section(input: &Section, format: Format) -> Drawing {
    let mut drawing = Drawing::new(
        &format!("{}-{}", input.id, format.suffix()),
        format!("Section: {}", input.title),
        format.width(),
        0.0,
    );
    drawing.describe(description(input));
    match (input.lie, format) {
        (Lie::Wall, Format::Desk) => standing_desk(&mut drawing, input),
        (Lie::Wall, Format::Phone) => standing_phone(&mut drawing, input),
        (_, Format::Desk) => lying_desk(&mut drawing, input),
        (_, Format::Phone) => lying_phone(&mut drawing, input),
    }
    drawing
}

fn description(input: &Section) -> String {
    let layers: Vec<String> = input
        .layers
        .iter()
        .map(|l| {
            let bridge = l.bridge.as_ref().map(|b| format!(" with {}", b.words)).unwrap_or_default();
            let barrier = if l.air_barrier { ", the air barrier" } else { "" };
            format!("{} {}{bridge}{barrier}", l.thickness, l.name)
        })
        .collect();
    format!("From {} to inside: {}. {} in all.", input.outside, layers.join("; "), input.total)
}

/// Places of the interfaces from 0, in drawing units, in the order of the layers given.
fn interfaces(layers: &[&Layer], room: f64) -> Vec<f64> {
    let thickness = |l: &Layer| if l.thickness_m.is_finite() { l.thickness_m.max(0.0) } else { 0.0 };
    let total: f64 = layers.iter().map(|l| thickness(l)).sum();
    // Layers at their least thickness take room from the others; three rounds settle who is thin.
    let mut scale = MOST_A_METRE;
    for _ in 0..3 {
        let thin = layers.iter().filter(|l| thickness(l) * scale < THINNEST).count() as f64;
        let thick: f64 =
            layers.iter().filter(|l| thickness(l) * scale >= THINNEST).map(|l| thickness(l)).sum();
        if total > 0.0 && thick > 0.0 {
            scale = ((room - thin * THINNEST).max(1.0) / thick).min(MOST_A_METRE);
        }
    }
    let mut at = 0.0;
    let mut places = vec![0.0];
    for layer in layers {
        at += (thickness(layer) * scale).max(THINNEST);
        places.push(at);
    }
    places
}

/// A piece of the body: where it is and which way its layers run.
#[derive(Clone, Copy)]
struct Body {
    x: f64,
    y: f64,
    /// Extent along the layers.
    along: f64,
    run: Run,
}

impl Body {
    /// Turns (place across the layers, place along them) into paper coordinates.
    fn point(self, across: f64, along: f64) -> [f64; 2] {
        match self.run {
            Run::Standing => [self.x + across, self.y + along],
            Run::Lying => [self.x + along, self.y + across],
        }
    }

    fn rectangle(self, across: [f64; 2], along: [f64; 2]) -> [f64; 4] {
        let [x, y] = self.point(across[0], along[0]);
        let [x2, y2] = self.point(across[1], along[1]);
        [x, y, x2 - x, y2 - y]
    }
}

/// Draws layers, what goes through them, their faces, the air barrier and the two broken ends.
fn draw_body(drawing: &mut Drawing, layers: &[&Layer], places: &[f64], body: Body, inside_last: bool) {
    for (layer, across) in layers.iter().zip(places.windows(2)) {
        let [x, y, w, h] = body.rectangle([across[0], across[1]], [0.0, body.along]);
        let nodes = hatched(drawing, x, y, w, h, layer.hatch, body.run, "");
        drawing.extend(nodes);
        if let Some(bridge) = &layer.bridge {
            draw_bridges(drawing, bridge, [across[0], across[1]], body);
        }
    }
    let last = places.len() - 1;
    for (index, place) in places.iter().enumerate() {
        let class = if index == 0 || index == last { "cut" } else { "edge" };
        drawing.push(across_line(body, *place, class));
    }
    for (index, layer) in layers.iter().enumerate() {
        if layer.air_barrier {
            let face = if inside_last { places[index + 1] } else { places[index] };
            drawing.push(across_line(body, face, "barrier"));
        }
    }
    broken_end(drawing, body, places[last], 0.0);
    broken_end(drawing, body, places[last], body.along);
}

fn across_line(body: Body, place: f64, class: &'static str) -> Node {
    let [x1, y1] = body.point(place, 0.0);
    let [x2, y2] = body.point(place, body.along);
    line(x1, y1, x2, y2, class)
}

/// Draws members through a layer so that they cover their share of it.
fn draw_bridges(drawing: &mut Drawing, bridge: &Bridge, across: [f64; 2], body: Body) {
    let period = 104.0;
    let share = if bridge.share.is_finite() { bridge.share.clamp(0.0, 0.9) } else { 0.0 };
    let width = period * share;
    if width < 0.5 {
        return;
    }
    let mut start = 34.0;
    while start + width < body.along - 4.0 {
        let [x, y, w, h] = body.rectangle(across, [start, start + width]);
        // Members are seen on their cut ends, whichever way the layer runs.
        let nodes = hatched(drawing, x, y, w, h, bridge.hatch, Run::Standing, "edge");
        drawing.extend(nodes);
        start += period;
    }
}

/// Covers an end of the body with paper along a broken line, so that it reads as a piece of something longer.
fn broken_end(drawing: &mut Drawing, body: Body, across: f64, end: f64) {
    let (reach, sign) = (7.0, if end == 0.0 { -1.0 } else { 1.0 });
    let middle = across / 2.0;
    let profile = [
        [-9.0, 0.0],
        [middle - 7.0, 0.0],
        [middle - 3.0, -reach],
        [middle + 3.0, reach],
        [middle + 7.0, 0.0],
        [across + 9.0, 0.0],
    ];
    let inset = -sign * 4.0;
    let points: Vec<[f64; 2]> = profile.iter().map(|p| body.point(p[0], end + inset + p[1])).collect();
    let mut mask = points.clone();
    mask.push(body.point(across + 9.0, end + sign * 12.0));
    mask.push(body.point(-9.0, end + sign * 12.0));
    drawing.push(polygon(&mask, "paper"));
    drawing.push(Path::through(&points).node("edge"));
}

/// Second line under a layer's name, if there is something to say.
fn second_line(layer: &Layer) -> Vec<String> {
    let mut parts = Vec::new();
    if let Some(bridge) = &layer.bridge {
        parts.push(bridge.words.clone());
    }
    if layer.existing {
        parts.push("existing".to_owned());
    }
    parts
}

/// Writes the notes beside a body, each with a line to its layer.
fn draw_notes(
    drawing: &mut Drawing,
    layers: &[&Layer],
    dots: &[[f64; 2]],
    notes_x: f64,
    elbow_x: f64,
    top: f64,
    bottom: f64,
) {
    let width = drawing.width() - notes_x - 4.0;
    let lines: Vec<Vec<(String, &'static str)>> = layers.iter().map(|l| note_lines(l, width)).collect();
    let sizes: Vec<f64> = lines.iter().map(|l| l.len() as f64 * 16.5 + 7.0).collect();
    let wanted: Vec<f64> = dots.iter().map(|d| d[1]).collect();
    let placed = spread(&wanted, &sizes, top, bottom);
    for (((dot, centre), lines), size) in dots.iter().zip(&placed).zip(&lines).zip(&sizes) {
        let first = centre - size / 2.0 + 3.5;
        let anchor_y = first + 9.0;
        let leader = [*dot, [elbow_x, dot[1]], [notes_x - 16.0, anchor_y], [notes_x - 5.0, anchor_y]];
        drawing.push(Path::through(&leader).node("halo-line"));
        drawing.push(Path::through(&leader).node("dim"));
        drawing.push(circle(dot[0], dot[1], 2.4, "dot"));
        for (row, (words, class)) in lines.iter().enumerate() {
            drawing.push(text(notes_x, first + 13.5 + row as f64 * 16.5, words, Anchor::Start, class));
        }
    }
}

fn note_lines(layer: &Layer, width: f64) -> Vec<(String, &'static str)> {
    let mut lines: Vec<(String, &'static str)> =
        wrap(&layer.name, width, 14.0, Weight::SemiBold).into_iter().map(|l| (l, "tb")).collect();
    if layer.air_barrier {
        lines.push(("the air barrier".to_owned(), "ta"));
    }
    for part in second_line(layer) {
        lines.extend(wrap(&part, width, 13.0, Weight::Regular).into_iter().map(|l| (l, "ts")));
    }
    lines
}

fn note_heights(layers: &[&Layer], width: f64) -> f64 {
    layers.iter().map(|l| note_lines(l, width).len() as f64 * 16.5 + 7.0).sum()
}

fn standing_desk(drawing: &mut Drawing, input: &Section) {
    let layers: Vec<&Layer> = input.layers.iter().collect();
    let places = interfaces(&layers, 350.0);
    let across = places[places.len() - 1];
    let (x0, top) = (70.0, 34.0);
    let notes_x = x0 + across + 66.0;
    let needed = note_heights(&layers, drawing.width() - notes_x - 4.0);
    let height = needed.max(210.0);
    let body = Body { x: x0, y: top, along: height, run: Run::Standing };
    draw_body(drawing, &layers, &places, body, true);
    drawing.push(text(x0 - 10.0, top - 12.0, &input.outside, Anchor::Start, "ts"));
    drawing.push(text(x0 + across + 10.0, top - 12.0, "inside", Anchor::End, "ts"));
    let dots: Vec<[f64; 2]> = (0..layers.len())
        .map(|k| {
            let along = height * (k as f64 + 0.75) / (layers.len() as f64 + 0.5);
            body.point((places[k] + places[k + 1]) / 2.0, along)
        })
        .collect();
    draw_notes(drawing, &layers, &dots, notes_x, x0 + across + 16.0, top - 4.0, top + height + 4.0);
    let mut y = top + height + 24.0;
    y = dimension_chain(drawing, input, &places, x0, y);
    if input.levels.iter().any(Option::is_some) {
        y = level_bands(drawing, input, &places, x0, y + 8.0);
    }
    drawing.set_height(y + 6.0);
}

/// Draws the chain of thicknesses and the whole below it; returns the lowest line used.
fn dimension_chain(drawing: &mut Drawing, input: &Section, places: &[f64], x0: f64, y: f64) -> f64 {
    let last = places[places.len() - 1];
    drawing.push(line(x0 - 6.0, y, x0 + last + 6.0, y, "dim"));
    let mut ticks = Path::new();
    for place in places {
        let x = x0 + place;
        ticks = ticks.to(x - 3.5, y + 3.5).line(x + 3.5, y - 3.5);
    }
    drawing.push(ticks.node("edge"));
    let wanted: Vec<f64> = places.windows(2).map(|p| x0 + (p[0] + p[1]) / 2.0).collect();
    let sizes: Vec<f64> =
        input.layers.iter().map(|l| text_width(&l.thickness, 13.0, Weight::Regular) + 12.0).collect();
    let placed = spread(&wanted, &sizes, 4.0, drawing.width() - 4.0);
    for ((layer, x), from) in input.layers.iter().zip(&placed).zip(&wanted) {
        drawing.push(line(*from, y + 2.0, *x, y + 13.0, "hair"));
        drawing.push(text(*x, y + 26.0, &layer.thickness, Anchor::Middle, "td"));
    }
    let low = y + 46.0;
    drawing.push(line(x0 - 6.0, low, x0 + last + 6.0, low, "dim"));
    let mut ends = Path::new();
    for x in [x0, x0 + last] {
        ends = ends.to(x - 3.5, low + 3.5).line(x + 3.5, low - 3.5);
    }
    drawing.push(ends.node("edge"));
    drawing.push(text(x0 + last / 2.0, low + 17.0, &input.total, Anchor::Middle, "tdb"));
    low + 20.0
}

/// Draws bands of figures under the interfaces; returns the lowest line used.
fn level_bands(drawing: &mut Drawing, input: &Section, places: &[f64], x0: f64, y: f64) -> f64 {
    const ROW: f64 = 21.0;
    let given: Vec<(f64, &Level)> =
        places.iter().zip(&input.levels).filter_map(|(p, l)| l.as_ref().map(|l| (x0 + p, l))).collect();
    let width = |l: &Level| {
        [&l.coldest, &l.usual, &l.wettest]
            .iter()
            .map(|s| text_width(s, 13.0, Weight::SemiBold))
            .fold(0.0, f64::max)
    };
    let sizes: Vec<f64> = given.iter().map(|(_, l)| width(l) + 16.0).collect();
    let wanted: Vec<f64> = given.iter().map(|(x, _)| *x).collect();
    let placed = spread(&wanted, &sizes, 66.0, drawing.width() - 2.0);
    let first = y + 26.0;
    for (row, name) in ["coldest", "usual", "wettest"].iter().enumerate() {
        let base = first + row as f64 * ROW;
        drawing.push(line(2.0, base - 15.0, drawing.width() - 2.0, base - 15.0, "hair"));
        drawing.push(text(2.0, base, name, Anchor::Start, "ts"));
    }
    for ((from, level), x) in given.iter().zip(&placed) {
        drawing.push(line(*from, y - 4.0, *x, y + 4.0, "hair"));
        drawing.push(
            Path::through(&[[x - 5.0, y + 2.0], [x + 5.0, y + 2.0], [*x, y + 10.0]]).close().node("pane"),
        );
        for (row, figure) in [&level.coldest, &level.usual, &level.wettest].iter().enumerate() {
            let base = first + row as f64 * ROW;
            drawing.push(text(*x, base, figure, Anchor::Middle, if row == 0 { "tsb" } else { "ts" }));
        }
    }
    first + 2.0 * ROW + 6.0
}

/// Layers from the upper side down, and whether the inside comes last.
fn from_above(input: &Section) -> (Vec<&Layer>, bool) {
    match input.lie {
        Lie::Floor => (input.layers.iter().rev().collect(), false),
        Lie::Wall | Lie::Roof => (input.layers.iter().collect(), true),
    }
}

fn lying_desk(drawing: &mut Drawing, input: &Section) {
    let (layers, inside_last) = from_above(input);
    let places = interfaces(&layers, 250.0);
    let across = places[places.len() - 1];
    let levels = input.levels.iter().any(Option::is_some);
    let (x0, along) = if levels { (250.0, 230.0) } else { (120.0, 320.0) };
    let notes_x = x0 + along + 56.0;
    let needed = note_heights(&layers, drawing.width() - notes_x - 4.0);
    let top = 34.0 + ((needed - across) / 2.0).clamp(0.0, 60.0);
    let body = Body { x: x0, y: top, along, run: Run::Lying };
    draw_body(drawing, &layers, &places, body, inside_last);
    let (above, below) =
        if inside_last { (input.outside.as_str(), "inside") } else { ("inside", input.outside.as_str()) };
    drawing.push(text(x0 + 8.0, top - 12.0, above, Anchor::Start, "ts"));
    drawing.push(text(x0 + 8.0, top + across + 22.0, below, Anchor::Start, "ts"));
    let dots: Vec<[f64; 2]> = (0..layers.len())
        .map(|k| body.point((places[k] + places[k + 1]) / 2.0, along - 30.0 - 9.0 * (k % 3) as f64))
        .collect();
    let middle = top + across / 2.0;
    let half = needed.max(across) / 2.0 + 4.0;
    draw_notes(
        drawing,
        &layers,
        &dots,
        notes_x,
        x0 + along + 18.0,
        (middle - half).max(4.0),
        middle.max(half) + half,
    );
    standing_chain(drawing, &layers, &places, &input.total, x0 - 22.0, top);
    if levels {
        let ordered: Vec<&Option<Level>> =
            if inside_last { input.levels.iter().collect() } else { input.levels.iter().rev().collect() };
        level_lines(drawing, &ordered, &places, x0, top);
    }
    drawing.set_height((top + across + 40.0).max(middle.max(half) + half + 8.0));
}

/// Draws the chain of thicknesses on the left of a lying body, the whole left of it.
fn standing_chain(drawing: &mut Drawing, layers: &[&Layer], places: &[f64], total: &str, x: f64, top: f64) {
    let last = places[places.len() - 1];
    drawing.push(line(x, top - 6.0, x, top + last + 6.0, "dim"));
    let mut ticks = Path::new();
    for place in places {
        ticks = ticks.to(x - 3.5, top + place + 3.5).line(x + 3.5, top + place - 3.5);
    }
    drawing.push(ticks.node("edge"));
    let wanted: Vec<f64> = places.windows(2).map(|p| top + (p[0] + p[1]) / 2.0).collect();
    let sizes = vec![16.0; wanted.len()];
    let placed = spread(&wanted, &sizes, 4.0, top + last + 60.0);
    let mut widest = 0.0_f64;
    for ((layer, y), from) in layers.iter().zip(&placed).zip(&wanted) {
        drawing.push(line(x - 2.0, *from, x - 11.0, *y, "hair"));
        drawing.push(text(x - 14.0, y + 4.5, &layer.thickness, Anchor::End, "td"));
        widest = widest.max(text_width(&layer.thickness, 13.0, Weight::Regular));
    }
    let far = (x - 26.0 - widest).max(16.0);
    drawing.push(line(far, top - 6.0, far, top + last + 6.0, "dim"));
    let mut ends = Path::new();
    for y in [top, top + last] {
        ends = ends.to(far - 3.5, y + 3.5).line(far + 3.5, y - 3.5);
    }
    drawing.push(ends.node("edge"));
    drawing.push(text_upright(far - 5.0, top + last / 2.0, total, Anchor::Middle, "tdb"));
}

/// Writes the figures of lying interfaces on one line each, left of everything else.
fn level_lines(drawing: &mut Drawing, levels: &[&Option<Level>], places: &[f64], x0: f64, top: f64) {
    let given: Vec<(f64, &Level)> =
        places.iter().zip(levels).filter_map(|(p, l)| l.as_ref().map(|l| (top + p, l))).collect();
    let wanted: Vec<f64> = given.iter().map(|(y, _)| *y).collect();
    let placed = spread(&wanted, &vec![17.0; wanted.len()], 20.0, f64::MAX);
    drawing.push(text(2.0, 14.0, "coldest / usual / wettest", Anchor::Start, "ts"));
    for ((from, level), y) in given.iter().zip(&placed) {
        let words = format!("{} / {} / {}", level.coldest, level.usual, level.wettest);
        drawing.push(text(2.0, y + 4.5, &words, Anchor::Start, "ts"));
        let end = 6.0 + text_width(&words, 13.0, Weight::Regular);
        drawing.push(line(end.min(x0 - 90.0), *y, x0 - 80.0, *from, "hair"));
    }
}

fn standing_phone(drawing: &mut Drawing, input: &Section) {
    let layers: Vec<&Layer> = input.layers.iter().collect();
    let places = interfaces(&layers, 284.0);
    let across = places[places.len() - 1];
    let (x0, top, height) = (18.0, 30.0, (layers.len() as f64 * 24.0).clamp(130.0, 260.0));
    let body = Body { x: x0, y: top, along: height, run: Run::Standing };
    draw_body(drawing, &layers, &places, body, true);
    drawing.push(text(x0, top - 12.0, &input.outside, Anchor::Start, "ts"));
    drawing.push(text((x0 + across).max(120.0), top - 12.0, "inside", Anchor::End, "ts"));
    for k in 0..layers.len() {
        let along = height * (k as f64 + 0.75) / (layers.len() as f64 + 0.5);
        let at = body.point((places[k] + places[k + 1]) / 2.0, along);
        badge(drawing, at, k + 1);
    }
    let low = top + height + 20.0;
    drawing.push(line(x0 - 6.0, low, x0 + across + 6.0, low, "dim"));
    let mut ends = Path::new();
    for x in [x0, x0 + across] {
        ends = ends.to(x - 3.5, low + 3.5).line(x + 3.5, low - 3.5);
    }
    drawing.push(ends.node("edge"));
    let half = text_width(&input.total, 13.0, Weight::SemiBold) / 2.0;
    drawing.push(text((x0 + across / 2.0).max(half + 2.0), low + 17.0, &input.total, Anchor::Middle, "tdb"));
    drawing.set_height(low + 24.0);
}

fn lying_phone(drawing: &mut Drawing, input: &Section) {
    let (layers, inside_last) = from_above(input);
    let places = interfaces(&layers, 190.0);
    let across = places[places.len() - 1];
    let (x0, top, along) = (44.0, 30.0, 260.0);
    let body = Body { x: x0, y: top, along, run: Run::Lying };
    draw_body(drawing, &layers, &places, body, inside_last);
    let (above, below) =
        if inside_last { (input.outside.as_str(), "inside") } else { ("inside", input.outside.as_str()) };
    drawing.push(text(x0 + 8.0, top - 12.0, above, Anchor::Start, "ts"));
    drawing.push(text(x0 + 8.0, top + across + 21.0, below, Anchor::Start, "ts"));
    for k in 0..layers.len() {
        let share = (k as f64 + 0.75) / (layers.len() as f64 + 0.5);
        let at = body.point((places[k] + places[k + 1]) / 2.0, along * share);
        // Numbers follow the list, which runs from outside to inside.
        badge(drawing, at, if inside_last { k + 1 } else { layers.len() - k });
    }
    let x = x0 - 18.0;
    drawing.push(line(x, top - 5.0, x, top + across + 5.0, "dim"));
    let mut ends = Path::new();
    for y in [top, top + across] {
        ends = ends.to(x - 3.5, y + 3.5).line(x + 3.5, y - 3.5);
    }
    drawing.push(ends.node("edge"));
    drawing.push(text_upright(x - 6.0, top + across / 2.0, &input.total, Anchor::Middle, "tdb"));
    drawing.set_height(top + across + 32.0);
}

fn badge(drawing: &mut Drawing, [x, y]: [f64; 2], number: usize) {
    drawing.push(circle(x, y, 9.5, "pane"));
    drawing.push(text(x, y + 4.6, &number.to_string(), Anchor::Middle, "tsb"));
}

/// Returns the hatches a section uses, for its legend.
pub fn hatches(sections: &[Section]) -> Vec<Hatch> {
    let used = |h: Hatch| {
        sections
            .iter()
            .flat_map(|s| &s.layers)
            .any(|l| l.hatch == h || l.bridge.as_ref().is_some_and(|b| b.hatch == h))
    };
    Hatch::ALL.into_iter().filter(|h| used(*h)).collect()
}

/// Fill of a layer cut at small scale; an air space is paper.
pub(crate) fn layer_fill(drawing: &mut Drawing, hatch: Hatch, run: Run) -> String {
    super::hatch::fill(drawing, hatch, run).unwrap_or_else(|| crate::svg::PAPER.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn layer(name: &str, mm: f64, hatch: Hatch) -> Layer {
        Layer {
            name: name.into(),
            thickness_m: mm / 1000.0,
            thickness: format!("{mm} mm"),
            hatch,
            bridge: None,
            air_barrier: false,
            existing: false,
        }
    }

    fn wall() -> Section {
        let mut board = layer("plywood", 12.7, Hatch::Panel);
        board.air_barrier = true;
        let mut studs = layer("dense cellulose", 140.0, Hatch::BlownFibre);
        studs.bridge = Some(Bridge { words: "12 % softwood".into(), share: 0.12, hatch: Hatch::Timber });
        Section {
            id: "upper-wall".into(),
            title: "upper wall".into(),
            lie: Lie::Wall,
            outside: "outdoors".into(),
            layers: vec![layer("soft brick, two wythes", 203.0, Hatch::Masonry), studs, board],
            total: "356 mm".into(),
            levels: vec![],
        }
    }

    #[test]
    fn a_wall_is_stable() {
        insta::assert_snapshot!(section(&wall(), Format::Desk).inline());
    }

    #[test]
    fn the_description_names_every_layer() {
        let words = description(&wall());
        assert_eq!(
            words,
            "From outdoors to inside: 203 mm soft brick, two wythes; 140 mm dense cellulose with 12 % softwood; \
             12.7 mm plywood, the air barrier. 356 mm in all."
        );
    }

    proptest! {
        /// Interfaces rise, fit their room when they can, and keep proportions among layers that are not thin.
        #[test]
        fn interfaces_rise(mm in prop::collection::vec(0.1..600.0_f64, 1..12)) {
            let layers: Vec<Layer> = mm.iter().map(|t| layer("x", *t, Hatch::Other)).collect();
            let refs: Vec<&Layer> = layers.iter().collect();
            let places = interfaces(&refs, 350.0);
            let widths: Vec<f64> = places.windows(2).map(|p| p[1] - p[0]).collect();
            prop_assert!(widths.iter().all(|w| *w >= THINNEST - 1e-9));
            prop_assert!(places[places.len() - 1] <= 350.0 + THINNEST * mm.len() as f64);
            let thick: Vec<(f64, f64)> =
                mm.iter().copied().zip(widths).filter(|(_, w)| *w > THINNEST + 1e-6).collect();
            for pair in thick.windows(2) {
                prop_assert!((pair[0].0 / pair[0].1 - pair[1].0 / pair[1].1).abs() < 1e-6);
            }
        }

        /// No size of wall or roof breaks the drawing.
        #[test]
        fn any_assembly_draws(mm in prop::collection::vec(0.1..900.0_f64, 0..14), lie in 0..3) {
            let lie = [Lie::Wall, Lie::Roof, Lie::Floor][lie as usize];
            let layers = mm.iter().map(|t| layer("x", *t, Hatch::Foam)).collect();
            let input = Section { layers, lie, ..wall() };
            for format in Format::ALL {
                let drawing = section(&input, format);
                prop_assert!(drawing.height() > 20.0 && drawing.height().is_finite());
                prop_assert!(!drawing.inline().contains("NaN"));
            }
        }
    }
}
