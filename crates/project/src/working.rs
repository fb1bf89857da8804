//! How a number came about: symbols, values, units, clause.
//!
//! [`explain`] answers for a limit, a named result, a counted size, the U-value of an assembly, or a stated value by its
//! id. Every line holds a figure that was computed or stated; nothing is retold from memory.

use crate::check::Project;
use crate::reader::nearest;
use crate::standing::{Finding, Standing, Years};
use building::counting::{self, Count};
use building::stated::Stated;
use quantity::{Dimension, System, show_both};
use year::result::{Cause, YearResult};

/// The working of one number.
#[derive(Clone, Debug, PartialEq)]
pub struct Working {
    /// What it is.
    pub title: String,
    /// The steps; the last is the result.
    pub lines: Vec<Line>,
    /// What else a reader should know.
    pub notes: Vec<String>,
}

/// One step.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Symbol; empty for rows of a list.
    pub symbol: String,
    /// In words.
    pub words: String,
    /// Value with its unit, as shown.
    pub value: String,
    /// Document and clause, line of the book, or record.
    pub source: String,
}

impl Working {
    fn new(title: impl Into<String>) -> Self {
        Self { title: title.into(), lines: Vec::new(), notes: Vec::new() }
    }

    fn line(&mut self, symbol: &str, words: impl Into<String>, value: String, source: impl Into<String>) {
        self.lines.push(Line {
            symbol: symbol.to_owned(),
            words: words.into(),
            value,
            source: source.into(),
        });
    }
}

/// Explains a result.
///
/// # Errors
/// The names that can be explained, nearest first, when the name is none of them.
pub fn explain(project: &Project, years: &Years, standing: &Standing, name: &str) -> Result<Working, String> {
    let bare = name.trim().trim_start_matches("limit.");
    if let Some(finding) = standing.finding(&format!("limit.{bare}")) {
        return Ok(limit(project, years, finding));
    }
    if let Some(count) = counted(project, bare) {
        return Ok(count);
    }
    if let Some((_, stated)) = project.building.values.iter().find(|(_, s)| s.id == bare) {
        return Ok(value(project, stated));
    }
    if let Some(figure) = standing.results.get(bare) {
        let mut w = Working::new(figure.words.clone());
        w.line(
            "",
            figure.words.clone(),
            format!("{:.4} {}", figure.value, figure.unit),
            "result of the simulated year",
        );
        return Ok(w);
    }
    let names = names(project, standing);
    let near = nearest(bare, names.iter().map(String::as_str));
    Err(near.map_or_else(
        || {
            format!(
                "names that can be explained: {}",
                names.iter().take(24).cloned().collect::<Vec<_>>().join(", ")
            )
        },
        |n| format!("did you mean {n}?"),
    ))
}

/// Returns every name that can be explained: limits first, then sizes, U-values, results, stated values.
pub fn names(project: &Project, standing: &Standing) -> Vec<String> {
    let mut all: Vec<String> =
        standing.limits().map(|f| f.id.trim_start_matches("limit.").to_owned()).collect();
    all.extend(["volume".to_owned(), "floor-area".to_owned()]);
    all.extend(standing.results.keys().cloned());
    all.extend(project.building.values.iter().map(|(_, s)| s.id.clone()));
    all
}

fn limit(project: &Project, years: &Years, finding: &Finding) -> Working {
    let mut w = Working::new(finding.subject.clone());
    let year = match finding.r#use.as_str() {
        "real" => years.real.as_ref(),
        _ => years.standard.as_ref(),
    };
    let count = counting::rule(&finding.rule).map(|rule| counting::count(&project.building, rule));
    match (finding.id.trim_start_matches("limit."), year, &count) {
        ("heating-demand", Some(year), Some(count)) => demand(&mut w, year, count, true),
        ("cooling-demand", Some(year), Some(count)) => demand(&mut w, year, count, false),
        ("heating-load", Some(year), Some(count)) => load(&mut w, &year.peaks.heating_day, count),
        ("primary-energy", Some(year), Some(count)) => primary(&mut w, year, count),
        ("air-change", _, Some(count)) => air_change(&mut w, project, count),
        _ => {}
    }
    let shown = |v: f64| format!("{v:.4} {}", finding.unit);
    if let Some(value) = finding.value {
        w.line("", format!("{}, {}", finding.subject, finding.method), shown(value), "");
    }
    if let Some(threshold) = finding.threshold {
        w.line("", "the limit", shown(threshold), finding.source.clone());
    }
    for beside in &finding.beside {
        let words: Vec<&str> = [beside.r#use.as_str(), beside.rule.as_str(), beside.method.as_str()]
            .into_iter()
            .filter(|w| !w.is_empty())
            .collect();
        w.line("", format!("beside it, {}", words.join(", ")), shown(beside.value), "");
    }
    for cause in &finding.causes {
        let value = cause.value.map_or_else(String::new, |v| format!("{v:.2} {}", cause.unit));
        w.line("", format!("cause: {} ({:.0} %)", cause.stated, 100.0 * cause.share), value, "");
    }
    w.notes.push(finding.sentence.clone());
    w
}

fn demand(w: &mut Working, year: &YearResult, count: &Count, heating: bool) {
    const MONTHS: [&str; 12] =
        ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let kwh = |j: f64| format!("{:.1} kWh", j / 3.6e6);
    for (month, name) in year.months.iter().zip(MONTHS) {
        let j = if heating { month.demand.heating_j } else { month.demand.cooling_j() };
        w.line("", format!("{name}, demand of the month"), kwh(j), "hourly balance");
    }
    let balance = year.balance();
    for cause in Cause::ALL {
        w.line("", format!("over the year: {}", cause.word()), kwh(balance.get(cause)), "hourly balance");
    }
    let total = if heating { year.demand.heating_j } else { year.demand.cooling_j() };
    w.line("Q", "demand of the year", kwh(total), "sum of the months");
    w.line(
        "A",
        "reference floor area",
        format!("{:.2} m²", count.floor_area_m2),
        format!("counting rule {}", count.rule),
    );
    w.line("Q/A", "demand per area", format!("{:.3} kWh/(m²·a)", total / 3.6e6 / count.floor_area_m2), "");
    w.notes.push(format!(
        "The balance closes to {:.2e} of its gross flow.",
        (balance.residual_j() / balance.gross_j()).abs()
    ));
}

fn load(w: &mut Working, peak: &year::result::PeakLoad, count: &Count) {
    w.line("", "begins", climate::calendar::words(peak.hour), "hourly balance");
    w.line(
        "θe",
        "outdoors, mean of that time",
        format!("{:.1} °C", peak.outdoor.temperature_c),
        "weather year",
    );
    for (cause, heat) in peak.balance.causes() {
        w.line(
            "",
            format!("meanwhile: {}", cause.word()),
            format!("{:.0} W", heat / (3600.0 * peak.over_h as f64)),
            "hourly balance",
        );
    }
    w.line("Φ", "mean power", format!("{:.0} W over {} h", peak.power_w, peak.over_h), "");
    w.line(
        "A",
        "reference floor area",
        format!("{:.2} m²", count.floor_area_m2),
        format!("counting rule {}", count.rule),
    );
    w.line("Φ/A", "load per area", format!("{:.3} W/m²", peak.power_w / count.floor_area_m2), "");
}

fn primary(w: &mut Working, year: &YearResult, count: &Count) {
    for row in &year.energy.end_uses {
        let value = format!(
            "{:.0} kWh delivered × {:.2} = {:.0} kWh",
            row.delivered_j / 3.6e6,
            row.primary_factor,
            row.primary_j / 3.6e6
        );
        w.line("", row.end_use.word(), value, row.factor_source.clone());
    }
    w.line("E", "primary energy", format!("{:.0} kWh", year.energy.primary_j / 3.6e6), "");
    w.line(
        "A",
        "reference floor area",
        format!("{:.2} m²", count.floor_area_m2),
        format!("counting rule {}", count.rule),
    );
}

fn air_change(w: &mut Working, project: &Project, count: &Count) {
    let tightness = crate::standing::tightness(project);
    if let Some(t) = &tightness {
        let how = if t.whole {
            "line through the readings (ISO 9972)"
        } else {
            "single reading, exponent of the book"
        };
        w.line("n", "exponent", format!("{:.3}", t.exponent), how);
        w.line(
            "q50",
            "flow at 50 Pa",
            format!("{:.1} m³/h ± {:.1}", t.flow_m3_h, t.half_width_m3_h),
            format!("site log, {}", t.day),
        );
    }
    rows(w, count, false);
    w.line("V", "volume", format!("{:.1} m³", count.volume_m3), format!("counting rule {}", count.rule));
    if let Some(t) = &tightness {
        w.line("n50", "q50 / V", format!("{:.4} 1/h", t.flow_m3_h / count.volume_m3), "ISO 9972, 6.3");
    }
    for other in counting::rules().iter().filter(|r| r.id != count.rule) {
        let other = counting::count(&project.building, other);
        for d in counting::differences(count, &other) {
            w.notes.push(format!("Under {}: {} {:+.1} m³ ({}).", other.rule, d.item, d.volume_m3, d.why));
        }
    }
}

fn rows(w: &mut Working, count: &Count, area: bool) {
    for row in &count.rows {
        let value =
            if area { format!("{:.2} m²", row.area_m2) } else { format!("{:.2} m³", row.volume_m3) };
        let sizes = if row.height_m > 0.0 && !area {
            format!("{}: {:.2} m² × {:.2} m", row.item, row.volume_m3 / row.height_m, row.height_m)
        } else {
            row.item.clone()
        };
        w.line("", sizes, value, row.why.clone());
    }
}

/// `volume`, `floor-area`, each optionally with `.RULE`.
fn counted(project: &Project, name: &str) -> Option<Working> {
    let (what, rule) = name.split_once('.').unwrap_or((name, ""));
    if !matches!(what, "volume" | "floor-area") {
        return None;
    }
    let rule = if rule.is_empty() { Some(counting::certification_style()) } else { counting::rule(rule) }?;
    let count = counting::count(&project.building, rule);
    let mut w = Working::new(format!("{}, {}", what.replace('-', " "), rule.name));
    rows(&mut w, &count, what == "floor-area");
    match what {
        "volume" => w.line("V", "volume", format!("{:.2} m³", count.volume_m3), rule.source.clone()),
        _ => {
            w.line("A", "reference floor area", format!("{:.2} m²", count.floor_area_m2), rule.source.clone())
        }
    }
    w.notes.push(rule.about.clone());
    Some(w)
}

fn value(project: &Project, stated: &Stated) -> Working {
    let mut w = Working::new(stated.id.clone());
    let system = project.building.project.units;
    let first = if system == System::Si { System::Si } else { System::Us };
    w.line("", "stated value", show_both(stated.value, stated.dimension, first), stated.source.to_string());
    let spread = stated.distribution.sd();
    if spread > 0.0 {
        let shown = spread_shown(1.96 * spread, stated.dimension);
        let why = stated
            .default_spread
            .as_ref()
            .map_or_else(|| "as stated".to_owned(), |row| format!("default spread, {row}"));
        w.line("", "95 % half-width, about", shown, why);
    }
    w.line("", "basis", stated.basis.to_string(), "");
    if let Some(rating) = &stated.rating {
        w.line("", "rating", rating.to_string(), "");
    }
    w
}

fn spread_shown(value: f64, dimension: Dimension) -> String {
    let unit = if dimension == Dimension::Temperature { "K" } else { dimension.canonical_unit() };
    format!("{value:.3} {unit}")
}
