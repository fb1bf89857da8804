//! Today's decision: one sentence, and one more for why, from the finding that binds first.

use super::evidence::Tightness;
use super::types::{Comparison, Finding, FindingKind, Headline, NextStep, Outcome, Standing};
use super::words::{Words, capital};
use crate::check::Project;
use quantity::Dimension;

/// Stages after which the air barrier can no longer be reached.
const COVERED_BY: [&str; 3] = ["insulate", "close-in", "in use"];

/// Chooses the headline. What cannot be undone comes before what can: a barrier about to be covered, then a limit that
/// is missed, then a gap of the present stage, then what nobody knows yet.
pub(super) fn headline(project: &Project, standing: &Standing, reading: Option<&Tightness>) -> Headline {
    let words = Words::of(&project.building);
    barrier(project, standing, reading, &words)
        .or_else(|| missed(standing, &words))
        .or_else(|| gap(project, standing))
        .or_else(|| unknown(standing))
        .unwrap_or_else(|| settled(standing, &words))
}

fn made(decision: String, because: String, finding: &Finding) -> Headline {
    Headline { decision, because, finding: Some(finding.id.clone()) }
}

/// A reading over the limit while the barrier can still be reached.
fn barrier(
    project: &Project,
    standing: &Standing,
    reading: Option<&Tightness>,
    words: &Words,
) -> Option<Headline> {
    let reading = reading?;
    let finding = standing.limits().find(|f| f.id == "limit.air-change" && f.status == Outcome::NotMet)?;
    let facts = &project.building.project;
    let at = |name: &str| facts.stages.iter().position(|s| s == name);
    let now = at(&facts.stage)?;
    let first_cover = COVERED_BY.iter().filter_map(|s| at(s)).min()?;
    if now >= first_cover {
        return None;
    }
    let (value, limit) = (finding.value?, finding.threshold?);
    let guard = if reading.guarded { "guarded " } else { "" };
    let because = format!(
        "The {guard}reading of {} is {}; it must end at or under {}.{}",
        reading.day,
        words.show(value, Dimension::AirChange),
        words.show(limit, Dimension::AirChange),
        rules_disagree(finding, limit, words),
    );
    Some(made("Do not close the walls yet.".to_owned(), because, finding))
}

/// Says when another counting rule would turn the verdict.
fn rules_disagree(finding: &Finding, limit: f64, words: &Words) -> String {
    let by_rule = |b: &super::types::CountedBeside| {
        b.rule.strip_prefix("volume by ").filter(|_| b.value <= limit).map(|rule| (rule.to_owned(), b.value))
    };
    finding.beside.iter().find_map(by_rule).map_or_else(String::new, |(rule, value)| {
        let rule = rule.trim_end_matches(" own");
        let value = words.show(value, Dimension::AirChange);
        format!(" Counted by the {rule} rule it would be {value}: ask in writing which rule counts.")
    })
}

/// A binding limit that is missed.
fn missed(standing: &Standing, words: &Words) -> Option<Headline> {
    let finding = standing.limits().find(|f| standing.binds(f) && f.status == Outcome::NotMet)?;
    let decision = format!("As it stands it misses {}.", finding.subject);
    let more = standing.limits().filter(|f| standing.binds(f) && f.status == Outcome::NotMet).count() - 1;
    let others = match more {
        0 => String::new(),
        1 => " One other limit is missed too.".to_owned(),
        n => format!(" {n} other limits are missed too."),
    };
    Some(made(decision, format!("{}{others}", over(finding, words)), finding))
}

/// "5.4 kBtu/ft² a year, 8 % over what is allowed; most of it is sun."
fn over(finding: &Finding, words: &Words) -> String {
    let dimension = Dimension::ALL.into_iter().find(|d| d.name() == finding.dimension);
    let shown = |v: f64| match dimension {
        Some(d) => quantity::read(&format!("{v} {}", finding.unit), d)
            .map_or_else(|_| v.to_string(), |r| words.show(r.value, d)),
        None => v.to_string(),
    };
    let (Some(value), Some(threshold), Some(margin)) = (finding.value, finding.threshold, finding.margin)
    else {
        return finding.sentence.clone();
    };
    let side = if finding.comparison == Some(Comparison::AtLeast) { "short of" } else { "over" };
    let cause = finding
        .causes
        .first()
        .map_or_else(String::new, |c| format!("; {:.0} % of it is {}", 100.0 * c.share, c.stated));
    format!("{} is {:.0} % {side} {}{cause}.", capital(&shown(value)), 100.0 * margin.abs(), shown(threshold))
}

/// A gap of a stage that is past or present.
fn gap(project: &Project, standing: &Standing) -> Option<Headline> {
    let facts = &project.building.project;
    let at = |name: &str| facts.stages.iter().position(|s| s == name);
    let now = at(&facts.stage)?;
    let due =
        |f: &&Finding| f.kind == FindingKind::Gap && f.is_open() && at(&f.stage).is_none_or(|s| s <= now);
    let finding = standing.findings.iter().find(due)?;
    let count = standing.findings.iter().filter(due).count();
    let decision = if count == 1 {
        "Close one gap before going on.".to_owned()
    } else {
        format!("Close {count} gaps before going on.")
    };
    Some(made(decision, format!("First: {}", finding.sentence), finding))
}

/// Limits that nothing known decides.
fn unknown(standing: &Standing) -> Option<Headline> {
    let open: Vec<&Finding> =
        standing.limits().filter(|f| standing.binds(f) && f.status == Outcome::NotKnown).collect();
    let finding = open.first()?;
    let names: Vec<String> = open.iter().take(3).map(|f| f.subject.clone()).collect();
    let decision = "Nothing known is missed; not everything is known.".to_owned();
    Some(made(decision, format!("Open: {}. {}", crate::diagnostic::list(&names), finding.sentence), finding))
}

fn settled(standing: &Standing, words: &Words) -> Headline {
    match standing.limits().find(|f| standing.binds(f)) {
        Some(nearest) => Headline {
            decision: "Every limit is met as far as it is known today.".to_owned(),
            because: format!("Nearest to its limit is {}: {}", nearest.subject, room(nearest, words)),
            finding: Some(nearest.id.clone()),
        },
        None => Headline {
            decision: "No limit is named.".to_owned(),
            because: "Name a set under [project], such as limits = [\"retrofit\"].".to_owned(),
            finding: None,
        },
    }
}

fn room(finding: &Finding, _words: &Words) -> String {
    finding.margin.map_or_else(|| finding.sentence.clone(), |m| format!("{:.0} % room is left.", 100.0 * m))
}

/// What is worth doing next: steps that follow from findings, the binding one first.
///
/// A leak to a neighbour cannot be seen by a guarded test, so sealing it is not advised for the sake of that test.
pub(super) fn next(project: &Project, standing: &Standing, reading: Option<&Tightness>) -> Vec<NextStep> {
    let mut steps = Vec::new();
    let mut add = |what: String, why: &str, finding: &str| {
        steps.push(NextStep {
            what,
            why: why.to_owned(),
            finding: finding.to_owned(),
            hours: None,
            outlay: None,
            worth: None,
        });
    };
    let tight = standing.limits().find(|f| f.id == "limit.air-change");
    let guarded = reading.is_some_and(|r| r.guarded);
    if let Some(tight) = tight.filter(|f| f.status != Outcome::Met) {
        for leak in super::site::leaks(project).into_iter().filter(|l| !(guarded && l.to_neighbour)).take(2) {
            let why = "found leaking, and no record says it is sealed";
            add(format!("Seal {} and read again.", leak.at), why, &tight.id);
        }
        if reading.is_none() {
            add("Read the fan once at 50 Pa.".to_owned(), "nobody has measured the tightness yet", &tight.id);
        }
    }
    for question in
        standing.findings.iter().filter(|f| f.is_open() && f.subject.starts_with("question to")).take(1)
    {
        add(
            format!(
                "Get the answer of the {} in writing.",
                question.subject.trim_start_matches("question to ")
            ),
            &question.sentence,
            &question.id,
        );
    }
    for gap in standing
        .findings
        .iter()
        .filter(|f| f.kind == FindingKind::Gap && f.id.starts_with("gap.") && f.is_open())
        .take(2)
    {
        add(format!("Settle who closes {}.", gap.subject), &gap.sentence, &gap.id);
    }
    for proof in standing
        .findings
        .iter()
        .filter(|f| f.kind == FindingKind::Proof && f.id.starts_with("proof.") && f.is_open())
        .take(1)
    {
        add(format!("Bring in the proof for {}.", proof.subject), &proof.sentence, &proof.id);
    }
    steps
}
