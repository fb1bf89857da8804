//! Statistics of weighted samples.
//!
//! Start at [`Weights`]: made from logarithms of likelihoods without underflow, they give means, quantiles,
//! the effective size and a resampling. Orders are fixed, so no result depends on threads.

use crate::error::{require, require_len};
use crate::sum::{pairwise, pairwise_by};
use crate::{NumericError, exp, ln};

/// Returns ln Σ e^x without overflow or underflow; −∞ for an empty list.
pub fn ln_sum_exp(x: &[f64]) -> f64 {
    let top = x.iter().fold(f64::NEG_INFINITY, |m, v| if *v > m { *v } else { m });
    if !top.is_finite() {
        return top;
    }
    top + ln(pairwise_by(x.len(), &|i| exp(x[i] - top)))
}

/// Weights of a set of samples, adding up to 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Weights {
    w: Vec<f64>,
    ln_mean: f64,
}

impl Weights {
    /// Equal weights.
    ///
    /// # Errors
    /// [`NumericError::Sizes`] for no samples.
    pub fn equal(n: usize) -> Result<Self, NumericError> {
        Self::from_logs(&vec![0.0; n])
    }

    /// Weights proportional to e^x: log-likelihoods as they are.
    ///
    /// # Errors
    /// [`NumericError::Sizes`] for an empty list; [`NumericError::Parameter`] for NaN or +∞, or when every weight is 0.
    pub fn from_logs(x: &[f64]) -> Result<Self, NumericError> {
        if x.is_empty() {
            return Err(NumericError::Sizes { what: "samples", expected: 1, found: 0 });
        }
        for v in x {
            require(*v < f64::INFINITY, "log-weight", *v, "a number below infinity")?;
        }
        let total = ln_sum_exp(x);
        require(total.is_finite(), "largest log-weight", total, "above minus infinity")?;
        // Normalised once more by their sum: e^(x − total) alone leaves the rounding of `total`, far from
        // zero large.
        let mut w: Vec<f64> = x.iter().map(|v| exp(v - total)).collect();
        let sum = pairwise(&w);
        w.iter_mut().for_each(|v| *v /= sum);
        Ok(Self { w, ln_mean: total - ln(x.len() as f64) })
    }

    /// Weights proportional to some numbers not below zero.
    ///
    /// # Errors
    /// As [`Self::from_logs`]; [`NumericError::Parameter`] for a number below zero.
    pub fn from_sizes(x: &[f64]) -> Result<Self, NumericError> {
        for v in x {
            require(*v >= 0.0, "weight", *v, "zero or more")?;
        }
        Self::from_logs(&x.iter().map(|v| ln(*v)).collect::<Vec<_>>())
    }

    /// The weights, adding up to 1.
    pub fn as_slice(&self) -> &[f64] {
        &self.w
    }

    /// Number of samples.
    pub fn len(&self) -> usize {
        self.w.len()
    }

    /// False: there is always a sample.
    pub fn is_empty(&self) -> bool {
        self.w.is_empty()
    }

    /// Logarithm of the mean of the weights as given: the evidence, when they were likelihoods.
    pub fn ln_mean(&self) -> f64 {
        self.ln_mean
    }

    /// Effective number of samples (Kish): 1/Σ w².
    pub fn effective_size(&self) -> f64 {
        1.0 / pairwise_by(self.w.len(), &|i| self.w[i] * self.w[i])
    }

    /// Returns the weighted mean of `x`.
    ///
    /// # Panics
    /// As every method here, when `x` is shorter than the weights.
    pub fn mean(&self, x: &[f64]) -> f64 {
        pairwise_by(self.w.len(), &|i| self.w[i] * x[i])
    }

    /// Returns the weighted variance Σ w (x − mean)².
    pub fn variance(&self, x: &[f64]) -> f64 {
        let m = self.mean(x);
        pairwise_by(self.w.len(), &|i| self.w[i] * (x[i] - m) * (x[i] - m))
    }

    /// Returns the square root of the weighted variance.
    pub fn sd(&self, x: &[f64]) -> f64 {
        self.variance(x).sqrt()
    }

    /// Returns the weighted covariance of two lists.
    pub fn covariance(&self, x: &[f64], y: &[f64]) -> f64 {
        let (mx, my) = (self.mean(x), self.mean(y));
        pairwise_by(self.w.len(), &|i| self.w[i] * (x[i] - mx) * (y[i] - my))
    }

    /// Returns the weight of the samples for which `holds` is true: the chance of it.
    pub fn share(&self, holds: impl Fn(usize) -> bool) -> f64 {
        pairwise_by(self.w.len(), &|i| if holds(i) { self.w[i] } else { 0.0 })
    }

    /// Returns the smallest sample at or below which lies a weight of at least `p`.
    pub fn quantile(&self, x: &[f64], p: f64) -> f64 {
        self.quantiles(x, &[p])[0]
    }

    /// Returns several quantiles with one sorting, in the order asked.
    pub fn quantiles(&self, x: &[f64], p: &[f64]) -> Vec<f64> {
        let mut order: Vec<usize> = (0..self.w.len()).collect();
        order.sort_by(|a, b| x[*a].total_cmp(&x[*b]));
        let mut below = 0.0;
        let cumulative: Vec<f64> = order
            .iter()
            .map(|i| {
                below += self.w[*i];
                below
            })
            .collect();
        p.iter()
            .map(|p| {
                // A rounding's slack, so that p = 1 and p = k/n find the sample they mean.
                let target = p - 1e-12;
                let at = cumulative.partition_point(|c| *c < target).min(order.len() - 1);
                x[order[at]]
            })
            .collect()
    }

    /// Sorts samples by `x` and cuts them into at most `count` classes of about equal weight; equal values
    /// are never parted, so there may be fewer. Each class lists its samples in rising order of `x`.
    pub fn classes(&self, x: &[f64], count: usize) -> Vec<Vec<usize>> {
        let mut order: Vec<usize> = (0..self.w.len()).collect();
        order.sort_by(|a, b| x[*a].total_cmp(&x[*b]));
        let count = count.max(1) as f64;
        let mut classes: Vec<Vec<usize>> = Vec::new();
        let mut below = 0.0;
        let mut target = 0.0;
        for tie in order.chunk_by(|a, b| x[*a] == x[*b]) {
            if below >= target - 1e-12 || classes.is_empty() {
                classes.push(Vec::new());
                // The next multiple of 1/count above what has been handed out.
                target = ((below * count + 1e-9).floor() + 1.0) / count;
            }
            if let Some(class) = classes.last_mut() {
                class.extend(tie);
            }
            below += tie.iter().map(|i| self.w[*i]).sum::<f64>();
        }
        classes
    }

    /// Returns `n` sample indices drawn in proportion to the weights by evenly spaced positions (i + ½)/n:
    /// each sample comes ⌊n w⌋ or ⌈n w⌉ times, without chance.
    pub fn resample(&self, n: usize) -> Vec<usize> {
        self.resample_from(n, 0.5)
    }

    /// As [`Self::resample`], with positions (i + offset)/n, offset in [0, 1).
    pub fn resample_from(&self, n: usize, offset: f64) -> Vec<usize> {
        let mut at = 0;
        let mut below = self.w[0];
        (0..n)
            .map(|i| {
                let position = (i as f64 + offset) / n as f64;
                while below < position && at + 1 < self.w.len() {
                    at += 1;
                    below += self.w[at];
                }
                at
            })
            .collect()
    }

    /// Returns the weights times e^x, renormalised: one more piece of evidence.
    ///
    /// # Errors
    /// [`NumericError::Sizes`] when lengths differ; otherwise as [`Self::from_logs`].
    pub fn updated(&self, ln_likelihood: &[f64]) -> Result<Self, NumericError> {
        require_len("log-likelihoods", self.w.len(), ln_likelihood.len())?;
        let logs: Vec<f64> = self.w.iter().zip(ln_likelihood).map(|(w, l)| ln(*w) + l).collect();
        Self::from_logs(&logs)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn equal_weights_are_plain_statistics() {
        let w = Weights::equal(4).unwrap();
        let x = [4.0, 1.0, 3.0, 2.0];
        assert_eq!(w.mean(&x), 2.5);
        assert_eq!(w.variance(&x), 1.25);
        assert_eq!(w.effective_size(), 4.0);
        assert_eq!(w.quantiles(&x, &[0.0, 0.25, 0.26, 0.5, 1.0]), vec![1.0, 1.0, 2.0, 2.0, 4.0]);
        assert_eq!(w.share(|i| x[i] > 2.5), 0.5);
        assert_eq!(w.resample(4), vec![0, 1, 2, 3]);
        assert!(w.ln_mean().abs() < 1e-15);
    }

    #[test]
    fn classes_share_the_weight_and_keep_ties() {
        let w = Weights::equal(8).unwrap();
        let x = [3.0, 1.0, 2.0, 2.0, 2.0, 2.0, 2.0, 9.0];
        assert_eq!(w.classes(&x, 4), vec![vec![1, 2, 3, 4, 5, 6], vec![0, 7]]);
        let y = [8.0, 7.0, 6.0, 5.0, 4.0, 3.0, 2.0, 1.0];
        assert_eq!(w.classes(&y, 4), vec![vec![7, 6], vec![5, 4], vec![3, 2], vec![1, 0]]);
    }

    #[test]
    fn bad_weights_are_errors() {
        assert!(Weights::equal(0).is_err());
        assert!(Weights::from_logs(&[f64::NAN]).is_err());
        assert!(Weights::from_logs(&[f64::NEG_INFINITY; 3]).is_err());
        assert!(Weights::from_sizes(&[1.0, -1.0]).is_err());
        assert!(Weights::equal(2).unwrap().updated(&[0.0]).is_err());
    }

    proptest! {
        #[test]
        fn shifts_do_not_matter(x in prop::collection::vec(-30.0_f64..30.0, 1..50), shift in -2000.0_f64..2000.0) {
            let a = Weights::from_logs(&x).unwrap();
            let moved: Vec<f64> = x.iter().map(|v| v + shift).collect();
            let b = Weights::from_logs(&moved).unwrap();
            for (a, b) in a.as_slice().iter().zip(b.as_slice()) { prop_assert!((a - b).abs() < 1e-12); }
            prop_assert!((pairwise(a.as_slice()) - 1.0).abs() < 1e-14);
            prop_assert!(a.effective_size() <= x.len() as f64 * (1.0 + 1e-12));
        }

        #[test]
        fn resampling_keeps_shares(x in prop::collection::vec(0.0_f64..1.0, 2..40), n in 1_usize..200) {
            prop_assume!(x.iter().any(|v| *v > 0.0));
            let w = Weights::from_sizes(&x).unwrap();
            let drawn = w.resample(n);
            for (i, weight) in w.as_slice().iter().enumerate() {
                let count = drawn.iter().filter(|d| **d == i).count() as f64;
                prop_assert!((count - n as f64 * weight).abs() < 1.0 + 1e-9);
            }
        }

        #[test]
        fn evidence_in_two_steps_is_evidence_at_once(a in prop::collection::vec(-5.0_f64..5.0, 9), b in prop::collection::vec(-5.0_f64..5.0, 9)) {
            let both: Vec<f64> = a.iter().zip(&b).map(|(a, b)| a + b).collect();
            let once = Weights::from_logs(&both).unwrap();
            let twice = Weights::from_logs(&a).unwrap().updated(&b).unwrap();
            for (x, y) in once.as_slice().iter().zip(twice.as_slice()) { prop_assert!((x - y).abs() < 1e-13); }
        }
    }
}
