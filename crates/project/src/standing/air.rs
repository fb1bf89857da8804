//! Findings of air: the latest reading, stage target, suspects, party leak, fresh air, what burns, commissioned flows.

use super::site::{known_stage, place};
use super::types::{Finding, FindingKind, NextStep, Outcome};
use super::words::{Words, capital};
use crate::air::{REFERENCE_PA, Story, SuspectLine};
use crate::check::Project;
use quantity::Dimension;

/// Rooms with at least this share of their air are not told.
const ENOUGH: f64 = 0.98;
/// Suspects named in a sentence.
const NAMED: usize = 3;

/// Returns every finding about air.
pub(super) fn findings(project: &Project, story: &Story) -> Vec<Finding> {
    let words = Words::of(&project.building);
    let mut all = Vec::new();
    all.extend(latest(project, story, &words));
    all.extend(target(project, story, &words));
    all.extend(suspects(project, story, &words));
    all.extend(party(project, story, &words));
    all.extend(forecast(project, story, &words));
    all.extend(rooms(project, story, &words));
    all.extend(story.transfers.iter().filter_map(|t| transfer(project, t)));
    all.extend(make_up(project, story));
    all.extend(terminals(project, story, &words));
    all
}

/// Chances in words.
fn chances(p: f64) -> String {
    let whole = (100.0 * p).round();
    // A chance worked out is never none and never certain.
    if whole < 1.0 {
        return "fewer than 1 chance in 100".to_owned();
    }
    if whole > 99.0 {
        return "more than 99 chances in 100".to_owned();
    }
    if whole == 1.0 { "1 chance in 100".to_owned() } else { format!("{whole:.0} chances in 100") }
}

fn latest(project: &Project, story: &Story, words: &Words) -> Option<Finding> {
    let (logged, told) = story.air.latest()?;
    let r = &told.result;
    let mut f = Finding::new("air.test", FindingKind::Proof, format!("pressure test of {}", logged.day));
    f.rule.clone_from(&r.rule);
    f.method = "reading".to_owned();
    f.stage = known_stage(project, "test");
    f.source = format!("site log, {}", logged.day);
    let guard = match told.test.neighbour {
        "equal pressure" => "Guarded",
        "opened" => "Unguarded, neighbour opened",
        "untouched" => "Unguarded, neighbour untouched",
        _ => "Unguarded",
    };
    let flow = words.test_flow(told.flow.value);
    let number = match r.id {
        "air-change" => words.show(r.figure.value, Dimension::AirChange),
        _ => flow.clone(),
    };
    let band = 100.0 * r.figure.half_width_95 / r.figure.value;
    let chance = match (r.chance, r.limit) {
        (Some(p), Some(limit)) if r.id == "air-change" => format!(
            ": {} at or under {} by the full budget",
            chances(p),
            words.show(limit, Dimension::AirChange)
        ),
        _ => String::new(),
    };
    let broken: Vec<String> = told
        .rules
        .iter()
        .filter(|r| r.ok == Some(false) && r.standard.starts_with("ISO"))
        .map(|r| r.id.to_owned())
        .collect();
    let valid = match (told.standard_test, broken.is_empty()) {
        (false, _) => "Not a standard test.".to_owned(),
        (true, true) => "Every rule of ISO 9972 that the readings decide holds.".to_owned(),
        (true, false) => format!("Not valid by ISO 9972: {} broken.", crate::diagnostic::list(&broken)),
    };
    let open = match logged.unfinished.as_slice() {
        [] => String::new(),
        items => format!(" Unfinished or sealed for the test: {}.", crate::diagnostic::list(items)),
    };
    f.sentence = format!(
        "{guard} reading of {}: {number} ({flow}) ± {band:.0} % (95 %){chance}. {valid}{open}",
        logged.day
    );
    f.status = match (r.met, told.valid) {
        (Some(false), _) => Outcome::NotMet,
        (Some(true), Some(true)) => Outcome::Met,
        // A quick reading proves nothing, and a broken rule neither.
        _ => Outcome::NotKnown,
    };
    f.cautions.push(
        "A reading is no certificate: the certifying body decides which volume, preparation and test count."
            .to_owned(),
    );
    Some(f)
}

fn target(project: &Project, story: &Story, words: &Words) -> Option<Finding> {
    let stage = story.stage.as_ref()?;
    let now = &project.building.project.stage;
    let mut f = Finding::new("air.stage-target", FindingKind::Stage, "today's reading for the end");
    f.stage.clone_from(now);
    f.method = "own estimate".to_owned();
    let volume = story.air.ask.volume.map_or(f64::NAN, |v| v.value);
    let come: f64 = stage.ahead.iter().map(|(_, q, goes)| if *goes { -q } else { *q }).sum();
    let needed = match stage.reading_1_h {
        Some(rate) => format!("be at or under {}", words.show(rate, Dimension::AirChange)),
        None => "not help: what is still to come is more than the limit leaves".to_owned(),
    };
    f.sentence = format!(
        "For {} of ending at or under {} with {} still to come, today's reading must {needed}; it is {}, which leaves {}. This \
         program's own estimate.",
        chances(stage.wanted_chance),
        words.show(stage.limit_m3_h / volume, Dimension::AirChange),
        words.test_flow(come),
        words.show(stage.today_m3_h / volume, Dimension::AirChange),
        chances(stage.chance_as_it_is),
    );
    f.status = match stage.reading_m3_h {
        Some(needed) if stage.today_m3_h <= needed => Outcome::Met,
        _ => Outcome::NotMet,
    };
    f.source = "own estimate, from [airtightness] and the site log".to_owned();
    Some(f)
}

fn suspect_words(s: &SuspectLine, words: &Words) -> String {
    format!(
        "{} about {} ({} to {})",
        s.id,
        words.test_flow(s.mean_m3_h),
        words.test_flow(s.interval_m3_h[0]),
        words.test_flow(s.interval_m3_h[1])
    )
}

fn suspects(project: &Project, story: &Story, words: &Words) -> Option<Finding> {
    let report = story.suspects.as_ref()?;
    let seen: Vec<&SuspectLine> = report.suspects.iter().filter(|s| s.visible).collect();
    let first = seen.first()?;
    let mut f = Finding::new("air.suspects", FindingKind::Stage, "where the rest of the leak is");
    f.stage = known_stage(project, "barrier");
    f.method = "own estimate".to_owned();
    let names: Vec<String> = seen.iter().take(NAMED).map(|s| suspect_words(s, words)).collect();
    let step = report.steps.first().map_or_else(String::new, |s| {
        format!(
            " Isolate next: {}, {:.0} min for one reading; of all steps it is worth most a minute.",
            s.step, s.minutes
        )
    });
    let hidden = if report.setup == "equal pressure" && report.suspects.iter().any(|s| !s.visible) {
        " Leaks to the neighbour do not show under guard."
    } else {
        ""
    };
    f.sentence = format!(
        "{} and {} say where the rest probably is: {}.{step}{hidden} Own estimate: it ranks, it proves nothing.",
        capital(&crate::diagnostic::count(report.readings, "reading")),
        crate::diagnostic::count(report.finds, "find"),
        crate::diagnostic::list(&names)
    );
    let missed = story.air.latest().is_some_and(|(_, t)| t.result.met == Some(false));
    f.status = if missed { Outcome::NotMet } else { Outcome::Met };
    let (kind, name, item) = &first.item;
    f.place = Some(place(project, kind, name, item));
    f.source = "own estimate, from the book's joints and the site log".to_owned();
    Some(f)
}

fn party(project: &Project, story: &Story, words: &Words) -> Option<Finding> {
    let s = story.separation.as_ref()?;
    let mut f = Finding::new("air.party-leak", FindingKind::Proof, "leak through the party boundary");
    f.stage = known_stage(project, "test");
    f.source = format!("site log, {}", s.day);
    f.status = Outcome::Met;
    let assumed = s.assumed.as_ref().map_or_else(String::new, |a| format!(" {}.", capital(a)));
    f.sentence = format!(
        "Two set-ups of {} part the leaks: {} ± {:.0} % to outdoors, {} ± {:.0} % through the party boundary (95 %).{assumed}",
        s.day,
        words.test_flow(s.outdoors_m3_h[0]),
        100.0 * s.outdoors_m3_h[1] / s.outdoors_m3_h[0],
        words.test_flow(s.party_m3_h[0]),
        100.0 * s.party_m3_h[1] / s.party_m3_h[0].abs().max(1.0),
    );
    Some(f)
}

fn forecast(project: &Project, story: &Story, words: &Words) -> Option<Finding> {
    let report = story.forecast.as_ref()?;
    let mut f = Finding::new("air.forecast", FindingKind::Stage, "forecast of the leak");
    f.stage = known_stage(project, "design");
    f.method = "own estimate".to_owned();
    // A forecast never settles a limit and never asks for anything by itself.
    f.status = Outcome::Met;
    f.advisory = true;
    let [median, low, high] = report.outdoors_m3_h;
    let most: Vec<String> = report
        .leaks
        .iter()
        .filter(|l| l.leads_to == "outdoors")
        .take(NAMED)
        .map(|l| format!("{} {:.0} %", l.id, 100.0 * l.share))
        .collect();
    let left = match report.left_out.len() {
        0 => String::new(),
        n => format!(" {} have no figure and are taken as tight.", crate::diagnostic::count(n, "part")),
    };
    f.sentence = format!(
        "From joints, openings and penetrations as they will be made: {} at {REFERENCE_PA:.0} Pa ({} to {}, 90 %); most from {}.{left} \
         Own estimate from published component data, from memory.",
        words.test_flow(median),
        words.test_flow(low),
        words.test_flow(high),
        crate::diagnostic::list(&most)
    );
    f.source = "published component leakage areas, from memory".to_owned();
    Some(f)
}

fn rooms(project: &Project, story: &Story, words: &Words) -> Vec<Finding> {
    let flow = |m3_h: f64| words.show(m3_h / 3600.0, Dimension::VolumeFlow);
    let short = story.rooms.iter().filter(|r| r.share < ENOUGH && !r.averages());
    short
        .map(|r| {
            let mut f = Finding::new(
                format!("air.outdoor-air.{}.{}", r.room, r.occasion.to_lowercase().replace([' ', ','], "-")),
                FindingKind::Stage,
                format!("outdoor air of {}, {}", r.label.to_lowercase(), r.occasion.to_lowercase()),
            );
            f.sentence = format!(
                "{}, {} with {:.0} people: {} at \"{}\", {:.0} % of the {} ASHRAE 62.1 asks ({}); EN 16798-1, category II, asks {}. It lasts \
                 {:.1} h, longer than the {:.1} h a short crowd may be averaged over.",
                r.label,
                r.occasion,
                r.people,
                flow(r.supply_m3_h),
                r.mode,
                100.0 * r.share,
                flow(r.ashrae_62_1_m3_h),
                r.rate,
                flow(r.en_16798_1_m3_h),
                r.hours,
                r.averaging_h
            );
            f.status = Outcome::NotMet;
            f.stage = known_stage(project, "design");
            f.place = Some(place(project, "space", &r.room, &format!("space.{}", r.room)));
            f.source = "ASHRAE 62.1-2019 and EN 16798-1:2019, rates partly from memory".to_owned();
            f.cautions.push("The code official decides which rate applies and whether the edition is theirs.".to_owned());
            f
        })
        .collect()
}

/// Extract air in the supply, where the maker's figure is stated.
fn transfer(project: &Project, t: &crate::air::Transfer) -> Option<Finding> {
    let share = t.share?;
    let mut f = Finding::new(
        format!("air.transfer.{}", t.unit),
        FindingKind::Stage,
        format!("extract air in the supply of {}", t.unit),
    );
    f.stage = known_stage(project, "order");
    f.status = if share <= t.most { Outcome::Met } else { Outcome::NotMet };
    f.sentence = format!(
        "{:.1} % of the supply of {} is extract air and is taken off the outdoor air; with air of toilets and kitchenettes at most {:.0} % \
         may be (air class 2 of ASHRAE 62.1, from memory).",
        100.0 * share,
        t.unit,
        100.0 * t.most
    );
    f.source = "ASHRAE 62.1, air classes, from memory".to_owned();
    Some(f)
}

fn make_up(project: &Project, story: &Story) -> Vec<Finding> {
    story
        .make_up
        .iter()
        .map(|m| {
            let mut f = Finding::new(
                format!("air.make-up.{}", m.appliance),
                FindingKind::Caution,
                format!("air for {}", m.appliance),
            );
            let limit = m.spills_beyond_pa;
            let said = match (m.room_air, m.pressure_pa) {
                (false, _) => "it has an air duct of its own".to_owned(),
                (true, Some(pa)) if pa < -limit => format!(
                    "it stands at {pa:.1} Pa ({}); flues of such appliances are known to spill beyond -{limit:.0} Pa: make-up air before it \
                     fires again",
                    m.basis
                ),
                (true, Some(pa)) => format!(
                    "it stands at {pa:.1} Pa ({}), inside the -{limit:.0} Pa at which flues of such appliances are known to spill",
                    m.basis
                ),
                (true, None) => format!("nobody knows what it must draw against: {}", m.basis),
            };
            f.sentence = format!("{} ({}, {}): {said}.", capital(&m.appliance), m.kind, m.place.replace('-', " "));
            f.status = match m.spills() {
                Some(true) => Outcome::NotMet,
                Some(false) => Outcome::Met,
                None => Outcome::NotKnown,
            };
            f.cautions.push(format!(
                "Draught, make-up air and carbon monoxide of {} were not checked; the suction named is common practice, no source. A \
                 licensed fitter tests it with every fan running; a CO alarm stays on.",
                m.appliance
            ));
            f.stage = known_stage(project, "commission");
            let kind = if project.building.spaces.iter().any(|s| s.name == m.place) { "space" } else { "neighbour" };
            f.place = Some(place(project, kind, &m.place, &format!("{kind}.{}", m.place)));
            f
        })
        .collect()
}

fn terminals(project: &Project, story: &Story, words: &Words) -> Vec<Finding> {
    let flow = |m3_h: f64| words.show(m3_h / 3600.0, Dimension::VolumeFlow);
    let mut all = Vec::new();
    for unit in &story.commission.units {
        for mode in &unit.modes {
            let read: Vec<_> = mode.terminals.iter().filter(|t| t.read_m3_h.is_some()).collect();
            if read.is_empty() {
                continue;
            }
            let off: Vec<String> = read
                .iter()
                .filter(|t| t.inside == Some(false))
                .map(|t| format!("{} {:+.0} %", t.label, 100.0 * t.deviation.unwrap_or(0.0)))
                .collect();
            let mut f = Finding::new(
                format!("air.commission.{}.{}", unit.unit, mode.mode),
                FindingKind::Stage,
                format!("terminals at \"{}\"", mode.mode),
            );
            let next = mode
                .advice
                .iter()
                .filter_map(|a| {
                    let (room, lands) = a.room.as_ref().zip(a.lands_at_m3_h)?;
                    let way = if a.opening_ratio.is_some_and(|o| o < 1.0) { "close" } else { "open" };
                    let to = 100.0 * a.opening_ratio.unwrap_or(1.0);
                    Some(format!(
                        " Next: {way} the {} damper of {room} to {to:.0} % of its present opening; it should then read {}.",
                        a.way,
                        flow(lands)
                    ))
                })
                .collect::<String>();
            f.sentence = match off.as_slice() {
                [] => format!(
                    "{} read at \"{}\", all inside their tolerance.{next}",
                    crate::diagnostic::count(read.len(), "terminal"),
                    mode.mode
                ),
                off => {
                    format!("Off their design at \"{}\": {}.{next}", mode.mode, crate::diagnostic::list(off))
                }
            };
            f.status = if off.is_empty() { Outcome::Met } else { Outcome::NotMet };
            f.stage = known_stage(project, "commission");
            f.place = mode
                .advice
                .first()
                .and_then(|a| a.room.as_ref())
                .map(|room| place(project, "space", room, &format!("space.{room}")));
            all.push(f);
        }
    }
    all
}

/// The isolation step worth most per minute, as a next step.
pub(super) fn next(story: &Story) -> Option<NextStep> {
    let report = story.suspects.as_ref()?;
    let step = report.steps.first()?;
    story.air.latest().filter(|(_, t)| t.result.met == Some(false))?;
    Some(NextStep {
        what: format!("With the fan running, tape over {} and read one point.", step.step),
        why: "of all isolation steps this one is worth most a minute".to_owned(),
        finding: "air.suspects".to_owned(),
        hours: Some(step.minutes / 60.0),
        outlay: None,
        worth: None,
    })
}
