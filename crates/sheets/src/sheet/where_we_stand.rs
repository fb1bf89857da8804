//! The first sheet: today's decision, the line of stages, the building, the limits, what to do next.

use maud::{Markup, PreEscaped, html};
use project::standing::{Comparison, Finding, FindingKind, Odds, Outcome, Stage, StageState, Standing};

use crate::draw::long_section::{LongSection, long_section};
use crate::draw::tally::{Chances, Stick, stick, tally};
use crate::page::{figure_to_pan, table, working};
use crate::reader::{Amount, Reader, plain};
use crate::svg::{decimal, slug};

/// Draws the content of the sheet. `section` is left out when the book draws no storeys.
pub fn content(standing: &Standing, section: Option<&LongSection>, reader: Reader) -> Markup {
    html! {
        h1 { (standing.headline.decision) }
        p.lead { (standing.headline.because) }
        (stages(standing))
        div.two {
            div {
                @if let Some(section) = section { (building(section)) }
                (gaps(standing))
                (next(standing))
            }
            div.right {
                h2.flush { (if standing.chances.is_some() { "Limits, least likely first" } else { "Limits, nearest to failing first" }) }
                (together(standing))
                (limits(standing, reader))
            }
            div { (open_questions(standing)) }
        }
        (not_checked(standing))
        (notices(standing))
    }
}

/// The line of stages; each leads to its open questions further down.
fn stages(standing: &Standing) -> Markup {
    html! {
        nav aria-label="Stages of the job" {
            ol.stages {
                @for stage in &standing.stages {
                    @let class = match stage.state {
                        StageState::Past => "past",
                        StageState::Now => "now",
                        StageState::ToCome => "to-come",
                    };
                    li class=(class) aria-current=[(stage.state == StageState::Now).then_some("step")] {
                        @if has_open(standing, stage) {
                            a href={ "#stage-" (slug(&stage.id)) } { (stage_words(stage)) }
                        } @else {
                            (stage_words(stage))
                        }
                    }
                }
            }
        }
    }
}

fn stage_words(stage: &Stage) -> Markup {
    let count = match (stage.open, stage.findings, stage.state) {
        (0, 0, StageState::ToCome) => "nothing due yet".to_owned(),
        (0, 0, _) => "nothing due".to_owned(),
        (0, _, _) => "settled".to_owned(),
        (open, _, _) => format!("{open} open"),
    };
    html! { span.name { (capital(&stage.name)) } span.count { (count) } }
}

fn open_of<'a>(standing: &'a Standing, stage: &'a Stage) -> impl Iterator<Item = &'a Finding> {
    let here =
        move |f: &&Finding| f.stage == stage.id && f.status != Outcome::Met && f.kind != FindingKind::Caution;
    standing.findings.iter().filter(here)
}

fn has_open(standing: &Standing, stage: &Stage) -> bool {
    open_of(standing, stage).next().is_some()
}

fn building(section: &LongSection) -> Markup {
    let desk = long_section(section, crate::draw::chart::Format::Desk);
    let phone = long_section(section, crate::draw::chart::Format::Phone);
    let key = |pairs: &[(String, String)], class: &str| {
        html! {
            @if !pairs.is_empty() {
                ul.key.(class) { @for (letter, name) in pairs { li { b { (letter) } (name) } } }
            }
        }
    };
    html! {
        (figure_to_pan("long-section", "", |format| long_section(section, format).drawing))
        div.fit { (key(&desk.key, "desk")) (key(&phone.key, "phone")) }
    }
}

/// Gaps of the control layers, numbered as in the drawing.
fn gaps(standing: &Standing) -> Markup {
    const FIRST: usize = 6;
    let gaps: Vec<(usize, &Finding)> = gap_findings(standing).enumerate().collect();
    let (first, more) = gaps.split_at(gaps.len().min(FIRST));
    html! {
        @if !gaps.is_empty() {
            h2 { (if gaps.len() == 1 { "One gap".to_owned() } else { format!("{} gaps", gaps.len()) }) " in the control layers" }
            (gap_list(first))
            @if !more.is_empty() { (working(&format!("{} more", more.len()), &gap_list(more))) }
        }
    }
}

fn gap_list(gaps: &[(usize, &Finding)]) -> Markup {
    html! {
        ol.gaps {
            @for (place, gap) in gaps {
                li id=(slug(&gap.id)) { span.mark { (place + 1) } span { (sentence_or_subject(gap)) } }
            }
        }
    }
}

/// Gaps that are open, in the order of their numbers.
pub fn gap_findings(standing: &Standing) -> impl Iterator<Item = &Finding> {
    standing.findings.iter().filter(|f| f.kind == FindingKind::Gap && f.status != Outcome::Met)
}

fn sentence_or_subject(finding: &Finding) -> String {
    if finding.sentence.is_empty() { capital(&finding.subject) } else { finding.sentence.clone() }
}

fn next(standing: &Standing) -> Markup {
    html! {
        @if !standing.next.is_empty() {
            h2 { "Worth doing next" }
            ol.next {
                @for step in &standing.next {
                    li {
                        b { (step.what) }
                        span {
                            @if let Some(hours) = step.hours {
                                (hours_in_words(hours))
                                @if let Some(outlay) = step.outlay { ", about " (plain(outlay, "")) " in outlay" }
                                @if !step.why.is_empty() { "; " }
                            }
                            (step.why)
                        }
                    }
                }
            }
        }
    }
}

fn hours_in_words(hours: f64) -> String {
    match hours {
        h if !h.is_finite() || h <= 0.0 => "time not known".to_owned(),
        h if (h - 0.5).abs() < 0.01 => "half an hour".to_owned(),
        h if h < 1.0 => format!("{} minutes", plain((h * 60.0).round(), "")),
        h if (h - 1.0).abs() < 0.01 => "an hour".to_owned(),
        h if h <= 12.0 => plain(h, "hours"),
        h => plain((h / 8.0).round(), "days of work"),
    }
}

/// A limit's figures in the reader's units.
struct Figures {
    value: Option<Amount>,
    threshold: Option<Amount>,
    at_most: bool,
}

impl Figures {
    fn of(finding: &Finding, reader: Reader) -> Self {
        let at_50_pa = is_at_50_pa(finding);
        let amount = |value: f64| reader.amount(value, &finding.unit, &finding.dimension, at_50_pa);
        Self {
            value: finding.value.map(amount),
            threshold: finding.threshold.map(amount),
            at_most: finding.comparison != Some(Comparison::AtLeast),
        }
    }

    fn said(&self) -> String {
        let threshold = self
            .threshold
            .as_ref()
            .map(|t| format!("{} {}", if self.at_most { "At most" } else { "At least" }, t.with_own()));
        match (&self.value, threshold) {
            (Some(value), Some(threshold)) => format!("{}. {threshold}.", self.told_apart(value)),
            (Some(value), None) => format!("{}.", value.lead()),
            (None, Some(threshold)) => format!("{threshold}."),
            (None, None) => "Not known yet.".to_owned(),
        }
    }

    /// The value, with more digits where rounding would make it look like its limit.
    fn told_apart(&self, value: &Amount) -> String {
        match &self.threshold {
            Some(threshold) if threshold.lead() == value.lead() && threshold.full() != value.full() => {
                format!("{} ({} to be exact)", value.lead(), value.full())
            }
            _ => value.lead(),
        }
    }

    fn stick(&self, id: &str) -> Option<String> {
        let (value, limit) = (self.value.as_ref()?.number()?, self.threshold.as_ref()?.number()?);
        let decimals = if limit.abs() < 10.0 { 2 } else { 1 };
        Some(stick(id, Stick { value, limit, at_most: self.at_most, decimals }).inline())
    }
}

/// Margin as an amount and as a share of the limit.
fn margin_in_words(finding: &Finding, reader: Reader) -> String {
    let (Some(value), Some(threshold)) = (finding.value, finding.threshold) else {
        // Why it is not known stands behind the last semicolon of the finding's own sentence.
        let why = finding.sentence.rsplit_once("; ").map(|(_, why)| why.trim_end_matches('.'));
        return why.map_or_else(|| "not known yet".to_owned(), |why| format!("not known yet: {why}"));
    };
    let amount = difference_in_words(finding, value, threshold, reader);
    let share = finding.margin.map_or_else(String::new, |m| {
        format!(" ({} of the limit)", plain((m.abs() * 1000.0).round() / 10.0, "%"))
    });
    let verdict = if finding.status == Outcome::NotMet { "past the limit" } else { "in hand" };
    let share = if finding.status == Outcome::NotMet { share.replace(" of the limit", "") } else { share };
    format!("{amount} {verdict}{share}")
}

/// Distance between value and limit in the reader's unit, with no more decimals than the value is shown with.
fn difference_in_words(finding: &Finding, value: f64, threshold: f64, reader: Reader) -> String {
    if finding.dimension == "ratio" {
        // The difference of two shares is counted in points, lest it read as a share of something.
        let points = if finding.unit == "%" { 1.0 } else { 100.0 };
        return plain(((value - threshold).abs() * points * 10.0).round() / 10.0, "points");
    }
    let figures = Figures::of(finding, reader);
    let numbers = figures.value.as_ref().zip(figures.threshold.as_ref());
    if let Some((shown, limit)) = numbers
        && let (Some(a), Some(b)) = (shown.number(), limit.number())
        && let Some((figure, unit)) = shown.lead().split_once(' ')
    {
        let decimals = figure.split_once('.').map_or(0, |(_, digits)| digits.len());
        let difference = decimal((a - b).abs(), decimals);
        // Degrees of difference are not degrees of a scale; both are written with the same sign here.
        if difference != "0" {
            return format!("{difference} {unit}");
        }
    }
    plain((value - threshold).abs(), &finding.unit)
}

/// Whether the pressure of the test is part of the trade's name for this figure.
fn is_at_50_pa(finding: &Finding) -> bool {
    let dimension = finding.dimension.to_lowercase();
    // A limit on air change or permeability is always one of a pressure test; a flow only when it says so.
    dimension.starts_with("air change")
        || dimension == "air permeability"
        || finding.subject.contains("50 Pa")
}

/// All limits at once, and how to read the strokes.
fn together(standing: &Standing) -> Markup {
    html! {
        @if let Some(chances) = &standing.chances {
            p.together {
                "A dark stroke is a chance in a hundred of meeting the limit, a faint one of missing it. On paper declared \
                 values are accepted; in use everything is uncertain. "
                @if let (Some(paper), Some(in_use)) = (chances.together, chances.together_in_use) {
                    "All limits together: " (paper.words()) " on paper, " (in_use.words()) " in use"
                    @if !chances.left_out.is_empty() { ", without " (chances.left_out.join(", ")) }
                    "."
                }
            }
        }
    }
}

fn limits(standing: &Standing, reader: Reader) -> Markup {
    html! {
        ul.limits {
            @for finding in standing.limits() { li id=(slug(&finding.id)) { (limit(standing, finding, reader)) } }
        }
    }
}

fn limit(standing: &Standing, finding: &Finding, reader: Reader) -> Markup {
    let figures = Figures::of(finding, reader);
    let id = slug(&finding.id);
    html! {
        div {
            h3 { (capital(&finding.subject)) @if finding.advisory && !finding.subject.contains("recommend") { " (recommended)" } }
            p.said { (figures.said()) }
        }
        div.shown {
            @match finding.odds {
                Some(odds) => {
                    @if let Some(said) = odds.in_hundred() {
                        (PreEscaped(tally(&format!("tally-{id}"), Chances::said(said)).inline()))
                    }
                    p class=(chance_class(finding, odds)) { (odds.words()) " on paper" }
                    @if let Some(in_use) = finding.odds_in_use { p.in-use { (in_use.words()) " in use" } }
                }
                None => {
                    @if let Some(stick) = figures.stick(&format!("stick-{id}")) { (PreEscaped(stick)) }
                    p class=(verdict_class(finding)) { (margin_in_words(finding, reader)) }
                }
            }
        }
        @if let Some(words) = causes_in_words(finding) { p.alternatives { (words) } }
        @if let Some(words) = alternatives(standing, finding) { p.alternatives { (words) } }
        (limit_working(finding, &figures, reader))
    }
}

/// Accent for a limit more likely missed than met; a recommendation never calls for action.
fn chance_class(finding: &Finding, odds: Odds) -> &'static str {
    if odds.p < 0.5 && !finding.advisory { "act" } else { "verdict" }
}

/// Accent for a limit that is missed; a recommendation never calls for action.
fn verdict_class(finding: &Finding) -> &'static str {
    match finding.status {
        Outcome::NotMet if !finding.advisory => "act",
        Outcome::NotKnown => "soft-verdict",
        _ => "verdict",
    }
}

/// What the doubt hangs on, or what drives a limit, in one line; `None` when no cause is known.
fn causes_in_words(finding: &Finding) -> Option<String> {
    if let Some(odds) = finding.odds {
        let sure = !(0.01..=0.99).contains(&odds.p);
        let (doubts, where_) = if sure && !finding.doubts_in_use.is_empty() {
            (&finding.doubts_in_use, "In use the doubt is")
        } else {
            (&finding.doubts, "The doubt is")
        };
        let told: Vec<String> = doubts
            .iter()
            .take(3)
            .map(|d| format!("{} ({})", d.stated, plain((100.0 * d.share).round(), "%")))
            .collect();
        let last = told.last()?;
        let list = if told.len() == 1 {
            last.clone()
        } else {
            format!("{} and {last}", told[..told.len() - 1].join(", "))
        };
        return Some(format!("{where_} {list}."));
    }
    let names: Vec<&str> = finding.causes.iter().take(3).map(|c| c.stated.as_str()).collect();
    let last = names.last()?;
    let list = match names.len() {
        1 => (*last).to_owned(),
        n => format!("{} and {last}", names[..n - 1].join(", ")),
    };
    let verb = if finding.status == Outcome::NotMet { "Held back by" } else { "Driven by" };
    Some(format!("{verb} {list}."))
}

fn alternatives(standing: &Standing, finding: &Finding) -> Option<String> {
    if finding.any_of.is_empty() {
        return None;
    }
    let others: Vec<&str> = standing
        .limits()
        .filter(|f| f.any_of == finding.any_of && f.id != finding.id)
        .map(|f| f.subject.as_str())
        .collect();
    if others.is_empty() { None } else { Some(format!("This or {} is enough.", others.join(" or "))) }
}

/// Shares of doubt, on paper and in use, cause by cause.
fn doubt_rows(finding: &Finding) -> Vec<Vec<String>> {
    let share = |list: &[project::standing::Cause], name: &str| {
        let of = list.iter().find(|c| c.stated == name);
        of.map_or_else(String::new, |c| plain((c.share * 100.0).round(), "%"))
    };
    let mut names: Vec<&str> = Vec::new();
    for cause in finding.doubts.iter().chain(&finding.doubts_in_use) {
        if !names.contains(&cause.stated.as_str()) {
            names.push(&cause.stated);
        }
    }
    let row = |name: &&str| {
        vec![(*name).to_owned(), share(&finding.doubts, name), share(&finding.doubts_in_use, name)]
    };
    names.iter().map(row).collect()
}

/// "28 to 34 in 100 from 1024 samples".
fn interval(odds: Odds) -> String {
    let hundred = |p: f64| plain((1000.0 * p).round() / 10.0, "");
    format!(
        "{} to {} in 100, {} samples",
        hundred(odds.low),
        hundred(odds.high),
        plain(odds.n_eff.round(), "")
    )
}

fn limit_working(finding: &Finding, figures: &Figures, reader: Reader) -> Markup {
    let facts: Vec<(&str, &str)> = [
        ("In SI", figures.value.as_ref().map_or("", Amount::written)),
        ("Limit", figures.threshold.as_ref().map_or("", Amount::written)),
        ("Use", &finding.r#use),
        ("Counted by", &finding.rule),
        ("Method", &finding.method),
        ("Limit from", &finding.source),
    ]
    .into_iter()
    .filter(|(_, words)| !words.is_empty())
    .collect();
    let causes: Vec<Vec<String>> = finding
        .causes
        .iter()
        .map(|c| {
            let size = c.value.map_or_else(String::new, |v| plain(v, &c.unit));
            vec![c.stated.clone(), plain((c.share * 100.0).round(), "%"), size]
        })
        .collect();
    let doubts = doubt_rows(finding);
    let beside: Vec<Vec<String>> = finding
        .beside
        .iter()
        .map(|b| {
            let value =
                reader.amount(b.value, &finding.unit, &finding.dimension, is_at_50_pa(finding)).lead();
            vec![[b.r#use.as_str(), &b.rule, &b.method].join(", "), value]
        })
        .collect();
    working(
        "working",
        &html! {
            p { (finding.sentence) }
            dl.facts { @for (name, words) in facts { dt { (name) } dd { (words) } } }
            @if !causes.is_empty() { (table("What drives it", &["cause", "share", "size"], &causes)) }
            @if !doubts.is_empty() { (table("What the doubt hangs on", &["cause", "on paper", "in use"], &doubts)) }
            @if let Some(odds) = finding.odds {
                p { "90 % interval on paper " (interval(odds)) @if let Some(o) = finding.odds_in_use { ", in use " (interval(o)) } "." }
            }
            @if !beside.is_empty() { (table("The same, counted otherwise", &["use, rule, method", "value"], &beside)) }
            @for caution in &finding.cautions { p { (caution) } }
            @if reader.served { p.tall { a href={ "why?of=" (finding.id.trim_start_matches("limit.")) } { "How this figure came about, step by step" } } }
        },
    )
}

/// Proof and questions still open, stage by stage; the present stage lies open.
fn open_questions(standing: &Standing) -> Markup {
    let stages: Vec<&Stage> = standing.stages.iter().filter(|s| has_open(standing, s)).collect();
    html! {
        @if !stages.is_empty() {
            h2 { "Open questions, stage by stage" }
            @for stage in stages {
                @let open: Vec<&Finding> = open_of(standing, stage).collect();
                details open[stage.state == StageState::Now] id={ "stage-" (slug(&stage.id)) } {
                    summary { (capital(&stage.name)) ", " (open.len()) " open" }
                    (questions(&open))
                }
            }
        }
    }
}

/// Open findings of one stage; gaps and limits stand elsewhere on the sheet in full and are only counted here.
fn questions(open: &[&Finding]) -> Markup {
    let gaps = open.iter().filter(|f| f.kind == FindingKind::Gap).count();
    let limits: Vec<&&Finding> = open.iter().filter(|f| f.kind == FindingKind::Limit).collect();
    let others = open.iter().filter(|f| !matches!(f.kind, FindingKind::Gap | FindingKind::Limit));
    html! {
        ul.checks {
            @if gaps > 0 { li { (gaps) (if gaps == 1 { " gap" } else { " gaps" }) " in the control layers, listed above." } }
            @if !limits.is_empty() {
                li {
                    @for (place, limit) in limits.iter().enumerate() {
                        @if place > 0 { ", " }
                        (if place == 0 { capital(&limit.subject) } else { limit.subject.clone() })
                        (if limit.status == Outcome::NotKnown { " not known" } else { " not met" })
                    }
                    "."
                }
            }
            @for finding in others { li { (sentence_or_subject(finding)) } }
        }
    }
}

fn not_checked(standing: &Standing) -> Markup {
    let cautions =
        standing.findings.iter().filter(|f| f.kind == FindingKind::Caution).map(sentence_or_subject);
    let mut all: Vec<String> = standing.not_checked.iter().cloned().chain(cautions).collect();
    let mut seen = Vec::new();
    all.retain(|sentence| {
        let new = !seen.contains(sentence);
        seen.push(sentence.clone());
        new
    });
    html! {
        @if !all.is_empty() {
            h2 { "What was not checked" }
            ul.checks { @for sentence in &all { li { (sentence) } } }
        }
    }
}

fn notices(standing: &Standing) -> Markup {
    html! {
        @if !standing.notices.is_empty() {
            (working("how this was run", &html! {
                ul { @for notice in &standing.notices { li { (notice) } } }
                p.soft { "Engine " (standing.engine) ", weather " (standing.project.climate) "." }
            }))
        }
    }
}

/// First letter large.
pub fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_read_like_a_builder_says_them() {
        for (hours, words) in [
            (0.5, "half an hour"),
            (0.25, "15 minutes"),
            (1.0, "an hour"),
            (3.0, "3 hours"),
            (80.0, "10 days of work"),
        ] {
            assert_eq!(hours_in_words(hours), words);
        }
    }

    #[test]
    fn shares_differ_by_points_whether_written_in_percent_or_not() {
        let reader = Reader::new("si", "us");
        for (unit, value, threshold) in [("%", 81.9, 75.0), ("", 0.819, 0.75)] {
            let mut finding = Finding::new("limit.heat-recovery", FindingKind::Limit, "heat recovered");
            finding.dimension = "ratio".to_owned();
            finding.unit = unit.to_owned();
            assert_eq!(difference_in_words(&finding, value, threshold, reader), "6.9 points");
        }
    }

    #[test]
    fn capitals() {
        assert_eq!(capital("air change"), "Air change");
        assert_eq!(capital(""), "");
    }
}
