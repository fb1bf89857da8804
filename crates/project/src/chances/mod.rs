//! Chances of a project's limits: from its stated values, its records and sampled years.
//!
//! Two chances that are never merged. *On paper* declared values are accepted and use and climate are the limit set's;
//! uncertain are readings to come, choices still open, disputed rules. *In use* everything stated with a spread is
//! uncertain, the model itself included. What is this tool's own judgement is listed in the notes of every answer.
//!
//! Start at [`work_out`]. `belief` turns records into what is believed, `run` samples it, `steps` values what could be
//! done next, `told` puts it all into a standing; `words` names causes as a builder would. [`story`] reads the log day by
//! day, [`mod@compare`] holds a change against the book.

mod belief;
pub mod compare;
mod run;
mod steps;
pub mod story;
mod told;
mod words;

use crate::check::Project;
use crate::standing::Years;
use building::limits::Join;
use odds::Odds;

pub use belief::LeakSoFar;
pub use told::tell;

/// Samples taken unless told otherwise: enough for whole chances in a hundred, whose 90 % interval is then at most
/// ± 3.6 in 100; more take longer.
pub const SAMPLES: usize = 512;
/// Seed of all numbers unless told otherwise.
pub const SEED: u64 = 1924;

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Asked {
    /// Samples of each chance.
    pub samples: usize,
    /// Seed.
    pub seed: u64,
}

impl Default for Asked {
    fn default() -> Self {
        Self { samples: SAMPLES, seed: SEED }
    }
}

/// A cause with its share of the doubt.
#[derive(Clone, Debug, PartialEq)]
pub struct Doubt {
    /// Id of the stated value, group or cause.
    pub id: String,
    /// In words.
    pub words: String,
    /// Share of the variance.
    pub share: f64,
}

/// One chance of one limit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OneChance {
    /// The chance; absent where a sample cannot say.
    pub odds: Option<Odds>,
    /// What the doubt hangs on, largest first.
    pub doubts: Vec<Doubt>,
    /// Median of the result and its middle 90 %, canonical unit.
    pub result: Option<[f64; 3]>,
}

/// Both chances of one limit.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitChance {
    /// Id of the row.
    pub id: String,
    /// What it is called.
    pub title: String,
    /// Group of alternatives.
    pub group: Option<(String, Join)>,
    /// Only a recommendation.
    pub advisory: bool,
    /// On paper.
    pub paper: OneChance,
    /// In use.
    pub in_use: OneChance,
}

/// A step worth taking.
#[derive(Clone, Debug, PartialEq)]
pub struct WorthStep {
    /// The step, as an instruction.
    pub what: String,
    /// What it does, in words.
    pub why: String,
    /// Limit it helps most, by its finding's id.
    pub finding: String,
    /// Hours of one person.
    pub hours: f64,
    /// Outlay, in the user's money.
    pub outlay: f64,
    /// Expected drop in loss, in units of one wrong hold.
    pub worth: f64,
}

/// A limit whose counting rule nobody has confirmed.
#[derive(Clone, Debug, PartialEq)]
pub struct Disputed {
    /// Id of the row.
    pub limit: String,
    /// Who is to say.
    pub to: String,
    /// Chance on paper under each rule, by the rule's name.
    pub by_rule: Vec<(String, Odds)>,
}

/// Chances of a group of limits.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// Name.
    pub name: String,
    /// How its rows join.
    pub join: Join,
    /// On paper, in use.
    pub odds: [Option<Odds>; 2],
}

/// All chances of a project.
#[derive(Clone, Debug, PartialEq)]
pub struct Chances {
    /// What was asked.
    pub asked: Asked,
    /// Limits, in the set's order.
    pub limits: Vec<LimitChance>,
    /// Groups of limits.
    pub groups: Vec<Group>,
    /// All limits that bind, together: on paper, in use.
    pub together: [Option<Odds>; 2],
    /// Limits left out of it, because nothing says their chance.
    pub left_out: Vec<String>,
    /// Limits whose counting rule is in dispute.
    pub disputes: Vec<Disputed>,
    /// The leak so far, and what it must be.
    pub leak: LeakSoFar,
    /// Steps, most worth an hour first.
    pub steps: Vec<WorthStep>,
    /// What is judgement, what was taken in, what was left out.
    pub notes: Vec<String>,
    /// Causes with their random numbers, on paper and in use.
    pub(crate) causes: [odds::Causes; 2],
}

/// Works out all chances. `years` are the nominal years the limits were judged by.
///
/// # Errors
/// In words, when a year cannot be run on the samples or the records contradict all that is stated.
pub fn work_out(project: &Project, years: &Years, asked: Asked) -> Result<Chances, String> {
    work_out_like(project, years, asked, None)
}

/// As [`work_out`], on the random numbers of another: what both have in common is drawn alike.
///
/// # Errors
/// As [`work_out`].
pub fn work_out_like(
    project: &Project,
    years: &Years,
    asked: Asked,
    like: Option<&Chances>,
) -> Result<Chances, String> {
    let Some(judged) = crate::standing::judgement(project, years) else {
        return Err("no year could be run, so there are no chances".to_owned());
    };
    let known = belief::Known::of(project)?;
    run::run(project, &judged, &known, asked, like)
}
