//! What matters: which cause the doubt about a result hangs on.
//!
//! Shares come from samples already made ([`numeric::sensitivity::first_order`]), so they cost no run. A share is told
//! only when it stands clear of what a cause without any effect would show by chance: the cause's numbers are dealt out
//! anew a few times ([`NULLS`]) and the largest share so found is the bar. Before evidence shares of independent causes
//! add up to at most one; after evidence they are shares of the remaining variance, and causes that evidence has tied
//! together each count what they share.

use numeric::weighted::Weights;
use numeric::{counter, sensitivity};
use rayon::prelude::*;

use crate::OddsError;

/// How often a cause's numbers are dealt out anew for the bar.
pub const NULLS: u64 = 8;

/// A cause's share of the variance of a result.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// Number of the cause.
    pub cause: usize,
    /// Its first-order share.
    pub share: f64,
    /// The bar it stands above.
    pub bar: f64,
    /// Mean slope of the result over the cause's score, in the result's unit.
    pub slope: f64,
}

/// Returns the causes that stand clear of chance, largest first.
///
/// `scores[c]` is the column of cause `c`; `y` the result.
///
/// # Errors
/// [`OddsError::Numeric`] for lengths that differ or numbers that are not finite. A result that does not vary has no
/// causes, which is no error.
pub fn shares(scores: &[Vec<f64>], y: &[f64], weights: &Weights, seed: u64) -> Result<Vec<Share>, OddsError> {
    if !(weights.variance(y) > 0.0) {
        return Ok(Vec::new());
    }
    let classes = sensitivity::classes(weights.effective_size() as usize);
    let of = |x: &[f64]| sensitivity::first_order(x, y, weights, classes);
    let found: Result<Vec<Share>, _> = scores
        .par_iter()
        .enumerate()
        .map(|(cause, x)| {
            let share = of(x)?;
            let mut bar = 0.0_f64;
            // Most causes fall at the first deal; only the rest are dealt again.
            for deal in 0..NULLS {
                if share <= bar {
                    break;
                }
                bar = bar.max(of(&dealt(x, counter::Stream::keyed(seed, (cause as u64) << 8 | deal)))?);
            }
            let spread = weights.variance(x);
            let slope = if spread > 0.0 { weights.covariance(x, y) / spread } else { 0.0 };
            Ok(Share { cause, share, bar, slope })
        })
        .collect();
    let mut clear: Vec<Share> =
        found.map_err(OddsError::Numeric)?.into_iter().filter(|s| s.share > s.bar && s.share > 0.0).collect();
    clear.sort_by(|a, b| b.share.total_cmp(&a.share).then(a.cause.cmp(&b.cause)));
    Ok(clear)
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

    #[test]
    fn a_linear_result_is_shared_as_its_variance_is() {
        let n = 4096;
        let stream = numeric::sobol::Stream::new(1);
        let column =
            |d: u32| -> Vec<f64> { (0..n).map(|i| numeric::normal::quantile(stream.at(i, d))).collect() };
        let scores: Vec<Vec<f64>> = (0..12).map(column).collect();
        let y: Vec<f64> = (0..n as usize).map(|i| 2.0 * scores[3][i] - scores[7][i]).collect();
        let w = Weights::equal(n as usize).expect("weights");
        let found = shares(&scores, &y, &w, 5).expect("shares");
        assert_eq!((found[0].cause, found[1].cause), (3, 7));
        assert!((found[0].share - 0.8).abs() < 0.02 && (found[1].share - 0.2).abs() < 0.02, "{found:?}");
        assert!((found[0].slope - 2.0).abs() < 0.05);
        // What has no effect seldom passes the bar, and then with next to nothing.
        assert!(found[2..].iter().all(|s| s.share < 0.02) && found.len() < 5, "{found:?}");
        assert!(shares(&scores, &vec![1.0; n as usize], &w, 5).expect("shares").is_empty());
    }
}
