//! The book in the page: every problem at its line, saved whole or not at all, and what a change changed.

use super::{Desk, Page, aside, plain, token};
use crate::access::Role;
use crate::bench::{Bench, View, check_unsaved, reader};
use crate::guard::Visitor;
use crate::save::{self, SaveError};
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse as _, Redirect, Response};
use axum::{Extension, Form};
use maud::{Markup, html};
use project::diagnostic::{Diagnostic, Report, Severity, count};
use project::standing::Finding;
use serde::Deserialize;
use sheets::reader::Amount;
use std::sync::Arc;

/// How the page was reached.
#[derive(Debug, Deserialize)]
pub struct Reached {
    #[serde(default)]
    saved: String,
}

/// The form as it comes back.
#[derive(Debug, Deserialize)]
pub struct Edited {
    #[serde(default)]
    token: String,
    #[serde(default)]
    begun: String,
    text: String,
}

/// What the text area holds.
struct Text<'a> {
    text: &'a str,
    begun: &'a str,
    /// What to say about it.
    said: Markup,
}

/// Shows the book.
pub async fn page(
    State(bench): State<Arc<Bench>>,
    Extension(visitor): Extension<Visitor>,
    Query(reached): Query<Reached>,
) -> Response {
    let view = bench.view();
    let Some(folder) = view.folder.clone() else { return Redirect::to("/new").into_response() };
    let text = match aside(move || save::current(&folder)).await {
        Ok(Ok(text)) => text,
        Ok(Err(problem)) => {
            let said = problem.diagnose(save::BOOK, None);
            return plain(StatusCode::UNPROCESSABLE_ENTITY, &said.message, &said.help);
        }
        Err(answer) => return *answer,
    };
    let said = html! {
        @if !reached.saved.is_empty() { "Saved; the version before is kept in " code { (save::VERSIONS) } "." }
    };
    let begun = save::hash(&text);
    show(&view, &visitor, StatusCode::OK, &view.report, &Text { text: &text, begun: &begun, said })
}

fn show(view: &View, visitor: &Visitor, status: StatusCode, report: &Report, text: &Text<'_>) -> Response {
    let may = visitor.session.role >= Role::Edit;
    let content = html! {
        h1 { "The book" }
        p.lead {
            "What the building is meant to be, every number with its unit, its spread and how we know it. "
            @if !may { "This key lets you read it." }
        }
        div.book {
            form id="book" method="post" action="book" {
                (token(visitor))
                input type="hidden" name="begun" value=(text.begun);
                div.tools {
                    @if may { button id="save" { "Save" } }
                    span.soft id="said" role="status" { (text.said) }
                }
                div.editor {
                    pre.lines id="lines" aria-hidden="true" { (line_numbers(text.text, report)) }
                    textarea id="text" name="text" aria-label="building.toml" spellcheck="false" wrap="off"
                        autocomplete="off" autocapitalize="off" readonly[!may] { "\n" (text.text) }
                }
            }
            div.beside-book {
                section id="problems" aria-live="polite" aria-label="What the book says wrongly" { (problems(report)) }
                section id="changes" aria-label="What the last change did" { (changes(view)) }
            }
        }
    };
    let page = Page { file: "book", name: "", scripts: &["book.js"], live: false, content };
    Desk { view, visitor }.page_with(status, &page)
}

/// Numbers of the lines, the wrong ones marked; a script redraws them while one types.
fn line_numbers(text: &str, report: &Report) -> Markup {
    let mut wrong: Vec<usize> = Vec::new();
    for d in report.diagnostics() {
        let (file, line, _) = report.locate(d);
        if file == save::BOOK {
            wrong.push(line);
        }
    }
    html! {
        @for line in 1..=text.split('\n').count() {
            @if wrong.contains(&line) { b { (line) } } @else { (line) }
            "\n"
        }
    }
}

/// Every problem of a report, each with its line as a link into the text.
pub fn problems(report: &Report) -> Markup {
    let (errors, warnings) = (report.errors(), report.warnings());
    let title = match (errors, warnings) {
        (0, 0) => "Nothing wrong".to_owned(),
        (0, w) => count(w, "warning"),
        (e, 0) => count(e, "error"),
        (e, w) => format!("{} and {}", count(e, "error"), count(w, "warning")),
    };
    html! {
        h2.flush data-errors=(errors) { (title) }
        @if errors > 0 { p.soft { "Nothing is worked out until they are mended." } }
        ol.problems { @for d in report.diagnostics() { (problem(report, d)) } }
    }
}

fn problem(report: &Report, d: &Diagnostic) -> Markup {
    let (file, line, column) = report.locate(d);
    let snippet = d.place().map(|place| {
        let source = report.sources.get(place.file);
        source.text()[source.line_range(source.line_column(place.span.start).0)].trim().to_owned()
    });
    let class = if d.severity == Severity::Error { "error" } else { "warning" };
    html! {
        li class=(class) {
            p.where {
                @if file == save::BOOK && line > 0 {
                    a href="#text" data-line=(line) data-column=(column) { "Line " (line) }
                } @else if line > 0 { (file) ", line " (line) } @else { (file) }
                " " span.soft { (d.severity.word()) }
            }
            p { b { (d.message) } }
            @if let Some(snippet) = snippet.filter(|s| !s.is_empty()) { pre.snippet { (snippet) } }
            @if !d.label.is_empty() { p { (d.label) } }
            @for help in d.help.lines() { p.soft { (help) } }
            @for (place, words) in &d.related {
                @let (line, column) = report.sources.get(place.file).line_column(place.span.start);
                p.soft { a href="#text" data-line=(line) data-column=(column) { "Line " (line) } ": " (words) }
            }
        }
    }
}

/// What the last change of book or log did to the limits.
fn changes(view: &View) -> Markup {
    let (Some(good), Some(before)) = (&view.good, &view.before) else { return html! {} };
    let reader = reader(&good.standing);
    let amount = |f: &Finding| {
        let at_50_pa =
            f.dimension.to_lowercase().starts_with("air change") || f.dimension == "air permeability";
        f.value.map(|v| reader.amount(v, &f.unit, &f.dimension, at_50_pa))
    };
    let not_known = || "not known".to_owned();
    let row = |now: &Finding| {
        let then = before.standing.finding(&now.id).and_then(amount);
        let now_is = amount(now);
        let same = |a: &Amount, b: &Amount| a.full() == b.full();
        let words = match (&then, &now_is) {
            (Some(a), Some(b)) if same(a, b) => return None,
            (None, None) => return None,
            // A change too small for the figures as they are usually shown is shown with all its digits.
            (Some(a), Some(b)) if a.lead() == b.lead() => [a.full().to_owned(), b.full().to_owned()],
            (a, b) => [a, b].map(|x| x.as_ref().map_or_else(not_known, Amount::lead)),
        };
        let [then, now_is] = words;
        Some(vec![now.subject.clone(), then, now_is])
    };
    let rows: Vec<Vec<String>> = good.standing.limits().filter_map(row).collect();
    html! {
        @if rows.is_empty() {
            h2 { "The last change left every limit as it was" }
        } @else {
            h2 { "What the last change did" }
            (sheets::page::table("", &["limit", "before", "now"], &rows))
        }
    }
}

/// Saves the book.
pub async fn save(
    State(bench): State<Arc<Bench>>,
    Extension(visitor): Extension<Visitor>,
    Form(edited): Form<Edited>,
) -> Response {
    if let Err(answer) = visitor.may(Role::Edit, Some(&edited.token)) {
        return *answer;
    }
    let view = bench.view();
    let Some(folder) = view.folder.clone() else { return Redirect::to("/new").into_response() };
    let worked = aside(move || {
        let saved = save::save(&folder, &edited.text, &edited.begun);
        let (there, report) = match &saved {
            Ok(_) => (None, None),
            Err(_) => (save::current(&folder).ok(), Some(check_unsaved(&folder, &edited.text))),
        };
        (saved, there, report, edited.text)
    });
    let (saved, there, report, text) = match worked.await {
        Ok(worked) => worked,
        Err(answer) => return *answer,
    };
    match (saved, report) {
        (Ok(_), _) => {
            bench.poke();
            Redirect::to("/book?saved=1").into_response()
        }
        (Err(error), report) => {
            let said = refused(&error, there.as_deref());
            let begun = there.as_deref().map(save::hash).unwrap_or_default();
            let status = match error {
                SaveError::Changed => StatusCode::CONFLICT,
                SaveError::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
                SaveError::Unreadable(_) | SaveError::Disk { .. } => StatusCode::INTERNAL_SERVER_ERROR,
            };
            let report = report.unwrap_or_default();
            show(&view, &visitor, status, &report, &Text { text: &text, begun: &begun, said })
        }
    }
}

/// Says why nothing was saved; for a book that changed meanwhile, with that other text to compare.
fn refused(error: &SaveError, there: Option<&str>) -> Markup {
    html! {
        span.act role="alert" { "Not saved: " (error) "." }
        @if let (SaveError::Changed, Some(there)) = (error, there) {
            " Your text stands below and is not lost. Saving now would replace the other one."
            details { summary { "The book as it lies in the folder now" } pre.other { (there) } }
        }
    }
}

/// Checks a text that is not saved yet, for a script.
pub async fn check(
    State(bench): State<Arc<Bench>>,
    Extension(visitor): Extension<Visitor>,
    Form(edited): Form<Edited>,
) -> Response {
    if let Err(answer) = visitor.may(Role::Edit, Some(&edited.token)) {
        return *answer;
    }
    let Some(folder) = bench.view().folder.clone() else {
        return (StatusCode::CONFLICT, "there is no book yet").into_response();
    };
    let text = edited.text.replace("\r\n", "\n");
    match aside(move || problems(&check_unsaved(&folder, &text)).into_string()).await {
        Ok(list) => Html(list).into_response(),
        Err(answer) => *answer,
    }
}
