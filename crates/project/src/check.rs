//! From a folder to a checked project: the book read, the model derived, the weather and the log taken in.

use crate::book::{self, Reading};
use crate::diagnostic::{Diagnostic, Report};
use crate::reader::Problems;
use crate::records;
use crate::source::{Folder, Place};
use crate::weather::{self, Weather};
use building::ModelProblem;
use building::limits::LimitSet;
use building::plan::Plan;
use building::problem::Severity;
use building::records::Log;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// What checking a folder gave.
#[derive(Debug)]
pub struct Checked {
    /// Everything found, errors and warnings.
    pub report: Report,
    /// The project; `None` when the report has errors.
    pub project: Option<Project>,
}

/// A project that can be run.
#[derive(Clone, Debug)]
pub struct Project {
    /// Its folder.
    pub folder: Folder,
    /// What the book says.
    pub plan: Plan,
    /// The limit sets named, laid over one another.
    pub limits: Option<LimitSet>,
    /// The weather year.
    pub weather: Weather,
    /// The site log.
    pub log: Log,
    /// Where each item of the plan is written, as `file:line`.
    pub lines: BTreeMap<String, (String, usize)>,
}

/// Checks a folder.
pub fn check(folder: &Folder) -> Checked {
    let Reading { plan, limits, weather, mut problems, tainted } = book::read(folder);
    derive(&plan, &tainted, &mut problems);
    let weather = weather::read(folder, &weather, &mut problems);
    let log = records::read(folder, &mut problems);
    let (sources, list, places) = problems.into_parts();
    let line = |place: &Place| {
        let source = sources.get(place.file);
        (source.name().to_owned(), source.line_column(place.span.start).0)
    };
    let lines = places.iter().map(|(item, place)| (item.clone(), line(place))).collect();
    let report = Report::new(sources, list);
    let project = match weather {
        Some(weather) if report.errors() == 0 => {
            Some(Project { folder: folder.clone(), plan, limits, weather, log, lines })
        }
        _ => None,
    };
    Checked { report, project }
}

/// Opens a project by its folder or its book.
///
/// # Errors
/// The report, when it has errors.
pub fn open(path: &Path) -> Result<(Project, Report), Box<Report>> {
    let folder =
        Folder::open(path).map_err(|d| Box::new(Report::new(crate::source::Sources::default(), vec![*d])))?;
    let checked = check(&folder);
    match checked.project {
        Some(project) => Ok((project, checked.report)),
        None => Err(Box::new(checked.report)),
    }
}

fn derive(_plan: &Plan, tainted: &BTreeSet<String>, problems: &mut Problems) {
    tell(&[], tainted, problems);
}

/// Says the model's own problems at the places where their items are written.
///
/// What only follows from an item that could not be read is left out: a stand-in length makes no sentence.
fn tell(found: &[ModelProblem], tainted: &BTreeSet<String>, problems: &mut Problems) {
    let spoiled = |item: &str| tainted.iter().any(|t| item == t || item.starts_with(&format!("{t}.")));
    let shapeless = tainted.iter().any(|t| t.starts_with("storey.") || t.starts_with("assembly."));
    for problem in found {
        let follows =
            shapeless && (problem.item.starts_with("opening.") || problem.item.starts_with("space."));
        if spoiled(&problem.item) || follows {
            continue;
        }
        let place = problems.place_of(&problem.item).cloned();
        let said = problems.list().iter().any(|d| d.place().is_some() && d.place() == place.as_ref());
        if said {
            continue;
        }
        let severity = match problem.severity {
            Severity::Error => crate::diagnostic::Severity::Error,
            Severity::Warning => crate::diagnostic::Severity::Warning,
        };
        let mut d =
            Diagnostic::new(severity, problem.code, problem.message.clone()).with_help(problem.help.clone());
        d = match place {
            Some(place) => d.at(place),
            None => d.in_file("building.toml", 0, 0),
        };
        problems.add(d);
    }
}
