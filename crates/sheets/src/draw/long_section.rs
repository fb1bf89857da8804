//! The long section: the building cut along its length, with the air barrier as one accent line.
//!
//! Input is geometry in metres on the plane of the cut: `x` along it, `z` up. What the plane cuts is drawn with the
//! heavy pen and hatched, what lies beyond it with a thin one. Rooms too narrow for their name carry a letter;
//! the caller prints the key ([`LongDrawing::key`]) beside the picture.

use super::chart::{Format, spread};
use super::hatch::{Hatch, Run, hatched};
use super::scale::Scale;
use super::section::layer_fill;
use crate::svg::{
    Anchor, Drawing, Node, Path, Weight, circle, fit, group, line, polygon, rect, text, text_width,
};

/// A solid that the plane cuts: wall, floor or roof. Corners in order.
#[derive(Clone, Debug, PartialEq)]
pub struct Solid {
    /// Corners `[x, z]`, m.
    pub corners: Vec<[f64; 2]>,
    /// What it is mostly made of.
    pub hatch: Hatch,
    /// Which way its layers run.
    pub run: Run,
}

/// A room that the plane cuts.
#[derive(Clone, Debug, PartialEq)]
pub struct Room {
    /// Name on the sheet.
    pub label: String,
    /// A few words after it, may be empty.
    pub note: String,
    /// From, to along the cut, m.
    pub x: [f64; 2],
    /// Floor and top (under the deck or the dropped ceiling), m.
    pub z: [f64; 2],
    /// Heads drawn in it, when a crowd gathers here.
    pub people: u32,
    /// Place on the page that tells more, such as `fabric.html#upper`.
    pub href: Option<String>,
}

/// A space of a neighbour that the plane cuts.
#[derive(Clone, Debug, PartialEq)]
pub struct Beyond {
    /// What it is, in a few words.
    pub label: String,
    /// From, to along the cut, m.
    pub x: [f64; 2],
    /// Floor and top, m.
    pub z: [f64; 2],
}

/// A window or door seen beyond the cut, or cut by it at an end wall.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// Name.
    pub name: String,
    /// From, to along the cut, m.
    pub x: [f64; 2],
    /// Sill and head, m.
    pub z: [f64; 2],
    /// Whether it is a door.
    pub door: bool,
    /// Whether the plane cuts it (then `x` is the thickness of the wall).
    pub cut: bool,
}

/// A place where the air barrier is not closed.
#[derive(Clone, Debug, PartialEq)]
pub struct Gap {
    /// Where, `[x, z]`, m, on the barrier.
    pub at: [f64; 2],
    /// Its number in the list beside the picture.
    pub number: usize,
}

/// A level worth writing.
#[derive(Clone, Debug, PartialEq)]
pub struct LevelMark {
    /// Height, m.
    pub z: f64,
    /// What lies at it.
    pub name: String,
    /// Height in the reader's units.
    pub words: String,
}

/// A long section to draw.
#[derive(Clone, Debug, PartialEq)]
pub struct LongSection {
    /// Unique on its page.
    pub id: String,
    /// Title of the picture.
    pub title: String,
    /// The picture in words.
    pub description: String,
    /// Outside ends of the building along the cut, m.
    pub ends: [f64; 2],
    /// Ground outside, m.
    pub ground: f64,
    /// Solids cut.
    pub solids: Vec<Solid>,
    /// Rooms of ours.
    pub rooms: Vec<Room>,
    /// Spaces of neighbours.
    pub neighbours: Vec<Beyond>,
    /// Inside walls cut: `[x, z from, z to]`, m.
    pub partitions: Vec<[f64; 3]>,
    /// Dropped ceilings: `[x from, x to, z]`, m.
    pub ceilings: Vec<[f64; 3]>,
    /// Windows and doors.
    pub openings: Vec<Opening>,
    /// Air barrier: closed loops of `[x, z]`, m.
    pub barrier: Vec<Vec<[f64; 2]>>,
    /// Where it is not closed.
    pub gaps: Vec<Gap>,
    /// Levels.
    pub levels: Vec<LevelMark>,
    /// Whole length in the reader's units.
    pub length: String,
    /// A scale bar: its length, m, and in words.
    pub bar: (f64, String),
}

/// A drawing with the key of its letters.
#[derive(Clone, Debug, PartialEq)]
pub struct LongDrawing {
    /// The picture.
    pub drawing: Drawing,
    /// Letters and the rooms they stand for.
    pub key: Vec<(String, String)>,
}

/// Paper places of the metres of a section.
#[derive(Clone, Copy)]
struct Paper {
    x: Scale,
    z: Scale,
    unit: f64,
}

impl Paper {
    fn at(self, [x, z]: [f64; 2]) -> [f64; 2] {
        [self.x.at(x), self.z.at(z)]
    }

    /// Left, top, width, height on paper of a box in metres.
    fn area(self, x: [f64; 2], z: [f64; 2]) -> [f64; 4] {
        let (left, top) = (self.x.at(x[0]), self.z.at(z[1]));
        [left, top, self.x.at(x[1]) - left, self.z.at(z[0]) - top]
    }
}

/// Draws a long section.
pub fn long_section(input: &LongSection, format: Format) -> LongDrawing {
    let width = format.width();
    let mut drawing = Drawing::new(&format!("{}-{}", input.id, format.suffix()), &input.title, width, 0.0);
    drawing.describe(&input.description);
    let (left, right) = match format {
        Format::Desk => (26.0, 148.0),
        Format::Phone => (10.0, 10.0),
    };
    let length = (input.ends[1] - input.ends[0]).max(1.0);
    let (low, high) = vertical_reach(input);
    let height_room: f64 = 420.0;
    let unit = ((width - left - right) / length).min(height_room / (high - low).max(1.0));
    let top = 30.0;
    let spare = (width - left - right - unit * length) / 2.0;
    let x0 = left + spare.max(0.0);
    let paper = Paper {
        x: Scale::new(input.ends[0], input.ends[0] + length, x0, x0 + length * unit),
        z: Scale::new(low, high, top + (high - low) * unit, top),
        unit,
    };
    draw_ground(&mut drawing, input, paper);
    draw_neighbours(&mut drawing, input, paper);
    let mut key = Vec::new();
    draw_rooms(&mut drawing, input, paper, &mut key);
    draw_openings(&mut drawing, input, paper, false);
    draw_solids(&mut drawing, input, paper);
    draw_openings(&mut drawing, input, paper, true);
    draw_barrier(&mut drawing, input, paper);
    label_neighbours(&mut drawing, input, paper, &mut key);
    label_rooms(&mut drawing, input, paper, &key);
    let bottom = draw_length(&mut drawing, input, paper, low);
    if format == Format::Desk {
        draw_levels(&mut drawing, input, paper);
    }
    drawing.set_height(bottom);
    LongDrawing { drawing, key }
}

fn vertical_reach(input: &LongSection) -> (f64, f64) {
    let solids = input.solids.iter().flat_map(|s| s.corners.iter().map(|c| c[1]));
    let rooms = input.rooms.iter().flat_map(|r| r.z);
    let neighbours = input.neighbours.iter().flat_map(|n| n.z);
    let all = solids.chain(rooms).chain(neighbours).chain([input.ground]);
    let (low, high) =
        all.filter(|v| v.is_finite()).fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
    if low > high { (0.0, 1.0) } else { (low, high) }
}

fn draw_ground(drawing: &mut Drawing, input: &LongSection, paper: Paper) {
    let y = paper.z.at(input.ground);
    let (left, right) = (paper.x.at(input.ends[0]) - 22.0, paper.x.at(input.ends[1]) + 22.0);
    let (left, right) = (left.max(0.0), right.min(drawing.width()));
    let soil = layer_fill(drawing, Hatch::Soil, Run::Lying);
    drawing.push(rect(left, y, right - left, 13.0, "fill").with("fill", soil));
    drawing.push(line(left, y, right, y, "cut"));
}

fn draw_neighbours(drawing: &mut Drawing, input: &LongSection, paper: Paper) {
    for space in &input.neighbours {
        let [x, y, w, h] = paper.area(space.x, space.z);
        let nodes = hatched(drawing, x, y, w, h, Hatch::Neighbour, Run::Standing, "");
        drawing.extend(nodes);
    }
}

/// Draws paper, dropped ceilings, inside walls and people; gives letters to rooms too narrow for their name.
fn draw_rooms(drawing: &mut Drawing, input: &LongSection, paper: Paper, key: &mut Vec<(String, String)>) {
    for room in &input.rooms {
        let [x, y, w, h] = paper.area(room.x, room.z);
        drawing.push(rect(x, y, w, h, "paper"));
        if text_width(&room.label, 14.0, Weight::SemiBold) > w - 8.0 {
            key.push((letter(key.len()), room.label.clone()));
        }
    }
    for [from, to, z] in &input.ceilings {
        drawing.push(line(paper.x.at(*from), paper.z.at(*z), paper.x.at(*to), paper.z.at(*z), "broken"));
    }
    for [x, from, to] in &input.partitions {
        drawing.push(line(paper.x.at(*x), paper.z.at(*from), paper.x.at(*x), paper.z.at(*to), "edge"));
    }
    for room in &input.rooms {
        drawing.push(people(room, paper));
    }
}

/// Letters a, b, … z, then aa, ab, …
fn letter(index: usize) -> String {
    let small = |k: usize| char::from(b'a' + (k % 26) as u8);
    match index / 26 {
        0 => small(index).to_string(),
        turn => format!("{}{}", small(turn - 1), small(index)),
    }
}

/// A row of standing people, as many as gather or as fit.
fn people(room: &Room, paper: Paper) -> Node {
    let tall = (1.55 * paper.unit).min((room.z[1] - room.z[0]) * paper.unit * 0.5);
    let pitch = (0.42 * paper.unit).max(4.4);
    let [x, _, w, _] = paper.area(room.x, room.z);
    let fits = ((w - pitch * 1.5) / pitch).floor().max(0.0);
    let count = f64::from(room.people).min(fits) as u32;
    let floor = paper.z.at(room.z[0]) - 1.0;
    let mut node = group("people");
    let start = x + (w - f64::from(count.saturating_sub(1)) * pitch) / 2.0;
    for k in 0..count {
        // Nobody is quite as tall as the next one.
        let height = tall * [0.96, 1.0, 0.9, 0.98, 0.93][(k % 5) as usize];
        let head = (height * 0.085).max(1.1);
        let px = start + f64::from(k) * pitch;
        let shoulder = floor - height + 3.1 * head;
        let body = Path::through(&[[px, floor], [px, shoulder]])
            .node("body")
            .num("stroke-width", (head * 1.15).max(1.2));
        node.push(body);
        node.push(circle(px, floor - height + head, head, "dot"));
    }
    node
}

fn draw_solids(drawing: &mut Drawing, input: &LongSection, paper: Paper) {
    for solid in &input.solids {
        let points: Vec<[f64; 2]> = solid.corners.iter().map(|c| paper.at(*c)).collect();
        let fill = layer_fill(drawing, solid.hatch, solid.run);
        drawing.push(polygon(&points, "paper"));
        drawing.push(polygon(&points, "fill").with("fill", fill));
        drawing.push(polygon(&points, "edge"));
    }
}

fn draw_openings(drawing: &mut Drawing, input: &LongSection, paper: Paper, cut: bool) {
    for opening in input.openings.iter().filter(|o| o.cut == cut) {
        let [x, y, w, h] = paper.area(opening.x, opening.z);
        drawing.push(rect(x, y, w, h, "pane"));
        if cut {
            let middle = x + w / 2.0;
            drawing.push(line(middle - 0.9, y, middle - 0.9, y + h, "thin"));
            drawing.push(line(middle + 0.9, y, middle + 0.9, y + h, "thin"));
        } else if opening.door {
            let inset = (w * 0.12).min(3.0);
            drawing.push(rect(x + inset, y + inset, w - 2.0 * inset, h - inset, "thin"));
        } else {
            let inset = (w.min(h) * 0.12).min(3.0);
            drawing.push(rect(x + inset, y + inset, w - 2.0 * inset, h - 2.0 * inset, "thin"));
            drawing.push(line(x - 2.0, y + h + 1.0, x + w + 2.0, y + h + 1.0, "edge"));
        }
    }
}

fn draw_barrier(drawing: &mut Drawing, input: &LongSection, paper: Paper) {
    for ring in &input.barrier {
        let points: Vec<[f64; 2]> = ring.iter().map(|p| paper.at(*p)).collect();
        drawing.push(Path::through(&points).close().node("barrier"));
    }
    let marks: Vec<([f64; 2], usize)> = input.gaps.iter().map(|g| (paper.at(g.at), g.number)).collect();
    for ([x, y], _) in &marks {
        drawing.push(circle(*x, *y, 9.0, "paper"));
        drawing.push(circle(*x, *y, 9.0, "gap"));
    }
    let rings: Vec<[f64; 2]> = marks.iter().map(|(at, _)| *at).collect();
    let mut taken: Vec<[f64; 2]> = Vec::new();
    for (at, number) in &marks {
        let [x, y] = place_number(*at, &rings, &taken, drawing.width());
        taken.push([x, y]);
        drawing.push(line(at[0] + (x - at[0]) * 0.45, at[1] + (y - at[1]) * 0.45, x, y, "gap"));
        drawing.push(circle(x, y, 9.5, "flag"));
        drawing.push(text(x, y + 4.6, &number.to_string(), Anchor::Middle, "tn"));
    }
}

/// Places a gap's number near it: the first of some places around it that covers neither a gap nor a number.
fn place_number([x, y]: [f64; 2], rings: &[[f64; 2]], taken: &[[f64; 2]], width: f64) -> [f64; 2] {
    const AROUND: [[f64; 2]; 12] = [
        [16.0, -17.0],
        [16.0, 17.0],
        [-16.0, -17.0],
        [-16.0, 17.0],
        [24.0, 0.0],
        [-24.0, 0.0],
        [38.0, -17.0],
        [38.0, 17.0],
        [0.0, -25.0],
        [46.0, 0.0],
        [60.0, -17.0],
        [60.0, 17.0],
    ];
    let apart = |p: [f64; 2], q: &[f64; 2], least: f64| {
        let (dx, dy) = (p[0] - q[0], p[1] - q[1]);
        dx * dx + dy * dy >= least * least
    };
    let free = |p: &[f64; 2]| {
        p[0] > 11.0
            && p[0] < width - 11.0
            && p[1] > 11.0
            && rings.iter().all(|r| apart(*p, r, 17.5))
            && taken.iter().all(|t| apart(*p, t, 20.0))
    };
    AROUND.iter().map(|d| [x + d[0], y + d[1]]).find(free).unwrap_or([x + AROUND[0][0], y + AROUND[0][1]])
}

fn label_neighbours(
    drawing: &mut Drawing,
    input: &LongSection,
    paper: Paper,
    key: &mut Vec<(String, String)>,
) {
    for space in &input.neighbours {
        let [x, y, w, h] = paper.area(space.x, space.z);
        if h < 18.0 {
            continue;
        }
        let whole = text_width(&space.label, 14.0, Weight::SemiBold) <= w - 16.0;
        let words = if whole {
            space.label.clone()
        } else if w >= 22.0 {
            let name = letter(key.len());
            key.push((name.clone(), space.label.clone()));
            name
        } else {
            continue;
        };
        drawing.push(text(x + w / 2.0, y + h / 2.0 + 5.0, &words, Anchor::Middle, "tb halo"));
    }
}

fn label_rooms(drawing: &mut Drawing, input: &LongSection, paper: Paper, key: &[(String, String)]) {
    let mut letters = key.iter();
    for room in &input.rooms {
        let [x, y, w, h] = paper.area(room.x, room.z);
        let fits = text_width(&room.label, 14.0, Weight::SemiBold) <= w - 8.0;
        let name = if fits { Some(&room.label) } else { letters.next().map(|(l, _)| l) };
        let Some(name) = name else { continue };
        if text_width(name, 14.0, Weight::SemiBold) > w - 2.0 {
            continue;
        }
        let base = y + (h * 0.21).clamp(14.0, 24.0);
        let whole = format!("{name}, {}", room.note);
        let words = if fits && !room.note.is_empty() && text_width(&whole, 14.0, Weight::SemiBold) <= w - 8.0
        {
            &whole
        } else {
            name
        };
        let label = text(x + w / 2.0, base, words, Anchor::Middle, "tb halo");
        let href = drawing_link(drawing, room);
        drawing.push(linked(href, label));
    }
}

fn drawing_link(drawing: &mut Drawing, room: &Room) -> Option<String> {
    if room.href.is_some() {
        drawing.has_links();
    }
    room.href.clone()
}

/// Wraps an element into a link, when there is somewhere to go.
fn linked(href: Option<String>, node: Node) -> Node {
    match href {
        Some(href) => Node::new("a").with("href", href).child(node),
        None => node,
    }
}

/// Draws the whole length and the scale bar under the ground; returns the lowest line used.
fn draw_length(drawing: &mut Drawing, input: &LongSection, paper: Paper, low: f64) -> f64 {
    let base = paper.z.at(input.ground.min(low)).max(paper.z.at(input.ground) + 13.0);
    let y = base + 26.0;
    let (a, b) = (paper.x.at(input.ends[0]), paper.x.at(input.ends[1]));
    drawing.push(line(a, y, b, y, "dim"));
    let mut ends = Path::new();
    for x in [a, b] {
        drawing.push(line(x, y - 9.0, x, y + 5.0, "dim"));
        ends = ends.to(x - 3.5, y + 3.5).line(x + 3.5, y - 3.5);
    }
    drawing.push(ends.node("edge"));
    drawing.push(text((a + b) / 2.0, y - 5.0, &input.length, Anchor::Middle, "td halo"));
    let (bar, words) = &input.bar;
    let bar_y = y + 18.0;
    let bar_width = bar * paper.unit;
    drawing.push(rect(a, bar_y, bar_width, 5.0, "pane"));
    drawing.push(rect(a, bar_y, bar_width / 4.0, 5.0, "solid"));
    drawing.push(rect(a + bar_width / 2.0, bar_y, bar_width / 4.0, 5.0, "solid"));
    drawing.push(text(a + bar_width + 7.0, bar_y + 7.0, words, Anchor::Start, "ts"));
    bar_y + 16.0
}

/// Writes levels at the right like a surveyor: a flag on a line, and the words.
fn draw_levels(drawing: &mut Drawing, input: &LongSection, paper: Paper) {
    let mut levels: Vec<&LevelMark> = input.levels.iter().collect();
    levels.sort_by(|a, b| b.z.total_cmp(&a.z));
    let wanted: Vec<f64> = levels.iter().map(|l| paper.z.at(l.z)).collect();
    let placed = spread(&wanted, &vec![33.0; wanted.len()], 14.0, f64::MAX);
    let x = paper.x.at(input.ends[1]) + 8.0;
    for ((level, y), words_y) in levels.iter().zip(&wanted).zip(placed) {
        let room = drawing.width() - x - 40.0;
        drawing.push(line(x, *y, x + 20.0, *y, "dim"));
        drawing.push(
            Path::through(&[[x + 6.0, y - 7.0], [x + 14.0, y - 7.0], [x + 10.0, *y]]).close().node("pane"),
        );
        drawing.push(line(x + 20.0, *y, x + 32.0, words_y, "dim"));
        let name = fit(&level.name, room, 13.0, Weight::Regular);
        drawing.push(text(x + 36.0, words_y - 2.5, &name, Anchor::Start, "ts"));
        drawing.push(text(x + 36.0, words_y + 12.5, &level.words, Anchor::Start, "tsb"));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn shed() -> LongSection {
        LongSection {
            id: "long".into(),
            title: "Long section".into(),
            description: "One room over a neighbour.".into(),
            ends: [0.0, 12.0],
            ground: 0.0,
            solids: vec![
                Solid {
                    corners: vec![[0.0, 0.0], [0.4, 0.0], [0.4, 6.0], [0.0, 6.0]],
                    hatch: Hatch::Masonry,
                    run: Run::Standing,
                },
                Solid {
                    corners: vec![[11.6, 0.0], [12.0, 0.0], [12.0, 6.0], [11.6, 6.0]],
                    hatch: Hatch::Masonry,
                    run: Run::Standing,
                },
            ],
            rooms: vec![Room {
                label: "Hall".into(),
                note: "40 people".into(),
                x: [0.4, 11.6],
                z: [3.0, 5.8],
                people: 4,
                href: None,
            }],
            neighbours: vec![Beyond { label: "Studio below".into(), x: [0.4, 11.6], z: [0.0, 2.7] }],
            partitions: vec![],
            ceilings: vec![],
            openings: vec![],
            barrier: vec![vec![[0.3, 2.9], [11.7, 2.9], [11.7, 5.9], [0.3, 5.9]]],
            gaps: vec![Gap { at: [5.0, 2.9], number: 1 }],
            levels: vec![LevelMark { z: 3.0, name: "upper floor".into(), words: "3.00 m".into() }],
            length: "12.0 m".into(),
            bar: (5.0, "5 m".into()),
        }
    }

    #[test]
    fn a_shed_is_stable() {
        insta::assert_snapshot!(long_section(&shed(), Format::Desk).drawing.inline());
    }

    #[test]
    fn narrow_rooms_get_letters() {
        let mut input = shed();
        input.rooms[0].label =
            "A name that is a good deal longer than the room it belongs to can hold".into();
        let phone = long_section(&input, Format::Phone);
        assert_eq!(phone.key[0], ("a".into(), input.rooms[0].label.clone()));
        assert_eq!(letter(25), "z");
        assert_eq!(letter(26), "aa");
    }

    proptest! {
        /// Odd sizes never break the drawing.
        #[test]
        fn any_size_draws(length in 0.0..300.0_f64, height in -5.0..60.0_f64, people in 0_u32..5000) {
            let mut input = shed();
            input.ends = [0.0, length];
            input.rooms[0].x = [0.0, length];
            input.rooms[0].z = [0.0, height];
            input.rooms[0].people = people;
            for format in Format::ALL {
                let svg = long_section(&input, format).drawing;
                prop_assert!(svg.height().is_finite() && svg.height() > 0.0);
                prop_assert!(!svg.inline().contains("NaN"));
            }
        }
    }
}
