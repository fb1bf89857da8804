//! Chances put into a standing: beside each limit, in the headline, in what is worth doing next.

use super::{Chances, OneChance};
use crate::check::Project;
use crate::standing::{
    self, Cause, ChancesLine, Finding, FindingKind, GroupChance, Headline, NextStep, Odds, Outcome, Standing,
};
use building::limits::Join;
use quantity::{Dimension, Qualifier, show_as};

/// Stages after which the air barrier can no longer be reached.
const COVERED_BY: [&str; 3] = ["insulate", "close-in", "in use"];
/// Steps told at most.
const STEPS: usize = 8;

/// Puts chances into a standing that was made from nominal years.
pub fn tell(project: &Project, standing: &mut Standing, chances: &Chances) {
    for finding in standing.findings.iter_mut().filter(|f| f.kind == FindingKind::Limit) {
        let id = finding.id.trim_start_matches("limit.");
        let Some(limit) = chances.limits.iter().find(|l| l.id == id) else { continue };
        finding.odds = wire(&limit.paper);
        finding.odds_in_use = wire(&limit.in_use);
        finding.doubts = doubts(&limit.paper);
        finding.doubts_in_use = doubts(&limit.in_use);
    }
    standing.chances = Some(ChancesLine {
        samples: chances.asked.samples,
        seed: chances.asked.seed,
        together: chances.together[0].map(odds_of),
        together_in_use: chances.together[1].map(odds_of),
        left_out: chances.left_out.clone(),
        groups: groups(chances),
        judgement: chances.notes.clone(),
    });
    sort(standing);
    standing.headline = headline(project, standing, chances);
    standing.next = next(standing, chances);
    standing.notices.retain(|n| n != standing::NOT_COMPUTED);
    standing.notices.extend(chances.notes.iter().cloned());
}

pub(super) fn odds_of(odds: odds::Odds) -> Odds {
    Odds { p: odds.p, low: odds.low, high: odds.high, n_eff: odds.n_eff }
}

fn wire(chance: &OneChance) -> Option<Odds> {
    chance.odds.map(odds_of)
}

fn doubts(chance: &OneChance) -> Vec<Cause> {
    let doubt = |d: &super::Doubt| Cause {
        stated: d.words.clone(),
        share: d.share,
        value: None,
        unit: String::new(),
    };
    chance.doubts.iter().map(doubt).collect()
}

/// Chances of alternatives: any one of the group is enough.
fn groups(chances: &Chances) -> Vec<GroupChance> {
    let mut all: Vec<GroupChance> = Vec::new();
    for group in &chances.groups {
        all.push(GroupChance {
            name: group.name.clone(),
            any_of: group.join == Join::AnyOf,
            odds: group.odds[0].map(odds_of),
            odds_in_use: group.odds[1].map(odds_of),
        });
    }
    all
}

/// Limits with the smallest chance first; those without one after, recommendations last.
fn sort(standing: &mut Standing) {
    let (mut limits, rest): (Vec<Finding>, Vec<Finding>) =
        std::mem::take(&mut standing.findings).into_iter().partition(|f| f.kind == FindingKind::Limit);
    let key = |f: &Finding| {
        // What is missed without a chance stands first, what is not known last.
        let without = if f.status == Outcome::NotMet { 0.0 } else { 1.5 };
        (f.advisory, f.odds.map_or(without, |odds| odds.p))
    };
    limits.sort_by(|a, b| {
        let ((a1, a2), (b1, b2)) = (key(a), key(b));
        a1.cmp(&b1).then(a2.total_cmp(&b2))
    });
    standing.findings = limits.into_iter().chain(rest).collect();
}

/// The chance that counts for a limit: its group's where alternatives are enough.
fn counting(standing: &Standing, finding: &Finding) -> Option<Odds> {
    let group = standing.chances.as_ref().and_then(|c| c.groups.iter().find(|g| g.name == finding.any_of));
    match group {
        Some(group) if group.any_of => group.odds,
        _ => finding.odds,
    }
}

fn words(odds: Odds) -> String {
    odds.words()
}

fn headline(project: &Project, standing: &Standing, chances: &Chances) -> Headline {
    let go = odds::next::Loss::default().go_from();
    let held = |f: &&Finding| !f.advisory && counting(standing, f).is_some_and(|o| o.p < go);
    let of = |finding: &Finding, decision: &str, because: String| Headline {
        decision: decision.to_owned(),
        because,
        finding: Some(finding.id.clone()),
    };
    let doubtful: Vec<&str> = standing
        .limits()
        .filter(held)
        .filter(|f| f.id != "limit.air-change")
        .map(|f| f.subject.as_str())
        .collect();
    if let Some(tight) = standing.limits().find(|f| f.id == "limit.air-change").filter(held)
        && reachable(project)
        && !chances.leak.days.is_empty()
    {
        let mut because = barrier_words(project, tight, chances);
        if !doubtful.is_empty() {
            because += &format!(" In doubt besides: {}.", doubtful.join(", "));
        }
        return of(tight, "Do not close the walls yet.", because);
    }
    if let Some(first) = standing.limits().find(held) {
        let odds = counting(standing, first);
        let alternatives = if odds == first.odds { "" } else { ", alternatives counted" };
        let held_by =
            first.doubts.first().map_or_else(String::new, |d| format!(" Most of the doubt is {}.", d.stated));
        let others = standing.limits().filter(held).count() - 1;
        let others = match others {
            0 => String::new(),
            1 => " One other limit is in doubt.".to_owned(),
            n => format!(" {n} other limits are in doubt."),
        };
        let chance = odds.map_or_else(String::new, words);
        let decision = match odds {
            Some(o) if o.p < 0.5 => format!("As it stands it will miss {}.", first.subject),
            _ => format!("Hold: {} is not safe yet.", first.subject),
        };
        let because = format!("It has {chance} on paper{alternatives}.{held_by}{others}");
        return of(first, &decision, because);
    }
    let nearest = standing.limits().find(|f| !f.advisory && f.odds.is_some());
    match nearest {
        // What is open besides limits still comes first: the headline of the findings holds.
        Some(_) if standing.headline.finding.as_deref().is_some_and(|id| id.starts_with("gap.")) => {
            standing.headline.clone()
        }
        Some(nearest) => {
            let chance = nearest.odds.map_or_else(String::new, words);
            let open: Vec<&str> = standing
                .limits()
                .filter(|f| !f.advisory && f.odds.is_none())
                .map(|f| f.subject.as_str())
                .collect();
            let open =
                if open.is_empty() { String::new() } else { format!(" Not known: {}.", open.join(", ")) };
            of(
                nearest,
                "Go on.",
                format!("Nearest to its limit is {}, with {chance} on paper.{open}", nearest.subject),
            )
        }
        None => standing.headline.clone(),
    }
}

fn reachable(project: &Project) -> bool {
    let facts = &project.building.project;
    let at = |name: &str| facts.stages.iter().position(|s| s == name);
    let covered = COVERED_BY.iter().filter_map(|s| at(s)).min();
    at(&facts.stage).zip(covered).is_some_and(|(now, covered)| now < covered)
}

fn barrier_words(project: &Project, tight: &Finding, chances: &Chances) -> String {
    let system = project.building.project.units;
    let air = |v: f64| show_as(v, Dimension::AirChange, system, Qualifier::At50Pa);
    let chance = tight.odds.map_or_else(String::new, words);
    let limit = tight.threshold.unwrap_or(f64::NAN);
    let reading = tight.value.map_or_else(String::new, air);
    let whence = standing::tightness(project).map_or_else(
        || "Today's".to_owned(),
        |t| format!("The {}reading of {},", if t.guarded { "guarded " } else { "" }, t.day),
    );
    let mut text = format!("{whence} {reading}, has {chance} of ending at or under {}.", air(limit));
    if let Some(dispute) = chances.disputes.iter().find(|d| format!("limit.{}", d.limit) == tight.id) {
        let by: Vec<String> = dispute
            .by_rule
            .iter()
            .map(|(rule, odds)| format!("{} by the {rule} rule", odds.short()))
            .collect();
        text += &format!(" Nobody has said which volume counts: {}.", by.join(", "));
    }
    let per_flow = tight.value.zip(standing::tightness(project)).map(|(v, t)| (v, t.flow_m3_h));
    if let (Some(needed), Some((value, flow))) = (chances.leak.needed_m3_h, per_flow)
        && flow > needed
    {
        let less = show_as((flow - needed) / 3600.0, Dimension::VolumeFlow, system, Qualifier::At50Pa);
        text += &format!(
            " To close with nine in ten, read {} or less: {less} less than today is still to be found.",
            air(value * needed / flow)
        );
    }
    text
}

fn next(standing: &Standing, chances: &Chances) -> Vec<NextStep> {
    let mut steps: Vec<NextStep> = chances
        .steps
        .iter()
        .map(|s| NextStep {
            what: format!("{}.", s.what),
            why: s.why.clone(),
            finding: s.finding.clone(),
            hours: Some(s.hours),
            outlay: (s.outlay > 0.0).then_some(s.outlay),
            worth: Some(s.worth),
        })
        .collect();
    // Steps from findings, where no valued step says the same.
    for step in &standing.next {
        let said = |s: &NextStep| {
            let start = |t: &str| t.chars().take(12).collect::<String>();
            start(&s.what) == start(&step.what)
        };
        if !steps.iter().any(said) {
            steps.push(step.clone());
        }
    }
    steps.truncate(STEPS);
    steps
}
