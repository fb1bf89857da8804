//! Reading files of pressure tests on disk, their problems drawn in the file's own lines; and what a project adds to the
//! question: limits, sizes, counting rules, the party leak.

use super::evaluate::{Ask, Per};
use crate::check::Project;
use crate::diagnostic::{Diagnostic, Report};
use crate::source::{Place, Sources};
use ::air::leakage::PowerLaw;
use ::air::readings::{self, Problem, Severity, Size, TestFile};
use building::counting;
use building::limits::LimitResult;

/// Reads a reading file's text; what is odd without being wrong comes back as a report of warnings.
///
/// # Errors
/// Every problem, each with its line, the likely mistake and what to write instead.
pub fn read(name: &str, text: &str) -> Result<(TestFile, Report), Box<Report>> {
    match readings::parse(text) {
        Ok(file) => {
            let report = drawn(name, text, &file.notes);
            Ok((file, report))
        }
        Err(problems) => Err(Box::new(drawn(name, text, &problems))),
    }
}

fn drawn(name: &str, text: &str, problems: &[Problem]) -> Report {
    let mut sources = Sources::default();
    let file = sources.add(name, text);
    let source = sources.get(file);
    let diagnostic = |problem: &Problem| {
        let what = problem.what.clone();
        let d = match (problem.line, problem.severity) {
            (Some(line), severity) if line >= 1 && line <= source.lines() => {
                let place = Place::new(file, source.line_range(line));
                match severity {
                    Severity::Error => Diagnostic::error("reading", &place, what),
                    Severity::Note => Diagnostic::warning("reading", &place, what),
                }
            }
            (_, severity) => {
                let severity = match severity {
                    Severity::Error => crate::diagnostic::Severity::Error,
                    Severity::Note => crate::diagnostic::Severity::Warning,
                };
                Diagnostic::new(severity, "reading", what).in_file(name, 0, 0)
            }
        };
        let d = match &problem.mistake {
            Some(mistake) => d.with_label(format!("likely {mistake}")),
            None => d,
        };
        d.with_help(problem.fix.clone())
    };
    let list = problems.iter().map(diagnostic).collect();
    Report::new(sources, list)
}

/// Takes from a project what its readings are held against: limits, sizes by the limit's own counting rule (or `rule`),
/// every other rule beside it, and the leak through the party boundary.
///
/// `None` when no counting rule has that name.
pub fn ask_of(project: &Project, rule: Option<&str>) -> Option<Ask> {
    let mut ask = Ask::default();
    let rows = project.limits.iter().flat_map(|set| {
        set.for_climate(project.building.site.climate_class.as_deref())
            .into_iter()
            .cloned()
            .collect::<Vec<_>>()
    });
    let mut by_limit = None;
    for row in rows.filter(|r| !r.advisory) {
        let per = match row.result {
            LimitResult::AirChange50 => Per::Volume,
            LimitResult::AirPermeability50 => Per::Envelope,
            _ => continue,
        };
        by_limit = by_limit.or_else(|| (per == Per::Volume).then(|| row.rule.clone()));
        ask.limits.push((per, row.value));
    }
    let chosen = match rule {
        Some(rule) => counting::rule(rule)?,
        None => by_limit.and_then(|id| counting::rule(&id)).unwrap_or_else(counting::certification_style),
    };
    ask.counts = counting::rules()
        .iter()
        .map(|rule| (rule.name.clone(), counting::count(&project.building, rule)))
        .collect();
    if let Some((_, count)) = ask.counts.iter().find(|(_, c)| c.rule == chosen.id) {
        let size = |value: f64| (value > 0.0).then_some(Size { value, share: 0.0 });
        ask.volume = size(count.volume_m3);
        ask.envelope_area = size(count.enclosure_m2);
        ask.floor_area = size(count.floor_area_m2);
        ask.rule.clone_from(&count.rule);
    }
    let air = &project.building.airtightness;
    let values = &project.building.values;
    let exponent = values.nominal_of(air.exponent);
    ask.exponent.value = exponent;
    ask.party = air
        .party
        .map(|key| PowerLaw::through(3600.0 * values.nominal_of(key), super::REFERENCE_PA, exponent));
    Some(ask)
}
