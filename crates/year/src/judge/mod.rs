//! Holds a year against limits.
//!
//! Each row of a [`LimitSet`] that fits the climate becomes a [`Judged`]: the result by the count the row names, the
//! threshold, whether it is met, the margin, the same result by other counts, what drives it, and its working. Rows
//! that share a group are joined in [`GroupVerdict`]. A result that nothing computes yet is not known, never guessed.
//!
//! The book's own figures ([`building::plan::LimitOverride`]) replace the set's, and stand as they are: no computed
//! allowance is added to them.
//!
//! Inside: `find` (the results), `causes` (what drives them), this file (thresholds, margins, groups).

mod causes;
mod find;
mod sampled;

use building::limits::{Allowance, Comparison, Join, Limit, LimitSet, UseCase};
use building::{Building, Resolved, counting};
use climate::Climate;
use fabric::working::Working;
use matter::moist_air;

use crate::result::YearResult;

pub use causes::CauseShare;
pub use sampled::Sizes;

/// A number that a reading or a detail has shown, with its words.
#[derive(Clone, Debug, PartialEq)]
pub struct Shown {
    /// The number, in the canonical unit of what it shows.
    pub value: f64,
    /// Where it comes from, such as `pressure test of 2 September, guarded`.
    pub source: String,
}

/// What is known beyond the model's stated numbers. Each absent one leaves the stated number standing, or the result
/// not known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Known {
    /// Leak at the reference pressure by the latest reading, m³/h.
    pub leak_m3_h: Option<Shown>,
    /// Fan energy as read, Wh/m³.
    pub fan_power_wh_m3: Option<Shown>,
    /// Difference of outdoor and exhaust flow over the larger, as read.
    pub imbalance: Option<Shown>,
    /// Lowest surface temperature factor of the details worked out.
    pub surface_factor: Option<Shown>,
}

/// The years a judgement draws on.
#[derive(Clone, Copy, Debug)]
pub struct Years<'a> {
    /// Standard use.
    pub standard: &'a YearResult,
    /// Real use.
    pub real: &'a YearResult,
}

/// The same result by another count.
#[derive(Clone, Debug, PartialEq)]
pub struct Beside {
    /// How this count differs, such as `test-standard volume`, `real use`, `hourly`.
    pub count: String,
    /// The result, in the row's canonical unit.
    pub value: f64,
}

/// One limit, judged.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// The row, with the book's own figure where it has one.
    pub limit: Limit,
    /// Whether the threshold is the book's own.
    pub own_figure: bool,
    /// The result, canonical unit of the row's dimension; `None` when nothing computes it yet.
    pub value: Option<f64>,
    /// Threshold with its allowance.
    pub threshold: f64,
    /// Of the threshold, the computed allowance.
    pub allowance: f64,
    /// Whether it is met; `None` when not known.
    pub met: Option<bool>,
    /// Room left over the threshold, positive when met.
    pub margin: Option<f64>,
    /// How the number was found, one sentence without its full stop.
    pub how: String,
    /// The same result by other counts.
    pub beside: Vec<Beside>,
    /// What drives it, largest first; shares sum to one, or it is empty.
    pub causes: Vec<CauseShare>,
    /// Symbols, values, units, clauses.
    pub working: Working,
    /// What was not checked and who decides.
    pub cautions: Vec<String>,
}

/// Rows judged together.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupVerdict {
    /// Name.
    pub name: String,
    /// How they join.
    pub join: Join,
    /// Places in [`Judgement::rows`].
    pub rows: Vec<usize>,
    /// Whether the group is met; `None` when what is not known decides.
    pub met: Option<bool>,
    /// Place of the row that decides: of any-of the one with most room, of all-of the one with least.
    pub deciding: Option<usize>,
}

/// All limits of a job, judged.
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    /// Name of the set.
    pub set: String,
    /// Said beside every finding.
    pub caveat: String,
    /// Rows in the set's order.
    pub rows: Vec<Judged>,
    /// Groups in the order of their first rows.
    pub groups: Vec<GroupVerdict>,
}

/// What a result was found to be.
#[derive(Clone, Debug, Default)]
struct Found {
    value: Option<f64>,
    how: String,
    beside: Vec<Beside>,
    causes: Vec<CauseShare>,
    working: Working,
    cautions: Vec<String>,
}

/// What all rows are found from.
struct Judge<'a> {
    building: &'a Building,
    climate: &'a Climate,
    r: &'a Resolved,
    years: Years<'a>,
    known: &'a Known,
}

/// Judges every row of a set that fits the building's climate class and that the book does not drop.
pub fn judge(
    building: &Building,
    climate: &Climate,
    r: &Resolved,
    years: Years<'_>,
    known: &Known,
    set: &LimitSet,
) -> Judgement {
    let judge = Judge { building, climate, r, years, known };
    let class = building.site.climate_class.as_deref();
    let mut rows = Vec::new();
    for limit in set.for_climate(class) {
        let own = building.limits.iter().find(|own| own.id == limit.id);
        if own.is_some_and(|own| own.dropped) {
            continue;
        }
        let mut limit = limit.clone();
        let value = own.and_then(|own| own.value).map(|key| r[key]);
        if let Some(value) = value {
            limit.value = value;
            limit.allowance = Allowance::None;
        }
        if let Some(source) = own.and_then(|own| own.source.clone()) {
            limit.source = source;
        }
        rows.push(judge.row(limit, value.is_some()));
    }
    let groups = groups(&rows);
    Judgement { set: set.name.clone(), caveat: set.caveat.clone(), rows, groups }
}

impl Judge<'_> {
    fn row(&self, limit: Limit, own_figure: bool) -> Judged {
        let found = self.find(&limit);
        let allowance = match limit.allowance {
            Allowance::None => 0.0,
            Allowance::Drying => self.drying_allowance_j_m2(&limit.rule),
        };
        let threshold = limit.value + allowance;
        let mut working = found.working;
        working.step("limit", limit.title.clone(), limit.value, "", "");
        if allowance != 0.0 {
            working.step("allowance", "cold for drying the outdoor air, no recovery", allowance, "J/m²", "");
        }
        Judged {
            own_figure,
            met: found.value.map(|value| met(limit.comparison, value, threshold)),
            margin: found.value.map(|value| margin(limit.comparison, value, threshold)),
            limit,
            value: found.value,
            threshold,
            allowance,
            how: found.how,
            beside: found.beside,
            causes: found.causes,
            working,
            cautions: found.cautions,
        }
    }

    fn year_of(&self, use_case: UseCase) -> (&YearResult, &YearResult, &'static str) {
        match use_case {
            UseCase::Real => (self.years.real, self.years.standard, "standard use"),
            UseCase::Standard | UseCase::None => (self.years.standard, self.years.real, "real use"),
        }
    }

    fn count(&self, rule: &str) -> counting::Count {
        let rule = counting::rule(rule).unwrap_or_else(|| counting::certification_style());
        counting::count(self.building, rule)
    }

    /// Cold for drying outdoor air at the mean rate of the ventilation down to the set point, no recovery, J/m².
    fn drying_allowance_j_m2(&self, rule: &str) -> f64 {
        let target = self.r[self.building.set_points.dehumidify_above];
        let flow = self.years.standard.ventilation.mean_supply_m3_s;
        let latent = moist_air::evaporation_heat(20.0);
        let mut sum = 0.0;
        for hour in &self.climate.hours {
            let density = moist_air::density(20.0, target, hour.pressure_pa);
            sum += (hour.humidity_ratio - target).max(0.0) * density * flow * 3600.0 * latent;
        }
        sum / self.count(rule).floor_area_m2
    }
}

fn met(comparison: Comparison, value: f64, threshold: f64) -> bool {
    match comparison {
        Comparison::AtMost => value <= threshold,
        Comparison::AtLeast => value >= threshold,
    }
}

/// Room left as a share of the threshold.
fn margin(comparison: Comparison, value: f64, threshold: f64) -> f64 {
    match comparison {
        Comparison::AtMost => (threshold - value) / threshold,
        Comparison::AtLeast => (value - threshold) / threshold,
    }
}

fn groups(rows: &[Judged]) -> Vec<GroupVerdict> {
    let mut groups: Vec<GroupVerdict> = Vec::new();
    for (place, row) in rows.iter().enumerate() {
        let Some(group) = &row.limit.group else { continue };
        match groups.iter_mut().find(|g| g.name == group.name) {
            Some(known) => known.rows.push(place),
            None => groups.push(GroupVerdict {
                name: group.name.clone(),
                join: group.join,
                rows: vec![place],
                met: None,
                deciding: None,
            }),
        }
    }
    for group in &mut groups {
        let verdicts: Vec<Option<bool>> = group.rows.iter().map(|place| rows[*place].met).collect();
        group.met = joined(group.join, &verdicts);
        let by_margin = |a: &&usize, b: &&usize| {
            let of = |place: usize| rows[place].margin.unwrap_or(f64::NEG_INFINITY);
            of(**a).total_cmp(&of(**b))
        };
        let known = || group.rows.iter().filter(|place| rows[**place].margin.is_some());
        group.deciding = match group.join {
            Join::AnyOf => known().max_by(by_margin).copied(),
            Join::AllOf => known().min_by(by_margin).copied(),
        };
    }
    groups
}

/// Three-valued "any" and "all": what is not known leaves the verdict open unless the rest decides.
fn joined(join: Join, verdicts: &[Option<bool>]) -> Option<bool> {
    let decisive = join == Join::AnyOf;
    if verdicts.contains(&Some(decisive)) {
        return Some(decisive);
    }
    if verdicts.contains(&None) { None } else { Some(!decisive) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_known_decides_nothing() {
        assert_eq!(joined(Join::AnyOf, &[None, Some(true)]), Some(true));
        assert_eq!(joined(Join::AnyOf, &[None, Some(false)]), None);
        assert_eq!(joined(Join::AllOf, &[None, Some(false)]), Some(false));
        assert_eq!(joined(Join::AllOf, &[None, Some(true)]), None);
        assert_eq!(joined(Join::AllOf, &[Some(true), Some(true)]), Some(true));
        assert_eq!(joined(Join::AnyOf, &[Some(false)]), Some(false));
    }

    #[test]
    fn margins_are_positive_when_met() {
        assert!(met(Comparison::AtMost, 0.57, 0.6) && margin(Comparison::AtMost, 0.57, 0.6) > 0.0);
        assert!(!met(Comparison::AtMost, 0.63, 0.6) && margin(Comparison::AtMost, 0.63, 0.6) < 0.0);
        assert!(met(Comparison::AtLeast, 0.8, 0.75) && margin(Comparison::AtLeast, 0.8, 0.75) > 0.0);
        assert!(!met(Comparison::AtLeast, 0.7, 0.75));
    }
}
