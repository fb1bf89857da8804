//! The enclosure as a line drawing from above, storey lifted off storey.
//!
//! Faces are plane polygons in metres (x to plan-right, y to plan-up, z up). Only faces that look at the viewer
//! are drawn, from far to near on a filled ground, so that hidden lines stay hidden. Each of ours carries a
//! number and is a link. The projection keeps the long front nearly true: it is a drawing to point at, not to
//! scale from.

use super::chart::Format;
use super::hatch::{Hatch, Run};
use super::section::layer_fill;
use crate::svg::{Anchor, Drawing, Node, Path, circle, polygon, text};

/// What a face separates from the inside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FaceKind {
    /// Our enclosure to outdoors.
    Ours,
    /// Our enclosure to a neighbour or a neighbour's building.
    Party,
    /// A neighbour's own face to outdoors.
    Neighbour,
}

/// A plane face.
#[derive(Clone, Debug, PartialEq)]
pub struct Face {
    /// Corners, counter-clockwise seen from outside.
    pub corners: Vec<[f64; 3]>,
    /// What it is.
    pub kind: FaceKind,
    /// Pieces of a neighbour's face that are ours, drawn with the heavy pen.
    pub parts: Vec<Vec<[f64; 3]>>,
    /// Windows and doors in it, each a polygon.
    pub openings: Vec<Vec<[f64; 3]>>,
    /// Number in the list beside the drawing; `None`: no number.
    pub number: Option<usize>,
    /// Name for a reader who does not see it.
    pub label: String,
    /// Where its link goes.
    pub href: Option<String>,
}

/// One storey of faces, drawn as one piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Faces of the piece.
    pub faces: Vec<Face>,
    /// How far it is lifted, m.
    pub lift: f64,
    /// Corners to which thin lines lead down by the lift.
    pub feet: Vec<[f64; 3]>,
}

/// An axonometric to draw.
#[derive(Clone, Debug, PartialEq)]
pub struct Axonometric {
    /// Unique on its page.
    pub id: String,
    /// Title.
    pub title: String,
    /// The drawing in words.
    pub description: String,
    /// Pieces, lowest first.
    pub pieces: Vec<Piece>,
    /// Direction of true north on the plan, a unit vector.
    pub north: [f64; 2],
}

impl Axonometric {
    /// The same seen from the opposite corner: everything turned half way round.
    #[must_use]
    pub fn turned(&self, id: &str, title: &str) -> Self {
        let mut turned = self.clone();
        turned.id = id.to_owned();
        turned.title = title.to_owned();
        turned.north = [-self.north[0], -self.north[1]];
        let half_turn = |corners: &mut Vec<[f64; 3]>| {
            for corner in corners {
                (corner[0], corner[1]) = (-corner[0], -corner[1]);
            }
        };
        for piece in &mut turned.pieces {
            half_turn(&mut piece.feet);
            for face in &mut piece.faces {
                half_turn(&mut face.corners);
                face.parts.iter_mut().for_each(half_turn);
                face.openings.iter_mut().for_each(half_turn);
            }
        }
        turned
    }
}

/// Paper vectors of one metre east, north and up: the long front lies nearly flat, depth runs up to the right.
const EAST: [f64; 2] = [0.95, 0.13];
const NORTH: [f64; 2] = [0.46, -0.37];
const UP: [f64; 2] = [0.0, -0.92];

/// Direction to the viewer that belongs to these vectors: what moves along it stays at its place on paper.
fn towards_viewer() -> [f64; 3] {
    // Solves a·EAST + b·NORTH + c·UP = 0 with c = 1, scaled; a and b follow from the two rows.
    let determinant = EAST[0] * NORTH[1] - NORTH[0] * EAST[1];
    let a = (-UP[0] * NORTH[1] + NORTH[0] * UP[1]) / determinant;
    let b = (-EAST[0] * UP[1] + UP[0] * EAST[1]) / determinant;
    [a, b, 1.0]
}

pub(super) fn project([x, y, z]: [f64; 3]) -> [f64; 2] {
    [x * EAST[0] + y * NORTH[0] + z * UP[0], x * EAST[1] + y * NORTH[1] + z * UP[1]]
}

fn dot3(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Twice the area vector of a polygon (Newell): its direction is the normal.
fn normal(corners: &[[f64; 3]]) -> [f64; 3] {
    let mut sum = [0.0; 3];
    for (index, p) in corners.iter().enumerate() {
        let q = corners[(index + 1) % corners.len()];
        sum[0] += (p[1] - q[1]) * (p[2] + q[2]);
        sum[1] += (p[2] - q[2]) * (p[0] + q[0]);
        sum[2] += (p[0] - q[0]) * (p[1] + q[1]);
    }
    sum
}

fn centre(corners: &[[f64; 3]]) -> [f64; 3] {
    let count = corners.len().max(1) as f64;
    let mut sum = [0.0; 3];
    for corner in corners {
        for axis in 0..3 {
            sum[axis] += corner[axis] / count;
        }
    }
    sum
}

/// A polygon moved up by a lift and put on paper.
struct Sheet {
    unit: f64,
    shift: [f64; 2],
}

impl Sheet {
    fn at(&self, [x, y, z]: [f64; 3], lift: f64) -> [f64; 2] {
        let p = project([x, y, z + lift]);
        [p[0] * self.unit + self.shift[0], p[1] * self.unit + self.shift[1]]
    }

    fn all(&self, corners: &[[f64; 3]], lift: f64) -> Vec<[f64; 2]> {
        corners.iter().map(|c| self.at(*c, lift)).collect()
    }
}

/// Draws an axonometric.
pub fn axonometric(input: &Axonometric, format: Format) -> Drawing {
    let width = format.width();
    let mut drawing = Drawing::new(&format!("{}-{}", input.id, format.suffix()), &input.title, width, 60.0);
    drawing.describe(&input.description);
    let corners = input.pieces.iter().flat_map(|p| {
        p.faces.iter().flat_map(move |f| f.corners.iter().map(move |c| project([c[0], c[1], c[2] + p.lift])))
    });
    let reach =
        corners.filter(|p| p[0].is_finite() && p[1].is_finite()).fold(None, |reach: Option<[f64; 4]>, p| {
            let [l, t, r, b] = reach.unwrap_or([p[0], p[1], p[0], p[1]]);
            Some([l.min(p[0]), t.min(p[1]), r.max(p[0]), b.max(p[1])])
        });
    let Some([l, t, r, b]) = reach else {
        drawing.push(text(8.0, 30.0, "nothing drawn in the book", Anchor::Start, "ts"));
        return drawing;
    };
    let margin = 14.0;
    let unit = ((width - 2.0 * margin) / (r - l).max(0.1)).min(460.0 / (b - t).max(0.1));
    let spare = (width - 2.0 * margin - unit * (r - l)) / 2.0;
    let sheet = Sheet { unit, shift: [margin + spare - l * unit, margin - t * unit] };
    for (index, piece) in input.pieces.iter().enumerate() {
        draw_piece(&mut drawing, piece, &sheet, index > 0);
    }
    let bottom = (b - t) * unit + 2.0 * margin;
    draw_north(&mut drawing, input.north, [width - 40.0, bottom - 26.0]);
    drawing.set_height(bottom + 8.0);
    drawing
}

fn draw_piece(drawing: &mut Drawing, piece: &Piece, sheet: &Sheet, lifted: bool) {
    if lifted {
        for foot in &piece.feet {
            let (top, low) = (sheet.at(*foot, piece.lift), sheet.at(*foot, 0.0));
            drawing.push(Path::through(&[low, top]).node("broken"));
        }
    }
    let view = towards_viewer();
    let mut seen: Vec<&Face> = piece.faces.iter().filter(|f| dot3(normal(&f.corners), view) > 1e-9).collect();
    seen.sort_by(|a, b| dot3(centre(&a.corners), view).total_cmp(&dot3(centre(&b.corners), view)));
    for face in seen {
        let node = draw_face(drawing, face, sheet, piece.lift);
        drawing.push(node);
    }
}

fn draw_face(drawing: &mut Drawing, face: &Face, sheet: &Sheet, lift: f64) -> Node {
    let points = sheet.all(&face.corners, lift);
    let mut node = match &face.href {
        Some(href) => {
            drawing.has_links();
            Node::new("a").with("href", href.clone()).with("aria-label", face.label.clone())
        }
        None => Node::new("g"),
    };
    match face.kind {
        FaceKind::Ours => node.push(polygon(&points, "face heavy")),
        FaceKind::Party => {
            node.push(polygon(&points, "face"));
            let dots = layer_fill(drawing, Hatch::Neighbour, Run::Standing);
            node.push(polygon(&points, "fill").with("fill", dots));
            node.push(polygon(&points, "bound"));
        }
        FaceKind::Neighbour => node.push(polygon(&points, "face light")),
    }
    for part in &face.parts {
        node.push(polygon(&sheet.all(part, lift), "face heavy"));
    }
    let frames: Vec<Vec<[f64; 2]>> = face.openings.iter().map(|o| sheet.all(o, lift)).collect();
    for frame in &frames {
        node.push(polygon(frame, "pane"));
        node.push(polygon(&shrink(frame, 0.13), "thin"));
    }
    if let Some(number) = face.number {
        let [x, y] = badge_place(&points, &frames);
        node.push(circle(x, y, 10.5, "pane"));
        node.push(text(x, y + 4.6, &number.to_string(), Anchor::Middle, "tsb"));
    }
    node
}

/// Where a face's number goes: as far left as it keeps clear of the edges and of every window.
fn badge_place(points: &[[f64; 2]], openings: &[Vec<[f64; 2]>]) -> [f64; 2] {
    const CLEAR: f64 = 17.0;
    let [left, top, right, bottom] = points.iter().fold([f64::MAX, f64::MAX, f64::MIN, f64::MIN], |b, p| {
        [b[0].min(p[0]), b[1].min(p[1]), b[2].max(p[0]), b[3].max(p[1])]
    });
    let mut best = ([(left + right) / 2.0, (top + bottom) / 2.0], 0.0);
    for column in 1..40 {
        for row in 1..20 {
            let at = [
                left + (right - left) * f64::from(column) / 40.0,
                top + (bottom - top) * f64::from(row) / 20.0,
            ];
            if !inside(points, at) {
                continue;
            }
            let nearest = openings.iter().map(Vec::as_slice).chain([points]).map(|p| distance(p, at));
            let clear = nearest.fold(f64::MAX, f64::min).min(CLEAR);
            let covered = openings.iter().any(|o| inside(o, at));
            if !covered && clear > best.1 + 0.01 {
                best = (at, clear);
            }
        }
    }
    best.0
}

/// Whether a point lies in a polygon (even-odd rule).
fn inside(polygon: &[[f64; 2]], [x, y]: [f64; 2]) -> bool {
    let mut odd = false;
    for (index, p) in polygon.iter().enumerate() {
        let q = polygon[(index + 1) % polygon.len()];
        if (p[1] > y) != (q[1] > y) && x < p[0] + (y - p[1]) / (q[1] - p[1]) * (q[0] - p[0]) {
            odd = !odd;
        }
    }
    odd
}

/// Distance of a point from a polygon's edge.
fn distance(polygon: &[[f64; 2]], [x, y]: [f64; 2]) -> f64 {
    let edges = polygon.iter().enumerate().map(|(index, p)| (*p, polygon[(index + 1) % polygon.len()]));
    edges
        .map(|(p, q)| {
            let (dx, dy) = (q[0] - p[0], q[1] - p[1]);
            let length2 = (dx * dx + dy * dy).max(1e-12);
            let along = (((x - p[0]) * dx + (y - p[1]) * dy) / length2).clamp(0.0, 1.0);
            let (ex, ey) = (x - p[0] - along * dx, y - p[1] - along * dy);
            (ex * ex + ey * ey).sqrt()
        })
        .fold(f64::MAX, f64::min)
}

/// A polygon drawn in towards its middle.
fn shrink(points: &[[f64; 2]], share: f64) -> Vec<[f64; 2]> {
    let count = points.len().max(1) as f64;
    let middle = points.iter().fold([0.0, 0.0], |m, p| [m[0] + p[0] / count, m[1] + p[1] / count]);
    points.iter().map(|p| [p[0] + (middle[0] - p[0]) * share, p[1] + (middle[1] - p[1]) * share]).collect()
}

/// A north point lying in the plane of the plan.
pub(super) fn draw_north(drawing: &mut Drawing, north: [f64; 2], [x, y]: [f64; 2]) {
    let size = 22.0;
    let along = |a: f64, b: f64| {
        let p = project([north[0] * a - north[1] * b, north[1] * a + north[0] * b, 0.0]);
        [x + p[0] * size, y + p[1] * size]
    };
    drawing.push(Path::through(&[along(-1.0, 0.0), along(1.0, 0.0)]).node("edge"));
    drawing.push(polygon(&[along(1.0, 0.0), along(0.2, 0.22), along(0.2, -0.22)], "solid"));
    let tip = along(1.5, 0.0);
    drawing.push(text(tip[0], tip[1] + 4.0, "N", Anchor::Middle, "tsb halo"));
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boxed() -> Axonometric {
        let face = |corners: Vec<[f64; 3]>, kind, number| Face {
            corners,
            kind,
            parts: vec![],
            openings: vec![],
            number,
            label: "face".into(),
            href: Some("#wall".into()),
        };
        Axonometric {
            id: "axo".into(),
            title: "Enclosure".into(),
            description: "A box.".into(),
            pieces: vec![Piece {
                faces: vec![
                    face(
                        vec![[0., 0., 0.], [10., 0., 0.], [10., 0., 3.], [0., 0., 3.]],
                        FaceKind::Ours,
                        Some(1),
                    ),
                    face(
                        vec![[10., 0., 0.], [10., 6., 0.], [10., 6., 3.], [10., 0., 3.]],
                        FaceKind::Party,
                        Some(2),
                    ),
                    face(
                        vec![[10., 6., 0.], [0., 6., 0.], [0., 6., 3.], [10., 6., 3.]],
                        FaceKind::Ours,
                        Some(3),
                    ),
                    face(
                        vec![[0., 0., 3.], [10., 0., 3.], [10., 6., 3.], [0., 6., 3.]],
                        FaceKind::Ours,
                        Some(4),
                    ),
                ],
                lift: 0.0,
                feet: vec![],
            }],
            north: [0.0, 1.0],
        }
    }

    #[test]
    fn a_box_is_stable() {
        insta::assert_snapshot!(axonometric(&boxed(), Format::Phone).inline());
    }

    #[test]
    fn faces_that_look_away_are_hidden() {
        let svg = axonometric(&boxed(), Format::Desk).inline();
        // South, east and top are seen from the south-east above; north is not.
        for (number, seen) in [(1, true), (2, true), (3, false), (4, true)] {
            assert_eq!(svg.contains(&format!(">{number}</text>")), seen, "face {number}");
        }
    }

    #[test]
    fn the_other_corner_shows_the_hidden_face() {
        let svg = axonometric(&boxed().turned("other", "from the other side"), Format::Desk).inline();
        assert!(svg.contains(">3</text>") && !svg.contains(">1</text>"));
    }

    #[test]
    fn the_view_direction_projects_to_a_point() {
        let p = project(towards_viewer());
        assert!(p[0].abs() < 1e-12 && p[1].abs() < 1e-12, "{p:?}");
        let view = towards_viewer();
        assert!(view[0] > 0.0 && view[1] < 0.0 && view[2] > 0.0, "{view:?}");
    }

    #[test]
    fn nothing_to_draw_is_said() {
        let empty = Axonometric { pieces: vec![], ..boxed() };
        assert!(axonometric(&empty, Format::Desk).inline().contains("nothing drawn"));
    }
}
