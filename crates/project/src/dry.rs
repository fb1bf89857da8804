//! Whether the assemblies stay dry, worked out once and kept until the building or its weather changes; and the findings
//! that follow.

use crate::cache::{Found, Inputs, Key, get, put};
use crate::check::Project;
use crate::standing::{Comparison, Finding, FindingKind, Outcome, Place, Standing};
use year::YearError;
use year::dry::report::{CaseReport, DryReport, Point, SCHEMA, Status};
use year::dry::{self, Wetting};

/// Id of the finding that stands in while nothing was run.
pub const NOT_RUN: &str = "moisture";

/// Key of a result of this building in this weather: the site log does not change it.
fn key(project: &Project, of: &str) -> Key {
    let mut inputs = Inputs::new();
    inputs.add("of", of.as_bytes());
    inputs.add("building", format!("{:?}", project.building).as_bytes());
    inputs.add(&project.weather.name, project.weather.text.as_bytes());
    inputs.key()
}

fn kept(project: &Project, key: &Key) -> (Option<DryReport>, Option<String>) {
    match get(&project.folder, key) {
        Found::Kept(text) => match serde_json::from_str::<DryReport>(&text) {
            Ok(report) if report.schema == SCHEMA => (Some(report), None),
            _ => (None, Some("a kept moisture result was of another kind".to_owned())),
        },
        Found::Spoiled(why) => (None, Some(why)),
        Found::Nothing => (None, None),
    }
}

fn keep(project: &Project, key: &Key, report: &DryReport) -> Option<String> {
    match serde_json::to_string(report) {
        Ok(text) => put(&project.folder, key, &text),
        Err(error) => Some(format!("the result could not be kept for next time ({error})")),
    }
}

/// Returns the moisture of all assemblies if it was worked out before, and nothing else.
pub fn at_hand(project: &Project) -> Option<DryReport> {
    kept(project, &key(project, "dry")).0.map(|report| with_chances(project, report))
}

/// Returns the moisture of all assemblies, from the cache when the inputs are the same, and a notice when the cache could
/// not be used.
///
/// # Errors
/// [`YearError`] when the building's year cannot be run.
pub fn all(project: &Project) -> Result<(DryReport, Option<String>), YearError> {
    let key = key(project, "dry");
    let (found, notice) = kept(project, &key);
    if let Some(report) = found {
        return Ok((with_chances(project, report), None));
    }
    let nominal = project.building.values.nominal();
    let report = dry::judge(&project.building, &project.weather.climate, &nominal)?;
    let notice = keep(project, &key, &report).or(notice);
    Ok((report, notice))
}

/// Returns one assembly looked at closely: scenarios and a drying test of a named layer.
///
/// # Errors
/// [`YearError`] when the year cannot be run, or there is no such assembly or layer.
pub fn closely(
    project: &Project,
    assembly: &str,
    wetting: Option<&Wetting>,
) -> Result<(DryReport, Option<String>), YearError> {
    let key = key(project, &format!("dry closely {assembly} {wetting:?}"));
    let (found, notice) = kept(project, &key);
    if let Some(report) = found {
        return Ok((report, None));
    }
    let nominal = project.building.values.nominal();
    let report = dry::closely(&project.building, &project.weather.climate, &nominal, assembly, wetting)?;
    let notice = keep(project, &key, &report).or(notice);
    Ok((report, notice))
}

/// Runs the chances of the worst cases and returns the report with them, from the cache when they were run before.
///
/// # Errors
/// [`YearError`] when the building's year cannot be run.
pub fn chances(project: &Project) -> Result<(DryReport, Option<String>), YearError> {
    let (report, _) = all(project)?;
    if report.cases.iter().any(|c| c.chance.is_some()) {
        return Ok((report, None));
    }
    let worst: Vec<String> = report.cases.iter().take(dry::CHANCE_CASES).map(|c| c.id.clone()).collect();
    let found = dry::chances(&project.building, &project.weather.climate, &worst)?;
    let mut part = DryReport { cases: Vec::new(), pockets: Vec::new(), ..report.clone() };
    for (id, chance) in found {
        let case = report.cases.iter().find(|c| c.id == id);
        part.cases.extend(case.map(|c| CaseReport { chance: Some(chance), ..c.clone() }));
    }
    let notice = keep(project, &key(project, "dry chances"), &part);
    let mut report = report;
    for case in &mut report.cases {
        case.chance = part.cases.iter().find(|c| c.id == case.id).and_then(|c| c.chance.clone());
    }
    Ok((report, notice))
}

/// Lays chances that were run before over a report.
fn with_chances(project: &Project, mut report: DryReport) -> DryReport {
    if let (Some(chances), _) = kept(project, &key(project, "dry chances")) {
        for case in &mut report.cases {
            case.chance = chances.cases.iter().find(|c| c.id == case.id).and_then(|c| c.chance.clone());
        }
    }
    report
}

/// Adds what is known of moisture to a standing: a finding for each assembly, or one that says it was not yet run.
pub fn add_to(standing: &mut Standing, project: &Project) {
    let report = at_hand(project);
    let found = match &report {
        Some(report) => findings(project, report),
        None => vec![not_yet_run()],
    };
    if let Some(report) = &report {
        for caution in &report.cautions {
            if !standing.not_checked.contains(caution) {
                standing.not_checked.push(caution.clone());
            }
        }
    }
    // Before the stage findings, which come last.
    let at = standing.findings.iter().position(|f| f.kind == FindingKind::Stage);
    let at = at.unwrap_or(standing.findings.len());
    standing.findings.splice(at..at, found);
}

fn not_yet_run() -> Finding {
    let mut f = Finding::new(NOT_RUN, FindingKind::Caution, "moisture of the assemblies");
    f.sentence = "Whether the assemblies stay dry was not yet run: windtight dry.".to_owned();
    f
}

/// One finding an assembly, from its worst case.
pub fn findings(project: &Project, report: &DryReport) -> Vec<Finding> {
    let mut seen: Vec<&str> = Vec::new();
    let mut out = Vec::new();
    for case in &report.cases {
        if seen.contains(&case.assembly.as_str()) {
            continue;
        }
        seen.push(&case.assembly);
        out.push(of_case(project, report, case));
    }
    for not in &report.not_run {
        let mut f = Finding::new(
            format!("moisture.{}", not.assembly),
            FindingKind::Caution,
            format!("moisture of {}", plain(&not.assembly)),
        );
        f.sentence = format!("{}: not run; {}.", capital(&plain(&not.assembly)), not.why.join("; "));
        f.place = Some(place(project, &not.assembly));
        out.push(f);
    }
    out
}

fn of_case(project: &Project, report: &DryReport, case: &CaseReport) -> Finding {
    let mut f = Finding::new(
        format!("moisture.{}", case.assembly),
        FindingKind::Caution,
        format!("moisture of {}", plain(&case.assembly)),
    );
    f.method = "hourly".to_owned();
    f.r#use = "real".to_owned();
    f.status = match case.status() {
        Status::Met => Outcome::Met,
        Status::NotMet => Outcome::NotMet,
        Status::NotJudged => Outcome::NotKnown,
    };
    f.sentence = format!("{}, {}: {}", capital(&plain(&case.assembly)), case.side, case.sentence);
    if f.status != Outcome::NotKnown
        && let Some(point) = governing(case)
    {
        f.value = point.value;
        f.threshold = Some(point.threshold);
        f.unit.clone_from(&point.unit);
        f.comparison = Some(Comparison::AtMost);
        f.margin = point.margin;
        f.source.clone_from(&point.source);
    }
    f.cautions = report.cautions.clone();
    f.place = Some(place(project, &case.assembly));
    f
}

/// The point that governs in the worse of both years.
pub fn governing(case: &CaseReport) -> Option<&Point> {
    let (a, b) = (case.design.governing(), case.mean.governing());
    match (a, b) {
        (Some(a), Some(b)) if b.margin < a.margin => Some(b),
        (Some(a), _) => Some(a),
        (None, b) => b,
    }
}

fn place(project: &Project, assembly: &str) -> Place {
    let line = project.lines.get(&format!("assembly.{assembly}")).map_or(0, |(_, line)| *line);
    Place { kind: "assembly".to_owned(), name: assembly.to_owned(), line }
}

fn plain(name: &str) -> String {
    name.replace('-', " ")
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().collect::<String>() + chars.as_str())
}
