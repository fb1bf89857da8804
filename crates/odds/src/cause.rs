//! Uncertain causes and the random numbers that stand for them.
//!
//! A [`Cause`] is one thing nobody knows: a stated value alone, or all values of a group, which vary together because
//! one crew, one batch or one weather is behind them. Each sample has a standard normal *score* for each cause; what
//! the score means for a value is the value's own distribution ([`value_at`]).
//!
//! The causes that matter most draw from a low-discrepancy stream, every other from a counter stream keyed by seed and
//! id. Once a cause has its stream it keeps it: [`Causes::placed_as`] carries the places of one list over to another,
//! so that two variants of a building are compared on the same random numbers.

use std::collections::BTreeMap;

use building::{StatedValues, ValueKey};
use numeric::distribution::{Distribution, Z95};
use numeric::{counter, exp, ln, normal, sobol};

/// Most causes that draw from the low-discrepancy stream: beyond, its evenness in pairs no longer shows at our sizes.
pub const MOST_PLACED: usize = 192;

/// Samples for each place: at 1 024 samples pairs among the first 64 dimensions are still about even.
pub const POINTS_A_PLACE: usize = 16;

/// Which of the two chances is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Chance {
    /// Accepted declared values; uncertain are readings to come, open choices, disputed rules.
    Paper,
    /// Everything uncertain.
    InUse,
}

/// One thing that nobody knows.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// Id of the value, or `group:` and the group's name, or the name of a cause outside the values.
    pub id: String,
    /// Values that vary with it; none for a cause outside the values.
    pub members: Vec<ValueKey>,
    /// Place in the low-discrepancy stream; `None`: its own counter stream.
    place: Option<u32>,
}

/// All causes of one chance, with the seed of their numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Causes {
    seed: u64,
    list: Vec<Cause>,
    index: BTreeMap<String, usize>,
    of_value: BTreeMap<ValueKey, usize>,
}

impl Causes {
    /// Lists the causes behind the values that enter a chance. Values without spread are none.
    pub fn of(values: &StatedValues, chance: Chance, seed: u64) -> Self {
        let mut causes = Self { seed, list: Vec::new(), index: BTreeMap::new(), of_value: BTreeMap::new() };
        for (key, stated) in values.iter() {
            let enters = match chance {
                Chance::Paper => stated.enters.paper,
                Chance::InUse => stated.enters.in_use,
            };
            if enters && stated.distribution.sd() > 0.0 {
                let id = stated.group.as_ref().map_or_else(|| stated.id.clone(), |g| format!("group:{g}"));
                let cause = causes.add(&id);
                causes.list[cause].members.push(key);
                causes.of_value.insert(key, cause);
            }
        }
        causes
    }

    /// Adds a cause outside the values, such as the error of a reading to come; returns its number.
    pub fn add(&mut self, id: &str) -> usize {
        if let Some(known) = self.index.get(id) {
            return *known;
        }
        let number = self.list.len();
        self.list.push(Cause { id: id.to_owned(), members: Vec::new(), place: None });
        self.index.insert(id.to_owned(), number);
        number
    }

    /// Gives the low-discrepancy stream to the most important causes, most important first; of equals the first. A cause
    /// of no importance keeps its counter stream.
    ///
    /// `samples` is how many will be drawn: few points fill few dimensions evenly, so that only one place is given for
    /// each [`POINTS_A_PLACE`] of them.
    pub fn place_by(&mut self, samples: usize, importance: impl Fn(&Cause) -> f64) {
        let most = (samples / POINTS_A_PLACE).clamp(8, MOST_PLACED);
        let mut order: Vec<(f64, usize)> =
            self.list.iter().enumerate().map(|(i, c)| (importance(c), i)).collect();
        order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        self.list.iter_mut().for_each(|c| c.place = None);
        for (place, (_, cause)) in order.iter().filter(|o| o.0 > 0.0).take(most).enumerate() {
            self.list[*cause].place = Some(place as u32);
        }
    }

    /// Takes over the places of another list: what both have keeps its numbers, what is new draws from its own counter
    /// stream.
    #[must_use]
    pub fn placed_as(mut self, other: &Self) -> Self {
        self.seed = other.seed;
        for cause in &mut self.list {
            cause.place = other.index.get(&cause.id).and_then(|i| other.list[*i].place);
        }
        self
    }

    /// The causes, in the order they were found.
    pub fn list(&self) -> &[Cause] {
        &self.list
    }

    /// Returns how many there are.
    pub fn len(&self) -> usize {
        self.list.len()
    }

    /// Says whether nothing is uncertain.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// Returns the number of a cause.
    pub fn find(&self, id: &str) -> Option<usize> {
        self.index.get(id).copied()
    }

    /// Returns the cause that a value varies with.
    pub fn of_value(&self, key: ValueKey) -> Option<usize> {
        self.of_value.get(&key).copied()
    }

    /// Returns the uniform number of a cause in a sample, inside (0, 1).
    pub fn uniform(&self, cause: usize, sample: u64) -> f64 {
        let of = &self.list[cause];
        match of.place {
            Some(place) => sobol::Stream::new(self.seed).at(sample, place),
            None => counter::Stream::new(self.seed, &of.id).uniform(sample),
        }
    }

    /// Returns the standard normal score of a cause in a sample, before any evidence.
    pub fn score(&self, cause: usize, sample: u64) -> f64 {
        normal::quantile(self.uniform(cause, sample))
    }
}

/// Returns the value that a distribution has at a standard normal score.
pub fn value_at(distribution: &Distribution, score: f64) -> f64 {
    match distribution {
        Distribution::Point { value } => *value,
        Distribution::Normal { mean, sd } => mean + sd * score,
        Distribution::LogNormal { median, factor95 } => median * exp(ln(*factor95) / Z95 * score),
        // A score is never so far out that its probability is 0 or 1, but rounding could be.
        other => other.quantile(normal::cdf(score).clamp(1e-16, 1.0 - 1e-16)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use building::stated::{Basis, Enters, Source, Statement};
    use quantity::{Dimension, Spread};

    fn values(ids: &[(&str, Option<&str>, Enters)]) -> StatedValues {
        let mut values = StatedValues::new();
        for (id, group, enters) in ids {
            let statement = Statement {
                id: (*id).to_owned(),
                value: 1.0,
                spread: Some(Spread::HalfWidth95(0.2)),
                kind: "conductivity",
                dimension: Dimension::Conductivity,
                basis: Basis::Drawn,
                rating: None,
                source: Source::Default("test".to_owned()),
                group: group.map(str::to_owned),
                enters: *enters,
            };
            values.state(statement).expect("states");
        }
        values
    }

    #[test]
    fn a_group_is_one_cause_and_each_chance_has_its_own() {
        let v = values(&[
            ("a", Some("crew"), Enters::IN_USE),
            ("b", Some("crew"), Enters::IN_USE),
            ("c", None, Enters::BOTH),
            ("d", None, Enters::NEITHER),
        ]);
        let used = Causes::of(&v, Chance::InUse, 1);
        assert_eq!(used.list().iter().map(|c| c.id.as_str()).collect::<Vec<_>>(), ["group:crew", "c"]);
        assert_eq!(used.list()[0].members.len(), 2);
        assert_eq!(Causes::of(&v, Chance::Paper, 1).len(), 1);
    }

    #[test]
    fn a_new_value_changes_no_other_stream() {
        let few = values(&[("a", None, Enters::BOTH), ("b", None, Enters::BOTH)]);
        let more =
            values(&[("new", None, Enters::BOTH), ("a", None, Enters::BOTH), ("b", None, Enters::BOTH)]);
        let mut before = Causes::of(&few, Chance::InUse, 9);
        // By counter streams alone nothing need be carried over.
        let after = Causes::of(&more, Chance::InUse, 9);
        let of = |c: &Causes, id: &str| c.uniform(c.find(id).expect("there"), 77);
        assert_eq!(of(&before, "a"), of(&after, "a"));
        before.place_by(1024, |_| 1.0);
        let after = after.placed_as(&before);
        for id in ["a", "b"] {
            assert_eq!(of(&before, id), of(&after, id), "{id}");
        }
        assert_ne!(of(&after, "new"), of(&after, "a"));
    }

    #[test]
    fn placed_causes_fill_every_slice_once() {
        let mut causes = Causes::of(&values(&[("a", None, Enters::BOTH)]), Chance::InUse, 3);
        causes.place_by(1024, |_| 1.0);
        let mut seen = [0; 64];
        (0..64).for_each(|i| seen[(causes.uniform(0, i) * 64.0) as usize] += 1);
        assert_eq!(seen, [1; 64]);
    }

    #[test]
    fn scores_mean_what_the_distribution_says() {
        let log = Distribution::LogNormal { median: 2.0, factor95: 1.5 };
        assert!((value_at(&log, Z95) - 3.0).abs() < 1e-12);
        let flat = Distribution::Uniform { low: 1.0, high: 3.0 };
        assert!((value_at(&flat, 0.0) - 2.0).abs() < 1e-12);
    }
}
