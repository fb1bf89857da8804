//! Long series brought down to what paper can show, without losing a peak.

/// Lowest and highest value of a run of samples.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reach {
    /// Lowest value.
    pub low: f64,
    /// Highest value.
    pub high: f64,
    /// Mean of the values.
    pub mean: f64,
}

/// Divides a series into at most `columns` runs of nearly equal length and returns each run's reach.
///
/// Values that are not finite are left out; a run without any value is `None`. No peak is lost: the highest
/// value of the whole series is the highest of the runs.
pub fn reaches(values: &[f64], columns: usize) -> Vec<Option<Reach>> {
    let columns = columns.min(values.len());
    (0..columns)
        .map(|k| {
            let run = &values[k * values.len() / columns..(k + 1) * values.len() / columns];
            reach(run)
        })
        .collect()
}

fn reach(run: &[f64]) -> Option<Reach> {
    let mut found: Option<Reach> = None;
    let (mut sum, mut count) = (0.0, 0.0);
    for value in run.iter().copied().filter(|v| v.is_finite()) {
        sum += value;
        count += 1.0;
        let so_far = found.unwrap_or(Reach { low: value, high: value, mean: value });
        found = Some(Reach { low: so_far.low.min(value), high: so_far.high.max(value), mean: 0.0 });
    }
    found.map(|r| Reach { mean: sum / count, ..r })
}

/// Joins neighbouring reaches until at most `columns` are left; a column of nothing but gaps stays a gap.
pub fn gather(reaches: &[Option<Reach>], columns: usize) -> Vec<Option<Reach>> {
    let columns = columns.min(reaches.len());
    (0..columns)
        .map(|k| {
            let run = &reaches[k * reaches.len() / columns..(k + 1) * reaches.len() / columns];
            let (mut sum, mut count) = (0.0, 0.0);
            let joined = run.iter().flatten().fold(None, |joined: Option<Reach>, r| {
                sum += r.mean;
                count += 1.0;
                let j = joined.unwrap_or(*r);
                Some(Reach { low: j.low.min(r.low), high: j.high.max(r.high), mean: 0.0 })
            });
            joined.map(|r| Reach { mean: sum / count, ..r })
        })
        .collect()
}

/// Thins points `(x, y)` to at most about `4 × columns`, keeping first, lowest, highest and last of each
/// column in their order. Points with a value that is not finite are left out.
pub fn thin(points: &[[f64; 2]], columns: usize) -> Vec<[f64; 2]> {
    let finite: Vec<[f64; 2]> =
        points.iter().copied().filter(|p| p[0].is_finite() && p[1].is_finite()).collect();
    if columns == 0 || finite.len() <= 4 * columns {
        return finite;
    }
    let mut kept = Vec::with_capacity(4 * columns);
    for k in 0..columns {
        let (start, end) = (k * finite.len() / columns, (k + 1) * finite.len() / columns);
        let run = &finite[start..end];
        let lowest = index_of(run, |a, b| a < b);
        let highest = index_of(run, |a, b| a > b);
        let mut indices = [0, lowest, highest, run.len() - 1];
        indices.sort_unstable();
        for (position, index) in indices.iter().enumerate() {
            if position == 0 || indices[position - 1] != *index {
                kept.push(run[*index]);
            }
        }
    }
    kept
}

fn index_of(run: &[[f64; 2]], better: impl Fn(f64, f64) -> bool) -> usize {
    let mut best = 0;
    for (index, point) in run.iter().enumerate() {
        if better(point[1], run[best][1]) {
            best = index;
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Thinning keeps the ends and the extremes.
        #[test]
        fn nothing_that_matters_is_lost(values in prop::collection::vec(-50.0..50.0_f64, 1..3000), columns in 1_usize..200) {
            let points: Vec<[f64; 2]> = values.iter().enumerate().map(|(k, v)| [k as f64, *v]).collect();
            let kept = thin(&points, columns);
            let extreme = |p: &[[f64; 2]], f: fn(f64, f64) -> f64| p.iter().map(|q| q[1]).reduce(f);
            prop_assert_eq!(extreme(&kept, f64::max), extreme(&points, f64::max));
            prop_assert_eq!(extreme(&kept, f64::min), extreme(&points, f64::min));
            prop_assert_eq!(kept.first(), points.first());
            prop_assert_eq!(kept.last(), points.last());
            prop_assert!(kept.windows(2).all(|w| w[0][0] < w[1][0]));
            prop_assert!(kept.len() <= points.len().min((4 * columns).max(points.len().min(4 * columns))));
            let runs = reaches(&values, columns);
            let high = runs.iter().flatten().map(|r| r.high).reduce(f64::max);
            prop_assert_eq!(high, extreme(&points, f64::max));
        }
    }

    #[test]
    fn gathered_days_keep_their_extremes() {
        let day = |low: f64, high: f64| Some(Reach { low, high, mean: (low + high) / 2.0 });
        let joined = gather(&[day(1.0, 3.0), day(0.0, 2.0), None, None], 2);
        assert_eq!(joined, [Some(Reach { low: 0.0, high: 3.0, mean: 1.5 }), None]);
        assert_eq!(gather(&[day(1.0, 3.0)], 10).len(), 1);
    }

    #[test]
    fn a_gap_stays_a_gap() {
        let runs = reaches(&[1.0, 3.0, f64::NAN, f64::NAN, 5.0, 5.0], 3);
        assert_eq!(runs[0], Some(Reach { low: 1.0, high: 3.0, mean: 2.0 }));
        assert_eq!(runs[1], None);
        assert_eq!(runs[2], Some(Reach { low: 5.0, high: 5.0, mean: 5.0 }));
    }
}
