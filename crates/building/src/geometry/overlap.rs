//! Overlaps of areas and of edges.

use geo::{Area, BooleanOps, Coord, LineString};

use super::Polygon;

fn to_geo(polygon: &Polygon) -> geo::Polygon<f64> {
    let ring: Vec<Coord<f64>> = polygon.corners().iter().map(|c| Coord { x: c[0], y: c[1] }).collect();
    geo::Polygon::new(LineString::new(ring), Vec::new())
}

/// Returns the area that two polygons share, m², to about 1e-6.
pub fn intersection(a: &Polygon, b: &Polygon) -> f64 {
    let ((al, ah), (bl, bh)) = (a.bounds(), b.bounds());
    if (0..2).any(|k| ah[k] <= bl[k] || bh[k] <= al[k]) {
        return 0.0;
    }
    to_geo(a).intersection(&to_geo(b)).unsigned_area()
}

/// Returns the area of a polygon outside several others, m², to about 1e-6.
pub fn minus(a: &Polygon, others: &[&Polygon]) -> f64 {
    let mut left = geo::MultiPolygon::new(vec![to_geo(a)]);
    for other in others {
        left = left.difference(&to_geo(other));
    }
    left.unsigned_area()
}

/// Where two edges face one another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shared {
    /// Edge of the first polygon.
    pub first: usize,
    /// Edge of the second.
    pub second: usize,
    /// Along the first's edge, m from its start.
    pub from: f64,
    /// Along the first's edge, m from its start.
    pub to: f64,
    /// Distance between the two lines, m.
    pub apart: f64,
}

impl Shared {
    /// Length, m.
    pub fn length(&self) -> f64 {
        self.to - self.from
    }
}

/// Returns where edges of two polygons run side by side, facing each other (`same_way` false: two rooms on either side
/// of a wall) or looking the same way (`same_way` true: a room's edge on the inside face of its storey), at most
/// `reach_m` apart.
pub fn shared_edges(a: &Polygon, b: &Polygon, same_way: bool, reach_m: f64) -> Vec<Shared> {
    let mut out = Vec::new();
    for i in 0..a.len() {
        let u = a.along(i);
        for j in 0..b.len() {
            let v = b.along(j);
            let dot = u[0] * v[0] + u[1] * v[1];
            // Within about half a degree of parallel.
            if (dot.abs() - 1.0).abs() > 4e-5 || (dot > 0.0) != same_way {
                continue;
            }
            let (p, q) = b.edge(j);
            let apart = 0.5 * (a.distance_out(i, p) + a.distance_out(i, q));
            let near =
                if same_way { apart.abs() <= reach_m } else { apart >= -super::TOUCH_M && apart <= reach_m };
            if !near {
                continue;
            }
            let (s, t) = (a.coordinate(i, p), a.coordinate(i, q));
            let from = s.min(t).max(0.0);
            let to = s.max(t).min(a.edge_length(i));
            if to - from > super::TOUCH_M {
                out.push(Shared { first: i, second: j, from, to, apart: apart.abs() });
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn overlap_of_two_squares() {
        let a = Polygon::rectangle(0.0, 0.0, 4.0, 4.0).unwrap();
        let b = Polygon::rectangle(3.0, 1.0, 4.0, 2.0).unwrap();
        assert!((intersection(&a, &b) - 2.0).abs() < 1e-6);
        assert!((minus(&a, &[&b]) - 14.0).abs() < 1e-6);
        assert_eq!(intersection(&a, &b.moved([10.0, 0.0])), 0.0);
    }

    #[test]
    fn rooms_on_either_side_of_a_wall_share_its_length() {
        let a = Polygon::rectangle(0.0, 0.0, 4.0, 4.0).unwrap();
        let b = Polygon::rectangle(4.2, 1.0, 3.0, 5.0).unwrap();
        let shared = shared_edges(&a, &b, false, 0.6);
        assert_eq!(shared.len(), 1);
        assert!((shared[0].length() - 3.0).abs() < 1e-12 && (shared[0].apart - 0.2).abs() < 1e-12);
        assert!(shared_edges(&a, &b, false, 0.1).is_empty());
    }
}
