//! Stage targets: what must today's reading be, so that the final test passes with the chance wanted?
//!
//! This is the program's own estimate, not a rule of any standard: it rests on the forecast of what is still to be made
//! and on the instruments' uncertainty. Start at [`needed_now`].

use numeric::NumericError;
use numeric::counter::Stream;
use numeric::distribution::Distribution;
use numeric::weighted::Weights;

/// What lies between today's reading and the final one.
#[derive(Clone, Debug, PartialEq)]
pub struct Ahead {
    /// Limit on the final flow at the reference pressure, m³/h.
    pub limit_m3_h: f64,
    /// Holes and joints still to be made, on purpose or not, each a flow at the reference pressure, m³/h.
    pub still_to_come: Vec<Distribution>,
    /// Leaks of today that will be gone by then (temporary seals that fail are to come, unfinished parts go), m³/h.
    pub will_go: Vec<Distribution>,
    /// Standard uncertainty of today's reading that the final one does not share, as a share.
    pub reading_share: f64,
    /// Standard uncertainty of the final reading that today's does not share, as a share.
    pub final_share: f64,
}

/// A stage target.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StageTarget {
    /// Today's reading must be at or under this, m³/h at the reference pressure.
    pub reading_m3_h: f64,
    /// Chance of ending under the limit that it was asked for.
    pub chance: f64,
    /// Always true: this program's own estimate.
    pub own_estimate: bool,
}

/// Samples behind a target.
const SAMPLES: usize = 8192;

/// Returns the reading needed now; `None` where no reading above zero would do.
///
/// In each sample the final reading is `(r/(1 + e1) + come − go)·(1 + e2)`; the largest r that keeps it under the limit
/// is the sample's own, and the target the quantile of these that leaves the wanted chance above it.
///
/// # Errors
/// What [`Distribution::check`] says; [`NumericError::Parameter`] for a chance outside (0, 1).
///
/// # Example
/// ```
/// use air::stage_target::{Ahead, needed_now};
/// use numeric::distribution::Distribution;
/// // Limit 573 m³/h; services will add about 40; readings are good to 2 %.
/// let ahead = Ahead {
///     limit_m3_h: 573.0,
///     still_to_come: vec![Distribution::LogNormal { median: 40.0, factor95: 2.0 }],
///     will_go: vec![],
///     reading_share: 0.02,
///     final_share: 0.02,
/// };
/// let target = needed_now(&ahead, 0.9, 1)?.unwrap();
/// assert!(target.reading_m3_h > 480.0 && target.reading_m3_h < 533.0);
/// # Ok::<(), numeric::NumericError>(())
/// ```
pub fn needed_now(ahead: &Ahead, chance: f64, seed: u64) -> Result<Option<StageTarget>, NumericError> {
    if !(chance > 0.0 && chance < 1.0) {
        return Err(NumericError::Parameter { name: "chance", value: chance, needed: "between 0 and 1" });
    }
    let largest = largest_readings(ahead, seed)?;
    let reading = Weights::equal(SAMPLES)?.quantile(&largest, 1.0 - chance);
    Ok((reading > 0.0).then_some(StageTarget { reading_m3_h: reading, chance, own_estimate: true }))
}

/// Returns the chance of ending under the limit from a reading of today.
///
/// # Errors
/// As [`needed_now`].
pub fn chance_from(ahead: &Ahead, reading_m3_h: f64, seed: u64) -> Result<f64, NumericError> {
    let largest = largest_readings(ahead, seed)?;
    Ok(largest.iter().filter(|r| **r >= reading_m3_h).count() as f64 / SAMPLES as f64)
}

fn largest_readings(ahead: &Ahead, seed: u64) -> Result<Vec<f64>, NumericError> {
    for d in ahead.still_to_come.iter().chain(&ahead.will_go) {
        d.check()?;
    }
    let stream = |name: String| Stream::new(seed, &name);
    let draw =
        |d: &Distribution, name: &str, k: usize, i: u64| d.quantile(stream(format!("{name}{k}")).uniform(i));
    let (now, last) = (stream("reading".to_owned()), stream("final".to_owned()));
    Ok((0..SAMPLES as u64)
        .map(|i| {
            let come: f64 = ahead.still_to_come.iter().enumerate().map(|(k, d)| draw(d, "come", k, i)).sum();
            let go: f64 = ahead.will_go.iter().enumerate().map(|(k, d)| draw(d, "go", k, i)).sum();
            let allowed = ahead.limit_m3_h / (1.0 + ahead.final_share * last.normal(i)) - come + go;
            allowed * (1.0 + ahead.reading_share * now.normal(i))
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn ahead(median: f64) -> Ahead {
        Ahead {
            limit_m3_h: 573.0,
            still_to_come: vec![Distribution::LogNormal { median, factor95: 2.0 }],
            will_go: vec![],
            reading_share: 0.02,
            final_share: 0.02,
        }
    }

    #[test]
    fn with_nothing_ahead_the_limit_itself_less_the_readings_doubt() {
        let calm = Ahead { still_to_come: vec![], ..ahead(1.0) };
        let target = needed_now(&calm, 0.5, 1).unwrap().unwrap();
        assert!((target.reading_m3_h - 573.0).abs() < 1.0, "{target:?}");
        let sure = needed_now(&calm, 0.9, 1).unwrap().unwrap();
        // 1.2816·√(2)·2 % = 3.6 %
        assert!((sure.reading_m3_h / 573.0 - (1.0 - 0.0362)).abs() < 0.003, "{sure:?}");
    }

    #[test]
    fn too_much_to_come_has_no_target() {
        assert_eq!(needed_now(&ahead(900.0), 0.9, 1).unwrap(), None);
        assert!(needed_now(&ahead(10.0), 1.0, 1).is_err());
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        #[test]
        fn target_and_chance_undo_each_other(median in 5.0..200.0f64, chance in 0.1..0.95f64) {
            let a = ahead(median);
            let target = needed_now(&a, chance, 4).unwrap().unwrap();
            let back = chance_from(&a, target.reading_m3_h, 4).unwrap();
            prop_assert!((back - chance).abs() < 1e-3);
            let less = needed_now(&a, chance + 0.02, 4).unwrap().unwrap();
            prop_assert!(less.reading_m3_h <= target.reading_m3_h);
        }
    }
}
