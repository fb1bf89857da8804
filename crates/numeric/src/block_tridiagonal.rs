//! Tridiagonal systems whose elements are B × B blocks: several unknowns per cell, coupled to the neighbours.
//!
//! [`solve`] exchanges rows inside blocks; [`solve_lanes`] does not and runs all lanes alike.

use crate::NumericError;
use crate::error::require_len;

/// A B × B block, row by row.
pub type Block<const B: usize> = [[f64; B]; B];

/// Solves the system in place: `rhs` becomes the solution; `diagonal` and `upper` are used up.
///
/// Row `i` reads `lower[i] x[i−1] + diagonal[i] x[i] + upper[i] x[i+1] = rhs[i]`; `lower[0]` and the last
/// `upper` are not looked at. Block elimination without exchanges between blocks, with row exchanges inside
/// each: stable where the diagonal blocks outweigh their row.
///
/// # Errors
/// [`NumericError::Sizes`]; [`NumericError::Singular`] with the block row whose diagonal block has no inverse.
pub fn solve<const B: usize>(
    lower: &[Block<B>],
    diagonal: &mut [Block<B>],
    upper: &mut [Block<B>],
    rhs: &mut [[f64; B]],
) -> Result<(), NumericError> {
    let n = rhs.len();
    require_len("lower blocks", n, lower.len())?;
    require_len("diagonal blocks", n, diagonal.len())?;
    require_len("upper blocks", n, upper.len())?;
    for i in 0..n {
        if i > 0 {
            for r in 0..B {
                for k in 0..B {
                    let factor = lower[i][r][k];
                    for c in 0..B {
                        diagonal[i][r][c] -= factor * upper[i - 1][k][c];
                    }
                    rhs[i][r] -= factor * rhs[i - 1][k];
                }
            }
        }
        // upper ← D⁻¹ upper, rhs ← D⁻¹ rhs.
        reduce(&mut diagonal[i], &mut upper[i], &mut rhs[i]).ok_or(NumericError::Singular { row: i })?;
    }
    for i in (0..n.saturating_sub(1)).rev() {
        for r in 0..B {
            for c in 0..B {
                rhs[i][r] -= upper[i][r][c] * rhs[i + 1][c];
            }
        }
    }
    Ok(())
}

/// Replaces `m` and `v` by a⁻¹ m and a⁻¹ v (Gauss–Jordan); `None` without a pivot.
fn reduce<const B: usize>(a: &mut Block<B>, m: &mut Block<B>, v: &mut [f64; B]) -> Option<()> {
    for k in 0..B {
        let mut best = k;
        for r in k + 1..B {
            if a[r][k].abs() > a[best][k].abs() {
                best = r;
            }
        }
        a.swap(k, best);
        m.swap(k, best);
        v.swap(k, best);
        if a[k][k] == 0.0 || !a[k][k].is_finite() {
            return None;
        }
        let inverse = 1.0 / a[k][k];
        for c in 0..B {
            a[k][c] *= inverse;
            m[k][c] *= inverse;
        }
        v[k] *= inverse;
        let (a_k, m_k, v_k) = (a[k], m[k], v[k]);
        for r in 0..B {
            if r != k {
                let factor = a[r][k];
                for c in 0..B {
                    a[r][c] -= factor * a_k[c];
                    m[r][c] -= factor * m_k[c];
                }
                v[r] -= factor * v_k;
            }
        }
    }
    Some(())
}

/// Solves one system in every lane, in place, without any exchange; `diagonal` and `upper` are used up.
///
/// For blocks whose leading minors do not vanish, as heat with moisture gives. A zero pivot shows as
/// infinities in its lane only.
///
/// # Panics
/// When lengths differ (the caller's own arrays).
#[inline(always)]
pub fn solve_lanes<const B: usize, const L: usize>(
    lower: &[[[[f64; L]; B]; B]],
    diagonal: &mut [[[[f64; L]; B]; B]],
    upper: &mut [[[[f64; L]; B]; B]],
    rhs: &mut [[[f64; L]; B]],
) {
    let n = rhs.len();
    let (lower, diagonal, upper) = (&lower[..n], &mut diagonal[..n], &mut upper[..n]);
    for i in 0..n {
        if i > 0 {
            for r in 0..B {
                for k in 0..B {
                    let factor = lower[i][r][k];
                    for c in 0..B {
                        for l in 0..L {
                            diagonal[i][r][c][l] -= factor[l] * upper[i - 1][k][c][l];
                        }
                    }
                    for l in 0..L {
                        rhs[i][r][l] -= factor[l] * rhs[i - 1][k][l];
                    }
                }
            }
        }
        reduce_lanes(&mut diagonal[i], &mut upper[i], &mut rhs[i]);
    }
    for i in (0..n.saturating_sub(1)).rev() {
        for r in 0..B {
            for c in 0..B {
                for l in 0..L {
                    rhs[i][r][l] -= upper[i][r][c][l] * rhs[i + 1][c][l];
                }
            }
        }
    }
}

#[inline(always)]
fn reduce_lanes<const B: usize, const L: usize>(
    a: &mut [[[f64; L]; B]; B],
    m: &mut [[[f64; L]; B]; B],
    v: &mut [[f64; L]; B],
) {
    for k in 0..B {
        let mut inverse = [0.0; L];
        for l in 0..L {
            inverse[l] = 1.0 / a[k][k][l];
        }
        for c in 0..B {
            for l in 0..L {
                a[k][c][l] *= inverse[l];
                m[k][c][l] *= inverse[l];
            }
        }
        for l in 0..L {
            v[k][l] *= inverse[l];
        }
        let (a_k, m_k, v_k) = (a[k], m[k], v[k]);
        for r in 0..B {
            if r == k {
                continue;
            }
            let factor = a[r][k];
            for c in 0..B {
                for l in 0..L {
                    a[r][c][l] -= factor[l] * a_k[c][l];
                    m[r][c][l] -= factor[l] * m_k[c][l];
                }
            }
            for l in 0..L {
                v[r][l] -= factor[l] * v_k[l];
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn singular_blocks_are_told() {
        let mut d = [[[1.0, 1.0], [1.0, 1.0]]];
        let found = solve(&[[[0.0; 2]; 2]], &mut d, &mut [[[0.0; 2]; 2]], &mut [[1.0, 2.0]]);
        assert_eq!(found, Err(NumericError::Singular { row: 0 }));
    }

    #[test]
    fn a_block_needing_an_exchange() {
        let mut d = [[[0.0, 2.0], [3.0, 0.0]]];
        let mut r = [[4.0, 9.0]];
        solve(&[[[0.0; 2]; 2]], &mut d, &mut [[[0.0; 2]; 2]], &mut r).unwrap();
        assert_eq!(r, [[3.0, 2.0]]);
    }

    proptest! {
        #[test]
        fn lanes_and_scalar_satisfy_the_equations(x in prop::collection::vec(-1.0_f64..1.0, 5 * 4 * 4 * 4)) {
            const L: usize = 4;
            const B: usize = 2;
            let n = 5;
            let mut next = x.into_iter().cycle();
            let mut block = |add: f64| {
                let mut b = [[[0.0; L]; B]; B];
                for (r, row) in b.iter_mut().enumerate() { for (c, e) in row.iter_mut().enumerate() { for v in e {
                    *v = next.next().unwrap() + if r == c { add } else { 0.0 };
                } } }
                b
            };
            let lower: Vec<_> = (0..n).map(|_| block(0.0)).collect();
            let diagonal: Vec<_> = (0..n).map(|_| block(8.0)).collect();
            let upper: Vec<_> = (0..n).map(|_| block(0.0)).collect();
            let rhs: Vec<[[f64; L]; B]> = (0..n).map(|_| block(0.0)[0]).collect();
            let mut y = rhs.clone();
            solve_lanes(&lower, &mut diagonal.clone(), &mut upper.clone(), &mut y);
            for l in 0..L {
                let one = |a: &[[[[f64; L]; B]; B]]| -> Vec<Block<B>> {
                    a.iter().map(|b| std::array::from_fn(|r| std::array::from_fn(|c| b[r][c][l]))).collect()
                };
                let (lo, di, up) = (one(&lower), one(&diagonal), one(&upper));
                let mut z: Vec<[f64; B]> = rhs.iter().map(|v| std::array::from_fn(|r| v[r][l])).collect();
                solve(&lo, &mut di.clone(), &mut up.clone(), &mut z).unwrap();
                for i in 0..n { for r in 0..B {
                    prop_assert!((z[i][r] - y[i][r][l]).abs() < 1e-13);
                    let mut s = 0.0;
                    for c in 0..B {
                        s += di[i][r][c] * z[i][c];
                        if i > 0 { s += lo[i][r][c] * z[i - 1][c]; }
                        if i + 1 < n { s += up[i][r][c] * z[i + 1][c]; }
                    }
                    prop_assert!((s - rhs[i][r][l]).abs() < 1e-12);
                } }
            }
        }
    }
}
