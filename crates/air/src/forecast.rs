//! Forecast of the leak: the sum of joints, openings, penetrations and panels with its spread, and where it comes from.
//!
//! Each [`Leak`] has a stated or tabulated flow per unit at the reference pressure. [`Forecast::new`] samples them by
//! name, so that another leak in the list changes no number of the others. Stage targets are in [`crate::stage_target`],
//! what tests and finds teach in [`crate::suspects`].

use crate::guarded::LeakKind;
use crate::leakage::PowerLaw;
use crate::test_budget::Estimate;
use numeric::counter::Stream;
use numeric::distribution::Distribution;
use numeric::weighted::Weights;
use numeric::{NumericError, exp, ln, normal, sum};

/// One kind of leak at one kind of place.
#[derive(Clone, Debug, PartialEq)]
pub struct Leak {
    /// Stable name; keys its samples.
    pub id: String,
    /// Where it leads.
    pub kind: LeakKind,
    /// Length, area or number.
    pub quantity: f64,
    /// Flow of one unit at the reference pressure, m³/h.
    pub per_unit: Distribution,
    /// Shared cause, such as one crew; leaks of a group are high or low together.
    pub group: Option<String>,
}

/// Correlation of two leaks' normal scores within a group (judgement: half of what makes them differ is shared).
pub const GROUP_CORRELATION: f64 = 0.5;

/// Samples the forecast takes unless told otherwise; the median of a total is then good to about half a per cent.
pub const SAMPLES: usize = 8192;

/// A share of the whole.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// The leak.
    pub id: String,
    /// Its mean flow, m³/h.
    pub mean_m3_h: f64,
    /// Share of the mean total.
    pub share: f64,
    /// Share of the total's variance it explains: covariance with the total over the variance.
    pub share_of_variance: f64,
}

/// The total leak with its spread.
#[derive(Clone, Debug, PartialEq)]
pub struct Forecast {
    /// Reference pressure, Pa.
    pub pressure_pa: f64,
    /// Sampled totals, m³/h.
    pub totals: Vec<f64>,
    /// Where it comes from, largest mean first.
    pub causes: Vec<Cause>,
}

impl Forecast {
    /// Samples the sum of leaks at a reference pressure.
    ///
    /// # Errors
    /// What [`Distribution::check`] says of a leak's flow, and [`NumericError::Sizes`] without samples.
    ///
    /// # Example
    /// ```
    /// use air::forecast::{Forecast, Leak};
    /// use air::guarded::LeakKind;
    /// use numeric::distribution::Distribution;
    /// let sill = Leak {
    ///     id: "sill".into(),
    ///     kind: LeakKind::ToOutside,
    ///     quantity: 60.0,
    ///     per_unit: Distribution::LogNormal { median: 1.5, factor95: 2.0 },
    ///     group: None,
    /// };
    /// let forecast = Forecast::new(&[sill], 50.0, 1, 4096)?;
    /// assert!((forecast.quantile(0.5) - 90.0).abs() < 2.0);
    /// # Ok::<(), numeric::NumericError>(())
    /// ```
    pub fn new(leaks: &[Leak], pressure_pa: f64, seed: u64, samples: usize) -> Result<Self, NumericError> {
        if samples == 0 {
            return Err(NumericError::Sizes { what: "samples", expected: 1, found: 0 });
        }
        let columns: Result<Vec<Vec<f64>>, NumericError> =
            leaks.iter().map(|leak| leak.samples(seed, samples)).collect();
        let columns = columns?;
        let totals: Vec<f64> = (0..samples).map(|i| columns.iter().map(|c| c[i]).sum()).collect();
        let (mean, variance) = sum::mean_variance(&totals);
        let mut causes: Vec<Cause> = leaks
            .iter()
            .zip(&columns)
            .map(|(leak, column)| {
                let own = sum::mean(column);
                let shared = sum::pairwise_by(samples, &|i| (column[i] - own) * (totals[i] - mean))
                    / (samples.max(2) - 1) as f64;
                Cause {
                    id: leak.id.clone(),
                    mean_m3_h: own,
                    share: if mean > 0.0 { own / mean } else { 0.0 },
                    share_of_variance: if variance > 0.0 { shared / variance } else { 0.0 },
                }
            })
            .collect();
        causes.sort_by(|a, b| b.mean_m3_h.total_cmp(&a.mean_m3_h));
        Ok(Self { pressure_pa, totals, causes })
    }

    /// Returns the mean total, m³/h.
    pub fn mean(&self) -> f64 {
        sum::mean(&self.totals)
    }

    /// Returns a quantile of the total, m³/h.
    pub fn quantile(&self, p: f64) -> f64 {
        Weights::equal(self.totals.len()).map_or(f64::NAN, |w| w.quantile(&self.totals, p))
    }

    /// Returns the chance of being at or under a flow.
    pub fn chance_at_or_under(&self, flow_m3_h: f64) -> f64 {
        self.totals.iter().filter(|q| **q <= flow_m3_h).count() as f64 / self.totals.len() as f64
    }

    /// Returns median and 95 % interval of the total over a size: air change by a volume (1/h), specific leakage by an
    /// area (m³/(h·m²)).
    pub fn per(&self, size: f64) -> (f64, f64, f64) {
        (self.quantile(0.5) / size, self.quantile(0.025) / size, self.quantile(0.975) / size)
    }

    /// Returns the median effective leakage area at a pressure with an assumed exponent, m².
    pub fn effective_leakage_area_m2(&self, at_pa: f64, exponent: f64) -> f64 {
        PowerLaw::through(self.quantile(0.5), self.pressure_pa, exponent).effective_leakage_area_m2(at_pa)
    }
}

impl Leak {
    /// Returns this leak's flow in each sample, m³/h.
    fn samples(&self, seed: u64, count: usize) -> Result<Vec<f64>, NumericError> {
        self.per_unit.check()?;
        let own = Stream::new(seed, &self.id);
        let shared = self.group.as_ref().map(|g| Stream::new(seed, &format!("group:{g}")));
        let sample = |i: usize| {
            let i = i as u64;
            let score = match shared {
                Some(group) => {
                    GROUP_CORRELATION.sqrt() * group.normal(i)
                        + (1.0 - GROUP_CORRELATION).sqrt() * own.normal(i)
                }
                None => own.normal(i),
            };
            // Quantiles of the ends would be infinite; a score is never that far out, but rounding could be.
            let p = normal::cdf(score).clamp(1e-16, 1.0 - 1e-16);
            self.quantity * self.per_unit.quantile(p)
        };
        Ok((0..count).map(sample).collect())
    }
}

/// Returns the lognormal with the same mean and variance as a sum of independent leaks (Fenton and Wilkinson's moment
/// matching): quick, and good for the middle of the distribution.
///
/// `None` where a leak's moments do not exist or the sum is not above zero.
pub fn matched_total(leaks: &[Leak]) -> Option<Distribution> {
    let mean: f64 = leaks.iter().map(|l| l.quantity * l.per_unit.mean()).sum();
    let variance: f64 =
        leaks.iter().map(|l| l.quantity * l.per_unit.sd() * l.quantity * l.per_unit.sd()).sum();
    if !(mean > 0.0 && variance.is_finite()) {
        return None;
    }
    let log_variance = ln(1.0 + variance / (mean * mean));
    Some(Distribution::LogNormal {
        median: mean * exp(-0.5 * log_variance),
        factor95: exp(numeric::distribution::Z95 * log_variance.sqrt()),
    })
}

/// Returns what sealing one thing has changed: the difference of two readings, m³/h.
///
/// `common_share` is the standard uncertainty both readings share (same fan, same gauge, same day): it scales the
/// difference and all but cancels. The estimates' own uncertainties must leave it out.
pub fn difference(before: Estimate, after: Estimate, common_share: f64) -> Estimate {
    let value = before.value - after.value;
    let variance = before.standard_uncertainty * before.standard_uncertainty
        + after.standard_uncertainty * after.standard_uncertainty
        + common_share * value * (common_share * value);
    Estimate {
        value,
        standard_uncertainty: variance.sqrt(),
        degrees_of_freedom: before.degrees_of_freedom.min(after.degrees_of_freedom),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn leak(id: &str, quantity: f64, median: f64, factor95: f64) -> Leak {
        Leak {
            id: id.to_owned(),
            kind: LeakKind::ToOutside,
            quantity,
            per_unit: Distribution::LogNormal { median, factor95 },
            group: None,
        }
    }

    #[test]
    fn another_leak_changes_no_other() {
        let a = [leak("a", 10.0, 1.0, 2.0)];
        let ab = [leak("a", 10.0, 1.0, 2.0), leak("b", 5.0, 3.0, 3.0)];
        let one = Forecast::new(&a, 50.0, 7, 256).unwrap();
        let two = Forecast::new(&ab, 50.0, 7, 256).unwrap();
        let of = |f: &Forecast| f.causes.iter().find(|c| c.id == "a").unwrap().mean_m3_h;
        assert_eq!(of(&one), of(&two));
        assert!(Forecast::new(&a, 50.0, 7, 0).is_err());
        assert!(Forecast::new(&[leak("x", 1.0, -1.0, 2.0)], 50.0, 7, 10).is_err());
    }

    #[test]
    fn one_crew_widens_the_sum() {
        let mut leaks: Vec<Leak> = (0..10).map(|i| leak(&format!("j{i}"), 1.0, 10.0, 2.5)).collect();
        let apart = Forecast::new(&leaks, 50.0, 3, SAMPLES).unwrap();
        for l in &mut leaks {
            l.group = Some("crew".to_owned());
        }
        let together = Forecast::new(&leaks, 50.0, 3, SAMPLES).unwrap();
        let width = |f: &Forecast| f.quantile(0.975) / f.quantile(0.025);
        assert!(width(&together) > 1.3 * width(&apart));
        let shares: f64 = together.causes.iter().map(|c| c.share_of_variance).sum();
        assert!((shares - 1.0).abs() < 1e-9);
    }

    #[test]
    fn sealing_shows_as_a_difference() {
        let before = Estimate::stated(906.0, 12.0);
        let after = Estimate::stated(673.0, 9.0);
        let d = difference(before, after, 0.02);
        assert!((d.value - 233.0).abs() < 1e-12);
        // √(6² + 4.5² + (0.02·233)²)
        assert!((d.standard_uncertainty - 8.83).abs() < 0.01, "{d:?}");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        #[test]
        fn sampling_agrees_with_moments(q in prop::collection::vec((1.0..50.0f64, 0.2..5.0f64, 1.2..3.0f64), 3..12)) {
            let leaks: Vec<Leak> =
                q.iter().enumerate().map(|(i, &(n, m, f))| leak(&format!("l{i}"), n, m, f)).collect();
            let sampled = Forecast::new(&leaks, 50.0, 11, SAMPLES).unwrap();
            let matched = matched_total(&leaks).unwrap();
            prop_assert!((sampled.mean() / matched.mean() - 1.0).abs() < 0.05);
            prop_assert!((sampled.quantile(0.5) / matched.median() - 1.0).abs() < 0.08);
        }

        #[test]
        fn more_joint_never_leaks_less(n in 1.0..50.0f64, more in 0.0..50.0f64) {
            let at = |n| Forecast::new(&[leak("a", n, 1.0, 2.0)], 50.0, 1, 128).unwrap().quantile(0.9);
            prop_assert!(at(n + more) >= at(n));
        }
    }
}
