//! Chances over samples: of each limit, of groups of alternatives, of all together.
//!
//! A limit's column holds its margin in each sample, positive when it is met. Alternatives are joined sample by sample,
//! because what makes one miss often makes the other miss too: the joint chance is not the product.

use building::limits::Join;
use numeric::weighted::Weights;

use crate::digits::Odds;

/// Margins of one limit, sample by sample; NaN where a sample says nothing.
pub type Column = Vec<f64>;

/// Returns the chance that a column is met; `None` without numbers.
pub fn of(column: &[f64], weights: &Weights) -> Option<Odds> {
    if column.len() != weights.len() || column.iter().any(|m| m.is_nan()) {
        return None;
    }
    Odds::new(weights.share(|i| column[i] >= 0.0).clamp(0.0, 1.0), weights.effective_size())
}

/// Joins columns sample by sample: of alternatives the best margin, of all the worst.
pub fn joined(columns: &[&Column], join: Join) -> Column {
    let n = columns.iter().map(|c| c.len()).min().unwrap_or(0);
    let pick = |i: usize| {
        let of = columns.iter().map(|c| c[i]);
        match join {
            Join::AnyOf => of.fold(f64::NEG_INFINITY, f64::max),
            Join::AllOf => of.fold(f64::INFINITY, f64::min),
        }
    };
    (0..n).map(pick).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn alternatives_are_joined_sample_by_sample() {
        let (a, b) = (vec![1.0, -1.0, -1.0, 1.0], vec![1.0, 1.0, -1.0, -1.0]);
        let w = Weights::equal(4).expect("weights");
        let p = |c: &[f64]| of(c, &w).expect("odds").p;
        assert_eq!((p(&a), p(&b)), (0.5, 0.5));
        assert_eq!(p(&joined(&[&a, &b], Join::AnyOf)), 0.75);
        assert_eq!(p(&joined(&[&a, &b], Join::AllOf)), 0.25);
        assert_eq!(of(&[f64::NAN; 4], &w), None);
    }
}
