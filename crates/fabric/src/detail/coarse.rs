//! Coarser balances: interpolation that follows the conductances, and what is left of the balance on every second cell.
//!
//! Every second cell along each axis is kept. Between kept cells the temperature is interpolated so that the balance of
//! the cell in between holds when the conductances across are collapsed along it; so a jump in conductivity bends the
//! interpolation where it must (J. E. Dendy, Black box multigrid, J. Comput. Phys. 48, 1982).
//!
//! `Pᵀ A P` has nine or twenty-seven points. Its slanting couplings are laid onto the straight ones they are made of, so
//! that every level keeps one conductance a face. Smooth fields feel no difference; and the incomplete factorisation
//! that smooths so well across stretched cells does so only on such balances: with nine points its fill is as large as
//! the strong couplings, and the number of iterations was seen to grow by half with every refinement.

use super::stencil::Stencil;
use rayon::prelude::*;

/// Interpolation weights from the next coarser grid.
///
/// A cell has up to one parent below and one above along each axis on which its number is odd. `weight[c · width + slot]`
/// belongs to the parent whose bit `d` of the slot says above; on even axes the bit is 0.
#[derive(Clone, Debug)]
pub(crate) struct Interpolation {
    fine: [usize; 3],
    pub coarse: [usize; 3],
    /// 4 in two dimensions, 8 in three.
    width: usize,
    weight: Vec<f64>,
}

fn index(n: [usize; 3], at: [usize; 3]) -> usize {
    at[0] + n[0] * (at[1] + n[1] * at[2])
}

fn shifted(n: [usize; 3], at: [usize; 3], offset: [i8; 3]) -> Option<[usize; 3]> {
    let mut to = at;
    for d in 0..3 {
        to[d] = at[d].checked_add_signed(isize::from(offset[d]))?;
        if to[d] >= n[d] {
            return None;
        }
    }
    Some(to)
}

impl Interpolation {
    /// Works the weights out from a balance: cells with one odd number first, then two, then three.
    pub fn of(balance: &Stencil) -> Self {
        let fine = balance.n;
        let width = if fine[2] == 1 { 4 } else { 8 };
        let weight = vec![0.0; balance.cells() * width];
        let mut this = Self { fine, coarse: fine.map(|n| n.div_ceil(2)), width, weight };
        for odd in 0..=3_u32 {
            for class in (0..8_u8).filter(|c| c.count_ones() == odd) {
                this.fill_class(balance, class);
            }
        }
        this
    }

    /// Weights of all cells that are odd exactly on the axes of `class`.
    fn fill_class(&mut self, balance: &Stencil, class: u8) {
        let [nx, ny, nz] = self.fine;
        let first = |d: u8| usize::from(class >> d & 1);
        for k in (first(2)..nz).step_by(2) {
            for j in (first(1)..ny).step_by(2) {
                for i in (first(0)..nx).step_by(2) {
                    self.fill_cell(balance, class, [i, j, k]);
                }
            }
        }
    }

    fn fill_cell(&mut self, balance: &Stencil, class: u8, at: [usize; 3]) {
        let mut sums = [0.0; 8];
        if class == 0 {
            sums[0] = 1.0;
        } else {
            let (mut all, mut used) = (0.0, 0.0);
            balance.neighbours(at, |axis, above, g| {
                all += g;
                if class >> axis & 1 == 1 && g > 0.0 {
                    used += g;
                    self.gather(at, class, axis, above, g, &mut sums);
                }
            });
            if used <= 0.0 {
                return;
            }
            // What a film takes is owed in proportion by all couplings: where those across are the strong ones, as
            // in a cell stretched along a surface, they feed the film and the interpolation along must ignore it.
            let scale = all / (used * balance.diagonal[index(self.fine, at)]);
            sums.iter_mut().for_each(|s| *s *= scale);
        }
        let c = index(self.fine, at) * self.width;
        self.weight[c..c + self.width].copy_from_slice(&sums[..self.width]);
    }

    /// Adds a neighbour's own weights, named as this cell names its parents.
    fn gather(&self, at: [usize; 3], class: u8, axis: usize, above: bool, g: f64, sums: &mut [f64; 8]) {
        let mut offset = [0_i8; 3];
        offset[axis] = if above { 1 } else { -1 };
        let Some(next) = shifted(self.fine, at, offset) else { return };
        let open = class & !(1 << axis);
        let side = usize::from(above) << axis;
        let c = index(self.fine, next) * self.width;
        for slot in 0..self.width {
            if slot & !usize::from(open) == 0 {
                sums[side | slot] += g * self.weight[c + slot];
            }
        }
    }

    /// Calls `f(coarse cell, weight)` for every parent of a cell.
    fn parents(&self, at: [usize; 3], mut f: impl FnMut([usize; 3], f64)) {
        let c = index(self.fine, at) * self.width;
        for (slot, &w) in self.weight[c..c + self.width].iter().enumerate() {
            if w != 0.0 {
                f([0, 1, 2].map(|d| at[d] / 2 + (slot >> d & 1)), w);
            }
        }
    }

    /// Weight of the coarse cell for the fine cell that lies `offset` from it, with that cell.
    fn child(&self, coarse: [usize; 3], offset: [i8; 3]) -> Option<([usize; 3], f64)> {
        let fine = shifted(self.fine, coarse.map(|x| 2 * x), offset)?;
        let slot = (0..3).fold(0, |s, d| s | usize::from(offset[d] < 0) << d);
        let w = self.weight[index(self.fine, fine) * self.width + slot];
        if w == 0.0 { None } else { Some((fine, w)) }
    }

    /// The nine or twenty-seven offsets of a coarse cell's children.
    fn offsets(&self) -> Vec<[i8; 3]> {
        let deep: &[i8] = if self.width == 8 { &[-1, 0, 1] } else { &[0] };
        let plane = deep.iter().flat_map(|&z| [-1, 0, 1].map(|y| (y, z)));
        plane.flat_map(|(y, z)| [-1, 0, 1].map(|x| [x, y, z])).collect()
    }

    /// Sets `coarse = Pᵀ fine`.
    pub fn restrict(&self, fine: &[f64], coarse: &mut [f64]) {
        let [nx, ny, _] = self.coarse;
        let offsets = self.offsets();
        coarse.par_chunks_mut(nx).enumerate().for_each(|(row, out)| {
            let (j, k) = (row % ny, row / ny);
            for (i, out) in out.iter_mut().enumerate() {
                let mut sum = 0.0;
                for &offset in &offsets {
                    if let Some((at, w)) = self.child([i, j, k], offset) {
                        sum += w * fine[index(self.fine, at)];
                    }
                }
                *out = sum;
            }
        });
    }

    /// Adds `P coarse` to `fine`.
    pub fn prolong(&self, coarse: &[f64], fine: &mut [f64]) {
        let [nx, ny, _] = self.fine;
        let steps = [1, self.coarse[0], self.coarse[0] * self.coarse[1]];
        fine.par_chunks_mut(nx).enumerate().for_each(|(row, out)| {
            let (j, k) = (row % ny, row / ny);
            let base = index(self.coarse, [0, j / 2, k / 2]);
            let weights = self.weight[row * nx * self.width..].chunks_exact(self.width);
            for (i, (out, w)) in out.iter_mut().zip(weights).enumerate() {
                let mut sum = 0.0;
                for (slot, w) in w.iter().enumerate() {
                    if *w != 0.0 {
                        let step =
                            (slot & 1) * steps[0] + (slot >> 1 & 1) * steps[1] + (slot >> 2) * steps[2];
                        sum += w * coarse[base + i / 2 + step];
                    }
                }
                *out += sum;
            }
        });
    }
}

/// One row of `Pᵀ A P`, laid onto the axes: half of each coupling to the lower and upper neighbours, and the row sum.
#[derive(Clone, Copy, Default)]
struct Laid {
    half: [[f64; 2]; 3],
    excess: f64,
    diagonal: f64,
}

/// Returns the coarse balance.
pub(crate) fn coarsened(balance: &Stencil, p: &Interpolation) -> Stencil {
    let n = p.coarse;
    let cells = n.iter().product::<usize>();
    let offsets = p.offsets();
    let mut rows = vec![Laid::default(); cells];
    rows.par_chunks_mut(n[0]).enumerate().for_each(|(row, out)| {
        let (j, k) = (row % n[1], row / n[1]);
        for (i, out) in out.iter_mut().enumerate() {
            *out = laid_row(balance, p, &offsets, [i, j, k]);
        }
    });
    let mut coarse = Stencil {
        n,
        face: [vec![0.0; cells], vec![0.0; cells], vec![0.0; cells]],
        diagonal: rows.iter().map(|r| r.excess.max(0.0)).collect(),
        cross: Vec::new(),
    };
    let strides = coarse.strides();
    for c in 0..cells {
        let at = [c % n[0], c / n[0] % n[1], c / (n[0] * n[1])];
        for d in 0..3 {
            if at[d] > 0 {
                let below = c - strides[d];
                // Couplings below zero come from jumps that the laying on cannot follow; none is the nearest allowed.
                let g = (rows[c].half[d][0] + rows[below].half[d][1]).max(0.0);
                coarse.face[d][c] = g;
                coarse.diagonal[c] += g;
                coarse.diagonal[below] += g;
            }
        }
    }
    for (d, row) in coarse.diagonal.iter_mut().zip(&rows) {
        // A cell that touches nothing stands alone.
        if *d <= 0.0 {
            *d = if row.diagonal > 0.0 { row.diagonal } else { 1.0 };
        }
    }
    coarse
}

/// Over the cell's children, their neighbours, and the parents of those.
fn laid_row(balance: &Stencil, p: &Interpolation, offsets: &[[i8; 3]], at: [usize; 3]) -> Laid {
    let mut laid = Laid::default();
    let mut add = |fine: [usize; 3], value: f64| {
        p.parents(fine, |parent, w| {
            let value = value * w;
            laid.excess += value;
            if parent == at {
                laid.diagonal += value;
            }
            for d in 0..3 {
                if parent[d] != at[d] {
                    laid.half[d][usize::from(parent[d] > at[d])] -= 0.5 * value;
                }
            }
        });
    };
    for &offset in offsets {
        let Some((child, w)) = p.child(at, offset) else { continue };
        add(child, w * balance.diagonal[index(p.fine, child)]);
        balance.neighbours(child, |axis, above, g| {
            if g > 0.0 {
                let mut next = child;
                next[axis] = if above { child[axis] + 1 } else { child[axis] - 1 };
                add(next, -w * g);
            }
        });
    }
    laid
}
