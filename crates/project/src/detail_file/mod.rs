//! Details of the user's own: a TOML text of pieces between environments, read strictly, solved, told.
//!
//! [`read`] takes the text and returns everything wrong with it at once; [`solve`] works the detail out; [`Answer`] is the
//! wire type behind `windtight detail --json` (`docs/schema/detail.schema.json`). The format is told in
//! `docs/guide/draw-a-detail.md`.

mod check;
mod read;
mod solve;

pub use solve::{Answer, Between, Coldest, Environments, Solved, solve};

use crate::diagnostic::Report;
use crate::reader::Problems;
use fabric::detail::cavity::Cavity;
use fabric::detail::{Detail, joint::Plane};

/// A detail as its file says it.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawn {
    /// Its name.
    pub name: String,
    /// What it is.
    pub about: String,
    /// Whether it is invented.
    pub invented: bool,
    /// Boxes, polygons and environments.
    pub detail: Detail,
    /// Which pieces are cavities.
    pub cavities: Vec<Cavity>,
    /// Material of each piece; empty for air and cuts.
    pub materials: Vec<String>,
    /// Environments between which Ψ or χ is worked out, by number.
    pub inside: usize,
    /// The colder one.
    pub outside: usize,
    /// Planes that run in.
    pub planes: Vec<NamedPlane>,
    /// Linear joints within a solid detail: name, Ψ, length.
    pub linear: Vec<(String, f64, f64)>,
}

/// A plane element with its extents.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedPlane {
    /// Name.
    pub name: String,
    /// By inside dimensions; none when only the other is said.
    pub inside: Option<Plane>,
    /// By outside dimensions.
    pub outside: Option<Plane>,
}

/// Reads a text.
///
/// # Errors
/// Everything that is wrong with it, in a report; warnings come with a sound detail.
pub fn read(name: &str, text: &str) -> Result<(Drawn, Report), Box<Report>> {
    let mut problems = Problems::default();
    let file = problems.sources.add(name, text);
    let drawn = read::read(file, &mut problems);
    let (sources, list, _) = problems.into_parts();
    let report = Report::new(sources, list);
    match drawn {
        Some(drawn) if report.errors() == 0 => Ok((drawn, report)),
        _ => Err(Box::new(report)),
    }
}

/// Takes any text as far as it goes: the entry of fuzzing.
pub fn swallow(text: &str) {
    match read("detail.toml", text) {
        Ok((_, report)) => drop(report.to_json()),
        Err(report) => drop(report.render(crate::diagnostic::Style { width: 60, ..Default::default() })),
    }
}
