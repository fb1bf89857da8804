//! From boxes to cells: a graded tensor grid, what each cell holds, and the balance of all cells.

use super::polygon::{self, Cut, Mixed};
use super::stencil::Stencil;
use super::{Body, Detail};
use crate::error::FabricError;
use numeric::{exp, ln};

/// Growth of cell width per distance from the edge it is graded to.
const GROWTH: f64 = 0.25;

/// Cell edges along the three axes.
#[derive(Clone, Debug)]
pub(crate) struct Grid {
    pub edges: [Vec<f64>; 3],
}

/// Balance of a detail on a grid.
#[derive(Clone, Debug)]
pub(crate) struct System {
    pub grid: Grid,
    pub stencil: Stencil,
    /// Which region each cell belongs to.
    pub holder: Vec<u32>,
    /// Cells that the edge of a polygon crosses.
    pub mixed: Mixed,
    /// Faces between solids and environments.
    pub surfaces: Vec<Surface>,
}

/// A face between a solid cell and an environment.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Surface {
    pub cell: usize,
    pub environment: usize,
    /// Its middle, m.
    pub at_m: [f64; 3],
    /// Conductance from the environment to the middle of the cell, W/K (per metre in a plane section).
    pub conductance: f64,
    /// Surface resistance, m²·K/W.
    pub film_m2k_w: f64,
    /// Area, m².
    pub area: f64,
}

impl Grid {
    /// Grades cells to the edges of all boxes: `first_cells` across the thinner neighbour of an edge, then growing.
    pub fn graded(detail: &Detail, first_cells: u32) -> Self {
        let axis = |d: usize| {
            if detail.plane && d == 2 {
                return vec![0.0, 1.0];
            }
            let marks = marks(detail, d);
            grade(&marks, f64::from(first_cells.max(1)))
        };
        Self { edges: [axis(0), axis(1), axis(2)] }
    }

    /// Returns the grid with every cell halved (only in the plane, for a plane section).
    pub fn halved(&self, plane: bool) -> Self {
        let halve = |edges: &[f64]| {
            let mut finer = Vec::with_capacity(2 * edges.len());
            for pair in edges.windows(2) {
                finer.push(pair[0]);
                finer.push(0.5 * (pair[0] + pair[1]));
            }
            finer.extend(edges.last());
            finer
        };
        let [x, y, z] = &self.edges;
        Self { edges: [halve(x), halve(y), if plane { z.clone() } else { halve(z) }] }
    }

    pub fn cells(&self) -> [usize; 3] {
        [0, 1, 2].map(|d| self.edges[d].len() - 1)
    }

    pub fn width(&self, d: usize, i: usize) -> f64 {
        self.edges[d][i + 1] - self.edges[d][i]
    }

    pub fn middle(&self, at: [usize; 3]) -> [f64; 3] {
        [0, 1, 2].map(|d| 0.5 * (self.edges[d][at[d]] + self.edges[d][at[d] + 1]))
    }

    pub fn place(&self, cell: usize) -> [usize; 3] {
        let [nx, ny, _] = self.cells();
        [cell % nx, cell / nx % ny, cell / (nx * ny)]
    }
}

/// Sorted coordinates of all box faces along an axis; such that lie closer than a billionth of the whole are one.
fn marks(detail: &Detail, d: usize) -> Vec<f64> {
    let mut all: Vec<f64> = detail.regions.iter().flat_map(|r| [r.low_m[d], r.high_m[d]]).collect();
    if d < 2 {
        for outline in detail.regions.iter().filter_map(|r| r.outline.as_ref()) {
            polygon::add_marks(outline, d, &mut all);
        }
    }
    all.sort_by(f64::total_cmp);
    let span = all[all.len() - 1] - all[0];
    let mut marks: Vec<f64> = Vec::new();
    for x in all {
        if marks.last().is_none_or(|last| x - last > 1e-9 * span) {
            marks.push(x);
        }
    }
    marks
}

/// Cell edges whose widths start small at every mark and grow linearly with the distance from it.
fn grade(marks: &[f64], first_cells: f64) -> Vec<f64> {
    let count = marks.len();
    let length = |k: usize| marks[k + 1] - marks[k];
    let mut size: Vec<f64> = (0..count)
        .map(|k| {
            let before = if k > 0 { length(k - 1) } else { f64::INFINITY };
            let after = if k + 1 < count { length(k) } else { f64::INFINITY };
            before.min(after) / first_cells
        })
        .collect();
    for k in 1..count {
        size[k] = size[k].min(size[k - 1] + GROWTH * length(k - 1));
    }
    for k in (0..count - 1).rev() {
        size[k] = size[k].min(size[k + 1] + GROWTH * length(k));
    }
    let mut edges = vec![marks[0]];
    for k in 0..count - 1 {
        fill_segment(&mut edges, marks[k], marks[k + 1], size[k], size[k + 1], first_cells);
    }
    edges
}

/// Adds the edges of one segment: equal steps of ∫ dx / width, with width = min(a + G x, b + G (L − x)).
fn fill_segment(edges: &mut Vec<f64>, from: f64, to: f64, a: f64, b: f64, least: f64) {
    let l = to - from;
    let meet = (0.5 * (l + (b - a) / GROWTH)).clamp(0.0, l);
    let left = ln(1.0 + GROWTH * meet / a) / GROWTH;
    let right = ln(1.0 + GROWTH * (l - meet) / b) / GROWTH;
    let cells = (left + right).ceil().max(least);
    let mut k = 1.0;
    while k < cells {
        let s = (left + right) * k / cells;
        let x = if s <= left {
            from + a * (exp(GROWTH * s) - 1.0) / GROWTH
        } else {
            to - b * (exp(GROWTH * (left + right - s)) - 1.0) / GROWTH
        };
        edges.push(x);
        k += 1.0;
    }
    edges.push(to);
}

impl System {
    /// Lays the boxes over the grid and balances every cell.
    ///
    /// # Errors
    /// [`FabricError::Inconsistent`] for a hole that no box covers, or when no solid touches an environment.
    pub fn new(detail: &Detail, grid: Grid) -> Result<Self, FabricError> {
        let mut holder = holders(detail, &grid)?;
        let mixed = polygon::mixed(detail, &grid, &mut holder);
        let n = grid.cells();
        let count = holder.len();
        let mut system = Self {
            stencil: Stencil {
                n,
                face: [vec![0.0; count], vec![0.0; count], vec![0.0; count]],
                diagonal: vec![0.0; count],
                cross: Vec::new(),
            },
            grid,
            holder,
            mixed,
            surfaces: Vec::new(),
        };
        for axis in 0..3 {
            system.join_along(detail, axis);
        }
        system.join_cut(detail);
        for (cell, d) in system.stencil.diagonal.iter_mut().enumerate() {
            let body = detail.regions[system.holder[cell] as usize].body;
            // A solid that touches nothing, between cuts, stands alone too.
            if !matches!(body, Body::Solid(_)) || *d <= 0.0 {
                *d = 1.0;
            }
        }
        if system.surfaces.is_empty() {
            return Err(FabricError::Inconsistent {
                what: "detail".into(),
                detail: "no solid touches an environment; add a box of air against a surface".into(),
            });
        }
        Ok(system)
    }

    /// Conductances of all faces across one axis.
    fn join_along(&mut self, detail: &Detail, axis: usize) {
        let n = self.stencil.n;
        let stride = self.stencil.strides()[axis];
        for cell in 0..self.holder.len() {
            let at = self.grid.place(cell);
            if at[axis] + 1 == n[axis] {
                continue;
            }
            let next = cell + stride;
            let area: f64 = (0..3).filter(|&d| d != axis).map(|d| self.grid.width(d, at[d])).product();
            let half = |k: [f64; 3], i: usize| 0.5 * self.grid.width(axis, i) / k[axis];
            let (a, b) = (self.holder[cell] as usize, self.holder[next] as usize);
            let crossed = self.mixed.contains_key(&cell) || self.mixed.contains_key(&next);
            let bodies = (detail.regions[a].body, detail.regions[b].body);
            // Surfaces beside a crossed cell are gathered with its own.
            if crossed && axis < 2 && !matches!(bodies, (Body::Solid(_), Body::Solid(_))) {
                continue;
            }
            let at_face = |cell: usize, upper: bool| {
                let place = self.grid.place(cell);
                let mut at_m = self.grid.middle(place);
                at_m[axis] = self.grid.edges[axis][place[axis] + usize::from(upper)];
                at_m
            };
            match bodies {
                (Body::Solid(ka), Body::Solid(kb)) => {
                    let g = if crossed {
                        let distance =
                            0.5 * (self.grid.width(axis, at[axis]) + self.grid.width(axis, at[axis] + 1));
                        let cut = Cut { detail, grid: &self.grid, holder: &self.holder, mixed: &self.mixed };
                        cut.between(axis, cell, next, area, distance)
                    } else {
                        area / (half(ka, at[axis]) + half(kb, at[axis] + 1))
                    };
                    self.stencil.face[axis][next] = g;
                    self.stencil.diagonal[cell] += g;
                    self.stencil.diagonal[next] += g;
                }
                (Body::Solid(k), Body::Environment(environment)) => {
                    let film_m2k_w = detail.film_m2k_w(a, b, environment);
                    let conductance = area / (half(k, at[axis]) + film_m2k_w);
                    let at_m = at_face(cell, true);
                    self.open(Surface { cell, environment, at_m, conductance, film_m2k_w, area });
                }
                (Body::Environment(environment), Body::Solid(k)) => {
                    let film_m2k_w = detail.film_m2k_w(b, a, environment);
                    let conductance = area / (half(k, at[axis] + 1) + film_m2k_w);
                    let at_m = at_face(next, false);
                    self.open(Surface { cell: next, environment, at_m, conductance, film_m2k_w, area });
                }
                _ => {}
            }
        }
    }

    fn open(&mut self, surface: Surface) {
        self.stencil.diagonal[surface.cell] += surface.conductance;
        self.surfaces.push(surface);
    }

    /// Surfaces of crossed cells and of those beside them, and the couplings across grid points.
    fn join_cut(&mut self, detail: &Detail) {
        let (mut surfaces, mut cross) = (Vec::new(), Vec::new());
        let n = self.stencil.n;
        let cut = Cut { detail, grid: &self.grid, holder: &self.holder, mixed: &self.mixed };
        for cell in 0..self.holder.len() {
            if self.mixed.is_empty() || !self.near_cut(cell) {
                continue;
            }
            if matches!(detail.regions[self.holder[cell] as usize].body, Body::Solid(_)) {
                cut.surfaces(cell, &mut surfaces);
            }
            let at = self.grid.place(cell);
            if at[0] + 1 < n[0] && at[1] + 1 < n[1] {
                let cells = [cell, cell + 1, cell + n[0], cell + n[0] + 1];
                cross.extend(cut.across(cells, self.grid.width(2, at[2])));
            }
        }
        self.stencil.cross = cross;
        for s in surfaces {
            let Some((area, at_m, distance)) = s.measure(&self.grid) else { continue };
            let Body::Solid(k) = detail.regions[self.holder[s.cell] as usize].body else { continue };
            let at = self.grid.place(s.cell);
            let least = 0.02 * self.grid.width(0, at[0]).min(self.grid.width(1, at[1]));
            // A middle that lies in the air has the temperature its slope gives it there; the film outweighs the distance.
            let resistance = (s.film_m2k_w + distance / k[0]).max(0.25 * s.film_m2k_w + least / k[0]);
            let conductance = area / resistance;
            let (cell, environment, film_m2k_w) = (s.cell, s.environment, s.film_m2k_w);
            self.open(Surface { cell, environment, at_m, conductance, film_m2k_w, area });
        }
    }

    /// Says whether a cell, one beside it or one at its upper corner is crossed by an edge.
    fn near_cut(&self, cell: usize) -> bool {
        let at = self.grid.place(cell);
        let n = self.stencil.n;
        let crossed = |c: usize| self.mixed.contains_key(&c);
        crossed(cell)
            || at[0] > 0 && crossed(cell - 1)
            || at[0] + 1 < n[0] && (crossed(cell + 1) || at[1] + 1 < n[1] && crossed(cell + n[0] + 1))
            || at[1] > 0 && crossed(cell - n[0])
            || at[1] + 1 < n[1] && crossed(cell + n[0])
    }

    /// Heat that enters the cells with one environment at 1 K and the others at zero.
    pub fn unit_load(&self, environment: usize) -> Vec<f64> {
        let mut b = vec![0.0; self.holder.len()];
        for s in self.surfaces.iter().filter(|s| s.environment == environment) {
            b[s.cell] += s.conductance;
        }
        b
    }
}

/// The last box over every cell's middle.
fn holders(detail: &Detail, grid: &Grid) -> Result<Vec<u32>, FabricError> {
    let [nx, ny, nz] = grid.cells();
    let mut holder = vec![u32::MAX; nx * ny * nz];
    for (index, region) in detail.regions.iter().enumerate() {
        let range = |d: usize| {
            let inside = |i: &usize| {
                let x = 0.5 * (grid.edges[d][*i] + grid.edges[d][*i + 1]);
                x > region.low_m[d] && x < region.high_m[d]
            };
            (0..grid.edges[d].len() - 1).filter(inside).collect::<Vec<_>>()
        };
        let (xs, ys, zs) = (range(0), range(1), range(2));
        let holds = |i: usize, j: usize| {
            region.outline.as_ref().is_none_or(|outline| {
                let middle = grid.middle([i, j, 0]);
                polygon::holds(outline, [middle[0], middle[1]])
            })
        };
        for &j in &ys {
            for i in xs.iter().copied().filter(|i| holds(*i, j)) {
                for &k in &zs {
                    holder[i + nx * (j + ny * k)] = index as u32;
                }
            }
        }
    }
    match holder.iter().position(|h| *h == u32::MAX) {
        None => Ok(holder),
        Some(cell) => {
            let [x, y, z] = grid.middle(grid.place(cell));
            Err(FabricError::Inconsistent {
                what: "detail".into(),
                detail: format!(
                    "no box covers the place x = {x:.4}, y = {y:.4}, z = {z:.4} m; fill it with a solid or with air"
                ),
            })
        }
    }
}
