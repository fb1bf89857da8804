//! `[project]`, `[site]`, `[limit.x]`.

use super::{Book, How, sections, want};
use crate::diagnostic::Diagnostic;
use crate::reader::{Bounds, Fields, Word, nearest};
use crate::source::{BOOK_LIMIT_BYTES, Place};
use building::calendar::Date;
use building::limits::{self, LimitError, LimitSet};
use building::plan::{LimitOverride, Terrain, Words};
use building::stated::Basis;
use quantity::{Dimension, System};

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>) {
    facts(book, top);
    site(book, top);
    limits(book, top);
}

fn facts(book: &mut Book<'_>, top: &mut Fields<'_>) {
    let Some(mut f) = top.table(&mut book.cx, "project") else {
        if !top.has("project") && !book.root.entries.is_empty() {
            top.missing(&mut book.cx, "project", "[project] with name = \"…\"");
        }
        return;
    };
    let cx = &mut book.cx;
    let facts = &mut book.plan.project;
    facts.name = f.need_text(cx, "name", "name = \"14 Mill Lane\"").map(|w| w.text).unwrap_or_default();
    facts.about = f.text(cx, "about").map(|w| w.text).unwrap_or_default();
    facts.invented = f.flag(cx, "invented").unwrap_or(false);
    facts.units = f.choice(cx, "units", &[("us", System::Us), ("si", System::Si)]).unwrap_or(System::Us);
    facts.words = f.choice(cx, "words", &[("us", Words::Us), ("uk", Words::Uk)]).unwrap_or_default();
    facts.today = f.text(cx, "today").and_then(|w| date(cx, &w));
    let stages = f.texts(cx, "stages");
    if !stages.is_empty() {
        facts.stages = stages.into_iter().map(|w| w.text).collect();
    }
    if let Some(word) = f.text(cx, "stage") {
        let known: Vec<(&str, ())> = facts.stages.iter().map(|s| (s.as_str(), ())).collect();
        if crate::reader::choose(cx, "stage", &word, &known).is_some() {
            facts.stage = word.text;
        }
    } else if let Some(first) = facts.stages.first() {
        facts.stage.clone_from(first);
    }
    let sets = f.texts(cx, "limits");
    f.finish(cx);
    for word in sets {
        if let Some(set) = limit_set(book, &word) {
            book.limits = Some(match book.limits.take() {
                Some(under) => under.overlaid(set),
                None => set,
            });
            book.plan.project.limits.push(word.text);
        }
    }
}

/// Returns a set that comes with the tool, or reads one of the folder.
fn limit_set(book: &mut Book<'_>, word: &Word) -> Option<LimitSet> {
    if let Some(set) = limits::built_in(&word.text) {
        return Some(set);
    }
    if !word.text.ends_with(".toml") {
        let names: Vec<&str> = limits::BUILT_IN.iter().map(|(name, _)| *name).collect();
        let message = format!("no limit set called \"{}\"", word.text);
        let mut d = Diagnostic::error("name", &word.place, message).with_help(format!(
            "sets that come with the tool: {}; one of your own is a .toml file",
            names.join(", ")
        ));
        if let Some(near) = nearest(&word.text, names.iter().copied()) {
            d = d.with_label(format!("did you mean \"{near}\"?"));
        }
        book.cx.add(d);
        return None;
    }
    let text = match book.folder?.read_text(&word.text, BOOK_LIMIT_BYTES) {
        Ok(text) => text,
        Err(problem) => {
            let d = problem.diagnose(&word.text, Some(word.place.clone()));
            book.cx.add(d);
            return None;
        }
    };
    let file = book.cx.sources.add(word.text.clone(), text.clone());
    match LimitSet::read(&text) {
        Ok(set) => Some(set),
        Err(errors) => {
            for error in errors {
                let at = match &error {
                    LimitError::Shape { span: Some((a, b)), .. } => *a..*b,
                    LimitError::Row { id, .. } | LimitError::Duplicate { id } => {
                        let at = text.find(&format!("\"{id}\"")).unwrap_or(0);
                        at..at + id.len() + 2
                    }
                    LimitError::Shape { span: None, .. } => 0..0,
                };
                let d = Diagnostic::error("limit", &Place::new(file, at), error.to_string())
                    .with_help("windtight check --explain shows the rows in force; docs/book.md shows how one is written");
                book.cx.add(d);
            }
            None
        }
    }
}

/// Reads a date.
pub(super) fn date(cx: &mut crate::reader::Problems, word: &Word) -> Option<Date> {
    let read = Date::read(&word.text);
    if read.is_none() {
        cx.error(
            "date",
            &word.place,
            format!("\"{}\" is not a date", word.text),
            "write it like \"2025-09-03\"",
        );
    }
    read
}

const LATITUDE: Bounds = Bounds::within(-90.0, 90.0, "lies between -90° and 90°");
const LONGITUDE: Bounds = Bounds::within(-180.0, 180.0, "lies between -180° and 180°");
const RAIN: Bounds = Bounds::within(10.0, 12_000.0, "lies between 10 mm and 12 m a year");
const ELEVATION: Bounds = Bounds::within(-450.0, 6000.0, "lies between -450 m and 6000 m");

fn site(book: &mut Book<'_>, top: &mut Fields<'_>) {
    let Some(mut f) = top.table(&mut book.cx, "site") else {
        if !top.has("site") && !book.root.entries.is_empty() {
            top.missing(&mut book.cx, "site", "[site] with climate = \"climate/year.csv\"");
        }
        return;
    };
    let how = How::read(&mut book.cx, &mut f, Basis::Drawn);
    book.plan.site.latitude = book.value(&mut f, "latitude", want(Dimension::Angle, LATITUDE, "fixed"), &how);
    book.plan.site.longitude =
        book.value(&mut f, "longitude", want(Dimension::Angle, LONGITUDE, "fixed"), &how);
    book.plan.site.elevation =
        book.value(&mut f, "elevation", want(Dimension::Length, ELEVATION, "length"), &how);
    book.plan.site.north = book.value(
        &mut f,
        "north",
        want(Dimension::Angle, Bounds::within(-360.0, 360.0, "is one turn at most"), "fixed"),
        &how,
    );
    book.plan.site.ground_level =
        book.value(&mut f, "ground-level", want(Dimension::Length, Bounds::ANY, "length"), &how);
    let rain = want(Dimension::Precipitation, RAIN, "rain");
    book.plan.site.rain = book.value(&mut f, "rain", rain, &How { basis: Basis::Assumed, ..how });
    weather(book, &mut f);
    let cx = &mut book.cx;
    let site = &mut book.plan.site;
    site.climate.clone_from(&book.weather.name);
    let terrains = [
        ("open", Terrain::Open),
        ("country", Terrain::Country),
        ("suburb", Terrain::Suburb),
        ("town", Terrain::Town),
    ];
    site.terrain = f.choice(cx, "terrain", &terrains).unwrap_or_default();
    site.climate_class = f.text(cx, "climate-class").map(|w| w.text);
    f.finish(cx);
}

/// Reads which weather year, and the choices that a reader of its file must not make by itself.
fn weather(book: &mut Book<'_>, f: &mut Fields<'_>) {
    let cx = &mut book.cx;
    if let Some(word) = f.need_text(cx, "climate", "climate = \"climate/year.csv\"") {
        book.weather.name = word.text;
        book.weather.place = Some(word.place);
    }
    book.weather.options.fill_gaps = f.flag(cx, "fill-weather-gaps").unwrap_or(false);
    let offset = Bounds::within(-14.0 * 3600.0, 14.0 * 3600.0, "lies between -14 h and 14 h");
    let hours = f.quantity(cx, "utc-offset", Dimension::Time, offset).map(|q| q.value / 3600.0);
    book.weather.options.utc_offset_h = hours;
    let number = |key: Option<building::ValueKey>| key.map(|k| book.plan.values.nominal_of(k));
    let site = &book.plan.site;
    if f.flag(cx, "weather-place-is-ours") == Some(true)
        && let (Some(latitude_deg), Some(longitude_deg)) = (number(site.latitude), number(site.longitude))
    {
        book.weather.options.place = Some(climate::Place {
            name: book.plan.project.name.clone(),
            latitude_deg,
            longitude_deg,
            elevation_m: number(site.elevation).unwrap_or(0.0),
            utc_offset_h: hours.unwrap_or((longitude_deg / 15.0).round()),
        });
    }
}

fn limits(book: &mut Book<'_>, top: &mut Fields<'_>) {
    if !top.has("limit") {
        return;
    }
    for (id, mut f) in sections(book, top, "limit") {
        let class = book.plan.site.climate_class.clone();
        let rows = book.limits.as_ref().map(|set| set.for_climate(class.as_deref())).unwrap_or_default();
        let Some(dimension) = rows.iter().find(|row| row.id == id).map(|row| row.dimension) else {
            let ids: Vec<&str> = rows.iter().map(|row| row.id.as_str()).collect();
            let mut d = Diagnostic::error("name", f.at(), format!("no limit called \"{id}\""));
            d = match nearest(&id, ids.iter().copied()) {
                Some(near) => d.with_label(format!("did you mean \"{near}\"?")),
                None if ids.is_empty() => {
                    d.with_help("name a set first: limits = [\"new-build\"] under [project]")
                }
                None => d.with_help(format!("the sets named know: {}", ids.join(", "))),
            };
            book.cx.add(d);
            continue;
        };
        let how = How { enters: building::stated::Enters::NEITHER, ..How::by(Basis::Drawn) };
        let value = book.value(&mut f, "value", want(dimension, Bounds::ANY, "fixed"), &how);
        let source = f.text(&mut book.cx, "source").map(|w| w.text);
        let dropped = f.flag(&mut book.cx, "dropped").unwrap_or(false);
        book.plan.limits.push(LimitOverride { id, value, source, dropped });
        f.finish(&mut book.cx);
    }
}
