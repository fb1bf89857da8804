//! Tests of [`super`].

use super::*;
use proptest::prelude::*;

fn times(n: usize, a: &[f64], x: &[f64]) -> Vec<f64> {
    (0..n).map(|i| (0..n).map(|j| a[i * n + j] * x[j]).sum()).collect()
}

#[test]
fn known_solution_and_determinant() {
    // Needs a row exchange.
    let a = [0.0, 2.0, 1.0, 1.0, 1.0, 0.0, 3.0, 0.0, 1.0];
    let lu = Lu::new(3, &a).unwrap();
    let x = lu.solve(&times(3, &a, &[1.0, -2.0, 4.0]));
    for (x, y) in x.iter().zip([1.0, -2.0, 4.0]) {
        assert!((x - y).abs() < 1e-14);
    }
    // 0·(1) − 2·(1) + 1·(−3)
    assert!((lu.determinant() + 5.0).abs() < 1e-14);
    assert!(matches!(Lu::new(2, &[1.0, 2.0, 2.0, 4.0]), Err(NumericError::Singular { row: 1 })));
    assert!(Lu::new(2, &[1.0]).is_err());
    let inverse = lu.inverse();
    let product = times(3, &a, &[inverse[0], inverse[3], inverse[6]]);
    assert!((product[0] - 1.0).abs() < 1e-14 && product[1].abs() < 1e-14);
}

#[test]
fn cholesky_of_a_covariance() {
    let a = [4.0, 2.0, 2.0, 3.0];
    let c = Cholesky::new(2, &a).unwrap();
    assert!((c.lower(1, 0) - 1.0).abs() < 1e-15 && (c.lower(1, 1) - 2.0_f64.sqrt()).abs() < 1e-15);
    assert!((c.ln_determinant() - crate::ln(8.0)).abs() < 1e-14);
    let x = c.solve(&[8.0, 7.0]);
    assert!((x[0] - 1.25).abs() < 1e-14 && (x[1] - 1.5).abs() < 1e-14);
    assert!(matches!(
        Cholesky::new(2, &[1.0, 2.0, 2.0, 1.0]),
        Err(NumericError::NotPositiveDefinite { row: 1 })
    ));
}

/// The second difference matrix has eigenvalues 2 − 2 cos(kπ/(n+1)).
#[test]
fn second_difference_eigenvalues() {
    let n = 40;
    let eigen = symmetric_tridiagonal_eigen(&vec![2.0; n], &vec![-1.0; n - 1]).unwrap();
    for k in 0..n {
        let angle = (k + 1) as f64 * std::f64::consts::PI / (n + 1) as f64;
        let exact = 2.0 - 2.0 * crate::scalar::cos(angle);
        assert!((eigen.values[k] - exact).abs() < 1e-13, "{k}: {} {exact}", eigen.values[k]);
        let v = &eigen.vectors[k];
        for i in 0..n {
            let left = if i > 0 { v[i - 1] } else { 0.0 };
            let right = if i + 1 < n { v[i + 1] } else { 0.0 };
            assert!((2.0 * v[i] - left - right - exact * v[i]).abs() < 1e-12);
        }
    }
}

#[test]
fn tiny_cases_and_bad_numbers() {
    assert!(symmetric_tridiagonal_eigen(&[], &[]).unwrap().values.is_empty());
    assert_eq!(symmetric_tridiagonal_eigen(&[3.0], &[]).unwrap().vectors, vec![vec![1.0]]);
    assert_eq!(symmetric_tridiagonal_eigen(&[3.0, 1.0], &[0.0]).unwrap().values, vec![1.0, 3.0]);
    assert!(symmetric_tridiagonal_eigen(&[1.0, 1.0], &[]).is_err());
    assert_eq!(symmetric_eigen(2, &[2.0, 0.0, 0.0, 1.0]).unwrap().values, vec![1.0, 2.0]);
}

proptest! {
    #[test]
    fn random_systems_are_solved(a in prop::collection::vec(-1.0_f64..1.0, 36), x in prop::collection::vec(-5.0_f64..5.0, 6)) {
        let mut a = a;
        for i in 0..6 { a[i * 6 + i] += 3.0; }
        let found = solve(6, &a, &times(6, &a, &x)).unwrap();
        for i in 0..6 { prop_assert!((found[i] - x[i]).abs() < 1e-11); }
    }

    #[test]
    fn lanes_solve_each_lane(a in prop::collection::vec(-1.0_f64..1.0, 4 * 4 * 8), b in prop::collection::vec(-5.0_f64..5.0, 4 * 8)) {
        let mut m = [[[0.0; 8]; 4]; 4];
        let mut r = [[0.0; 8]; 4];
        for i in 0..4 { for l in 0..8 {
            for j in 0..4 { m[i][j][l] = a[(i * 4 + j) * 8 + l] + if i == j { 5.0 } else { 0.0 }; }
            r[i][l] = b[i * 8 + l];
        } }
        let (keep, right) = (m, r);
        solve_lanes(&mut m, &mut r);
        for l in 0..8 {
            // The same lane alone gives the same bits.
            let mut m1 = [[[0.0; 1]; 4]; 4];
            let mut r1 = [[0.0; 1]; 4];
            for i in 0..4 { r1[i][0] = right[i][l]; for j in 0..4 { m1[i][j][0] = keep[i][j][l]; } }
            solve_lanes(&mut m1, &mut r1);
            for i in 0..4 {
                prop_assert_eq!(r1[i][0].to_bits(), r[i][l].to_bits());
                let mut s = 0.0;
                for j in 0..4 { s += keep[i][j][l] * r[j][l]; }
                prop_assert!((s - right[i][l]).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn eigenvectors_rebuild_the_matrix(a in prop::collection::vec(-1.0_f64..1.0, 25)) {
        let n = 5;
        let mut s = vec![0.0; 25];
        for i in 0..n { for j in 0..n { s[i * n + j] = 0.5 * (a[i * n + j] + a[j * n + i]); } }
        let eigen = symmetric_eigen(n, &s).unwrap();
        for i in 0..n { for j in 0..n {
            let built: f64 = (0..n).map(|k| eigen.values[k] * eigen.vectors[k][i] * eigen.vectors[k][j]).sum();
            prop_assert!((built - s[i * n + j]).abs() < 1e-12);
        } }
        let off: Vec<f64> = (0..n - 1).map(|i| s[i * n + i + 1]).collect();
        let diagonal: Vec<f64> = (0..n).map(|i| s[i * n + i]).collect();
        let eigen = symmetric_tridiagonal_eigen(&diagonal, &off).unwrap();
        for i in 0..n { for j in 0..n {
            let built: f64 = (0..n).map(|k| eigen.values[k] * eigen.vectors[k][i] * eigen.vectors[k][j]).sum();
            let exact = if i.abs_diff(j) <= 1 { s[i * n + j] } else { 0.0 };
            prop_assert!((built - exact).abs() < 1e-12);
        } }
    }
}
