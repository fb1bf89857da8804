//! Samples of what is believed, and the years run on them.
//!
//! [`Draw`] turns sample numbers into plain numbers for every stated value; [`years`] runs them side by side in lanes
//! and on all threads. Every sample is found by its number alone and every year has the same bits in any lane, so
//! neither the number of threads nor the way samples are batched moves a result.

use building::{Resolved, StatedValues, ValueKey};
use rayon::prelude::*;
use year::Frame;
use year::sampled::{Kept, Sampled};

use crate::OddsError;
use crate::cause::{Causes, value_at};
use crate::evidence::Belief;

/// Samples run side by side.
pub const LANES: usize = 8;
/// Samples handed to a thread at a time: a few batches, so that threads end together.
const CHUNK: usize = 4 * LANES;

/// What samples are drawn from.
pub struct Draw<'a> {
    values: &'a StatedValues,
    causes: &'a Causes,
    belief: &'a Belief,
    nominal: Vec<f64>,
    /// (key, cause) of every value that varies.
    varying: Vec<(ValueKey, usize)>,
}

impl<'a> Draw<'a> {
    /// Prepares drawing.
    pub fn new(values: &'a StatedValues, causes: &'a Causes, belief: &'a Belief) -> Self {
        let varying = values.iter().filter_map(|(k, _)| causes.of_value(k).map(|c| (k, c))).collect();
        Self { values, causes, belief, nominal: values.nominal().0, varying }
    }

    /// Returns the scores of all causes in a sample.
    pub fn scores(&self, sample: u64) -> Vec<f64> {
        self.belief.scores(self.causes, sample)
    }

    /// Returns the numbers that scores mean.
    pub fn resolved(&self, scores: &[f64]) -> Resolved {
        let mut numbers = self.nominal.clone();
        for (key, cause) in &self.varying {
            numbers[key.0 as usize] = value_at(&self.values.get(*key).distribution, scores[*cause]);
        }
        Resolved(numbers)
    }

    /// Returns the columns of scores of the first `n` samples, cause by cause, and the samples' numbers.
    pub fn columns(&self, n: usize) -> (Vec<Vec<f64>>, Vec<Resolved>) {
        let rows: Vec<Vec<f64>> = (0..n as u64).into_par_iter().map(|i| self.scores(i)).collect();
        let resolved = rows.par_iter().map(|r| self.resolved(r)).collect();
        let columns = (0..self.causes.len()).map(|c| rows.iter().map(|r| r[c]).collect()).collect();
        (columns, resolved)
    }
}

/// Runs the years of samples in lanes and threads; in the samples' order.
///
/// # Errors
/// [`OddsError::Year`] for the first sample that makes no model.
pub fn years(frame: &Frame<'_>, samples: &[Resolved]) -> Result<Vec<Sampled>, OddsError> {
    let kept = Kept::new(frame);
    let parts: Vec<Vec<Sampled>> = samples
        .par_chunks(CHUNK)
        .map(|part| frame.sampled(&kept, part, LANES))
        .collect::<Result<_, _>>()
        .map_err(OddsError::Year)?;
    Ok(parts.into_iter().flatten().collect())
}
