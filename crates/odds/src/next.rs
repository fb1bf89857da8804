//! What a step is worth before it is taken: the expected drop in the loss of going on or holding.
//!
//! Today the better of *go* and *hold* is chosen by today's chance. After a reading it would be chosen by the chance the
//! reading leaves. The expected drop in loss between the two is the worth of the reading ([`numeric::worth`]), found
//! from samples already made by giving each its simulated reading: no year is run again.

use numeric::counter::Stream;
use numeric::weighted::Weights;
use numeric::worth;

use crate::OddsError;
use crate::judgement;

/// Losses of the two wrong choices, in one unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loss {
    /// Going on and missing.
    pub wrong_go: f64,
    /// Holding when it would have met.
    pub wrong_hold: f64,
}

impl Default for Loss {
    fn default() -> Self {
        let loss = &judgement::table().loss;
        Self { wrong_go: loss.wrong_go, wrong_hold: loss.wrong_hold }
    }
}

impl Loss {
    /// Chance of meeting from which going on is the better choice.
    pub fn go_from(self) -> f64 {
        self.wrong_go / (self.wrong_go + self.wrong_hold)
    }

    /// Benefit of going on over holding in each sample: what holding would cost where it meets, less what going on
    /// costs where it misses.
    pub fn net_of_going(self, margin: &[f64]) -> Vec<f64> {
        margin.iter().map(|m| if *m < 0.0 { -self.wrong_go } else { self.wrong_hold }).collect()
    }
}

/// A step that could be taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Stable id.
    pub id: String,
    /// What it would read, sample by sample, without its error.
    pub reads: Vec<f64>,
    /// Standard error of the reading, in the unit of `reads`.
    pub sd: f64,
    /// Hours of one person.
    pub hours: f64,
    /// Outlay, money.
    pub outlay: f64,
}

/// A step with its worth.
#[derive(Clone, Debug, PartialEq)]
pub struct Valued {
    /// Place in the list of steps.
    pub step: usize,
    /// Expected drop in loss over all limits.
    pub worth: f64,
    /// The same an hour, outlay turned into hours at the rate given.
    pub worth_an_hour: f64,
    /// Limit it helps most: place in the list of margins.
    pub limit: usize,
    /// Worth of knowing all about that limit.
    pub most: f64,
}

/// Smallest worth that is told, in units of the loss of a wrong hold: below it is noise of the samples.
pub const LEAST: f64 = 0.01;

/// Values steps for the go/hold choice of each limit, best an hour first; steps worth nothing are left out.
///
/// `margins[l]` is the column of limit `l`; `rate` turns outlay into hours (money an hour).
///
/// # Errors
/// [`OddsError::Numeric`] for lengths that differ or too few samples.
pub fn value(
    steps: &[Step],
    margins: &[&[f64]],
    weights: &Weights,
    loss: Loss,
    rate: f64,
    seed: u64,
) -> Result<Vec<Valued>, OddsError> {
    let nets: Vec<Vec<f64>> = margins.iter().map(|m| loss.net_of_going(m)).collect();
    let mut valued = Vec::new();
    for (at, step) in steps.iter().enumerate() {
        let noise = Stream::new(seed, &format!("step:{}", step.id));
        let reading: Vec<f64> =
            step.reads.iter().enumerate().map(|(i, x)| x + step.sd * noise.normal(i as u64)).collect();
        let (mut sum, mut best) = (0.0, (0, 0.0, 0.0));
        for (limit, net) in nets.iter().enumerate() {
            let w = worth::go_or_hold(net, &reading, weights)?;
            let of = w.of_reading();
            // The estimate picks the best of several class counts: what that alone may gain is not told.
            if of < LEAST * loss.wrong_hold {
                continue;
            }
            sum += of;
            if of > best.1 {
                best = (limit, of, w.of_truth());
            }
        }
        if sum > 0.0 {
            let hours = step.hours + if rate > 0.0 { step.outlay / rate } else { 0.0 };
            let worth_an_hour = if hours > 0.0 { sum / hours } else { sum };
            valued.push(Valued { step: at, worth: sum, worth_an_hour, limit: best.0, most: best.2 });
        }
    }
    valued.sort_by(|a, b| b.worth_an_hour.total_cmp(&a.worth_an_hour).then(a.step.cmp(&b.step)));
    Ok(valued)
}

#[cfg(test)]
mod tests {
    use super::*;
    use numeric::normal;

    /// Margin m + s·z, reading z with error: the worth by two integrals, written out.
    fn exact(m: f64, s: f64, error: f64, loss: Loss) -> f64 {
        let expected = |mean: f64, sd: f64| {
            let meets = normal::cdf(mean / sd);
            loss.wrong_hold * meets - loss.wrong_go * (1.0 - meets)
        };
        let now = expected(m, s).max(0.0);
        let kept = 1.0 / (1.0 + error * error);
        let (mut sum, n) = (0.0, 20_000);
        for i in 0..n {
            // The reading's own score; belief after it.
            let z = normal::quantile((f64::from(i) + 0.5) / f64::from(n));
            let mean = m + s * kept.sqrt() * z;
            sum += expected(mean, s * (1.0 - kept).sqrt()).max(0.0);
        }
        sum / f64::from(n) - now
    }

    #[test]
    fn worth_is_that_of_nested_simulation() {
        let n = 8192;
        let stream = numeric::sobol::Stream::new(4);
        let z: Vec<f64> = (0..n).map(|i| normal::quantile(stream.at(i, 0))).collect();
        let w = Weights::equal(n as usize).expect("weights");
        let loss = Loss { wrong_go: 10.0, wrong_hold: 1.0 };
        for (m, error) in [(1.0, 0.3), (1.5, 0.5), (1.0, 1.0)] {
            let margin: Vec<f64> = z.iter().map(|z| m + z).collect();
            let step = Step { id: "a".to_owned(), reads: z.clone(), sd: error, hours: 2.0, outlay: 0.0 };
            let found = value(&[step], &[&margin], &w, loss, 50.0, 3).expect("valued");
            let exact = exact(m, 1.0, error, loss);
            assert!((found[0].worth / exact - 1.0).abs() < 0.15, "{m} {error}: {} {exact}", found[0].worth);
            assert!((found[0].worth_an_hour * 2.0 - found[0].worth).abs() < 1e-12);
        }
    }

    #[test]
    fn a_reading_about_nothing_is_worth_nothing() {
        let n = 2048;
        let stream = numeric::sobol::Stream::new(4);
        let column = |d: u32| -> Vec<f64> { (0..n).map(|i| normal::quantile(stream.at(i, d))).collect() };
        let margin: Vec<f64> = column(0).iter().map(|z| 1.0 + z).collect();
        let step = Step { id: "b".to_owned(), reads: column(1), sd: 0.1, hours: 1.0, outlay: 0.0 };
        let w = Weights::equal(n as usize).expect("weights");
        assert!(value(&[step], &[&margin], &w, Loss::default(), 50.0, 3).expect("valued").is_empty());
        assert!((Loss::default().go_from() - 10.0 / 11.0).abs() < 1e-12);
    }
}
