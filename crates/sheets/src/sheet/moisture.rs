//! Moisture on the Fabric sheet: under each assembly its verdict, its strips, its drying test.

use maud::{Markup, html};
use year::dry::report::{CaseReport, DryReport, DryingTest, LevelYear, Status};

use crate::draw::chart::{Format, LineChart, Reference, Series, line_chart};
use crate::draw::damp::{DampYear, Strip, damp_year};
use crate::draw::scale::{MONTHS, TimeMark};
use crate::draw::section::{Level, Section};
use crate::page::{figure, table, working};
use crate::reader::Reader;
use quantity::Dimension;

/// What is said under one assembly.
#[derive(Clone, Debug, PartialEq)]
pub enum Part {
    /// Nothing was run yet.
    NotRun,
    /// It was left out, and why.
    Refused(Vec<String>),
    /// Its worst case, and how many others there are.
    Case(Box<CaseReport>, usize),
}

/// Finds what to say of an assembly.
pub fn part(report: Option<&DryReport>, assembly: &str) -> Option<Part> {
    let Some(report) = report else { return Some(Part::NotRun) };
    if let Some(worst) = report.worst_of(assembly) {
        let others = report.cases.iter().filter(|c| c.assembly == assembly).count() - 1;
        return Some(Part::Case(Box::new(worst.clone()), others));
    }
    let refused = report.not_run.iter().find(|n| n.assembly == assembly)?;
    Some(Part::Refused(refused.why.clone()))
}

/// Writes the surveyor's levels of the worst case into a section.
pub fn levels(section: &mut Section, part: Option<&Part>, reader: Reader) {
    let Some(Part::Case(case, _)) = part else { return };
    let mut levels: Vec<Option<Level>> = vec![None; section.layers.len() + 1];
    let when = |day: &str| {
        let (number, month) = day.split_once(' ').unwrap_or((day, ""));
        let short: String = month.chars().take(3).collect();
        if reader.british { format!("{number} {short}") } else { format!("{short} {number}") }
    };
    let warmth = |c: f64| reader.show(c, Dimension::Temperature);
    for level in told_apart(&case.levels) {
        if let Some(slot) = levels.get_mut(level.interface) {
            *slot = Some(Level {
                coldest: format!("{} {}", warmth(level.coldest_c), when(&level.coldest_when)),
                usual: format!("{} {:.0} %", warmth(level.usual_c), 100.0 * level.usual_humidity),
                wettest: format!("{:.0} % {}", 100.0 * level.wettest_humidity, when(&level.wettest_when)),
            });
        }
    }
    section.levels = levels;
}

/// Most figures that stand side by side under a wall without running into one another.
const MOST_LEVELS: usize = 7;

/// The levels worth drawing: of neighbours that hardly differ in their coldest, one goes, until the others have room. The
/// faces stay.
fn told_apart(levels: &[LevelYear]) -> Vec<&LevelYear> {
    let mut kept: Vec<&LevelYear> = levels.iter().collect();
    while kept.len() > MOST_LEVELS {
        let apart = |k: usize| (kept[k].coldest_c - kept[k - 1].coldest_c).abs();
        let Some(least) = (1..kept.len() - 1).min_by(|a, b| apart(*a).total_cmp(&apart(*b))) else { break };
        kept.remove(least);
    }
    kept
}

/// Draws the part.
pub fn content(section: &Section, part: &Part) -> Markup {
    match part {
        Part::NotRun => html! {
            div.dry { p.soft { "Whether it stays dry was not yet run: windtight dry." } }
        },
        Part::Refused(why) => html! {
            div.dry {
                h3 { "Will it stay dry?" }
                p { "Not run: " (why.join("; ")) "." }
            }
        },
        Part::Case(case, others) => html! {
            div.dry {
                h3 { "Will it stay dry?" }
                p { b { (word(case.status())) } ", " (case.side) " (" (case.spaces.join(", ")) "). " (case.sentence) }
                @if *others > 0 {
                    p.soft { "The worst of " (others + 1) " sides and rooms. " (case.water.sentence) }
                } @else {
                    p.soft { (case.water.sentence) }
                }
                (strips(section, case))
                @if let Some(test) = &case.drying { (drying(section, test)) }
                p.soft { (case.openness.sentence) " Month by month (ISO 13788): " (case.monthly.sentence) ". " (case.monthly.beside) }
                @if !case.estimates.is_empty() { (working("estimated, because nobody stated it", &estimates(case))) }
                p.soft { "Figures of a model at stated values, no proof. Salts, rising damp and more than one dimension are not in \
                    it; load-bearing timber belongs to a licensed designer." }
            }
        },
    }
}

fn word(status: Status) -> &'static str {
    match status {
        Status::Met => "Within its limits",
        Status::NotMet => "Beyond a limit",
        Status::NotJudged => "Not judged",
    }
}

fn strips(section: &Section, case: &CaseReport) -> Markup {
    let governing = case.design.governing().or_else(|| case.mean.governing()).map(|p| p.layer);
    let input = DampYear {
        id: format!("{}-damp", section.id),
        title: format!("A mean year in {}: how damp each layer gets", section.title),
        outside: section.outside.clone(),
        strips: case
            .layers
            .iter()
            .map(|l| Strip {
                name: l.name.replace('_', " "),
                weeks: l.weekly_humidity.clone(),
                governs: governing == Some(l.layer),
            })
            .collect(),
    };
    let name = input.strips.iter().find(|s| s.governs).map_or("none", |s| s.name.as_str());
    let sentence = format!(
        "A mean year, week by week: relative humidity at each layer's damper face, hatched denser where damper. Governing \
         layer: {name}."
    );
    figure(&sentence, |format| damp_year(&input, format))
}

fn drying(section: &Section, test: &DryingTest) -> Markup {
    let worst = worst_month(test);
    let cases: Vec<_> = test.cases.iter().filter(|c| c.month == worst).collect();
    let longest = cases.iter().map(|c| c.above_kg_m2.len()).max().unwrap_or(1).max(2);
    let series = cases
        .iter()
        .map(|c| Series {
            name: match c.way.as_str() {
                "both" => "to both sides",
                "inside" => "to the inside",
                _ => "to the outside",
            }
            .to_owned(),
            points: std::iter::once([0.0, 1000.0 * test.added_kg_m2])
                .chain(c.above_kg_m2.iter().enumerate().map(|(d, w)| [(d + 1) as f64, 1000.0 * w]))
                .collect(),
        })
        .collect();
    let step = [5, 10, 20, 30, 60].into_iter().find(|s| longest / s <= 6).unwrap_or(60);
    let chart = LineChart {
        id: format!("{}-drying", section.id),
        title: format!("Water left of {:.0} g/m² in {}, by days", 1000.0 * test.added_kg_m2, test.wetted),
        description: test.sentence.clone(),
        series,
        references: vec![Reference { value: 100.0 * test.added_kg_m2, name: "dry".to_owned() }],
        marks: (0..=longest / step)
            .map(|k| TimeMark { hour: (k * step) as f64, label: format!("{} d", k * step) })
            .collect(),
        spans: Vec::new(),
        hours: [0.0, longest as f64],
        floor: Some(0.0),
    };
    let sentence = format!(
        "If it gets wet, does it dry? {} Water left, g/m², closed in {}.",
        test.sentence,
        MONTHS[worst.min(11)]
    );
    figure(&sentence, |format: Format| line_chart(&chart, format))
}

/// Month in which drying to both sides takes longest.
fn worst_month(test: &DryingTest) -> usize {
    let both = test.cases.iter().filter(|c| c.way == "both");
    both.max_by_key(|c| c.days.unwrap_or(u32::MAX)).map_or(0, |c| c.month)
}

fn estimates(case: &CaseReport) -> Markup {
    let rows: Vec<Vec<String>> = case
        .estimates
        .iter()
        .map(|e| {
            vec![format!("{}: {}", e.material, e.property), crate::svg::decimal(e.value, 3), e.basis.clone()]
        })
        .collect();
    table("", &["property", "value", "basis"], &rows)
}
