//! Straight lines through points: least squares, with weights, with errors in both directions.
//!
//! Start at [`ordinary`]; [`weighted`] gives points their weights, [`york`] knows the uncertainty of each
//! point in both directions, [`organic_correlation`] treats the two directions alike without knowing any.

use crate::error::{require, require_len};
use crate::sum::pairwise_by;
use crate::{NumericError, beta};

/// A fitted line `y = intercept + slope · x` with what is known of its errors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Value at x = 0.
    pub intercept: f64,
    /// Rise per unit of x.
    pub slope: f64,
    /// Variance of the intercept.
    pub intercept_variance: f64,
    /// Variance of the slope.
    pub slope_variance: f64,
    /// Covariance of the two.
    pub covariance: f64,
    /// Variance of one point of weight 1 about the line, from the scatter.
    pub residual_variance: f64,
    /// Square of the (weighted) correlation coefficient; NaN where y does not vary.
    pub r2: f64,
    /// Number of points.
    pub n: usize,
}

impl Line {
    /// Degrees of freedom: points less two.
    pub fn degrees_of_freedom(&self) -> f64 {
        self.n as f64 - 2.0
    }

    /// Returns the line's value at `x`.
    pub fn at(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }

    /// Returns the variance of the line's value at `x`.
    pub fn variance_at(&self, x: f64) -> f64 {
        (self.intercept_variance + x * (2.0 * self.covariance + x * self.slope_variance)).max(0.0)
    }

    /// Returns the half-width of the confidence interval of the line at `x`, by Student's t.
    ///
    /// # Errors
    /// [`NumericError::Parameter`] for fewer than three points or a level outside (0, 1).
    pub fn confidence_half_width(&self, x: f64, level: f64) -> Result<f64, NumericError> {
        Ok(beta::student_t_two_sided(level, self.degrees_of_freedom())? * self.variance_at(x).sqrt())
    }

    /// Returns the half-width of the interval for one further point of weight 1 at `x`.
    ///
    /// # Errors
    /// As [`Self::confidence_half_width`].
    pub fn prediction_half_width(&self, x: f64, level: f64) -> Result<f64, NumericError> {
        let variance = self.variance_at(x) + self.residual_variance;
        Ok(beta::student_t_two_sided(level, self.degrees_of_freedom())? * variance.sqrt())
    }
}

/// Weighted means and sums of squares about them.
struct Moments {
    weight: f64,
    x: f64,
    y: f64,
    xx: f64,
    yy: f64,
    xy: f64,
}

fn moments(x: &[f64], y: &[f64], w: &impl Fn(usize) -> f64) -> Result<Moments, NumericError> {
    let n = x.len();
    require_len("y values", n, y.len())?;
    if n < 2 {
        return Err(NumericError::Sizes { what: "points", expected: 2, found: n });
    }
    for i in 0..n {
        require(x[i].is_finite(), "x", x[i], "a finite number")?;
        require(y[i].is_finite(), "y", y[i], "a finite number")?;
        require(w(i) >= 0.0 && w(i).is_finite(), "weight", w(i), "zero or more")?;
    }
    let weight = pairwise_by(n, w);
    require(weight > 0.0, "sum of weights", weight, "above zero")?;
    let mx = pairwise_by(n, &|i| w(i) * x[i]) / weight;
    let my = pairwise_by(n, &|i| w(i) * y[i]) / weight;
    let xx = pairwise_by(n, &|i| w(i) * (x[i] - mx) * (x[i] - mx));
    require(xx > 0.0, "spread of x", xx, "above zero: the points must lie at two places at least")?;
    Ok(Moments {
        weight,
        x: mx,
        y: my,
        xx,
        yy: pairwise_by(n, &|i| w(i) * (y[i] - my) * (y[i] - my)),
        xy: pairwise_by(n, &|i| w(i) * (x[i] - mx) * (y[i] - my)),
    })
}

/// Fits a line by ordinary least squares.
///
/// Variances come from the scatter with n − 2 degrees of freedom; with two points they are NaN.
///
/// # Errors
/// [`NumericError::Sizes`] for fewer than two points or unequal lengths; [`NumericError::Parameter`] for numbers that
/// are not finite or all x equal.
///
/// # Example
/// ```
/// let line = numeric::regression::ordinary(&[0.0, 1.0, 2.0], &[1.0, 3.0, 5.0])?;
/// assert!((line.slope - 2.0).abs() < 1e-15 && (line.at(10.0) - 21.0).abs() < 1e-13);
/// # Ok::<(), numeric::NumericError>(())
/// ```
pub fn ordinary(x: &[f64], y: &[f64]) -> Result<Line, NumericError> {
    weighted(x, y, &vec![1.0; x.len()])
}

/// Fits a line by least squares with a weight for each point (1/variance up to a common factor).
///
/// The common factor is taken from the scatter, so only the ratios of weights matter.
///
/// # Errors
/// As [`ordinary`]; [`NumericError::Parameter`] for weights below zero.
pub fn weighted(x: &[f64], y: &[f64], weight: &[f64]) -> Result<Line, NumericError> {
    require_len("weights", x.len(), weight.len())?;
    let n = x.len();
    let m = moments(x, y, &|i| weight[i])?;
    let slope = m.xy / m.xx;
    let intercept = m.y - slope * m.x;
    let squares = pairwise_by(n, &|i| {
        let r = (y[i] - m.y) - slope * (x[i] - m.x);
        weight[i] * r * r
    });
    let residual_variance = if n > 2 { squares / (n - 2) as f64 } else { f64::NAN };
    let slope_variance = residual_variance / m.xx;
    Ok(Line {
        intercept,
        slope,
        intercept_variance: residual_variance / m.weight + m.x * m.x * slope_variance,
        slope_variance,
        covariance: -m.x * slope_variance,
        residual_variance,
        r2: m.xy * m.xy / (m.xx * m.yy),
        n,
    })
}

/// Fits the line of organic correlation (reduced major axis): slope = ± s_y/s_x, through the means.
///
/// It treats x and y alike: exchanging them gives the same line. The sign is that of the correlation; no
/// errors are given, since the method knows none.
///
/// # Errors
/// As [`ordinary`].
pub fn organic_correlation(x: &[f64], y: &[f64]) -> Result<(f64, f64), NumericError> {
    let m = moments(x, y, &|_| 1.0)?;
    let slope = (m.yy / m.xx).sqrt().copysign(m.xy);
    Ok((m.y - slope * m.x, slope))
}

/// A line through points that are uncertain in both directions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct YorkLine {
    /// The line; its variances follow from the stated uncertainties alone, `residual_variance` is χ²/(n − 2).
    pub line: Line,
    /// χ²/(n − 2): near 1 when the stated uncertainties explain the scatter; NaN for two points.
    pub reduced_chi2: f64,
    /// Steps taken.
    pub iterations: usize,
}

/// Fits a line to points with standard uncertainties `u_x`, `u_y`, independent of one another.
///
/// # Errors
/// As [`ordinary`]; [`NumericError::Parameter`] for an uncertainty below zero or a point without any;
/// [`NumericError::NoConvergence`] after 200 steps.
///
/// # Source
/// D. York and others, Unified equations for the slope, intercept, and standard errors of the best straight
/// line, American Journal of Physics 72 (2004) 367, with zero correlation of errors. From memory; held
/// against an independent calculation in the checks.
pub fn york(x: &[f64], y: &[f64], u_x: &[f64], u_y: &[f64]) -> Result<YorkLine, NumericError> {
    let n = x.len();
    require_len("x uncertainties", n, u_x.len())?;
    require_len("y uncertainties", n, u_y.len())?;
    for i in 0..n {
        require(u_x[i] >= 0.0 && u_x[i].is_finite(), "x uncertainty", u_x[i], "zero or more")?;
        require(u_y[i] >= 0.0 && u_y[i].is_finite(), "y uncertainty", u_y[i], "zero or more")?;
        require(u_x[i] + u_y[i] > 0.0, "uncertainty", 0.0, "above zero in one direction at least")?;
    }
    let mut slope = ordinary(x, y)?.slope;
    let weight = |b: f64, i: usize| 1.0 / (u_y[i] * u_y[i] + b * b * u_x[i] * u_x[i]);
    for iterations in 1..=200 {
        let w = |i: usize| weight(slope, i);
        let m = moments(x, y, &w)?;
        let beta =
            |i: usize| w(i) * ((x[i] - m.x) * u_y[i] * u_y[i] + slope * (y[i] - m.y) * u_x[i] * u_x[i]);
        let over = pairwise_by(n, &|i| w(i) * beta(i) * (y[i] - m.y));
        let under = pairwise_by(n, &|i| w(i) * beta(i) * (x[i] - m.x));
        let next = over / under;
        let step = (next - slope).abs();
        slope = next;
        if !slope.is_finite() {
            return Err(NumericError::NoConvergence { method: "York's line", iterations, residual: step });
        }
        if step <= 1e-15 * slope.abs().max(f64::MIN_POSITIVE) || step == 0.0 {
            return york_line(x, y, u_x, u_y, slope, iterations);
        }
        // The last digit may flicker for ever; twenty further steps are plenty once it is all that moves.
        if iterations > 30 && step <= 1e-13 * slope.abs() {
            return york_line(x, y, u_x, u_y, slope, iterations);
        }
    }
    Err(NumericError::NoConvergence { method: "York's line", iterations: 200, residual: slope })
}

fn york_line(
    x: &[f64],
    y: &[f64],
    u_x: &[f64],
    u_y: &[f64],
    slope: f64,
    iterations: usize,
) -> Result<YorkLine, NumericError> {
    let n = x.len();
    let w = |i: usize| 1.0 / (u_y[i] * u_y[i] + slope * slope * u_x[i] * u_x[i]);
    let m = moments(x, y, &w)?;
    let intercept = m.y - slope * m.x;
    // Adjusted points: where each measured point most likely lies on the line.
    let adjusted =
        |i: usize| m.x + w(i) * ((x[i] - m.x) * u_y[i] * u_y[i] + slope * (y[i] - m.y) * u_x[i] * u_x[i]);
    let mean = pairwise_by(n, &|i| w(i) * adjusted(i)) / m.weight;
    let slope_variance = 1.0 / pairwise_by(n, &|i| w(i) * (adjusted(i) - mean) * (adjusted(i) - mean));
    let chi2 = pairwise_by(n, &|i| {
        let r = y[i] - intercept - slope * x[i];
        w(i) * r * r
    });
    let reduced_chi2 = if n > 2 { chi2 / (n - 2) as f64 } else { f64::NAN };
    let line = Line {
        intercept,
        slope,
        intercept_variance: 1.0 / m.weight + mean * mean * slope_variance,
        slope_variance,
        covariance: -mean * slope_variance,
        residual_variance: reduced_chi2,
        r2: m.xy * m.xy / (m.xx * m.yy),
        n,
    };
    Ok(YorkLine { line, reduced_chi2, iterations })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Pearson's ten points with York's weights, the classical example: slope −0.480533, intercept 5.47991,
    /// χ²/8 = 1.4833, standard errors 0.0580 and 0.295 from the stated uncertainties alone; values recalled.
    #[test]
    fn pearson_points_with_york_weights() {
        let x = [0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4];
        let y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5];
        let wx = [1000.0, 1000.0, 500.0, 800.0, 200.0, 80.0, 60.0, 20.0, 1.8, 1.0];
        let wy = [1.0, 1.8, 4.0, 8.0, 20.0, 20.0, 70.0, 70.0, 100.0, 500.0];
        let u = |w: &[f64; 10]| w.map(|w: f64| 1.0 / w.sqrt());
        let fit = york(&x, &y, &u(&wx), &u(&wy)).unwrap();
        assert!((fit.line.slope + 0.480_533).abs() < 1e-6, "{fit:?}");
        assert!((fit.line.intercept - 5.479_91).abs() < 1e-5, "{fit:?}");
        assert!((fit.reduced_chi2 - 1.4833).abs() < 1e-4, "{fit:?}");
        assert!((fit.line.slope_variance.sqrt() - 0.0580).abs() < 1e-4, "{fit:?}");
        assert!((fit.line.intercept_variance.sqrt() - 0.295).abs() < 1e-3, "{fit:?}");
    }

    #[test]
    fn intervals_and_bad_input() {
        let line = ordinary(&[1.0, 2.0, 3.0, 4.0], &[1.1, 1.9, 3.2, 3.8]).unwrap();
        let narrow = line.confidence_half_width(2.5, 0.95).unwrap();
        assert!(narrow < line.confidence_half_width(4.0, 0.95).unwrap());
        assert!(narrow < line.prediction_half_width(2.5, 0.95).unwrap());
        assert!(ordinary(&[1.0], &[1.0]).is_err());
        assert!(ordinary(&[1.0, 1.0], &[1.0, 2.0]).is_err());
        assert!(ordinary(&[1.0, 2.0], &[1.0, f64::NAN]).is_err());
        assert!(weighted(&[1.0, 2.0], &[1.0, 2.0], &[1.0, -1.0]).is_err());
        assert!(york(&[1.0, 2.0], &[1.0, 2.0], &[0.0, 0.0], &[0.0, 1.0]).is_err());
        let two = ordinary(&[0.0, 1.0], &[0.0, 1.0]).unwrap();
        assert!(two.residual_variance.is_nan() && two.confidence_half_width(0.0, 0.95).is_err());
    }

    proptest! {
        #[test]
        fn exact_points_give_the_line(a in -5.0_f64..5.0, b in 0.1_f64..5.0, x0 in -3.0_f64..3.0) {
            let x: Vec<f64> = (0..6).map(|i| x0 + f64::from(i)).collect();
            let y: Vec<f64> = x.iter().map(|x| a + b * x).collect();
            let u = [0.1; 6];
            let lines = [
                ordinary(&x, &y).map(|l| (l.intercept, l.slope)),
                weighted(&x, &y, &[1.0, 2.0, 3.0, 2.0, 1.0, 0.5]).map(|l| (l.intercept, l.slope)),
                york(&x, &y, &u, &u).map(|l| (l.line.intercept, l.line.slope)),
                organic_correlation(&x, &y),
            ];
            for line in lines {
                let (i, s) = line.unwrap();
                prop_assert!((i - a).abs() < 1e-11 && (s - b).abs() < 1e-11);
            }
        }

        #[test]
        fn york_without_x_errors_is_least_squares(y in prop::collection::vec(-5.0_f64..5.0, 7)) {
            let x = [0.0, 1.0, 2.0, 4.0, 5.0, 7.0, 8.0];
            let a = ordinary(&x, &y).unwrap();
            let b = york(&x, &y, &[0.0; 7], &[0.3; 7]).unwrap().line;
            prop_assert!((a.slope - b.slope).abs() < 1e-12 && (a.intercept - b.intercept).abs() < 1e-11);
        }
    }
}
