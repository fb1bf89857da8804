//! Several unknowns that are jointly normal, and what a linear reading does to them: exactly.
//!
//! ```text
//! y = Σ h_i x_i + e,  e ~ N(0, r):   S = hᵀPh + r,  k = Ph/S,  m ← m + k (y − hᵀm),  P ← P − k hᵀP
//! ```
//! Readings may be taken in any order: the result is the same to rounding.

use numeric::ln;

use crate::OddsError;

/// A joint normal belief.
#[derive(Clone, Debug, PartialEq)]
pub struct Gaussian {
    mean: Vec<f64>,
    covariance: Vec<f64>,
    ln_evidence: f64,
}

impl Gaussian {
    /// Starts from independent unknowns with means and standard deviations.
    pub fn independent(mean: &[f64], sd: &[f64]) -> Self {
        let n = mean.len();
        let mut covariance = vec![0.0; n * n];
        for i in 0..n {
            covariance[i * n + i] = sd[i] * sd[i];
        }
        Self { mean: mean.to_vec(), covariance, ln_evidence: 0.0 }
    }

    /// Starts from means and a covariance by rows.
    ///
    /// # Errors
    /// [`OddsError::Sizes`] when the covariance is not n × n.
    pub fn new(mean: &[f64], covariance: &[f64]) -> Result<Self, OddsError> {
        if covariance.len() != mean.len() * mean.len() {
            return Err(OddsError::Sizes { what: "covariance", found: covariance.len() });
        }
        Ok(Self { mean: mean.to_vec(), covariance: covariance.to_vec(), ln_evidence: 0.0 })
    }

    /// Takes in a reading of a weighted sum with an error of the given variance.
    ///
    /// # Errors
    /// [`OddsError::Reading`] when the reading is not finite or has no error and no doubt to work on.
    pub fn observe(&mut self, weights: &[f64], seen: f64, variance: f64) -> Result<(), OddsError> {
        let n = self.mean.len();
        if weights.len() != n {
            return Err(OddsError::Sizes { what: "weights of a reading", found: weights.len() });
        }
        let along: Vec<f64> =
            (0..n).map(|i| (0..n).map(|j| self.covariance[i * n + j] * weights[j]).sum()).collect();
        let spread: f64 = along.iter().zip(weights).map(|(a, w)| a * w).sum::<f64>() + variance;
        if !(spread > 0.0 && spread.is_finite() && seen.is_finite()) {
            return Err(OddsError::Reading { seen, variance });
        }
        let expected: f64 = self.mean.iter().zip(weights).map(|(m, w)| m * w).sum();
        let off = seen - expected;
        self.ln_evidence -= 0.5 * (ln(std::f64::consts::TAU * spread) + off * off / spread);
        for i in 0..n {
            self.mean[i] += along[i] / spread * off;
        }
        for i in 0..n {
            for j in 0..n {
                self.covariance[i * n + j] -= along[i] * along[j] / spread;
            }
        }
        Ok(())
    }

    /// Returns mean and variance of a weighted sum.
    pub fn of(&self, weights: &[f64]) -> (f64, f64) {
        let n = self.mean.len();
        let mean = self.mean.iter().zip(weights).map(|(m, w)| m * w).sum();
        let mut variance = 0.0;
        for i in 0..n {
            for j in 0..n {
                variance += weights[i] * self.covariance[i * n + j] * weights[j];
            }
        }
        (mean, variance.max(0.0))
    }

    /// The means.
    pub fn mean(&self) -> &[f64] {
        &self.mean
    }

    /// The covariance by rows.
    pub fn covariance(&self) -> &[f64] {
        &self.covariance
    }

    /// Logarithm of the density of all readings taken in.
    pub fn ln_evidence(&self) -> f64 {
        self.ln_evidence
    }

    /// Returns the lower factor of the covariance by rows; a direction that has become certain has a row of nothing.
    pub fn factor(&self) -> Vec<f64> {
        let n = self.mean.len();
        let mut lower = vec![0.0; n * n];
        for j in 0..n {
            let own: f64 =
                self.covariance[j * n + j] - (0..j).map(|k| lower[j * n + k] * lower[j * n + k]).sum::<f64>();
            // Below rounding of the prior's size the direction is known.
            if own <= 1e-15 * self.covariance[j * n + j].abs() || own <= 0.0 {
                continue;
            }
            let root = own.sqrt();
            lower[j * n + j] = root;
            for i in j + 1..n {
                let rest: f64 = self.covariance[i * n + j]
                    - (0..j).map(|k| lower[i * n + k] * lower[j * n + k]).sum::<f64>();
                lower[i * n + j] = rest / root;
            }
        }
        lower
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn two_readings_of_one_number_weigh_by_their_precision() {
        let mut g = Gaussian::independent(&[10.0], &[2.0]);
        g.observe(&[1.0], 12.0, 1.0).expect("taken in");
        assert!((g.mean()[0] - 11.6).abs() < 1e-12 && (g.covariance()[0] - 0.8).abs() < 1e-12);
        assert!(g.observe(&[1.0], f64::NAN, 1.0).is_err());
    }

    proptest! {
        #[test]
        fn order_of_readings_does_not_matter(a in -3.0..3.0f64, b in -3.0..3.0f64, c in -3.0..3.0f64) {
            let readings = [([1.0, 0.5], a, 0.3), ([0.2, -1.0], b, 0.1), ([1.0, 1.0], c, 2.0)];
            let taken = |order: [usize; 3]| {
                let mut g = Gaussian::independent(&[0.3, -0.2], &[1.0, 2.0]);
                for i in order {
                    let (w, seen, r) = readings[i];
                    g.observe(&w, seen, r).expect("taken in");
                }
                g
            };
            let (x, y) = (taken([0, 1, 2]), taken([2, 0, 1]));
            for (p, q) in x.mean().iter().chain(x.covariance()).zip(y.mean().iter().chain(y.covariance())) {
                prop_assert!((p - q).abs() < 1e-10);
            }
            prop_assert!((x.ln_evidence() - y.ln_evidence()).abs() < 1e-9);
            let l = x.factor();
            for i in 0..2 { for j in 0..2 {
                let back: f64 = (0..2).map(|k| l[i * 2 + k] * l[j * 2 + k]).sum();
                prop_assert!((back - x.covariance()[i * 2 + j]).abs() < 1e-12);
            } }
        }
    }
}
