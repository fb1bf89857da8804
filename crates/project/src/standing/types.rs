//! The types of a standing, and nothing else.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Name and version of the JSON form; it changes when a key changes its meaning.
pub const SCHEMA: &str = "windtight/status/1";

/// Where a project stands today.
///
/// Findings are ordered as they should be read: limits first, nearest to failing first, then gaps, proof,
/// cautions and stage findings in the order of their stage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Standing {
    /// Always [`SCHEMA`].
    pub schema: String,
    /// Version of the engine that computed the results.
    pub engine: String,
    /// Who and where.
    pub project: ProjectLine,
    /// Today's decision, from the finding that binds first.
    pub headline: Headline,
    /// The job's stages in order.
    pub stages: Vec<Stage>,
    /// Everything that holds, fails, is missing or needs care.
    pub findings: Vec<Finding>,
    /// Named results of the runs behind the findings.
    pub results: BTreeMap<String, Figure>,
    /// What is worth doing next, most useful first; empty when nothing computed speaks for a step.
    pub next: Vec<NextStep>,
    /// How the chances were worked out; absent when only stated values were run.
    #[serde(default)]
    pub chances: Option<ChancesLine>,
    /// What was not checked, in whole sentences.
    pub not_checked: Vec<String>,
    /// Remarks about the run itself: weather used, defaults taken, cache.
    pub notices: Vec<String>,
}

/// The project's own line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ProjectLine {
    /// Name from the book.
    pub name: String,
    /// True when the book says that building and readings are invented.
    pub invented: bool,
    /// Present stage, by its id.
    pub stage: String,
    /// Display system the book asks for: `us` or `si`.
    pub units: String,
    /// Words the book asks for: `us` or `uk`.
    pub words: String,
    /// Name of the weather year.
    pub climate: String,
    /// Names of the limit sets applied.
    pub limits: Vec<String>,
}

/// One sentence for today, and one more for why.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Headline {
    /// The decision to take today.
    pub decision: String,
    /// Why.
    pub because: String,
    /// The finding it comes from; absent when nothing binds.
    pub finding: Option<String>,
}

/// One stage of the job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Stage {
    /// Stable id, such as `barrier`.
    pub id: String,
    /// Name as shown.
    pub name: String,
    /// Past, now or to come.
    pub state: StageState,
    /// Findings that belong to this stage.
    pub findings: usize,
    /// Those of them that are not settled.
    pub open: usize,
    /// Records logged at this stage.
    pub records: usize,
}

/// Where a stage lies against today.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum StageState {
    /// Behind us.
    Past,
    /// The present stage.
    Now,
    /// Still to come.
    ToCome,
}

/// What kind of finding this is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FindingKind {
    /// A limit, judged.
    Limit,
    /// A control layer that does not close, or something the model lacks.
    Gap,
    /// Proof that is missing.
    Proof,
    /// Something that can hurt.
    Caution,
    /// Something due at a stage.
    Stage,
}

/// How a value is held against its threshold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Comparison {
    /// The value may not exceed the threshold.
    #[serde(rename = "at most")]
    AtMost,
    /// The value may not fall short of the threshold.
    #[serde(rename = "at least")]
    AtLeast,
}

/// Verdict on a finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Outcome {
    /// The limit is kept, or the matter is settled.
    #[serde(rename = "met")]
    Met,
    /// The limit is missed, or the matter is open.
    #[serde(rename = "not met")]
    NotMet,
    /// Nothing known decides it yet.
    #[serde(rename = "not known")]
    NotKnown,
}

/// One finding.
///
/// Fields that do not apply to a kind are `None` or empty; none carries a made-up figure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// Stable id, such as `limit.heating-demand`.
    pub id: String,
    /// Kind.
    pub kind: FindingKind,
    /// What it is about, in plain words: "heating demand", "joint upper wall / roof".
    pub subject: String,
    /// Use the value was computed for: `standard` or `real`; empty where it does not matter.
    pub r#use: String,
    /// Counting rule for areas and volume; empty where it does not matter.
    pub rule: String,
    /// Method: `hourly`, `monthly`, `reading`, `stated`; empty where it does not matter.
    pub method: String,
    /// The value, in `unit`.
    pub value: Option<f64>,
    /// Unit of value and threshold, SI.
    pub unit: String,
    /// Dimension of value and threshold for display, as named by the quantity crate; empty without a value.
    pub dimension: String,
    /// The threshold, in `unit`.
    pub threshold: Option<f64>,
    /// How the two are compared.
    pub comparison: Option<Comparison>,
    /// Verdict.
    pub status: Outcome,
    /// Room left as a share of the threshold, positive when met; absent when not known.
    pub margin: Option<f64>,
    /// Chances of meeting the limit on paper: declared values accepted; `None` until they are computed.
    pub odds: Option<Odds>,
    /// Chances of meeting it in use: everything uncertain.
    #[serde(default)]
    pub odds_in_use: Option<Odds>,
    /// What drives the value, largest first.
    pub causes: Vec<Cause>,
    /// What the doubt on paper hangs on, largest share first.
    #[serde(default)]
    pub doubts: Vec<Cause>,
    /// The same in use.
    #[serde(default)]
    pub doubts_in_use: Vec<Cause>,
    /// The same result under other counts, for comparison.
    pub beside: Vec<CountedBeside>,
    /// What was not checked and who decides.
    pub cautions: Vec<String>,
    /// The finding as one or two whole sentences, figures in the book's display units.
    pub sentence: String,
    /// Stage at which it falls due; empty when always.
    pub stage: String,
    /// Group of alternative limits it belongs to (any one of them suffices); empty when it stands alone.
    pub any_of: String,
    /// True for a recommendation: shown, never counted as missed.
    pub advisory: bool,
    /// Where the threshold or demand comes from.
    pub source: String,
    /// Where in the building it sits.
    pub place: Option<Place>,
}

impl Finding {
    /// Starts a finding without figures.
    pub fn new(id: impl Into<String>, kind: FindingKind, subject: impl Into<String>) -> Self {
        Self {
            id: id.into(),
            kind,
            subject: subject.into(),
            r#use: String::new(),
            rule: String::new(),
            method: String::new(),
            value: None,
            unit: String::new(),
            dimension: String::new(),
            threshold: None,
            comparison: None,
            status: Outcome::NotKnown,
            margin: None,
            odds: None,
            odds_in_use: None,
            causes: Vec::new(),
            doubts: Vec::new(),
            doubts_in_use: Vec::new(),
            beside: Vec::new(),
            cautions: Vec::new(),
            sentence: String::new(),
            stage: String::new(),
            any_of: String::new(),
            advisory: false,
            source: String::new(),
            place: None,
        }
    }

    /// Says whether it still asks for something.
    pub fn is_open(&self) -> bool {
        self.status != Outcome::Met && !self.advisory
    }
}

/// Chances of meeting a limit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Odds {
    /// Chance, 0 to 1.
    pub p: f64,
    /// Low end of its 90 % interval.
    pub low: f64,
    /// High end of its 90 % interval.
    pub high: f64,
    /// Effective number of samples behind it.
    pub n_eff: f64,
}

impl Odds {
    fn digits(&self) -> odds::Odds {
        odds::Odds { p: self.p, low: self.low, high: self.high, n_eff: self.n_eff }
    }

    /// Returns the chance in words, with no more digits than its samples allow.
    pub fn words(&self) -> String {
        self.digits().words()
    }

    /// Returns the chances in a hundred alone, for a column under such a heading: `31`, `over 99`.
    pub fn figure(&self) -> String {
        self.digits().figure()
    }

    /// Returns the shortest form: `31 in 100`.
    pub fn short(&self) -> String {
        self.digits().short()
    }

    /// Returns the chances in a hundred that may be said; 0 stands for fewer than 1, 100 for more than 99.
    pub fn in_hundred(&self) -> Option<u8> {
        self.digits().in_hundred()
    }
}

/// How the chances were worked out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChancesLine {
    /// Samples of each chance.
    pub samples: usize,
    /// Seed of all numbers.
    pub seed: u64,
    /// All binding limits together, on paper.
    pub together: Option<Odds>,
    /// The same in use.
    pub together_in_use: Option<Odds>,
    /// Limits left out of it, because nothing says their chance.
    pub left_out: Vec<String>,
    /// Groups of limits.
    pub groups: Vec<GroupChance>,
    /// What is judgement in them, in whole sentences.
    pub judgement: Vec<String>,
}

/// Chances of a group of limits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GroupChance {
    /// Name.
    pub name: String,
    /// One of them is enough.
    pub any_of: bool,
    /// On paper.
    pub odds: Option<Odds>,
    /// In use.
    pub odds_in_use: Option<Odds>,
}

/// One driver of a value.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cause {
    /// Stated value or cause of loss, by id or in words.
    pub stated: String,
    /// Its share, 0 to 1.
    pub share: f64,
    /// Its size in the unit given.
    pub value: Option<f64>,
    /// Unit of `value`; empty without one.
    pub unit: String,
}

/// A result under another use, rule or method.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CountedBeside {
    /// Use.
    pub r#use: String,
    /// Counting rule.
    pub rule: String,
    /// Method.
    pub method: String,
    /// Value in the finding's unit.
    pub value: f64,
}

/// Where a finding sits in the model.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Place {
    /// `element`, `joint`, `opening`, `penetration`, `space`, `assembly` or `service`.
    pub kind: String,
    /// Name in the model.
    pub name: String,
    /// Line of the book, counted from 1; 0 when not known.
    pub line: usize,
}

/// A result with its unit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Figure {
    /// Value in `unit`.
    pub value: f64,
    /// Unit, SI.
    pub unit: String,
    /// Dimension for display, as named by the quantity crate.
    pub dimension: String,
    /// What it is, in plain words.
    pub words: String,
}

/// One thing worth doing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NextStep {
    /// The step, as an instruction.
    pub what: String,
    /// What it settles or saves, in words.
    pub why: String,
    /// Finding it helps.
    pub finding: String,
    /// Hours of work, where known.
    pub hours: Option<f64>,
    /// Outlay in the user's money, where there is one.
    #[serde(default)]
    pub outlay: Option<f64>,
    /// Expected drop in the loss of going on or holding, in units of one wrong hold, where computed.
    #[serde(default)]
    pub worth: Option<f64>,
}

impl Standing {
    /// Returns the limits, nearest to failing first.
    pub fn limits(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|f| f.kind == FindingKind::Limit)
    }

    /// Returns true when a limit is not met. Limits that are alternatives count once: one met is enough.
    pub fn misses_a_limit(&self) -> bool {
        self.limits().any(|f| self.binds(f) && f.status == Outcome::NotMet)
    }

    /// Says whether a limit counts by itself: it is no recommendation, and no alternative to it is met.
    pub fn binds(&self, f: &Finding) -> bool {
        let rescued = !f.any_of.is_empty()
            && self.limits().any(|g| g.id != f.id && g.any_of == f.any_of && g.status == Outcome::Met);
        !f.advisory && !rescued
    }

    /// Returns the finding of that id.
    pub fn finding(&self, id: &str) -> Option<&Finding> {
        self.findings.iter().find(|f| f.id == id)
    }
}
