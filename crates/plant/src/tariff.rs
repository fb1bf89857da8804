//! What electricity costs, hour by hour, in the job's own currency.

/// Prices over a year.
#[derive(Clone, Debug, PartialEq)]
pub struct Tariff {
    /// Price of a kWh in each hour.
    per_kwh: Vec<f64>,
    /// Paid for a kWh sold.
    pub sold_per_kwh: f64,
    /// Standing charge of a month, whatever is used.
    pub standing_per_month: f64,
}

impl Tariff {
    /// One price at all hours.
    pub fn even(price_per_kwh: f64, hours: usize) -> Self {
        Self { per_kwh: vec![price_per_kwh; hours], sold_per_kwh: 0.0, standing_per_month: 0.0 }
    }

    /// Puts another price over the hours marked; later ones win.
    pub fn over(&mut self, holds: impl Iterator<Item = bool>, price_per_kwh: f64) {
        for (price, _) in self.per_kwh.iter_mut().zip(holds).filter(|(_, holds)| *holds) {
            *price = price_per_kwh;
        }
    }

    /// Returns the price of a kWh in an hour; of the last hour beyond the year.
    pub fn price(&self, hour: usize) -> f64 {
        self.per_kwh.get(hour).or(self.per_kwh.last()).copied().unwrap_or(0.0)
    }

    /// Returns what an hour costs, bought less sold.
    pub fn cost(&self, hour: usize, bought_j: f64, sold_j: f64) -> f64 {
        (self.price(hour) * bought_j - self.sold_per_kwh * sold_j) / crate::J_PER_KWH
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn later_prices_win_and_what_is_sold_comes_off() {
        let mut t = Tariff::even(0.12, 24);
        t.over((0..24).map(|h| (15..20).contains(&h)), 0.30);
        t.over((0..24).map(|h| h == 19), 0.20);
        t.sold_per_kwh = 0.05;
        assert_eq!([t.price(3), t.price(16), t.price(19)], [0.12, 0.30, 0.20]);
        assert!((t.cost(16, 2.0 * 3.6e6, 3.6e6) - 0.55).abs() < 1e-12);
    }
}
