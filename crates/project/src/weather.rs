//! The weather year of a project: a file of the folder, or a year that is built in.

use crate::diagnostic::Diagnostic;
use crate::reader::{Problems, nearest};
use crate::source::{Folder, Place, WEATHER_LIMIT_BYTES};
use ::climate::{Climate, ReadOptions, WeatherProblem};

/// Years inside the program, by the name after `embedded: `.
pub const EMBEDDED: [&str; 1] = ["Greensboro"];

/// What the book says about its weather.
#[derive(Clone, Debug, Default)]
pub struct Choice {
    /// A file name, or `embedded: NAME`.
    pub name: String,
    /// Where that is written.
    pub place: Option<Place>,
    /// Choices that a reader must not make by itself.
    pub options: ReadOptions,
}

/// A weather year with its text, which is part of what results depend on.
#[derive(Clone, Debug)]
pub struct Weather {
    /// The year.
    pub climate: Climate,
    /// The bytes it was read from.
    pub text: String,
    /// Its name as the book gives it.
    pub name: String,
}

/// Reads the weather year; notes every problem and returns `None` when there is none to use.
pub fn read(folder: &Folder, choice: &Choice, cx: &mut Problems) -> Option<Weather> {
    if let Some(name) = choice.name.strip_prefix("embedded:") {
        return embedded(name.trim(), choice, cx);
    }
    if choice.name.is_empty() {
        return None;
    }
    let text = match folder.read_text(&choice.name, WEATHER_LIMIT_BYTES) {
        Ok(text) => text,
        Err(problem) => {
            cx.add(problem.diagnose(&choice.name, choice.place.clone()));
            return None;
        }
    };
    match ::climate::read_with(&text, &choice.options) {
        Ok(climate) => Some(Weather { climate, text, name: choice.name.clone() }),
        Err(problems) => {
            note(cx, choice, text, problems);
            None
        }
    }
}

fn embedded(name: &str, choice: &Choice, cx: &mut Problems) -> Option<Weather> {
    if let Some(known) = EMBEDDED.iter().find(|known| known.eq_ignore_ascii_case(name)) {
        let text = ::climate::demo_year_text().to_owned();
        return Some(Weather { climate: ::climate::demo_year(), text, name: format!("embedded: {known}") });
    }
    let message = format!("no weather year \"{name}\" is built in");
    let mut d = match &choice.place {
        Some(place) => Diagnostic::error("weather", place, message),
        None => Diagnostic::new(crate::diagnostic::Severity::Error, "weather", message),
    };
    d = match nearest(name, EMBEDDED) {
        Some(near) => d.with_label(format!("did you mean \"embedded: {near}\"?")),
        None => {
            d.with_help(format!("built in: {}; or name a weather file of the folder", EMBEDDED.join(", ")))
        }
    };
    cx.add(d);
    None
}

/// Points each problem at its row.
fn note(cx: &mut Problems, choice: &Choice, text: String, problems: Vec<WeatherProblem>) {
    let file = cx.sources.add(choice.name.clone(), text);
    for problem in problems {
        let source = cx.sources.get(file);
        let row = problem.row.unwrap_or(1);
        let range = if row <= source.lines() { source.line_range(row) } else { 0..0 };
        // A weather row is long; its first cell tells which it is.
        let first = source.text()[range.clone()].find([',', ';']).map_or(range.end, |i| range.start + i);
        let column = problem.column.as_ref().map(|c| format!("column \"{c}\": ")).unwrap_or_default();
        let message = format!("{column}{}", problem.what);
        let d = Diagnostic::error("weather", &Place::new(file, range.start..first), message)
            .with_help(problem.help);
        cx.add(d);
    }
}
