//! How a number came about: symbols, values, units, clause.
//!
//! [`explain`] answers for a limit, a named result, a counted size, the U-value of an assembly, or a stated value by its
//! id. Every line holds a figure that was computed or stated; nothing is retold from memory.

use crate::best;
use crate::check::Project;
use crate::reader::nearest;
use crate::standing::{Finding, Standing, Years};
use building::counting::{self, Count};
use building::model::AssemblyId;
use building::stated::Stated;
use quantity::{Dimension, System, show_both};
use year::Use;
use year::result::{Cause, YearResult};

/// Name of the comparison of zones with rooms.
const GRAINS: &str = "grains";

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
    if bare == GRAINS {
        return Ok(grains(project));
    }
    if let Some(count) = counted(project, bare) {
        return Ok(count);
    }
    if let Some(assembly) = bare.strip_prefix("u-value.").and_then(|name| transmittance(project, name)) {
        return Ok(assembly);
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
    all.extend(["volume".to_owned(), "floor-area".to_owned(), GRAINS.to_owned()]);
    all.extend(project.building.assemblies.iter().map(|a| format!("u-value.{}", a.name)));
    all.extend(standing.results.keys().cloned());
    all.extend(project.building.values.iter().map(|(_, s)| s.id.clone()));
    all
}

fn limit(project: &Project, years: &Years, finding: &Finding) -> Working {
    let mut w = Working::new(finding.subject.clone());
    let id = finding.id.trim_start_matches("limit.");
    let year = match finding.r#use.as_str() {
        "real" => years.real.as_ref(),
        _ => years.standard.as_ref(),
    };
    let count = counting::rule(&finding.rule).map(|rule| counting::count(&project.building, rule));
    match (id, year, &count) {
        ("heating-demand", Some(year), _) => months(&mut w, year, true),
        ("cooling-demand", Some(year), _) => months(&mut w, year, false),
        ("air-change", _, Some(count)) => rows(&mut w, count, false),
        _ => {}
    }
    let judged = crate::standing::judgement(project, years);
    let judged = judged.iter().flat_map(|j| &j.rows).find(|row| row.limit.id == id);
    for line in judged.iter().flat_map(|row| &row.working.lines).filter(|line| line.symbol != "limit") {
        w.line(&line.symbol, line.meaning.clone(), shown(line.value, line.unit), line.clause);
    }
    if let Some(threshold) = finding.threshold {
        w.line("", "the limit", shown(threshold, &finding.unit), finding.source.clone());
    }
    for beside in &finding.beside {
        let words: Vec<&str> = [beside.r#use.as_str(), beside.rule.as_str(), beside.method.as_str()]
            .into_iter()
            .filter(|w| !w.is_empty())
            .collect();
        w.line("", format!("beside it, {}", words.join(", ")), shown(beside.value, &finding.unit), "");
    }
    for cause in &finding.causes {
        let value = cause.value.map_or_else(String::new, |v| shown(v, &cause.unit));
        w.line("", format!("cause: {} ({:.0} %)", cause.stated, 100.0 * cause.share), value, "");
    }
    w.notes.push(finding.sentence.clone());
    w.notes.extend(finding.cautions.iter().cloned());
    if let (Some(count), "air-change") = (&count, id) {
        differences(&mut w, project, count);
    }
    w
}

/// Shows a value, energies in kWh.
fn shown(value: f64, unit: &str) -> String {
    let (value, unit) = match unit {
        "J" => (value / 3.6e6, "kWh"),
        "J/m²" => (value / 3.6e6, "kWh/m²"),
        _ => (value, unit),
    };
    let places = match value.abs() {
        v if v >= 1000.0 => 0,
        v if v >= 100.0 => 1,
        v if v >= 1.0 => 2,
        _ => 4,
    };
    format!("{value:.places$} {unit}").trim_end().to_owned()
}

/// The months' demands and the year's balance by cause.
fn months(w: &mut Working, year: &YearResult, heating: bool) {
    const MONTHS: [&str; 12] =
        ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    for ((month, monthly), name) in year.months.iter().zip(&year.monthly.months).zip(MONTHS) {
        let (hourly, by_month) = if heating {
            (month.demand.heating_j, monthly.heating_j)
        } else {
            (month.demand.cooling_sensible_j, monthly.cooling_sensible_j)
        };
        let value = format!("{}; hourly {}", shown(by_month, "J"), shown(hourly, "J"));
        w.line("", format!("{name}, by the monthly method"), value, "EN ISO 52016-1 6.6");
    }
    let balance = year.balance();
    for cause in Cause::ALL {
        w.line(
            "",
            format!("over the year: {}", cause.word()),
            shown(balance.get(cause), "J"),
            "hourly balance",
        );
    }
    leaks(w, year);
    w.notes.push(format!("The hourly balance closes to {:.1e} of its gross flow.", year.closure.abs()));
}

/// Air through leaks by the network, with the rule of thumb beside it.
fn leaks(w: &mut Working, year: &YearResult) {
    let flow = |m3_s: f64| format!("{:.1} m³/h", 3600.0 * m3_s);
    let leaks = &year.leaks;
    w.line("", "air in through leaks from outdoors, mean", flow(leaks.outdoors_m3_s), "air flow network");
    w.line(
        "",
        "the same by rule of thumb",
        flow(leaks.rule_of_thumb_m3_s),
        "stack-and-wind model, whole shell",
    );
    for n in leaks.neighbours.iter().filter(|n| n.stated) {
        let source = "air flow network";
        w.line("", format!("air in from {}, mean", n.name), flow(n.into_us_m3_s), source);
        w.line("", format!("air out to {}, mean", n.name), flow(n.from_us_m3_s), source);
        if n.driven_h > 0.0 {
            let words = format!("air out to {} in the {:.0} h of its stated pressure", n.name, n.driven_h);
            w.line("", words, flow(n.driven_from_us_m3_s), source);
        }
        let share = format!(
            "{:.1} %, {:.1} % on days of its stated pressure",
            100.0 * n.tracer_mean,
            100.0 * n.tracer_driven_days
        );
        w.line("", format!("share of {}'s air in ours", n.name), share, "well mixed");
    }
}

/// How far the limits run, which merges rooms into zones, is from the run of every room.
fn grains(project: &Project) -> Working {
    let mut w = Working::new("zones against rooms");
    let building = best::best_estimate(project);
    for of in [Use::Standard, Use::Real] {
        match year::compare_grains(&building, &project.weather.climate, of) {
            Ok(rows) => {
                for row in rows {
                    let value = format!(
                        "{} zones, {} rooms, {:+.1} %",
                        shown(row.limits, row.unit),
                        shown(row.rooms, row.unit),
                        100.0 * row.relative
                    );
                    w.line("", format!("{}, {} use", row.result, of.word()), value, "simulated years");
                }
            }
            Err(error) => w.notes.push(format!("The years under {} use were not run: {error}.", of.word())),
        }
    }
    w.notes.push(format!(
        "A merge of rooms into zones is good while demands and peaks move by no more than {:.0} %. Zones share all air and sun within them; rooms share by their doors only.",
        100.0 * year::tell::GOOD_MERGE
    ));
    w
}

fn differences(w: &mut Working, project: &Project, count: &Count) {
    for other in counting::rules().iter().filter(|r| r.id != count.rule) {
        let other = counting::count(&project.building, other);
        for d in counting::differences(count, &other).into_iter().filter(|d| d.volume_m3.abs() > 1e-9) {
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

fn transmittance(project: &Project, name: &str) -> Option<Working> {
    let building = &project.building;
    let at = building.assemblies.iter().position(|a| a.name == name)?;
    let found = year::transmittance(building, AssemblyId(at), &building.values.nominal()).ok()?;
    let mut w = Working::new(format!("U-value of {name}"));
    for line in &found.working.lines {
        w.line(&line.symbol, line.meaning.clone(), shown(line.value, line.unit), line.clause);
    }
    w.notes.extend(found.notes.clone());
    Some(w)
}

fn value(project: &Project, stated: &Stated) -> Working {
    let mut w = Working::new(stated.id.clone());
    let system = project.building.project.units;
    let first = if system == System::Si { System::Si } else { System::Us };
    w.line("", "stated value", show_both(stated.value, stated.dimension, first), stated.source.to_string());
    let found = best::estimates(project);
    if let Some(found) = found.iter().find(|e| project.building.values.get(e.key).id == stated.id) {
        for seen in &found.seen {
            let value = show_both(seen.value, stated.dimension, first);
            let half = spread_shown(1.96 * seen.sd, stated.dimension);
            w.line("", seen.words.clone(), format!("{value}, ± {half}"), format!("record {}", seen.record));
        }
        let half = spread_shown(1.96 * found.sd, stated.dimension);
        let value = format!("{}, ± {half}", show_both(found.value, stated.dimension, first));
        w.line("", "best estimate, used in the year", value, "each weighed by the inverse of its variance");
        w.notes.push("The book's value stays as it is; `status --nominal` runs the year with it.".to_owned());
    }
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
