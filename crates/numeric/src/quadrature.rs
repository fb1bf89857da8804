//! Gauss–Legendre integration.

use crate::scalar::cos;

/// Returns nodes and weights of the n-point Gauss–Legendre rule on [−1, 1], nodes rising.
///
/// Exact for polynomials up to degree 2n − 1. Nodes come from Newton's method on the recurrence of the
/// Legendre polynomials, good to a few units of the last place for n up to some hundreds.
pub fn gauss_legendre(n: usize) -> Vec<(f64, f64)> {
    let mut rule = vec![(0.0, 0.0); n];
    for i in 0..n.div_ceil(2) {
        let mut x = cos(std::f64::consts::PI * (i as f64 + 0.75) / (n as f64 + 0.5));
        let mut slope = 1.0;
        for _ in 0..12 {
            let (mut p, mut before) = (1.0, 0.0);
            for k in 1..=n {
                let k = k as f64;
                (p, before) = (((2.0 * k - 1.0) * x * p - (k - 1.0) * before) / k, p);
            }
            slope = n as f64 * (x * p - before) / (x * x - 1.0);
            let step = p / slope;
            x -= step;
            if step.abs() < 1e-16 {
                break;
            }
        }
        let weight = 2.0 / ((1.0 - x * x) * slope * slope);
        rule[i] = (-x, weight);
        rule[n - 1 - i] = (x, weight);
    }
    rule
}

/// Returns ∫ f over [a, b] by `panels` equal panels of a rule from [`gauss_legendre`].
pub fn integrate(rule: &[(f64, f64)], f: impl Fn(f64) -> f64, a: f64, b: f64, panels: usize) -> f64 {
    let half = 0.5 * (b - a) / panels as f64;
    let mut sum = 0.0;
    for p in 0..panels {
        let middle = a + half * (2 * p + 1) as f64;
        for (x, w) in rule {
            sum += w * f(middle + half * x);
        }
    }
    sum * half
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_up_to_its_degree() {
        for n in [1, 2, 5, 20] {
            let rule = gauss_legendre(n);
            for degree in 0..2 * n {
                let power = |x: f64| crate::scalar::powi(x, degree as i32);
                let exact = 1.0 / (degree + 1) as f64;
                assert!((integrate(&rule, power, 0.0, 1.0, 1) - exact).abs() < 1e-14, "{n} {degree}");
            }
        }
    }
}
