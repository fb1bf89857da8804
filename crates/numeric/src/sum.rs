//! Sums whose order never depends on threads or lanes.
//!
//! [`pairwise`] halves the list at fixed places, so its error grows with the logarithm of the length.
//! [`parallel`] sums fixed chunks on any number of threads and joins them in order.

use rayon::prelude::*;

/// Runs shorter than this are summed straight on.
const RUN: usize = 32;

/// Returns the sum of the numbers, by halves.
pub fn pairwise(x: &[f64]) -> f64 {
    pairwise_by(x.len(), &|i| x[i])
}

/// Returns Σ f(i) for i in 0..n, by halves.
pub fn pairwise_by(n: usize, f: &impl Fn(usize) -> f64) -> f64 {
    fn part(from: usize, to: usize, f: &impl Fn(usize) -> f64) -> f64 {
        if to - from <= RUN {
            let mut s = 0.0;
            for i in from..to {
                s += f(i);
            }
            return s;
        }
        // Cut at a multiple of the run, as near the middle as that allows.
        let half = ((to - from) / 2).div_ceil(RUN) * RUN;
        part(from, from + half, f) + part(from + half, to, f)
    }
    part(0, n, f)
}

/// Returns Σ x·y, by halves.
///
/// # Panics
/// When `y` is shorter than `x`.
pub fn dot(x: &[f64], y: &[f64]) -> f64 {
    let y = &y[..x.len()];
    pairwise_by(x.len(), &|i| x[i] * y[i])
}

/// Returns the mean; NaN for an empty list.
pub fn mean(x: &[f64]) -> f64 {
    pairwise(x) / x.len() as f64
}

/// Returns the mean and the variance with divisor `n − 1`; the variance of fewer than two numbers is NaN.
pub fn mean_variance(x: &[f64]) -> (f64, f64) {
    let m = mean(x);
    let squares = pairwise_by(x.len(), &|i| (x[i] - m) * (x[i] - m));
    let variance = if x.len() < 2 { f64::NAN } else { squares / (x.len() - 1) as f64 };
    (m, variance)
}

/// Returns Σ f(i) for i in 0..n, worked out on the current rayon pool in chunks of `chunk` indices and joined
/// in order: the same bits for any number of threads. A `chunk` of 0 counts as 1.
pub fn parallel(n: usize, chunk: usize, f: impl Fn(usize) -> f64 + Sync) -> f64 {
    let chunk = chunk.max(1);
    let parts: Vec<f64> = (0..n.div_ceil(chunk))
        .into_par_iter()
        .map(|c| {
            let from = c * chunk;
            pairwise_by(chunk.min(n - from), &|i| f(from + i))
        })
        .collect();
    pairwise(&parts)
}

/// Maps fixed chunks of `0..n` on the current rayon pool and joins the results in order with `join`.
///
/// `map(from, to)` handles one chunk. Returns `None` for `n = 0`.
pub fn parallel_fold<T: Send>(
    n: usize,
    chunk: usize,
    map: impl Fn(usize, usize) -> T + Sync,
    join: impl Fn(T, T) -> T,
) -> Option<T> {
    let chunk = chunk.max(1);
    let parts: Vec<T> =
        (0..n.div_ceil(chunk)).into_par_iter().map(|c| map(c * chunk, ((c + 1) * chunk).min(n))).collect();
    parts.into_iter().reduce(join)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_and_moments() {
        let x: Vec<f64> = (1..=1000).map(f64::from).collect();
        assert_eq!(pairwise(&x), 500_500.0);
        assert_eq!(mean(&x), 500.5);
        let (m, v) = mean_variance(&[1.0, 2.0, 3.0, 4.0]);
        assert_eq!((m, v), (2.5, 5.0 / 3.0));
        assert_eq!(dot(&[1.0, 2.0], &[3.0, 4.0]), 11.0);
        assert_eq!(pairwise(&[]), 0.0);
        assert_eq!(parallel_fold(10, 3, |a, b| b - a, |a, b| a + b), Some(10));
        assert_eq!(parallel_fold(0, 3, |a, b| b - a, |a, b| a + b), None);
    }

    #[test]
    fn a_million_tenths() {
        let error = (pairwise_by(1_000_000, &|_| 0.1) - 100_000.0).abs();
        assert!(error < 1e-9, "{error}");
    }

    #[test]
    fn threads_change_no_bit() {
        let f = |i: usize| crate::scalar::sin(i as f64) / (1.0 + i as f64);
        let sums: Vec<u64> = [1, 2, 7]
            .into_iter()
            .map(|threads| {
                let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
                pool.install(|| parallel(12_345, 100, f)).to_bits()
            })
            .collect();
        assert!(sums.windows(2).all(|w| w[0] == w[1]), "{sums:?}");
    }
}
