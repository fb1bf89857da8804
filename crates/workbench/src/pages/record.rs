//! One record: the form of its kind, and taking in what comes from it.

use super::state::json;
use super::{Desk, Page, aside, log, test_day, token};
use crate::access::Role;
use crate::bench::{Bench, View};
use crate::guard::Visitor;
use crate::log::filled::{Filled, Wrong};
use crate::log::kinds;
use crate::log::{dimensions, items};
use axum::body::Bytes;
use axum::extract::{Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::{Extension, Form};
use building::records::Record;
use maud::{Markup, html};
use project::log::{Ack, Field, Incoming, LogError, Outcome, Shape};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::Arc;

/// What the form is asked for.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Asked {
    kind: String,
    completes: String,
    place: String,
}

/// Shows the form of a kind.
pub async fn page(
    State(bench): State<Arc<Bench>>,
    Extension(visitor): Extension<Visitor>,
    Query(asked): Query<Asked>,
) -> Response {
    let view = bench.view();
    let (Some(folder), Some(_)) = (view.folder.clone(), kinds::form(&asked.kind)) else {
        return Redirect::to("/log").into_response();
    };
    let id = asked.completes.clone();
    let completes = match aside(move || {
        let log = if id.is_empty() { Default::default() } else { log::records(&folder) };
        log.records.into_iter().find(|r| r.head.id == id)
    })
    .await
    {
        Ok(found) => found,
        Err(answer) => return *answer,
    };
    let filled = Filled {
        kind: asked.kind,
        place: completes.as_ref().map_or(asked.place, |r| r.head.place.clone()),
        ..Filled::default()
    };
    show(&view, &visitor, StatusCode::OK, &filled, completes.as_ref(), &[])
}

fn show(
    view: &View,
    visitor: &Visitor,
    status: StatusCode,
    filled: &Filled,
    completes: Option<&Record>,
    wrong: &[Wrong],
) -> Response {
    let name = kinds::name(&filled.kind);
    let content = form(view, visitor, filled, completes, wrong);
    let page = Page { file: "", name: &name, scripts: &["queue.js", "log.js"], live: false, content };
    Desk { view, visitor }.page_with(status, &page)
}

fn form(
    view: &View,
    visitor: &Visitor,
    filled: &Filled,
    completes: Option<&Record>,
    wrong: &[Wrong],
) -> Markup {
    let kind = filled.kind.as_str();
    let stage = view.good.as_ref().map_or("", |g| g.project.building.project.stage.as_str());
    let of =
        |field: &str| wrong.iter().filter(|w| w.field == field).map(|w| w.words.as_str()).collect::<Vec<_>>();
    let head = |id: &str, label: &str, value: &str| {
        let said = of(id);
        html! {
            div.field {
                label for=(id) { (label) }
                input id=(id) name=(id) value=(value) autocomplete="off" aria-invalid=[(!said.is_empty()).then_some("true")];
                @for words in said { small.act { (words) } }
            }
        }
    };
    html! {
        p.kicker { a href="log" { "Site log" } }
        h1 { (kinds::name(kind)) }
        @if let Some(record) = completes {
            div.thumbs { (log::thumbs(record)) }
            p.soft { "Says more about the photo of " (record.head.client_time.get(..10).unwrap_or("")) ". As another kind:" }
            nav.kinds aria-label="As another kind" {
                @for other in kinds::KINDS.iter().filter(|k| **k != kind).take(8) {
                    a href={ "record?kind=" (other) "&completes=" (record.head.id) } { (kinds::name(other)) }
                }
            }
        }
        @for words in of("") { p.act role="alert" { (words) } }
        form.facts-form id="record" method="post" action="record" data-kind=(kind) {
            (token(visitor))
            input type="hidden" name="kind" value=(kind);
            input type="hidden" name="corrects" value=(completes.map_or("", |r| r.head.id.as_str()));
            @for field in kinds::form(kind).unwrap_or_default() { (one(kind, field, filled.fields.get(field.key).map_or("", String::as_str), &of(field.key))) }
            div.field {
                label for="place" { "Where" }
                input id="place" name="place" list="items" value=(filled.place) autocomplete="off";
            }
            (head("name", "Your initials", &filled.name))
            div.field {
                label for="stage" { "Stage" }
                input id="stage" name="stage" list="stages" autocomplete="off" value=(if filled.stage.is_empty() { stage } else { &filled.stage });
            }
            div.field.wide-field { label for="note" { "More words" } textarea id="note" name="note" rows="2" { "\n" (filled.note) } }
            div.field.script-only hidden {
                label for="files" { "Photos and files" }
                input id="files" type="file" multiple;
            }
            details.wide-field {
                summary { "Instrument" }
                div.facts-form {
                    (head("instrument", "Mark on it", &filled.instrument))
                    (head("calibrated", "Last calibration", &filled.calibrated))
                    (head("uncertainty", "Uncertainty on its certificate", &filled.uncertainty))
                }
            }
            div.send { button { "Save" } " " span id="told" role="status" {} }
        }
        datalist id="items" { @for (_, names) in items(view) { @for name in names { option value=(name) {} } } }
        datalist id="stages" {
            @if let Some(good) = &view.good { @for stage in &good.standing.stages { option value=(stage.name) {} } }
        }
    }
}

fn one(kind: &str, field: &Field, value: &str, wrong: &[&str]) -> Markup {
    let id = format!("f-{}", field.key);
    let invalid = (!wrong.is_empty()).then_some("true");
    let offers = kinds::offers(kind, field.key);
    let list = if kinds::takes_item(field.key) {
        Some("items".to_owned())
    } else {
        (!offers.is_empty()).then(|| format!("{id}-words"))
    };
    let long = kinds::is_long(field);
    let said = html! { @for words in wrong { small.act { (words) } } };
    if field.shape == Shape::YesNo {
        return html! {
            fieldset.field {
                legend { (field.words) }
                @for (word, label) in [("yes", "yes"), ("no", "no"), ("", "not said")] {
                    label.tick { input type="radio" name=(id) value=(word) checked[value == word]; " " (label) }
                }
                (said)
            }
        };
    }
    html! {
        div.field.wide-field[long] {
            label for=(id) { (field.words) }
            @if long {
                textarea id=(id) name=(id) rows="3" aria-invalid=[invalid] { "\n" (value) }
            } @else if field.shape == Shape::Date {
                input id=(id) name=(id) type="date" value=(value) aria-invalid=[invalid];
            } @else {
                input id=(id) name=(id) list=[list] autocomplete="off" value=(value) aria-invalid=[invalid];
            }
            @match field.shape {
                Shape::List => { small { "One a line." } }
                Shape::Figure(_) => { small { "With its unit; ± if its certificate says so." } }
                Shape::Properties => { small { "One a line, such as unit.south.glazing.g = 0.41. The log keeps it; the book is not changed." } }
                _ => {}
            }
            @if !offers.is_empty() { datalist id={ (id) "-words" } { @for word in offers { option value=(word) {} } } }
            (said)
        }
    }
}

/// What a script is told.
#[derive(Debug, Serialize)]
struct Told {
    number: i64,
    outcome: &'static str,
    words: String,
}

impl Told {
    fn new(ack: &Ack) -> Self {
        let (outcome, words) = match &ack.outcome {
            Outcome::Kept => ("kept", "In the log.".to_owned()),
            Outcome::AlreadyThere => ("already-there", "It was in the log already.".to_owned()),
            Outcome::BesideOthers { .. } => (
                "beside-others",
                "In the log, beside another record under the same id: both stand, and a person should say which holds."
                    .to_owned(),
            ),
        };
        Self { number: ack.number, outcome, words }
    }
}

#[derive(Debug, Serialize)]
struct NotTaken {
    words: String,
    wrong: Vec<Wrong>,
}

fn not_taken(status: StatusCode, wrong: Vec<Wrong>) -> Response {
    let words = wrong.iter().map(|w| w.words.as_str()).collect::<Vec<_>>().join("; ");
    let mut answer = json(&NotTaken { words, wrong });
    *answer.status_mut() = status;
    answer
}

fn whole(status: StatusCode, words: impl Into<String>) -> Response {
    not_taken(status, vec![Wrong { field: String::new(), words: words.into() }])
}

/// Which status an error of the log has: the client's to mend, or to try again later.
fn status(error: &LogError) -> StatusCode {
    match error {
        LogError::Record { .. } | LogError::Attachment { .. } | LogError::NoOriginal { .. } => {
            StatusCode::UNPROCESSABLE_ENTITY
        }
        LogError::Full { .. } => StatusCode::INSUFFICIENT_STORAGE,
        _ => StatusCode::SERVICE_UNAVAILABLE,
    }
}

/// Makes a record of what was filled in and keeps it.
fn keep(bench: &Bench, view: &View, filled: &Filled) -> Result<Ack, (StatusCode, Vec<Wrong>)> {
    let one = |status, words: String| (status, vec![Wrong { field: String::new(), words }]);
    let Some(folder) = &view.folder else {
        return Err(one(StatusCode::CONFLICT, "there is no project here yet".to_owned()));
    };
    let bad = |wrong| (StatusCode::UNPROCESSABLE_ENTITY, wrong);
    if filled.kind == "pressure-test" {
        let mut acks = Vec::new();
        for record in test_day::records(filled).map_err(bad)? {
            acks.push(append(bench, folder, record).map_err(|e| one(status(&e), e.to_string()))?);
        }
        // There is one at least; the first stands for the day.
        return acks.into_iter().next().ok_or_else(|| bad(Vec::new()));
    }
    let known = dimensions(view);
    let record = filled.record(&|id| known.get(id).copied()).map_err(bad)?;
    append(bench, folder, record).map_err(|e| one(status(&e), e.to_string()))
}

/// Appends a record; returns when it is on the disk.
///
/// # Errors
/// What the log says.
pub fn append(bench: &Bench, folder: &project::source::Folder, record: Record) -> Result<Ack, LogError> {
    let ack = bench.log(folder)?.append(record, Vec::new())?;
    bench.poke();
    Ok(ack)
}

/// Takes a record from a script: JSON of [`Filled`].
pub async fn take(
    State(bench): State<Arc<Bench>>,
    Extension(visitor): Extension<Visitor>,
    body: Bytes,
) -> Response {
    if let Err(answer) = visitor.may(Role::Log, None) {
        return *answer;
    }
    let filled: Filled = match serde_json::from_slice(&body) {
        Ok(filled) => filled,
        Err(error) => return whole(StatusCode::UNPROCESSABLE_ENTITY, format!("this is no record: {error}")),
    };
    let view = bench.view();
    match aside(move || keep(&bench, &view, &filled)).await {
        Ok(Ok(ack)) => json(&Told::new(&ack)),
        Ok(Err((status, wrong))) => not_taken(status, wrong),
        Err(answer) => *answer,
    }
}

/// Takes a record from a form, without a script.
pub async fn save(
    State(bench): State<Arc<Bench>>,
    Extension(visitor): Extension<Visitor>,
    Form(form): Form<BTreeMap<String, String>>,
) -> Response {
    if let Err(answer) = visitor.may(Role::Log, form.get("token").map(String::as_str)) {
        return *answer;
    }
    let of = |key: &str| form.get(key).cloned().unwrap_or_default();
    let filled = Filled {
        id: project::log::fresh_id(),
        client_time: project::log::now_here(),
        kind: of("kind"),
        name: of("name"),
        place: of("place"),
        stage: of("stage"),
        note: of("note").trim().to_owned(),
        corrects: of("corrects"),
        instrument: of("instrument"),
        calibrated: of("calibrated"),
        uncertainty: of("uncertainty"),
        attachments: Vec::new(),
        fields: form
            .iter()
            .filter_map(|(k, v)| k.strip_prefix("f-").map(|k| (k.to_owned(), v.clone())))
            .collect(),
    };
    let view = bench.view();
    let (seen, sent) = (Arc::clone(&view), filled.clone());
    match aside(move || keep(&bench, &seen, &sent)).await {
        Ok(Ok(_)) => Redirect::to("/log#records").into_response(),
        Ok(Err((status, wrong))) if kinds::form(&filled.kind).is_some() => {
            show(&view, &visitor, status, &filled, None, &wrong)
        }
        Ok(Err((status, wrong))) => not_taken(status, wrong),
        Err(answer) => *answer,
    }
}

/// Keeps the bytes of a photo or file and answers with how a record names it.
///
/// The body is the file itself. Its name and words come in headers, percent-encoded; what it is, its bytes say.
pub async fn attach(
    State(bench): State<Arc<Bench>>,
    Extension(visitor): Extension<Visitor>,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    if let Err(answer) = visitor.may(Role::Log, None) {
        return *answer;
    }
    let of = |name: &str| headers.get(name).and_then(|v| v.to_str().ok()).map(decoded).unwrap_or_default();
    let incoming = Incoming {
        bytes: body.to_vec(),
        file_name: of("x-file-name"),
        caption: of("x-caption"),
        keep_location: of("x-keep-location") == "yes",
    };
    let Some(folder) = bench.view().folder.clone() else {
        return whole(StatusCode::CONFLICT, "there is no project here yet");
    };
    match aside(move || bench.log(&folder).and_then(|log| log.keep(&incoming))).await {
        Ok(Ok(attachment)) => json(&attachment),
        Ok(Err(error)) => whole(status(&error), error.to_string()),
        Err(answer) => *answer,
    }
}

/// Reads a percent-encoded header.
fn decoded(text: &str) -> String {
    let bytes = text.as_bytes();
    let mut out = Vec::with_capacity(bytes.len());
    let mut at = 0;
    while at < bytes.len() {
        let hex = (bytes[at] == b'%').then(|| text.get(at + 1..at + 3)).flatten();
        match hex.and_then(|h| u8::from_str_radix(h, 16).ok()) {
            Some(byte) => {
                out.push(byte);
                at += 3;
            }
            None => {
                out.push(bytes[at]);
                at += 1;
            }
        }
    }
    String::from_utf8_lossy(&out).into_owned()
}

#[cfg(test)]
mod tests {
    use super::decoded;

    #[test]
    fn names_in_headers_are_decoded_and_never_panic() {
        assert_eq!(decoded("M%C3%BChle%20a.jpg"), "Mühle a.jpg");
        for odd in ["%", "%4", "%zz", "%C3", "é%C", ""] {
            let _ = decoded(odd);
        }
    }
}
