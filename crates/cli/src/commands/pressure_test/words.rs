//! The report of a pressure test in words: the sentence first, then every number and every rule.

use crate::terminal::{Terminal, columns};
use project::air::{DirectionReport, Figure, LineReport, Rate, RuleLine, TestReport};
use project::diagnostic::clean;
use quantity::{Dimension, Qualifier, System, show_as};

/// How figures of this test are shown.
#[derive(Clone, Copy)]
pub(super) struct Show {
    system: System,
    at_50_pa: bool,
}

impl Show {
    pub(super) fn new(system: System, pressure_pa: f64) -> Self {
        Self { system, at_50_pa: (pressure_pa - project::air::REFERENCE_PA).abs() < 1e-9 }
    }

    fn qualifier(self) -> Qualifier {
        if self.at_50_pa { Qualifier::At50Pa } else { Qualifier::Plain }
    }

    /// A leakage flow, m³/h.
    pub(super) fn flow(self, m3_h: f64) -> String {
        show_as(m3_h / 3600.0, Dimension::VolumeFlow, self.system, self.qualifier())
    }

    /// A flow that is no result: through a fan, through a leak at another pressure.
    fn plain_flow(self, m3_h: f64) -> String {
        show_as(m3_h / 3600.0, Dimension::VolumeFlow, self.system, Qualifier::Plain)
    }

    /// A value of a rate with its unit.
    pub(super) fn rate(self, id: &str, value: f64) -> String {
        let dimension = match id {
            "air-change" => Dimension::AirChange,
            "flow" => return self.flow(value),
            _ => Dimension::AirPermeability,
        };
        show_as(value, dimension, self.system, self.qualifier())
    }

    /// Value and band with one unit: `0.557 ± 0.024 1/h`.
    pub(super) fn banded(self, id: &str, figure: &Figure) -> String {
        let (whole, half) = (self.rate(id, figure.value), self.rate(id, figure.half_width_95));
        let (number, unit) = apart(&whole);
        format!("{number} ± {} {unit}", as_finely(apart(&half).0, number))
    }
}

/// Writes a half-width with as many decimals as its value has: more would only look exact.
fn as_finely(half: &str, value: &str) -> String {
    let decimals = |text: &str| text.split_once('.').map_or(0, |(_, d)| d.len());
    // Under three figures a value such as 0.6 has lost zeros; a band keeps two figures of its own.
    let places = decimals(value).max(usize::from(value.starts_with('0')) * 3);
    match half.replace(' ', "").parse::<f64>() {
        Ok(number) if decimals(half) > places => format!("{number:.places$}"),
        _ => half.to_owned(),
    }
}

/// Number and unit of a shown figure: thousands are grouped by blanks, and one unit begins with a figure itself.
fn apart(shown: &str) -> (&str, &str) {
    if let Some(number) = shown.strip_suffix(" 1/h") {
        return (number, "1/h");
    }
    let end =
        shown.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | ' '))).unwrap_or(shown.len());
    (shown[..end].trim_end(), &shown[end..])
}

/// Lays a report out for reading.
pub fn page(report: &TestReport, system: System, terminal: &Terminal) -> String {
    let show = Show::new(system, report.reference_pressure_pa);
    let mut out = String::new();
    let head = [&report.test.title, &report.test.date];
    let head: Vec<String> = head.into_iter().filter(|t| !t.is_empty()).map(|t| clean(t)).collect();
    if !head.is_empty() {
        out.push_str(&terminal.paragraph(&head.join(" · "), ""));
    }
    for line in terminal.paragraph(&sentence(report, show), "").lines() {
        out.push_str(&terminal.strong(line));
        out.push('\n');
    }
    out.push_str(&terminal.paragraph(&standing(report), ""));
    if let Some(excess) = &report.excess {
        let hole = format!(
            "Over the limit by {}: a sharp-edged hole of {} passes that. {}",
            show.flow(excess.flow_m3_h),
            hole_words(excess.hole_cm2, excess.hole_in2, system),
            excess.formula
        );
        out.push_str(&terminal.paragraph(&hole, ""));
    }
    let mut block = |title: &str, rows: Vec<Vec<String>>| {
        if !rows.is_empty() {
            out.push_str(&format!("\n{title}\n"));
            out.push_str(&columns(&rows, terminal.width(), 2));
        }
    };
    block("Results, full budget (95 %)", report.rates.iter().map(|r| rate_row(report, r, show)).collect());
    block("Under each counting rule", counted_rows(report, show));
    block("What makes the rules differ", flip_rows(report));
    for direction in &report.directions {
        block(&title(direction.direction), direction_rows(direction, show));
    }
    block("Mean and areas", mean_rows(report, show));
    block("Quick reading", quick_rows(report));
    block("Where the doubt comes from", budget_rows(report));
    block("Rules", rule_rows(&report.rules));
    out.push('\n');
    for note in &report.notes {
        out.push_str(&terminal.paragraph(&format!("note: {}", clean(note)), "  "));
    }
    for line in &report.not_checked {
        out.push_str(&terminal.paragraph(&format!("not checked: {line}"), "  "));
    }
    out
}

/// The number, its band and its chance.
pub(super) fn sentence(report: &TestReport, show: Show) -> String {
    let r = &report.result;
    let p = report.reference_pressure_pa;
    let number = format!("{} at {p:.0} Pa (95 %)", show.banded(r.id, &r.figure));
    let quick = if report.standard_test { "" } else { " Not a standard test." };
    match (r.limit, r.chance) {
        (Some(limit), Some(chance)) => {
            format!("{number}: {} at or under {}.{quick}", chances(chance), show.rate(r.id, limit))
        }
        _ => format!(
            "{number}; no limit is given, so there is no chance to tell (--limit \"0.6 1/h\").{quick}"
        ),
    }
}

/// Chances in a hundred; never none and never all where some are left.
pub(super) fn chances(p: f64) -> String {
    let whole = (100.0 * p).round();
    let whole = if p > 0.0 && p < 1.0 { whole.clamp(1.0, 99.0) } else { whole };
    if whole == 1.0 { "1 chance in 100".to_owned() } else { format!("{whole:.0} chances in 100") }
}

fn standing(report: &TestReport) -> String {
    let broken: Vec<&RuleLine> = report.rules.iter().filter(|r| r.ok == Some(false)).collect();
    let iso = broken.iter().filter(|r| r.standard.starts_with("ISO")).count();
    let open = report.rules.iter().filter(|r| r.ok.is_none()).count();
    let open = match open {
        0 => String::new(),
        1 => "; one rule is open, the readings do not say".to_owned(),
        n => format!("; {n} rules are open, the readings do not say"),
    };
    match (report.standard_test, iso) {
        (false, _) => format!(
            "One or two points, evaluated with a stated exponent ({}): good for a stage target or a difference, no standard knows such a test.",
            report.quick.map_or("", |q| q.method)
        ),
        (true, 0) => format!("Every rule of ISO 9972 that the readings decide holds{open}."),
        (true, _) => {
            let mut names: Vec<&str> = Vec::new();
            for rule in broken.iter().filter(|r| r.standard.starts_with("ISO")) {
                if !names.contains(&rule.id) {
                    names.push(rule.id);
                }
            }
            format!("Not valid by ISO 9972: {} broken{open}.", names.join(", "))
        }
    }
}

fn hole_words(cm2: f64, in2: f64, system: System) -> String {
    match system {
        System::Us => format!("{in2:.1} in² ({cm2:.0} cm²)"),
        System::Si => format!("{cm2:.0} cm² ({in2:.1} in²)"),
    }
}

fn title(direction: &str) -> String {
    let mut chars = direction.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().collect::<String>() + chars.as_str())
}

fn rate_row(report: &TestReport, r: &Rate, show: Show) -> Vec<String> {
    let size = r.size.map_or_else(String::new, |size| {
        let unit = if r.id == "air-change" { Dimension::Volume } else { Dimension::Area };
        format!("over {}, {}", show_as(size, unit, show.system, Qualifier::Plain), rule_name(report, &r.rule))
    });
    let judged = match (r.limit, r.chance) {
        (Some(limit), Some(chance)) => {
            format!("limit {}: {}", show.rate(r.id, limit), chances(chance))
        }
        _ => String::new(),
    };
    vec![r.words.to_owned(), show.banded(r.id, &r.figure), size, judged]
}

fn rule_name(report: &TestReport, rule: &str) -> String {
    report.counting_rules.iter().find(|c| c.rule == rule).map_or_else(|| rule.to_owned(), |c| c.name.clone())
}

fn counted_rows(report: &TestReport, show: Show) -> Vec<Vec<String>> {
    let row = |c: &project::air::CountedRate| {
        let met = match c.met {
            Some(true) => "meets it",
            Some(false) => "misses it",
            None => "",
        };
        vec![
            clean(&c.name),
            show_as(c.size, Dimension::Volume, show.system, Qualifier::Plain),
            show.banded("air-change", &c.figure),
            [met.to_owned(), c.chance.map_or_else(String::new, chances)]
                .into_iter()
                .filter(|t| !t.is_empty())
                .collect::<Vec<_>>()
                .join(", "),
        ]
    };
    report.counting_rules.iter().map(row).collect()
}

fn flip_rows(report: &TestReport) -> Vec<Vec<String>> {
    report
        .flips
        .iter()
        .map(|f| vec![clean(&f.item), format!("{:+.1} m³", f.volume_m3), clean(&f.why)])
        .collect()
}

fn direction_rows(d: &DirectionReport, show: Show) -> Vec<Vec<String>> {
    let mut rows = Vec::new();
    let list = |values: &[f64]| {
        let all: Vec<String> = values.iter().map(|v| format!("{v:.1}")).collect();
        if all.is_empty() { "not read".to_owned() } else { all.join(", ") }
    };
    rows.push(vec![
        "zero-flow pressure".to_owned(),
        format!("{:.2} Pa taken off", d.zero_pa),
        format!("before {}; after {}", list(&d.zero_before_pa), list(&d.zero_after_pa)),
    ]);
    for p in &d.points {
        // Adding zero takes the sign off a zero.
        let rounded = |o: f64| (1000.0 * o).round() / 10.0 + 0.0;
        let off = p.off_the_line.map_or_else(String::new, |o| format!("{:+.1} % off the line", rounded(o)));
        rows.push(vec![
            format!("{:.1} Pa", p.pressure_pa),
            show.plain_flow(p.flow_m3_h),
            format!("read {:.1} Pa, {}; {off}", p.read_pa, show.plain_flow(p.read_m3_h))
                .trim_end_matches("; ")
                .to_owned(),
        ]);
    }
    for (name, line) in [("ISO 9972", &d.iso_9972), ("ASTM E779", &d.astm_e779)] {
        if let Some(line) = line {
            rows.extend(line_rows(name, line, show));
        }
    }
    for other in &d.other_fits {
        rows.push(vec![
            format!("fit: {}", other.fit),
            show.flow(other.flow_m3_h),
            format!("n {:.3}", other.exponent),
        ]);
    }
    rows
}

fn line_rows(name: &str, line: &LineReport, show: Show) -> Vec<Vec<String>> {
    vec![
        vec![
            name.to_owned(),
            show.flow(line.flow.value),
            format!(
                "regression alone {} to {} (95 %); r² {:.4}",
                show.flow(line.flow.low),
                show.flow(line.flow.high),
                line.r2
            ),
        ],
        vec![
            String::new(),
            format!("n {:.3}", line.exponent.value),
            format!(
                "{:.3} to {:.3}; C_env {:.1} ({:.1} to {:.1}), C_L {:.1} m³/(h·Paⁿ); ELA {:.0} cm² at 4 Pa, {:.0} cm² at 10 Pa",
                line.exponent.low,
                line.exponent.high,
                line.c_env.value,
                line.c_env.low,
                line.c_env.high,
                line.c_l,
                line.ela_4_pa_cm2,
                line.ela_10_pa_cm2
            ),
        ],
    ]
}

fn mean_rows(report: &TestReport, show: Show) -> Vec<Vec<String>> {
    let mut rows = Vec::new();
    if let Some(mean) = &report.mean {
        let what = if mean.directions > 1 { "mean of directions" } else { "one direction" };
        let apart = if mean.directions > 1 {
            format!("; directions {:.1} % apart", 100.0 * mean.difference_share)
        } else {
            String::new()
        };
        rows.push(vec![
            what.to_owned(),
            show.flow(mean.flow_m3_h),
            format!(
                "regression alone ± {}, which is not the uncertainty{apart}",
                show.flow(mean.regression_half_width_m3_h)
            ),
        ]);
    }
    for area in &report.areas {
        rows.push(vec![
            format!("effective leakage area at {:.0} Pa", area.pressure_pa),
            hole_words(area.cm2, area.in2, show.system),
            area.standard.to_owned(),
        ]);
    }
    rows
}

fn quick_rows(report: &TestReport) -> Vec<Vec<String>> {
    report.quick.map_or_else(Vec::new, |q| {
        let said = |[value, u]: [f64; 2]| format!("{value:.3} ± {:.3} (95 %)", 2.0 * u);
        vec![
            vec!["exponent stated".to_owned(), said(q.stated_exponent)],
            vec!["exponent after the points".to_owned(), said(q.exponent)],
        ]
    })
}

fn budget_rows(report: &TestReport) -> Vec<Vec<String>> {
    report
        .budget
        .iter()
        .filter(|b| b.share > 0.0)
        .map(|b| {
            vec![
                b.source.to_owned(),
                format!("{:.2} %", 100.0 * b.share),
                format!("{:.0} % of the variance", 100.0 * b.share_of_variance),
            ]
        })
        .collect()
}

fn rule_rows(rules: &[RuleLine]) -> Vec<Vec<String>> {
    rules
        .iter()
        .map(|r| {
            let verdict = match r.ok {
                Some(true) => "holds",
                Some(false) => "BROKEN",
                None => "open",
            };
            let value = r.value.map_or_else(|| "not read".to_owned(), figure);
            let whose = match r.direction {
                "" => r.standard.to_owned(),
                "depressurisation" => format!("{}, depress.", r.standard),
                _ => format!("{}, press.", r.standard),
            };
            vec![
                verdict.to_owned(),
                r.id.to_owned(),
                format!("{value} against {}", figure(r.limit)),
                format!("{whose}: {}", r.words),
            ]
        })
        .collect()
}

fn figure(value: f64) -> String {
    let text = format!("{value:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
