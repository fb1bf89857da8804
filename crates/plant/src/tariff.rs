//! What electricity costs, hour by hour, in the job's own currency.

/// One price and when it holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// Name, such as `peak`.
    pub name: String,
    /// Currency a kWh.
    pub price_per_kwh: f64,
    /// Months, 1 to 12; all when empty.
    pub months: Vec<u8>,
    /// Days of the week, Monday 0; all when empty.
    pub weekdays: Vec<u8>,
    /// First hour of the day and the hour it ends, 0 to 24; a span past midnight begins before it ends.
    pub hours: (u8, u8),
}

impl Band {
    /// A price that always holds.
    pub fn always(price_per_kwh: f64) -> Self {
        Self {
            name: "all hours".to_owned(),
            price_per_kwh,
            months: Vec::new(),
            weekdays: Vec::new(),
            hours: (0, 24),
        }
    }

    fn holds(&self, month: u8, weekday: u8, hour: u8) -> bool {
        let (from, to) = self.hours;
        let in_hours = if from < to { (from..to).contains(&hour) } else { hour >= from || hour < to };
        in_hours
            && (self.months.is_empty() || self.months.contains(&month))
            && (self.weekdays.is_empty() || self.weekdays.contains(&weekday))
    }
}

/// A tariff.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tariff {
    /// Sign or code of the currency.
    pub currency: String,
    /// Bands; the last that holds counts.
    pub bands: Vec<Band>,
    /// Paid for a kWh sold.
    pub sold_per_kwh: f64,
    /// A month, whatever is used.
    pub standing_per_month: f64,
}

impl Tariff {
    /// Returns the price of a kWh in an hour; `None` where no band holds.
    pub fn price(&self, month: u8, weekday: u8, hour: u8) -> Option<f64> {
        self.bands.iter().rev().find(|b| b.holds(month, weekday, hour)).map(|b| b.price_per_kwh)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_band_that_holds_counts_and_nights_wrap() {
        let peak = Band {
            name: "peak".to_owned(),
            price_per_kwh: 0.3,
            months: vec![6, 7],
            weekdays: vec![0, 1, 2, 3, 4],
            hours: (15, 20),
        };
        let night =
            Band { name: "night".to_owned(), price_per_kwh: 0.08, hours: (22, 6), ..Band::always(0.0) };
        let t = Tariff {
            currency: "$".to_owned(),
            bands: vec![Band::always(0.12), night, peak],
            ..Tariff::default()
        };
        assert_eq!(t.price(7, 2, 16), Some(0.3));
        assert_eq!(t.price(7, 6, 16), Some(0.12));
        assert_eq!(t.price(1, 2, 23), Some(0.08));
        assert_eq!(t.price(1, 2, 5), Some(0.08));
        assert_eq!(Tariff::default().price(1, 1, 1), None);
    }
}
