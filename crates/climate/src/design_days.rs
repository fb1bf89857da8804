//! Days and spells that plant is sized for, picked from the year itself.
//!
//! A typical year holds few extremes, so these are milder than design values from decades of readings; where the
//! code official names a design temperature, that one rules.

use crate::calendar::{DAYS, HOURS};
use crate::sun::{SunYear, extraterrestrial_w_m2};
use crate::year::Climate;

/// Some days in a row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spell {
    /// First day, from 0.
    pub first_day: usize,
    /// How many; a spell may close over the end of the year.
    pub days: usize,
    /// Mean dry bulb, °C.
    pub mean_c: f64,
    /// Lowest reading, °C.
    pub lowest_c: f64,
    /// Highest reading, °C.
    pub highest_c: f64,
    /// Mean global irradiance over all hours, W/m².
    pub global_w_m2: f64,
    /// Global irradiance over that outside the atmosphere on a horizontal plane; zero without any sun.
    pub clearness: f64,
    /// Mean humidity ratio, kg/kg.
    pub humidity_ratio: f64,
    /// Mean wind speed, m/s.
    pub wind_speed_m_s: f64,
}

/// Which end of the year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// The coldest.
    Cold,
    /// The hottest.
    Hot,
}

/// Returns the dry bulb, °C, that is undercut (cold) or exceeded (hot) in this share of the year's hours: 0.4 % cold
/// is what trade tables call the 99.6 % heating temperature.
pub fn hourly_c(climate: &Climate, end: End, share: f64) -> f64 {
    let mut sorted = climate.column(|h| h.dry_bulb_c);
    sorted.sort_unstable_by(f64::total_cmp);
    let rank = ((share.clamp(0.0, 1.0) * HOURS as f64).round() as usize).min(HOURS - 1);
    match end {
        End::Cold => sorted[rank],
        End::Hot => sorted[HOURS - 1 - rank],
    }
}

/// Returns the spell of so many days whose mean is undercut (cold) or exceeded (hot) by this share of all spells of
/// that length; 0 gives the most extreme one. `days` is held within 1 to 60.
pub fn spell(climate: &Climate, end: End, days: usize, share: f64) -> Spell {
    let days = days.clamp(1, 60);
    let means = climate.daily_means_c();
    let mut ranked: Vec<(f64, usize)> =
        (0..DAYS).map(|first| ((0..days).map(|i| means[(first + i) % DAYS]).sum::<f64>(), first)).collect();
    ranked.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    if end == End::Hot {
        ranked.reverse();
    }
    let rank = ((share.clamp(0.0, 1.0) * DAYS as f64).round() as usize).min(DAYS - 1);
    describe(climate, &daily_space(climate), ranked[rank].1, days)
}

/// Days for sizing, each the day itself with its place in the year.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DesignDays {
    /// Cold and clear: the sunniest of the coldest twentieth of days.
    pub clear_cold: Spell,
    /// Cold and overcast: the darkest of the coldest tenth of days.
    pub overcast_cold: Spell,
    /// The day whose mean only one day in a hundred exceeds.
    pub hot: Spell,
    /// The most humid of the hottest tenth of days.
    pub humid: Spell,
}

/// Picks the design days of a year. The shares are our judgement: heating load is largest either on clear days of
/// deep cold or on milder days without sun, so both are tried.
pub fn design_days(climate: &Climate) -> DesignDays {
    let space = daily_space(climate);
    let days: Vec<Spell> = (0..DAYS).map(|day| describe(climate, &space, day, 1)).collect();
    let mut by_mean: Vec<&Spell> = days.iter().collect();
    by_mean.sort_by(|a, b| a.mean_c.total_cmp(&b.mean_c).then(a.first_day.cmp(&b.first_day)));
    let coldest = |share: f64| by_mean[..(share * DAYS as f64).round() as usize].iter().copied();
    let hottest = by_mean[DAYS - (0.1 * DAYS as f64).round() as usize..].iter().copied();
    DesignDays {
        clear_cold: *best(coldest(0.05), |d| d.clearness),
        overcast_cold: *best(coldest(0.10), |d| -d.clearness),
        hot: *by_mean[DAYS - 1 - (0.01 * DAYS as f64).round() as usize],
        humid: *best(hottest, |d| d.humidity_ratio),
    }
}

fn best<'a>(days: impl Iterator<Item = &'a Spell>, score: impl Fn(&Spell) -> f64) -> &'a Spell {
    // Never empty: shares of 365 days leave at least one.
    days.reduce(|a, b| if score(b) > score(a) { b } else { a }).unwrap_or_else(|| unreachable!("no days"))
}

/// Horizontal irradiation outside the atmosphere of each day, Wh/m².
fn daily_space(climate: &Climate) -> Vec<f64> {
    let sun = SunYear::new(&climate.place, 1);
    sun.directions
        .chunks(24)
        .enumerate()
        .map(|(day, hours)| hours.iter().map(|d| d.up.max(0.0)).sum::<f64>() * extraterrestrial_w_m2(day))
        .collect()
}

fn describe(climate: &Climate, space: &[f64], first_day: usize, days: usize) -> Spell {
    let hours = || (0..days * 24).map(|i| &climate.hours[(first_day * 24 + i) % HOURS]);
    let n = (days * 24) as f64;
    let outside: f64 = (0..days).map(|i| space[(first_day + i) % DAYS]).sum();
    let global: f64 = hours().map(|h| h.global_w_m2).sum();
    Spell {
        first_day,
        days,
        mean_c: hours().map(|h| h.dry_bulb_c).sum::<f64>() / n,
        lowest_c: hours().map(|h| h.dry_bulb_c).fold(f64::INFINITY, f64::min),
        highest_c: hours().map(|h| h.dry_bulb_c).fold(f64::NEG_INFINITY, f64::max),
        global_w_m2: global / n,
        clearness: if outside > 0.0 { global / outside } else { 0.0 },
        humidity_ratio: hours().map(|h| h.humidity_ratio).sum::<f64>() / n,
        wind_speed_m_s: hours().map(|h| h.wind_speed_m_s).sum::<f64>() / n,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo_year;

    #[test]
    fn extremes_are_where_they_belong() {
        let year = demo_year();
        let coldest = spell(&year, End::Cold, 3, 0.0);
        let cold = spell(&year, End::Cold, 3, 0.02);
        assert!(coldest.mean_c < cold.mean_c);
        assert!(spell(&year, End::Hot, 1, 0.0).mean_c > spell(&year, End::Hot, 1, 0.1).mean_c);
        assert!(hourly_c(&year, End::Cold, 0.004) < -4.0 && hourly_c(&year, End::Hot, 0.004) > 30.0);
        let days = design_days(&year);
        assert!(days.clear_cold.clearness > 0.5 && days.overcast_cold.clearness < 0.3, "{days:?}");
        assert!(days.clear_cold.mean_c < 0.0 && days.hot.mean_c > 26.0, "{days:?}");
    }
}
