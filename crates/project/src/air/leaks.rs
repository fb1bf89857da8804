//! Forecast of the leak from the book's own joints, openings, penetrations and panels; what tests and finds teach about it;
//! what to isolate next; what today's reading must be.

use super::leak_list::{Book, Item, Stated, book, scaled};
use super::logged::Logged;
use super::report::TestReport;
use super::{Air, REFERENCE_PA};
use crate::check::Project;
use crate::standing::records_until_today;
use ::air::forecast::{Forecast, Leak, SAMPLES};
use ::air::guarded::{LeakKind, Setup, seen_share};
use ::air::readings::Neighbour;
use ::air::stage_target::{Ahead, chance_from, needed_now};
use ::air::suspects::{self, Find, Posterior, Reading, Repair, SizeGuess, Step};
use building::records::Body;
use building::stated::ValueKey;
use numeric::distribution::Distribution;
use serde::Serialize;

/// Seed of every sampled answer here: equal inputs give equal figures.
const SEED: u64 = 9972;
/// Share of the test pressure across the boundary to an untouched neighbour where no second gauge is on record, with its
/// standard uncertainty (judgement: a neighbour far leakier than we are).
pub const UNTOUCHED_SHARE: (f64, f64) = (0.9, 0.05);
/// Flow that an hour of sealing must save to be worth it, m³/h of leak for each minute (judgement).
const M3_H_PER_MINUTE: f64 = 0.2;
/// Standard uncertainty of a difference of two readings at one setting, as a share of the flow (judgement).
const DIFFERENCE_SHARE: f64 = 0.005;

/// A leak of the forecast.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeakLine {
    /// What leaks.
    pub id: String,
    /// `outdoors` or `neighbour`.
    pub leads_to: &'static str,
    /// Length, area or number.
    pub quantity: f64,
    /// Its unit.
    pub unit: &'static str,
    /// Where the figure comes from.
    pub basis: String,
    /// Mean flow at the reference pressure, m³/h.
    pub mean_m3_h: f64,
    /// Share of the mean total.
    pub share: f64,
}

/// The forecast of leaks to outdoors, and of those through party boundaries.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ForecastReport {
    /// Always `REFERENCE_PA`.
    pub reference_pressure_pa: f64,
    /// Median, 5 % and 95 % of the flow to outdoors, m³/h.
    pub outdoors_m3_h: [f64; 3],
    /// The same through party boundaries.
    pub party_m3_h: [f64; 3],
    /// Median air-change rate to outdoors, 1/h, by the limit's counting rule.
    pub air_change_1_h: Option<f64>,
    /// Median leak per envelope area, m³/(h·m²).
    pub per_envelope_m3_h_m2: Option<f64>,
    /// Median effective leakage area at 4 Pa, cm².
    pub ela_4_pa_cm2: f64,
    /// Chance of a flow at or under the limit, by the forecast alone.
    pub chance: Option<f64>,
    /// Leaks, largest first.
    pub leaks: Vec<LeakLine>,
    /// What no row of the table knows and nobody stated.
    pub left_out: Vec<String>,
}

/// One suspect after tests and finds.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SuspectLine {
    /// The leak.
    pub id: String,
    /// Place in the model.
    pub item: Item,
    /// `outdoors` or `neighbour`.
    pub leads_to: &'static str,
    /// Mean flow at the reference pressure, m³/h.
    pub mean_m3_h: f64,
    /// 95 % interval, m³/h.
    pub interval_m3_h: [f64; 2],
    /// Share of the mean total.
    pub share: f64,
    /// The same flow as a sharp-edged hole, cm².
    pub hole_cm2: f64,
    /// Whether the set-up of the latest reading shows it at all.
    pub visible: bool,
    /// Whether somebody found it.
    pub found: bool,
}

/// A step worth taking.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StepLine {
    /// What to tape over for one reading.
    pub step: String,
    /// Minutes taken, reading included.
    pub minutes: f64,
    /// Expected leak saved by knowing, m³/h.
    pub worth_m3_h: f64,
    /// The same per minute.
    pub worth_per_minute: f64,
}

/// What is known of where the rest is.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SuspectsReport {
    /// Set-up of the latest reading.
    pub setup: &'static str,
    /// Suspects, largest first.
    pub suspects: Vec<SuspectLine>,
    /// Isolation steps, most worth per minute first; only what the set-up shows.
    pub steps: Vec<StepLine>,
    /// Readings taken in.
    pub readings: usize,
    /// Leaks found and taken in.
    pub finds: usize,
}

/// What today's reading must be. This program's own estimate.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StageReport {
    /// Limit at the end, m³/h.
    pub limit_m3_h: f64,
    /// Chance asked for.
    pub wanted_chance: f64,
    /// Today's reading must be at or under this, m³/h; absent where no reading would do.
    pub reading_m3_h: Option<f64>,
    /// The same over the volume, 1/h.
    pub reading_1_h: Option<f64>,
    /// Today's reading, m³/h.
    pub today_m3_h: f64,
    /// Chance of ending at or under the limit from today's reading if nothing is sealed.
    pub chance_as_it_is: f64,
    /// What is still to come and to go: words, median flow m³/h, goes.
    pub ahead: Vec<(String, f64, bool)>,
    /// Always true.
    pub own_estimate: bool,
}

fn leads_to(kind: LeakKind) -> &'static str {
    if kind == LeakKind::Party { "neighbour" } else { "outdoors" }
}

/// Forecasts the leak of the finished building from the book; `None` where nothing in it can leak.
pub fn forecast(project: &Project, air: &Air) -> Option<ForecastReport> {
    let book = book(project);
    let of = |kind: LeakKind| -> Vec<Leak> {
        book.leaks.iter().map(|s| s.leak.clone()).filter(|l| l.kind == kind).collect()
    };
    let (out, party) = (of(LeakKind::ToOutside), of(LeakKind::Party));
    let run = |leaks: &[Leak]| Forecast::new(leaks, REFERENCE_PA, SEED, SAMPLES).ok();
    let outdoors = run(&out).filter(|_| !out.is_empty())?;
    let through = run(&party).filter(|_| !party.is_empty());
    let three = |f: &Forecast| [0.5, 0.05, 0.95].map(|p| f.quantile(p));
    let median = outdoors.quantile(0.5);
    let mut leaks: Vec<LeakLine> = Vec::new();
    for cause in outdoors.causes.iter().chain(through.iter().flat_map(|f| &f.causes)) {
        let Some(stated) = book.leaks.iter().find(|s| s.leak.id == cause.id) else { continue };
        leaks.push(LeakLine {
            id: cause.id.clone(),
            leads_to: leads_to(stated.leak.kind),
            quantity: stated.leak.quantity,
            unit: stated.unit,
            basis: stated.basis.clone(),
            mean_m3_h: cause.mean_m3_h,
            share: cause.share,
        });
    }
    Some(ForecastReport {
        reference_pressure_pa: REFERENCE_PA,
        outdoors_m3_h: three(&outdoors),
        party_m3_h: through.as_ref().map_or([0.0; 3], three),
        air_change_1_h: air.ask.volume.map(|v| median / v.value),
        per_envelope_m3_h_m2: air.ask.envelope_area.map(|a| median / a.value),
        ela_4_pa_cm2: 1e4 * outdoors.effective_leakage_area_m2(4.0, book.exponent),
        chance: air.limit_m3_h().map(|limit| outdoors.chance_at_or_under(limit)),
        leaks,
        left_out: book.left_out,
    })
}

/// Words a find at a place and a leak of the book share; one find belongs to one leak at most.
fn match_of(leaks: &[Stated], at: &str) -> Option<usize> {
    let words = |text: &str| -> Vec<String> {
        text.to_lowercase()
            .split(|c: char| !c.is_alphanumeric())
            .filter(|w| w.len() > 3)
            .map(|w| w.trim_end_matches('s').to_owned())
            .collect()
    };
    let wanted = words(at);
    let score = |s: &Stated| words(&s.leak.id).iter().filter(|w| wanted.contains(w)).count();
    let best = (0..leaks.len()).max_by_key(|&i| score(&leaks[i]))?;
    // Two shared words, or all there are.
    (score(&leaks[best]) >= 2.min(wanted.len().max(1))).then_some(best)
}

/// Learns from the latest readings and from what was found; `None` without a reading.
pub fn suspects(project: &Project, air: &Air) -> Option<SuspectsReport> {
    let mut book = book(project);
    let mut finds = Vec::new();
    let mut found_ids = Vec::new();
    for record in records_until_today(project) {
        let Body::LeakFound(find) = &record.body else { continue };
        if find.sealed == Some(true) || find.at.is_empty() {
            continue;
        }
        let kind = if find.leads_to.to_lowercase().contains("neighbour") {
            LeakKind::Party
        } else {
            LeakKind::ToOutside
        };
        if let Some(flow) = &find.flow {
            // Measured or estimated at the fan: a leak of its own, known to a factor of 1.6 (judgement).
            let per_unit = Distribution::LogNormal { median: 3600.0 * flow.value, factor95: 1.6 };
            let leak = Leak { id: find.at.clone(), kind, quantity: 1.0, per_unit, group: None };
            if flow.value > 0.0 && !book.leaks.iter().any(|l| l.leak.id == leak.id) {
                found_ids.push(leak.id.clone());
                let basis = "found".to_owned();
                let item = ("joint", find.at.clone(), find.at.clone());
                book.leaks.push(Stated { leak, item, unit: "place", basis, minutes: 15.0 });
            }
        } else if let (Some(size), Some(leak)) = (size(&find.size), match_of(&book.leaks, &find.at)) {
            finds.push(Find { leak, size });
            found_ids.push(book.leaks[leak].leak.id.clone());
        }
    }
    let leaks: Vec<Leak> = book.leaks.iter().map(|s| s.leak.clone()).collect();
    let last = air.tests.iter().map(|(l, _)| l.day.as_str()).max()?;
    let of_day: Vec<&(Logged, TestReport)> = air.tests.iter().filter(|(l, _)| l.day == last).collect();
    let mut readings = Vec::new();
    let mut common: f64 = 0.0;
    for (logged, told) in &of_day {
        let setup = setup(logged);
        let share = told.budget.iter().find(|b| b.source == "fan calibration").map_or(0.02, |b| b.share);
        common = common.max(share);
        let own = told.flow.standard_uncertainty;
        let own = (own * own - (share * told.flow.value) * (share * told.flow.value)).max(0.0).sqrt();
        readings.push(Reading {
            flow_m3_h: told.flow.value,
            standard_uncertainty_m3_h: own.max(0.005 * told.flow.value),
            seen: leaks.iter().map(|l| seen_share(setup, l.kind, book.exponent)).collect(),
        });
    }
    let guarded = of_day.iter().find(|(l, _)| l.file.neighbour == Neighbour::EqualPressure);
    let (logged, told) = guarded.or(of_day.first())?;
    let setup = setup(logged);
    let posterior = suspects::learn(&leaks, &readings, &finds, REFERENCE_PA, common, SEED).ok()?;
    Some(SuspectsReport {
        setup: super::neighbour_words(logged.file.neighbour),
        suspects: lines(&posterior, &book, setup, &found_ids),
        steps: steps(&posterior, &book, setup, told.flow.value),
        readings: readings.len(),
        finds: found_ids.len(),
    })
}

fn lines(posterior: &Posterior, book: &Book<'_>, setup: Setup, found: &[String]) -> Vec<SuspectLine> {
    posterior
        .suspects()
        .into_iter()
        .map(|s| {
            let at = posterior.ids.iter().position(|id| *id == s.id);
            let kind = at.map_or(LeakKind::ToOutside, |at| posterior.kinds[at]);
            let item = at.map(|at| book.leaks[at].item.clone());
            SuspectLine {
                item: item.unwrap_or_else(|| ("joint", s.id.clone(), s.id.clone())),
                leads_to: leads_to(kind),
                mean_m3_h: s.mean_m3_h,
                interval_m3_h: [s.interval_m3_h.0, s.interval_m3_h.1],
                share: s.share,
                hole_cm2: 1e4 * ::air::leakage::sharp_hole_m2(s.mean_m3_h, REFERENCE_PA),
                visible: ::air::guarded::visible(setup, kind),
                found: found.contains(&s.id),
                id: s.id,
            }
        })
        .collect()
}

fn steps(posterior: &Posterior, book: &Book<'_>, setup: Setup, flow_m3_h: f64) -> Vec<StepLine> {
    let steps: Vec<Step> = book
        .leaks
        .iter()
        .enumerate()
        .map(|(j, s)| Step { id: s.leak.id.clone(), minutes: s.minutes, isolates: vec![(j, 0.95)] })
        .collect();
    let repairs: Vec<Repair> = book
        .leaks
        .iter()
        .enumerate()
        .filter(|(_, s)| ::air::guarded::visible(setup, s.leak.kind))
        .map(|(j, s)| Repair { id: s.leak.id.clone(), minutes: 3.0 * s.minutes, seals: vec![(j, 0.8)] })
        .collect();
    let noise = DIFFERENCE_SHARE * flow_m3_h;
    let ranked = suspects::best_steps(posterior, setup, &steps, &repairs, M3_H_PER_MINUTE, noise, SEED)
        .unwrap_or_default();
    ranked
        .into_iter()
        .filter(|w| w.worth_m3_h > 0.0)
        .take(8)
        .map(|w| StepLine {
            minutes: steps.iter().find(|s| s.id == w.id).map_or(f64::NAN, |s| s.minutes),
            step: w.id,
            worth_m3_h: w.worth_m3_h,
            worth_per_minute: w.per_minute,
        })
        .collect()
}

fn size(word: &str) -> Option<SizeGuess> {
    match word.trim().to_lowercase().as_str() {
        "hair" => Some(SizeGuess::Hair),
        "pencil" => Some(SizeGuess::Pencil),
        "finger" => Some(SizeGuess::Finger),
        "hand" => Some(SizeGuess::Hand),
        _ => None,
    }
}

/// How a logged test was set up.
pub fn setup(logged: &Logged) -> Setup {
    match logged.file.neighbour {
        Neighbour::None => Setup::Alone,
        Neighbour::EqualPressure => {
            Setup::EqualPressure { residual_pa: logged.file.guard_residual_pa.unwrap_or(0.0) }
        }
        Neighbour::Opened => Setup::Opened,
        Neighbour::Untouched => {
            Setup::Untouched { across_share: UNTOUCHED_SHARE.0, share_uncertainty: UNTOUCHED_SHARE.1 }
        }
    }
}

/// Returns what today's reading must be for the wanted chance; `None` without a limit, a reading, or anything ahead.
pub fn stage_target(project: &Project, air: &Air) -> Option<StageReport> {
    let building = &project.building;
    let limit_m3_h = air.limit_m3_h()?;
    let (_, told) = air.latest()?;
    let stages = &building.project.stages;
    let at = |name: &str| stages.iter().position(|s| s == name);
    let now = at(&building.project.stage);
    let open: Vec<_> = building
        .ahead
        .iter()
        .filter(|a| a.stage.as_deref().and_then(at).zip(now).is_none_or(|(due, now)| due >= now))
        .collect();
    if open.is_empty() {
        return None;
    }
    let flow = |key: ValueKey| scaled(&building.values.get(key).distribution, 3600.0);
    let of = |goes: bool| open.iter().filter(|a| a.goes == goes).map(|a| flow(a.flow)).collect();
    let own = told.flow.standard_uncertainty / told.flow.value;
    let fan = told.budget.iter().find(|b| b.source == "fan calibration").map_or(0.0, |b| b.share);
    // The same fan reads both: its error is shared and left out of each.
    let reading_share = (own * own - fan * fan).max(0.0).sqrt().max(0.005);
    let ahead = Ahead {
        limit_m3_h,
        still_to_come: of(false),
        will_go: of(true),
        reading_share,
        // A whole test of both directions, fan left out (by the budget of such tests: 1.5 %).
        final_share: 0.015,
    };
    let wanted = building.airtightness.wanted_chance.map_or(0.9, |key| building.values.nominal_of(key));
    let target = needed_now(&ahead, wanted, SEED).ok()?;
    Some(StageReport {
        limit_m3_h,
        wanted_chance: wanted,
        reading_m3_h: target.map(|t| t.reading_m3_h),
        reading_1_h: target.zip(air.ask.volume).map(|(t, v)| t.reading_m3_h / v.value),
        today_m3_h: told.flow.value,
        chance_as_it_is: chance_from(&ahead, told.flow.value, SEED).ok()?,
        ahead: open.iter().map(|a| (a.what.clone(), flow(a.flow).median(), a.goes)).collect(),
        own_estimate: true,
    })
}
