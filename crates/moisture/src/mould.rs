//! The mould index: how far mould gets on a surface whose temperature and humidity are known hour by hour.
//!
//! Hukka and Viitanen (1999) for pine and spruce, the sensitivity classes of Ojanen et al. (2010), and the form of
//! ASHRAE 160-2016; every coefficient recalled from memory. 0: no growth, 1: first growth under the microscope,
//! 3: visible, 6: dense cover. The index says what the model says; species, dirt and luck are not in it.

use numeric::{exp, ln};

/// How readily a surface grows mould.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Sensitivity {
    /// Untreated wood.
    Very,
    /// Planed wood, paper-faced board, wood-based board.
    Sensitive,
    /// Cement-based, plastic-based, mineral fibre.
    Medium,
    /// Glass, metal, products with protective treatment.
    Resistant,
}

struct Class {
    /// k₁ below and from M = 1.
    k1: [f64; 2],
    /// A, B, C of the largest index.
    largest: [f64; 3],
    /// Lowest critical humidity, %, and the temperature above which it holds, °C.
    floor_pct: f64,
    switch_c: f64,
    w: f64,
}

impl Sensitivity {
    fn class(self) -> Class {
        match self {
            Self::Very => {
                Class { k1: [1.0, 2.0], largest: [1.0, 7.0, 2.0], floor_pct: 80.0, switch_c: 20.0, w: 0.0 }
            }
            Self::Sensitive => Class {
                k1: [0.578, 0.386],
                largest: [0.3, 6.0, 1.0],
                floor_pct: 80.0,
                switch_c: 20.0,
                w: 1.0,
            },
            Self::Medium => {
                Class { k1: [0.072, 0.097], largest: [0.0, 5.0, 1.5], floor_pct: 85.0, switch_c: 7.0, w: 1.0 }
            }
            Self::Resistant => {
                Class { k1: [0.033, 0.014], largest: [0.0, 3.0, 1.0], floor_pct: 85.0, switch_c: 7.0, w: 1.0 }
            }
        }
    }

    /// Returns the sensitivity to suppose for a material family; a judgement after the examples of the classes.
    pub fn of_family(family: matter::Family) -> Self {
        use matter::Family as F;
        match family {
            F::Timber => Self::Very,
            F::Board | F::FloorFinish => Self::Sensitive,
            F::Metal | F::Glass | F::Membrane => Self::Resistant,
            _ => Self::Medium,
        }
    }
}

/// Share of the 1999 model's decline in dry times: 1 on untreated pine, 0.1 as ASHRAE 160 supposes by default.
pub const DEFAULT_DECLINE: f64 = 0.1;
/// Hours of a week.
const WEEK_H: f64 = 168.0;

/// Returns the relative humidity, %, below which nothing grows at this temperature.
pub fn critical_humidity_pct(class: Sensitivity, temperature_c: f64) -> f64 {
    let (c, t) = (class.class(), temperature_c);
    if t > c.switch_c {
        return c.floor_pct;
    }
    (((-0.00267 * t + 0.160) * t - 3.13) * t + 100.0).max(c.floor_pct)
}

/// Returns the largest index the state allows in the long run.
pub fn largest_index(class: Sensitivity, temperature_c: f64, humidity_pct: f64) -> f64 {
    let critical = critical_humidity_pct(class, temperature_c);
    if critical >= 100.0 {
        return 0.0;
    }
    let x = (critical - humidity_pct) / (critical - 100.0);
    let [a, b, c] = class.class().largest;
    a + b * x - c * x * x
}

/// Returns the growth of the index an hour, or `None` where the state does not favour growth.
pub fn growth_per_hour(class: Sensitivity, index: f64, temperature_c: f64, humidity_pct: f64) -> Option<f64> {
    let humidity = humidity_pct.min(100.0);
    let favourable = (0.1..=50.0).contains(&temperature_c)
        && humidity >= critical_humidity_pct(class, temperature_c)
        && critical_humidity_pct(class, temperature_c) < 100.0;
    if !favourable {
        return None;
    }
    let c = class.class();
    let k1 = c.k1[usize::from(index >= 1.0)];
    let k2 = (1.0 - exp(2.3 * (index - largest_index(class, temperature_c, humidity)))).max(0.0);
    let weeks = exp(-0.68 * ln(temperature_c) - 13.9 * ln(humidity) + 0.14 * c.w + 66.02);
    Some(k1 * k2 / (WEEK_H * weeks))
}

/// The index on one surface, carried through time.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MouldIndex {
    /// The index now.
    pub index: f64,
    /// Hours since conditions became unfavourable.
    pub unfavourable_h: f64,
}

impl MouldIndex {
    /// Carries the index through some hours of one state; `decline` is the share of the model's decline.
    pub fn advance(
        &mut self,
        class: Sensitivity,
        decline: f64,
        temperature_c: f64,
        humidity_pct: f64,
        hours: f64,
    ) {
        match growth_per_hour(class, self.index, temperature_c, humidity_pct) {
            Some(rate) => {
                self.unfavourable_h = 0.0;
                self.index += rate * hours;
            }
            None => {
                let (from, to) = (self.unfavourable_h, self.unfavourable_h + hours);
                let within = |a: f64, b: f64| (to.min(b) - from.max(a)).max(0.0);
                let fall = 0.00133 * within(0.0, 6.0) + 0.000_667 * within(24.0, f64::INFINITY);
                self.index = (self.index - decline * fall).max(0.0);
                self.unfavourable_h = to;
            }
        }
    }
}

/// Returns the largest index reached through hourly states (temperature °C, relative humidity as a fraction), and the
/// hour it was reached.
pub fn worst(
    class: Sensitivity,
    decline: f64,
    states: impl IntoIterator<Item = (f64, f64)>,
    period_h: f64,
) -> (f64, usize) {
    let mut mould = MouldIndex::default();
    let mut worst = (0.0, 0);
    for (k, (t, humidity)) in states.into_iter().enumerate() {
        mould.advance(class, decline, t, 100.0 * humidity, period_h);
        if mould.index > worst.0 {
            worst = (mould.index, k);
        }
    }
    worst
}

/// Most times [`settled`] goes through the states.
const MOST_ROUNDS: usize = 20;

/// Returns the largest index of a year that comes again and again, the period it is reached in, and the index at the
/// year's end: growth that a summer does not undo is carried into the next year, from `start` on, until a year
/// repeats the one before.
pub fn settled(
    class: Sensitivity,
    decline: f64,
    states: &[(f64, f64)],
    period_h: f64,
    start: f64,
) -> (f64, usize, f64) {
    let mut mould = MouldIndex { index: start, unfavourable_h: 0.0 };
    let mut found = (0.0, 0);
    for _ in 0..MOST_ROUNDS {
        let before = mould.index;
        found = through(&mut mould, class, decline, states, period_h);
        if (mould.index - before).abs() < 0.005 {
            break;
        }
    }
    (found.0, found.1, mould.index)
}

/// Returns the largest index of one pass through states from an index on, and the period it is reached in.
pub fn once_from(
    class: Sensitivity,
    decline: f64,
    states: &[(f64, f64)],
    period_h: f64,
    start: f64,
) -> (f64, usize) {
    through(&mut MouldIndex { index: start, unfavourable_h: 0.0 }, class, decline, states, period_h)
}

fn through(
    mould: &mut MouldIndex,
    class: Sensitivity,
    decline: f64,
    states: &[(f64, f64)],
    period_h: f64,
) -> (f64, usize) {
    let mut worst = (mould.index, 0);
    for (k, &(t, humidity)) in states.iter().enumerate() {
        mould.advance(class, decline, t, 100.0 * humidity, period_h);
        if mould.index > worst.0 {
            worst = (mould.index, k);
        }
    }
    worst
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn decline_follows_its_hours() {
        let mut m = MouldIndex { index: 2.0, unfavourable_h: 0.0 };
        let mut after = Vec::new();
        for h in 1..=240 {
            m.advance(Sensitivity::Very, 1.0, 20.0, 40.0, 1.0);
            if [3, 6, 12, 24, 48, 240].contains(&h) {
                after.push(m.index);
            }
        }
        for (got, want) in after.iter().zip([1.996, 1.992, 1.992, 1.992, 1.976, 1.848]) {
            assert!((got - want).abs() < 5e-4, "{after:?}");
        }
    }

    #[test]
    fn pine_grows_as_published_coefficients_have_it() {
        let (m, hour) = worst(Sensitivity::Very, 1.0, vec![(20.0, 0.95); 28 * 24], 1.0);
        assert!((m - 3.033).abs() < 0.01 && hour == 28 * 24 - 1, "{m}");
        assert_eq!(worst(Sensitivity::Very, 1.0, vec![(20.0, 0.7); 100], 1.0).0, 0.0);
        assert_eq!(growth_per_hour(Sensitivity::Very, 0.0, -5.0, 99.0), None);
    }

    #[test]
    fn a_damp_season_each_year_adds_up_until_it_repeats() {
        let year: Vec<(f64, f64)> =
            (0..8_760).map(|h| if h < 1_500 { (18.0, 0.93) } else { (20.0, 0.5) }).collect();
        let (first, _) = once_from(Sensitivity::Sensitive, DEFAULT_DECLINE, &year, 1.0, 0.0);
        let (peak, _, end) = settled(Sensitivity::Sensitive, DEFAULT_DECLINE, &year, 1.0, 0.0);
        assert!(peak > first && end < peak, "{first} {peak} {end}");
        let (again, _) = once_from(Sensitivity::Sensitive, DEFAULT_DECLINE, &year, 1.0, end);
        assert!((again - peak).abs() < 0.01);
    }

    proptest! {
        #[test]
        fn the_index_stays_between_nothing_and_six(t in -20.0_f64..60.0, h in 0.0_f64..1.0, hours in 1_usize..2_000) {
            let (m, _) = worst(Sensitivity::Very, 1.0, vec![(t, h); hours], 1.0);
            prop_assert!((0.0..=6.01).contains(&m));
        }
    }
}
