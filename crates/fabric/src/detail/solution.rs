//! Solving a detail, and what is read from the solution.

use super::grid::{Grid, System};
use super::multigrid::{Effort, Multigrid};
use super::{Accuracy, Body, Detail};
use crate::error::{FabricError, within};
use std::sync::Arc;

/// A spot on a surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coldest {
    /// Place, m: the middle of a cell's face.
    pub at_m: [f64; 3],
    /// Temperature, °C.
    pub temperature_c: f64,
}

/// A solved detail.
#[derive(Clone, Debug)]
pub struct Solution {
    detail: Detail,
    system: Arc<System>,
    /// Temperatures with one environment at 1 and the others at 0, for all but the last.
    units: Arc<Vec<Vec<f64>>>,
    temperature_c: Vec<f64>,
    /// Heat from each environment into the solids, W (W/m in a plane section).
    pub flows_w: Vec<f64>,
    /// Coupling coefficient between each pair of environments, W/K (W/(m·K)): L3D or L2D.
    pub coupling: Vec<Vec<f64>>,
    /// Coldest spot of the surfaces towards each environment; none where nothing touches it.
    pub coldest: Vec<Option<Coldest>>,
    /// Warmest spot likewise.
    pub warmest: Vec<Option<Coldest>>,
    /// Estimated relative error of the total flow: a third of its last change, as for a method of second order.
    pub flow_error: f64,
    /// Estimated error of the couplings, W/(m·K) or W/K: a third of their largest last change.
    pub coupling_error: f64,
    /// Last change of the lowest and highest surface temperatures, K.
    pub surface_change_k: f64,
    /// False when the cells allowed did not bring both under what was asked.
    pub settled: bool,
    /// Cells of the finest grid.
    pub cells: usize,
    /// Work on the finest grid, worst of its right-hand sides.
    pub effort: Effort,
}

/// Solves a detail, halving the cells until flows and surface temperatures stand still.
///
/// # Errors
/// [`FabricError`] for boxes or environments that make no sense, a hole between boxes, or a solver that stalls.
/// # Source
/// ISO 10211:2017, clauses 6 and 9 (from memory); its own limits are a change of the flow under 1 %.
/// # Example
/// ```
/// use fabric::detail::{Accuracy, Body, Detail, Environment, Region, solve};
/// // 0.2 m of 0.04 W/(m·K) between two airs: 20 K over 5.17 m²·K/W, one metre wide.
/// let air = |name: &str, t, r| Environment { name: name.into(), temperature_c: t, surface_m2k_w: r };
/// let detail = Detail {
///     plane: true,
///     regions: vec![
///         Region::rectangle("wall", [0.0, 0.0], [0.2, 1.0], Body::solid(0.04)),
///         Region::rectangle("room", [-0.1, 0.0], [0.0, 1.0], Body::Environment(0)),
///         Region::rectangle("outdoors", [0.2, 0.0], [0.3, 1.0], Body::Environment(1)),
///     ],
///     environments: vec![air("room", 20.0, 0.13), air("outdoors", 0.0, 0.04)],
/// };
/// let solution = solve(&detail, &Accuracy::default())?;
/// assert!((solution.flows_w[0] - 20.0 / 5.17).abs() < 1e-8);
/// # Ok::<(), fabric::FabricError>(())
/// ```
pub fn solve(detail: &Detail, accuracy: &Accuracy) -> Result<Solution, FabricError> {
    detail.check()?;
    let mut grid = Grid::graded(detail, accuracy.first_cells);
    let mut last: Option<Solution> = None;
    loop {
        let mut next = solve_on(detail, grid.clone(), accuracy, last.as_ref())?;
        if let Some(before) = &last {
            let (flow, surface) = changes(before, &next, accuracy.spot);
            let coupling = coupling_change(before, &next);
            next.flow_error = flow / 3.0;
            next.coupling_error = coupling / 3.0;
            next.surface_change_k = surface;
            next.settled = flow <= accuracy.flow
                && coupling <= accuracy.coupling
                && surface <= accuracy.surface * span(detail);
        }
        let finer = if detail.plane { 4 } else { 8 };
        if next.settled || next.cells * finer > accuracy.most_cells {
            return Ok(next);
        }
        grid = grid.halved(detail.plane);
        last = Some(next);
    }
}

/// Difference between the warmest and the coldest environment, K; 1 when all are alike.
fn span(detail: &Detail) -> f64 {
    let all = detail.environments.iter().map(|e| e.temperature_c);
    let span = all.clone().fold(f64::MIN, f64::max) - all.fold(f64::MAX, f64::min);
    if span > 0.0 { span } else { 1.0 }
}

/// Relative change of the flows and change of the extreme surface temperatures.
fn changes(before: &Solution, after: &Solution, spot: Option<usize>) -> (f64, f64) {
    let scale: f64 = after.flows_w.iter().map(|q| q.abs()).sum();
    let flow: f64 = before.flows_w.iter().zip(&after.flows_w).map(|(a, b)| (a - b).abs()).sum();
    let skip = spot.unwrap_or(0);
    let take = if spot.is_some() { 1 } else { usize::MAX };
    let cold = before.coldest.iter().zip(&after.coldest).skip(skip).take(take);
    let warm = before.warmest.iter().zip(&after.warmest).filter(|_| spot.is_none());
    let pairs = cold.chain(warm);
    let surface = pairs
        .filter_map(|(a, b)| Some((a.as_ref()?.temperature_c - b.as_ref()?.temperature_c).abs()))
        .fold(0.0, f64::max);
    (if scale > 0.0 { flow / scale } else { 0.0 }, surface)
}

/// Largest change of a coupling.
fn coupling_change(before: &Solution, after: &Solution) -> f64 {
    let pairs = before.coupling.iter().flatten().zip(after.coupling.iter().flatten());
    pairs.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}

/// One grid: a unit solution for every environment but the last, whose own is one less their sum.
pub(super) fn solve_on(
    detail: &Detail,
    grid: Grid,
    accuracy: &Accuracy,
    guess: Option<&Solution>,
) -> Result<Solution, FabricError> {
    let system = System::new(detail, grid)?;
    let multigrid = Multigrid::new(&system.stencil)?;
    let count = detail.environments.len();
    let cells = system.holder.len();
    let mut units = Vec::with_capacity(count.saturating_sub(1));
    let mut coupling = vec![vec![0.0; count]; count];
    let mut effort = Effort { iterations: 0, residual: 0.0, levels: 0 };
    for e in 0..count.saturating_sub(1) {
        let b = system.unit_load(e);
        let mut x = guess.map_or_else(|| vec![0.0; cells], |g| g.finer_guess(&system, e));
        let did = multigrid.solve(&b, &mut x, accuracy.residual)?;
        effort = Effort {
            iterations: effort.iterations.max(did.iterations),
            residual: effort.residual.max(did.residual),
            levels: did.levels,
        };
        for s in system.surfaces.iter().filter(|s| s.environment != e) {
            coupling[s.environment][e] += s.conductance * x[s.cell];
        }
        units.push(x);
    }
    // Only pairs with the last environment were met from one side; the matrix is symmetric.
    for e in 0..count {
        if let Some(last) = count.checked_sub(1) {
            coupling[e][last] = coupling[last][e];
        }
    }
    let mut solution = Solution {
        detail: detail.clone(),
        system: Arc::new(system),
        units: Arc::new(units),
        temperature_c: Vec::new(),
        flows_w: vec![0.0; count],
        coupling,
        coldest: vec![None; count],
        warmest: vec![None; count],
        flow_error: f64::INFINITY,
        coupling_error: f64::INFINITY,
        surface_change_k: f64::INFINITY,
        settled: false,
        cells,
        effort,
    };
    solution.superpose();
    Ok(solution)
}

impl Solution {
    /// Returns the same detail at other temperatures of its environments, °C, without solving again.
    ///
    /// # Errors
    /// [`FabricError::Inconsistent`] unless there is one temperature for every environment.
    pub fn at_temperatures(&self, temperatures_c: &[f64]) -> Result<Self, FabricError> {
        let count = self.detail.environments.len();
        if temperatures_c.len() != count {
            return Err(FabricError::Inconsistent {
                what: "detail".into(),
                detail: format!("{} temperatures for {count} environments", temperatures_c.len()),
            });
        }
        let mut other = self.clone();
        for (e, t) in other.detail.environments.iter_mut().zip(temperatures_c) {
            e.temperature_c = *t;
        }
        other.superpose();
        Ok(other)
    }

    /// Temperatures, flows and extreme surfaces from the unit solutions.
    fn superpose(&mut self) {
        let count = self.detail.environments.len();
        let base = self.detail.environments.last().map_or(0.0, |e| e.temperature_c);
        self.temperature_c = vec![base; self.cells];
        for (unit, e) in self.units.iter().zip(&self.detail.environments) {
            let lift = e.temperature_c - base;
            for (t, x) in self.temperature_c.iter_mut().zip(unit) {
                *t += lift * x;
            }
        }
        self.flows_w = vec![0.0; count];
        self.coldest = vec![None; count];
        self.warmest = vec![None; count];
        self.read_surfaces();
    }

    fn read_surfaces(&mut self) {
        let system = Arc::clone(&self.system);
        for s in &system.surfaces {
            let e = &self.detail.environments[s.environment];
            let flow = s.conductance * (e.temperature_c - self.temperature_c[s.cell]);
            self.flows_w[s.environment] += flow;
            let temperature_c = e.temperature_c - flow / s.area * s.film_m2k_w;
            let spot = Coldest { at_m: s.at_m, temperature_c };
            let (low, high) = (&mut self.coldest[s.environment], &mut self.warmest[s.environment]);
            if low.is_none_or(|c| temperature_c < c.temperature_c) {
                *low = Some(spot);
            }
            if high.is_none_or(|c| temperature_c > c.temperature_c) {
                *high = Some(spot);
            }
        }
    }

    /// A unit solution on the grid of half the cell width.
    fn finer_guess(&self, finer: &System, environment: usize) -> Vec<f64> {
        let [nx, ny, _] = self.system.grid.cells();
        let flat = usize::from(!self.detail.plane);
        (0..finer.holder.len())
            .map(|c| {
                let [i, j, k] = finer.grid.place(c);
                self.units[environment][i / 2 + nx * (j / 2 + ny * (k >> flat))]
            })
            .collect()
    }

    /// Returns the temperature factor of the coldest spot towards an environment, between it and a colder one:
    /// `f_Rsi = (θsi − θe) / (θi − θe)`.
    ///
    /// # Errors
    /// [`FabricError`] when either number is none, nothing touches the first, or both are equally warm.
    pub fn temperature_factor(&self, inside: usize, outside: usize) -> Result<f64, FabricError> {
        let last = self.detail.environments.len() as f64 - 1.0;
        for number in [inside, outside] {
            within(|| "temperature factor".into(), "number of an environment", number as f64, 0.0, last)?;
        }
        let Some(spot) = self.coldest[inside] else {
            return Err(FabricError::Inconsistent {
                what: "temperature factor".into(),
                detail: format!("no surface faces '{}'", self.detail.environments[inside].name),
            });
        };
        crate::surface::temperature_factor(
            spot.temperature_c,
            self.detail.environments[inside].temperature_c,
            self.detail.environments[outside].temperature_c,
        )
    }

    /// Returns the temperature at a place in or on a solid, °C; none outside all solids.
    ///
    /// From every solid cell that touches the place, along its temperature slopes; their mean, weighted by conductivity.
    pub fn temperature_at(&self, place_m: [f64; 3]) -> Option<f64> {
        let touching = |d: usize| -> Vec<usize> {
            let edges = &self.system.grid.edges[d];
            let slack = 1e-9 * (edges[edges.len() - 1] - edges[0]);
            (0..edges.len() - 1)
                .filter(|&i| place_m[d] >= edges[i] - slack && place_m[d] <= edges[i + 1] + slack)
                .collect()
        };
        let (mut sum, mut weight) = (0.0, 0.0);
        let [nx, ny, _] = self.system.grid.cells();
        for k in touching(2) {
            for j in touching(1) {
                for i in touching(0) {
                    let cell = i + nx * (j + ny * k);
                    if let Body::Solid(lambda) = self.body(cell) {
                        let w = (lambda[0] + lambda[1] + lambda[2]) / 3.0;
                        sum += w * self.reach([i, j, k], cell, lambda, place_m);
                        weight += w;
                    }
                }
            }
        }
        if weight > 0.0 { Some(sum / weight) } else { None }
    }

    fn body(&self, cell: usize) -> Body {
        self.detail.regions[self.system.holder[cell] as usize].body
    }

    /// Follows the flow through the faces towards a place within the cell.
    fn reach(&self, at: [usize; 3], cell: usize, lambda: [f64; 3], place_m: [f64; 3]) -> f64 {
        let grid = &self.system.grid;
        let middle = grid.middle(at);
        let strides = self.system.stencil.strides();
        let mut t = self.temperature_c[cell];
        for d in 0..3 {
            let shift = place_m[d] - middle[d];
            if shift == 0.0 {
                continue;
            }
            let upper = shift > 0.0;
            let area: f64 = (0..3).filter(|&e| e != d).map(|e| grid.width(e, at[e])).product();
            let inside = if upper { at[d] + 1 < grid.cells()[d] } else { at[d] > 0 };
            let flow = if !inside {
                0.0
            } else {
                let other = if upper { cell + strides[d] } else { cell - strides[d] };
                match self.body(other) {
                    Body::Solid(_) => {
                        let g = self.system.stencil.face[d][cell.max(other)];
                        g * (self.temperature_c[other] - self.temperature_c[cell])
                    }
                    Body::Environment(e) => {
                        let holder = &self.system.holder;
                        let film = self.detail.film_m2k_w(holder[cell] as usize, holder[other] as usize, e);
                        let half = 0.5 * grid.width(d, at[d]) / lambda[d];
                        let air = self.detail.environments[e].temperature_c;
                        area / (half + film) * (air - self.temperature_c[cell])
                    }
                    Body::Cut => 0.0,
                }
            };
            t += flow / area / lambda[d] * shift.abs();
        }
        t
    }
}
