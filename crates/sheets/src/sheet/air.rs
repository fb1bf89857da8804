//! The sheet of air: how tight, and where not? The test, the rest of the leak, fresh air by room, the test day, commissioning.

use maud::{Markup, PreEscaped, html};
use project::air::{DirectionReport, Rate, RuleLine, Story, SuspectLine, TestReport};
use quantity::{Dimension, Qualifier, show_as};

use crate::draw::log_log::{LogLog, Run, log_log};
use crate::draw::long_section::{LongSection, long_section};
use crate::draw::tally::{Chances, tally};
use crate::page::{figure, figure_to_pan, table, working};
use crate::reader::Reader;
use crate::sheet::fresh_air::{burning, commissioning, rooms};
use crate::sheet::test_day::{TestDay, test_day};
use crate::sheet::where_we_stand::capital;
use crate::svg::decimal;

/// Suspects shown at once; the rest opens.
const FIRST: usize = 8;

/// Everything on the sheet besides the story.
#[derive(Clone, Debug, PartialEq)]
pub struct AirSheet<'a> {
    /// The building cut along its length; `None` when nothing is drawn in the book.
    pub section: Option<LongSection>,
    /// The test-day page.
    pub day: TestDay,
    /// Project's name, repeated on the page that travels.
    pub project: &'a str,
    /// Revision, likewise.
    pub revision: &'a str,
}

/// Figures of air in the reader's units.
#[derive(Clone, Copy)]
pub(super) struct Says(pub(super) Reader);

impl Says {
    /// A leak at 50 Pa.
    pub(super) fn leak(self, m3_h: f64) -> String {
        show_as(m3_h / 3600.0, Dimension::VolumeFlow, self.0.system, Qualifier::At50Pa)
    }

    /// Any other flow.
    pub(super) fn flow(self, m3_h: f64) -> String {
        self.0.show(m3_h / 3600.0, Dimension::VolumeFlow)
    }

    fn rate(self, id: &str, value: f64) -> String {
        let dimension = match id {
            "air-change" => Dimension::AirChange,
            "flow" => return self.leak(value),
            _ => Dimension::AirPermeability,
        };
        show_as(value, dimension, self.0.system, Qualifier::At50Pa)
    }

    /// One flow unit of a leak, m³/h in it, and its name, for a drawing.
    fn unit(self) -> (f64, String) {
        let one = self.leak(1.0e4);
        let unit = one.rsplit_once(' ').map_or("", |(_, unit)| unit).to_owned();
        let in_unit = quantity::value_in(1.0 / 3600.0, Dimension::VolumeFlow, unit.trim_end_matches("50"));
        in_unit.map_or((1.0, "m³/h".to_owned()), |per| (per, unit.trim_end_matches("50").to_owned()))
    }

    fn hole(self, cm2: f64) -> String {
        let (cm, inch) = (format!("{} cm²", decimal(cm2, 0)), format!("{} in²", decimal(cm2 / 6.4516, 1)));
        match self.0.system {
            quantity::System::Us => format!("{inch} ({cm})"),
            quantity::System::Si => format!("{cm} ({inch})"),
        }
    }
}

/// Value and half-width with their unit once: `0.629 ± 0.034 ACH50`.
fn banded(value: &str, half: &str) -> String {
    let half = half.rsplit_once(' ').map_or(half, |(number, _)| number);
    // Two figures of a half-width say all it knows.
    let figures = half.chars().filter(char::is_ascii_digit).skip_while(|c| *c == '0').count();
    let short = if figures > 2 && half.contains('.') { &half[..half.len() - (figures - 2)] } else { half };
    match value.rsplit_once(' ') {
        Some((number, unit)) => format!("{number} ± {} {unit}", short.trim_end_matches('.')),
        None => format!("{value} ± {short}"),
    }
}

/// A probability as chances in a hundred.
fn counted(p: f64) -> Option<Chances> {
    (0.0..=1.0).contains(&p).then(|| Chances::said((100.0 * p).round() as u8))
}

pub(super) fn percent(share: f64) -> String {
    format!("{} %", decimal(100.0 * share, 0))
}

/// Draws the content of the sheet.
pub fn content(story: &Story, sheet: &AirSheet<'_>, reader: Reader) -> Markup {
    let says = Says(reader);
    html! {
        h1 { (headline(story, says)) }
        p.lead { (lead(story, says)) }
        div.two {
            div {
                @if let Some(section) = &sheet.section {
                    (figure_to_pan("air-section", "", |format| long_section(section, format).drawing))
                    p.kicker { "The accent line is the air barrier; its numbered gaps are those of the first sheet." }
                }
            }
            div.right { (ranking(story, says)) }
        }
        (the_test(story, says))
        div.pair { div { (stage(story, says)) } div { (isolate(story, says)) } }
        div.pair { div { (rooms(story, says)) } div { (party(story, says)) (burning(story)) } }
        (commissioning(story, says))
        p.soft { "Not checked here: fire and smoke separation, combustion air, draught and carbon monoxide, how the building was \
                  prepared. Licensed people, the code official and the certifying body decide. Nothing here is a certificate." }
        (test_day(&sheet.day, says, sheet.project, sheet.revision))
    }
}

/// What stands there when nobody has gathered the story.
pub fn without_a_story() -> Markup {
    html! {
        h1 { "Nothing is known of the air" }
        p.lead { "The project could not be asked about its tests, leaks and flows." }
    }
}

fn headline(story: &Story, says: Says) -> String {
    match (story.air.latest(), &story.forecast) {
        (Some((_, told)), _) => {
            let number = says.rate(told.result.id, told.result.figure.value);
            match told.result.met {
                Some(true) => format!("{number}: under the limit"),
                Some(false) => format!("{number}: over the limit"),
                None => format!("{number} read"),
            }
        }
        (None, Some(f)) => {
            format!("Nobody has read the fan yet; the forecast is {}", says.leak(f.outdoors_m3_h[0]))
        }
        (None, None) => "Nobody has read the fan yet".to_owned(),
    }
}

fn lead(story: &Story, says: Says) -> String {
    let Some((logged, told)) = story.air.latest() else {
        return "The forecast ranks and warns; only a test says how tight the building is.".to_owned();
    };
    let r = &told.result;
    let chance = match (r.chance.and_then(counted), r.limit) {
        (Some(c), Some(limit)) => format!(", {} at or under {}", c.words(), says.rate(r.id, limit)),
        _ => String::new(),
    };
    let kind = match (told.standard_test, told.valid) {
        (false, _) => " It is no standard test.",
        (true, Some(false)) => " A validity rule of ISO 9972 is broken.",
        (true, _) => " Every rule of ISO 9972 that the readings decide holds.",
    };
    format!(
        "Read on {}: ± {} by the full budget (95 %){chance}.{kind}",
        logged.day,
        percent(r.figure.half_width_95 / r.figure.value)
    )
}

/// Where the leak comes from: suspects after a reading, the forecast before one.
fn ranking(story: &Story, says: Says) -> Markup {
    if let Some(report) = &story.suspects {
        let (seen, hidden): (Vec<&SuspectLine>, Vec<&SuspectLine>) =
            report.suspects.iter().partition(|s| s.visible);
        let (first, more) = seen.split_at(seen.len().min(FIRST));
        return html! {
            h2.flush { "Where the rest probably is" }
            p.kicker { "Own estimate from the book's joints, " (report.readings) " reading" @if report.readings != 1 { "s" } " and " (report.finds) " found leaks. It ranks, it proves nothing." }
            (suspect_table(first, says))
            @if !more.is_empty() { (working(&format!("{} more", more.len()), &suspect_table(more, says))) }
            @if !hidden.is_empty() {
                p.soft { (hidden.len()) " leaks to the neighbour do not show in this set-up (" (report.setup) "): do not look for them now." }
            }
        };
    }
    html! {
        @if let Some(f) = &story.forecast {
            h2.flush { "Where it will leak" }
            p.kicker { "Own estimate: " (says.leak(f.outdoors_m3_h[1])) " to " (says.leak(f.outdoors_m3_h[2])) " (90 %), by class of work from published component data, from memory." }
            (table("", &["leak", "about", "share"], &f.leaks.iter().filter(|l| l.leads_to == "outdoors").take(FIRST + 4).map(|l| {
                vec![capital(&l.id), says.leak(l.mean_m3_h), percent(l.share)]
            }).collect::<Vec<_>>()))
        }
    }
}

fn suspect_table(rows: &[&SuspectLine], says: Says) -> Markup {
    let rows: Vec<Vec<String>> = rows
        .iter()
        .map(|s| {
            let found = if s.found { ", found" } else { "" };
            vec![
                format!("{}{found}", capital(&s.id)),
                says.leak(s.mean_m3_h),
                format!("{} to {}", says.leak(s.interval_m3_h[0]), says.leak(s.interval_m3_h[1])),
                says.hole(s.hole_cm2),
            ]
        })
        .collect();
    table("", &["suspect", "about", "95 %", "as one hole"], &rows)
}

fn the_test(story: &Story, says: Says) -> Markup {
    let Some((_, told)) = story.air.latest() else { return html! {} };
    html! {
        h2 id="test" { "The latest test" }
        div.evening {
            div { (figure(&test_sentence(told, says), |format| log_log(&picture(told, says), format))) }
            div {
                @if let Some(chances) = told.result.chance.and_then(counted) {
                    div.shown-tally {
                        (PreEscaped(tally("tally-air", chances).inline()))
                        p { b { (chances.words()) } " of being at or under the limit, by the full budget" }
                    }
                }
                (test_facts(told, says))
                (working("every rule by name", &rule_table(&told.rules)))
                @if !told.budget.is_empty() { (working("where the doubt comes from", &budget_table(told))) }
                (working("the readings", &readings_table(told, says)))
            }
        }
        (counting(told, says))
        (history(story, says))
    }
}

fn test_sentence(told: &TestReport, says: Says) -> String {
    let r = &told.result;
    format!(
        "{} (95 %) at {} Pa, {}.",
        banded(&says.rate(r.id, r.figure.value), &says.rate(r.id, r.figure.half_width_95)),
        decimal(told.reference_pressure_pa, 0),
        r.words
    )
}

fn law(d: &DirectionReport, told: &TestReport, scale: f64) -> Option<[f64; 2]> {
    match (&d.iso_9972, told.quick) {
        (Some(line), _) => Some([scale * line.c_l, line.exponent.value]),
        // Through the reading by its stated exponent.
        (None, Some(quick)) => {
            let n = quick.exponent[0];
            Some([scale * told.flow.value / numeric::pow(told.reference_pressure_pa, n), n])
        }
        (None, None) => None,
    }
}

fn picture(told: &TestReport, says: Says) -> LogLog {
    let (per_m3_h, unit) = says.unit();
    let runs = told
        .directions
        .iter()
        .map(|d| Run {
            name: match (d.iso_9972.as_ref(), told.directions.len()) {
                (None, _) => "exponent stated".to_owned(),
                (Some(_), 1) => d.direction.to_owned(),
                (Some(line), _) => format!("{}, n {}", d.direction, decimal(line.exponent.value, 3)),
            },
            points: d.points.iter().map(|p| [p.pressure_pa, per_m3_h * p.flow_m3_h]).collect(),
            law: law(d, told, per_m3_h),
        })
        .collect();
    let size = told.result.size.unwrap_or(1.0);
    LogLog {
        id: "air-test".to_owned(),
        title: format!("Flow against pressure, {unit} and Pa"),
        description: test_sentence(told, says),
        unit,
        runs,
        band: told.flow.half_width_95 / told.flow.value,
        limit: told.result.limit.map(|l| [told.reference_pressure_pa, per_m3_h * l * size]),
        reference_pa: told.reference_pressure_pa,
    }
}

fn test_facts(told: &TestReport, says: Says) -> Markup {
    let rate = |r: &Rate| banded(&says.rate(r.id, r.figure.value), &says.rate(r.id, r.figure.half_width_95));
    html! {
        dl.facts {
            @for r in &told.rates { dt { (capital(r.words)) } dd { (rate(r)) } }
            @for area in &told.areas {
                dt { "Leakage area, " (decimal(area.pressure_pa, 0)) " Pa" } dd { (says.hole(area.cm2)) ", " (area.standard) }
            }
            @if let Some(mean) = told.mean.filter(|m| m.directions > 1) {
                dt { "Directions" } dd { (decimal(100.0 * mean.difference_share, 1)) " % apart" }
            }
            @if let Some(excess) = &told.excess {
                dt { "Over the limit" }
                dd { (says.leak(excess.flow_m3_h)) ": a sharp-edged hole of " b { (says.hole(excess.hole_cm2)) } small.soft { br; (excess.formula) } }
            }
            dt { "Neighbour" } dd { (told.test.neighbour) @if let Some(pa) = told.test.guard_residual_pa { ", " (decimal(pa, 1)) " Pa left" } }
        }
    }
}

fn rule_table(rules: &[RuleLine]) -> Markup {
    if rules.is_empty() {
        return html! { p { "One or two points: no standard knows such a test, so no rule applies." } };
    }
    let figure = |v: f64| decimal(v, 3);
    let rows: Vec<Vec<String>> = rules
        .iter()
        .map(|r| {
            let verdict = match r.ok {
                Some(true) => "holds",
                Some(false) => "broken",
                None => "open",
            };
            let way = if r.direction.is_empty() { String::new() } else { format!(", {}", r.direction) };
            vec![
                format!("{}{way}: {}", r.standard, r.words),
                r.value.map_or_else(|| "not read".to_owned(), figure),
                figure(r.limit),
                verdict.to_owned(),
            ]
        })
        .collect();
    table("", &["rule", "value", "limit", "so"], &rows)
}

fn budget_table(told: &TestReport) -> Markup {
    let rows: Vec<Vec<String>> = told
        .budget
        .iter()
        .filter(|b| b.share > 0.0)
        .map(|b| {
            vec![
                capital(b.source),
                format!("{} %", decimal(100.0 * b.share, 2)),
                percent(b.share_of_variance),
            ]
        })
        .collect();
    table("", &["source", "standard uncertainty", "of the variance"], &rows)
}

fn readings_table(told: &TestReport, says: Says) -> Markup {
    let rows: Vec<Vec<String>> = told
        .directions
        .iter()
        .flat_map(|d| {
            d.points.iter().map(|p| {
                vec![
                    format!("{}, {} Pa", d.direction, decimal(p.pressure_pa, 1)),
                    says.flow(p.flow_m3_h),
                    p.off_the_line.map_or_else(|| "–".to_owned(), |o| format!("{} %", decimal(100.0 * o, 1))),
                ]
            })
        })
        .collect();
    table("", &["reading", "flow", "off the line"], &rows)
}

/// The same readings under each counting rule, side by side, and what turns the outcome.
fn counting(told: &TestReport, says: Says) -> Markup {
    if told.counting_rules.is_empty() {
        return html! {};
    }
    let rows: Vec<Vec<String>> = told
        .counting_rules
        .iter()
        .map(|c| {
            let met = match c.met {
                Some(true) => "meets it",
                Some(false) => "misses it",
                None => "no limit",
            };
            let chance = c.chance.and_then(counted).map_or_else(String::new, |c| c.words());
            vec![
                capital(&c.name),
                says.0.show(c.size, Dimension::Volume),
                says.rate("air-change", c.figure.value),
                met.to_owned(),
                chance,
            ]
        })
        .collect();
    let flips: Vec<Vec<String>> = told
        .flips
        .iter()
        .map(|f| vec![capital(&f.item), says.0.show(f.volume_m3, Dimension::Volume), f.why.clone()])
        .collect();
    html! {
        h2 { "The same readings under each counting rule" }
        @if !flips.is_empty() {
            p { "The rule decides the outcome, not the building: ask in writing which one counts." }
        }
        (table("", &["rule", "volume", "air change", "so", "chance"], &rows))
        @if !flips.is_empty() {
            (working("the items that turn it", &table("", &["item", "volume more", "why"], &flips)))
        }
    }
}

/// Every test of the log, oldest first.
fn history(story: &Story, says: Says) -> Markup {
    if story.air.tests.len() < 2 {
        return html! {};
    }
    let rows: Vec<Vec<String>> = story
        .air
        .tests
        .iter()
        .map(|(logged, told)| {
            let kind = match told.standard_test {
                true => format!(
                    "{}, {} points",
                    told.test.neighbour,
                    told.directions.iter().map(|d| d.points.len()).sum::<usize>()
                ),
                false => format!("{}, {}", told.test.neighbour, told.test.kind),
            };
            vec![
                logged.day.clone(),
                says.leak(told.flow.value),
                format!("± {}", percent(told.flow.half_width_95 / told.flow.value)),
                kind,
            ]
        })
        .collect();
    html! { (working("every test of the log", &table("", &["day", "flow", "95 %", "neighbour, kind"], &rows))) }
}

fn stage(story: &Story, says: Says) -> Markup {
    let Some(stage) = &story.stage else { return html! {} };
    let volume = story.air.ask.volume.map(|v| v.value);
    let rate = |m3_h: f64| match volume {
        Some(v) => says.rate("air-change", m3_h / v),
        None => says.leak(m3_h),
    };
    let as_it_is = match (100.0 * stage.chance_as_it_is).round() {
        n if n < 1.0 => "fewer than 1 chance in 100".to_owned(),
        n if n > 99.0 => "more than 99 chances in 100".to_owned(),
        n => format!("{n:.0} in 100"),
    };
    let rows: Vec<Vec<String>> = stage
        .ahead
        .iter()
        .map(|(what, flow, goes)| {
            let way = if *goes { "will be gone" } else { "still to come" };
            vec![capital(what), way.to_owned(), says.leak(*flow)]
        })
        .collect();
    html! {
        h2 { "What today's reading must be" }
        p {
            @match stage.reading_m3_h {
                Some(needed) => { b { "At or under " (rate(needed)) } " for " (percent(stage.wanted_chance)) " chance of ending at or under " (rate(stage.limit_m3_h)) ". " }
                None => { b { "No reading would do: " } "what is still to come is more than the limit leaves. " }
            }
            "It is " (rate(stage.today_m3_h)) "; left as it is, that gives " (as_it_is) ". "
            span.soft { "This program's own estimate; the holes below are the book's, under [airtightness]." }
        }
        (table("", &["what", "", "about"], &rows))
    }
}

fn isolate(story: &Story, says: Says) -> Markup {
    let Some(report) = story.suspects.as_ref().filter(|r| !r.steps.is_empty()) else { return html! {} };
    let rows: Vec<Vec<String>> = report
        .steps
        .iter()
        .take(5)
        .map(|s| vec![capital(&s.step), format!("{} min", decimal(s.minutes, 0)), says.leak(s.worth_m3_h)])
        .collect();
    html! {
        h2 { "Tape over one thing, read one point" }
        p { "Each step is worth what choosing the next repair by its reading saves over choosing now; most worth a minute first. Only \
             steps that this set-up can show are listed." }
        (table("", &["isolate", "takes", "worth"], &rows))
    }
}

fn party(story: &Story, says: Says) -> Markup {
    let Some(s) = &story.separation else { return html! {} };
    let both = |[value, half]: [f64; 2]| banded(&says.leak(value), &says.leak(half));
    html! {
        h2 { "The party boundary apart from the outside" }
        dl.facts {
            dt { "To outdoors" } dd { (both(s.outdoors_m3_h)) }
            dt { "Through the party boundary" } dd { (both(s.party_m3_h)) }
            dt { "From" } dd { @for (n, (setup, flow)) in s.tests.iter().enumerate() { @if n > 0 { ", " } (setup) " " (says.leak(*flow)) } ", " (s.day) }
        }
        @if let Some(assumed) = &s.assumed { p.soft { (capital(assumed)) "." } }
    }
}

#[cfg(test)]
mod tests {
    use super::banded;

    #[test]
    fn a_band_has_one_unit_and_two_figures() {
        assert_eq!(banded("0.629 ACH50", "0.0335 ACH50"), "0.629 ± 0.033 ACH50");
        assert_eq!(banded("354 cfm50", "18.8 cfm50"), "354 ± 18 cfm50");
        assert_eq!(banded("10 300 m³/h", "410 m³/h"), "10 300 ± 410 m³/h");
    }
}
