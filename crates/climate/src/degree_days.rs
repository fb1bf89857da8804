//! Degree days by the three ways of counting in use; say which one a figure is.

use crate::year::Climate;

/// How the outdoor temperature of a day is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counting {
    /// Hour by hour, then summed.
    Hourly,
    /// By the mean of the day's 24 readings.
    DailyMean,
    /// By the middle between the day's lowest and highest reading.
    DailyMiddle,
}

/// Returns the heating degree days below a base, K·d.
pub fn heating(climate: &Climate, base_c: f64, counting: Counting) -> f64 {
    weighted(climate, counting).iter().map(|&(t, days)| (base_c - t).max(0.0) * days).sum()
}

/// Returns the cooling degree days above a base, K·d.
pub fn cooling(climate: &Climate, base_c: f64, counting: Counting) -> f64 {
    weighted(climate, counting).iter().map(|&(t, days)| (t - base_c).max(0.0) * days).sum()
}

/// Returns the degree days up to an indoor temperature, counted only while it is colder than a limit, K·d: for
/// example 20 °C inside with heating below 12 °C.
pub fn heating_with_limit(climate: &Climate, indoor_c: f64, limit_c: f64, counting: Counting) -> f64 {
    weighted(climate, counting).iter().filter(|p| p.0 < limit_c).map(|&(t, days)| (indoor_c - t) * days).sum()
}

/// Temperatures and the days each stands for.
fn weighted(climate: &Climate, counting: Counting) -> Vec<(f64, f64)> {
    match counting {
        Counting::Hourly => climate.hours.iter().map(|h| (h.dry_bulb_c, 1.0 / 24.0)).collect(),
        Counting::DailyMean => climate.daily_means_c().into_iter().map(|t| (t, 1.0)).collect(),
        Counting::DailyMiddle => climate
            .hours
            .chunks(24)
            .map(|day| {
                let low = day.iter().map(|h| h.dry_bulb_c).fold(f64::INFINITY, f64::min);
                let high = day.iter().map(|h| h.dry_bulb_c).fold(f64::NEG_INFINITY, f64::max);
                (0.5 * (low + high), 1.0)
            })
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo_year;

    #[test]
    fn heating_less_cooling_is_the_mean() {
        let year = demo_year();
        let mean = year.hours.iter().map(|h| h.dry_bulb_c).sum::<f64>() / 8_760.0;
        for counting in [Counting::Hourly, Counting::DailyMean] {
            let difference = heating(&year, 18.3, counting) - cooling(&year, 18.3, counting);
            assert!((difference - (18.3 - mean) * 365.0).abs() < 1e-6);
        }
    }
}
