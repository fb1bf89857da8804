//! The balance on the finest grid, and its products, without a stored matrix.
//!
//! A cell balances its faces: `(A T)_c = d_c T_c − Σ g (T of the neighbour)`. Only one conductance a face and one
//! diagonal a cell are kept; a cell outside the solid has a diagonal of one and no neighbours.

use rayon::prelude::*;

/// Rows handled by one task: enough work to be worth handing out, few enough to share among cores.
const CELLS_PER_TASK: usize = 16_384;
/// Cells summed in one go; fixed, so that sums do not depend on the number of threads.
const CELLS_PER_SUM: usize = 4_096;

/// A symmetric seven-point balance on a tensor grid; two-dimensional when `n[2]` is 1.
#[derive(Clone, Debug)]
pub(crate) struct Stencil {
    /// Cells along x, y, z.
    pub n: [usize; 3],
    /// `face[d][c]`: conductance between cell c and its lower neighbour along d; 0 where there is none.
    pub face: [Vec<f64>; 3],
    /// Sum of a cell's face conductances and films; 1 outside the solid.
    pub diagonal: Vec<f64>,
    /// Couplings across grid points, where an interface slopes. Only [`Self::apply_whole`] knows of them: what stands in
    /// front of the conjugate gradients does without.
    pub cross: Vec<Cross>,
}

/// Coupling over four cells around a grid point: energy `c (T₁₀ + T₁₁ − T₀₀ − T₀₁)(T₀₁ + T₁₁ − T₀₀ − T₁₀)`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Cross {
    /// Lower left, lower right, upper left, upper right.
    pub cells: [u32; 4],
    pub conductance: f64,
}

impl Stencil {
    pub fn cells(&self) -> usize {
        self.diagonal.len()
    }

    /// Steps in the cell index along x, y, z.
    pub fn strides(&self) -> [usize; 3] {
        [1, self.n[0], self.n[0] * self.n[1]]
    }

    /// Rows along x that one task takes.
    pub fn rows_per_task(&self) -> usize {
        (CELLS_PER_TASK / self.n[0]).max(1)
    }

    /// Calls `f(axis, above, conductance)` for every neighbour of the cell at `at`.
    pub fn neighbours(&self, at: [usize; 3], mut f: impl FnMut(usize, bool, f64)) {
        let strides = self.strides();
        let c = at[0] + strides[1] * at[1] + strides[2] * at[2];
        for d in 0..3 {
            if at[d] > 0 {
                f(d, false, self.face[d][c]);
            }
            if at[d] + 1 < self.n[d] {
                f(d, true, self.face[d][c + strides[d]]);
            }
        }
    }

    /// Returns the balance as a full matrix, row by row.
    pub fn dense(&self) -> Vec<f64> {
        let n = self.cells();
        let strides = self.strides();
        let mut matrix = vec![0.0; n * n];
        for c in 0..n {
            matrix[c * n + c] = self.diagonal[c];
            for d in 0..3 {
                let g = self.face[d][c];
                if g > 0.0 {
                    matrix[c * n + c - strides[d]] = -g;
                    matrix[(c - strides[d]) * n + c] = -g;
                }
            }
        }
        matrix
    }

    /// Sets `out = b − A x`, or `out = A x` without `b`.
    pub fn apply(&self, x: &[f64], b: Option<&[f64]>, out: &mut [f64]) {
        let nx = self.n[0];
        let rows = self.rows_per_task();
        out.par_chunks_mut(nx * rows).enumerate().for_each(|(task, chunk)| {
            for (k, row) in chunk.chunks_mut(nx).enumerate() {
                self.apply_row(task * rows + k, x, row);
                if let Some(b) = b {
                    let start = (task * rows + k) * nx;
                    for (o, b) in row.iter_mut().zip(&b[start..start + nx]) {
                        *o = b - *o;
                    }
                }
            }
        });
    }

    /// The same with the couplings across grid points.
    pub fn apply_whole(&self, x: &[f64], b: Option<&[f64]>, out: &mut [f64]) {
        self.apply(x, b, out);
        let sign = if b.is_some() { -1.0 } else { 1.0 };
        for cross in &self.cross {
            let cells = cross.cells.map(|c| c as usize);
            let [t00, t10, t01, t11] = cells.map(|c| x[c]);
            let c = sign * cross.conductance;
            let (a, b) = (c * (t10 + t11 - t00 - t01), c * (t01 + t11 - t00 - t10));
            out[cells[0]] -= a + b;
            out[cells[1]] += b - a;
            out[cells[2]] += a - b;
            out[cells[3]] += a + b;
        }
    }

    fn apply_row(&self, row: usize, x: &[f64], out: &mut [f64]) {
        let [nx, ny, nz] = self.n;
        let (j, k) = (row % ny, row / ny);
        let start = row * nx;
        let here = start..start + nx;
        let xr = &x[here.clone()];
        for ((o, d), x) in out.iter_mut().zip(&self.diagonal[here.clone()]).zip(xr) {
            *o = d * x;
        }
        let gx = &self.face[0][here.clone()];
        for ((o, g), x) in out[1..].iter_mut().zip(&gx[1..]).zip(xr) {
            *o -= g * x;
        }
        for ((o, g), x) in out.iter_mut().zip(&gx[1..]).zip(&xr[1..]) {
            *o -= g * x;
        }
        let mut subtract = |g: &[f64], x: &[f64]| {
            for ((o, g), x) in out.iter_mut().zip(g).zip(x) {
                *o -= g * x;
            }
        };
        for (d, stride, below, above) in [(1, nx, j > 0, j + 1 < ny), (2, nx * ny, k > 0, k + 1 < nz)] {
            if below {
                subtract(&self.face[d][here.clone()], &x[start - stride..start - stride + nx]);
            }
            if above {
                let next = start + stride..start + stride + nx;
                subtract(&self.face[d][next.clone()], &x[next]);
            }
        }
    }

    /// Diagonal of the incomplete factorisation, inverted: `1 / (d_c − Σ_lower g² / d_lower + σ Σ fill)`.
    ///
    /// Elimination couples the upper neighbours of a cell; these couplings are dropped and a share σ of each is put on
    /// both diagonals. Without it (σ = 0) errors that alternate across stretched cells are not damped at all.
    /// Source: G. Wittum, On the robustness of ILU smoothing, SIAM J. Sci. Stat. Comput. 10 (1989).
    pub fn factor(&self) -> Vec<f64> {
        const SHARE: f64 = 0.5;
        let strides = self.strides();
        let mut fill = vec![0.0; self.cells()];
        let mut inverse = vec![0.0; self.cells()];
        for c in 0..self.cells() {
            let own = self.diagonal[c];
            let mut d = own + SHARE * fill[c];
            for axis in 0..3 {
                let g = self.face[axis][c];
                // A face conductance above zero implies a lower neighbour.
                if g > 0.0 {
                    d -= g * g * inverse[c - strides[axis]];
                }
            }
            inverse[c] = 1.0 / if d > 1e-13 * own { d } else { own };
            let up = [0, 1, 2].map(|axis| self.face[axis].get(c + strides[axis]).copied().unwrap_or(0.0));
            for (a, b) in [(0, 1), (0, 2), (1, 2)] {
                let f = up[a] * up[b] * inverse[c];
                // In two dimensions the next plane does not exist, nor does the last cell's neighbour.
                if f > 0.0 {
                    fill[c + strides[a]] += f;
                    fill[c + strides[b]] += f;
                }
            }
        }
        inverse
    }

    /// Sets `x ← x + M⁻¹ r` for the incomplete factorisation M, one forward and one backward sweep; spoils `r`.
    pub fn smooth(&self, inverse: &[f64], r: &mut [f64], x: &mut [f64]) {
        let [nx, ny, nz] = self.n;
        let plane = nx * ny;
        for row in 0..ny * nz {
            let start = row * nx;
            let (before, rest) = r.split_at_mut(start);
            let t = &mut rest[..nx];
            let here = start..start + nx;
            if row % ny > 0 {
                add_products(t, &self.face[1][here.clone()], &before[start - nx..]);
            }
            if row >= ny {
                add_products(t, &self.face[2][here.clone()], &before[start - plane..start - plane + nx]);
            }
            let (g, inverse) = (&self.face[0][here.clone()], &inverse[here]);
            let mut last = 0.0;
            for ((t, g), inverse) in t.iter_mut().zip(g).zip(inverse) {
                last = (*t + g * last) * inverse;
                *t = last;
            }
        }
        let mut gather = vec![0.0; nx];
        for row in (0..ny * nz).rev() {
            let start = row * nx;
            let (head, after) = r.split_at_mut(start + nx);
            let t = &mut head[start..];
            gather.fill(0.0);
            if row % ny + 1 < ny {
                add_products(&mut gather, &self.face[1][start + nx..start + 2 * nx], &after[..nx]);
            }
            if row / ny + 1 < nz {
                let up = start + plane..start + plane + nx;
                add_products(&mut gather, &self.face[2][up], &after[plane - nx..plane]);
            }
            let gx = &self.face[0][start..start + nx];
            let mut last = 0.0;
            let mut g_next = 0.0;
            for i in (0..nx).rev() {
                last = t[i] + (gather[i] + g_next * last) * inverse[start + i];
                t[i] = last;
                g_next = gx[i];
            }
        }
        add(x, r);
    }
}

fn add_products(out: &mut [f64], g: &[f64], x: &[f64]) {
    for ((o, g), x) in out.iter_mut().zip(g).zip(x) {
        *o += g * x;
    }
}

/// Sets `y ← y + x`.
pub(crate) fn add(y: &mut [f64], x: &[f64]) {
    y.par_chunks_mut(CELLS_PER_TASK).zip(x.par_chunks(CELLS_PER_TASK)).for_each(|(y, x)| {
        for (y, x) in y.iter_mut().zip(x) {
            *y += x;
        }
    });
}

/// Sets `y ← y + a x`.
pub(crate) fn add_scaled(y: &mut [f64], a: f64, x: &[f64]) {
    y.par_chunks_mut(CELLS_PER_TASK).zip(x.par_chunks(CELLS_PER_TASK)).for_each(|(y, x)| {
        for (y, x) in y.iter_mut().zip(x) {
            *y += a * x;
        }
    });
}

/// Sets `y ← x + a y`.
pub(crate) fn scale_and_add(y: &mut [f64], a: f64, x: &[f64]) {
    y.par_chunks_mut(CELLS_PER_TASK).zip(x.par_chunks(CELLS_PER_TASK)).for_each(|(y, x)| {
        for (y, x) in y.iter_mut().zip(x) {
            *y = x + a * *y;
        }
    });
}

/// Returns Σ x y in an order that does not depend on the number of threads.
pub(crate) fn dot(x: &[f64], y: &[f64]) -> f64 {
    let sums: Vec<f64> = x
        .par_chunks(CELLS_PER_SUM)
        .zip(y.par_chunks(CELLS_PER_SUM))
        .map(|(x, y)| {
            // Eight running sums, so that the loop can be vectorised without changing the order.
            let mut lanes = [0.0; 8];
            let (xs, ys) = (x.chunks_exact(8), y.chunks_exact(8));
            let tail: f64 = xs.remainder().iter().zip(ys.remainder()).map(|(x, y)| x * y).sum();
            for (x, y) in xs.zip(ys) {
                for l in 0..8 {
                    lanes[l] += x[l] * y[l];
                }
            }
            lanes.iter().sum::<f64>() + tail
        })
        .collect();
    numeric::sum::pairwise(&sums)
}
