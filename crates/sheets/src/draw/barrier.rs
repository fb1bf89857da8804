//! The air barrier from above as one accent line: every edge it must cross, closed or broken.
//!
//! The same projection as the enclosure from above, but unlifted and transparent: the line is followed with the eye
//! round corners, along the roof, down to the floor and round each frame. A broken edge is dashed and numbered as in
//! the list.

use super::axonometric::{draw_north, project};
use super::chart::Format;
use crate::svg::{Anchor, Drawing, Path, circle, polygon, text};

/// An edge of the barrier.
#[derive(Clone, Debug, PartialEq)]
pub struct EdgeLine {
    /// Ends, m.
    pub ends: [[f64; 3]; 2],
    /// Whether something carries the barrier across.
    pub closed: bool,
    /// Round a frame, drawn with the finer pen.
    pub fine: bool,
}

/// A numbered place.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// Number in the list.
    pub number: usize,
    /// Where, m.
    pub at: [f64; 3],
    /// Anchor of its line in the list.
    pub href: String,
    /// Name for a reader who does not see it.
    pub label: String,
}

/// A barrier to draw.
#[derive(Clone, Debug, PartialEq)]
pub struct Barrier {
    /// Unique on its page.
    pub id: String,
    /// Title.
    pub title: String,
    /// The drawing in words.
    pub description: String,
    /// Outlines of the building around it, m, drawn with the finest pen.
    pub outlines: Vec<Vec<[f64; 3]>>,
    /// Faces of the barrier, m.
    pub faces: Vec<Vec<[f64; 3]>>,
    /// Its edges.
    pub edges: Vec<EdgeLine>,
    /// Its gaps.
    pub marks: Vec<Mark>,
    /// Direction of true north on the plan, a unit vector.
    pub north: [f64; 2],
}

/// Room that a numbered mark takes, so that no two cover each other.
const MARK: f64 = 24.0;

/// Draws the barrier.
pub fn barrier(input: &Barrier, format: Format) -> Drawing {
    let width = format.width();
    let mut drawing = Drawing::new(&format!("{}-{}", input.id, format.suffix()), &input.title, width, 60.0);
    drawing.describe(&input.description);
    let points =
        input.outlines.iter().chain(&input.faces).flatten().chain(input.edges.iter().flat_map(|e| &e.ends));
    let reach = points.map(|p| project(*p)).filter(|p| p[0].is_finite() && p[1].is_finite()).fold(
        None,
        |reach: Option<[f64; 4]>, p| {
            let [l, t, r, b] = reach.unwrap_or([p[0], p[1], p[0], p[1]]);
            Some([l.min(p[0]), t.min(p[1]), r.max(p[0]), b.max(p[1])])
        },
    );
    let Some([l, t, r, b]) = reach else {
        drawing.push(text(8.0, 30.0, "nothing drawn in the book", Anchor::Start, "ts"));
        return drawing;
    };
    let margin = 20.0;
    let unit = ((width - 2.0 * margin) / (r - l).max(0.1)).min(460.0 / (b - t).max(0.1));
    let spare = (width - 2.0 * margin - unit * (r - l)) / 2.0;
    let at = |p: [f64; 3]| {
        let [x, y] = project(p);
        [x * unit + margin + spare - l * unit, y * unit + margin - t * unit]
    };
    let all = |corners: &[[f64; 3]]| corners.iter().map(|c| at(*c)).collect::<Vec<_>>();
    for outline in &input.outlines {
        drawing.push(polygon(&all(outline), "hair"));
    }
    for face in &input.faces {
        drawing.push(polygon(&all(face), "veil"));
    }
    // Breaks come last: they are what to see.
    for closed in [true, false] {
        for edge in input.edges.iter().filter(|e| e.closed == closed) {
            let class = match (closed, edge.fine) {
                (true, true) => "seam",
                (true, false) => "barrier",
                (false, _) => "gap",
            };
            drawing.push(Path::through(&all(&edge.ends)).node(class));
        }
    }
    let bottom = (b - t) * unit + 2.0 * margin;
    draw_marks(&mut drawing, input, at);
    draw_north(&mut drawing, input.north, [width - 40.0, bottom - 20.0]);
    drawing.set_height(bottom + 14.0);
    drawing
}

/// Draws numbers beside their places, moved until none covers another.
fn draw_marks(drawing: &mut Drawing, input: &Barrier, at: impl Fn([f64; 3]) -> [f64; 2]) {
    let mut placed: Vec<[f64; 2]> = Vec::new();
    let width = drawing.width();
    for mark in &input.marks {
        let target = at(mark.at);
        let free = |p: [f64; 2]| {
            p[0] > 12.0
                && p[0] < width - 12.0
                && p[1] > 12.0
                && placed.iter().all(|q| (q[0] - p[0]).abs() > MARK || (q[1] - p[1]).abs() > MARK)
        };
        let steps = [[0.0, 0.0], [0.0, -1.0], [1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [1.0, -1.0], [-1.0, -1.0]];
        let tries = (1..6).flat_map(|ring| {
            steps.map(|s| {
                let reach = MARK * 1.1 * f64::from(ring);
                [target[0] + s[0] * reach, target[1] + s[1] * reach]
            })
        });
        let place = std::iter::once(target).chain(tries).find(|p| free(*p)).unwrap_or(target);
        if place != target {
            drawing.push(Path::through(&[target, place]).node("dim"));
            drawing.push(circle(target[0], target[1], 2.4, "flag"));
        }
        drawing.has_links();
        let mut link =
            crate::svg::Node::new("a").with("href", mark.href.clone()).with("aria-label", mark.label.clone());
        link.push(circle(place[0], place[1], 11.0, "flag"));
        link.push(text(place[0], place[1] + 4.7, &mark.number.to_string(), Anchor::Middle, "tn"));
        drawing.push(link);
        placed.push(place);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boxed(closed: bool) -> Barrier {
        let edge = |a: [f64; 3], b: [f64; 3], closed| EdgeLine { ends: [a, b], closed, fine: false };
        Barrier {
            id: "barrier".into(),
            title: "Barrier".into(),
            description: "A box.".into(),
            outlines: vec![],
            faces: vec![vec![[0., 0., 0.], [8., 0., 0.], [8., 0., 3.], [0., 0., 3.]]],
            edges: vec![edge([0., 0., 0.], [8., 0., 0.], true), edge([0., 0., 3.], [8., 0., 3.], closed)],
            marks: (1..4)
                .map(|number| Mark { number, at: [4., 0., 3.], href: "#g".into(), label: "gap".into() })
                .collect(),
            north: [0.0, 1.0],
        }
    }

    #[test]
    fn a_broken_edge_is_dashed() {
        assert!(barrier(&boxed(false), Format::Desk).inline().contains("class=\"gap\""));
        assert!(!barrier(&boxed(true), Format::Desk).inline().contains("class=\"gap\""));
    }

    #[test]
    fn no_number_covers_another() {
        let svg = barrier(&boxed(true), Format::Phone).inline();
        let centres: Vec<(f64, f64)> = svg
            .split("<circle ")
            .skip(1)
            .filter(|c| c.contains("r=\"11\""))
            .map(|c| {
                let value = |name: &str| {
                    let from = c.split(&format!("{name}=\"")).nth(1).expect("an attribute");
                    from.split('"').next().and_then(|v| v.parse::<f64>().ok()).expect("a number")
                };
                (value("cx"), value("cy"))
            })
            .collect();
        assert_eq!(centres.len(), 3);
        for (n, a) in centres.iter().enumerate() {
            for b in &centres[n + 1..] {
                assert!((a.0 - b.0).abs().max((a.1 - b.1).abs()) > 22.0, "{a:?} {b:?}");
            }
        }
    }

    #[test]
    fn a_building_without_geometry_says_so() {
        let empty = Barrier { outlines: vec![], faces: vec![], edges: vec![], marks: vec![], ..boxed(true) };
        assert!(barrier(&empty, Format::Desk).inline().contains("nothing drawn"));
    }
}
