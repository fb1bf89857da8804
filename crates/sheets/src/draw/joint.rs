//! A joint as the meeting of two assemblies, drawn from their layers.
//!
//! Layers are cut as in their own sections; the accent line is the air barrier of both, led through the corner, and
//! the short heavy piece of it is the joint. What was there before the works runs past; what is new ends where the
//! other assembly begins. Nothing else of the corner is known to the book, and nothing else is drawn. Numbers are the
//! first assembly's layers, letters the second's.

use super::chart::Format;
use super::hatch::{Run, hatched};
use super::section::{Layer, Section};
use crate::svg::{Anchor, Drawing, Path, circle, line, polygon, text};

/// How two things meet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Meeting {
    /// A lying assembly on the head of a standing one: roof on wall.
    OnTop,
    /// A lying assembly against the foot of a standing one: floor at wall.
    AtFoot,
    /// Two standing assemblies seen from above.
    OnPlan,
    /// A lying assembly that runs out over the head of a standing one.
    OutOver,
    /// Two lying assemblies end to end.
    InLine,
    /// A frame in a standing assembly, head and foot.
    Frame,
}

/// The frame of an opening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FrameCut {
    /// Outside face of the wall to the frame's, m.
    pub behind_m: f64,
    /// Depth across the wall, m.
    pub depth_m: f64,
    /// Face, m.
    pub face_m: f64,
    /// Whether a pan under it is stated.
    pub pan: bool,
}

/// A joint to draw.
#[derive(Clone, Debug, PartialEq)]
pub struct JointDrawing {
    /// Unique on its page.
    pub id: String,
    /// Title.
    pub title: String,
    /// How they meet.
    pub meeting: Meeting,
    /// First assembly: the standing one, where one stands.
    pub first: Section,
    /// Second; `None` for an opening.
    pub second: Option<Section>,
    /// Frame of an opening.
    pub frame: Option<FrameCut>,
    /// Whether somebody carries the air barrier across.
    pub closed: bool,
    /// Words for the outside and the inside.
    pub sides: [String; 2],
}

/// Least drawn thickness of a layer.
const THINNEST: f64 = 3.0;
/// Drawn length of what goes on beyond the cut.
const REACH: f64 = 128.0;

/// A rectangle on paper: left, top, right, bottom.
type Rect = [f64; 4];

/// Draws a joint.
pub fn joint(input: &JointDrawing, format: Format) -> Drawing {
    let width = match format {
        Format::Desk => 520.0,
        Format::Phone => 320.0,
    };
    let mut drawing = Drawing::new(&format!("{}-{}", input.id, format.suffix()), &input.title, width, 0.0);
    drawing.describe(describe(input));
    let reach = if format == Format::Desk { REACH } else { 84.0 };
    let thickest = [Some(&input.first), input.second.as_ref()]
        .into_iter()
        .flatten()
        .map(|s| s.layers.iter().map(|l| l.thickness_m).filter(|t| t.is_finite()).sum::<f64>())
        .fold(0.1, f64::max);
    let room = width - reach - 56.0;
    let scale = (room / thickest).min(if format == Format::Desk { 460.0 } else { 330.0 });
    let mut paper = Paper { drawing, scale, reach, origin: [0.0; 2], size: [0.0; 2] };
    match input.meeting {
        Meeting::OnTop => paper.corner(input, false, true),
        Meeting::AtFoot => paper.corner(input, true, true),
        Meeting::OnPlan => paper.corner(input, false, false),
        Meeting::OutOver => paper.out_over(input),
        Meeting::InLine => paper.in_line(input),
        Meeting::Frame => paper.opening(input),
    }
    paper.drawing
}

fn describe(input: &JointDrawing) -> String {
    let layers = |s: &Section| s.layers.iter().map(|l| l.name.as_str()).collect::<Vec<_>>().join(", ");
    let second = input
        .second
        .as_ref()
        .map_or_else(|| "the frame of an opening".to_owned(), |s| format!("{} ({})", s.title, layers(s)));
    let state = if input.closed {
        "The air barrier is carried across."
    } else {
        "Nobody has said what carries the air barrier across."
    };
    format!("{} ({}) meets {second}. {state}", input.first.title, layers(&input.first))
}

struct Paper {
    drawing: Drawing,
    scale: f64,
    reach: f64,
    origin: [f64; 2],
    size: [f64; 2],
}

impl Paper {
    /// Places of the interfaces of a section, outside to inside.
    fn places(&self, section: &Section) -> Vec<f64> {
        let mut at = 0.0;
        let mut places = vec![0.0];
        for layer in &section.layers {
            let thickness = if layer.thickness_m.is_finite() { layer.thickness_m } else { 0.0 };
            at += (thickness * self.scale).max(THINNEST);
            places.push(at);
        }
        places
    }

    /// Centres what is to be drawn and sets the drawing's height.
    fn place(&mut self, width: f64, height: f64) {
        self.size = [width, height];
        self.origin = [((self.drawing.width() - width) / 2.0).max(24.0), 30.0];
        self.drawing.set_height(height + 62.0);
    }

    /// A corner of a standing assembly and a lying one. `flipped`: the lying one is at the foot. `section`: seen from
    /// the side, so that old masonry runs on past a roof.
    fn corner(&mut self, input: &JointDrawing, flipped: bool, section: bool) {
        let Some(second) = &input.second else { return };
        let (a, b) = (self.places(&input.first), self.places(second));
        let (across, down) = (last(&a), last(&b));
        let past = if section || input.first.title != second.title { 26.0 } else { 0.0 };
        self.place(across + self.reach, down + self.reach + past);
        let old = old(&input.first, &a);
        let top = past;
        let height = self.size[1];
        let turn =
            |[l, t, r, low]: Rect| if flipped { [l, height - low, r, height - t] } else { [l, t, r, low] };
        for (n, layer) in input.first.layers.iter().enumerate() {
            let from = if a[n + 1] <= old + 1e-9 { 0.0 } else { top + down };
            self.layer(layer, turn([a[n], from, a[n + 1], height]), Run::Standing);
        }
        for (n, layer) in second.layers.iter().enumerate() {
            self.layer(layer, turn([old, top + b[n], across + self.reach, top + b[n + 1]]), Run::Lying);
        }
        let face = |section: &Section, places: &[f64]| air_face(section, places);
        if let (Some(x), Some(y)) = (face(&input.first, &a), face(second, &b)) {
            let at = |p: [f64; 2]| if flipped { [p[0], height - p[1]] } else { p };
            let bend = [x, top + y];
            let line = [
                [x, height],
                [x, top + down],
                bend,
                [bend[0].max(across), bend[1]],
                [across + self.reach, bend[1]],
            ];
            let from = [x, (top + down).min(bend[1] + 34.0).max(bend[1] + 16.0)];
            let to = [x + 26.0, bend[1]];
            self.barrier(&line.map(at), &[vec![at(from), at(bend), at(to)]], input.closed);
        }
        let numbers = if flipped { self.reach * 0.45 } else { height - self.reach * 0.45 };
        self.numbers(&a, false, numbers, true);
        let letters: Vec<f64> = b.iter().map(|y| if flipped { height - top - y } else { top + y }).collect();
        self.letters(&letters, across + self.reach * 0.55);
        self.break_lines(
            turn([0.0, height, across, height]),
            turn([across + self.reach, top, across + self.reach, top + down]),
        );
        self.sides(input);
    }

    /// A lying assembly that runs out over a standing one: a party floor over the head of a party wall.
    fn out_over(&mut self, input: &JointDrawing) {
        let Some(second) = &input.second else { return };
        let (a, b) = (self.places(&input.first), self.places(second));
        let (across, down) = (last(&a), last(&b));
        self.place(across + self.reach, down + self.reach);
        let left = self.reach;
        // The floor's inside is up, so its layers are drawn from the last.
        let turned: Vec<f64> = b.iter().map(|y| down - y).collect();
        for (n, layer) in second.layers.iter().enumerate() {
            self.layer(layer, [0.0, turned[n + 1], left + across, turned[n]], Run::Lying);
        }
        for (n, layer) in input.first.layers.iter().enumerate() {
            self.layer(layer, [left + a[n], down, left + a[n + 1], down + self.reach], Run::Standing);
        }
        if let (Some(x), Some(y)) = (air_face(&input.first, &a), air_face(second, &b)) {
            let (x, y) = (left + x, down - y);
            let line = [[x, down + self.reach], [x, down], [x, y], [0.0, y]];
            self.barrier(&line, &[vec![[x, down + 20.0], [x, y], [x - 26.0, y]]], input.closed);
        }
        let shifted: Vec<f64> = a.iter().map(|x| left + x).collect();
        self.numbers(&shifted, false, down + self.reach * 0.55, true);
        self.letters(&turned, left * 0.45);
        let low = down + self.reach;
        self.break_lines([left, low, left + across, low], [0.0, 0.0, 0.0, down]);
        self.sides(input);
    }

    /// Two roofs or walls end to end.
    fn in_line(&mut self, input: &JointDrawing) {
        let second = input.second.as_ref().unwrap_or(&input.first).clone();
        let (a, b) = (self.places(&input.first), self.places(&second));
        let low = last(&a).max(last(&b));
        self.place(2.0 * self.reach + 40.0, low);
        let middle = self.size[0] / 2.0;
        for (n, layer) in input.first.layers.iter().enumerate() {
            self.layer(layer, [0.0, a[n], middle, a[n + 1]], Run::Lying);
        }
        for (n, layer) in second.layers.iter().enumerate() {
            self.layer(layer, [middle, b[n], self.size[0], b[n + 1]], Run::Lying);
        }
        if let (Some(y1), Some(y2)) = (air_face(&input.first, &a), air_face(&second, &b)) {
            let line = [[0.0, y1], [middle, y1], [middle, y2], [self.size[0], y2]];
            let piece = vec![[middle - 24.0, y1], [middle, y1], [middle, y2], [middle + 24.0, y2]];
            self.barrier(&line, &[piece], input.closed);
        }
        let width = self.size[0];
        self.break_lines([0.0, 0.0, 0.0, last(&a)], [width, 0.0, width, last(&b)]);
        self.letters(&b, width * 0.8);
        self.numbers(&a, true, width * 0.2, true);
        self.sides(input);
    }

    /// A frame in a wall, head above and foot below, the glass between broken off.
    fn opening(&mut self, input: &JointDrawing) {
        let Some(frame) = input.frame else { return };
        let a = self.places(&input.first);
        let across = last(&a);
        let arm = self.reach * 0.82;
        let face = (frame.face_m * self.scale).clamp(14.0, 46.0);
        let between = 2.0 * face + 56.0;
        self.place(across + 30.0, 2.0 * arm + between);
        let (head, foot) = (arm, arm + between);
        for (n, layer) in input.first.layers.iter().enumerate() {
            self.layer(layer, [a[n], 0.0, a[n + 1], head], Run::Standing);
            self.layer(layer, [a[n], foot, a[n + 1], self.size[1]], Run::Standing);
        }
        let left = (frame.behind_m * self.scale).min(across - 8.0).max(0.0);
        // A wall thinner than the frame's least drawn depth lets the frame stand out of it.
        let right = (left + frame.depth_m * self.scale).min(across).max(left + 8.0);
        let middle = (left + right) / 2.0;
        for (t, low) in [(head, head + face), (foot - face, foot)] {
            self.rect([left, t, right, low], "pane");
            self.rect([left + 3.0, t + 3.0, right - 3.0, low - 3.0], "thin");
        }
        for x in [middle - 6.0, middle, middle + 6.0] {
            self.line([x, head + face - 5.0], [x, foot - face + 5.0], "edge");
        }
        if frame.pan {
            // Back dam behind the frame, a fall under it, a drip over the face of the wall.
            self.path(
                &[
                    [right + 2.0, foot - 9.0],
                    [right + 2.0, foot + 1.0],
                    [-7.0, foot + 11.0],
                    [-7.0, foot + 17.0],
                ],
                "run",
            );
        }
        if let Some(x) = air_face(&input.first, &a) {
            let edge = right;
            let line = [
                [x, 0.0],
                [x, head],
                [edge, head],
                [edge, head + face],
                [middle + 8.0, head + face],
                [middle + 8.0, foot - face],
                [edge, foot - face],
                [edge, foot],
                [x, foot],
                [x, self.size[1]],
            ];
            let piece = |y: f64, d: f64| vec![[x, y - d * 22.0], [x, y], [edge, y], [edge, y + d * 12.0]];
            self.barrier(&line, &[piece(head, 1.0), piece(foot, -1.0)], input.closed);
        }
        self.numbers(&a, false, self.size[1] - arm * 0.42, true);
        let (width, height) = (across, self.size[1]);
        self.break_lines([0.0, 0.0, width, 0.0], [0.0, height, width, height]);
        self.sides(input);
    }

    fn at(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [self.origin[0] + x, self.origin[1] + y]
    }

    fn layer(&mut self, layer: &Layer, [l, t, r, b]: Rect, run: Run) {
        let [x, y] = self.at([l, t.min(b)]);
        let nodes = hatched(&mut self.drawing, x, y, r - l, (b - t).abs(), layer.hatch, run, "thin");
        self.drawing.extend(nodes);
    }

    fn rect(&mut self, [l, t, r, b]: Rect, class: &'static str) {
        let corners = [[l, t], [r, t], [r, b], [l, b]].map(|p| self.at(p));
        self.drawing.push(polygon(&corners, class));
    }

    fn line(&mut self, a: [f64; 2], b: [f64; 2], class: &'static str) {
        let ([x1, y1], [x2, y2]) = (self.at(a), self.at(b));
        self.drawing.push(line(x1, y1, x2, y2, class));
    }

    fn path(&mut self, points: &[[f64; 2]], class: &'static str) {
        let points: Vec<[f64; 2]> = points.iter().map(|p| self.at(*p)).collect();
        self.drawing.push(Path::through(&points).node(class));
    }

    /// The air barrier of both assemblies, with the piece that is the joint.
    fn barrier(&mut self, line: &[[f64; 2]], joints: &[Vec<[f64; 2]>], closed: bool) {
        self.path(line, "barrier");
        for joint in joints {
            self.path(joint, if closed { "joint" } else { "gap-under" });
            if !closed {
                self.path(joint, "gap");
            }
        }
    }

    /// Numbers of the first assembly's layers along a line across them.
    fn numbers(&mut self, places: &[f64], lying: bool, along: f64, stagger: bool) {
        for (n, pair) in places.windows(2).enumerate() {
            let middle = (pair[0] + pair[1]) / 2.0;
            // Thin neighbours step aside of one another.
            let step = if stagger { [-21.0, 0.0, 21.0][n % 3] } else { 0.0 };
            let at = if lying { [along + step, middle] } else { [middle, along + step] };
            self.badge(at, &(n + 1).to_string());
        }
    }

    /// Letters of the second assembly's layers.
    fn letters(&mut self, places: &[f64], along: f64) {
        for (n, pair) in places.windows(2).enumerate() {
            let step = [-21.0, 0.0, 21.0][n % 3];
            self.badge([along + step, (pair[0] + pair[1]) / 2.0], &letter(n));
        }
    }

    fn badge(&mut self, at: [f64; 2], words: &str) {
        let [x, y] = self.at(at);
        self.drawing.push(circle(x, y, 9.5, "pane"));
        self.drawing.push(text(x, y + 4.6, words, Anchor::Middle, "tsb"));
    }

    /// Broken ends, so that each assembly reads as a piece of something longer.
    fn break_lines(&mut self, first: Rect, second: Rect) {
        for [x1, y1, x2, y2] in [first, second] {
            let (dx, dy) = (x2 - x1, y2 - y1);
            let length = (dx * dx + dy * dy).sqrt().max(1e-9);
            let (ux, uy) = (dx / length, dy / length);
            let point = |along: f64, off: f64| [x1 + ux * along - uy * off, y1 + uy * along + ux * off];
            let middle = length / 2.0;
            let points = [
                point(-9.0, 0.0),
                point(middle - 7.0, 0.0),
                point(middle - 3.0, -6.0),
                point(middle + 3.0, 6.0),
                point(middle + 7.0, 0.0),
                point(length + 9.0, 0.0),
            ];
            self.path(&points, "paper-line");
            self.path(&points, "edge");
        }
    }

    fn sides(&mut self, input: &JointDrawing) {
        let width = self.drawing.width();
        self.drawing.push(text(2.0, 15.0, &input.sides[0], Anchor::Start, "ts"));
        let y = self.drawing.height() - 6.0;
        self.drawing.push(text(width - 2.0, y, &input.sides[1], Anchor::End, "ts"));
    }
}

/// Letter of a layer: a to z, then aa.
pub fn letter(n: usize) -> String {
    let small = |k: usize| char::from(b'a' + u8::try_from(k % 26).unwrap_or(0));
    if n < 26 { small(n).to_string() } else { format!("{}{}", small(n / 26 - 1), small(n)) }
}

fn last(places: &[f64]) -> f64 {
    places.last().copied().unwrap_or(0.0)
}

/// How far the layers that were there before reach in from outside.
fn old(section: &Section, places: &[f64]) -> f64 {
    let count = section.layers.iter().take_while(|l| l.existing).count();
    places.get(count).copied().unwrap_or(0.0)
}

/// Inner face of the air barrier.
fn air_face(section: &Section, places: &[f64]) -> Option<f64> {
    let n = section.layers.iter().rposition(|l| l.air_barrier)?;
    places.get(n + 1).copied()
}

#[cfg(test)]
mod tests {
    use super::super::hatch::Hatch;
    use super::super::section::Lie;
    use super::*;
    use proptest::prelude::*;

    fn layer(name: &str, mm: f64, existing: bool, air: bool) -> Layer {
        Layer {
            name: name.into(),
            thickness_m: mm / 1000.0,
            thickness: format!("{mm} mm"),
            hatch: Hatch::Other,
            bridge: None,
            air_barrier: air,
            existing,
        }
    }

    fn section(title: &str, layers: Vec<Layer>) -> Section {
        Section {
            id: title.into(),
            title: title.into(),
            lie: Lie::Wall,
            outside: "outdoors".into(),
            layers,
            total: String::new(),
            levels: vec![],
        }
    }

    fn drawn(meeting: Meeting, closed: bool) -> JointDrawing {
        JointDrawing {
            id: "joint".into(),
            title: "Joint".into(),
            meeting,
            first: section(
                "wall",
                vec![layer("brick", 200.0, true, false), layer("board", 12.0, false, true)],
            ),
            second: (meeting != Meeting::Frame).then(|| {
                section("roof", vec![layer("wool", 200.0, false, false), layer("ply", 16.0, false, true)])
            }),
            frame: Some(FrameCut { behind_m: 0.1, depth_m: 0.08, face_m: 0.1, pan: true }),
            closed,
            sides: ["outside".into(), "inside".into()],
        }
    }

    const ALL: [Meeting; 6] =
        [Meeting::OnTop, Meeting::AtFoot, Meeting::OnPlan, Meeting::OutOver, Meeting::InLine, Meeting::Frame];

    #[test]
    fn a_roof_on_a_wall_is_stable() {
        insta::assert_snapshot!(joint(&drawn(Meeting::OnTop, true), Format::Phone).inline());
    }

    #[test]
    fn an_open_joint_is_broken_and_a_closed_one_is_not() {
        for meeting in ALL {
            assert!(joint(&drawn(meeting, true), Format::Desk).inline().contains("class=\"joint\""));
            let open = joint(&drawn(meeting, false), Format::Desk).inline();
            assert!(open.contains("class=\"gap\"") && !open.contains("class=\"joint\""), "{meeting:?}");
        }
    }

    proptest! {
        /// No thickness of layers breaks a drawing.
        #[test]
        fn any_two_assemblies_meet(
            a in prop::collection::vec((0.1..600.0_f64, any::<bool>(), any::<bool>()), 0..9),
            b in prop::collection::vec((0.1..600.0_f64, any::<bool>(), any::<bool>()), 0..9),
            which in 0..6_usize,
        ) {
            let layers = |list: &[(f64, bool, bool)]| {
                list.iter().map(|(mm, old, air)| layer("x", *mm, *old, *air)).collect::<Vec<_>>()
            };
            let mut input = drawn(ALL[which], true);
            input.first.layers = layers(&a);
            if let Some(second) = &mut input.second {
                second.layers = layers(&b);
            }
            for format in Format::ALL {
                let drawing = joint(&input, format);
                prop_assert!(drawing.height() > 20.0 && drawing.height().is_finite());
                prop_assert!(!drawing.inline().contains("NaN"));
            }
        }
    }

    #[test]
    fn letters_go_on() {
        assert_eq!([letter(0), letter(25), letter(26)], ["a", "z", "aa"]);
    }
}
