//! The report of a pressure test: a wire type of its own, the same for the terminal, JSON and the sheet of air.
//!
//! Flows are m³/h and pressures Pa, as tests are read; every figure has its unit in its name or beside it. A number that
//! was not found is `null` in JSON, never zero.

use serde::Serialize;

/// Name and version of the JSON form; it changes when a key changes its meaning.
pub const SCHEMA: &str = "windtight/pressure-test/1";

/// Everything a test says.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TestReport {
    /// Always [`SCHEMA`].
    pub schema: &'static str,
    /// What was read, when, how.
    pub test: About,
    /// Whether it can be a test by a standard at all; one and two points never are.
    pub standard_test: bool,
    /// Whether every rule of ISO 9972 that could be decided holds; absent for quick readings.
    pub valid: Option<bool>,
    /// Pressure the results refer to, Pa.
    pub reference_pressure_pa: f64,
    /// Mean flow of the directions at the reference pressure, with the full budget.
    pub flow: Figure,
    /// The number the limit speaks of; the flow where nothing to divide it by is known.
    pub result: Rate,
    /// Flow over volume, envelope and floor area.
    pub rates: Vec<Rate>,
    /// Each direction's line.
    pub directions: Vec<DirectionReport>,
    /// Mean of directions with the regression's own band; absent for quick readings.
    pub mean: Option<Mean>,
    /// Effective leakage areas of the mean.
    pub areas: Vec<Area>,
    /// One- or two-point evaluation.
    pub quick: Option<Quick>,
    /// Where the uncertainty comes from, largest first.
    pub budget: Vec<BudgetLine>,
    /// Every validity rule.
    pub rules: Vec<RuleLine>,
    /// The same readings under each counting rule.
    pub counting_rules: Vec<CountedRate>,
    /// Items by which counting rules differ, where they differ in the outcome.
    pub flips: Vec<Flip>,
    /// What is over the limit, as a hole to look for.
    pub excess: Option<Excess>,
    /// What was assumed, what looks odd.
    pub notes: Vec<String>,
    /// What nobody checked here.
    pub not_checked: Vec<String>,
}

/// What was read.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct About {
    /// Name.
    pub title: String,
    /// Date as written.
    pub date: String,
    /// `full`, `one point` or `two points`.
    pub kind: &'static str,
    /// Method of preparation by ISO 9972.
    pub preparation_method: Option<u8>,
    /// `none`, `equal pressure`, `opened`, `untouched`.
    pub neighbour: &'static str,
    /// Pressure left across a guarded boundary, Pa.
    pub guard_residual_pa: Option<f64>,
    /// `raw` or `corrected`.
    pub flows: &'static str,
    /// Gauge.
    pub gauge: InstrumentLine,
    /// Fans.
    pub fans: Vec<InstrumentLine>,
}

/// An instrument.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct InstrumentLine {
    /// Mark on it.
    pub id: String,
    /// Day of calibration as written.
    pub calibrated: String,
    /// 95 % half-width of its scale as a share, where a certificate says.
    pub accuracy: Option<f64>,
}

/// A value with its band by the full budget.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Figure {
    /// Best value.
    pub value: f64,
    /// Standard uncertainty.
    pub standard_uncertainty: f64,
    /// 95 % half-width.
    pub half_width_95: f64,
    /// Degrees of freedom; absent where the uncertainty is stated.
    pub degrees_of_freedom: Option<f64>,
}

/// Flow over something.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Rate {
    /// `air-change`, `per-envelope`, `per-floor` or `flow`.
    pub id: &'static str,
    /// In words.
    pub words: &'static str,
    /// Counting rule behind the size; `as stated` where the user gave it.
    pub rule: String,
    /// Size divided by, m³ or m²; absent for the flow itself.
    pub size: Option<f64>,
    /// Unit of value, band and limit.
    pub unit: &'static str,
    /// The rate.
    pub figure: Figure,
    /// Limit, where one is known.
    pub limit: Option<f64>,
    /// Whether the best value is at or under it.
    pub met: Option<bool>,
    /// Chance that the truth is, by the full budget.
    pub chance: Option<f64>,
}

/// One direction.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DirectionReport {
    /// `depressurisation` or `pressurisation`.
    pub direction: &'static str,
    /// Zero-flow pressures before, Pa.
    pub zero_before_pa: Vec<f64>,
    /// Zero-flow pressures after, Pa.
    pub zero_after_pa: Vec<f64>,
    /// Taken off, Pa.
    pub zero_pa: f64,
    /// Points.
    pub points: Vec<PointLine>,
    /// The standards' line, ISO 9972.
    pub iso_9972: Option<LineReport>,
    /// ASTM E779's numbers.
    pub astm_e779: Option<LineReport>,
    /// The same points by other fits.
    pub other_fits: Vec<OtherFit>,
}

/// One point.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PointLine {
    /// As read, Pa.
    pub read_pa: f64,
    /// As read, m³/h.
    pub read_m3_h: f64,
    /// Without the zero-flow pressure, Pa, positive.
    pub pressure_pa: f64,
    /// Through the envelope, m³/h.
    pub flow_m3_h: f64,
    /// Above the line, as a share; absent without a line.
    pub off_the_line: Option<f64>,
}

/// A fitted line by one standard.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LineReport {
    /// Exponent and its 95 % interval of the regression.
    pub exponent: Band,
    /// C_env, m³/(h·Paⁿ), with its interval.
    pub c_env: Band,
    /// C_L at the reference state.
    pub c_l: f64,
    /// Coefficient of determination of the logarithms.
    pub r2: f64,
    /// Flow at the reference pressure with the interval of the regression alone, m³/h.
    pub flow: Band,
    /// Effective leakage area at 4 Pa, cm².
    pub ela_4_pa_cm2: f64,
    /// Effective leakage area at 10 Pa, cm².
    pub ela_10_pa_cm2: f64,
}

/// A value with its interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Band {
    /// Value.
    pub value: f64,
    /// Low end, 95 %.
    pub low: f64,
    /// High end, 95 %.
    pub high: f64,
}

/// Another fit of the same points.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OtherFit {
    /// Which.
    pub fit: &'static str,
    /// Exponent.
    pub exponent: f64,
    /// Flow at the reference pressure, m³/h.
    pub flow_m3_h: f64,
}

/// Mean of directions.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Mean {
    /// How many directions.
    pub directions: usize,
    /// Mean flow, m³/h.
    pub flow_m3_h: f64,
    /// 95 % half-width of the regression alone, m³/h: what the standards' interval says.
    pub regression_half_width_m3_h: f64,
    /// Difference of the directions over the mean.
    pub difference_share: f64,
}

/// An effective leakage area.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Area {
    /// Standard whose reference pressure it is.
    pub standard: &'static str,
    /// Pressure, Pa.
    pub pressure_pa: f64,
    /// cm².
    pub cm2: f64,
    /// in².
    pub in2: f64,
}

/// What one or two points say.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Quick {
    /// Points used.
    pub points: usize,
    /// Method.
    pub method: &'static str,
    /// Exponent stated before, with its standard uncertainty.
    pub stated_exponent: [f64; 2],
    /// Exponent after the points, with its standard uncertainty.
    pub exponent: [f64; 2],
}

/// One source of uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BudgetLine {
    /// What.
    pub source: &'static str,
    /// Standard uncertainty as a share of the flow.
    pub share: f64,
    /// Share of the variance.
    pub share_of_variance: f64,
}

/// A validity rule.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RuleLine {
    /// Standard.
    pub standard: &'static str,
    /// Stable name.
    pub id: &'static str,
    /// Whether it holds; `null` where the readings do not say.
    pub ok: Option<bool>,
    /// What was found; `null` where the readings do not say.
    pub value: Option<f64>,
    /// What it is held against.
    pub limit: f64,
    /// Direction it was judged for; empty for the whole test.
    pub direction: &'static str,
    /// In words.
    pub words: &'static str,
}

/// The result under one counting rule.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CountedRate {
    /// Id of the rule.
    pub rule: String,
    /// Its name.
    pub name: String,
    /// Size by it, m³ or m².
    pub size: f64,
    /// The rate.
    pub figure: Figure,
    /// Whether the best value meets the limit.
    pub met: Option<bool>,
    /// Chance of it.
    pub chance: Option<f64>,
}

/// An item two counting rules disagree about.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Flip {
    /// Rules compared: the first and the one that turns the outcome.
    pub between: [String; 2],
    /// The item.
    pub item: String,
    /// Second less first, m³.
    pub volume_m3: f64,
    /// Why each counts it so.
    pub why: String,
}

/// What is over the limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Excess {
    /// Flow at the reference pressure, m³/h.
    pub flow_m3_h: f64,
    /// Sharp-edged hole that passes it, cm².
    pub hole_cm2: f64,
    /// The same, in².
    pub hole_in2: f64,
    /// The formula with its numbers.
    pub formula: String,
}
