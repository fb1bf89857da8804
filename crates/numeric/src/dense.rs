//! Small dense systems: elimination with pivoting, Cholesky, and the eigenvalues of symmetric matrices.
//!
//! Matrices are row by row in one slice: element (i, j) is `a[i * n + j]`. Meant for up to a few hundred
//! unknowns.

use crate::NumericError;
use crate::error::require_len;

/// A square matrix factored as L·U with row exchanges.
#[derive(Clone, Debug)]
pub struct Lu {
    n: usize,
    a: Vec<f64>,
    rows: Vec<usize>,
}

impl Lu {
    /// Factors a matrix, taking the largest pivot of each column.
    ///
    /// # Errors
    /// [`NumericError::Sizes`] unless `a` has n² elements; [`NumericError::Singular`] when no pivot is left.
    pub fn new(n: usize, a: &[f64]) -> Result<Self, NumericError> {
        require_len("matrix", n * n, a.len())?;
        let mut a = a.to_vec();
        let mut rows: Vec<usize> = (0..n).collect();
        for k in 0..n {
            let mut best = k;
            for i in k + 1..n {
                if a[i * n + k].abs() > a[best * n + k].abs() {
                    best = i;
                }
            }
            let pivot = a[best * n + k];
            if pivot == 0.0 || !pivot.is_finite() {
                return Err(NumericError::Singular { row: k });
            }
            if best != k {
                rows.swap(k, best);
                for j in 0..n {
                    a.swap(k * n + j, best * n + j);
                }
            }
            for i in k + 1..n {
                let factor = a[i * n + k] / pivot;
                a[i * n + k] = factor;
                for j in k + 1..n {
                    a[i * n + j] -= factor * a[k * n + j];
                }
            }
        }
        Ok(Self { n, a, rows })
    }

    /// Returns the solution of A x = b.
    ///
    /// # Panics
    /// When `b` is shorter than the matrix.
    pub fn solve(&self, b: &[f64]) -> Vec<f64> {
        let n = self.n;
        let mut x: Vec<f64> = self.rows.iter().map(|&r| b[r]).collect();
        for i in 0..n {
            for j in 0..i {
                x[i] -= self.a[i * n + j] * x[j];
            }
        }
        for i in (0..n).rev() {
            for j in i + 1..n {
                x[i] -= self.a[i * n + j] * x[j];
            }
            x[i] /= self.a[i * n + i];
        }
        x
    }

    /// Returns the inverse, row by row.
    pub fn inverse(&self) -> Vec<f64> {
        let n = self.n;
        let mut out = vec![0.0; n * n];
        let mut unit = vec![0.0; n];
        for j in 0..n {
            unit[j] = 1.0;
            for (i, v) in self.solve(&unit).into_iter().enumerate() {
                out[i * n + j] = v;
            }
            unit[j] = 0.0;
        }
        out
    }

    /// Returns the determinant.
    pub fn determinant(&self) -> f64 {
        let n = self.n;
        let mut seen = vec![false; n];
        let mut sign = 1.0;
        for start in 0..n {
            // A cycle of even length is an odd permutation.
            let (mut at, mut length) = (start, 0);
            while !seen[at] {
                seen[at] = true;
                at = self.rows[at];
                length += 1;
            }
            if length > 0 && length % 2 == 0 {
                sign = -sign;
            }
        }
        (0..n).fold(sign, |d, i| d * self.a[i * n + i])
    }
}

/// Solves one system A x = b.
///
/// # Errors
/// As [`Lu::new`], and [`NumericError::Sizes`] when `b` does not have n elements.
pub fn solve(n: usize, a: &[f64], b: &[f64]) -> Result<Vec<f64>, NumericError> {
    require_len("right-hand side", n, b.len())?;
    Ok(Lu::new(n, a)?.solve(b))
}

/// Solves N equations in every lane, in place, by elimination without exchanges: `b` becomes the solution and
/// `a` is used up.
///
/// For matrices whose diagonal outweighs its row (or column), as heat and flow balances give: there no
/// exchange is needed, and every lane does the same operations. A zero pivot shows as infinities in its lane.
#[inline(always)]
pub fn solve_lanes<const N: usize, const L: usize>(a: &mut [[[f64; L]; N]; N], b: &mut [[f64; L]; N]) {
    for k in 0..N {
        let mut inverse = [0.0; L];
        for l in 0..L {
            inverse[l] = 1.0 / a[k][k][l];
        }
        a[k][k] = inverse;
        let (top, below) = a.split_at_mut(k + 1);
        let (b_top, b_below) = b.split_at_mut(k + 1);
        for (row, r) in below.iter_mut().zip(b_below) {
            let mut factor = [0.0; L];
            for l in 0..L {
                factor[l] = row[k][l] * inverse[l];
            }
            for j in k + 1..N {
                for l in 0..L {
                    row[j][l] -= factor[l] * top[k][j][l];
                }
            }
            for l in 0..L {
                r[l] -= factor[l] * b_top[k][l];
            }
        }
    }
    for i in (0..N).rev() {
        let mut x = b[i];
        for j in i + 1..N {
            for l in 0..L {
                x[l] -= a[i][j][l] * b[j][l];
            }
        }
        for l in 0..L {
            x[l] *= a[i][i][l];
        }
        b[i] = x;
    }
}

/// The lower triangle G of a positive definite matrix A = G·Gᵀ.
#[derive(Clone, Debug)]
pub struct Cholesky {
    n: usize,
    g: Vec<f64>,
}

impl Cholesky {
    /// Factors a symmetric matrix; only its lower triangle is read.
    ///
    /// # Errors
    /// [`NumericError::Sizes`]; [`NumericError::NotPositiveDefinite`] with the row where it shows.
    pub fn new(n: usize, a: &[f64]) -> Result<Self, NumericError> {
        require_len("matrix", n * n, a.len())?;
        let mut g = vec![0.0; n * n];
        for i in 0..n {
            for j in 0..=i {
                let mut s = a[i * n + j];
                for k in 0..j {
                    s -= g[i * n + k] * g[j * n + k];
                }
                if i != j {
                    g[i * n + j] = s / g[j * n + j];
                } else if s > 0.0 {
                    g[i * n + i] = s.sqrt();
                } else {
                    return Err(NumericError::NotPositiveDefinite { row: i });
                }
            }
        }
        Ok(Self { n, g })
    }

    /// Element (i, j) of G.
    pub fn lower(&self, i: usize, j: usize) -> f64 {
        self.g[i * self.n + j]
    }

    /// Returns the solution of A x = b.
    ///
    /// # Panics
    /// When `b` is shorter than the matrix.
    pub fn solve(&self, b: &[f64]) -> Vec<f64> {
        let n = self.n;
        let mut x = b[..n].to_vec();
        for i in 0..n {
            for j in 0..i {
                x[i] -= self.g[i * n + j] * x[j];
            }
            x[i] /= self.g[i * n + i];
        }
        for i in (0..n).rev() {
            for j in i + 1..n {
                x[i] -= self.g[j * n + i] * x[j];
            }
            x[i] /= self.g[i * n + i];
        }
        x
    }

    /// Returns G·z: independent standard numbers made into correlated ones.
    ///
    /// # Panics
    /// When `z` is shorter than the matrix.
    pub fn correlate(&self, z: &[f64]) -> Vec<f64> {
        let n = self.n;
        (0..n).map(|i| (0..=i).fold(0.0, |s, j| s + self.g[i * n + j] * z[j])).collect()
    }

    /// Returns ln det A.
    pub fn ln_determinant(&self) -> f64 {
        let n = self.n;
        2.0 * (0..n).fold(0.0, |s, i| s + crate::ln(self.g[i * n + i]))
    }
}

/// Eigenvalues in rising order, and their vectors.
#[derive(Clone, Debug)]
pub struct Eigen {
    /// Eigenvalues, smallest first.
    pub values: Vec<f64>,
    /// Unit vectors: `vectors[k][i]` is component `i` of the vector of `values[k]`.
    pub vectors: Vec<Vec<f64>>,
}

/// Returns all eigenvalues and vectors of a symmetric tridiagonal matrix by implicit QL steps.
///
/// `off[i]` couples rows `i` and `i + 1`; it has one element fewer than `diagonal`. Vectors are orthonormal
/// to rounding; of a vector's two signs the one with a positive component of largest size is given (the first
/// of equals), so that the result does not depend on the path taken.
///
/// # Errors
/// [`NumericError::Sizes`]; [`NumericError::NoConvergence`] when an eigenvalue takes more than 60 steps (NaN input).
///
/// # Source
/// The QL algorithm with implicit shifts of Martin and Wilkinson (Handbook for Automatic Computation, II/4).
pub fn symmetric_tridiagonal_eigen(diagonal: &[f64], off: &[f64]) -> Result<Eigen, NumericError> {
    let n = diagonal.len();
    let mut rows = vec![0.0; n * n];
    for i in 0..n {
        rows[i * n + i] = 1.0;
    }
    tridiagonal_ql(diagonal, off, rows)
}

/// Implicit QL on a tridiagonal matrix; `rows[k·n + i]` starts as component `i` of basis vector `k`.
fn tridiagonal_ql(diagonal: &[f64], off: &[f64], mut rows: Vec<f64>) -> Result<Eigen, NumericError> {
    let n = diagonal.len();
    require_len("off-diagonal", n.saturating_sub(1), off.len())?;
    let mut d = diagonal.to_vec();
    let mut e = off.to_vec();
    e.push(0.0);
    for l in 0..n {
        for step in 0.. {
            let mut m = l;
            while m + 1 < n && e[m].abs() > f64::EPSILON * (d[m].abs() + d[m + 1].abs()) {
                m += 1;
            }
            if m == l {
                break;
            }
            if step == 60 {
                return Err(NumericError::NoConvergence { method: "QL", iterations: 60, residual: e[l] });
            }
            ql_sweep(&mut d, &mut e, &mut rows, l, m);
        }
    }
    Ok(sorted(d, &rows))
}

/// One implicit QL sweep over the unreduced block `l..=m`.
fn ql_sweep(d: &mut [f64], e: &mut [f64], rows: &mut [f64], l: usize, m: usize) {
    let n = d.len();
    let mut g = (d[l + 1] - d[l]) / (2.0 * e[l]);
    let mut r = (g * g + 1.0).sqrt();
    g = d[m] - d[l] + e[l] / (g + r.copysign(g));
    let (mut s, mut c, mut p) = (1.0, 1.0, 0.0);
    for i in (l..m).rev() {
        let f = s * e[i];
        let b = c * e[i];
        r = crate::scalar::hypot(f, g);
        e[i + 1] = r;
        if r == 0.0 {
            // An exact zero splits the block: try again on the parts.
            d[i + 1] -= p;
            e[m] = 0.0;
            return;
        }
        s = f / r;
        c = g / r;
        g = d[i + 1] - p;
        r = (d[i] - g) * s + 2.0 * c * b;
        p = s * r;
        d[i + 1] = g + p;
        g = c * r - b;
        let (head, tail) = rows.split_at_mut((i + 1) * n);
        for (low, high) in head[i * n..].iter_mut().zip(&mut tail[..n]) {
            let h = *high;
            *high = s * *low + c * h;
            *low = c * *low - s * h;
        }
    }
    d[l] -= p;
    e[l] = g;
    e[m] = 0.0;
}

/// Sorts eigenpairs by value and fixes the signs.
fn sorted(values: Vec<f64>, rows: &[f64]) -> Eigen {
    let n = values.len();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
    let vectors = order
        .iter()
        .map(|&k| {
            let v = &rows[k * n..(k + 1) * n];
            let lead = v.iter().fold(0.0_f64, |m, x| if x.abs() > m.abs() * (1.0 + 1e-9) { *x } else { m });
            v.iter().map(|x| if lead < 0.0 { -x } else { *x }).collect()
        })
        .collect();
    Eigen { values: order.iter().map(|&k| values[k]).collect(), vectors }
}

/// Returns all eigenvalues and vectors of a symmetric matrix by Jacobi rotations; only its upper triangle is
/// read.
///
/// Small eigenvalues of positive definite matrices come out with high relative accuracy. Signs as in
/// [`symmetric_tridiagonal_eigen`].
///
/// # Errors
/// [`NumericError::Sizes`]; [`NumericError::NoConvergence`] after 60 sweeps (NaN input).
pub fn symmetric_eigen(n: usize, a: &[f64]) -> Result<Eigen, NumericError> {
    require_len("matrix", n * n, a.len())?;
    let mut a = a.to_vec();
    for i in 0..n {
        for j in 0..i {
            a[i * n + j] = a[j * n + i];
        }
    }
    let mut rows = vec![0.0; n * n];
    for i in 0..n {
        rows[i * n + i] = 1.0;
    }
    for _ in 0..60 {
        let mut rotated = false;
        for p in 0..n {
            for q in p + 1..n {
                rotated |= jacobi_rotate(&mut a, &mut rows, n, p, q);
            }
        }
        if !rotated {
            let values = (0..n).map(|i| a[i * n + i]).collect();
            return Ok(sorted(values, &rows));
        }
    }
    Err(NumericError::NoConvergence { method: "Jacobi", iterations: 60, residual: f64::NAN })
}

/// Zeroes element (p, q); false when it is already negligible.
fn jacobi_rotate(a: &mut [f64], rows: &mut [f64], n: usize, p: usize, q: usize) -> bool {
    let apq = a[p * n + q];
    let (app, aqq) = (a[p * n + p], a[q * n + q]);
    if apq.abs() <= f64::EPSILON * (app.abs() * aqq.abs()).sqrt() || apq.abs() < f64::MIN_POSITIVE {
        return false;
    }
    let theta = (aqq - app) / (2.0 * apq);
    let t = 1.0_f64.copysign(theta) / (theta.abs() + (theta * theta + 1.0).sqrt());
    let c = 1.0 / (t * t + 1.0).sqrt();
    let s = t * c;
    for k in 0..n {
        let (x, y) = (a[k * n + p], a[k * n + q]);
        a[k * n + p] = c * x - s * y;
        a[k * n + q] = s * x + c * y;
    }
    for k in 0..n {
        let (x, y) = (a[p * n + k], a[q * n + k]);
        a[p * n + k] = c * x - s * y;
        a[q * n + k] = s * x + c * y;
        let (x, y) = (rows[p * n + k], rows[q * n + k]);
        rows[p * n + k] = c * x - s * y;
        rows[q * n + k] = s * x + c * y;
    }
    a[p * n + q] = 0.0;
    a[q * n + p] = 0.0;
    a[p * n + p] = app - t * apq;
    a[q * n + q] = aqq + t * apq;
    true
}

#[cfg(test)]
#[path = "dense_tests.rs"]
mod tests;
