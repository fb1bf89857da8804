//! A simple polygon on the plan.

use super::TOUCH_M;
use numeric::scalar::{atan2, hypot};

/// A simple polygon, counter-clockwise, m. Edge `i` runs from corner `i` to the next.
#[derive(Clone, Debug, PartialEq)]
pub struct Polygon {
    corners: Vec<[f64; 2]>,
}

/// Why corners make no polygon.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PolygonError {
    /// Fewer than three corners.
    #[error("an outline needs at least three corners, this has {0}")]
    TooFewCorners(usize),
    /// A corner that is NaN or infinite.
    #[error("corner {0} is not a finite point")]
    NotFinite(usize),
    /// Two corners in one place.
    #[error("corners {0} and {1} lie in one place")]
    Doubled(usize, usize),
    /// Two edges cross or touch.
    #[error("the edge from corner {0} crosses the edge from corner {1}")]
    Crossing(usize, usize),
    /// No area.
    #[error("the outline encloses no area")]
    Flat,
}

type Point = [f64; 2];

fn cross(o: Point, a: Point, b: Point) -> f64 {
    (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0])
}

/// Twice the signed area, summed from the first corner so that a far origin costs no digits.
fn twice_area(corners: &[Point]) -> f64 {
    let origin = corners[0];
    corners.windows(2).map(|pair| cross(origin, pair[0], pair[1])).sum()
}

fn segments_touch(a: Point, b: Point, c: Point, d: Point) -> bool {
    let (d1, d2, d3, d4) = (cross(c, d, a), cross(c, d, b), cross(a, b, c), cross(a, b, d));
    if d1 * d2 < 0.0 && d3 * d4 < 0.0 {
        return true;
    }
    let within = |p: Point, q: Point, r: Point| {
        r[0] >= p[0].min(q[0]) && r[0] <= p[0].max(q[0]) && r[1] >= p[1].min(q[1]) && r[1] <= p[1].max(q[1])
    };
    d1 == 0.0 && within(c, d, a)
        || d2 == 0.0 && within(c, d, b)
        || d3 == 0.0 && within(a, b, c)
        || d4 == 0.0 && within(a, b, d)
}

impl Polygon {
    /// Makes a polygon from corners in either sense; the result runs counter-clockwise and starts at the first corner.
    ///
    /// # Errors
    /// [`PolygonError`]; corners are counted from 1.
    pub fn new(corners: Vec<Point>) -> Result<Self, PolygonError> {
        let n = corners.len();
        if n < 3 {
            return Err(PolygonError::TooFewCorners(n));
        }
        if let Some(bad) = corners.iter().position(|c| !c[0].is_finite() || !c[1].is_finite()) {
            return Err(PolygonError::NotFinite(bad + 1));
        }
        for i in 0..n {
            for j in i + 1..n {
                if hypot(corners[i][0] - corners[j][0], corners[i][1] - corners[j][1]) < 1e-6 {
                    return Err(PolygonError::Doubled(i + 1, j + 1));
                }
            }
        }
        for i in 0..n {
            for j in i + 2..n {
                if i == 0 && j == n - 1 {
                    continue;
                }
                if segments_touch(corners[i], corners[i + 1], corners[j], corners[(j + 1) % n]) {
                    return Err(PolygonError::Crossing(i + 1, j + 1));
                }
            }
        }
        let twice = twice_area(&corners);
        if twice.abs() < 1e-9 {
            return Err(PolygonError::Flat);
        }
        let mut corners = corners;
        if twice < 0.0 {
            corners[1..].reverse();
        }
        Ok(Self { corners })
    }

    /// Makes the rectangle between two corners.
    ///
    /// # Errors
    /// [`PolygonError`] when a side is not above zero.
    pub fn rectangle(x: f64, y: f64, width: f64, depth: f64) -> Result<Self, PolygonError> {
        if !(width > 0.0 && depth > 0.0) {
            return Err(PolygonError::Flat);
        }
        Self::new(vec![[x, y], [x + width, y], [x + width, y + depth], [x, y + depth]])
    }

    /// Corners, counter-clockwise.
    pub fn corners(&self) -> &[Point] {
        &self.corners
    }

    /// Number of corners and of edges.
    pub fn len(&self) -> usize {
        self.corners.len()
    }

    /// Never true; here because [`Self::len`] is.
    pub fn is_empty(&self) -> bool {
        self.corners.is_empty()
    }

    /// Both ends of an edge.
    pub fn edge(&self, i: usize) -> (Point, Point) {
        (self.corners[i], self.corners[(i + 1) % self.corners.len()])
    }

    /// All edges.
    pub fn edges(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        (0..self.len()).map(|i| self.edge(i))
    }

    /// Length of an edge, m.
    pub fn edge_length(&self, i: usize) -> f64 {
        let (a, b) = self.edge(i);
        hypot(b[0] - a[0], b[1] - a[1])
    }

    /// Unit vector along an edge.
    pub fn along(&self, i: usize) -> Point {
        let (a, b) = self.edge(i);
        let length = self.edge_length(i);
        [(b[0] - a[0]) / length, (b[1] - a[1]) / length]
    }

    /// Unit vector out of an edge.
    pub fn outward(&self, i: usize) -> Point {
        let [x, y] = self.along(i);
        [y, -x]
    }

    /// Azimuth of an edge's outward normal, degrees clockwise from plan-up, 0 to 360.
    pub fn outward_azimuth_deg(&self, i: usize) -> f64 {
        let [x, y] = self.outward(i);
        let degrees = atan2(x, y).to_degrees();
        if degrees < -1e-9 { degrees + 360.0 } else { degrees.max(0.0) }
    }

    /// Area, m².
    pub fn area(&self) -> f64 {
        0.5 * twice_area(&self.corners)
    }

    /// Perimeter, m.
    pub fn perimeter(&self) -> f64 {
        (0..self.len()).map(|i| self.edge_length(i)).sum()
    }

    /// Centre of area.
    pub fn centroid(&self) -> Point {
        let o = self.corners[0];
        let mut sum = [0.0; 2];
        for pair in self.corners.windows(2) {
            let c = cross(o, pair[0], pair[1]);
            for k in 0..2 {
                sum[k] += c * (pair[0][k] + pair[1][k] - 2.0 * o[k]);
            }
        }
        let six_area = 6.0 * self.area();
        [o[0] + sum[0] / six_area, o[1] + sum[1] / six_area]
    }

    /// Smallest and largest coordinates.
    pub fn bounds(&self) -> (Point, Point) {
        let mut low = self.corners[0];
        let mut high = low;
        for corner in &self.corners {
            for k in 0..2 {
                low[k] = low[k].min(corner[k]);
                high[k] = high[k].max(corner[k]);
            }
        }
        (low, high)
    }

    /// Distance of a point from the line of an edge, m, positive outside.
    pub fn distance_out(&self, i: usize, p: Point) -> f64 {
        let (a, _) = self.edge(i);
        let [x, y] = self.outward(i);
        (p[0] - a[0]) * x + (p[1] - a[1]) * y
    }

    /// Coordinate of a point along an edge, m from its start.
    pub fn coordinate(&self, i: usize, p: Point) -> f64 {
        let (a, _) = self.edge(i);
        let [x, y] = self.along(i);
        (p[0] - a[0]) * x + (p[1] - a[1]) * y
    }

    /// The point at a coordinate along an edge.
    pub fn point_at(&self, i: usize, coordinate: f64) -> Point {
        let (a, _) = self.edge(i);
        let [x, y] = self.along(i);
        [a[0] + coordinate * x, a[1] + coordinate * y]
    }

    /// True where the boundary turns inward: the corner at the start of edge `i` is a re-entrant one.
    pub fn is_reentrant(&self, i: usize) -> bool {
        let n = self.len();
        cross(self.corners[(i + n - 1) % n], self.corners[i], self.corners[(i + 1) % n]) < 0.0
    }

    /// Moves each edge inward by its own distance (negative: outward) and joins neighbours again.
    ///
    /// # Errors
    /// [`PolygonError`] when nothing sensible is left: edges that vanish or cross, or neighbours in one line that are
    /// moved by different distances.
    pub fn offset_inward(&self, distances: &[f64]) -> Result<Self, PolygonError> {
        let n = self.len();
        let mut corners = Vec::with_capacity(n);
        for i in 0..n {
            let before = (i + n - 1) % n;
            let (u, v) = (self.along(before), self.along(i));
            let (nu, nv) = (self.outward(before), self.outward(i));
            let corner = self.corners[i];
            let p = [corner[0] - distances[before] * nu[0], corner[1] - distances[before] * nu[1]];
            let q = [corner[0] - distances[i] * nv[0], corner[1] - distances[i] * nv[1]];
            let turn = u[0] * v[1] - u[1] * v[0];
            if turn.abs() < 1e-9 {
                if (distances[before] - distances[i]).abs() > 1e-9 {
                    return Err(PolygonError::Crossing(before + 1, i + 1));
                }
                corners.push(p);
            } else {
                let t = ((q[0] - p[0]) * v[1] - (q[1] - p[1]) * v[0]) / turn;
                corners.push([p[0] + t * u[0], p[1] + t * u[1]]);
            }
        }
        let moved = Self::new(corners.clone())?;
        for i in 0..n {
            let [x, y] = self.along(i);
            let (a, b) = (corners[i], corners[(i + 1) % n]);
            if (b[0] - a[0]) * x + (b[1] - a[1]) * y <= 0.0 {
                return Err(PolygonError::Flat);
            }
        }
        Ok(moved)
    }

    /// Says whether a point lies inside or within `slack_m` of the boundary.
    pub fn holds(&self, p: Point, slack_m: f64) -> bool {
        let near = (0..self.len()).any(|i| {
            let t = self.coordinate(i, p).clamp(0.0, self.edge_length(i));
            let q = self.point_at(i, t);
            hypot(p[0] - q[0], p[1] - q[1]) <= slack_m
        });
        near || self.winds_around(p)
    }

    fn winds_around(&self, p: Point) -> bool {
        let mut inside = false;
        for (a, b) in self.edges() {
            if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1]) + a[0] {
                inside = !inside;
            }
        }
        inside
    }

    /// Returns the polygon moved by a vector.
    #[must_use]
    pub fn moved(&self, by: Point) -> Self {
        Self { corners: self.corners.iter().map(|c| [c[0] + by[0], c[1] + by[1]]).collect() }
    }

    /// Moves edges onto the rooms that reach them within [`TOUCH_M`]: surveyed room sizes rule over a face computed
    /// from drawn wall thickness. Returns the polygon and the largest move, m.
    pub fn snapped_to(&self, rooms: &[&Self]) -> (Self, f64) {
        let mut distances = vec![0.0; self.len()];
        for (i, distance) in distances.iter_mut().enumerate() {
            let length = self.edge_length(i);
            let reach = rooms.iter().flat_map(|room| room.corners()).filter(|&&p| {
                let t = self.coordinate(i, p);
                (-TOUCH_M..=length + TOUCH_M).contains(&t) && self.distance_out(i, p).abs() <= TOUCH_M
            });
            *distance = reach.map(|&p| -self.distance_out(i, p)).reduce(f64::min).unwrap_or(0.0);
        }
        let largest = distances.iter().fold(0.0_f64, |m, d| m.max(d.abs()));
        match self.offset_inward(&distances) {
            Ok(moved) => (moved, largest),
            Err(_) => (self.clone(), 0.0),
        }
    }

    /// Returns the part on one side of a line: points with `p · normal ≤ limit`. For shapes that a line cuts into more
    /// than two parts the pieces stay joined by edges of no width, which changes neither area nor moments.
    pub(crate) fn clipped(&self, normal: Point, limit: f64) -> Option<Vec<Point>> {
        let beyond = |p: Point| p[0] * normal[0] + p[1] * normal[1] - limit;
        let mut out = Vec::with_capacity(self.len() + 2);
        for (a, b) in self.edges() {
            let (da, db) = (beyond(a), beyond(b));
            if da <= 0.0 {
                out.push(a);
            }
            if da * db < 0.0 {
                let t = da / (da - db);
                out.push([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
            }
        }
        (out.len() >= 3).then_some(out)
    }
}

/// Area and centre of any ring of corners, m² and m; nothing for a ring without area.
pub(crate) fn area_and_centre(corners: &[Point]) -> Option<(f64, Point)> {
    let area = 0.5 * twice_area(corners);
    if area.abs() < 1e-12 {
        return None;
    }
    let ring = Polygon { corners: corners.to_vec() };
    Some((area.abs(), ring.centroid()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn l_shape() -> Polygon {
        Polygon::new(vec![[0.0, 0.0], [6.0, 0.0], [6.0, 3.0], [2.0, 3.0], [2.0, 5.0], [0.0, 5.0]]).unwrap()
    }

    #[test]
    fn an_l_has_the_area_of_its_two_parts() {
        let l = l_shape();
        assert!((l.area() - 22.0).abs() < 1e-12);
        assert!((l.perimeter() - 22.0).abs() < 1e-12);
        assert!(l.is_reentrant(3) && !l.is_reentrant(0));
        let centre = l.centroid();
        assert!((centre[0] - (18.0 * 3.0 + 4.0) / 22.0).abs() < 1e-12);
        assert!((centre[1] - (18.0 * 1.5 + 4.0 * 4.0) / 22.0).abs() < 1e-12);
    }

    #[test]
    fn sides_face_where_they_should() {
        let r = Polygon::rectangle(0.0, 0.0, 4.0, 3.0).unwrap();
        let faces: Vec<f64> = (0..4).map(|i| r.outward_azimuth_deg(i).round()).collect();
        assert_eq!(faces, [180.0, 90.0, 0.0, 270.0]);
    }

    #[test]
    fn a_figure_of_eight_is_refused() {
        let eight = Polygon::new(vec![[0.0, 0.0], [4.0, 3.0], [4.0, 0.0], [0.0, 3.0]]);
        assert_eq!(eight, Err(PolygonError::Crossing(1, 3)));
    }

    #[test]
    fn each_wall_takes_its_own_thickness_inside() {
        let inside = l_shape().offset_inward(&[0.5, 0.3, 0.3, 0.3, 0.3, 0.2]).unwrap();
        // By hand: outer box 6 x 5 less the notch, all moved in.
        let expected = 5.5 * 2.2 + 1.5 * 2.0;
        assert!((inside.area() - expected).abs() < 1e-12, "{}", inside.area());
        assert!(l_shape().offset_inward(&[2.0; 6]).is_err());
    }

    fn star() -> impl Strategy<Value = Vec<[f64; 2]>> {
        // Points at rising angles around a centre make a simple polygon.
        prop::collection::vec(1.0..10.0_f64, 3..12).prop_map(|radii| {
            let n = radii.len() as f64;
            let at = |(i, r): (usize, f64)| {
                let (sin, cos) = numeric::scalar::sin_cos(std::f64::consts::TAU * i as f64 / n);
                [r * cos, r * sin]
            };
            radii.into_iter().enumerate().map(at).collect()
        })
    }

    proptest! {
        #[test]
        fn area_does_not_depend_on_start_sense_turn_or_place(corners in star(), start in 0..12_usize,
                                                            turn in 0.0..6.3_f64, by in -50.0..50.0_f64) {
            let plain = Polygon::new(corners.clone()).unwrap();
            let mut other = corners.clone();
            other.rotate_left(start % corners.len());
            other.reverse();
            let (sin, cos) = numeric::scalar::sin_cos(turn);
            let turned = other.iter().map(|c| [c[0] * cos - c[1] * sin + by, c[0] * sin + c[1] * cos - by]).collect();
            let turned = Polygon::new(turned).unwrap();
            prop_assert!((plain.area() - turned.area()).abs() < 1e-9 * plain.area().max(1.0));
            prop_assert!((plain.perimeter() - turned.perimeter()).abs() < 1e-9 * plain.perimeter());
        }

        #[test]
        fn both_sides_of_a_cut_add_up(corners in star(), limit in -3.0..3.0_f64) {
            let whole = Polygon::new(corners).unwrap();
            let area = |ring: Option<Vec<Point>>| ring.and_then(|r| area_and_centre(&r)).map_or(0.0, |(a, _)| a);
            let parts = area(whole.clipped([1.0, 0.0], limit)) + area(whole.clipped([-1.0, 0.0], -limit));
            prop_assert!((parts - whole.area()).abs() < 1e-9 * whole.area());
        }
    }
}
