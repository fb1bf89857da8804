//! What could be done next, and what it is worth: readings, answers, decisions, seals.
//!
//! A reading's worth is the expected drop in the loss of going on or holding, limit by limit; that of a seal the drop
//! that a smaller leak brings by itself. Hours and outlay of a step's kind are judgement; the user's rate turns one
//! into the other.

use super::belief::Known;
use super::run::Columns;
use super::{Asked, Disputed, WorthStep};
use crate::check::Project;
use crate::standing::{leaks, tightness};
use building::limits::{Comparison, LimitResult};
use odds::judgement;
use odds::next::{Loss, Step, value};
use year::judge::Judgement;

/// Money of an hour of one person until the user says otherwise (judgement): turns outlay into hours.
const RATE: f64 = 60.0;
/// Causes in use that are asked for a step of their own.
const CAUSES: usize = 3;
/// Error of a reading of a single cause, in standard deviations of what is believed before (judgement: half).
const READS: f64 = 0.5;
/// Share by which the measured flow of one leak may be off, one standard deviation (judgement).
const LEAK_SHARE: f64 = 0.25;

struct Candidate {
    step: Step,
    what: String,
    /// Which chance it speaks of: 0 on paper, 1 in use.
    of: usize,
}

/// Returns steps worth something, most worth an hour first.
pub(super) fn of(
    project: &Project,
    judged: &Judgement,
    known: &Known,
    columns: [&Columns; 2],
    disputes: &[Disputed],
    asked: Asked,
) -> Result<Vec<WorthStep>, String> {
    let loss = Loss::default();
    let mut all = candidates(project, judged, known, columns, asked)?;
    let mut steps = Vec::new();
    for of in [0, 1] {
        let limits: Vec<usize> = (0..judged.rows.len())
            .filter(|at| !judged.rows[*at].limit.advisory && !columns[of].margins[*at].is_empty())
            .collect();
        let margins: Vec<&[f64]> = limits.iter().map(|at| columns[of].margins[*at].as_slice()).collect();
        let (mine, rest): (Vec<Candidate>, Vec<Candidate>) = all.into_iter().partition(|c| c.of == of);
        all = rest;
        let list: Vec<Step> = mine.iter().map(|c| c.step.clone()).collect();
        let valued = value(&list, &margins, &columns[of].weights, loss, RATE, asked.seed)
            .map_err(|e| e.to_string())?;
        for v in valued {
            let limit = &judged.rows[limits[v.limit]].limit;
            let settles = if v.most > 0.0 { (100.0 * (v.worth / v.most).min(1.0)).round() } else { 0.0 };
            let count = if of == 0 { "on paper" } else { "in use" };
            let dispute = disputes.iter().find(|d| mine[v.step].step.id == format!("rule:{}", d.limit));
            let why = match dispute {
                Some(dispute) => {
                    let by: Vec<String> = dispute
                        .by_rule
                        .iter()
                        .map(|(rule, o)| format!("{} by the {rule} rule", o.short()))
                        .collect();
                    format!("{}: {}", limit.title, by.join(", "))
                }
                None => {
                    format!("{settles:.0} % of what certainty about {} {count} would be worth", limit.title)
                }
            };
            steps.push((
                v.worth_an_hour,
                WorthStep {
                    what: mine[v.step].what.clone(),
                    why,
                    finding: format!("limit.{}", limit.id),
                    hours: mine[v.step].step.hours,
                    outlay: mine[v.step].step.outlay,
                    worth: v.worth,
                },
            ));
        }
    }
    steps.extend(seals(project, judged, columns[0], loss));
    steps.sort_by(|a, b| b.0.total_cmp(&a.0));
    Ok(steps.into_iter().map(|s| s.1).collect())
}

fn hours(kind: &str) -> (f64, f64) {
    judgement::table().step_of(kind).map_or((1.0, 0.0), |s| (s.hours, s.outlay))
}

fn candidate(id: &str, what: String, kind: &str, reads: Vec<f64>, sd: f64, of: usize) -> Candidate {
    let (hours, outlay) = hours(kind);
    Candidate { step: Step { id: id.to_owned(), reads, sd, hours, outlay }, what, of }
}

fn candidates(
    project: &Project,
    judged: &Judgement,
    known: &Known,
    columns: [&Columns; 2],
    asked: Asked,
) -> Result<Vec<Candidate>, String> {
    let paper = columns[0];
    let mut all = Vec::new();
    if known.final_reading_m3_h.is_none() {
        let ln: Vec<f64> = paper.leak.iter().map(|q| numeric::ln(*q)).collect();
        let own = judgement::table().reading.single_share;
        let ahead = numeric::ln(known.ahead.spread95) / numeric::distribution::Z95;
        let again =
            if known.days.is_empty() { "Read the fan once at 50 Pa" } else { "Read the fan again at 50 Pa" };
        all.push(candidate(
            "fan",
            again.to_owned(),
            "read the fan",
            ln,
            (own * own + ahead * ahead).sqrt(),
            0,
        ));
    }
    for dispute in &known.disputes {
        let Some(cause) = paper.causes.find(&format!("rule:{}", dispute.limit)) else { continue };
        let reads = paper.scores[cause].iter().map(|z| dispute.rule_at(*z) as f64).collect();
        let what = format!("Get the answer of the {} in writing: which counting rule", dispute.to);
        all.push(candidate(&format!("rule:{}", dispute.limit), what, "ask in writing", reads, 0.0, 0));
    }
    for choice in &known.choices {
        let Some(cause) = paper.causes.find(&format!("choice:{}", choice.what)) else { continue };
        let reads = paper.scores[cause].iter().map(|z| f64::from(u8::from(*z > 0.0))).collect();
        let what = format!("Settle whether {} stays or is exchanged", choice.what);
        all.push(candidate(&format!("choice:{}", choice.what), what, "ask in writing", reads, 0.0, 0));
    }
    let mut seen: Vec<usize> = Vec::new();
    for (at, row) in judged.rows.iter().enumerate() {
        let margin = &columns[1].margins[at];
        if row.limit.advisory || margin.is_empty() {
            continue;
        }
        let shares = columns[1].classes.shares(margin, CAUSES, asked.seed).map_err(|e| e.to_string())?;
        for share in shares.iter().filter(|s| s.share > 0.02) {
            let id = columns[1].causes.list()[share.cause].id.clone();
            let Some((kind, what)) = step_for(project, &id) else { continue };
            if seen.contains(&share.cause) {
                continue;
            }
            seen.push(share.cause);
            let reads = columns[1].scores[share.cause].clone();
            all.push(candidate(&id, what, kind, reads, READS, 1));
        }
    }
    Ok(all)
}

/// The step that looks at a stated value; `None` for what nobody can look at before the building is used.
fn step_for(project: &Project, id: &str) -> Option<(&'static str, String)> {
    let words = super::words::cause(&project.building, id);
    let last = id.rsplit('.').next().unwrap_or("");
    let done = |stage: &str| {
        let facts = &project.building.project;
        let at = |name: &str| facts.stages.iter().position(|s| s == name);
        at(&facts.stage).zip(at(stage)).is_some_and(|(now, then)| now >= then)
    };
    if id.starts_with("unit.") {
        return Some(("read a label", format!("Read the label on site: {words}")));
    }
    if id.starts_with("ventilation.") {
        return done("commission").then(|| ("measure a flow", format!("Measure at commissioning: {words}")));
    }
    match last {
        "thickness" | "share" => Some(("tape and count", format!("Measure at five places: {words}"))),
        "conductivity" => Some(("core and weigh", format!("Core and weigh, or log in place: {words}"))),
        "density" => Some(("core and weigh", format!("Core and weigh: {words}"))),
        _ => None,
    }
}

/// Seals of leaks that were found, measured, and can be seen by the test that counts.
fn seals(project: &Project, judged: &Judgement, paper: &Columns, loss: Loss) -> Vec<(f64, WorthStep)> {
    let Some(reading) = tightness(project) else { return Vec::new() };
    let Some(at) = judged.rows.iter().position(|r| r.limit.result == LimitResult::AirChange50) else {
        return Vec::new();
    };
    let (row, margin) = (&judged.rows[at], &paper.margins[at]);
    if margin.is_empty() || row.limit.comparison != Comparison::AtMost {
        return Vec::new();
    }
    let chance = |m: &dyn Fn(usize) -> f64| paper.weights.share(|i| m(i) >= 0.0);
    let benefit = |p: f64| (loss.wrong_hold * p - loss.wrong_go * (1.0 - p)).max(0.0);
    let before = chance(&|i| margin[i]);
    let (hours, _) = hours("seal a leak");
    let mut steps = Vec::new();
    for leak in leaks(project) {
        let Some(flow) = leak.m3_h.filter(|_| !(reading.guarded && leak.to_neighbour)) else { continue };
        let noise = numeric::counter::Stream::new(super::SEED, &format!("seal:{}", leak.at));
        // The leak's part of the end is its part of today's reading.
        let part = |i: usize| flow / reading.flow_m3_h * (1.0 + LEAK_SHARE * noise.normal(i as u64));
        // margin = 1 − q/limit; without the leak q shrinks by its part.
        let after = chance(&|i| 1.0 - (1.0 - margin[i]) * (1.0 - part(i).clamp(0.0, 1.0)));
        let worth = benefit(after) - benefit(before) + 0.01 * (after - before);
        let n = paper.weights.effective_size();
        let words =
            |p: f64| odds::Odds::new(p, n).map_or_else(String::new, |o| o.short().replace(" in 100", ""));
        if after > before {
            let what = format!("Seal {}", leak.at);
            let why = format!("{}: {} → {} in 100 on paper", row.limit.title, words(before), words(after));
            let finding = format!("limit.{}", row.limit.id);
            steps.push((worth / hours, WorthStep { what, why, finding, hours, outlay: 0.0, worth }));
        }
    }
    steps
}
