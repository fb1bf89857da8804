//! Weather files into a [`Climate`].
//!
//! Start at [`read`]. Each format has a file of its own that fills a [`raw::RawYear`]: readings by the file's own
//! hour labels, gaps as they are. [`finish`] then checks, fills when asked, moves everything to the crate's clock,
//! and works out what the file leaves to be derived.

mod finish;
mod gaps;
mod plain;
mod pvgis;

mod raw;
mod tmy3;

use crate::WeatherProblem;
use crate::problem::{Problems, WeatherProblemKind};
use crate::year::{Climate, Place};

/// The formats [`read`] knows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// TMY3 as comma-separated text.
    Tmy3,
    /// PVGIS typical year as comma-separated text, in UTC.
    Pvgis,
    /// Any table whose headings name quantity and unit, under `#` lines that name the place.
    Plain,
}

/// Choices a reader must not make by itself.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReadOptions {
    /// Fill gaps and list them in the notes; otherwise a gap is a problem.
    pub fill_gaps: bool,
    /// Local standard time less universal time, hours, when the file does not say (PVGIS) or says it wrong.
    pub utc_offset_h: Option<f64>,
    /// The place, when the file does not say (plain tables) or says it wrong.
    pub place: Option<Place>,
}

/// Returns the weather year in a file's text, with gaps refused.
///
/// # Errors
/// Every problem found, in the order of the file.
pub fn read(text: &str) -> Result<Climate, Vec<WeatherProblem>> {
    read_with(text, &ReadOptions::default())
}

/// Returns the weather year in a file's text.
///
/// # Errors
/// Every problem found, in the order of the file.
pub fn read_with(text: &str, options: &ReadOptions) -> Result<Climate, Vec<WeatherProblem>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut problems = Problems::default();
    let raw = match detect(text) {
        Some(Format::Tmy3) => tmy3::read(text, options, &mut problems),
        Some(Format::Pvgis) => pvgis::read(text, options, &mut problems),
        Some(Format::Plain) => plain::read(text, options, &mut problems),
        None => {
            problems.push(
                WeatherProblemKind::UnknownFormat,
                None,
                None,
                "this is no weather file that is known here",
                "give a TMY3 or PVGIS file as comma-separated text, or a table whose first row names quantities \
                 with units, such as \"dry bulb (°C)\"",
            );
            None
        }
    };
    let climate = raw.and_then(|raw| finish::finish(raw, options, &mut problems));
    match climate {
        Some(climate) if problems.is_empty() => Ok(climate),
        _ => Err(problems.into_list()),
    }
}

/// Returns the format a text looks like, from its first lines.
pub fn detect(text: &str) -> Option<Format> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut lines = text.lines();
    let first = lines.next()?;
    let second = lines.next().unwrap_or("");
    if second.starts_with("Date (MM/DD/YYYY)") {
        return Some(Format::Tmy3);
    }
    if first.starts_with("Latitude (decimal degrees)") {
        return Some(Format::Pvgis);
    }
    let heading = text.lines().find(|line| !line.trim_start().starts_with('#') && !line.trim().is_empty())?;
    let known = plain::split_heading(heading).iter().filter(|h| plain::quantity_of(h).is_some()).count();
    (known >= 1).then_some(Format::Plain)
}
