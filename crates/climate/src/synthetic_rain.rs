//! Hours of rain made up from a year's sum, for weather years that carry none.
//!
//! Rain falls in the dampest and cloudiest hours of each month, in spells, so that it meets the sun, wind and humidity of
//! a rainy day; how much falls in an hour is drawn. What is made up stays made up: a result that rests on it carries
//! [`spread_of_index`], and every maker's seed gives another year of the same sum.
//!
//! | supposition | value | basis |
//! |---|---|---|
//! | share of hours with rain | 7 % | common practice for temperate climates, no source |
//! | rain of the months | the same in each | judgement; wrong where a dry season exists |
//! | size of an hour's rain | lognormal, factor 95 % about 12 | judgement |

use numeric::counter::Stream;
use numeric::exp;

use crate::calendar::{HOURS, hours_of_month};
use crate::rain::airfield_index_l_m2;
use crate::year::Climate;

/// Share of hours in which rain falls.
pub const WET_SHARE: f64 = 0.07;
/// Standard deviation of the logarithm of an hour's rain.
const LOG_SD: f64 = 1.25;
/// Share of an hour's noise that the next one keeps: spells of some six hours.
const PERSISTENCE: f64 = 0.85;
/// Weight of the noise against humidity and cloud, both as shares of one.
const NOISE: f64 = 0.12;

/// Returns rain hour by hour, mm, that adds up to `yearly_mm`; a seed gives always the same.
pub fn hourly_mm(climate: &Climate, yearly_mm: f64, seed: u64) -> Vec<f64> {
    let wetness = wetness(climate, Stream::new(seed, "synthetic rain: when"));
    let amount = Stream::new(seed, "synthetic rain: how much");
    let mut rain = vec![0.0; HOURS];
    for month in 0..12 {
        let hours = hours_of_month(month);
        let mut order: Vec<usize> = hours.clone().collect();
        // Ties go to the earlier hour, so that the order never depends on the sort.
        order.sort_by(|a, b| wetness[*b].total_cmp(&wetness[*a]).then(a.cmp(b)));
        let wet = ((hours.len() as f64 * WET_SHARE).round() as usize).max(1);
        let mut sum = 0.0;
        for &hour in &order[..wet] {
            rain[hour] = exp(LOG_SD * amount.normal(hour as u64));
            sum += rain[hour];
        }
        let share = yearly_mm * hours.len() as f64 / HOURS as f64 / sum;
        for &hour in &order[..wet] {
            rain[hour] *= share;
        }
    }
    rain
}

/// Puts made-up rain into a year and notes it.
///
/// # Errors
/// A sentence when an hour would have more than any hour on earth had.
pub fn with_synthetic_rain(climate: &Climate, yearly_mm: f64, seed: u64) -> Result<Climate, String> {
    let from = format!("made up from a year's sum of {yearly_mm:.0} mm");
    climate.clone().with_rain(hourly_mm(climate, yearly_mm, seed), &from)
}

/// Returns how far the driving rain on a wall may be from one made-up year's, as a half-width (95 %) and a share: by
/// `seeds` other made-up years of the same sum, with the sum's own half-width added in squares. `None` where even one
/// year could not be made.
pub fn spread_of_index(
    climate: &Climate,
    yearly_mm: f64,
    sum_half_width: f64,
    wall_azimuth_deg: f64,
    seeds: u64,
) -> Option<f64> {
    let index = |seed| {
        let year = with_synthetic_rain(climate, yearly_mm, seed).ok()?;
        airfield_index_l_m2(&year, wall_azimuth_deg)
    };
    let all: Vec<f64> = (0..seeds.max(2)).map(index).collect::<Option<_>>()?;
    let mean = numeric::sum::mean(&all);
    if mean <= 0.0 {
        return Some(sum_half_width);
    }
    let squares: Vec<f64> = all.iter().map(|i| (i - mean) * (i - mean)).collect();
    let sd = (numeric::sum::pairwise(&squares) / (all.len() - 1) as f64).sqrt();
    let made_up = 1.96 * sd / mean;
    Some((made_up * made_up + sum_half_width * sum_half_width).sqrt())
}

/// How much each hour looks like rain: humidity and cloud, with noise that lasts some hours.
fn wetness(climate: &Climate, noise: Stream) -> Vec<f64> {
    let fresh = (1.0 - PERSISTENCE * PERSISTENCE).sqrt();
    let mut kept = 0.0;
    climate
        .hours
        .iter()
        .enumerate()
        .map(|(hour, h)| {
            kept = PERSISTENCE * kept + fresh * noise.normal(hour as u64);
            h.relative_humidity + 0.5 * h.opaque_cloud + NOISE * kept
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo_year;

    #[test]
    fn made_up_rain_keeps_its_sum_and_falls_on_rainy_days() {
        let year = demo_year();
        let rain = hourly_mm(&year, 1_000.0, 1);
        assert!((rain.iter().sum::<f64>() - 1_000.0).abs() < 1e-9);
        let wet = rain.iter().filter(|mm| **mm > 0.0).count() as f64 / HOURS as f64;
        assert!((wet - WET_SHARE).abs() < 0.002, "{wet}");
        let mean = |of: fn(&crate::Hour) -> f64, rained: bool| {
            let picked: Vec<f64> = year
                .hours
                .iter()
                .zip(&rain)
                .filter(|(_, mm)| (**mm > 0.0) == rained)
                .map(|(h, _)| of(h))
                .collect();
            numeric::sum::mean(&picked)
        };
        assert!(mean(|h| h.relative_humidity, true) > mean(|h| h.relative_humidity, false) + 0.15);
        assert!(mean(|h| h.global_w_m2, true) < 0.6 * mean(|h| h.global_w_m2, false));
        // Heavy hours, but none beyond a cloudburst.
        let most = rain.iter().copied().fold(0.0, f64::max);
        assert!((8.0..80.0).contains(&most), "{most}");
        // Spells: an hour after rain is far likelier to be wet than another.
        let after = rain.windows(2).filter(|w| w[0] > 0.0 && w[1] > 0.0).count() as f64;
        assert!(after / (wet * HOURS as f64) > 0.5);
    }

    #[test]
    fn the_same_seed_gives_the_same_year_and_another_one_another() {
        let year = demo_year();
        assert_eq!(hourly_mm(&year, 800.0, 7), hourly_mm(&year, 800.0, 7));
        assert_ne!(hourly_mm(&year, 800.0, 7), hourly_mm(&year, 800.0, 8));
        let spread = spread_of_index(&year, 800.0, 0.10, 225.0, 6).expect("rain");
        assert!((0.10..0.8).contains(&spread), "{spread}");
    }
}
