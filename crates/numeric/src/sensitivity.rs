//! Which uncertain input moves a result, and by how much of its variance.
//!
//! [`first_order`] needs no runs of its own: it reads samples already made. [`saltelli`] and [`morris`] are the designed
//! methods, for checks and for models cheap enough to run again.

use crate::error::{require, require_len};
use crate::sum::{mean, mean_variance, pairwise_by};
use crate::weighted::Weights;
use crate::{NumericError, counter, sobol};
use rayon::prelude::*;

/// Returns the number of classes [`first_order`] is best given for `n` samples: about 2.5 ∛n, from 4 to 80.
pub fn classes(n: usize) -> usize {
    let guess = 2.5 * crate::scalar::cbrt(n as f64);
    (guess as usize).clamp(4, 80).min(n.max(1))
}

/// Returns the share of the variance of `y` that knowing `x` would remove, from given samples.
///
/// Samples are sorted by `x` and cut into `classes` of about equal weight, equal values never parted; the
/// share is the variance of the class means over the whole, less what chance alone would give them (as in an
/// analysis of variance). It may come out slightly below zero for an input without effect.
///
/// # Valid for
/// Independent inputs (with dependent ones the share includes what `x` says about the others). Bias by the
/// width of the classes falls with their number squared.
/// # Errors
/// [`NumericError::Sizes`] when lengths differ or for fewer than 2 classes; [`NumericError::Parameter`] when `y` does not
/// vary or is not finite.
pub fn first_order(x: &[f64], y: &[f64], weights: &Weights, classes: usize) -> Result<f64, NumericError> {
    let n = weights.len();
    require_len("inputs", n, x.len())?;
    require_len("results", n, y.len())?;
    if classes < 2 || n < 2 * classes {
        return Err(NumericError::Sizes { what: "samples", expected: 2 * classes.max(2), found: n });
    }
    let (m, v) = (weights.mean(y), weights.variance(y));
    require(v > 0.0 && v.is_finite(), "variance of the result", v, "above zero and finite")?;
    let w = weights.as_slice();
    let mut between = 0.0;
    let mut used = 0;
    for class in weights.classes(x, classes) {
        let weight: f64 = class.iter().map(|i| w[*i]).sum();
        if weight > 0.0 {
            let sum: f64 = class.iter().map(|i| w[*i] * (y[*i] - m)).sum();
            between += sum * sum / weight;
            used += 1;
        }
    }
    // Chance alone gives the class means (classes − 1)/n of the variance within.
    let size = weights.effective_size();
    let spare = (size - f64::from(used)).max(1.0);
    let chance = (f64::from(used) - 1.0) * (v - between).max(0.0) / spare;
    Ok((between - chance) / v)
}

/// First-order and total shares of each input.
#[derive(Clone, Debug, PartialEq)]
pub struct Shares {
    /// Share of the variance each input explains alone (Saltelli's estimator of 2010).
    pub first: Vec<f64>,
    /// The same by Jansen's estimator.
    pub first_jansen: Vec<f64>,
    /// Share left when all inputs but this one are known (Jansen).
    pub total: Vec<f64>,
    /// Variance of the results of A and B together, divisor n.
    pub variance: f64,
}

/// Returns first-order and total shares from a designed sample.
///
/// `a` and `b` are the results on two independent sets of points; `ab[i]` those on the points of A with input
/// `i` taken from B.
///
/// # Errors
/// [`NumericError::Sizes`] when lengths differ; [`NumericError::Parameter`] when the results do not vary.
///
/// # Source
/// A. Saltelli and others, Computer Physics Communications 181 (2010) 259, table 2, rows b, c and f (from
/// memory).
pub fn saltelli(a: &[f64], b: &[f64], ab: &[Vec<f64>]) -> Result<Shares, NumericError> {
    let n = a.len();
    require_len("results of B", n, b.len())?;
    let both: Vec<f64> = a.iter().chain(b).copied().collect();
    let m = mean(&both);
    let variance = pairwise_by(2 * n, &|i| (both[i] - m) * (both[i] - m)) / (2 * n) as f64;
    require(variance > 0.0 && variance.is_finite(), "variance of the results", variance, "above zero")?;
    let mut shares = Shares { first: vec![], first_jansen: vec![], total: vec![], variance };
    let average = |f: &dyn Fn(usize) -> f64| pairwise_by(n, &f) / n as f64;
    for c in ab {
        require_len("results of a mixed set", n, c.len())?;
        shares.first.push(average(&|i| b[i] * (c[i] - a[i])) / variance);
        shares.first_jansen.push(1.0 - average(&|i| (b[i] - c[i]) * (b[i] - c[i])) / (2.0 * variance));
        shares.total.push(average(&|i| (a[i] - c[i]) * (a[i] - c[i])) / (2.0 * variance));
    }
    Ok(shares)
}

/// Runs `f` on a designed low-discrepancy sample of `n` base points in `inputs` dimensions, `n · (inputs +
/// 2)` calls on the current rayon pool, and returns the shares.
///
/// `f` takes a point of the unit cube.
///
/// # Errors
/// As [`saltelli`].
pub fn saltelli_run(
    inputs: usize,
    n: usize,
    seed: u64,
    f: impl Fn(&[f64]) -> f64 + Sync,
) -> Result<Shares, NumericError> {
    let stream = sobol::Stream::new(seed);
    let rows: Vec<Vec<f64>> = (0..n)
        .into_par_iter()
        .map(|k| {
            let mut both = vec![0.0; 2 * inputs];
            stream.point(k as u64, &mut both);
            let (a, b) = both.split_at(inputs);
            let mut row = vec![f(a), f(b)];
            let mut mixed = a.to_vec();
            for i in 0..inputs {
                mixed[i] = b[i];
                row.push(f(&mixed));
                mixed[i] = a[i];
            }
            row
        })
        .collect();
    let column = |j: usize| rows.iter().map(|r| r[j]).collect::<Vec<f64>>();
    let ab: Vec<Vec<f64>> = (0..inputs).map(|i| column(2 + i)).collect();
    saltelli(&column(0), &column(1), &ab)
}

/// Elementary effects of one input over all trajectories.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effect {
    /// Mean effect, with sign.
    pub mean: f64,
    /// Mean size of the effect.
    pub mean_size: f64,
    /// Standard deviation of the effect (divisor r − 1): interaction or curvature.
    pub sd: f64,
}

/// Returns Morris' elementary effects from trajectories whose consecutive points differ in one input.
///
/// A trajectory is a list of (point, result). Effects are Δy/Δx with the step's sign.
///
/// # Errors
/// [`NumericError::Parameter`] when a step moves no input or more than one; [`NumericError::Sizes`] when an input is moved
/// fewer than two times, or points differ in length.
pub fn morris(trajectories: &[Vec<(Vec<f64>, f64)>]) -> Result<Vec<Effect>, NumericError> {
    let inputs = trajectories.first().and_then(|t| t.first()).map_or(0, |(x, _)| x.len());
    let mut effects = vec![Vec::new(); inputs];
    for trajectory in trajectories {
        for pair in trajectory.windows(2) {
            let [(x, y), (x_next, y_next)] = pair else { continue };
            require_len("point", inputs, x.len())?;
            require_len("point", inputs, x_next.len())?;
            let moved: Vec<usize> = (0..inputs).filter(|i| x[*i] != x_next[*i]).collect();
            let [i] = moved[..] else {
                return Err(NumericError::Parameter {
                    name: "inputs moved in a step",
                    value: moved.len() as f64,
                    needed: "one",
                });
            };
            effects[i].push((y_next - y) / (x_next[i] - x[i]));
        }
    }
    effects
        .iter()
        .map(|e| {
            if e.len() < 2 {
                return Err(NumericError::Sizes { what: "effects of an input", expected: 2, found: e.len() });
            }
            let (m, v) = mean_variance(e);
            let sizes: Vec<f64> = e.iter().map(|x| x.abs()).collect();
            Ok(Effect { mean: m, mean_size: mean(&sizes), sd: v.sqrt() })
        })
        .collect()
}

/// Returns `count` random trajectories of `inputs + 1` points in the unit cube, on a grid of `levels` (even)
/// and steps of levels/(2 (levels − 1)).
///
/// # Errors
/// [`NumericError::Parameter`] for an odd number of levels or fewer than 2.
pub fn morris_design(
    inputs: usize,
    count: usize,
    levels: u32,
    seed: u64,
) -> Result<Vec<Vec<Vec<f64>>>, NumericError> {
    require(levels >= 2 && levels.is_multiple_of(2), "levels", f64::from(levels), "even, 2 or more")?;
    let gap = 1.0 / f64::from(levels - 1);
    let step = 0.5 * f64::from(levels) * gap;
    Ok((0..count)
        .map(|t| {
            let stream = counter::Stream::keyed(seed, t as u64);
            let mut draw = 0;
            let mut below = |n: u64| {
                draw += 1;
                stream.below(draw, n)
            };
            // Start on the lower half of the grid; a coin decides whether the input goes up or, mirrored,
            // down.
            let mut point = Vec::with_capacity(inputs);
            let mut sign = Vec::with_capacity(inputs);
            for _ in 0..inputs {
                let low = below(u64::from(levels / 2)) as f64 * gap;
                let up = below(2) == 0;
                point.push(if up { low } else { low + step });
                sign.push(if up { step } else { -step });
            }
            let mut order: Vec<usize> = (0..inputs).collect();
            for i in (1..inputs).rev() {
                order.swap(i, below(i as u64 + 1) as usize);
            }
            let mut points = vec![point.clone()];
            for i in order {
                point[i] += sign[i];
                points.push(point.clone());
            }
            points
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn ishigami(u: &[f64]) -> f64 {
        let [x, y, z] = [0, 1, 2].map(|i| PI * (2.0 * u[i] - 1.0));
        let s = crate::scalar::sin(y);
        crate::scalar::sin(x) * (1.0 + 0.1 * z * z * z * z) + 7.0 * s * s
    }

    /// Closed forms: S = 0.3139, 0.4424, 0; ST = 0.5576, 0.4424, 0.2437.
    #[test]
    fn both_ways_find_the_known_shares() {
        let shares = saltelli_run(3, 8_192, 1, ishigami).unwrap();
        let exact = ([0.313_905, 0.442_411, 0.0], [0.557_589, 0.442_411, 0.243_684]);
        for i in 0..3 {
            assert!((shares.first[i] - exact.0[i]).abs() < 0.01, "{shares:?}");
            assert!((shares.total[i] - exact.1[i]).abs() < 0.01, "{shares:?}");
        }
        let n = 16_384;
        let stream = sobol::Stream::new(2);
        let points: Vec<[f64; 3]> = (0..n).map(|i| [0, 1, 2].map(|d| stream.at(i, d))).collect();
        let y: Vec<f64> = points.iter().map(|p| ishigami(p)).collect();
        let w = Weights::equal(y.len()).unwrap();
        for i in 0..3 {
            let x: Vec<f64> = points.iter().map(|p| p[i]).collect();
            let s = first_order(&x, &y, &w, classes(y.len())).unwrap();
            assert!((s - exact.0[i]).abs() < 0.01, "input {i}: {s}");
        }
    }

    #[test]
    fn equal_values_are_not_parted() {
        let x: Vec<f64> = (0..1000).map(|i| f64::from(i % 2)).collect();
        let y: Vec<f64> = (0..1000).map(|i| f64::from(i % 2) + 0.5 * f64::from((i / 2) % 2)).collect();
        let w = Weights::equal(1000).unwrap();
        // Variance of the mean given x: 1/4 of 1/4 + 1/16.
        let s = first_order(&x, &y, &w, 10).unwrap();
        assert!((s - 0.8).abs() < 1e-3, "{s}");
        assert!(first_order(&x, &[1.0; 1000], &w, 10).is_err());
        assert!(first_order(&x[..3], &y[..3], &Weights::equal(3).unwrap(), 10).is_err());
    }

    /// An input without effect gets nothing, with weights too.
    #[test]
    fn no_effect_is_no_share() {
        let stream = counter::Stream::new(4, "x");
        let other = counter::Stream::new(4, "y");
        let x: Vec<f64> = (0..4000).map(|i| stream.uniform(i)).collect();
        let y: Vec<f64> = (0..4000).map(|i| other.uniform(i)).collect();
        let w = Weights::from_sizes(&y.iter().map(|v| v + 0.1).collect::<Vec<_>>()).unwrap();
        let s = first_order(&x, &y, &w, 40).unwrap();
        assert!(s.abs() < 0.015, "{s}");
    }

    #[test]
    fn trajectories_of_a_plane_and_a_product() {
        let design = morris_design(3, 12, 4, 9).unwrap();
        let f = |x: &[f64]| 2.0 * x[0] - 3.0 * x[1] + x[0] * x[2];
        let runs: Vec<Vec<(Vec<f64>, f64)>> = design
            .into_iter()
            .map(|t| {
                t.into_iter()
                    .map(|x| {
                        assert!(x.iter().all(|v| (-1e-12..=1.0 + 1e-12).contains(v)));
                        let y = f(&x);
                        (x, y)
                    })
                    .collect()
            })
            .collect();
        let effects = morris(&runs).unwrap();
        assert!((effects[1].mean + 3.0).abs() < 1e-12 && effects[1].sd < 1e-12);
        assert!((effects[1].mean_size - 3.0).abs() < 1e-12);
        assert!(effects[0].mean > 2.0 && effects[0].mean < 3.0 && effects[0].sd > 0.1);
        assert!(morris(&[vec![(vec![0.0, 0.0], 0.0), (vec![1.0, 1.0], 1.0)]]).is_err());
        assert!(morris_design(2, 1, 3, 0).is_err());
    }
}
