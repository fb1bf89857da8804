//! A detail drawn to scale from its boxes and polygons: hatches, numbered parts, sizes, and the coldest inside spot first.
//!
//! Parts lie over one another as they do in the detail. Heat lines are drawn only when they come with the input, thin and
//! named; nothing is coloured by temperature.

use super::chart::{Format, wrap};
use super::hatch::{Hatch, Run, fill};
use crate::svg::{Anchor, Drawing, Node, Path, Weight, circle, line, polygon, text};

/// A part of a detail.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Name; empty for air.
    pub name: String,
    /// Its hatch; none for air.
    pub hatch: Option<Hatch>,
    /// Corners, m; x to the right, y up.
    pub corners: Vec<[f64; 2]>,
}

/// The coldest inside spot.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    /// Place, m.
    pub at_m: [f64; 2],
    /// Its temperature, in words.
    pub words: String,
}

/// A size along one edge of the drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Size {
    /// Along x (drawn below) or y (drawn at the right).
    pub along_x: bool,
    /// From and to, m.
    pub span_m: [f64; 2],
    /// In the reader's units.
    pub words: String,
}

/// Heat lines of one temperature.
#[derive(Clone, Debug, PartialEq)]
pub struct HeatLine {
    /// Name, such as `10 °C`.
    pub name: String,
    /// Pieces, m.
    pub pieces: Vec<[[f64; 2]; 2]>,
}

/// A detail to draw.
#[derive(Clone, Debug, PartialEq)]
pub struct DetailDrawing {
    /// Unique on its page.
    pub id: String,
    /// Title.
    pub title: String,
    /// The same for one who does not see it.
    pub description: String,
    /// Parts; later ones over earlier ones.
    pub parts: Vec<Part>,
    /// What is shown, m: left, bottom, right, top.
    pub window_m: [f64; 4],
    /// The coldest inside spot.
    pub spot: Option<Spot>,
    /// Sizes.
    pub sizes: Vec<Size>,
    /// Heat lines.
    pub lines: Vec<HeatLine>,
}

/// Room around the picture for sizes and names.
const MARGIN: [f64; 4] = [8.0, 34.0, 74.0, 40.0];

struct Frame {
    scale: f64,
    origin: [f64; 2],
    window: [f64; 4],
}

impl Frame {
    fn at(&self, p: [f64; 2]) -> [f64; 2] {
        [
            self.origin[0] + self.scale * (p[0] - self.window[0]),
            self.origin[1] + self.scale * (self.window[3] - p[1]),
        ]
    }
}

/// Draws a detail.
pub fn detail(input: &DetailDrawing, format: Format) -> Drawing {
    let width = match format {
        Format::Desk => 520.0,
        Format::Phone => 320.0,
    };
    let mut drawing = Drawing::new(&format!("{}-{}", input.id, format.suffix()), &input.title, width, 0.0);
    drawing.describe(&input.description);
    let w = input.window_m;
    let room = width - MARGIN[0] - MARGIN[2];
    let scale = (room / (w[2] - w[0])).min(460.0 / (w[3] - w[1]));
    let frame = Frame { scale, origin: [MARGIN[0], MARGIN[1]], window: w };
    let bottom = MARGIN[1] + scale * (w[3] - w[1]);
    let named = parts(&mut drawing, &frame, input);
    let mut named_at: Vec<[f64; 2]> = Vec::new();
    for heat in &input.lines {
        heat_line(&mut drawing, &frame, heat, &mut named_at);
    }
    let [left, top] = frame.at([w[0], w[3]]);
    let [right, base] = frame.at([w[2], w[1]]);
    drawing.push(polygon(&[[left, top], [right, top], [right, base], [left, base]], "dash"));
    sizes(&mut drawing, &frame, input);
    numbers(&mut drawing, &frame, &named);
    let mut y = bottom + MARGIN[3] + 14.0;
    for (n, (name, _)) in named.iter().enumerate() {
        for (k, words) in
            wrap(&format!("{}  {name}", n + 1), width - 16.0, 13.0, Weight::Regular).iter().enumerate()
        {
            drawing.push(text(MARGIN[0] + if k > 0 { 18.0 } else { 0.0 }, y, words, Anchor::Start, "td"));
            y += 18.0;
        }
    }
    if let Some(spot) = &input.spot {
        cold_spot(&mut drawing, &frame, spot, width);
    }
    drawing.set_height(y + 4.0);
    drawing
}

/// Draws the parts and returns the named ones with the largest piece of each that is seen.
fn parts(drawing: &mut Drawing, frame: &Frame, input: &DetailDrawing) -> Vec<(String, Vec<[f64; 2]>)> {
    let mut named: Vec<(String, Vec<[f64; 2]>)> = Vec::new();
    for part in &input.parts {
        let corners = clipped(&part.corners, input.window_m);
        if area(&corners).abs() < 1e-9 {
            continue;
        }
        let paper: Vec<[f64; 2]> = corners.iter().map(|c| frame.at(*c)).collect();
        drawing.push(polygon(&paper, "paper"));
        let Some(hatch) = part.hatch else { continue };
        let (w, h) = extent(&corners);
        let run = if w > h { Run::Lying } else { Run::Standing };
        if let Some(fill) = fill(drawing, hatch, run) {
            drawing.push(polygon(&paper, "fill").with("fill", fill));
        }
        drawing.push(polygon(&paper, "edge"));
        match named.iter_mut().find(|(name, _)| *name == part.name) {
            Some(known) if area(&known.1).abs() < area(&corners).abs() => known.1 = corners,
            Some(_) => {}
            None => named.push((part.name.clone(), corners)),
        }
    }
    named
}

fn numbers(drawing: &mut Drawing, frame: &Frame, named: &[(String, Vec<[f64; 2]>)]) {
    for (n, (_, corners)) in named.iter().enumerate() {
        let mut middle = [0.0; 2];
        for c in corners {
            middle[0] += c[0] / corners.len() as f64;
            middle[1] += c[1] / corners.len() as f64;
        }
        // Numbers of thin layers side by side step down the layer, so that they do not lie on one another.
        let (w, h) = extent(corners);
        let step = (n % 4) as f64 / 4.0 - 0.375;
        if w < h {
            middle[1] += 0.5 * step * h;
        } else {
            middle[0] += 0.5 * step * w;
        }
        let [x, y] = frame.at(middle);
        drawing.push(text(x, y + 4.5, &(n + 1).to_string(), Anchor::Middle, "tb halo"));
    }
}

/// Draws a heat line; its name stands at its first piece that no other name is near.
fn heat_line(drawing: &mut Drawing, frame: &Frame, heat: &HeatLine, named_at: &mut Vec<[f64; 2]>) {
    for piece in &heat.pieces {
        let ([x1, y1], [x2, y2]) = (frame.at(piece[0]), frame.at(piece[1]));
        drawing.push(line(x1, y1, x2, y2, "hair"));
    }
    let free =
        |p: &[f64; 2]| named_at.iter().all(|q| (p[0] - q[0]).abs() > 44.0 || (p[1] - q[1]).abs() > 16.0);
    if let Some([x, y]) = heat.pieces.iter().map(|piece| frame.at(piece[0])).find(free) {
        drawing.push(text(x + 2.0, y - 2.0, &heat.name, Anchor::Start, "ts halo"));
        named_at.push([x, y]);
    }
}

fn sizes(drawing: &mut Drawing, frame: &Frame, input: &DetailDrawing) {
    let w = input.window_m;
    for size in &input.sizes {
        let d = usize::from(!size.along_x);
        let from = size.span_m[0].max(w[d]);
        let to = size.span_m[1].min(w[d + 2]);
        if to - from < 1e-9 {
            continue;
        }
        if size.along_x {
            let ([x1, y], [x2, _]) = (frame.at([from, w[1]]), frame.at([to, w[1]]));
            let y = y + 14.0;
            drawing.extend(ticked([x1, y], [x2, y]));
            drawing.push(text(0.5 * (x1 + x2), y + 17.0, &size.words, Anchor::Middle, "td fr"));
        } else {
            let ([x, y1], [_, y2]) = (frame.at([w[2], from]), frame.at([w[2], to]));
            let x = x + 10.0;
            drawing.extend(ticked([x, y1], [x, y2]));
            drawing.push(text(x + 8.0, 0.5 * (y1 + y2) + 4.5, &size.words, Anchor::Start, "td fr"));
        }
    }
}

/// A dimension line with slanting ticks.
fn ticked(a: [f64; 2], b: [f64; 2]) -> Vec<Node> {
    let tick = |p: [f64; 2]| line(p[0] - 3.0, p[1] + 3.0, p[0] + 3.0, p[1] - 3.0, "dim");
    vec![line(a[0], a[1], b[0], b[1], "dim"), tick(a), tick(b)]
}

fn cold_spot(drawing: &mut Drawing, frame: &Frame, spot: &Spot, width: f64) {
    let w = frame.window;
    let at = [spot.at_m[0].clamp(w[0], w[2]), spot.at_m[1].clamp(w[1], w[3])];
    let [x, y] = frame.at(at);
    drawing.push(circle(x, y, 6.0, "over"));
    drawing.push(circle(x, y, 1.8, "flag"));
    let lead = Path::new().to(x, y - 6.0).line(x, 22.0);
    drawing.push(lead.node("seam"));
    let anchor = if x < 0.5 * width { Anchor::Start } else { Anchor::End };
    drawing.push(text(if x < 0.5 * width { x - 4.0 } else { x + 4.0 }, 16.0, &spot.words, anchor, "ta"));
}

fn extent(corners: &[[f64; 2]]) -> (f64, f64) {
    let span = |d: usize| {
        let (l, h) =
            corners.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), c| (l.min(c[d]), h.max(c[d])));
        h - l
    };
    (span(0), span(1))
}

fn area(corners: &[[f64; 2]]) -> f64 {
    let next = |k: usize| corners[(k + 1) % corners.len()];
    0.5 * corners.iter().enumerate().map(|(k, a)| a[0] * next(k)[1] - next(k)[0] * a[1]).sum::<f64>()
}

/// A polygon clipped to a rectangle: left, bottom, right, top.
fn clipped(corners: &[[f64; 2]], window: [f64; 4]) -> Vec<[f64; 2]> {
    let mut polygon = corners.to_vec();
    for (axis, limit, above) in
        [(0, window[0], true), (1, window[1], true), (0, window[2], false), (1, window[3], false)]
    {
        let inside = |p: &[f64; 2]| if above { p[axis] >= limit } else { p[axis] <= limit };
        let mut next = Vec::new();
        for (k, a) in polygon.iter().enumerate() {
            let b = &polygon[(k + 1) % polygon.len()];
            if inside(a) {
                next.push(*a);
            }
            if inside(a) != inside(b) {
                let f = (limit - a[axis]) / (b[axis] - a[axis]);
                next.push([a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])]);
            }
        }
        polygon = next;
    }
    polygon
}

/// Hatches in use, for the legend of a page.
pub fn hatches(drawings: &[DetailDrawing]) -> Vec<Hatch> {
    let mut all: Vec<Hatch> = drawings.iter().flat_map(|d| d.parts.iter().filter_map(|p| p.hatch)).collect();
    all.sort_unstable();
    all.dedup();
    all
}
