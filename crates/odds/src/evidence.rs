//! Evidence on inputs: what was read on site about the numbers of the model, absorbed before any year is run.
//!
//! A [`Reading`] says what was seen, how the seen thing follows from stated values ([`Forward`]), and how far the
//! reading may be off. Readings that share a cause or an instrument are absorbed together, block by block:
//!
//! * values that are normal, or lognormal and read by their logarithm: exactly ([`crate::gaussian`]);
//! * one value that takes only a few numbers, or is of any other shape: exactly, on a grid of its quantiles;
//! * anything else: tempered sequential Monte Carlo ([`crate::smc`]) with at least 10⁵ evaluations.
//!
//! A record never edits a prior; it is taken in once, and a second time is an error. Start at [`Belief::absorb`].

use std::collections::{BTreeMap, BTreeSet};

use building::{StatedValues, ValueKey};
use numeric::distribution::{Distribution, Z95};
use numeric::weighted::Weights;
use numeric::{ln, normal};

use crate::cause::{Causes, value_at};
use crate::gaussian::Gaussian;
use crate::{OddsError, smc};

/// How what is seen follows from the values.
pub enum Forward {
    /// The value itself, with an error in its own unit.
    Value(ValueKey),
    /// The logarithm of the value, with an error as a share.
    LogValue(ValueKey),
    /// A weighted sum of values.
    Sum(Vec<(ValueKey, f64)>),
    /// Anything else of some values: called with a look-up of their numbers.
    Function(Vec<ValueKey>, Rule),
}

/// A forward model of a few values.
pub type Rule = Box<dyn Fn(&dyn Fn(ValueKey) -> f64) -> f64 + Send + Sync>;

impl Forward {
    fn keys(&self) -> Vec<ValueKey> {
        match self {
            Self::Value(k) | Self::LogValue(k) => vec![*k],
            Self::Sum(terms) => terms.iter().map(|t| t.0).collect(),
            Self::Function(keys, _) => keys.clone(),
        }
    }
}

/// One reading.
pub struct Reading {
    /// Record it comes from.
    pub record: String,
    /// What it is of.
    pub of: Forward,
    /// What was seen; for [`Forward::LogValue`] the value, not its logarithm.
    pub seen: f64,
    /// Standard error of this reading alone: instrument, repetition, and how well the measured places stand for the
    /// whole. In the unit of what is seen; for [`Forward::LogValue`] a share.
    pub sd: f64,
    /// Instrument and the standard error that all its readings share, in the same measure.
    pub shared: Option<(String, f64)>,
}

/// What is known after the evidence.
#[derive(Clone, Debug, Default)]
pub struct Belief {
    blocks: Vec<Block>,
    /// Block and place in it, by cause.
    place: BTreeMap<usize, (usize, usize)>,
    records: BTreeSet<String>,
    /// What each block learned from, in words of its method.
    log: Vec<Absorbed>,
}

/// What a block of evidence was.
#[derive(Clone, Debug, PartialEq)]
pub struct Absorbed {
    /// Causes it spoke of.
    pub causes: Vec<usize>,
    /// Records in it.
    pub records: Vec<String>,
    /// How it was absorbed.
    pub method: Method,
}

/// How a block was absorbed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Method {
    /// Linear and normal: exactly.
    Exact,
    /// One cause, on a grid of its quantiles.
    Grid,
    /// Tempered sequential Monte Carlo, with the evaluations it took.
    Cloud {
        /// Evaluations of the likelihood.
        evaluations: usize,
    },
}

#[derive(Clone, Debug)]
enum Block {
    /// Scores are `mean + lower · z`.
    Normal { mean: Vec<f64>, lower: Vec<f64>, n: usize },
    /// Score of one cause by the quantile of its posterior.
    Grid { scores: Vec<f64> },
    /// Scores of all causes of the block, point by point, sorted by the first.
    Cloud { points: Vec<Vec<f64>> },
}

/// Cells of a grid: the score is then known to a thousandth in the middle.
const CELLS: usize = 4096;

impl Belief {
    /// Absorbs all readings at once.
    ///
    /// # Errors
    /// [`OddsError::Twice`] when two readings name one record; [`OddsError::NothingToLearn`] for a reading of values
    /// that are certain; [`OddsError::NoFit`] when nothing fits.
    pub fn absorb(
        values: &StatedValues,
        causes: &Causes,
        readings: &[Reading],
        seed: u64,
    ) -> Result<Self, OddsError> {
        Self::absorb_with(values, causes, readings, smc::Settings::cheap(seed))
    }

    /// As [`Self::absorb`], with settings for what needs a cloud.
    ///
    /// # Errors
    /// As [`Self::absorb`].
    pub fn absorb_with(
        values: &StatedValues,
        causes: &Causes,
        readings: &[Reading],
        settings: smc::Settings,
    ) -> Result<Self, OddsError> {
        let mut belief = Self::default();
        for reading in readings {
            if !belief.records.insert(reading.record.clone()) {
                return Err(OddsError::Twice { record: reading.record.clone() });
            }
            if !(reading.seen.is_finite() && reading.sd > 0.0) {
                return Err(OddsError::Reading { seen: reading.seen, variance: reading.sd * reading.sd });
            }
        }
        for group in connected(causes, readings)? {
            belief.block(values, causes, &group, readings, settings)?;
        }
        Ok(belief)
    }

    /// Records taken in.
    pub fn records(&self) -> impl Iterator<Item = &str> {
        self.records.iter().map(String::as_str)
    }

    /// What each block was.
    pub fn log(&self) -> &[Absorbed] {
        &self.log
    }

    /// Says whether evidence has spoken of a cause.
    pub fn speaks_of(&self, cause: usize) -> bool {
        self.place.contains_key(&cause)
    }

    /// Returns the scores of all causes in a sample, evidence taken in.
    pub fn scores(&self, causes: &Causes, sample: u64) -> Vec<f64> {
        let mut scores: Vec<f64> = (0..causes.len()).map(|c| causes.score(c, sample)).collect();
        for (block, absorbed) in self.blocks.iter().zip(&self.log) {
            let own: Vec<f64> = absorbed.causes.iter().map(|c| scores[*c]).collect();
            for (at, cause) in absorbed.causes.iter().enumerate() {
                scores[*cause] = block.score(at, &own);
            }
        }
        scores
    }

    fn block(
        &mut self,
        values: &StatedValues,
        causes: &Causes,
        group: &Group,
        readings: &[Reading],
        settings: smc::Settings,
    ) -> Result<(), OddsError> {
        let own: Vec<&Reading> = group.readings.iter().map(|r| &readings[*r]).collect();
        let (block, method) = match linear(values, causes, group, &own)? {
            Some(block) => (block, Method::Exact),
            None if group.causes.len() == 1 && group.instruments.is_empty() => {
                (grid(values, causes, group, &own)?, Method::Grid)
            }
            None => cloud(values, causes, group, &own, settings)?,
        };
        for (at, cause) in group.causes.iter().enumerate() {
            self.place.insert(*cause, (self.blocks.len(), at));
        }
        self.blocks.push(block);
        self.log.push(Absorbed {
            causes: group.causes.clone(),
            records: own.iter().map(|r| r.record.clone()).collect(),
            method,
        });
        Ok(())
    }
}

impl Block {
    /// Posterior score of the cause at a place from the prior scores of the block's causes.
    fn score(&self, at: usize, prior: &[f64]) -> f64 {
        match self {
            Self::Normal { mean, lower, n } => {
                mean[at] + (0..=at).map(|k| lower[at * n + k] * prior[k]).sum::<f64>()
            }
            Self::Grid { scores } => {
                let at = normal::cdf(prior[0]) * (scores.len() - 1) as f64;
                let low = (at as usize).min(scores.len() - 2);
                scores[low] + (at - low as f64) * (scores[low + 1] - scores[low])
            }
            Self::Cloud { points } => {
                // One number picks the whole point, so that what hangs together stays together.
                let pick = (normal::cdf(prior[0]) * points.len() as f64) as usize;
                points[pick.min(points.len() - 1)][at]
            }
        }
    }
}

/// Readings that hang together.
struct Group {
    causes: Vec<usize>,
    instruments: Vec<String>,
    readings: Vec<usize>,
}

/// Sorts readings into groups that share neither cause nor instrument.
fn connected(causes: &Causes, readings: &[Reading]) -> Result<Vec<Group>, OddsError> {
    let mut groups: Vec<Group> = Vec::new();
    for (at, reading) in readings.iter().enumerate() {
        let mut of: Vec<usize> = reading.of.keys().iter().filter_map(|k| causes.of_value(*k)).collect();
        of.sort_unstable();
        of.dedup();
        if of.is_empty() {
            return Err(OddsError::NothingToLearn { what: format!("record {}", reading.record) });
        }
        let mut group = Group {
            causes: of,
            instruments: reading.shared.iter().map(|s| s.0.clone()).collect(),
            readings: vec![at],
        };
        let touches = |g: &Group, h: &Group| {
            g.causes.iter().any(|c| h.causes.contains(c))
                || g.instruments.iter().any(|i| h.instruments.contains(i))
        };
        let (joined, apart): (Vec<Group>, Vec<Group>) = groups.into_iter().partition(|g| touches(g, &group));
        for g in joined {
            group.causes.extend(g.causes);
            group.instruments.extend(g.instruments);
            group.readings.extend(g.readings);
        }
        group.causes.sort_unstable();
        group.causes.dedup();
        group.instruments.sort();
        group.instruments.dedup();
        group.readings.sort_unstable();
        groups = apart;
        groups.push(group);
    }
    groups.sort_by_key(|g| g.readings[0]);
    Ok(groups)
}

/// `value = offset + slope · score` where that is exact; of a lognormal value its logarithm.
fn straight(distribution: &Distribution, logarithm: bool) -> Option<(f64, f64)> {
    match (distribution, logarithm) {
        (Distribution::Normal { mean, sd }, false) => Some((*mean, *sd)),
        (Distribution::LogNormal { median, factor95 }, true) => Some((ln(*median), ln(*factor95) / Z95)),
        (Distribution::Point { value }, false) => Some((*value, 0.0)),
        (Distribution::Point { value }, true) if *value > 0.0 => Some((ln(*value), 0.0)),
        _ => None,
    }
}

/// The exact block, where every reading is linear in normal scores.
fn linear(
    values: &StatedValues,
    causes: &Causes,
    group: &Group,
    readings: &[&Reading],
) -> Result<Option<Block>, OddsError> {
    let n = group.causes.len();
    let all = n + group.instruments.len();
    let mut g = Gaussian::independent(&vec![0.0; all], &vec![1.0; all]);
    for reading in readings {
        let logarithm = matches!(reading.of, Forward::LogValue(_));
        let terms = match &reading.of {
            Forward::Value(k) | Forward::LogValue(k) => vec![(*k, 1.0)],
            Forward::Sum(terms) => terms.clone(),
            Forward::Function(..) => return Ok(None),
        };
        let (mut offset, mut weights) = (0.0, vec![0.0; all]);
        for (key, factor) in terms {
            let Some((start, slope)) = straight(&values.get(key).distribution, logarithm) else {
                return Ok(None);
            };
            offset += factor * start;
            if let Some(cause) = causes.of_value(key)
                && let Ok(at) = group.causes.binary_search(&cause)
            {
                weights[at] += factor * slope;
            }
        }
        if let Some((instrument, shared)) = &reading.shared
            && let Ok(at) = group.instruments.binary_search(instrument)
        {
            weights[n + at] += shared;
        }
        let seen = if logarithm { ln(reading.seen) } else { reading.seen };
        g.observe(&weights, seen - offset, reading.sd * reading.sd)?;
    }
    let lower = g.factor();
    let cut = |i: usize, j: usize| lower[i * all + j];
    Ok(Some(Block::Normal {
        mean: g.mean()[..n].to_vec(),
        lower: (0..n * n).map(|k| cut(k / n, k % n)).collect(),
        n,
    }))
}

/// Logarithm of the likelihood of readings at scores: those of the causes, then those of the instruments.
fn ln_likelihood(
    values: &StatedValues,
    causes: &Causes,
    group: &Group,
    readings: &[&Reading],
    scores: &[f64],
) -> f64 {
    let number = |key: ValueKey| {
        let stated = values.get(key);
        match causes.of_value(key).and_then(|c| group.causes.binary_search(&c).ok()) {
            Some(at) => value_at(&stated.distribution, scores[at]),
            None => stated.value,
        }
    };
    let mut sum = 0.0;
    for reading in readings {
        let (model, seen) = match &reading.of {
            Forward::Value(k) => (number(*k), reading.seen),
            Forward::LogValue(k) => (ln(number(*k)), ln(reading.seen)),
            Forward::Sum(terms) => (terms.iter().map(|(k, f)| f * number(*k)).sum(), reading.seen),
            Forward::Function(_, rule) => (rule(&number), reading.seen),
        };
        let shared = reading.shared.as_ref().map_or(0.0, |(instrument, sd)| {
            let at = group.instruments.binary_search(instrument);
            at.map_or(0.0, |at| sd * scores[group.causes.len() + at])
        });
        let z = (seen - model - shared) / reading.sd;
        sum -= 0.5 * z * z;
    }
    sum
}

/// One cause of any shape: weights on cells of equal prior probability, turned into a table of its quantiles.
fn grid(
    values: &StatedValues,
    causes: &Causes,
    group: &Group,
    readings: &[&Reading],
) -> Result<Block, OddsError> {
    let cell = |i: usize| normal::quantile((i as f64 + 0.5) / CELLS as f64);
    let logs: Vec<f64> =
        (0..CELLS).map(|i| ln_likelihood(values, causes, group, readings, &[cell(i)])).collect();
    let weights = Weights::from_logs(&logs).map_err(|_| OddsError::NoFit { powers: 0 })?;
    let mut scores = Vec::with_capacity(CELLS + 1);
    let (mut at, mut below) = (0, 0.0);
    let w = weights.as_slice();
    for k in 0..=CELLS {
        let target = k as f64 / CELLS as f64;
        while at + 1 < CELLS && below + w[at] < target {
            below += w[at];
            at += 1;
        }
        // Inside a cell the weight lies evenly over its prior probability.
        let inside = if w[at] > 0.0 { ((target - below) / w[at]).clamp(0.0, 1.0) } else { 0.5 };
        let p = (at as f64 + inside) / CELLS as f64;
        scores.push(normal::quantile(p.clamp(1e-9, 1.0 - 1e-9)));
    }
    Ok(Block::Grid { scores })
}

fn cloud(
    values: &StatedValues,
    causes: &Causes,
    group: &Group,
    readings: &[&Reading],
    settings: smc::Settings,
) -> Result<(Block, Method), OddsError> {
    let n = group.causes.len();
    let of = |scores: &[f64]| ln_likelihood(values, causes, group, readings, scores);
    let found = smc::run(n + group.instruments.len(), settings, of)?;
    let mut points: Vec<Vec<f64>> = found.points.into_iter().map(|p| p[..n].to_vec()).collect();
    points.sort_by(|a, b| {
        a.iter().zip(b).map(|(x, y)| x.total_cmp(y)).find(|o| o.is_ne()).unwrap_or(std::cmp::Ordering::Equal)
    });
    Ok((Block::Cloud { points }, Method::Cloud { evaluations: found.evaluations }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cause::Chance;
    use building::stated::{Basis, Enters, Source, Statement};
    use quantity::{Dimension, Spread};

    fn one(spread: Spread) -> (StatedValues, ValueKey, Causes) {
        let mut values = StatedValues::new();
        let statement = Statement {
            id: "a".to_owned(),
            value: 1.0,
            spread: Some(spread),
            kind: "conductivity",
            dimension: Dimension::Conductivity,
            basis: Basis::Drawn,
            rating: None,
            source: Source::Default("test".to_owned()),
            group: None,
            enters: Enters::BOTH,
        };
        let key = values.state(statement).expect("states");
        let causes = Causes::of(&values, Chance::InUse, 1);
        (values, key, causes)
    }

    fn reading(record: &str, of: Forward, seen: f64, sd: f64) -> Reading {
        Reading { record: record.to_owned(), of, seen, sd, shared: None }
    }

    /// Mean and standard deviation of the value over samples.
    fn moments(values: &StatedValues, causes: &Causes, belief: &Belief, key: ValueKey) -> (f64, f64) {
        let x: Vec<f64> =
            (0..4096).map(|i| value_at(&values.get(key).distribution, belief.scores(causes, i)[0])).collect();
        let mean = x.iter().sum::<f64>() / 4096.0;
        (mean, (x.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / 4096.0).sqrt())
    }

    #[test]
    fn three_ways_agree_on_one_normal_value() {
        let (values, key, mut causes) = one(Spread::HalfWidth95(0.4));
        causes.place_by(1024, |_| 1.0);
        let exact = Belief::absorb(&values, &causes, &[reading("r", Forward::Value(key), 1.3, 0.1)], 1);
        let function = Forward::Function(vec![key], Box::new(move |of: &dyn Fn(ValueKey) -> f64| of(key)));
        let grid = Belief::absorb(&values, &causes, &[reading("r", function, 1.3, 0.1)], 1);
        let shared = Reading {
            shared: Some(("gauge".to_owned(), 1e-6)),
            ..reading(
                "r",
                Forward::Function(vec![key], Box::new(move |of: &dyn Fn(ValueKey) -> f64| of(key))),
                1.3,
                0.1,
            )
        };
        let cloud = Belief::absorb(&values, &causes, &[shared], 1);
        let methods: Vec<Method> =
            [&exact, &grid, &cloud].iter().map(|b| b.as_ref().expect("taken in").log()[0].method).collect();
        assert_eq!(methods[..2], [Method::Exact, Method::Grid]);
        assert!(matches!(methods[2], Method::Cloud { evaluations } if evaluations >= 100_000));
        // Precisions 25 and 100: mean 1.24, sd 1/√125.
        for belief in [exact, grid, cloud] {
            let (mean, sd) = moments(&values, &causes, &belief.expect("taken in"), key);
            assert!((mean - 1.24).abs() < 0.004 && (sd - 0.0894).abs() < 0.003, "{mean} {sd}");
        }
    }

    #[test]
    fn a_record_counts_once() {
        let (values, key, causes) = one(Spread::HalfWidth95(0.4));
        let twice =
            [reading("r", Forward::Value(key), 1.3, 0.1), reading("r", Forward::Value(key), 1.3, 0.1)];
        let got = Belief::absorb(&values, &causes, &twice, 1).map(|_| ());
        assert_eq!(got, Err(OddsError::Twice { record: "r".to_owned() }));
    }

    #[test]
    fn a_uniform_value_stays_in_its_range() {
        let (values, key, mut causes) = one(Spread::Range { low: 0.8, high: 1.2 });
        causes.place_by(1024, |_| 1.0);
        let belief = Belief::absorb(&values, &causes, &[reading("r", Forward::Value(key), 1.25, 0.05)], 1)
            .expect("taken in");
        let (mean, _) = moments(&values, &causes, &belief, key);
        assert!(mean > 1.15 && mean < 1.2, "{mean}");
        let certain = StatedValues::new();
        let none = Causes::of(&certain, Chance::InUse, 1);
        let lost =
            Belief::absorb(&certain, &none, &[reading("r", Forward::Sum(vec![]), 1.0, 0.1)], 1).map(|_| ());
        assert!(matches!(lost, Err(OddsError::NothingToLearn { .. })));
    }
}
