//! Limits held against what is known: each row of the limit set, judged by the laws, becomes one finding.
//!
//! What the site log has read is handed to the judgement; a figure that only the book expects, where the limit asks for
//! a reading, leaves the limit open. A figure that nothing computed or read stays absent.

use super::Years;
use super::evidence::{REFERENCE_PA, Tightness, commissioned, tightness};
use super::types::{Cause, Comparison, CountedBeside, Finding, FindingKind, Outcome};
use super::words::{Words, capital};
use crate::check::Project;
use building::counting::{self, Count};
use building::limits::{self, Join, Limit, LimitResult, UseCase};
use quantity::{Dimension, value_in};
use year::judge::{self, Judged, Judgement, Shown};

/// Everything the limits of a project are judged by.
pub(super) struct Known<'a> {
    project: &'a Project,
    pub(super) tightness: Option<Tightness>,
    judgement: Option<Judgement>,
    counts: Vec<Count>,
    words: Words,
}

impl<'a> Known<'a> {
    pub(super) fn new(project: &'a Project, years: &Years) -> Self {
        let counts = counting::rules().iter().map(|rule| counting::count(&project.building, rule)).collect();
        let tightness = tightness(project);
        let judgement = judgement(project, years, tightness.as_ref());
        Self { project, tightness, judgement, counts, words: Words::of(&project.building) }
    }

    /// Returns the counts by every rule.
    pub(super) fn counts(&self) -> &[Count] {
        &self.counts
    }

    /// Returns a finding for every row that applies, nearest to failing first.
    pub(super) fn findings(&self) -> Vec<Finding> {
        let mut all: Vec<Finding> = match &self.judgement {
            Some(judgement) => judgement.rows.iter().map(|row| self.finding(row)).collect(),
            None => self.unjudged(),
        };
        // Of equals the order of the set stays.
        all.sort_by(|a, b| rank(a).cmp(&rank(b)).then(margin(a).total_cmp(&margin(b))));
        all
    }

    /// Rows without a year to judge them by.
    fn unjudged(&self) -> Vec<Finding> {
        let Some(set) = &self.project.limits else { return Vec::new() };
        let class = self.project.building.site.climate_class.as_deref();
        let row = |limit: &Limit| {
            let mut f = self.start(limit, limit.value);
            f.sentence = format!("{}: no year could be run, so it is not known.", capital(&f.subject));
            f
        };
        set.for_climate(class).into_iter().map(row).collect()
    }

    fn start(&self, limit: &Limit, threshold: f64) -> Finding {
        let mut f = Finding::new(format!("limit.{}", limit.id), FindingKind::Limit, self.title(limit));
        let unit = unit_of(limit);
        f.r#use =
            if limit.use_case == UseCase::None { String::new() } else { limit.use_case.word().to_owned() };
        f.rule.clone_from(&limit.rule);
        f.method = limit.method.word().to_owned();
        f.threshold = Some(in_unit(threshold, limit, &unit));
        // A plain factor is shown as it is, not in per cent.
        f.dimension = if unit.is_empty() { String::new() } else { limit.dimension.name().to_owned() };
        f.comparison = Some(match limit.comparison {
            limits::Comparison::AtMost => Comparison::AtMost,
            limits::Comparison::AtLeast => Comparison::AtLeast,
        });
        let group = limit.group.as_ref().filter(|g| g.join == Join::AnyOf);
        f.any_of = group.map(|g| g.name.clone()).unwrap_or_default();
        f.advisory = limit.advisory;
        f.source.clone_from(&limit.source);
        f.stage = self.stage(limit);
        f.unit = unit;
        f
    }

    /// The row's title, a temperature in it in the reader's scale.
    fn title(&self, limit: &Limit) -> String {
        let shown = self.words.show(25.0, Dimension::Temperature).replace(".0 °", " °");
        limit.title.replace("25 °C", &shown)
    }

    fn finding(&self, judged: &Judged) -> Finding {
        let limit = &judged.limit;
        let mut f = self.start(limit, judged.threshold);
        let shown = |v: f64| in_unit(v, limit, &f.unit);
        let open = self.waits_for_a_reading(limit);
        // What is left of a sum of cancelling flows is nothing.
        let nothing = 1e-9 * judged.threshold.abs();
        let value = judged.value.map(|v| if v.abs() < nothing { 0.0 } else { shown(v) });
        let beside = judged.beside.iter().map(|b| counted(&b.count, shown(b.value))).collect();
        f.value = value;
        f.beside = beside;
        f.margin = judged.margin.filter(|m| m.is_finite());
        f.status = match judged.met {
            Some(_) if open => Outcome::NotKnown,
            Some(true) => Outcome::Met,
            Some(false) => Outcome::NotMet,
            None => Outcome::NotKnown,
        };
        if open {
            f.method = "stated".to_owned();
        }
        f.causes = self.causes(judged);
        f.cautions.clone_from(&judged.cautions);
        f.sentence = self.sentence(judged, open, &f.causes);
        f
    }

    /// Says whether the limit asks for a reading that nobody has taken: what the book expects then decides nothing.
    fn waits_for_a_reading(&self, limit: &Limit) -> bool {
        match limit.result {
            LimitResult::AirChange50 | LimitResult::AirPermeability50 => self.tightness.is_none(),
            LimitResult::FlowImbalance => commissioned(self.project).iter().all(|c| c.imbalance().is_none()),
            _ => false,
        }
    }

    fn causes(&self, judged: &Judged) -> Vec<Cause> {
        if let (LimitResult::AirChange50, Some(reading), Some(value)) =
            (judged.limit.result, &self.tightness, judged.value)
        {
            // Leaks found and measured, and still open, as their share of the reading.
            let cause = |(at, m3_h): (String, f64)| {
                let share = (m3_h / reading.flow_m3_h).min(1.0);
                Cause { stated: at, share, value: Some(share * value), unit: "1/h".to_owned() }
            };
            return super::site::open_leaks(self.project).into_iter().map(cause).collect();
        }
        let unit = unit_of(&judged.limit);
        let cause = |c: &judge::CauseShare| Cause {
            stated: c.cause.clone(),
            share: c.share,
            value: judged.value.map(|v| c.share * in_unit(v, &judged.limit, &unit)),
            unit: unit.clone(),
        };
        judged.causes.iter().map(cause).collect()
    }

    fn stage(&self, limit: &Limit) -> String {
        let wanted = match limit.result {
            LimitResult::AirChange50 | LimitResult::AirPermeability50 => "test",
            LimitResult::FanPower | LimitResult::FlowImbalance => "commission",
            LimitResult::RecoveryRatio => "order",
            _ => "design",
        };
        let stages = &self.project.building.project.stages;
        if stages.iter().any(|s| s == wanted) { wanted.to_owned() } else { String::new() }
    }

    fn sentence(&self, judged: &Judged, open: bool, causes: &[Cause]) -> String {
        let limit = &judged.limit;
        let title = capital(&self.title(limit));
        let mut threshold = format!("{} {}", limit.comparison.word(), self.show(judged.threshold, limit));
        if judged.allowance > 0.0 {
            threshold += &format!(", {} of it for drying", self.show(judged.allowance, limit));
        }
        let how = if open { format!("{}; nobody has measured yet", judged.how) } else { judged.how.clone() };
        let known = judged.value.map(|v| if v.abs() < 1e-9 * judged.threshold.abs() { 0.0 } else { v });
        let Some(value) = known else { return format!("{title}: {threshold}; {how}.") };
        let cause = causes.first().map_or_else(String::new, |c| {
            let word =
                if limit.result == LimitResult::AirChange50 { "largest open leak" } else { "most of it" };
            format!("; {word} {}, {:.0} %", c.stated, 100.0 * c.share)
        });
        format!("{title} {}, {threshold} ({how}){cause}.", self.show(value, limit))
    }

    fn show(&self, value: f64, limit: &Limit) -> String {
        if unit_of(limit).is_empty() {
            format!("{value:.2}")
        } else {
            self.words.show(value, limit.dimension)
        }
    }
}

/// Judges every row, with what the site log has read.
pub(super) fn judgement(project: &Project, years: &Years, reading: Option<&Tightness>) -> Option<Judgement> {
    let (standard, real) = (years.standard.as_ref()?, years.real.as_ref()?);
    let building = &project.building;
    let modes = commissioned(project);
    let worst = |of: &dyn Fn(&super::evidence::Commissioned) -> Option<f64>, what: &str| {
        let values = modes.iter().filter_map(|c| of(c).map(|value| (value, c)));
        values.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(value, c)| Shown {
            value,
            source: format!("{what} read on {}, largest at \"{}\"", c.day, c.mode),
        })
    };
    let words = Words::of(building);
    let known = judge::Known {
        leak_m3_h: reading.map(|r| Shown { value: r.flow_m3_h, source: reading_words(r, &words) }),
        fan_power_wh_m3: worst(&|c| c.fan_power_wh_m3(), "fan energy"),
        imbalance: worst(&|c| c.imbalance(), "flows"),
        surface_factor: project.details.coldest().and_then(|joint| {
            let worked = joint.worked.as_ref().ok()?;
            Some(Shown { value: worked.factor, source: crate::details::words(joint) })
        }),
    };
    let nominal = building.values.nominal();
    let years = judge::Years { standard, real };
    project
        .limits
        .as_ref()
        .map(|set| judge::judge(building, &project.weather.climate, &nominal, years, &known, set))
}

fn reading_words(reading: &Tightness, words: &Words) -> String {
    let guard = if reading.guarded { "guarded, " } else { "" };
    let kind = match (reading.whole, reading.valid, reading.directions) {
        (false, ..) => "single reading, not a standard test",
        (true, false, _) => "a validity rule of the standard is broken",
        (true, true, 1) => "one direction",
        (true, true, _) => "mean of both directions",
    };
    format!(
        "{} at {REFERENCE_PA:.0} Pa on {}, {guard}{kind}, ± {:.0} %",
        words.test_flow(reading.flow_m3_h),
        reading.day,
        100.0 * reading.half_width_m3_h / reading.flow_m3_h
    )
}

/// Sorts the words of another count into use, method or rule.
fn counted(count: &str, value: f64) -> CountedBeside {
    let mut beside =
        CountedBeside { r#use: String::new(), rule: String::new(), method: String::new(), value };
    match count {
        "standard use" | "real use" => beside.r#use = count.trim_end_matches(" use").to_owned(),
        "hourly method" | "monthly method" => beside.method = count.trim_end_matches(" method").to_owned(),
        _ => beside.rule = count.to_owned(),
    }
    beside
}

/// Failing first, then met, then not known; recommendations come after the rest.
fn rank(f: &Finding) -> u8 {
    let base = match f.status {
        Outcome::NotMet => 0,
        Outcome::Met => 1,
        Outcome::NotKnown => 2,
    };
    if f.advisory { base + 3 } else { base }
}

fn margin(f: &Finding) -> f64 {
    f.margin.unwrap_or(f64::INFINITY)
}

/// Unit of a finding: the row's own, with the year named where it is a yearly sum.
fn unit_of(limit: &Limit) -> String {
    match (limit.dimension, limit.unit.as_str()) {
        (Dimension::EnergyPerArea, _) => "kWh/(m²·a)".to_owned(),
        (_, "1") => String::new(),
        (_, unit) => unit.to_owned(),
    }
}

/// Turns a canonical value into the finding's unit.
fn in_unit(value: f64, limit: &Limit, unit: &str) -> f64 {
    if unit.is_empty() {
        return value;
    }
    value_in(value, limit.dimension, unit).unwrap_or(value)
}
