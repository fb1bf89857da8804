//! The leak through the job: from what the book expects and what the fan has read to what the final test will read.
//!
//! In logarithms everything is linear and normal, so the belief is exact. With `x` the leak at the end and `d_k` what
//! happens to it between reading `k` and the next (the last: between the last reading and the end),
//!
//! ```text
//! ln R_k = x − Σ_{j ≥ k} d_j + b_fan + e_k        a reading on the way
//! ln R_F = x + b_fan + e_F                        the final test, still to come
//! ```
//!
//! `b_fan` is shared by all readings of one fan, the final one too when the same fan comes back: an error that both
//! share does not help to foresee a reading, and does no harm either.
//!
//! # Valid for
//! Leaks and readings above zero, changes given as factors. The work ahead is judgement (`data/judgement.toml`).

use numeric::distribution::Z95;
use numeric::{exp, ln, normal};

use crate::OddsError;
use crate::gaussian::Gaussian;

/// What is believed of a factor: its logarithm is normal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Factor {
    /// Median.
    pub median: f64,
    /// ×/÷ this with 95 % inside; 1 is certain.
    pub spread95: f64,
}

impl Factor {
    fn ln_sd(self) -> f64 {
        ln(self.spread95) / Z95
    }

    /// Returns one factor after another.
    #[must_use]
    pub fn then(self, next: Self) -> Self {
        let sd = (self.ln_sd() * self.ln_sd() + next.ln_sd() * next.ln_sd()).sqrt();
        Self { median: self.median * next.median, spread95: exp(Z95 * sd) }
    }
}

/// One reading of the leak.
#[derive(Clone, Debug, PartialEq)]
pub struct LeakReading {
    /// Record.
    pub record: String,
    /// Flow at the reference pressure, m³/h.
    pub flow_m3_h: f64,
    /// Its own standard error, as a share.
    pub share: f64,
    /// Fan, when the record names it.
    pub fan: String,
    /// What the work up to the next reading, or to the end, does to the leak.
    pub then: Factor,
}

/// All that is known of the leak.
#[derive(Clone, Debug, PartialEq)]
pub struct LeakStory {
    /// What the book expects at the end, m³/h at the reference pressure.
    pub expected_m3_h: f64,
    /// ×/÷ of it, 95 % inside.
    pub expected_spread95: f64,
    /// Readings in the order they were taken.
    pub readings: Vec<LeakReading>,
    /// Standard error that all readings of one fan share.
    pub fan_share: f64,
    /// The final test's own standard error.
    pub final_share: f64,
    /// Fan of the final test; empty: another one.
    pub final_fan: String,
}

/// The leak at the end and the final reading, jointly normal in logarithms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeakBelief {
    /// Means of ln leak and ln reading.
    pub mean: [f64; 2],
    /// Standard deviation of ln leak.
    pub sd: f64,
    /// Slope of ln reading over the leak's score, and what is left of it.
    pub reading: [f64; 2],
}

impl LeakStory {
    /// Unknowns: x, then changes, then fans, then the final test's own error.
    fn fans(&self) -> Vec<&str> {
        let mut fans: Vec<&str> = Vec::new();
        for fan in self.readings.iter().map(|r| r.fan.as_str()).chain([self.final_fan.as_str()]) {
            if !fan.is_empty() && !fans.contains(&fan) {
                fans.push(fan);
            }
        }
        fans
    }

    fn start(&self) -> (Gaussian, usize) {
        let k = self.readings.len();
        let fans = self.fans();
        let mut mean = vec![ln(self.expected_m3_h)];
        let mut sd = vec![ln(self.expected_spread95) / Z95];
        for r in &self.readings {
            mean.push(ln(r.then.median));
            sd.push(r.then.ln_sd());
        }
        mean.resize(1 + k + fans.len() + 1, 0.0);
        sd.extend(fans.iter().map(|_| self.fan_share));
        sd.push(self.final_share);
        (Gaussian::independent(&mean, &sd), mean.len())
    }

    /// Weights of ln R_k, and of the final reading for `k` beyond the last.
    fn weights(&self, n: usize, k: usize) -> Vec<f64> {
        let mut w = vec![0.0; n];
        w[0] = 1.0;
        let fan = self.readings.get(k).map_or(self.final_fan.as_str(), |r| r.fan.as_str());
        for later in k..self.readings.len() {
            w[1 + later] = -1.0;
        }
        if let Some(at) = self.fans().iter().position(|f| *f == fan) {
            w[1 + self.readings.len() + at] = 1.0;
        }
        if k >= self.readings.len() {
            w[n - 1] = 1.0;
        }
        w
    }

    fn taken_in(&self) -> Result<(Gaussian, usize), OddsError> {
        let mut seen: Vec<&str> = Vec::new();
        let (mut g, n) = self.start();
        for (k, r) in self.readings.iter().enumerate() {
            if seen.contains(&r.record.as_str()) {
                return Err(OddsError::Twice { record: r.record.clone() });
            }
            seen.push(&r.record);
            if !(r.flow_m3_h > 0.0) {
                return Err(OddsError::Reading { seen: r.flow_m3_h, variance: r.share * r.share });
            }
            // A fan without a name shares nothing, but is no better for that.
            let nameless = if r.fan.is_empty() { self.fan_share * self.fan_share } else { 0.0 };
            g.observe(&self.weights(n, k), ln(r.flow_m3_h), r.share * r.share + nameless)?;
        }
        Ok((g, n))
    }

    /// Returns what is believed now.
    ///
    /// # Errors
    /// [`OddsError::Twice`] for a record named twice; [`OddsError::Reading`] for a flow not above zero.
    pub fn belief(&self) -> Result<LeakBelief, OddsError> {
        let (g, n) = self.taken_in()?;
        let mut leak = vec![0.0; n];
        leak[0] = 1.0;
        let last = self.weights(n, self.readings.len());
        let both: Vec<f64> = leak.iter().zip(&last).map(|(a, b)| a + b).collect();
        let (x, vx) = g.of(&leak);
        let (r, vr) = g.of(&last);
        let vr = vr + if self.final_fan.is_empty() { self.fan_share * self.fan_share } else { 0.0 };
        // Var(x + r) = Var x + Var r + 2 Cov, of the parts that the Gaussian knows.
        let covariance = 0.5 * (g.of(&both).1 - vx - g.of(&last).1);
        let sd = vx.sqrt();
        let slope = if sd > 0.0 { covariance / sd } else { 0.0 };
        Ok(LeakBelief { mean: [x, r], sd, reading: [slope, (vr - slope * slope).max(0.0).sqrt()] })
    }

    /// Returns the reading that a fan must show today, m³/h, so that the final test keeps a limit with the chance
    /// wanted; `then` is the work still to come after today. `None` where no reading above zero would do.
    ///
    /// # Errors
    /// As [`Self::belief`].
    pub fn needed_today(
        &self,
        limit_m3_h: f64,
        chance: f64,
        reading_share: f64,
        then: Factor,
    ) -> Result<Option<f64>, OddsError> {
        let with = |flow: f64| {
            let mut next = self.clone();
            // What has happened since the last reading is as open as between any two.
            let fan = self.readings.last().map_or_else(|| self.final_fan.clone(), |r| r.fan.clone());
            next.readings.push(LeakReading {
                record: "today".to_owned(),
                flow_m3_h: flow,
                share: reading_share,
                fan,
                then,
            });
            next.belief().map(|b| b.chance_of_reading(limit_m3_h))
        };
        let (mut low, mut high) = (limit_m3_h / 20.0, limit_m3_h * 2.0);
        if with(low)? < chance {
            return Ok(None);
        }
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if with(middle)? >= chance { low = middle } else { high = middle }
        }
        Ok(Some(low))
    }
}

impl LeakBelief {
    /// Returns the leak at the end for a score, m³/h.
    pub fn leak_m3_h(&self, score: f64) -> f64 {
        exp(self.mean[0] + self.sd * score)
    }

    /// Returns the final reading for the leak's score and the test's own, m³/h.
    pub fn reading_m3_h(&self, score: f64, test_score: f64) -> f64 {
        exp(self.mean[1] + self.reading[0] * score + self.reading[1] * test_score)
    }

    /// Returns the chance that the final reading keeps a limit.
    pub fn chance_of_reading(&self, limit_m3_h: f64) -> f64 {
        let sd = (self.reading[0] * self.reading[0] + self.reading[1] * self.reading[1]).sqrt();
        let off = ln(limit_m3_h) - self.mean[1];
        if sd > 0.0 { normal::cdf(off / sd) } else { f64::from(u8::from(off >= 0.0)) }
    }

    /// Returns the median of the final reading and what lies ×/÷ about it with 95 % inside.
    pub fn final_reading(&self) -> (f64, f64) {
        let sd = (self.reading[0] * self.reading[0] + self.reading[1] * self.reading[1]).sqrt();
        (exp(self.mean[1]), exp(Z95 * sd))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn story(readings: Vec<LeakReading>) -> LeakStory {
        LeakStory {
            expected_m3_h: 550.0,
            expected_spread95: 2.0,
            readings,
            fan_share: 0.015,
            final_share: 0.015,
            final_fan: "fan A".to_owned(),
        }
    }

    fn reading(record: &str, flow: f64, then: f64) -> LeakReading {
        LeakReading {
            record: record.to_owned(),
            flow_m3_h: flow,
            share: 0.02,
            fan: "fan A".to_owned(),
            then: Factor { median: 1.0, spread95: then },
        }
    }

    #[test]
    fn without_readings_the_book_speaks() {
        let b = story(vec![]).belief().expect("a belief");
        assert!((b.leak_m3_h(0.0) - 550.0).abs() < 1e-9);
        let (median, spread) = b.final_reading();
        assert!((median - 550.0).abs() < 1e-9 && spread > 2.0 && spread < 2.02);
    }

    #[test]
    fn a_reading_narrows_and_a_later_one_replaces() {
        let one = story(vec![reading("a", 906.0, 1.15)]).belief().expect("a belief");
        let two =
            story(vec![reading("a", 906.0, 2.0), reading("b", 601.0, 1.15)]).belief().expect("a belief");
        assert!(one.final_reading().0 > 820.0);
        assert!((two.final_reading().0 - 600.0).abs() < 15.0, "{:?}", two.final_reading());
        assert!(two.sd < 0.1);
        let twice = story(vec![reading("a", 906.0, 2.0), reading("a", 906.0, 2.0)]);
        assert_eq!(twice.belief(), Err(OddsError::Twice { record: "a".to_owned() }));
    }

    #[test]
    fn the_same_fan_foresees_its_own_reading_better() {
        let same = story(vec![reading("a", 600.0, 1.0)]).belief().expect("a belief");
        let other =
            LeakStory { final_fan: "fan B".to_owned(), ..story(vec![reading("a", 600.0, 1.0)]) }.belief();
        assert!(same.final_reading().1 < other.expect("a belief").final_reading().1);
    }

    #[test]
    fn what_is_needed_today_gives_the_chance_wanted() {
        let s = story(vec![reading("a", 640.0, 1.10)]);
        let then = Factor { median: 1.0, spread95: 1.10 };
        let flow = s.needed_today(573.0, 0.9, 0.02, then).expect("works").expect("a reading");
        let mut with = s.clone();
        with.readings.push(LeakReading {
            flow_m3_h: flow,
            then,
            record: "today".to_owned(),
            ..s.readings[0].clone()
        });
        let chance = with.belief().expect("a belief").chance_of_reading(573.0);
        assert!((chance - 0.9).abs() < 1e-6, "{flow}: {chance}");
        assert!(flow < 573.0);
    }
}
