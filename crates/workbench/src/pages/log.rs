//! The site log: a photo first, then what is to be completed, then every record.

use super::{Desk, Page, aside, missing};
use crate::bench::{Bench, View};
use crate::guard::Visitor;
use crate::log::{items, kinds};
use axum::Extension;
use axum::extract::{Path, Query, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse as _, Redirect, Response};
use building::records::{Body, Log, Record};
use maud::{Markup, html};
use project::log::LogError;
use project::reader::Problems;
use project::source::Folder;
use serde::Deserialize;
use std::sync::Arc;

/// Records on one page.
const A_PAGE: usize = 60;

/// What part of the log is asked for.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Part {
    kind: String,
    before: usize,
}

/// Reads every record of a folder; what cannot be read is told on the Book page.
pub fn records(folder: &Folder) -> Log {
    project::records::read(folder, &mut Problems::default())
}

/// Shows the log.
pub async fn page(
    State(bench): State<Arc<Bench>>,
    Extension(visitor): Extension<Visitor>,
    Query(part): Query<Part>,
) -> Response {
    let view = bench.view();
    let Some(folder) = view.folder.clone() else { return Redirect::to("/new").into_response() };
    let (log, warnings) = match aside(move || (records(&folder), project::log::warnings(folder.root()))).await
    {
        Ok(read) => read,
        Err(answer) => return *answer,
    };
    let may = visitor.session.role >= crate::access::Role::Log;
    let content = html! {
        h1 { "Site log" }
        @if may {
            (shoot(&view))
            (waiting())
            (kinds_to_write())
        } @else { p.lead { "This key lets you read it." } }
        (to_complete(&log.records))
        @for warning in &warnings { p.act { (warning) } }
        (list(&log.records, &part))
    };
    let page = Page { file: "log", name: "", scripts: &["queue.js", "log.js"], live: false, content };
    Desk { view: &view, visitor: &visitor }.page(&page)
}

/// Shoot, say where with one tap, saved.
fn shoot(view: &View) -> Markup {
    html! {
        section.shoot aria-label="Photo" {
            noscript { p.act { "Photos need this page's script; records can be written without it." } }
            div.shutter {
                input id="photo" type="file" accept="image/*" capture="environment" aria-describedby="photo-hint";
                label for="photo" { "Take a photo" }
                span.soft id="photo-hint" { "Then one tap for the place, and it is saved. Words may come later." }
            }
            div id="placing" hidden {
                img id="preview" alt="The photo just taken";
                div {
                    p { b { "Where is it?" } }
                    div.places id="places" {}
                    div.field {
                        label for="place" { "Another place" }
                        div.row {
                            input id="place" list="all-places" autocomplete="off" enterkeyhint="done";
                            button id="place-save" type="button" { "Save here" }
                        }
                        datalist id="all-places" {
                            @for (_, names) in items(view) { @for name in names { option value=(name) {} } }
                        }
                    }
                    button.second id="again" type="button" { "Not this one" }
                }
            }
            p id="told" role="status" {}
            div.field.who { label for="who" { "Your initials" } input id="who" autocomplete="off" maxlength="40"; }
        }
    }
}

/// Records that only this phone has; the script fills it.
fn waiting() -> Markup {
    html! {
        section.waiting id="waiting" hidden aria-label="On this phone only" {
            h2 { "On this phone only" }
            p { "These are not in the log yet. They go by themselves when the connection is back, while a page of the log is open." }
            ul id="queue" {}
            p { button.second id="send" type="button" { "Send now" } " " button.second id="export" type="button" { "Save them as a file" } }
        }
    }
}

fn kinds_to_write() -> Markup {
    html! {
        h2 { "Write a record" }
        nav.kinds aria-label="Kinds of record" {
            @for kind in kinds::KINDS { a href={ "record?kind=" (kind) } { (kinds::name(kind)) } }
            a href="test-day" { "Pressure test" }
        }
    }
}

/// Photos that nobody has said anything about yet.
pub fn incomplete(records: &[Record]) -> Vec<&Record> {
    let completed = |id: &str| records.iter().any(|r| r.head.corrects.as_deref() == Some(id));
    records
        .iter()
        .filter(|r| matches!(&r.body, Body::Photo(p) if p.shows.is_empty()) && r.head.note.is_empty())
        .filter(|r| !completed(&r.head.id))
        .collect()
}

fn to_complete(records: &[Record]) -> Markup {
    let open = incomplete(records);
    html! {
        @if !open.is_empty() {
            section aria-label="To be completed" {
                h2 { "To be completed" }
                p.soft { "Photos without words. Say what each one shows, or make it a delivery, a leak, a joint." }
                ul.photos {
                    @for record in open.iter().rev() {
                        li {
                            a href={ "record?kind=photo&completes=" (record.head.id) } {
                                (thumbs(record))
                                span { (if record.head.place.is_empty() { "no place" } else { &record.head.place }) }
                                span.soft { (time(record)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Small pictures of a record; each one is the safe copy.
pub fn thumbs(record: &Record) -> Markup {
    html! {
        @for a in record.head.attachments.iter().filter(|a| a.media_type.starts_with("image/")) {
            img src={ "photo/" (a.sha256) } alt=(if a.caption.is_empty() { "photo" } else { &a.caption }) loading="lazy" width="160" height="120";
        }
    }
}

fn time(record: &Record) -> String {
    record.head.client_time.get(..16).unwrap_or(&record.head.client_time).replace('T', ", ")
}

fn list(records: &[Record], part: &Part) -> Markup {
    let all: Vec<(usize, &Record)> = records
        .iter()
        .enumerate()
        .filter(|(_, r)| part.kind.is_empty() || r.body.kind() == part.kind)
        .filter(|(place, _)| part.before == 0 || *place < part.before)
        .collect();
    let shown: Vec<&(usize, &Record)> = all.iter().rev().take(A_PAGE).collect();
    let older = shown.last().map(|(place, _)| *place).filter(|_| all.len() > shown.len());
    html! {
        h2 id="records" {
            @if part.kind.is_empty() { (records.len()) (if records.len() == 1 { " record" } else { " records" }) ", newest first" }
            @else { (kinds::name(&part.kind)) ", newest first" }
        }
        @if shown.is_empty() { p { "Nothing was written yet." } }
        ol.records {
            @for (_, record) in shown {
                li id={ "r-" (record.head.id) } {
                    p.kicker {
                        (time(record))
                        @if !record.head.name.is_empty() { ", " (record.head.name) }
                        @if !record.head.stage.is_empty() { ", " (record.head.stage) }
                    }
                    p.said { b { (kinds::name(record.body.kind())) } @if !record.head.place.is_empty() { ", " (record.head.place) } }
                    p { (project::log::sentence(record)) }
                    @if let Some(corrects) = &record.head.corrects { p.soft { "Completes or corrects " a href={ "#r-" (corrects) } { "an earlier record" } "." } }
                    div.thumbs { (thumbs(record)) }
                }
            }
        }
        @if let Some(older) = older {
            p.tall { a href={ "log?kind=" (part.kind) "&before=" (older) "#records" } { "Older records" } }
        }
    }
}

/// Answers with the safe copy of a photo.
pub async fn photo(State(bench): State<Arc<Bench>>, Path(sha256): Path<String>) -> Response {
    let Some(folder) = bench.view().folder.clone() else { return missing() };
    match aside(move || bench.log(&folder).and_then(|log| log.safe_copy(&sha256))).await {
        Ok(Ok(bytes)) => {
            // A picture is named by its content and never changes.
            let headers = [
                (header::CONTENT_TYPE, "image/jpeg"),
                (header::CACHE_CONTROL, "private, max-age=31536000, immutable"),
            ];
            (headers, bytes).into_response()
        }
        Ok(Err(LogError::NoOriginal { .. })) => missing(),
        Ok(Err(error)) => (StatusCode::UNPROCESSABLE_ENTITY, error.to_string()).into_response(),
        Err(answer) => *answer,
    }
}
