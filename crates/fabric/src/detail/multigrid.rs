//! Conjugate gradients with a symmetric multigrid cycle in front.

use super::coarse::{Interpolation, coarsened};
use super::stencil::{Stencil, add_scaled, dot, scale_and_add};
use crate::error::FabricError;
use numeric::dense::Cholesky;

/// Cells at which the hierarchy ends in a direct solution.
const COARSEST: usize = 48;

/// What the solver did.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effort {
    /// Iterations of conjugate gradients.
    pub iterations: u32,
    /// ‖b − A x‖ / ‖b‖, recomputed at the end.
    pub residual: f64,
    /// Grids in the hierarchy.
    pub levels: usize,
}

/// A hierarchy of balances over one grid; several right-hand sides can share it.
pub(crate) struct Multigrid<'a> {
    fine: &'a Stencil,
    /// Inverse diagonals of the incomplete factorisations, finest first.
    inverse: Vec<Vec<f64>>,
    down: Vec<Interpolation>,
    coarse: Vec<Stencil>,
    bottom: Cholesky,
}

/// Vectors of one coarse level.
struct Work {
    x: Vec<f64>,
    b: Vec<f64>,
    r: Vec<f64>,
}

impl<'a> Multigrid<'a> {
    pub fn new(fine: &'a Stencil) -> Result<Self, FabricError> {
        let mut down = Vec::new();
        let mut coarse: Vec<Stencil> = Vec::new();
        loop {
            let last = coarse.last().unwrap_or(fine);
            if last.cells() <= COARSEST || last.n.iter().all(|&n| n < 3) {
                break;
            }
            let p = Interpolation::of(last);
            let next = coarsened(last, &p);
            down.push(p);
            coarse.push(next);
        }
        let last = coarse.last().unwrap_or(fine);
        let bottom = Cholesky::new(last.cells(), &last.dense()).map_err(|e| FabricError::Numerical {
            what: "detail".into(),
            detail: format!(
                "the coarsest balance cannot be solved ({e}); is a solid cut off from every environment?"
            ),
        })?;
        let inverse = std::iter::once(fine).chain(&coarse).map(Stencil::factor).collect();
        Ok(Self { fine, inverse, down, coarse, bottom })
    }

    /// Solves `A x = b` from the `x` given until ‖r‖ ≤ `tolerance` ‖b‖.
    ///
    /// Where conductances span so far that temperatures in double precision cannot balance them that well, as in thin
    /// metal on a very fine grid, it ends at what rounding allows, four units in the last place of `2 D x`.
    ///
    /// # Errors
    /// [`FabricError::NoConvergence`] after 200 iterations.
    pub fn solve(&self, b: &[f64], x: &mut [f64], tolerance: f64) -> Result<Effort, FabricError> {
        let levels = self.coarse.len() + 1;
        let scale = dot(b, b).sqrt();
        if scale == 0.0 {
            x.fill(0.0);
            return Ok(Effort { iterations: 0, residual: 0.0, levels });
        }
        let mut works: Vec<Work> = self
            .coarse
            .iter()
            .map(|c| {
                let zero = vec![0.0; c.cells()];
                Work { x: zero.clone(), b: zero.clone(), r: zero }
            })
            .collect();
        let cells = self.fine.cells();
        let (mut r, mut z, mut p, mut q) =
            (vec![0.0; cells], vec![0.0; cells], vec![0.0; cells], vec![0.0; cells]);
        self.fine.apply_whole(x, Some(b), &mut r);
        let mut old = 0.0;
        let mut floor = 0.0;
        for iterations in 0..200 {
            if iterations % 4 == 3 {
                floor = self.rounding(x);
            }
            let norm = dot(&r, &r).sqrt();
            if norm <= (tolerance * scale).max(floor) {
                // Recurrences drift: only the true residual counts.
                self.fine.apply_whole(x, Some(b), &mut q);
                let residual = dot(&q, &q).sqrt() / scale;
                if residual <= tolerance.max(self.rounding(x) / scale) {
                    return Ok(Effort { iterations, residual, levels });
                }
                r.copy_from_slice(&q);
                old = 0.0;
            }
            self.cycle(&r, &mut z, &mut q, &mut works);
            let new = dot(&r, &z);
            scale_and_add(&mut p, if old == 0.0 { 0.0 } else { new / old }, &z);
            old = new;
            self.fine.apply_whole(&p, None, &mut q);
            let alpha = new / dot(&p, &q);
            add_scaled(x, alpha, &p);
            add_scaled(&mut r, -alpha, &q);
        }
        self.fine.apply_whole(x, Some(b), &mut q);
        let change = dot(&q, &q).sqrt() / scale;
        Err(FabricError::NoConvergence { what: "detail".into(), iterations: 200, change })
    }

    /// Norm of the residual that rounding of `x` alone leaves.
    fn rounding(&self, x: &[f64]) -> f64 {
        let terms: Vec<f64> = self.fine.diagonal.iter().zip(x).map(|(d, x)| d * x).collect();
        8.0 * f64::EPSILON * dot(&terms, &terms).sqrt()
    }

    /// Sets `z = B r`, one cycle from zero; `t` is scratch.
    fn cycle(&self, r: &[f64], z: &mut [f64], t: &mut [f64], works: &mut [Work]) {
        self.descend(0, self.fine, r, z, t, works);
    }

    fn descend(
        &self,
        level: usize,
        a: &Stencil,
        b: &[f64],
        x: &mut [f64],
        r: &mut [f64],
        works: &mut [Work],
    ) {
        let Some((next, rest)) = works.split_first_mut() else {
            x.copy_from_slice(&self.bottom.solve(b));
            return;
        };
        x.fill(0.0);
        r.copy_from_slice(b);
        a.smooth(&self.inverse[level], r, x);
        a.apply(x, Some(b), r);
        self.down[level].restrict(r, &mut next.b);
        self.descend(level + 1, &self.coarse[level], &next.b, &mut next.x, &mut next.r, rest);
        self.down[level].prolong(&next.x, x);
        a.apply(x, Some(b), r);
        a.smooth(&self.inverse[level], r, x);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tensor grid of conductivities with fixed temperature on the low x face through half a cell.
    fn balance(n: [usize; 3], widths: [Vec<f64>; 3], k: impl Fn([usize; 3]) -> f64) -> (Stencil, Vec<f64>) {
        let cells = n.iter().product();
        let mut s = Stencil {
            n,
            face: [vec![0.0; cells], vec![0.0; cells], vec![0.0; cells]],
            diagonal: vec![0.0; cells],
            cross: Vec::new(),
        };
        let mut b = vec![0.0; cells];
        let stride = s.strides();
        for c in 0..cells {
            let at = [c % n[0], c / n[0] % n[1], c / stride[2]];
            for d in 0..3 {
                let area: f64 = (0..3).filter(|&e| e != d).map(|e| widths[e][at[e]]).product();
                let half = |at: [usize; 3]| 0.5 * widths[d][at[d]] / k(at);
                if at[d] > 0 {
                    let mut low = at;
                    low[d] -= 1;
                    let g = area / (half(at) + half(low));
                    s.face[d][c] = g;
                    s.diagonal[c] += g;
                    s.diagonal[c - stride[d]] += g;
                } else if d == 0 {
                    s.diagonal[c] += area / half(at);
                    b[c] += area / half(at);
                }
                if d == 1 && at[1] + 1 == n[1] {
                    s.diagonal[c] += area * 8.0;
                }
            }
        }
        (s, b)
    }

    fn graded(n: usize, ratio: f64) -> Vec<f64> {
        (0..n).map(|i| 1.0 + (ratio - 1.0) * (i as f64 / n as f64)).map(|w| w / n as f64).collect()
    }

    fn jump(at: [usize; 3]) -> f64 {
        if (at[0] / 7 + at[1] / 5 + at[2] / 3).is_multiple_of(2) {
            0.1
        } else if at[0] % 23 < 2 {
            200.0
        } else {
            1.0
        }
    }

    #[test]
    fn few_iterations_on_homogeneous_and_jumping_grids() {
        for (n, name) in [([129, 100, 1], "plane"), ([33, 30, 29], "solid")] {
            for jumps in [false, true] {
                let widths = [graded(n[0], 50.0), graded(n[1], 20.0), graded(n[2], 10.0)];
                let (s, b) = balance(n, widths, |at| if jumps { jump(at) } else { 1.0 });
                let mg = Multigrid::new(&s).unwrap();
                let mut x = vec![0.0; s.cells()];
                let effort = mg.solve(&b, &mut x, 1e-10).unwrap();
                assert!(effort.iterations <= 30, "{name} {jumps}: {effort:?}");
                assert!(effort.residual <= 1e-10);
            }
        }
    }

    #[test]
    fn small_grid_matches_dense_solution() {
        let n = [7, 6, 5];
        let widths = [graded(7, 5.0), graded(6, 3.0), graded(5, 2.0)];
        let (s, b) = balance(n, widths, jump);
        let mut x = vec![0.0; s.cells()];
        Multigrid::new(&s).unwrap().solve(&b, &mut x, 1e-13).unwrap();
        let cells = s.cells();
        let mut matrix = vec![0.0; cells * cells];
        let mut unit = vec![0.0; cells];
        let mut column = vec![0.0; cells];
        for c in 0..cells {
            unit[c] = 1.0;
            s.apply(&unit, None, &mut column);
            unit[c] = 0.0;
            for (row, value) in column.iter().enumerate() {
                matrix[row * cells + c] = *value;
            }
        }
        let exact = numeric::dense::solve(cells, &matrix, &b).unwrap();
        for (a, e) in x.iter().zip(&exact) {
            assert!((a - e).abs() < 1e-10, "{a} {e}");
        }
    }
}
