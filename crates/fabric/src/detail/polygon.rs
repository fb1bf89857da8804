//! Polygons over rectilinear cells.
//!
//! A cell that an edge crosses is cut into sub-cells; each belongs to the last region over its middle. From them follow
//!
//! * the open part of each face, and the conductivity across it: `k = ka − (ka − kh) n²` with the arithmetic and the
//!   harmonic mean over the sub-cells between two cell middles, and n the part of the interface's normal along the axis;
//! * around each grid point the coupling across: `−(ka − kh) nx ny`, laid on the four cells (symmetric, no heat of its own);
//! * the surface towards air: its true length, and its distance from the cell's middle along its normal.
//!
//! A field that is linear on both sides of a sloping edge is met exactly but for the sub-cells' rounding.

use super::grid::Grid;
use super::stencil::Cross;
use super::{Body, Detail};
use numeric::ln;
use std::collections::BTreeMap;

/// Sub-cells across a cell; even.
pub(crate) const SUB: usize = 16;
/// Sub-cells of solid from which a cell counts as solid.
const LEAST: usize = 8;

/// Region of each sub-cell, x first.
pub(crate) type Parts = [u32; SUB * SUB];

/// Cells that are crossed by an edge, by number.
pub(crate) type Mixed = BTreeMap<usize, Box<Parts>>;

/// Says whether a place lies inside a polygon (even–odd).
pub(crate) fn holds(outline: &[[f64; 2]], at: [f64; 2]) -> bool {
    let mut inside = false;
    for (a, b) in edges(outline) {
        if (a[1] > at[1]) != (b[1] > at[1]) {
            let x = a[0] + (at[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]);
            inside ^= at[0] < x;
        }
    }
    inside
}

/// Area, m²; positive when the corners run counter-clockwise.
pub(crate) fn area_m2(outline: &[[f64; 2]]) -> f64 {
    0.5 * edges(outline).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum::<f64>()
}

fn edges(outline: &[[f64; 2]]) -> impl Iterator<Item = ([f64; 2], [f64; 2])> + '_ {
    outline.iter().enumerate().map(|(k, a)| (*a, outline[(k + 1) % outline.len()]))
}

/// Adds the coordinates that cell edges should fall on: of edges along an axis always, of other corners where they lie
/// a fortieth of the polygon apart from those taken, so that a round outline does not crowd the grid.
pub(crate) fn add_marks(outline: &[[f64; 2]], axis: usize, marks: &mut Vec<f64>) {
    let (low, high) =
        outline.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), c| (l.min(c[axis]), h.max(c[axis])));
    let apart = (high - low) / 40.0;
    let mut taken = vec![low, high];
    taken.extend(edges(outline).filter(|(a, b)| a[axis] == b[axis]).map(|(a, _)| a[axis]));
    for corner in outline {
        if taken.iter().all(|x| (x - corner[axis]).abs() >= apart) {
            taken.push(corner[axis]);
        }
    }
    marks.extend(taken);
}

/// Finds the cells that edges cross, and what their sub-cells hold; such a cell then belongs to the solid with most of it,
/// or to air or nothing when there is next to no solid in it.
pub(crate) fn mixed(detail: &Detail, grid: &Grid, holder: &mut [u32]) -> Mixed {
    let [nx, ny, nz] = grid.cells();
    let mut mixed = Mixed::new();
    let first = |d: usize, x: f64| grid.edges[d].partition_point(|e| *e <= x).saturating_sub(1);
    for region in detail.regions.iter() {
        for (a, b) in region.outline.iter().flat_map(|o| edges(o)) {
            // Edges along an axis lie between cells.
            if a[0] == b[0] || a[1] == b[1] {
                continue;
            }
            let (i0, i1) = (first(0, a[0].min(b[0])), first(0, a[0].max(b[0])).min(nx - 1));
            for i in i0..=i1 {
                // Part of the edge over this column.
                let at = |x: f64| a[1] + (x - a[0]) / (b[0] - a[0]) * (b[1] - a[1]);
                let x0 = grid.edges[0][i].max(a[0].min(b[0]));
                let x1 = grid.edges[0][i + 1].min(a[0].max(b[0]));
                let (y0, y1) = (at(x0).min(at(x1)), at(x0).max(at(x1)));
                for j in first(1, y0)..=first(1, y1).min(ny - 1) {
                    for k in 0..nz {
                        let cell = i + nx * (j + ny * k);
                        mixed.entry(cell).or_insert_with(|| parts(detail, grid, [i, j, k], holder[cell]));
                    }
                }
            }
        }
    }
    for (cell, parts) in &mut mixed {
        let mut counts: BTreeMap<u32, usize> = BTreeMap::new();
        for part in parts.iter() {
            *counts.entry(*part).or_default() += 1;
        }
        let solid = |region: u32| matches!(detail.regions[region as usize].body, Body::Solid(_));
        let all: usize = counts.iter().filter(|(r, _)| solid(**r)).map(|(_, n)| n).sum();
        let most = counts.iter().filter(|(r, _)| solid(**r) == (all >= LEAST)).max_by_key(|(_, n)| **n);
        if let Some((region, _)) = most {
            holder[*cell] = *region;
        }
    }
    mixed
}

fn parts(detail: &Detail, grid: &Grid, at: [usize; 3], own: u32) -> Box<Parts> {
    let z = grid.middle(at)[2];
    // A hair off the middle, unlike on both axes: an edge shared by two polygons through the corners of cells would else
    // pass through a row of middles, which by rounding belong to neither.
    let off = [0.511, 0.493];
    let coordinate =
        |d: usize, s: usize| grid.edges[d][at[d]] + grid.width(d, at[d]) * (s as f64 + off[d]) / SUB as f64;
    let mut parts = Box::new([own; SUB * SUB]);
    for s in 0..SUB * SUB {
        let (x, y) = (coordinate(0, s % SUB), coordinate(1, s / SUB));
        if let Some(top) = detail.regions.iter().rposition(|r| r.covers([x, y, z])) {
            parts[s] = top as u32;
        }
    }
    parts
}

/// What each sub-cell of two or more cells holds.
pub(crate) struct Cut<'a> {
    pub detail: &'a Detail,
    pub grid: &'a Grid,
    pub holder: &'a [u32],
    pub mixed: &'a Mixed,
}

/// A surface within one cell, gathered from its sub-cells.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Surfacing {
    pub cell: usize,
    pub environment: usize,
    pub film_m2k_w: f64,
    /// Area by its normal, out of the solid, m².
    vector: [f64; 2],
    weight: f64,
    centroid: [f64; 2],
}

/// Means over some sub-cells.
#[derive(Clone, Copy, Default)]
struct Mean {
    weight: f64,
    sum: f64,
    inverse: f64,
    slope: [f64; 2],
}

impl Mean {
    fn arithmetic(&self) -> f64 {
        self.sum / self.weight
    }

    fn harmonic(&self) -> f64 {
        self.weight / self.inverse
    }

    /// Parts of the interface's unit normal; none without an interface.
    fn normal(&self) -> [f64; 2] {
        let [x, y] = self.slope;
        let length = (x * x + y * y).sqrt();
        if length > 0.0 { [x / length, y / length] } else { [0.0, 0.0] }
    }
}

impl Cut<'_> {
    fn body(&self, region: u32) -> Body {
        self.detail.regions[region as usize].body
    }

    /// Region of a sub-cell; a cell that counts as air or nothing is so all over.
    fn part(&self, cell: usize, s: usize, t: usize) -> u32 {
        let own = self.holder[cell];
        match (self.mixed.get(&cell), self.body(own)) {
            (Some(parts), Body::Solid(_)) => parts[s + SUB * t],
            _ => own,
        }
    }

    fn conductivity(&self, region: u32, axis: usize) -> Option<f64> {
        match self.body(region) {
            Body::Solid(k) => Some(k[axis]),
            _ => None,
        }
    }

    /// Conductance between the middles of two solid cells, `distance` apart, through a face of the given area.
    pub fn between(&self, axis: usize, low: usize, high: usize, area: f64, distance: f64) -> f64 {
        if axis == 2 {
            let (a, b) = (self.whole(low), self.whole(high));
            let open = a.weight.min(b.weight) / (SUB * SUB) as f64;
            let k = 2.0 / (1.0 / a.arithmetic() + 1.0 / b.arithmetic());
            return open * area * k / distance;
        }
        let place = |s: usize, r: usize| if axis == 0 { (s, r) } else { (r, s) };
        // Sub-cells from one middle to the other: the upper half of the lower cell, the lower half of the upper one.
        let at = |s: usize, r: usize| {
            let (cell, s) = if s < SUB / 2 { (low, s + SUB / 2) } else { (high, s - SUB / 2) };
            let (x, y) = place(s, r);
            self.part(cell, x, y)
        };
        let width = |cell: usize| self.grid.width(axis, self.grid.place(cell)[axis]);
        let weights = [width(low), width(high)];
        let mut mean = Mean::default();
        let mut open = 0;
        for r in 0..SUB {
            open += usize::from(
                self.conductivity(at(SUB / 2 - 1, r), axis).is_some()
                    && self.conductivity(at(SUB / 2, r), axis).is_some(),
            );
            for s in 0..SUB {
                let Some(k) = self.conductivity(at(s, r), axis) else { continue };
                let w = weights[usize::from(s >= SUB / 2)];
                mean.weight += w;
                mean.sum += w * k;
                mean.inverse += w / k;
            }
        }
        if open == 0 {
            return 0.0;
        }
        let across = self.grid.width(1 - axis, self.grid.place(low)[1 - axis]);
        let along = 0.5 * (weights[0] + weights[1]);
        self.slopes(&mut mean, [along, across], at, axis);
        let n = mean.normal()[0];
        let (ka, kh) = (mean.arithmetic(), mean.harmonic());
        let k = ka - (ka - kh) * n * n;
        area * open as f64 / SUB as f64 * k / distance
    }

    /// Solid sub-cells of one cell, along z.
    fn whole(&self, cell: usize) -> Mean {
        let mut mean = Mean::default();
        for t in 0..SUB {
            for s in 0..SUB {
                if let Some(k) = self.conductivity(self.part(cell, s, t), 2) {
                    mean.weight += 1.0;
                    mean.sum += k;
                }
            }
        }
        mean
    }

    /// Where the conductivity steps, along the first and the second axis of a square of sub-cells of the given size.
    fn slopes(&self, mean: &mut Mean, size: [f64; 2], at: impl Fn(usize, usize) -> u32, axis: usize) {
        let log = |region: u32| self.conductivity(region, axis).map(ln);
        for r in 0..SUB {
            for s in 0..SUB {
                let Some(own) = log(at(s, r)) else { continue };
                // A step counts by the length of interface it shows.
                if let Some(next) = (s + 1 < SUB).then(|| log(at(s + 1, r))).flatten() {
                    mean.slope[0] += (next - own) * size[1];
                }
                if let Some(next) = (r + 1 < SUB).then(|| log(at(s, r + 1))).flatten() {
                    mean.slope[1] += (next - own) * size[0];
                }
            }
        }
    }

    /// Coupling across a grid point, over its four cells (lower left, lower right, upper left, upper right).
    pub fn across(&self, cells: [usize; 4], depth: f64) -> Option<Cross> {
        if !cells.iter().any(|c| self.mixed.contains_key(c)) {
            return None;
        }
        let at = |s: usize, t: usize| {
            let (right, up) = (s >= SUB / 2, t >= SUB / 2);
            let cell = cells[usize::from(right) + 2 * usize::from(up)];
            let shift = |s: usize, far: bool| if far { s - SUB / 2 } else { s + SUB / 2 };
            self.part(cell, shift(s, right), shift(t, up))
        };
        let size = |d: usize, cell: usize| self.grid.width(d, self.grid.place(cell)[d]);
        let (wx, wy) = ([size(0, cells[0]), size(0, cells[1])], [size(1, cells[0]), size(1, cells[2])]);
        let mut mean = Mean::default();
        for t in 0..SUB {
            for s in 0..SUB {
                // A point at a surface has no coupling of its own.
                let Body::Solid(k) = self.body(at(s, t)) else { return None };
                let k = 0.5 * (k[0] + k[1]);
                let w = wx[usize::from(s >= SUB / 2)] * wy[usize::from(t >= SUB / 2)];
                mean.weight += w;
                mean.sum += w * k;
                mean.inverse += w / k;
            }
        }
        self.slopes(&mut mean, [0.5 * (wx[0] + wx[1]), 0.5 * (wy[0] + wy[1])], at, 0);
        let n = mean.normal();
        let k = -(mean.arithmetic() - mean.harmonic()) * n[0] * n[1];
        (k != 0.0).then(|| Cross { cells: cells.map(|c| c as u32), conductance: 0.25 * k * depth })
    }

    /// Surfaces of a cell: within it, and on its faces towards cells of which one is crossed by an edge.
    pub fn surfaces(&self, cell: usize, out: &mut Vec<Surfacing>) {
        let place = self.grid.place(cell);
        let n = self.grid.cells();
        let (dx, dy) = (self.grid.width(0, place[0]), self.grid.width(1, place[1]));
        let depth = self.grid.width(2, place[2]);
        let start = [self.grid.edges[0][place[0]], self.grid.edges[1][place[1]]];
        let first = out.len();
        let strides = [1, n[0]];
        for t in 0..SUB {
            for s in 0..SUB {
                let own = self.part(cell, s, t);
                if self.conductivity(own, 0).is_none() {
                    continue;
                }
                for (axis, step) in [(0, 1_i8), (0, -1), (1, 1), (1, -1)] {
                    let i = if axis == 0 { s } else { t };
                    let leaves = if step > 0 { i + 1 == SUB } else { i == 0 };
                    let next = if leaves {
                        let inside = if step > 0 { place[axis] + 1 < n[axis] } else { place[axis] > 0 };
                        if !inside {
                            continue;
                        }
                        let other = if step > 0 { cell + strides[axis] } else { cell - strides[axis] };
                        let far = if step > 0 { 0 } else { SUB - 1 };
                        if axis == 0 { self.part(other, far, t) } else { self.part(other, s, far) }
                    } else {
                        let moved = if step > 0 { i + 1 } else { i - 1 };
                        if axis == 0 { self.part(cell, moved, t) } else { self.part(cell, s, moved) }
                    };
                    let Body::Environment(e) = self.body(next) else { continue };
                    let film = self.detail.film_m2k_w(own as usize, next as usize, e);
                    let area = depth * if axis == 0 { dy } else { dx } / SUB as f64;
                    let mut at = [
                        start[0] + dx * (s as f64 + 0.5) / SUB as f64,
                        start[1] + dy * (t as f64 + 0.5) / SUB as f64,
                    ];
                    at[axis] += f64::from(step) * 0.5 * if axis == 0 { dx } else { dy } / SUB as f64;
                    let known = out[first..].iter().position(|o| o.environment == e && o.film_m2k_w == film);
                    let place = known.map_or_else(
                        || {
                            out.push(Surfacing {
                                cell,
                                environment: e,
                                film_m2k_w: film,
                                vector: [0.0; 2],
                                weight: 0.0,
                                centroid: [0.0; 2],
                            });
                            out.len() - 1
                        },
                        |k| first + k,
                    );
                    let gathered = &mut out[place];
                    gathered.vector[axis] += f64::from(step) * area;
                    gathered.weight += area;
                    gathered.centroid[0] += area * at[0];
                    gathered.centroid[1] += area * at[1];
                }
            }
        }
    }
}

impl Surfacing {
    /// Area, m², place, and distance from the cell's middle along the normal, m; none for two faces that cancel.
    pub fn measure(&self, grid: &Grid) -> Option<(f64, [f64; 3], f64)> {
        let [vx, vy] = self.vector;
        let area = (vx * vx + vy * vy).sqrt();
        if area < 1e-12 * self.weight {
            return None;
        }
        let middle = grid.middle(grid.place(self.cell));
        let at = [self.centroid[0] / self.weight, self.centroid[1] / self.weight, middle[2]];
        let distance = ((at[0] - middle[0]) * vx + (at[1] - middle[1]) * vy) / area;
        Some((area, at, distance))
    }
}
