//! Numbers that are this tool's own judgement, in one table: `data/judgement.toml`.

use std::sync::OnceLock;

use serde::Deserialize;

/// How far a result may lie from the truth, as a relative standard deviation.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct Discrepancy {
    /// Result, in the limit sets' words.
    pub result: String,
    /// Between this calculation and the certifying body's.
    pub paper: f64,
    /// Between the model and the building.
    pub in_use: f64,
    /// Why.
    pub source: String,
}

/// What a stage still to come does to the leak.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct StageAhead {
    /// Stage.
    pub stage: String,
    /// Median factor.
    pub factor: f64,
    /// ×/÷, 95 % inside.
    pub spread: f64,
    /// Why.
    pub source: String,
}

/// Errors of readings.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct Readings {
    /// What rounds of sealing between two readings may have done, ×/÷.
    pub leak_between: f64,
    /// Why.
    pub leak_between_source: String,
    /// Standard error of a single reading, as a share.
    pub single_share: f64,
    /// Why.
    pub single_share_source: String,
    /// Standard error that readings of one fan share.
    pub fan_share: f64,
    /// Why.
    pub fan_share_source: String,
    /// Standard error of the final test beyond its fan.
    pub final_share: f64,
    /// Why.
    pub final_share_source: String,
    /// Of a value's spread before, how much one measured place leaves open for the others.
    pub stands_for: f64,
    /// Why.
    pub stands_for_source: String,
}

/// Spread of a result from year to year, where one weather year is held.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct Weather {
    /// Heating demand.
    pub heating_share: f64,
    /// Cooling demand.
    pub cooling_share: f64,
    /// Loads.
    pub load_share: f64,
    /// Warm and humid hours.
    pub hours_share: f64,
    /// Why.
    pub source: String,
}

/// What a wrong choice costs.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct Loss {
    /// Going on and missing.
    pub wrong_go: f64,
    /// Holding when it would have met.
    pub wrong_hold: f64,
    /// Why.
    pub source: String,
}

/// What a kind of step takes.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct StepKind {
    /// Kind.
    pub kind: String,
    /// Hours of one person.
    pub hours: f64,
    /// Outlay, in the user's money.
    pub outlay: f64,
    /// Why.
    pub source: String,
}

/// The whole table.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct Judgement {
    /// Discrepancies by result.
    pub discrepancy: Vec<Discrepancy>,
    /// Stages ahead.
    pub ahead: Vec<StageAhead>,
    /// Readings.
    pub reading: Readings,
    /// Weather.
    pub weather: Weather,
    /// Loss.
    pub loss: Loss,
    /// Steps.
    pub step: Vec<StepKind>,
}

impl Judgement {
    /// Returns the discrepancy of a result; none for a result that is read, not calculated.
    pub fn discrepancy_of(&self, result: &str) -> Option<&Discrepancy> {
        self.discrepancy.iter().find(|d| d.result == result)
    }

    /// Returns what a kind of step takes.
    pub fn step_of(&self, kind: &str) -> Option<&StepKind> {
        self.step.iter().find(|s| s.kind == kind)
    }
}

/// Returns the table.
///
/// # Panics
/// Never in a tested build: the table is part of the program and a unit test reads it.
pub fn table() -> &'static Judgement {
    static TABLE: OnceLock<Judgement> = OnceLock::new();
    TABLE.get_or_init(|| {
        toml::from_str(include_str!("../data/judgement.toml")).expect("the built-in table is read by a test")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_number_says_why() {
        let t = table();
        assert!(t.discrepancy.iter().all(|d| !d.source.is_empty() && d.paper <= d.in_use));
        assert!(t.ahead.iter().all(|a| !a.source.is_empty() && a.spread >= 1.0 && a.factor > 0.0));
        assert!(t.step.iter().all(|s| !s.source.is_empty() && s.hours > 0.0));
        assert!(t.loss.wrong_go > t.loss.wrong_hold);
        assert!(t.discrepancy_of("air change at 50 Pa").is_none());
        assert!(t.step_of("read the fan").is_some());
    }
}
