//! The sheets of the set.

use super::{Desk, Page, missing};
use crate::bench::{Bench, View};
use crate::guard::Visitor;
use axum::Extension;
use axum::extract::{Path, State};
use axum::response::{IntoResponse as _, Redirect, Response};
use maud::{Markup, PreEscaped, html};
use sheets::sheet::INDEX;
use std::sync::Arc;

/// Answers with a sheet.
pub async fn sheet(
    State(bench): State<Arc<Bench>>,
    Extension(visitor): Extension<Visitor>,
    Path(file): Path<String>,
) -> Response {
    let Some(place) = INDEX.iter().position(|entry| entry.file == file) else { return missing() };
    let view = bench.view();
    let content = match &view.good {
        Some(good) => match good.contents.get(place) {
            Some(content) => PreEscaped(content.clone()),
            None => return missing(),
        },
        None if view.folder.is_none() && view.generation > 0 => return Redirect::to("/new").into_response(),
        None => nothing_yet(&view),
    };
    let page = Page { file: INDEX[place].file, name: "", scripts: &[], live: true, content };
    Desk { view: &view, visitor: &visitor }.page(&page)
}

/// What stands on a sheet before the first results.
fn nothing_yet(view: &View) -> Markup {
    html! {
        @if view.report.errors() > 0 {
            h1 { "The book needs mending first." }
            p.lead { "Nothing was worked out yet. " a href="book" { "The Book" } " shows each line that cannot be read, and what to write instead." }
        } @else {
            h1 { "Working out where the building stands." }
            p.lead { "The first results come in a moment; this page takes them in by itself, or load it again." }
        }
    }
}
