//! Samples of both chances, limit by limit.

use super::belief::{Choice, Known, LeakSoFar};
use super::steps;
use super::{Asked, Chances, Disputed, Doubt, Group, LimitChance, OneChance};
use crate::check::Project;
use building::limits::{Comparison, Join, Limit, LimitResult};
use building::{Resolved, counting};
use numeric::exp;
use numeric::weighted::Weights;
use odds::cause::{Causes, Chance};
use odds::evidence::Belief;
use odds::leak::{Factor, LeakBelief};
use odds::matters::Classes;
use odds::sample::{self, Draw};
use odds::{chances, judgement};
use year::judge::{Judged, Judgement, Sizes};
use year::sampled::Kept;
use year::{Frame, Grain, Use, YearOptions};

/// Causes told of one limit at most.
const TOLD: usize = 5;

/// Columns of one chance, for steps and levers.
pub(super) struct Columns {
    pub causes: Causes,
    /// Scores, cause by cause.
    pub scores: Vec<Vec<f64>>,
    /// Margins, limit by limit; empty where nothing is known.
    pub margins: Vec<Vec<f64>>,
    /// Leak at the end or its reading, m³/h.
    pub leak: Vec<f64>,
    pub weights: Weights,
    /// Samples sorted by every cause.
    pub classes: Classes,
}

/// Runs both chances.
pub(super) fn run(
    project: &Project,
    judged: &Judgement,
    known: &Known,
    asked: Asked,
    like: Option<&Chances>,
) -> Result<Chances, String> {
    let leak = known.leak.belief().map_err(|e| e.to_string())?;
    let mut notes = known.notes.clone();
    let paper =
        one(project, judged, known, &leak, asked, (Chance::Paper, like.map(|l| &l.causes[0])), &mut notes)?;
    let in_use =
        one(project, judged, known, &leak, asked, (Chance::InUse, like.map(|l| &l.causes[1])), &mut notes)?;
    let told = |columns: &Columns, at: usize| told(project, columns, at, asked);
    let limits: Vec<LimitChance> = judged
        .rows
        .iter()
        .enumerate()
        .map(|(at, row)| {
            Ok(LimitChance {
                id: row.limit.id.clone(),
                title: row.limit.title.clone(),
                group: row.limit.group.as_ref().map(|g| (g.name.clone(), g.join)),
                advisory: row.limit.advisory,
                paper: told(&paper.0, at)?.with(paper.1[at]),
                in_use: told(&in_use.0, at)?.with(in_use.1[at]),
            })
        })
        .collect::<Result<_, String>>()?;
    let disputes = by_rule(project, judged, known, &leak, &paper.0);
    let left_out =
        limits.iter().filter(|l| !l.advisory && l.paper.odds.is_none()).map(|l| l.title.clone()).collect();
    notes.push(format!(
        "Chances: {} samples of each, seed {}; on paper under standard use, in use with everything stated with a spread.",
        asked.samples, asked.seed
    ));
    notes.push(format!(
        "Judgement: how far the calculation lies from the certifying body's (on paper) and from the building (in use), \
         and how years differ, since one weather year is held: {}.",
        discrepancies(judged)
    ));
    Ok(Chances {
        asked,
        groups: groups(judged, [&paper.0, &in_use.0]),
        together: [together(judged, &paper.0), together(judged, &in_use.0)],
        left_out,
        leak: so_far(project, known, &leak, judged)?,
        steps: steps::of(project, judged, known, [&paper.0, &in_use.0], &disputes, asked)?,
        disputes,
        limits,
        notes,
        causes: [paper.0.causes, in_use.0.causes],
    })
}

impl OneChance {
    fn with(self, result: Option<[f64; 3]>) -> Self {
        Self { result, ..self }
    }
}

fn discrepancies(judged: &Judgement) -> String {
    let mut words: Vec<String> = Vec::new();
    for row in &judged.rows {
        let name = row.limit.result.word();
        if let Some(d) = judgement::table().discrepancy_of(name)
            && words.iter().all(|w| !w.starts_with(name))
        {
            words.push(format!("{name} {:.0} and {:.0} %", 100.0 * d.paper, 100.0 * d.in_use));
        }
    }
    words.join(", ")
}

/// The chance of a limit with what its doubt hangs on.
fn told(project: &Project, columns: &Columns, at: usize, asked: Asked) -> Result<OneChance, String> {
    let margin = &columns.margins[at];
    if margin.is_empty() {
        return Ok(OneChance::default());
    }
    let shares = columns.classes.shares(margin, TOLD, asked.seed).map_err(|e| e.to_string())?;
    // Below one in a hundred nobody acts on a share.
    let doubts = shares
        .iter()
        .filter(|s| s.share >= 0.01)
        .map(|s| {
            let id = columns.causes.list()[s.cause].id.clone();
            Doubt { words: super::words::cause(&project.building, &id), id, share: s.share }
        })
        .collect();
    Ok(OneChance { odds: chances::of(margin, &columns.weights), doubts, result: None })
}

/// A limit alone or a group of them, by the columns of one chance.
fn units(judged: &Judgement, columns: &Columns) -> Vec<(Option<building::limits::Group>, Vec<f64>)> {
    let mut all: Vec<(Option<building::limits::Group>, Vec<f64>)> = Vec::new();
    for (at, row) in judged.rows.iter().enumerate() {
        if row.limit.advisory || columns.margins[at].is_empty() {
            continue;
        }
        let Some(group) = &row.limit.group else {
            all.push((None, columns.margins[at].clone()));
            continue;
        };
        if all.iter().any(|u| u.0.as_ref() == Some(group)) {
            continue;
        }
        let rows = judged.rows.iter().zip(&columns.margins);
        let of: Vec<&Vec<f64>> = rows
            .filter(|(r, m)| r.limit.group.as_ref() == Some(group) && !m.is_empty())
            .map(|(_, m)| m)
            .collect();
        all.push((Some(group.clone()), chances::joined(&of, group.join)));
    }
    all
}

/// All binding limits together; alternatives count once.
fn together(judged: &Judgement, columns: &Columns) -> Option<odds::Odds> {
    let units = units(judged, columns);
    let all: Vec<&Vec<f64>> = units.iter().map(|u| &u.1).collect();
    if all.is_empty() {
        return None;
    }
    chances::of(&chances::joined(&all, Join::AllOf), &columns.weights)
}

fn groups(judged: &Judgement, columns: [&Columns; 2]) -> Vec<Group> {
    let of = columns.map(|c| (units(judged, c), &c.weights));
    let odds = |k: usize, group: &building::limits::Group| {
        let unit = of[k].0.iter().find(|u| u.0.as_ref() == Some(group))?;
        chances::of(&unit.1, of[k].1)
    };
    let named = of[0].0.iter().filter_map(|u| u.0.as_ref());
    named.map(|g| Group { name: g.name.clone(), join: g.join, odds: [odds(0, g), odds(1, g)] }).collect()
}

/// What the chance on paper would be under each rule of a dispute: of the leak exactly, of other results by the samples
/// that drew the rule.
fn by_rule(
    project: &Project,
    judged: &Judgement,
    known: &Known,
    leak: &LeakBelief,
    paper: &Columns,
) -> Vec<Disputed> {
    let sizes = Sizes::of(&project.building);
    let mut all = Vec::new();
    for dispute in &known.disputes {
        let at = judged.rows.iter().position(|r| r.limit.id == dispute.limit);
        let cause = paper.causes.find(&format!("rule:{}", dispute.limit));
        let (Some(at), Some(cause)) = (at, cause) else { continue };
        let (row, margin) = (&judged.rows[at], &paper.margins[at]);
        if margin.is_empty() {
            continue;
        }
        let chance = |k: usize, rule: &str| {
            let volume = sizes.count(rule).map_or(f64::NAN, |c| c.volume_m3);
            if row.limit.result == LimitResult::AirChange50 && known.final_reading_m3_h.is_none() {
                return odds::Odds::new(
                    leak.chance_of_reading(row.threshold * volume),
                    paper.weights.effective_size(),
                );
            }
            let of: Vec<usize> =
                (0..margin.len()).filter(|i| dispute.rule_at(paper.scores[cause][*i]) == k).collect();
            let met = of.iter().filter(|i| margin[**i] >= 0.0).count();
            odds::Odds::new(met as f64 / of.len().max(1) as f64, of.len() as f64)
        };
        let rules = dispute.rules.iter().enumerate();
        let by_rule = rules.filter_map(|(k, (id, name))| chance(k, id).map(|o| (name.clone(), o))).collect();
        all.push(Disputed { limit: dispute.limit.clone(), to: dispute.to.clone(), by_rule });
    }
    all
}

fn so_far(
    project: &Project,
    known: &Known,
    leak: &LeakBelief,
    judged: &Judgement,
) -> Result<LeakSoFar, String> {
    let (final_m3_h, final_spread95) = leak.final_reading();
    let needed = match judged.rows.iter().find(|r| r.limit.result == LimitResult::AirChange50) {
        Some(row) if known.final_reading_m3_h.is_none() && row.limit.comparison == Comparison::AtMost => {
            let volume = Sizes::of(&project.building).count(&row.limit.rule).map_or(0.0, |c| c.volume_m3);
            let mut story = known.leak.clone();
            // What has changed since the last reading is as open as between rounds of sealing.
            if let Some(last) = story.readings.last_mut() {
                last.then = Factor { median: 1.0, spread95: judgement::table().reading.leak_between };
            }
            let share = judgement::table().reading.single_share;
            story.needed_today(row.threshold * volume, 0.9, share, known.ahead).map_err(|e| e.to_string())?
        }
        _ => None,
    };
    Ok(LeakSoFar {
        days: known.days.clone(),
        final_m3_h,
        final_spread95,
        needed_m3_h: needed,
        done: known.final_reading_m3_h.is_some(),
    })
}

/// What is drawn besides the stated values.
struct Extra {
    test: usize,
    leak: usize,
    choices: Vec<usize>,
    disputes: Vec<usize>,
    /// Model's and weather's error of each limit's result.
    model: Vec<Option<(usize, f64)>>,
    weather: Vec<Option<(usize, f64)>>,
}

impl Extra {
    fn add(causes: &mut Causes, judged: &Judgement, known: &Known, chance: Chance) -> Self {
        let table = judgement::table();
        let model = |causes: &mut Causes, row: &Judged| {
            let name = row.limit.result.word();
            let d = table.discrepancy_of(name)?;
            let sd = if chance == Chance::Paper { d.paper } else { d.in_use };
            Some((causes.add(&format!("model:{name}")), sd))
        };
        let weather = |causes: &mut Causes, row: &Judged| {
            let share = match row.limit.result {
                LimitResult::HeatingDemand => table.weather.heating_share,
                LimitResult::CoolingDemand => table.weather.cooling_share,
                LimitResult::HeatingLoad | LimitResult::CoolingLoad => table.weather.load_share,
                LimitResult::WarmHours | LimitResult::HumidHours => table.weather.hours_share,
                _ => return None,
            };
            let name = row.limit.result.word();
            (chance == Chance::InUse).then(|| (causes.add(&format!("weather:{name}")), share))
        };
        Self {
            leak: causes.add("airtightness.expected"),
            test: causes.add("test:final"),
            choices: known.choices.iter().map(|c| causes.add(&format!("choice:{}", c.what))).collect(),
            disputes: known.disputes.iter().map(|d| causes.add(&format!("rule:{}", d.limit))).collect(),
            model: judged.rows.iter().map(|row| model(causes, row)).collect(),
            weather: judged.rows.iter().map(|row| weather(causes, row)).collect(),
        }
    }
}

type Results = Vec<Option<[f64; 3]>>;

fn one(
    project: &Project,
    judged: &Judgement,
    known: &Known,
    leak: &LeakBelief,
    asked: Asked,
    (chance, like): (Chance, Option<&Causes>),
    notes: &mut Vec<String>,
) -> Result<(Columns, Results), String> {
    let building = &project.building;
    let mut causes = Causes::of(&known.values, chance, asked.seed);
    let extra = Extra::add(&mut causes, judged, known, chance);
    let use_case = if chance == Chance::Paper { Use::Standard } else { Use::Real };
    let options = YearOptions::default();
    let frame = Frame::new(building, &project.weather.climate, use_case, Grain::Limits, &options)
        .map_err(|e| e.to_string())?;
    let kept = Kept::new(&frame);
    match like {
        Some(other) => causes = causes.placed_as(other),
        None => {
            let importance = importance(project, &frame, &kept, &causes);
            let place = |c: &odds::Cause| if c.members.is_empty() { f64::INFINITY } else { importance(c) };
            causes.place_by(asked.samples, place);
        }
    }
    // Readings of values that are uncertain in this chance; the others have nothing to learn.
    let belief = absorb(known, &causes, asked.seed, notes, chance)?;
    let draw = Draw::new(&known.values, &causes, &belief);
    let (scores, mut samples) = draw.columns(asked.samples);
    let volume = counting::count(building, counting::certification_style()).volume_m3;
    let leak_column: Vec<f64> = (0..asked.samples)
        .map(|i| {
            let score = scores[extra.leak][i];
            match (chance, known.final_reading_m3_h) {
                (Chance::Paper, Some(reading)) => reading,
                (Chance::Paper, None) => leak.reading_m3_h(score, scores[extra.test][i]),
                (Chance::InUse, _) => leak.leak_m3_h(score),
            }
        })
        .collect();
    let stays = |score: f64| score > 0.0;
    for (i, sample) in samples.iter_mut().enumerate() {
        sample.0[building.airtightness.expected.0 as usize] = leak_column[i] / volume;
        for (choice, cause) in known.choices.iter().zip(&extra.choices) {
            if stays(scores[*cause][i]) {
                put(sample, choice);
            }
        }
    }
    let years = sample::years(&frame, &samples).map_err(|e| e.to_string())?;
    let sizes = Sizes::of(building);
    let (mut margins, mut results) = (Vec::new(), Vec::new());
    let weights = Weights::equal(asked.samples).map_err(|e| e.to_string())?;
    for (at, row) in judged.rows.iter().enumerate() {
        let dispute = known.disputes.iter().position(|d| d.limit == row.limit.id);
        let value = |i: usize| {
            let rule = dispute.filter(|_| chance == Chance::Paper).map(|d| {
                let of = &known.disputes[d];
                &of.rules[of.rule_at(scores[extra.disputes[d]][i])].0
            });
            let own;
            let limit = match rule {
                Some(rule) => {
                    own = Limit { rule: rule.clone(), ..row.limit.clone() };
                    &own
                }
                None => &row.limit,
            };
            let error: f64 = [&extra.model[at], &extra.weather[at]]
                .into_iter()
                .flatten()
                .map(|(cause, sd)| sd * scores[*cause][i])
                .sum();
            sizes.result(limit, &samples[i], &years[i], leak_column[i]).map(|v| v * exp(error))
        };
        let column: Option<Vec<f64>> =
            if told_by_model(row, chance) { (0..asked.samples).map(value).collect() } else { None };
        results.push(column.as_ref().map(|c| {
            let q = weights.quantiles(c, &[0.5, 0.05, 0.95]);
            [q[0], q[1], q[2]]
        }));
        let room = |v: &f64| match row.limit.comparison {
            Comparison::AtMost => (row.threshold - v) / row.threshold,
            Comparison::AtLeast => (v - row.threshold) / row.threshold,
        };
        margins.push(column.map_or_else(Vec::new, |c| c.iter().map(room).collect()));
    }
    let classes = Classes::new(&scores, &weights);
    Ok((Columns { causes, scores, margins, leak: leak_column, weights, classes }, results))
}

/// A limit that a reading on site decides is not told by stated figures alone.
fn told_by_model(row: &Judged, chance: Chance) -> bool {
    match row.limit.result {
        // Accepted as declared on paper: nothing there is uncertain.
        LimitResult::RecoveryRatio | LimitResult::FanPower => chance == Chance::InUse || row.met.is_some(),
        _ => row.value.is_some(),
    }
}

fn put(sample: &mut Resolved, choice: &Choice) {
    for (key, change) in &choice.moves {
        sample.0[key.0 as usize] += change;
    }
}

fn absorb(
    known: &Known,
    causes: &Causes,
    seed: u64,
    notes: &mut Vec<String>,
    chance: Chance,
) -> Result<Belief, String> {
    use odds::evidence::{Forward, Reading};
    let of = |r: &Reading| match r.of {
        Forward::Value(key) | Forward::LogValue(key) => Some(key),
        _ => None,
    };
    let readings: Vec<Reading> = known
        .readings
        .iter()
        .filter_map(|r| {
            let key = of(r).filter(|k| causes.of_value(*k).is_some())?;
            Some(Reading {
                record: r.record.clone(),
                of: Forward::Value(key),
                seen: r.seen,
                sd: r.sd,
                shared: r.shared.clone(),
            })
        })
        .collect();
    if chance == Chance::InUse && !readings.is_empty() {
        notes.push(format!("{} figures of the log narrow stated values, each once.", readings.len()));
    }
    Belief::absorb(&known.values, causes, &readings, seed).map_err(|e| e.to_string())
}

/// How much a cause moves heating and cooling, by the monthly method at one standard deviation: only a ranking.
fn importance<'a>(
    project: &'a Project,
    frame: &'a Frame<'_>,
    kept: &'a Kept,
    causes: &Causes,
) -> impl Fn(&odds::Cause) -> f64 + use<'a> {
    use rayon::prelude::*;
    let nominal = project.building.values.nominal();
    let base = frame.monthly(kept, &nominal).unwrap_or_default();
    let all: std::collections::BTreeMap<String, f64> = causes
        .list()
        .par_iter()
        .map(|cause| {
            let mut moved = nominal.clone();
            for key in &cause.members {
                let stated = project.building.values.get(*key);
                moved.0[key.0 as usize] = odds::cause::value_at(&stated.distribution, 1.0);
            }
            let there = frame.monthly(kept, &moved).unwrap_or(base);
            let share = |a: f64, b: f64| if b > 0.0 { ((a - b) / b).abs() } else { 0.0 };
            (cause.id.clone(), share(there.0, base.0) + share(there.1, base.1))
        })
        .collect();
    move |cause| all.get(&cause.id).copied().unwrap_or(0.0)
}
