//! Heights and areas under flat, shed and gable roofs.

use numeric::scalar::{hypot, tan};

use super::Polygon;
use super::polygon::area_and_centre;
use crate::model::{RoofShape, Space, Storey};

/// A roof's numbers over one outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoofGeometry {
    /// Area along the slope, m². A flat roof counts its plan area: its fall only drains.
    pub area_m2: f64,
    /// Volume from the floor to the roof, m³.
    pub volume_m3: f64,
    /// Highest point over the floor, m.
    pub top_m: f64,
    /// Length of the ridge, m.
    pub ridge_m: f64,
}

impl RoofShape {
    /// Builds a shed roof over an outline.
    ///
    /// `low_side` is the edge of the outline along which it is lowest.
    pub fn shed(outline: &Polygon, low_side: usize, slope_deg: f64) -> Self {
        let [x, y] = outline.outward(low_side);
        Self::Shed { slope: tan(slope_deg.to_radians()), uphill: [-x, -y] }
    }

    /// Builds a gable roof over an outline; the ridge lies midway between the outline's bounds.
    pub fn gable(outline: &Polygon, ridge_along_x: bool, slope_deg: f64) -> Self {
        let (low, high) = outline.bounds();
        let (k, across) = if ridge_along_x { (1, [0.0, 1.0]) } else { (0, [1.0, 0.0]) };
        Self::Gable {
            slope: tan(slope_deg.to_radians()),
            across,
            ridge_at_m: 0.5 * (low[k] + high[k]),
            half_span_m: 0.5 * (high[k] - low[k]),
        }
    }

    /// Rise of the roof's underside over its height at the eaves, m, at a point of the plan. `outline` is the inside
    /// outline of the storey.
    pub fn rise_m(&self, outline: &Polygon, p: [f64; 2]) -> f64 {
        match *self {
            Self::Flat => 0.0,
            Self::Shed { slope, uphill } => {
                let along = |q: [f64; 2]| q[0] * uphill[0] + q[1] * uphill[1];
                let low = outline.corners().iter().map(|&c| along(c)).fold(f64::INFINITY, f64::min);
                slope * (along(p) - low)
            }
            Self::Gable { slope, across, ridge_at_m, half_span_m } => {
                let at = p[0] * across[0] + p[1] * across[1];
                slope * (half_span_m - (at - ridge_at_m).abs()).max(0.0)
            }
        }
    }

    /// Share of an outline's area that lies past the ridge, along the roof's `across` vector; 1 without a ridge.
    pub fn share_past_ridge(&self, outline: &Polygon) -> f64 {
        match *self {
            Self::Gable { across, ridge_at_m, .. } => {
                ring_area(outline.clipped([-across[0], -across[1]], -ridge_at_m)) / outline.area()
            }
            _ => 1.0,
        }
    }

    /// Secant of the slope: roof area over plan area.
    pub fn secant(&self) -> f64 {
        match *self {
            Self::Flat => 1.0,
            Self::Shed { slope, .. } | Self::Gable { slope, .. } => hypot(1.0, slope),
        }
    }

    /// Mean height of a wall over a piece of an edge, m, and the length of the roof line along it, m.
    /// `eaves_m` is the clear height at the eaves.
    pub fn along_edge(&self, outline: &Polygon, from: [f64; 2], to: [f64; 2], eaves_m: f64) -> (f64, f64) {
        let length = hypot(to[0] - from[0], to[1] - from[1]);
        let mut stops = vec![0.0, 1.0];
        if let Self::Gable { across, ridge_at_m, .. } = *self {
            let at = |p: [f64; 2]| p[0] * across[0] + p[1] * across[1] - ridge_at_m;
            let (a, b) = (at(from), at(to));
            if a * b < 0.0 {
                stops.insert(1, a / (a - b));
            }
        }
        let point = |t: f64| [from[0] + t * (to[0] - from[0]), from[1] + t * (to[1] - from[1])];
        let (mut area, mut line) = (0.0, 0.0);
        for pair in stops.windows(2) {
            let (h0, h1) = (self.rise_m(outline, point(pair[0])), self.rise_m(outline, point(pair[1])));
            let run = (pair[1] - pair[0]) * length;
            area += run * (eaves_m + 0.5 * (h0 + h1));
            line += hypot(run, h1 - h0);
        }
        if length > 0.0 { (area / length, line) } else { (eaves_m, 0.0) }
    }
}

/// Returns area, volume and top of the roof over a room's or storey's outline. `storey` is the storey's inside outline,
/// on which the roof's form rests.
pub fn roof_geometry(shape: &RoofShape, storey: &Polygon, outline: &Polygon, eaves_m: f64) -> RoofGeometry {
    let parts: Vec<Vec<[f64; 2]>> = match *shape {
        RoofShape::Gable { across, ridge_at_m, .. } => {
            let back = [-across[0], -across[1]];
            [outline.clipped(across, ridge_at_m), outline.clipped(back, -ridge_at_m)]
                .into_iter()
                .flatten()
                .collect()
        }
        _ => vec![outline.corners().to_vec()],
    };
    let (mut plan, mut volume) = (0.0, 0.0);
    for (area, centre) in parts.iter().filter_map(|part| area_and_centre(part)) {
        plan += area;
        volume += area * (eaves_m + shape.rise_m(storey, centre));
    }
    let rises = parts.iter().flatten().map(|&corner| shape.rise_m(storey, corner));
    let ridge_m = match *shape {
        RoofShape::Gable { across, ridge_at_m, .. } => ridge_length(outline, across, ridge_at_m),
        _ => 0.0,
    };
    RoofGeometry {
        area_m2: plan * shape.secant(),
        volume_m3: volume,
        top_m: eaves_m + rises.fold(0.0, f64::max),
        ridge_m,
    }
}

/// Length of a line inside an outline, m.
fn ridge_length(outline: &Polygon, across: [f64; 2], at_m: f64) -> f64 {
    let along = [-across[1], across[0]];
    let mut hits: Vec<f64> = Vec::new();
    for (a, b) in outline.edges() {
        let (da, db) =
            (a[0] * across[0] + a[1] * across[1] - at_m, b[0] * across[0] + b[1] * across[1] - at_m);
        if (da > 0.0) != (db > 0.0) {
            let t = da / (da - db);
            let p = [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
            hits.push(p[0] * along[0] + p[1] * along[1]);
        }
    }
    hits.sort_by(f64::total_cmp);
    hits.chunks_exact(2).map(|pair| pair[1] - pair[0]).sum()
}

/// Returns the floor area of a room under a given clear height, as a function of that height, m².
pub(crate) fn low_headroom_m2<'a>(storey: &'a Storey, space: &'a Space) -> impl Fn(f64) -> f64 + 'a {
    move |height_m| {
        let sloped = storey.roof.as_ref().filter(|roof| roof.form != RoofShape::Flat);
        let dropped = space.void_m3 > 0.0;
        let (Some(outline), Some(roof)) = (&space.outline, sloped) else {
            return if space.ceiling_m < height_m { space.area_m2 } else { 0.0 };
        };
        if dropped && space.ceiling_m < height_m {
            return space.area_m2;
        }
        let rise = height_m - storey.height_m;
        let low = match roof.form {
            RoofShape::Flat => 0.0,
            RoofShape::Shed { slope, uphill } => {
                let along = |q: [f64; 2]| q[0] * uphill[0] + q[1] * uphill[1];
                let start = storey.inside.corners().iter().map(|&c| along(c)).fold(f64::INFINITY, f64::min);
                ring_area(outline.clipped(uphill, start + rise / slope))
            }
            RoofShape::Gable { slope, across, ridge_at_m, half_span_m } => {
                let run = half_span_m - rise / slope;
                let back = [-across[0], -across[1]];
                if run <= 0.0 {
                    outline.area()
                } else {
                    ring_area(outline.clipped(across, ridge_at_m - run))
                        + ring_area(outline.clipped(back, -ridge_at_m - run))
                }
            }
        };
        // Net area may be stated smaller than the outline; the share of low floor is the same.
        if rise > 0.0 { low * space.area_m2 / outline.area() } else { 0.0 }
    }
}

fn ring_area(ring: Option<Vec<[f64; 2]>>) -> f64 {
    ring.and_then(|ring| area_and_centre(&ring)).map_or(0.0, |(area, _)| area)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gable_over_a_rectangle_is_a_prism() {
        let house = Polygon::rectangle(1.0, 2.0, 10.0, 6.0).unwrap();
        let roof = RoofShape::gable(&house, true, 45.0);
        let g = roof_geometry(&roof, &house, &house, 2.5);
        assert!((g.area_m2 - 60.0 * 2.0_f64.sqrt()).abs() < 1e-9);
        assert!((g.volume_m3 - (60.0 * 2.5 + 0.5 * 6.0 * 3.0 * 10.0)).abs() < 1e-9);
        assert!((g.top_m - 5.5).abs() < 1e-9);
        assert!((g.ridge_m - 10.0).abs() < 1e-9);
        // Gable wall (edge 1, the short one): 6 x 2.5 and a triangle.
        let (a, b) = house.edge(1);
        let (mean, line) = roof.along_edge(&house, a, b, 2.5);
        assert!((mean * 6.0 - (15.0 + 9.0)).abs() < 1e-9);
        assert!((line - 2.0 * 18.0_f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn a_shed_rises_from_its_low_side() {
        let house = Polygon::rectangle(0.0, 0.0, 8.0, 4.0).unwrap();
        let roof = RoofShape::shed(&house, 0, 30.0);
        let g = roof_geometry(&roof, &house, &house, 3.0);
        let rise = 4.0 * tan(30.0_f64.to_radians());
        assert!((g.volume_m3 - 32.0 * (3.0 + 0.5 * rise)).abs() < 1e-9);
        assert!((g.top_m - 3.0 - rise).abs() < 1e-9);
        assert!((g.area_m2 - 32.0 / (3.0_f64.sqrt() / 2.0)).abs() < 1e-9);
    }

    #[test]
    fn rooms_under_a_gable_add_up_to_the_storey() {
        let house = Polygon::rectangle(0.0, 0.0, 10.0, 6.0).unwrap();
        let roof = RoofShape::gable(&house, true, 40.0);
        let whole = roof_geometry(&roof, &house, &house, 2.4);
        let left = Polygon::rectangle(0.0, 0.0, 10.0, 2.0).unwrap();
        let right = Polygon::rectangle(0.0, 2.0, 10.0, 4.0).unwrap();
        let sum: f64 = [left, right].iter().map(|r| roof_geometry(&roof, &house, r, 2.4).volume_m3).sum();
        assert!((sum - whole.volume_m3).abs() < 1e-9);
    }
}
