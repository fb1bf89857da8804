//! Tridiagonal systems by elimination without pivoting (Thomas), for one building or many lanes.
//!
//! Meant for matrices whose diagonal outweighs its row, as heat and moisture in layers give; there
//! elimination is stable and never meets a zero pivot. [`solve`] still reports a pivot that vanishes.

use crate::NumericError;
use crate::error::require_len;

/// Solves the system in place: `rhs` becomes the solution.
///
/// Row `i` reads `lower[i] x[i−1] + diagonal[i] x[i] + upper[i] x[i+1] = rhs[i]`; `lower[0]` and the last
/// `upper` are not looked at. `scratch` holds at least `n` numbers.
///
/// # Errors
/// [`NumericError::Sizes`] when lengths differ, [`NumericError::Singular`] when a pivot is zero or NaN.
pub fn solve(
    lower: &[f64],
    diagonal: &[f64],
    upper: &[f64],
    rhs: &mut [f64],
    scratch: &mut [f64],
) -> Result<(), NumericError> {
    let n = rhs.len();
    require_len("lower diagonal", n, lower.len())?;
    require_len("diagonal", n, diagonal.len())?;
    require_len("upper diagonal", n, upper.len())?;
    if scratch.len() < n {
        return Err(NumericError::Sizes { what: "scratch", expected: n, found: scratch.len() });
    }
    let mut carry_u = 0.0;
    let mut carry_r = 0.0;
    for i in 0..n {
        let below = if i == 0 { 0.0 } else { lower[i] };
        let pivot = diagonal[i] - below * carry_u;
        if pivot == 0.0 || pivot.is_nan() {
            return Err(NumericError::Singular { row: i });
        }
        let inverse = 1.0 / pivot;
        carry_u = upper[i] * inverse;
        carry_r = (rhs[i] - below * carry_r) * inverse;
        scratch[i] = carry_u;
        rhs[i] = carry_r;
    }
    for i in (0..n.saturating_sub(1)).rev() {
        rhs[i] -= scratch[i] * rhs[i + 1];
    }
    Ok(())
}

/// Solves one system in every lane, in place, with the bits [`solve`] gives for each.
///
/// # Panics
/// When lengths differ (the caller's own arrays); a vanishing pivot gives infinities in its lane only.
#[inline(always)]
pub fn solve_lanes<const L: usize>(
    lower: &[[f64; L]],
    diagonal: &[[f64; L]],
    upper: &[[f64; L]],
    rhs: &mut [[f64; L]],
    scratch: &mut [[f64; L]],
) {
    let n = rhs.len();
    let (lower, diagonal, upper) = (&lower[..n], &diagonal[..n], &upper[..n]);
    let scratch = &mut scratch[..n];
    let mut carry_u = [0.0; L];
    let mut carry_r = [0.0; L];
    for i in 0..n {
        let below = if i == 0 { [0.0; L] } else { lower[i] };
        for l in 0..L {
            let inverse = 1.0 / (diagonal[i][l] - below[l] * carry_u[l]);
            carry_u[l] = upper[i][l] * inverse;
            carry_r[l] = (rhs[i][l] - below[l] * carry_r[l]) * inverse;
        }
        scratch[i] = carry_u;
        rhs[i] = carry_r;
    }
    for i in (0..n.saturating_sub(1)).rev() {
        for l in 0..L {
            carry_r[l] = rhs[i][l] - scratch[i][l] * carry_r[l];
        }
        rhs[i] = carry_r;
    }
}

/// A tridiagonal matrix eliminated once, to be solved for many right-hand sides.
#[derive(Clone, Debug)]
pub struct Factored {
    lower: Vec<f64>,
    inverse: Vec<f64>,
    upper: Vec<f64>,
}

impl Factored {
    /// Eliminates the matrix.
    ///
    /// # Errors
    /// As [`solve`].
    pub fn new(lower: &[f64], diagonal: &[f64], upper: &[f64]) -> Result<Self, NumericError> {
        let n = diagonal.len();
        require_len("lower diagonal", n, lower.len())?;
        require_len("upper diagonal", n, upper.len())?;
        let mut inverse = Vec::with_capacity(n);
        let mut scaled = Vec::with_capacity(n);
        let mut carry = 0.0;
        for i in 0..n {
            let below = if i == 0 { 0.0 } else { lower[i] };
            let pivot = diagonal[i] - below * carry;
            if pivot == 0.0 || pivot.is_nan() {
                return Err(NumericError::Singular { row: i });
            }
            inverse.push(1.0 / pivot);
            carry = upper[i] * (1.0 / pivot);
            scaled.push(carry);
        }
        Ok(Self { lower: lower.to_vec(), inverse, upper: scaled })
    }

    /// Number of unknowns.
    pub fn len(&self) -> usize {
        self.inverse.len()
    }

    /// True for an empty matrix.
    pub fn is_empty(&self) -> bool {
        self.inverse.is_empty()
    }

    /// Replaces the right-hand side by the solution.
    ///
    /// # Panics
    /// When `rhs` is shorter than the matrix.
    pub fn solve(&self, rhs: &mut [f64]) {
        let n = self.len();
        let rhs = &mut rhs[..n];
        let mut carry = 0.0;
        for i in 0..n {
            let below = if i == 0 { 0.0 } else { self.lower[i] };
            carry = (rhs[i] - below * carry) * self.inverse[i];
            rhs[i] = carry;
        }
        for i in (0..n.saturating_sub(1)).rev() {
            rhs[i] -= self.upper[i] * rhs[i + 1];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// −x'' = 1 on (0, 1), x = 0 at both ends: central differences are exact for a parabola.
    #[test]
    fn parabola_is_exact() {
        let n = 99;
        let h = 0.01_f64;
        let (lower, diagonal, upper) = (vec![-1.0; n], vec![2.0; n], vec![-1.0; n]);
        let mut x = vec![h * h; n];
        solve(&lower, &diagonal, &upper, &mut x, &mut vec![0.0; n]).unwrap();
        let mut y = vec![h * h; n];
        Factored::new(&lower, &diagonal, &upper).unwrap().solve(&mut y);
        for i in 0..n {
            let z = (i + 1) as f64 * h;
            assert!((x[i] - 0.5 * z * (1.0 - z)).abs() < 1e-14);
            assert_eq!(x[i].to_bits(), y[i].to_bits());
        }
    }

    #[test]
    fn errors_are_told() {
        let mut r = [1.0, 1.0];
        assert_eq!(
            solve(&[0.0; 2], &[0.0, 1.0], &[0.0; 2], &mut r, &mut [0.0; 2]),
            Err(NumericError::Singular { row: 0 })
        );
        assert!(solve(&[0.0; 1], &[1.0, 1.0], &[0.0; 2], &mut r, &mut [0.0; 2]).is_err());
        let mut none: [f64; 0] = [];
        assert!(solve(&[], &[], &[], &mut none, &mut []).is_ok());
    }

    proptest::proptest! {
        #[test]
        fn lanes_equal_scalar_and_satisfy_the_equations(
            seed in proptest::collection::vec(-1.0_f64..1.0, 4 * 7 * 8)
        ) {
            const L: usize = 8;
            let n = 7;
            let at = |row: usize, i: usize, l: usize| seed[(row * n + i) * L + l];
            let mut lower = vec![[0.0; L]; n];
            let mut diagonal = lower.clone();
            let mut upper = lower.clone();
            let mut rhs = lower.clone();
            for i in 0..n { for l in 0..L {
                lower[i][l] = at(0, i, l);
                upper[i][l] = at(1, i, l);
                diagonal[i][l] = 2.1 + at(2, i, l).abs();
                rhs[i][l] = 10.0 * at(3, i, l);
            } }
            let mut x = rhs.clone();
            solve_lanes(&lower, &diagonal, &upper, &mut x, &mut vec![[0.0; L]; n]);
            for l in 0..L {
                let column = |a: &[[f64; L]]| a.iter().map(|v| v[l]).collect::<Vec<_>>();
                let mut one = column(&rhs);
                solve(&column(&lower), &column(&diagonal), &column(&upper), &mut one, &mut vec![0.0; n]).unwrap();
                for i in 0..n {
                    proptest::prop_assert_eq!(one[i].to_bits(), x[i][l].to_bits());
                    let mut left = diagonal[i][l] * x[i][l];
                    if i > 0 { left += lower[i][l] * x[i - 1][l]; }
                    if i + 1 < n { left += upper[i][l] * x[i + 1][l]; }
                    proptest::prop_assert!((left - rhs[i][l]).abs() < 1e-12);
                }
            }
        }
    }
}
