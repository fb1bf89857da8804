//! `[calendar]`, `[people.x]`, `[use.x]`, `[gathering.x]`, `[set-points]`.

use super::storeys::{Of, checked};
use super::{Book, How, Want, sections, want};
use crate::diagnostic::Diagnostic;
use crate::reader::{Bounds, Fields, Kind, Node, Word, nearest, refer};
use building::calendar::{CalendarError, Rule, TimeSpan, Weekday};
use building::plan::{GatheringPlan, PersonPlan, SetPointPlan, UseEnd, UseEndDays, UsePlan};
use building::stated::{Basis, ValueKey};
use quantity::Dimension;

const ROOM: Bounds = Bounds::within(-20.0, 60.0, "lies between -20 °C and 60 °C");
const HEADS: Bounds = Bounds::within(0.0, 100_000.0, "is zero or more");
const HUMIDITY: Bounds = Bounds::above(0.0, 0.05, "is more than zero and at most 50 g/kg");

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>) {
    calendar(book, top);
    if top.has("people") {
        for (name, f) in sections(book, top, "people") {
            person(book, name, f);
        }
    }
    if top.has("gathering") {
        for (name, f) in sections(book, top, "gathering") {
            gathering(book, name, f);
        }
    }
    if top.has("use") {
        for (name, f) in sections(book, top, "use") {
            everyday(book, name, f);
        }
    }
    set_points(book, top);
}

fn calendar(book: &mut Book<'_>, top: &mut Fields<'_>) {
    let Some(mut f) = top.table(&mut book.cx, "calendar") else { return };
    if let Some(word) = f.text(&mut book.cx, "first-weekday") {
        let day = Weekday::read(&word.text);
        if day.is_none() {
            let message = format!("\"{}\" is no day of the week", word.text);
            book.cx.error("schedule", &word.place, message, "write Mon, Tue, Wed, Thu, Fri, Sat or Sun");
        }
        book.plan.calendar.first_weekday = day;
    }
    book.plan.calendar.closed = rules(book, &mut f, "closed");
    book.plan.calendar.holidays = rules(book, &mut f, "holidays");
    f.finish(&mut book.cx);
}

fn rules(book: &mut Book<'_>, f: &mut Fields<'_>, key: &str) -> Vec<Rule> {
    let Some(node) = f.node(key) else { return Vec::new() };
    let items = match &node.kind {
        Kind::List(items) => items.as_slice(),
        _ => std::slice::from_ref(node),
    };
    items.iter().filter_map(|item| rule(book, key, item)).collect()
}

/// Reads a rule of days and hours.
pub(super) fn rule(book: &mut Book<'_>, key: &str, node: &Node) -> Option<Rule> {
    let word = crate::reader::word(&mut book.cx, key, node)?;
    match Rule::read(&word.text) {
        Ok(rule) => Some(rule),
        Err(error) => {
            unreadable(book, node, &error);
            None
        }
    }
}

fn unreadable(book: &mut Book<'_>, node: &Node, error: &CalendarError) {
    let lead = match &node.kind {
        Kind::Text { value, .. } => value.len() - value.trim_start().len(),
        _ => 0,
    };
    let place = node.inside(error.span.0 + lead..error.span.1 + lead);
    let d = Diagnostic::error("schedule", &place, error.message.clone()).with_help(error.help.clone());
    book.cx.add(d);
}

fn person(book: &mut Book<'_>, name: String, mut f: Fields<'_>) {
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    let mut get =
        |key, dimension, kind| book.value(&mut f, key, want(dimension, Bounds::NOT_NEGATIVE, kind), &how);
    let sensible = get("sensible", Dimension::Power, "heat of a person");
    let latent = get("latent", Dimension::Power, "heat of a person");
    let co2 = get("co2", Dimension::VolumeFlow, "CO2 of a person");
    f.finish(&mut book.cx);
    book.plan.people.push(PersonPlan { name, sensible, latent, co2 });
}

fn everyday(book: &mut Book<'_>, name: String, mut f: Fields<'_>) {
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    let days = match f.node("days") {
        Some(node) => rule(book, "days", node).unwrap_or_default(),
        None => Rule::default(),
    };
    let heads = want(Dimension::Count, HEADS, "people");
    let density = want(Dimension::PowerPerArea, Bounds::NOT_NEGATIVE, "equipment power");
    let power = want(Dimension::Power, Bounds::NOT_NEGATIVE, "equipment power");
    let plan = UsePlan {
        name,
        days,
        people: hours(book, &mut f, "people", heads, &how),
        peak: book.value(&mut f, "peak", heads, &how),
        person: person_name(book, &mut f),
        power_density: hours(book, &mut f, "power-density", density, &how),
        power: hours(book, &mut f, "power", power, &how),
        standby: book.value(&mut f, "standby", density, &how),
        spaces: spaces(book, &mut f),
        ends: ends(book, &mut f),
    };
    f.finish(&mut book.cx);
    book.plan.uses.push(plan);
}

fn spaces(book: &mut Book<'_>, f: &mut Fields<'_>) -> Vec<String> {
    let words = f.texts(&mut book.cx, "spaces");
    words.into_iter().filter_map(|w| checked(book, w, Of::Space)).collect()
}

fn person_name(book: &mut Book<'_>, f: &mut Fields<'_>) -> Option<String> {
    let word = f.text(&mut book.cx, "person")?;
    refer(&mut book.cx, &word, &book.names.people, "kind of person").then_some(word.text)
}

/// Reads a table of hours, or one value for all day. Hours that overlap are an error.
fn hours(
    book: &mut Book<'_>,
    f: &mut Fields<'_>,
    key: &str,
    w: Want,
    how: &How,
) -> Vec<(TimeSpan, ValueKey)> {
    let Some(node) = f.node(key) else { return Vec::new() };
    if !matches!(node.kind, Kind::Table(_)) {
        return book.value(f, key, w, how).map(|v| (TimeSpan::DAY, v)).into_iter().collect();
    }
    let Some(mut t) = f.table(&mut book.cx, key) else { return Vec::new() };
    let mut all: Vec<(TimeSpan, ValueKey)> = Vec::new();
    let mut starts: Vec<(TimeSpan, crate::source::Place)> = Vec::new();
    for entry in t.entries() {
        let span = match TimeSpan::read(&entry.key) {
            Ok(span) => span,
            Err(error) => {
                let help = "write hours like \"14:00–20:30\"; a day has 24 of them".to_owned();
                let d = Diagnostic::error("schedule", &entry.key_place, error.message).with_help(help);
                book.cx.add(d);
                continue;
            }
        };
        let clash =
            starts.iter().find(|(s, _)| s.from_minute < span.to_minute && span.from_minute < s.to_minute);
        if let Some((other, place)) = clash {
            let d = Diagnostic::error("schedule", &entry.key_place, format!("hours {span} overlap {other}"))
                .with_label("also counted here")
                .with_related(place.clone(), "first here")
                .with_help("let one end where the other starts");
            book.cx.add(d);
        }
        starts.push((span, entry.key_place.clone()));
        if let Some(value) = book.value(&mut t, &entry.key, w, how) {
            all.push((span, value));
        }
    }
    all
}

/// Reads `except = ["recital evening", { on = "Fri", at = "19:00" }]`.
fn ends(book: &mut Book<'_>, f: &mut Fields<'_>) -> Vec<UseEnd> {
    let mut all = Vec::new();
    let path = format!("{}.except", f.path());
    for node in f.list(&mut book.cx, "except").unwrap_or_default() {
        match &node.kind {
            Kind::Table(table) => {
                let mut t = Fields::new(table, "an early end", node.place.clone(), path.clone());
                if !t.has("on") {
                    t.missing(&mut book.cx, "on", "on = \"last Thu\"");
                }
                let on = t.node("on").and_then(|n| rule(book, "on", n));
                let at = t.node("at").and_then(|n| minute(book, n));
                t.finish(&mut book.cx);
                all.extend(on.map(|rule| UseEnd { on: UseEndDays::Days(rule), at_minute: at }));
            }
            _ => all.extend(gathering_evening(book, node)),
        }
    }
    all
}

fn minute(book: &mut Book<'_>, node: &Node) -> Option<u16> {
    let word = crate::reader::word(&mut book.cx, "at", node)?;
    match TimeSpan::read_time(&word.text) {
        Ok(minute) => Some(minute),
        Err(error) => {
            unreadable(book, node, &error);
            None
        }
    }
}

/// Reads "song night evening": the days of a gathering, on which the use ends as the gathering starts.
fn gathering_evening(book: &mut Book<'_>, node: &Node) -> Option<UseEnd> {
    let word = crate::reader::word(&mut book.cx, "except", node)?;
    let bare =
        ["evening", "day", "morning"].iter().find_map(|s| word.text.strip_suffix(s)).unwrap_or(&word.text);
    let fold = |text: &str| text.trim().to_lowercase().replace(['-', '_'], " ");
    let name = book.names.gatherings.iter().find(|n| fold(n) == fold(bare)).map(str::to_owned);
    if let Some(name) = name {
        return Some(UseEnd { on: UseEndDays::Gathering(name), at_minute: None });
    }
    let mut d = Diagnostic::error("name", &word.place, format!("no gathering called \"{}\"", bare.trim()))
        .with_help("write the gathering's name and \"evening\", or { on = \"last Thu\", at = \"19:00\" }");
    if let Some(near) = nearest(bare, book.names.gatherings.iter()) {
        d = d.with_label(format!("did you mean \"{near} evening\"?"));
    }
    book.cx.add(d);
    None
}

fn gathering(book: &mut Book<'_>, name: String, mut f: Fields<'_>) {
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    let label = f.text(&mut book.cx, "label").map_or_else(|| name.clone(), |w| w.text);
    let place =
        f.need_text(&mut book.cx, "where", "where = \"hall\"").and_then(|w| checked(book, w, Of::Space));
    if !f.has("when") {
        f.missing(&mut book.cx, "when", "when = \"1st and 3rd Fri, 19:00–20:45\"");
    }
    let when = f.node("when").and_then(|n| rule(book, "when", n));
    let interval = f.node("interval").and_then(|n| span(book, n));
    let people = book.need(&mut f, "people", want(Dimension::Count, HEADS, "people"), &how);
    let person = person_name(book, &mut f);
    let co2 =
        book.value(&mut f, "co2", want(Dimension::VolumeFlow, Bounds::NOT_NEGATIVE, "CO2 of a person"), &how);
    let density = want(Dimension::PowerPerArea, Bounds::NOT_NEGATIVE, "equipment power");
    let power_density = book.value(&mut f, "power-density", density, &how);
    let posted_load = f.count(&mut book.cx, "posted-load");
    if let (Some(when), Some(interval)) = (&when, interval) {
        interval_inside(book, &mut f, when, interval);
    }
    let path = f.path().to_owned();
    f.finish(&mut book.cx);
    let (Some(space), Some(when)) = (place, when) else {
        book.taint(&path);
        return;
    };
    let people = Some(people);
    let plan =
        GatheringPlan { name, label, space, when, interval, people, person, co2, power_density, posted_load };
    book.plan.gatherings.push(plan);
}

fn span(book: &mut Book<'_>, node: &Node) -> Option<TimeSpan> {
    let word = crate::reader::word(&mut book.cx, "interval", node)?;
    match TimeSpan::read(&word.text) {
        Ok(span) => Some(span),
        Err(error) => {
            unreadable(book, node, &error);
            None
        }
    }
}

fn interval_inside(book: &mut Book<'_>, f: &mut Fields<'_>, when: &Rule, interval: TimeSpan) {
    let inside = when
        .hours()
        .iter()
        .any(|h| interval.from_minute >= h.from_minute && interval.to_minute <= h.to_minute);
    if inside {
        return;
    }
    let Some(node) = f.node("interval") else { return };
    let hours: Vec<String> = when.hours().iter().map(ToString::to_string).collect();
    let d = Diagnostic::error(
        "schedule",
        &node.place,
        format!("the interval {interval} lies outside the gathering"),
    )
    .with_label(format!("it lasts {}", hours.join(", ")))
    .with_help("write hours within it");
    book.cx.add(d);
}

fn set_points(book: &mut Book<'_>, top: &mut Fields<'_>) {
    let Some(mut f) = top.table(&mut book.cx, "set-points") else { return };
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    let room = want(Dimension::Temperature, ROOM, "set point");
    let plan = SetPointPlan {
        heating: book.value(&mut f, "heating", room, &how),
        cooling: book.value(&mut f, "cooling", room, &how),
        dehumidify_above: book.value(
            &mut f,
            "dehumidify-above",
            want(Dimension::Ratio, HUMIDITY, "humidity"),
            &how,
        ),
        warm_above: book.value(&mut f, "warm-above", room, &how),
    };
    let number = |key: Option<ValueKey>| key.map(|k| book.plan.values.nominal_of(k));
    if let (Some(heating), Some(cooling)) = (number(plan.heating), number(plan.cooling))
        && heating >= cooling
        && let Some(node) = f.node("heating")
    {
        let d =
            Diagnostic::error("range", &node.place, "heating starts above cooling: both would run at once")
                .with_help(
                    "let heating hold the lower temperature, like heating = \"20 °C\", cooling = \"25 °C\"",
                );
        book.cx.add(d);
    }
    f.finish(&mut book.cx);
    book.plan.set_points = plan;
}

/// Returns a word for a place; kept for the ventilation section.
pub(super) fn as_word(entry: &crate::reader::Entry) -> Word {
    Word { text: entry.key.clone(), place: entry.key_place.clone() }
}
