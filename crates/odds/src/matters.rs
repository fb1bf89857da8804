//! What matters: which cause the doubt about a result hangs on.
//!
//! Shares come from samples already made, so they cost no run. Samples are sorted by a cause's score and cut into
//! classes; the share is the variance of the class means over the whole, less what chance alone would give
//! ([`numeric::sensitivity::first_order`] is the same sum for one cause).
//!
//! Causes are taken one at a time: the largest share first, then what its class means leave over is shared among the
//! rest. Sample points of many dimensions hang together a little by accident, and an accident's share falls away once
//! the true cause has been taken. A share is told only when it stands clear of the bar: the largest that the same cause
//! shows for the result dealt out anew in random order ([`NULLS`] times).
//!
//! Before evidence the shares of independent causes add up to at most one; after evidence they are shares of the
//! remaining variance, and of causes that evidence has tied together the first counts what they share.

use numeric::weighted::Weights;
use numeric::{counter, sensitivity};
use rayon::prelude::*;

use crate::OddsError;

/// How often the result is dealt out anew for the bar.
pub const NULLS: u64 = 19;

/// A cause's share of the variance of a result.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// Number of the cause.
    pub cause: usize,
    /// Its share.
    pub share: f64,
    /// The bar it stands above.
    pub bar: f64,
}

/// Samples sorted into classes by every cause, once for all results.
#[derive(Clone, Debug)]
pub struct Classes {
    /// Class of each sample, cause by cause; empty for a cause that does not vary.
    of: Vec<Vec<u16>>,
    /// Classes used.
    count: usize,
    weights: Weights,
}

impl Classes {
    /// Sorts samples by the scores of every cause: `scores[c]` is the column of cause `c`.
    pub fn new(scores: &[Vec<f64>], weights: &Weights) -> Self {
        let count = sensitivity::classes(weights.effective_size().round() as usize);
        let of = scores
            .par_iter()
            .map(|x| {
                let classes = weights.classes(x, count);
                if classes.len() < 2 {
                    return Vec::new();
                }
                let mut of = vec![0; x.len()];
                for (class, members) in classes.iter().enumerate() {
                    members.iter().for_each(|i| of[*i] = class as u16);
                }
                of
            })
            .collect();
        Self { of, count, weights: weights.clone() }
    }

    /// Returns the causes that stand clear of chance, at most `most`, in the order they were taken.
    ///
    /// # Errors
    /// [`OddsError::Sizes`] when the result has not a number for every sample.
    pub fn shares(&self, y: &[f64], most: usize, seed: u64) -> Result<Vec<Share>, OddsError> {
        let n = self.weights.len();
        if y.len() != n || y.iter().any(|v| !v.is_finite()) {
            return Err(OddsError::Sizes { what: "results of samples", found: y.len() });
        }
        let whole = self.weights.variance(y);
        let mut found: Vec<Share> = Vec::new();
        let mut rest = y.to_vec();
        while found.len() < most && whole > 0.0 {
            let shares: Vec<f64> = self.of.par_iter().map(|of| self.between(of, &rest) / whole).collect();
            let taken = |c: &usize| found.iter().any(|s| s.cause == *c);
            let best =
                (0..self.of.len()).filter(|c| !taken(c)).max_by(|a, b| shares[*a].total_cmp(&shares[*b]));
            let Some(cause) = best.filter(|c| shares[*c] > 0.0) else { break };
            let bar = self.bar(cause, &rest, seed) / whole;
            if shares[cause] <= bar {
                break;
            }
            found.push(Share { cause, share: shares[cause], bar });
            let means = self.means(&self.of[cause], &rest);
            rest.iter_mut().zip(&self.of[cause]).for_each(|(v, class)| *v -= means[usize::from(*class)]);
        }
        Ok(found)
    }

    fn means(&self, of: &[u16], y: &[f64]) -> Vec<f64> {
        let w = self.weights.as_slice();
        let (mut sum, mut weight) = (vec![0.0; self.count + 1], vec![0.0; self.count + 1]);
        for ((class, y), w) in of.iter().zip(y).zip(w) {
            sum[usize::from(*class)] += w * y;
            weight[usize::from(*class)] += w;
        }
        sum.iter().zip(&weight).map(|(s, w)| if *w > 0.0 { s / w } else { 0.0 }).collect()
    }

    /// Variance of the class means, less what chance alone would give them.
    fn between(&self, of: &[u16], y: &[f64]) -> f64 {
        if of.is_empty() {
            return 0.0;
        }
        let w = self.weights.as_slice();
        let mean = self.weights.mean(y);
        let variance = self.weights.variance(y);
        let means = self.means(of, y);
        let mut weight = vec![0.0; means.len()];
        of.iter().zip(w).for_each(|(class, w)| weight[usize::from(*class)] += w);
        let between: f64 = means.iter().zip(&weight).map(|(m, w)| w * (m - mean) * (m - mean)).sum();
        let used = weight.iter().filter(|w| **w > 0.0).count() as f64;
        let spare = (self.weights.effective_size() - used).max(1.0);
        between - (used - 1.0) * (variance - between).max(0.0) / spare
    }

    /// Largest share of a cause in what is dealt out anew, not yet over the whole.
    fn bar(&self, cause: usize, y: &[f64], seed: u64) -> f64 {
        let deals = (0..NULLS).into_par_iter().map(|deal| {
            let stream = counter::Stream::keyed(seed, (cause as u64) << 8 | deal);
            self.between(&self.of[cause], &dealt(y, stream))
        });
        deals.collect::<Vec<f64>>().into_iter().fold(0.0, f64::max)
    }
}

/// Deals numbers out anew, each once.
fn dealt(x: &[f64], stream: counter::Stream) -> Vec<f64> {
    let mut y = x.to_vec();
    for i in (1..y.len()).rev() {
        y.swap(i, stream.below(i as u64, i as u64 + 1) as usize);
    }
    y
}

#[cfg(test)]
mod tests {
    use super::*;

    fn columns(n: u64, dimensions: u32) -> Vec<Vec<f64>> {
        let stream = numeric::sobol::Stream::new(1);
        (0..dimensions)
            .map(|d| (0..n).map(|i| numeric::normal::quantile(stream.at(i, d))).collect())
            .collect()
    }

    #[test]
    fn a_linear_result_is_shared_as_its_variance_is() {
        let scores = columns(4096, 12);
        let y: Vec<f64> = (0..4096).map(|i| 2.0 * scores[3][i] - scores[7][i]).collect();
        let w = Weights::equal(4096).expect("weights");
        let found = Classes::new(&scores, &w).shares(&y, 6, 5).expect("shares");
        assert_eq!((found[0].cause, found[1].cause), (3, 7));
        assert!((found[0].share - 0.8).abs() < 0.02 && (found[1].share - 0.2).abs() < 0.02, "{found:?}");
        assert!(found[2..].iter().all(|s| s.share < 0.01), "{found:?}");
        let first =
            sensitivity::first_order(&scores[3], &y, &w, sensitivity::classes(4096)).expect("a share");
        assert!((found[0].share - first).abs() < 1e-9);
    }

    /// Points of many dimensions and few samples hang together by accident: no accident may look like a cause.
    #[test]
    fn one_cause_among_many_stays_alone() {
        let scores = columns(1024, 150);
        let y = scores[9].clone();
        let w = Weights::equal(1024).expect("weights");
        let classes = Classes::new(&scores, &w);
        let found = classes.shares(&y, 5, 5).expect("shares");
        assert_eq!(found[0].cause, 9);
        assert!(found[1..].iter().all(|s| s.share < 0.005), "{found:?}");
        assert!(classes.shares(&[1.0; 1024], 5, 5).expect("shares").is_empty());
        assert!(classes.shares(&y[1..], 5, 5).is_err());
    }
}
