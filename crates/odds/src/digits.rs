//! Chances with honest digits.
//!
//! A chance from samples is known only as well as the samples allow. [`Odds`] carries its 90 % interval from the
//! effective number of samples, and its words never say more:
//!
//! | effective samples | what is said |
//! | --- | --- |
//! | 400 and more | whole chances in a hundred |
//! | 100 to 400 | nearest five |
//! | 30 to 100 | about n in 10 |
//! | below 30 | no number |
//!
//! Never 0 or 100 in 100: "fewer than 1", "more than 99".

use numeric::beta;

/// From here on whole chances in a hundred are said.
pub const WHOLE: f64 = 400.0;
/// From here on the nearest five.
pub const FIVES: f64 = 100.0;
/// From here on tenths.
pub const TENTHS: f64 = 30.0;
/// Level of the interval.
pub const LEVEL: f64 = 0.90;

/// A chance with its 90 % interval and the effective number of samples behind it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Odds {
    /// Chance, 0 to 1.
    pub p: f64,
    /// Low end of the interval.
    pub low: f64,
    /// High end.
    pub high: f64,
    /// Effective number of samples.
    pub n_eff: f64,
}

impl Odds {
    /// Makes odds from a share of samples; `None` for a share outside 0 to 1 or no samples.
    ///
    /// The interval is Wilson's for independent samples, which for low-discrepancy points is on the wide side.
    pub fn new(p: f64, n_eff: f64) -> Option<Self> {
        let (low, high) = beta::wilson_interval(p, n_eff, LEVEL).ok()?;
        Some(Self { p, low, high, n_eff })
    }

    /// Returns the chances in a hundred that may be said: 0 stands for fewer than 1, 100 for more than 99; `None` when
    /// no number may be said.
    pub fn in_hundred(&self) -> Option<u8> {
        let step = match self.n_eff {
            n if n >= WHOLE => 1.0,
            n if n >= FIVES => 5.0,
            n if n >= TENTHS => 10.0,
            _ => return None,
        };
        Some((step * (100.0 * self.p / step).round()).clamp(0.0, 100.0) as u8)
    }

    /// Returns the chance in words: `31 chances in 100`, `about 3 in 10`, `fewer than 1 in 100`.
    pub fn words(&self) -> String {
        let Some(n) = self.in_hundred() else {
            return "too few samples fit what is known to say a number".to_owned();
        };
        if self.n_eff >= FIVES {
            return match n {
                0 if self.n_eff >= WHOLE => "fewer than 1 chance in 100".to_owned(),
                100 if self.n_eff >= WHOLE => "more than 99 chances in 100".to_owned(),
                0 => "fewer than 5 chances in 100".to_owned(),
                100 => "more than 95 chances in 100".to_owned(),
                1 => "1 chance in 100".to_owned(),
                n if self.n_eff >= WHOLE => format!("{n} chances in 100"),
                n => format!("about {n} chances in 100"),
            };
        }
        match n {
            0 => "fewer than 1 in 10".to_owned(),
            100 => "more than 9 in 10".to_owned(),
            n => format!("about {} in 10", n / 10),
        }
    }

    /// Returns the chances in a hundred alone, for a column under such a heading: `31`, `about 55`, `over 99`, `under 1`.
    pub fn figure(&self) -> String {
        self.short()
            .replace("more than", "over")
            .replace("fewer than", "under")
            .replace(" in 100", "")
            .replace("too few samples fit what is known to say a number", "too few samples")
    }

    /// Returns the shortest form for a column: `31 in 100`.
    pub fn short(&self) -> String {
        self.words().replace(" chances", "").replace(" chance", "")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn no_more_digits_than_samples_allow() {
        let said = |p: f64, n: f64| Odds::new(p, n).expect("odds").words();
        for (p, n, words) in [
            (0.314, 1000.0, "31 chances in 100"),
            (0.314, 399.0, "about 30 chances in 100"),
            (0.314, 99.0, "about 3 in 10"),
            (0.314, 29.0, "too few samples fit what is known to say a number"),
            (0.0, 10_000.0, "fewer than 1 chance in 100"),
            (0.004, 10_000.0, "fewer than 1 chance in 100"),
            (0.0052, 10_000.0, "1 chance in 100"),
            (1.0, 10_000.0, "more than 99 chances in 100"),
            (0.996, 400.0, "more than 99 chances in 100"),
            (0.99, 200.0, "more than 95 chances in 100"),
            (0.01, 50.0, "fewer than 1 in 10"),
            (1.0, 50.0, "more than 9 in 10"),
        ] {
            assert_eq!(said(p, n), words, "{p} of {n}");
        }
        assert_eq!(Odds::new(1.2, 10.0), None);
        assert_eq!(Odds::new(0.5, 0.0), None);
    }

    proptest! {
        #[test]
        fn never_none_and_never_all(p in 0.0..=1.0f64, n in 1.0..1e5f64) {
            let odds = Odds::new(p, n).expect("odds");
            prop_assert!(odds.low <= p && p <= odds.high);
            let words = odds.words();
            prop_assert!(!words.starts_with("0 ") && !words.starts_with("100 "), "{}", words);
        }
    }
}
