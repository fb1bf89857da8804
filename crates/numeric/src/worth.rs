//! What a reading is worth before it is taken: the expected drop in loss of the choice it informs.
//!
//! Samples of the benefit of each choice are already at hand, and beside them a simulated reading for every
//! sample. What one would believe after seeing a reading is the regression of benefit on reading; choosing by
//! it instead of by today's mean gains, on average, the worth. No model is run again.
//!
//! Start at [`go_or_hold`]; more than two choices in [`of_reading`].

use crate::error::{require, require_len};
use crate::sum::{pairwise, pairwise_by};
use crate::weighted::Weights;
use crate::{NumericError, sensitivity};

/// Expected benefit of choosing now, after the reading, and knowing all; in the unit of the benefits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Worth {
    /// Expected benefit of the best choice today.
    pub now: f64,
    /// Expected benefit when the choice may wait for the reading.
    pub after_reading: f64,
    /// Expected benefit when everything were known.
    pub after_truth: f64,
}

impl Worth {
    /// What the reading is worth; never below zero.
    pub fn of_reading(&self) -> f64 {
        (self.after_reading - self.now).max(0.0)
    }

    /// What perfect knowledge would be worth: no reading can be worth more.
    pub fn of_truth(&self) -> f64 {
        (self.after_truth - self.now).max(0.0)
    }
}

/// Returns the benefit of going on over holding, sample by sample: holding costs `hold`, going on costs
/// `miss` where the margin turns out below zero.
pub fn net_of_going(margin: &[f64], hold: f64, miss: f64) -> Vec<f64> {
    margin.iter().map(|m| hold - if *m < 0.0 { miss } else { 0.0 }).collect()
}

/// Returns the worth of a reading for the choice between going on, with net benefit `net` in each sample, and
/// holding, with benefit 0.
///
/// # Errors
/// As [`of_reading`].
///
/// # Example
/// ```
/// use numeric::{weighted::Weights, worth};
/// // Going on gains 1 or loses 1, evenly; the reading tells which.
/// let net: Vec<f64> = (0..100).map(|i| if i % 2 == 0 { 1.0 } else { -1.0 }).collect();
/// let w = worth::go_or_hold(&net, &net, &Weights::equal(100)?)?;
/// assert!(w.now.abs() < 1e-12 && (w.of_truth() - 0.5).abs() < 1e-12 && (w.of_reading() - 0.5).abs() < 1e-12);
/// # Ok::<(), numeric::NumericError>(())
/// ```
pub fn go_or_hold(net: &[f64], reading: &[f64], weights: &Weights) -> Result<Worth, NumericError> {
    of_reading(&[net, &vec![0.0; net.len()]], reading, weights)
}

/// Returns the worth of a reading for a choice among several: `benefits[c][i]` is the benefit of choice `c`
/// in sample `i`.
///
/// Belief after the reading is the mean benefit of the samples whose readings fall in the same class (4 to
/// about 2.5 ∛n classes of equal weight, whichever number serves best), so it does not matter in which scale
/// the instrument reads. The choice is made on one half of a class and counted on the other, both ways round:
/// a reading about nothing then gains nothing on average, and the estimate lies a little low, but for chance.
/// Kept between 0 and the worth of the truth.
///
/// # Errors
/// [`NumericError::Sizes`] when lengths differ, without choices, or for an effective size below 20;
/// [`NumericError::Parameter`] for numbers that are not finite.
pub fn of_reading(benefits: &[&[f64]], reading: &[f64], weights: &Weights) -> Result<Worth, NumericError> {
    let n = weights.len();
    require_len("readings", n, reading.len())?;
    if benefits.is_empty() {
        return Err(NumericError::Sizes { what: "choices", expected: 1, found: 0 });
    }
    if weights.effective_size() < 20.0 {
        let found = weights.effective_size() as usize;
        return Err(NumericError::Sizes { what: "effective samples", expected: 20, found });
    }
    for b in benefits {
        require_len("benefits", n, b.len())?;
        for x in *b {
            require(x.is_finite(), "benefit", *x, "a finite number")?;
        }
    }
    for x in reading {
        require(!x.is_nan(), "reading", *x, "a number")?;
    }
    let w = weights.as_slice();
    let best = |of: &dyn Fn(usize) -> f64| (0..benefits.len()).map(of).fold(f64::NEG_INFINITY, f64::max);
    let now = best(&|c| weights.mean(benefits[c]));
    let after_truth = pairwise_by(n, &|i| w[i] * best(&|c| benefits[c][i]));
    let most = sensitivity::classes(weights.effective_size() as usize);
    // Few classes average a weak reading's noise away, many follow a sharp one: the better of the honest
    // counts.
    let counts = std::iter::successors(Some(4), |c| (2 * c <= most).then_some(2 * c)).chain([most]);
    let after_reading = counts
        .map(|count| {
            let classes = weights.classes(reading, count);
            pairwise(&classes.iter().map(|class| class_benefit(benefits, class, weights)).collect::<Vec<_>>())
        })
        .fold(f64::NEG_INFINITY, f64::max);
    let after_reading = after_reading.clamp(now, after_truth.max(now));
    Ok(Worth { now, after_reading, after_truth })
}

/// Returns what the samples of one class of readings contribute to the expected benefit, when each half of
/// them makes the choice for the other half.
fn class_benefit(benefits: &[&[f64]], class: &[usize], weights: &Weights) -> f64 {
    let w = weights.as_slice();
    // Alternate in the order of the reading, so that both halves cover the class alike.
    let half = |parity: usize, b: &[f64]| -> (f64, f64) {
        class
            .iter()
            .skip(parity)
            .step_by(2)
            .fold((0.0, 0.0), |(weight, sum), i| (weight + w[*i], sum + w[*i] * b[*i]))
    };
    (0..2)
        .map(|parity| {
            let mut chosen = (f64::NEG_INFINITY, 0.0);
            for b in benefits {
                let (weight, sum) = half(1 - parity, b);
                // An empty half knows no better than the whole.
                let belief = if weight > 0.0 { sum / weight } else { weights.mean(b) };
                if belief > chosen.0 {
                    chosen = (belief, half(parity, b).1);
                }
            }
            chosen.1
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{normal, sobol};

    /// Expected value of max(X, 0) for X normal.
    fn expected_gain(mean: f64, sd: f64) -> f64 {
        let z = mean / sd;
        mean * normal::cdf(z) + sd * normal::pdf(z)
    }

    /// Net benefit normal, reading = net + noise: belief after the reading is normal with sd s²/√(s² + u²).
    #[test]
    fn gaussian_reading_has_its_closed_form() {
        let (mean, sd) = (100.0, 400.0);
        for noise in [50.0, 400.0, 2_000.0] {
            let stream = sobol::Stream::new(8);
            let n = 16_384;
            let net: Vec<f64> = (0..n).map(|i| mean + sd * normal::quantile(stream.at(i, 0))).collect();
            let reading: Vec<f64> = (0..n)
                .map(|i| crate::exp((net[i as usize] + noise * normal::quantile(stream.at(i, 1))) / 1_000.0))
                .collect();
            let worth = go_or_hold(&net, &reading, &Weights::equal(n as usize).unwrap()).unwrap();
            let after = expected_gain(mean, sd * sd / (sd * sd + noise * noise).sqrt());
            assert!((worth.now - mean).abs() < 0.5, "{worth:?}");
            assert!((worth.after_truth - expected_gain(mean, sd)).abs() < 0.5, "{worth:?}");
            assert!((worth.after_reading - after).abs() < 2.0, "noise {noise}: {worth:?}, exact {after}");
        }
    }

    /// A chance of missing: the belief is a probability, a smooth step of the reading.
    #[test]
    fn a_limit_and_a_reading() {
        let stream = sobol::Stream::new(5);
        let n = 8_192;
        let margin: Vec<f64> = (0..n).map(|i| 0.02 + 0.08 * normal::quantile(stream.at(i, 0))).collect();
        let reading: Vec<f64> =
            (0..n).map(|i| margin[i as usize] + 0.03 * normal::quantile(stream.at(i, 1))).collect();
        let net = net_of_going(&margin, 300.0, 1_000.0);
        let worth = go_or_hold(&net, &reading, &Weights::equal(n as usize).unwrap()).unwrap();
        // Exact by integrating over the reading: belief has mean 0.02 + k (r − 0.02), sd 0.08·0.03/√(0.08² +
        // 0.03²).
        let spread = (0.08_f64 * 0.08 + 0.03 * 0.03).sqrt();
        let left = 0.08 * 0.03 / spread;
        let exact = pairwise_by(100_000, &|i| {
            let z = normal::quantile((i as f64 + 0.5) / 1e5);
            let belief = 0.02 + 0.08 * 0.08 / spread * z;
            (300.0 - 1_000.0 * normal::cdf(-belief / left)).max(0.0) / 1e5
        });
        assert!((worth.after_reading - exact).abs() < 0.03 * exact, "{worth:?} exact {exact}");
        assert!(worth.of_reading() <= worth.of_truth());
    }

    #[test]
    fn a_reading_about_nothing_is_worth_nothing() {
        let (a, b) = (crate::counter::Stream::new(1, "a"), crate::counter::Stream::new(1, "b"));
        let net: Vec<f64> = (0..5_000).map(|i| a.normal(i) + 0.5).collect();
        let reading: Vec<f64> = (0..5_000).map(|i| b.normal(i)).collect();
        let w = Weights::equal(5_000).unwrap();
        let worth = go_or_hold(&net, &reading, &w).unwrap();
        assert!(worth.of_reading() < 1e-3 && worth.of_truth() > 0.1, "{worth:?}");
        // Constant reading, too few samples, unequal lengths.
        assert!(go_or_hold(&net, &[1.0; 5_000], &w).unwrap().of_reading() < 1e-12);
        assert!(go_or_hold(&net[..5], &reading[..5], &Weights::equal(5).unwrap()).is_err());
        assert!(go_or_hold(&net[..9], &reading, &w).is_err());
        assert!(of_reading(&[], &reading, &w).is_err());
    }
}
