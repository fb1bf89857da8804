//! The beta distribution and those that follow from it: Student's t, F, and the exact interval of a
//! proportion.

use crate::error::require;
use crate::root::newton_bracketed;
use crate::{NumericError, exp, ln, normal, scalar};

fn require_shape(a: f64, b: f64) -> Result<(), NumericError> {
    require(a > 0.0 && a.is_finite(), "first shape", a, "above zero")?;
    require(b > 0.0 && b.is_finite(), "second shape", b, "above zero")
}

/// Returns ln B(a, b).
pub fn ln_beta(a: f64, b: f64) -> f64 {
    scalar::ln_gamma(a) + scalar::ln_gamma(b) - scalar::ln_gamma(a + b)
}

/// Returns the regularised incomplete beta function I_x(a, b): the probability of a beta value below `x`.
///
/// Valid for a, b > 0; `x` outside [0, 1] counts as the nearer end. Relative error about 1e-13 for shapes up
/// to some hundreds (measured against tables in tests).
///
/// # Source
/// Continued fraction DLMF 8.17.22, evaluated by the modified Lentz method.
pub fn regularised(x: f64, a: f64, b: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    regularised_of_both(x, 1.0 - x, a, b)
}

/// As [`regularised`], with `y = 1 − x` given apart, so that neither end loses digits.
fn regularised_of_both(x: f64, y: f64, a: f64, b: f64) -> f64 {
    let front = exp(a * ln(x) + b * ln(y) - ln_beta(a, b));
    if x < (a + 1.0) / (a + b + 2.0) {
        front * fraction(x, a, b) / a
    } else {
        1.0 - front * fraction(y, b, a) / b
    }
}

fn fraction(x: f64, a: f64, b: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let away = |v: f64| if v.abs() < TINY { TINY } else { v };
    let mut c = 1.0;
    let mut d = 1.0 / away(1.0 - (a + b) * x / (a + 1.0));
    let mut h = d;
    for m in 1..10_000 {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / away(1.0 + even * d);
        c = away(1.0 + even / c);
        h *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / away(1.0 + odd * d);
        c = away(1.0 + odd / c);
        let step = d * c;
        h *= step;
        if (step - 1.0).abs() < 1e-16 {
            break;
        }
    }
    h
}

/// Returns ln(x/(1 − x)) of the beta quantile at `p` in (0, 1): both ends keep their digits.
fn logit_quantile(p: f64, a: f64, b: f64) -> Result<f64, NumericError> {
    if p > 0.5 {
        return Ok(-lower_logit_quantile(1.0 - p, b, a)?);
    }
    lower_logit_quantile(p, a, b)
}

/// [`logit_quantile`] for p ≤ ½, by Newton on ln I, which rises and bends down all the way.
fn lower_logit_quantile(p: f64, a: f64, b: f64) -> Result<f64, NumericError> {
    let ln_p = ln(p);
    let norm = ln_beta(a, b);
    let f = |u: f64| {
        let e = exp(-u.abs());
        let (small, large) = (e / (1.0 + e), 1.0 / (1.0 + e));
        let (x, y) = if u < 0.0 { (small, large) } else { (large, small) };
        let ln_front = a * ln(x) + b * ln(y) - norm;
        // In the lower part its logarithm directly: the probability itself may be too small for a number.
        let ln_i = if x < (a + 1.0) / (a + b + 2.0) {
            ln_front + ln(fraction(x, a, b) / a)
        } else {
            scalar::ln_1p(-exp(ln_front) * fraction(y, b, a) / b)
        };
        (ln_i - ln_p, exp(ln_front - ln_i))
    };
    // The leading term x^a/(a B) says where the root lies when x is small; the search widens if need be.
    let low = (ln_p + ln(a) + norm) / a - 40.0 / a.min(1.0) - 5.0;
    let (low, high) = crate::root::bracket(|u| f(u).0, low.clamp(-700.0, -1.0), 5.0)?;
    newton_bracketed(f, low, high, 1e-15)
}

/// Returns the beta quantile at `p`.
///
/// # Errors
/// [`NumericError::Parameter`] for shapes that are not above zero or `p` outside [0, 1];
/// [`NumericError::NotBracketed`] for shapes so small that the quantile leaves the range of numbers.
pub fn quantile(p: f64, a: f64, b: f64) -> Result<f64, NumericError> {
    require_shape(a, b)?;
    require((0.0..=1.0).contains(&p), "probability", p, "from 0 to 1")?;
    if p == 0.0 || p == 1.0 {
        return Ok(p);
    }
    let u = logit_quantile(p, a, b)?;
    Ok(if u < 0.0 { exp(u) / (1.0 + exp(u)) } else { 1.0 / (1.0 + exp(-u)) })
}

/// Returns the probability that Student's t with `df` degrees of freedom lies below `t`.
pub fn student_t_cdf(t: f64, df: f64) -> f64 {
    let square = t * t;
    let tail = 0.5 * regularised_of_both(df / (df + square), square / (df + square), 0.5 * df, 0.5);
    if t == 0.0 {
        0.5
    } else if t < 0.0 {
        tail
    } else {
        1.0 - tail
    }
}

/// Returns Student's t not exceeded with probability `p`; `df` may be broken, and `f64::INFINITY` means
/// normal.
///
/// # Errors
/// [`NumericError::Parameter`] for `df` not above zero or `p` outside (0, 1).
pub fn student_t_quantile(p: f64, df: f64) -> Result<f64, NumericError> {
    require(df > 0.0, "degrees of freedom", df, "above zero")?;
    require(p > 0.0 && p < 1.0, "probability", p, "between 0 and 1")?;
    if p == 0.5 {
        return Ok(0.0);
    }
    if df > 1e6 {
        // First term of the Cornish–Fisher series; the next is below 1e-10 for p within 1e-9 of an end.
        let z = normal::quantile(p);
        return Ok(z + (z * z * z + z) / (4.0 * df));
    }
    let tail = p.min(1.0 - p);
    let u = logit_quantile(2.0 * tail, 0.5 * df, 0.5)?;
    Ok((df * exp(-u)).sqrt().copysign(p - 0.5))
}

/// Returns t such that a share `level` of Student's t lies within ± t: the factor of a confidence interval.
///
/// # Errors
/// As [`student_t_quantile`].
///
/// # Example
/// ```
/// let t = numeric::beta::student_t_two_sided(0.95, 9.0)?;
/// assert!((t - 2.262_157_162_798_205).abs() < 1e-9);
/// # Ok::<(), numeric::NumericError>(())
/// ```
pub fn student_t_two_sided(level: f64, df: f64) -> Result<f64, NumericError> {
    student_t_quantile(0.5 + 0.5 * level, df)
}

/// Returns the F value not exceeded with probability `p`, for `df1` and `df2` degrees of freedom.
///
/// # Errors
/// [`NumericError::Parameter`] for degrees not above zero or `p` outside (0, 1).
pub fn f_quantile(p: f64, df1: f64, df2: f64) -> Result<f64, NumericError> {
    require_shape(df1, df2)?;
    require(p > 0.0 && p < 1.0, "probability", p, "between 0 and 1")?;
    Ok(df2 / df1 * exp(logit_quantile(p, 0.5 * df1, 0.5 * df2)?))
}

/// Returns the exact (Clopper–Pearson) interval of a proportion: `k` hits of `n`, coverage at least `level`.
///
/// # Errors
/// [`NumericError::Parameter`] unless 0 ≤ k ≤ n, n ≥ 1 and 0 < level < 1.
pub fn proportion_interval(k: u64, n: u64, level: f64) -> Result<(f64, f64), NumericError> {
    require(n > 0 && k <= n, "hits", k as f64, "at most the number of trials, and that at least 1")?;
    require(level > 0.0 && level < 1.0, "level", level, "between 0 and 1")?;
    let tail = 0.5 * (1.0 - level);
    let (k, n) = (k as f64, n as f64);
    let low = if k == 0.0 { 0.0 } else { quantile(tail, k, n - k + 1.0)? };
    let high = if k == n { 1.0 } else { quantile(1.0 - tail, k + 1.0, n - k)? };
    Ok((low, high))
}

/// Returns Wilson's score interval of a proportion `p` seen in `n` trials; `n` may be an effective size.
///
/// # Errors
/// [`NumericError::Parameter`] unless 0 ≤ p ≤ 1, n > 0 and 0 < level < 1.
pub fn wilson_interval(p: f64, n: f64, level: f64) -> Result<(f64, f64), NumericError> {
    require((0.0..=1.0).contains(&p), "proportion", p, "from 0 to 1")?;
    require(n > 0.0, "trials", n, "above zero")?;
    require(level > 0.0 && level < 1.0, "level", level, "between 0 and 1")?;
    let z = normal::quantile(0.5 + 0.5 * level);
    let z2 = z * z / n;
    let centre = (p + 0.5 * z2) / (1.0 + z2);
    let half = z / (1.0 + z2) * (p * (1.0 - p) / n + 0.25 * z2 / n).sqrt();
    let low = if p == 0.0 { 0.0 } else { (centre - half).max(0.0) };
    let high = if p == 1.0 { 1.0 } else { (centre + half).min(1.0) };
    Ok((low, high))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use statrs::distribution::{Beta, ContinuousCDF};

    #[test]
    fn closed_forms() {
        // I_x(1, b) = 1 − (1 − x)^b, I_x(½, ½) = 2/π asin √x, t with 1 and 2 degrees.
        assert!((regularised(0.3, 1.0, 4.0) - (1.0 - 0.7 * 0.7 * 0.7 * 0.7)).abs() < 1e-15);
        let arcsine = 2.0 / std::f64::consts::PI * scalar::asin(0.2_f64.sqrt());
        assert!((regularised(0.2, 0.5, 0.5) - arcsine).abs() < 1e-14);
        let cauchy = scalar::tan(std::f64::consts::PI * (0.975 - 0.5));
        assert!((student_t_quantile(0.975, 1.0).unwrap() / cauchy - 1.0).abs() < 1e-13);
        let two = 0.95 * scalar::powi(2.0 / (1.0 - 0.95 * 0.95), 1).sqrt();
        assert!((student_t_quantile(0.975, 2.0).unwrap() / two - 1.0).abs() < 1e-13);
        assert!(
            (f_quantile(0.95, 1.0, 9.0).unwrap() / scalar::powi(2.262_157_162_798_205, 2) - 1.0).abs()
                < 1e-12
        );
    }

    #[test]
    fn bad_arguments_are_errors() {
        assert!(quantile(0.5, 0.0, 1.0).is_err());
        assert!(quantile(1.5, 1.0, 1.0).is_err());
        assert!(student_t_quantile(0.9, -1.0).is_err());
        assert!(proportion_interval(3, 2, 0.95).is_err());
        assert!(wilson_interval(0.5, 0.0, 0.95).is_err());
        assert_eq!(quantile(0.0, 2.0, 3.0), Ok(0.0));
    }

    proptest! {
        #[test]
        fn quantile_undoes_probability(p in 1e-9_f64..0.999, a in 0.2_f64..300.0, b in 0.2_f64..300.0) {
            let x = quantile(p, a, b).unwrap();
            // Rounding of x alone moves the probability by density · ε · x.
            let density = exp((a - 1.0) * ln(x) + (b - 1.0) * ln(1.0 - x) - ln_beta(a, b));
            let slack = 1e-11 * p + 4.0 * f64::EPSILON * density;
            prop_assert!((regularised(x, a, b) - p).abs() <= slack, "x = {}", x);
        }

        #[test]
        fn probability_agrees_with_another_library(x in 0.001_f64..0.999, a in 0.3_f64..200.0, b in 0.3_f64..200.0) {
            let other = Beta::new(a, b).unwrap().cdf(x);
            prop_assert!((regularised(x, a, b) - other).abs() < 1e-11);
        }

        #[test]
        fn student_tends_to_normal(p in 0.001_f64..0.999) {
            let t = student_t_quantile(p, 9.99e5).unwrap();
            prop_assert!((t - normal::quantile(p)).abs() < 1e-5);
            prop_assert!((student_t_quantile(p, 1.001e6).unwrap() - t).abs() < 1e-7);
            prop_assert!((student_t_cdf(student_t_quantile(p, 5.5).unwrap(), 5.5) - p).abs() < 1e-12);
        }
    }
}
