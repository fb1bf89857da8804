//! How fresh the pages are: one line above every sheet, and the same for scripts.

use crate::bench::{Bench, View};
use crate::guard::Visitor;
use axum::Extension;
use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse as _, Response};
use maud::{Markup, html};
use project::diagnostic::count;
use serde::Serialize;
use std::sync::Arc;

/// What a script asks every other second.
#[derive(Debug, Serialize)]
struct Freshness {
    generation: u64,
    running: bool,
    stale: bool,
    errors: usize,
    words: String,
    role: &'static str,
    token: String,
}

/// Answers a script.
pub async fn state(State(bench): State<Arc<Bench>>, Extension(visitor): Extension<Visitor>) -> Response {
    let view = bench.view();
    let state = Freshness {
        generation: view.generation,
        running: view.running.is_some(),
        stale: view.stale,
        errors: view.report.errors(),
        words: words(&view),
        role: visitor.session.role.word(),
        token: visitor.session.csrf.clone(),
    };
    json(&state)
}

/// Answers with JSON.
pub fn json(value: &impl Serialize) -> Response {
    match serde_json::to_string(value) {
        Ok(text) => ([(header::CONTENT_TYPE, "application/json")], text).into_response(),
        // A number that JSON cannot hold; none is sent from here.
        Err(error) => (StatusCode::INTERNAL_SERVER_ERROR, error.to_string()).into_response(),
    }
}

/// The line above every sheet.
pub fn line(view: &View) -> Markup {
    let class = if view.stale || view.mistake.is_some() || view.report.errors() > 0 {
        "state stale"
    } else {
        "state"
    };
    html! {
        p class=(class) id="state" role="status" { (words(view)) }
        nav aria-label="On site" {
            a href="index.html" { "Sheets" }
            a href="log" { "Site log" }
            a href="test-day" { "Test day" }
            a href="book" { "Book" }
        }
    }
}

/// Says how fresh the results are.
fn words(view: &View) -> String {
    if let Some(mistake) = &view.mistake {
        return mistake.clone();
    }
    let errors = view.report.errors();
    if let Some(began) = view.running {
        let seconds = began.elapsed().as_secs();
        let since = if seconds < 2 { String::new() } else { format!(", for {seconds} seconds now") };
        let shown = if view.good.is_some() { " What is shown is from before the change." } else { "" };
        return format!("Working out the building again{since}.{shown}");
    }
    match (&view.good, errors) {
        (_, n) if n > 0 && view.folder.is_none() => "No book in this folder yet.".to_owned(),
        (Some(_), n) if n > 0 => {
            format!(
                "Stale: the book has {}. What is shown is the last that could be worked out.",
                count(n, "error")
            )
        }
        (None, n) if n > 0 => format!("The book has {}; nothing was worked out yet.", count(n, "error")),
        (Some(good), _) => {
            format!("Up to date with book and log ({:.1} s).", good.took.as_secs_f64().max(0.1))
        }
        (None, _) => "Reading the book.".to_owned(),
    }
}
