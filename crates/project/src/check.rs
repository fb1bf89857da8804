//! From a folder to a checked project: the book read, the model derived, the weather and the log taken in.

use crate::book::{self, Reading};
use crate::cache::{Inputs, Key};
use crate::details::{self, Details};
use crate::diagnostic::{Diagnostic, Report};
use crate::reader::Problems;
use crate::records;
use crate::source::{Folder, Place, Sources};
use crate::weather::{self, Weather};
use building::limits::LimitSet;
use building::plan::Plan;
use building::problem::Severity;
use building::records::Log;
use building::stated::{Basis, Enters, Source, Statement};
use building::{Building, ModelProblem};
use quantity::Dimension;
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
    /// The building that follows from the book.
    pub building: Building,
    /// The limit sets named, laid over one another.
    pub limits: Option<LimitSet>,
    /// Its joints worked out; none until the project is opened.
    pub details: Details,
    /// The weather year.
    pub weather: Weather,
    /// The site log.
    pub log: Log,
    /// Hash of every text and of the engine's version: results under one hash are equal.
    pub inputs: Key,
    /// Where each item of the plan is written, as `file:line`.
    pub lines: BTreeMap<String, (String, usize)>,
}

impl Project {
    /// Returns the project with its joints worked out, or taken from the cache, and counted.
    #[must_use]
    pub fn with_joints(mut self) -> Self {
        self.details = details::work_out(&self.folder, &mut self.building);
        self.details.degree_hours_kh = details::degree_hours_kh(&self.weather.climate);
        self
    }
}

/// Checks a folder.
pub fn check(folder: &Folder) -> Checked {
    derived(folder, book::read(folder))
}

fn derived(folder: &Folder, reading: Reading) -> Checked {
    let Reading { mut plan, limits, weather, mut problems, tainted } = reading;
    let weather = weather::read(folder, &weather, &mut problems);
    if let Some(weather) = &weather {
        place_from_weather(&mut plan, weather);
    }
    // A book that describes no building has been told so; there is no model to speak of.
    let described = !plan.storeys.is_empty() || !plan.listed_elements.is_empty();
    let building = described.then(|| {
        let (building, found) = Building::derive(plan);
        tell(&found, &tainted, &mut problems);
        building
    });
    let log = records::read(folder, &mut problems);
    let (sources, list, places) = problems.into_parts();
    let inputs = inputs(&sources, weather.as_ref());
    let line = |place: &Place| {
        let source = sources.get(place.file);
        (source.name().to_owned(), source.line_column(place.span.start).0)
    };
    let lines = places.iter().map(|(item, place)| (item.clone(), line(place))).collect();
    let report = Report::new(sources, list);
    let project = match (weather, building) {
        (Some(weather), Some(building)) if report.errors() == 0 => {
            let details = Details::default();
            Some(Project { folder: folder.clone(), building, limits, details, weather, log, inputs, lines })
        }
        _ => None,
    };
    Checked { report, project }
}

/// Hashes what results depend on: every text that was read, with its name, and the weather.
fn inputs(sources: &Sources, weather: Option<&Weather>) -> Key {
    let mut inputs = Inputs::new();
    for source in sources.iter() {
        inputs.add(source.name(), source.text().as_bytes());
    }
    if let Some(weather) = weather {
        inputs.add(&weather.name, weather.text.as_bytes());
    }
    inputs.key()
}

/// Opens a project by its folder or its book, and works out its joints or takes them from the cache.
///
/// # Errors
/// The report, when it has errors.
pub fn open(path: &Path) -> Result<(Project, Report), Box<Report>> {
    let folder = Folder::open(path).map_err(|d| Box::new(Report::new(Sources::default(), vec![*d])))?;
    let checked = check(&folder);
    match checked.project {
        Some(project) => Ok((project.with_joints(), checked.report)),
        None => Err(Box::new(checked.report)),
    }
}

/// Opens a project with a change laid over its book.
///
/// # Errors
/// The report, when book and change together have errors.
pub fn open_changed(
    folder: &Folder,
    name: &str,
    text: &str,
) -> Result<(Project, book::change::Change, Report), Box<Report>> {
    let (reading, change) = book::read_changed(folder, name, text);
    let checked = derived(folder, reading);
    match checked.project {
        Some(project) => Ok((project, change, checked.report)),
        None => Err(Box::new(checked.report)),
    }
}

/// Takes any text for a book as far as it goes: reads it, derives what can be derived, draws its problems. The entry of
/// fuzzing and of the tests that no text makes anything panic.
pub fn swallow(text: &str) {
    let Reading { plan, tainted, mut problems, .. } = book::read_text(text);
    if !plan.storeys.is_empty() || !plan.listed_elements.is_empty() {
        let (_, found) = Building::derive(plan);
        tell(&found, &tainted, &mut problems);
    }
    let (sources, list, _) = problems.into_parts();
    let report = Report::new(sources, list);
    let _ = report.to_json();
    let _ = report.render(crate::diagnostic::Style { width: 60, ..Default::default() });
}

/// A book that does not say where it stands stands where its weather was taken: sun and shadows use that place
/// anyway.
fn place_from_weather(plan: &mut Plan, weather: &Weather) {
    let place = &weather.climate.place;
    let mut state = |id: &str, value: f64, dimension: Dimension| {
        let statement = Statement {
            id: format!("site.{id}"),
            value,
            spread: None,
            kind: "fixed",
            dimension,
            basis: Basis::Measured,
            rating: None,
            source: Source::File { file: weather.name.clone(), line: 1 },
            group: None,
            enters: Enters::NEITHER,
        };
        // The id is free, as the book did not state it, and a weather place is finite.
        plan.values.state(statement).ok()
    };
    let site = &mut plan.site;
    site.latitude = site.latitude.or_else(|| state("latitude", place.latitude_deg, Dimension::Angle));
    site.longitude = site.longitude.or_else(|| state("longitude", place.longitude_deg, Dimension::Angle));
    site.elevation = site.elevation.or_else(|| state("elevation", place.elevation_m, Dimension::Length));
}

/// Says the model's own problems at the places where their items are written.
///
/// What only follows from an item that could not be read is left out: a stand-in length makes no sentence.
fn tell(found: &[ModelProblem], tainted: &BTreeSet<String>, problems: &mut Problems) {
    let any = |section: &str| tainted.iter().any(|t| t.starts_with(section));
    let (unsure_storey, unsure_wall) = (any("storey."), any("assembly.") || any("material."));
    // What has a line of its own comes first: it explains what geometry made of it.
    let has_line = |p: &&ModelProblem| problems.place_of(&p.item).is_some();
    let (placed, placeless): (Vec<_>, Vec<_>) = found.iter().partition(has_line);
    for problem in placed.into_iter().chain(placeless) {
        let item = problem.item.as_str();
        let place = problems.place_of(item).cloned();
        if place.is_none() && problems.list().iter().any(|d| d.code == problem.code) {
            continue;
        }
        // A name that is defined but could not be read wholly is no unknown name.
        let read_in_part = |t: &String| {
            t.rsplit('.').next().is_some_and(|name| problem.message.contains(&format!("\"{name}\"")))
        };
        if problem.code == "name" && tainted.iter().any(read_in_part) {
            continue;
        }
        let spoiled = tainted.iter().any(|t| item == t || item.starts_with(&format!("{t}.")));
        // Rooms are fitted between walls: where a wall's thickness could not be read, they cannot be judged.
        let fitted = place.is_none() || item.starts_with("space.") || problem.code == "roof";
        let follows =
            (unsure_wall || unsure_storey) && fitted || unsure_storey && item.starts_with("opening.");
        let unsure = (unsure_wall || unsure_storey) && problem.severity == Severity::Warning;
        let said = problems.list().iter().any(|d| d.place().is_some() && d.place() == place.as_ref());
        if spoiled || follows || unsure || said {
            continue;
        }
        let severity = match problem.severity {
            Severity::Error => crate::diagnostic::Severity::Error,
            Severity::Warning => crate::diagnostic::Severity::Warning,
        };
        let d = match place {
            Some(place) => Diagnostic::new(severity, problem.code, problem.message.clone()).at(place),
            // Items that geometry made have no line of their own; their name says where they are.
            None => {
                let message = format!("{item}: {}", problem.message);
                Diagnostic::new(severity, problem.code, message).in_file("building.toml", 0, 0)
            }
        };
        problems.add(d.with_help(problem.help.clone()));
    }
}
