//! Roots of one equation in one unknown, always inside a bracket.
//!
//! Start at [`brent`]; with a derivative at hand use [`newton_bracketed`]. [`bracket`] looks for a sign
//! change.

use crate::NumericError;
use crate::error::require;

/// Most steps before giving up; bisection alone needs about 60 to go from 1 to the last bit.
const MOST_STEPS: usize = 200;

fn check_bracket(a: f64, b: f64, f_a: f64, f_b: f64) -> Result<(), NumericError> {
    if f_a.is_finite() && f_b.is_finite() && f_a.signum() != f_b.signum() || f_a == 0.0 || f_b == 0.0 {
        Ok(())
    } else {
        Err(NumericError::NotBracketed { a, b, f_a, f_b })
    }
}

/// Returns a root of `f` between `a` and `b` by Brent's method (inverse quadratic steps kept safe by
/// bisection).
///
/// The root is known to within `tolerance` plus two units of its last place.
///
/// # Errors
/// [`NumericError::Parameter`] for a negative tolerance; [`NumericError::NotBracketed`] when `f(a)` and `f(b)` have the same sign or are not finite;
/// [`NumericError::NoConvergence`] after 200 steps (a function that returns NaN inside the interval).
///
/// # Source
/// R. P. Brent, Algorithms for Minimization without Derivatives (1973), chapter 4.
///
/// # Example
/// ```
/// let root = numeric::root::brent(|x| x * x - 2.0, 0.0, 2.0, 1e-14).unwrap();
/// assert!((root - 2.0_f64.sqrt()).abs() < 1e-14);
/// ```
pub fn brent(mut f: impl FnMut(f64) -> f64, a: f64, b: f64, tolerance: f64) -> Result<f64, NumericError> {
    require(tolerance >= 0.0, "tolerance", tolerance, "zero or more")?;
    let (mut a, mut b) = (a, b);
    let (mut f_a, mut f_b) = (f(a), f(b));
    check_bracket(a, b, f_a, f_b)?;
    let (mut c, mut f_c) = (a, f_a);
    let mut step = b - a;
    let mut previous = step;
    for _ in 0..MOST_STEPS {
        if f_c.abs() < f_b.abs() {
            (a, b, c) = (b, c, b);
            (f_a, f_b, f_c) = (f_b, f_c, f_b);
        }
        let near = 2.0 * f64::EPSILON * b.abs() + 0.5 * tolerance;
        let half = 0.5 * (c - b);
        if half.abs() <= near || f_b == 0.0 {
            return Ok(b);
        }
        if previous.abs() >= near && f_a.abs() > f_b.abs() {
            let (p, q) = interpolate(a, b, c, f_a, f_b, f_c);
            if 2.0 * p < (3.0 * half * q - (near * q).abs()).min((previous * q).abs()) {
                previous = step;
                step = p / q;
            } else {
                step = half;
                previous = half;
            }
        } else {
            step = half;
            previous = half;
        }
        (a, f_a) = (b, f_b);
        b += if step.abs() > near { step } else { near.copysign(half) };
        f_b = f(b);
        if (f_b > 0.0) == (f_c > 0.0) {
            (c, f_c) = (a, f_a);
            step = b - a;
            previous = step;
        }
    }
    Err(NumericError::NoConvergence { method: "Brent's method", iterations: MOST_STEPS, residual: f_b })
}

/// Secant or inverse quadratic step from `b`, as a fraction p/q with p ≥ 0.
fn interpolate(a: f64, b: f64, c: f64, f_a: f64, f_b: f64, f_c: f64) -> (f64, f64) {
    let s = f_b / f_a;
    let half = 0.5 * (c - b);
    let (p, q) = if a == c {
        (2.0 * half * s, 1.0 - s)
    } else {
        let q = f_a / f_c;
        let r = f_b / f_c;
        (s * (2.0 * half * q * (q - r) - (b - a) * (r - 1.0)), (q - 1.0) * (r - 1.0) * (s - 1.0))
    };
    if p > 0.0 { (p, -q) } else { (-p, q) }
}

/// Returns a root between `a` and `b` by Newton steps that fall back to bisection when they leave the bracket
/// or shrink it too slowly. `f` returns the value and the derivative.
///
/// # Errors
/// As [`brent`].
pub fn newton_bracketed(
    mut f: impl FnMut(f64) -> (f64, f64),
    a: f64,
    b: f64,
    tolerance: f64,
) -> Result<f64, NumericError> {
    require(tolerance >= 0.0, "tolerance", tolerance, "zero or more")?;
    let (f_a, f_b) = (f(a).0, f(b).0);
    check_bracket(a, b, f_a, f_b)?;
    if f_a == 0.0 {
        return Ok(a);
    }
    if f_b == 0.0 {
        return Ok(b);
    }
    // Below the root the function is negative.
    let (mut low, mut high) = if f_a < 0.0 { (a, b) } else { (b, a) };
    let mut x = 0.5 * (a + b);
    let mut step = (b - a).abs();
    let mut before = step;
    let mut value = f64::NAN;
    for _ in 0..MOST_STEPS {
        let slope;
        (value, slope) = f(x);
        if value == 0.0 {
            return Ok(x);
        }
        if value < 0.0 {
            low = x;
        } else {
            high = x;
        }
        let newton = value / slope;
        let inside = ((x - newton) - low) * ((x - newton) - high) <= 0.0;
        let last = x;
        if inside && (2.0 * newton).abs() <= before.abs() {
            before = step;
            step = newton;
            x -= step;
        } else {
            before = step;
            step = 0.5 * (high - low);
            x = low + step;
        }
        if x == last || step.abs() <= 0.5 * tolerance + f64::EPSILON * x.abs() {
            return Ok(x);
        }
    }
    Err(NumericError::NoConvergence { method: "bracketed Newton", iterations: MOST_STEPS, residual: value })
}

/// Widens an interval by factors of 1.6, at most 60 times, until `f` changes sign across it.
///
/// # Errors
/// [`NumericError::NotBracketed`] with the last interval tried.
pub fn bracket(mut f: impl FnMut(f64) -> f64, a: f64, b: f64) -> Result<(f64, f64), NumericError> {
    let (mut a, mut b) = (a, b);
    let (mut f_a, mut f_b) = (f(a), f(b));
    for _ in 0..60 {
        if check_bracket(a, b, f_a, f_b).is_ok() {
            return Ok((a, b));
        }
        if f_a.abs() < f_b.abs() {
            a += 1.6 * (a - b);
            f_a = f(a);
        } else {
            b += 1.6 * (b - a);
            f_b = f(b);
        }
    }
    check_bracket(a, b, f_a, f_b).map(|()| (a, b))
}

#[cfg(test)]
mod tests {
    use super::*;

    type Function = fn(f64) -> f64;

    #[test]
    fn both_methods_find_known_roots() {
        let cases: [(Function, Function, f64, f64, f64); 3] = [
            (|x| x * x * x - 2.0, |x| 3.0 * x * x, 0.0, 4.0, 1.259_921_049_894_873_2),
            (|x| crate::exp(x) - 10.0, crate::exp, -5.0, 20.0, std::f64::consts::LN_10),
            (|x| crate::scalar::atan(x - 3.0), |x| 1.0 / (1.0 + (x - 3.0) * (x - 3.0)), -900.0, 1000.0, 3.0),
        ];
        for (f, d, a, b, root) in cases {
            let found = brent(f, a, b, 1e-14).unwrap();
            assert!((found - root).abs() < 1e-13, "Brent {found} for {root}");
            let found = newton_bracketed(|x| (f(x), d(x)), a, b, 1e-14).unwrap();
            assert!((found - root).abs() < 1e-13, "Newton {found} for {root}");
        }
    }

    #[test]
    fn brent_takes_few_steps() {
        let mut calls = 0;
        brent(
            |x| {
                calls += 1;
                crate::exp(x) - 10.0
            },
            -5.0,
            20.0,
            1e-12,
        )
        .unwrap();
        assert!(calls <= 16, "{calls} evaluations");
    }

    #[test]
    fn flat_and_wrong_brackets_are_errors() {
        assert!(matches!(brent(|x| x * x + 1.0, -1.0, 1.0, 1e-9), Err(NumericError::NotBracketed { .. })));
        assert!(brent(|_| f64::NAN, -1.0, 1.0, 1e-9).is_err());
        assert_eq!(brent(|x| x, 0.0, 1.0, 1e-9), Ok(0.0));
        let (a, b) = bracket(|x| x - 100.0, 0.0, 1.0).unwrap();
        assert!(a <= 100.0 && b >= 100.0);
        assert!(bracket(|x| x * x + 1.0, 0.0, 1.0).is_err());
    }

    proptest::proptest! {
        #[test]
        fn brent_lands_on_the_root_of_any_rising_cubic(root in -50.0_f64..50.0, bend in 0.0_f64..3.0) {
            let f = |x: f64| (x - root) * (1.0 + bend * (x - root) * (x - root));
            let found = brent(f, -100.0, 100.0, 1e-12).unwrap();
            proptest::prop_assert!((found - root).abs() < 1e-11);
        }
    }
}
