//! What drives a result: the year's balance by cause, weighted by the months that count.
//!
//! Each month's heating is shared among that month's losses in proportion, each month's cooling among its gains; what
//! the mass stores and what zones exchange is left out. So a share answers "of the heat the plant makes up, how much
//! goes where?", not "what would be saved without it?": gains would fill part of any gap.

use crate::result::{Balance, Cause, EnergyResult, YearResult};

/// One cause with its share.
#[derive(Clone, Debug, PartialEq)]
pub struct CauseShare {
    /// Plain word.
    pub cause: String,
    /// Share of the result, 0..1.
    pub share: f64,
}

/// Which side of the balance.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Heat that leaves.
    Losses,
    /// Heat that comes in.
    Gains,
}

fn counts(cause: Cause) -> bool {
    !matches!(cause, Cause::Heating | Cause::Cooling | Cause::Storage | Cause::OtherZones)
}

/// Shares of one side of a balance, by cause.
fn shares(balance: &Balance, side: Side) -> Vec<(Cause, f64)> {
    let sign = if side == Side::Losses { -1.0 } else { 1.0 };
    let of_side = |(cause, heat): (Cause, f64)| counts(cause).then(|| (cause, (sign * heat).max(0.0)));
    let sides: Vec<(Cause, f64)> = balance.causes().filter_map(of_side).collect();
    let sum: f64 = sides.iter().map(|(_, heat)| heat).sum();
    if sum <= 0.0 {
        return Vec::new();
    }
    sides.into_iter().map(|(cause, heat)| (cause, heat / sum)).collect()
}

/// Shares over the months, each weighted; then other causes put beside, and all brought to one.
pub fn over_months(
    year: &YearResult,
    side: Side,
    weight: impl Fn(&crate::result::MonthResult) -> f64,
    beside: &[(&str, f64)],
) -> Vec<CauseShare> {
    let mut sums = [0.0; Cause::ALL.len()];
    for month in &year.months {
        let weight = weight(month).max(0.0);
        for (cause, share) in shares(&month.balance, side) {
            sums[cause as usize] += weight * share;
        }
    }
    let mut named: Vec<(String, f64)> =
        Cause::ALL.into_iter().map(|cause| (cause.word().to_owned(), sums[cause as usize])).collect();
    named.extend(beside.iter().map(|(word, value)| ((*word).to_owned(), *value)));
    ranked(named)
}

/// Shares of one balance.
pub fn of_balance(balance: &Balance, side: Side) -> Vec<CauseShare> {
    ranked(shares(balance, side).into_iter().map(|(cause, share)| (cause.word().to_owned(), share)).collect())
}

/// Shares of primary energy by end use.
pub fn of_energy(energy: &EnergyResult) -> Vec<CauseShare> {
    ranked(energy.end_uses.iter().map(|row| (row.end_use.word().to_owned(), row.primary_j)).collect())
}

fn ranked(named: Vec<(String, f64)>) -> Vec<CauseShare> {
    let sum: f64 = named.iter().map(|(_, value)| value).sum();
    if sum <= 0.0 {
        return Vec::new();
    }
    let mut out: Vec<CauseShare> = named
        .into_iter()
        .filter(|(_, value)| *value > 0.0)
        .map(|(cause, value)| CauseShare { cause, share: value / sum })
        .collect();
    out.sort_by(|a, b| b.share.total_cmp(&a.share).then_with(|| a.cause.cmp(&b.cause)));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_of_losses_sum_to_one_and_are_ranked() {
        let mut balance = Balance::default();
        balance.add_to(Cause::Roof, -3.0);
        balance.add_to(Cause::Walls, -1.0);
        balance.add_to(Cause::Sun, 2.0);
        balance.add_to(Cause::Heating, 2.0);
        let losses = of_balance(&balance, Side::Losses);
        assert_eq!(losses[0], CauseShare { cause: "roof".into(), share: 0.75 });
        assert_eq!(losses.iter().map(|c| c.share).sum::<f64>(), 1.0);
        assert_eq!(of_balance(&balance, Side::Gains), [CauseShare { cause: "sun".into(), share: 1.0 }]);
        assert!(of_balance(&Balance::default(), Side::Gains).is_empty());
    }
}
