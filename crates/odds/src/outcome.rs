//! Evidence on outcomes: what meters and loggers say about a building in use, weighed against a model of it.
//!
//! Readings are daily or weekly summaries. Their errors hang together from one to the next (first-order autoregression),
//! and the model itself is off by an unknown factor and an unknown constant whose sizes are stated beforehand. The
//! posterior of at most [`MOST_CAUSES`] named causes comes from [`crate::smc`]; weights alone would die after a few
//! informative readings.
//!
//! ```text
//! y_t = (1 + δ s_δ) m_t(z) + e_t,  e_t = ρ e_{t−1} + √(1 − ρ²) σ ε_t
//! ```

use numeric::ln;

use crate::OddsError;
use crate::smc::{self, Cloud, Settings};

/// Most causes asked at once: beyond, the cloud thins out.
pub const MOST_CAUSES: usize = 12;
/// Effective size from which plain weights may be used instead.
pub const ENOUGH: f64 = 1000.0;

/// A series of summaries of one outcome.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// What was read, in order of time.
    pub seen: Vec<f64>,
    /// Standard deviation of a reading's error.
    pub sd: f64,
    /// Correlation of neighbouring errors, 0 to below 1.
    pub rho: f64,
    /// Relative standard deviation of the model's own error.
    pub discrepancy: f64,
}

impl Series {
    /// Returns the logarithm of the likelihood of the series under a model's values and a score of the model's error.
    pub fn ln_likelihood(&self, model: &[f64], discrepancy_score: f64) -> f64 {
        let factor = 1.0 + self.discrepancy * discrepancy_score;
        let mut sum = 0.0;
        let mut before: Option<f64> = None;
        for (seen, model) in self.seen.iter().zip(model) {
            let error = seen - factor * model;
            let (expected, variance) = match before {
                Some(last) => (self.rho * last, (1.0 - self.rho * self.rho) * self.sd * self.sd),
                None => (0.0, self.sd * self.sd),
            };
            let off = error - expected;
            sum -= 0.5 * (off * off / variance + ln(variance));
            before = Some(error);
        }
        sum
    }
}

/// Returns the posterior cloud of `causes` standard normal scores, the model's own error as one more unknown at the end.
///
/// `model` turns scores into the values of the series.
///
/// # Errors
/// [`OddsError::Sizes`] for no causes, too many, or a series without readings; what [`smc::run`] says.
pub fn absorb(
    causes: usize,
    series: &Series,
    settings: Settings,
    model: impl Fn(&[f64]) -> Vec<f64> + Sync,
) -> Result<Cloud, OddsError> {
    if causes == 0 || causes > MOST_CAUSES {
        return Err(OddsError::Sizes { what: "causes", found: causes });
    }
    if series.seen.is_empty() || !(series.sd > 0.0) || !(0.0..1.0).contains(&series.rho) {
        return Err(OddsError::Sizes { what: "readings of an outcome", found: series.seen.len() });
    }
    smc::run(causes + 1, settings, |z| series.ln_likelihood(&model(&z[..causes]), z[causes]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_that_hang_together_say_less() {
        let series = |rho| Series { seen: vec![1.2; 52], sd: 0.2, rho, discrepancy: 0.0 };
        let width = |rho: f64| {
            let settings = Settings { particles: 1024, moves: 3, least_evaluations: 0, ..Settings::cheap(2) };
            let cloud = absorb(1, &series(rho), settings, |z| vec![1.0 + 0.5 * z[0]; 52]).expect("fits");
            let n = cloud.points.len() as f64;
            let mean = cloud.points.iter().map(|p| p[0]).sum::<f64>() / n;
            (mean, (cloud.points.iter().map(|p| (p[0] - mean) * (p[0] - mean)).sum::<f64>() / n).sqrt())
        };
        let (apart, together) = (width(0.0), width(0.9));
        assert!((apart.0 - 0.4).abs() < 0.03 && together.1 > 2.0 * apart.1, "{apart:?} {together:?}");
        assert!(absorb(13, &series(0.0), Settings::cheap(1), |_| vec![0.0; 52]).is_err());
    }
}
