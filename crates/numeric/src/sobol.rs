//! The low-discrepancy stream: points that fill the unit cube more evenly than chance.
//!
//! Owen-scrambled Sobol' points on the direction numbers of Joe and Kuo. The library underneath has 256
//! dimensions and 2^16 points per seed; [`Stream`] takes more of either by reseeding: each further block of
//! 256 dimensions is an independent scramble of the same points in another order, each further 2^16 points an
//! independent set. All 32 bits are used and numbers sit in the middle of their cell, (k + ½)/2³², so that 0
//! and 1 never occur.

use crate::counter;
use sobol_burley::NUM_DIMENSIONS;
use sobol_burley::parts;

/// Points before the stream starts an independent set.
pub const SET: u64 = 1 << 16;

/// A scrambled Sobol' stream; every number is found by its place alone, so any thread may ask for any.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stream {
    seed: u64,
}

impl Stream {
    /// A stream of its own for each seed.
    pub fn new(seed: u64) -> Self {
        Self { seed }
    }

    /// Returns coordinate `dimension` of point `index`, inside (0, 1).
    ///
    /// The first 2^m points of an aligned run hold exactly one point in each of 2^m equal slices of every
    /// coordinate.
    pub fn at(self, index: u64, dimension: u32) -> f64 {
        let (set, block) = (index / SET, u64::from(dimension / NUM_DIMENSIONS));
        let dimension = dimension % NUM_DIMENSIONS;
        // One seed for the order of the points, shared by the 256 dimensions of a block, and one for each
        // scramble.
        let key = counter::mix(self.seed ^ counter::mix((set << 32) ^ block));
        let order = key as u32;
        let scramble = counter::mix(key ^ (u64::from(dimension) + 1)) as u32;
        // The library works on reversed bits and keeps the low 16 of the index.
        let low = (index % SET) as u32;
        let shuffled = parts::owen_scramble_rev(low.reverse_bits(), order);
        let point = parts::sobol_rev(shuffled, dimension);
        centred(parts::owen_scramble_rev(point, scramble).reverse_bits())
    }

    /// Fills `point` with the coordinates of one point.
    pub fn point(self, index: u64, point: &mut [f64]) {
        for (d, u) in point.iter_mut().enumerate() {
            *u = self.at(index, d as u32);
        }
    }
}

/// Returns coordinate `dimension` of the plain, unscrambled sequence (point 0 at the origin; in natural
/// order: tables in Gray-code order hold point `i ^ (i >> 1)` at place `i`), or `None` beyond the library's
/// 2^16 points and 256 dimensions. For comparison with tables; use [`Stream`] for sampling.
pub fn unscrambled(index: u64, dimension: u32) -> Option<f64> {
    (index < SET && dimension < NUM_DIMENSIONS).then(|| {
        let k = parts::sobol_rev((index as u32).reverse_bits(), dimension).reverse_bits();
        f64::from(k) / 4_294_967_296.0
    })
}

fn centred(k: u32) -> f64 {
    (f64::from(k) + 0.5) / 4_294_967_296.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_point_in_every_slice() {
        for (seed, dimension, from) in [(0, 0, 0), (7, 3, 1024), (7, 255, 0), (7, 300, 0), (9, 12, SET)] {
            let mut seen = [false; 1024];
            for i in 0..1024 {
                let u = Stream::new(seed).at(from + i, dimension);
                assert!(u > 0.0 && u < 1.0);
                seen[(u * 1024.0) as usize] = true;
            }
            assert!(seen.iter().all(|s| *s), "seed {seed} dimension {dimension}");
        }
    }

    /// A (0, 8, 2)-net: the first two coordinates have one point in every 2^a × 2^(8−a) box.
    #[test]
    fn first_two_coordinates_are_a_net() {
        let stream = Stream::new(42);
        for a in 0..=8 {
            let (nx, ny) = (1 << a, 1 << (8 - a));
            let mut count = vec![0; 256];
            for i in 0..256 {
                let x = (stream.at(i, 0) * f64::from(nx)) as usize;
                let y = (stream.at(i, 1) * f64::from(ny)) as usize;
                count[x * ny as usize + y] += 1;
            }
            assert!(count.iter().all(|c| *c == 1), "{nx} × {ny}");
        }
    }

    /// Blocks of dimensions and sets of points must not repeat one another.
    #[test]
    fn reseeded_parts_are_unlike() {
        let stream = Stream::new(3);
        let column = |from: u64, d: u32| (0..4_096).map(|i| stream.at(from + i, d) - 0.5).collect::<Vec<_>>();
        let correlation = |a: &[f64], b: &[f64]| 12.0 * crate::sum::dot(a, b) / 4_096.0;
        let base = column(0, 0);
        assert!((correlation(&base, &base) - 1.0).abs() < 1e-3);
        for other in [column(0, 256), column(0, 512), column(SET, 0), column(0, 1), column(0, 255)] {
            // Independent columns: sd 1/√4096 = 0.016.
            assert!(correlation(&base, &other).abs() < 0.07);
        }
    }

    /// The mean of a smooth product converges far faster than 1/√N.
    #[test]
    fn integrates_a_smooth_product() {
        let stream = Stream::new(11);
        let error = |n: u64| {
            let sum: f64 =
                (0..n).map(|i| (0..8).map(|d| 1.0 + 0.5 * (stream.at(i, d) - 0.5)).product::<f64>()).sum();
            (sum / n as f64 - 1.0).abs()
        };
        // Plain sampling would be off by sd/√N = 0.43/√4096 = 7e-3.
        assert!(error(4_096) < 1e-4, "{}", error(4_096));
    }
}
