//! One file a page, and the frame they share.

pub mod book;
pub mod door;
pub mod log;
pub mod new;
pub mod record;
pub mod set;
pub mod state;
pub mod talk;
pub mod test_day;
pub mod why;

use crate::assets;
use crate::bench::{Bench, View, reader};
use crate::guard::{self, Visitor};
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::StatusCode;
use axum::middleware::from_fn_with_state;
use axum::response::{Html, IntoResponse as _, Redirect, Response};
use axum::routing::{get, post};
use maud::{Markup, html};
use sheets::Input;
use sheets::page::{Dress, Entry, TitleBlock, dressed};
use std::sync::Arc;

/// The workbench's own pages, after the sheets.
pub const OWN: [Entry; 4] = [
    Entry { file: "log", name: "Site log", question: "what did the site answer?" },
    Entry { file: "test-day", name: "Test day", question: "what does the fan say?" },
    Entry { file: "talk", name: "Talk", question: "how do we tell it?" },
    Entry { file: "book", name: "Book", question: "what is it meant to be?" },
];

/// A book of 4 MB may grow to three times that on its way, each sign written as `%C2%B0`.
const LARGEST_FORM_BYTES: usize = 13 << 20;
/// A phone's photo has 3 to 12 MB.
const LARGEST_PHOTO_BYTES: usize = 32 << 20;

/// Every address with what answers there.
pub fn routes(bench: Arc<Bench>) -> Router {
    Router::new()
        .route("/", get(|| async { Redirect::to("/index.html") }))
        .route("/start", get(door::start))
        .route("/share", get(door::share))
        .route("/assets/{name}", get(assets::serve))
        .route("/sw.js", get(assets::worker))
        .route("/manifest.webmanifest", get(assets::manifest))
        .route("/state", get(state::state))
        .route("/why", get(why::page))
        .route("/new", get(new::form).post(new::make))
        .route("/book", get(book::page).post(book::save))
        .route("/book/check", post(book::check))
        .route("/log", get(log::page))
        .route("/test-day", get(test_day::page).post(test_day::work_out))
        .route("/test-day/evaluate", post(test_day::evaluate))
        .route("/talk", get(talk::page))
        .route("/record", get(record::page).post(record::save))
        .route("/record/take", post(record::take))
        .route("/photo", post(record::attach).layer(DefaultBodyLimit::max(LARGEST_PHOTO_BYTES)))
        .route("/photo/{sha256}", get(log::photo))
        .route("/{sheet}", get(set::sheet))
        .fallback(|| async { missing() })
        .layer(DefaultBodyLimit::max(LARGEST_FORM_BYTES))
        .layer(from_fn_with_state(Arc::clone(&bench), guard::guard))
        .with_state(bench)
}

/// What every page is made with.
#[derive(Debug)]
pub struct Desk<'a> {
    /// What is shown.
    pub view: &'a View,
    /// Who asks.
    pub visitor: &'a Visitor,
}

/// A page's own part.
pub struct Page<'a> {
    /// Its file in the index; empty for a page outside it.
    pub file: &'a str,
    /// Its name, for a page outside the index.
    pub name: &'a str,
    /// Its scripts.
    pub scripts: &'a [&'a str],
    /// True when fresh results may be put in place of what is shown: nothing is being typed there.
    pub live: bool,
    /// What stands on it.
    pub content: Markup,
}

impl Desk<'_> {
    /// Frames a page.
    pub fn page(&self, page: &Page<'_>) -> Response {
        self.page_with(StatusCode::OK, page)
    }

    /// Frames a page under a status of its own.
    pub fn page_with(&self, status: StatusCode, page: &Page<'_>) -> Response {
        let index: Vec<Entry> = sheets::sheet::INDEX.into_iter().chain(OWN).collect();
        let current = index.iter().position(|entry| entry.file == page.file);
        let head = html! {
            link rel="stylesheet" href=(assets::address("sheet.css"));
            link rel="stylesheet" href=(assets::address("bench.css"));
            link rel="manifest" href="manifest.webmanifest";
            meta name="token" content=(self.visitor.session.csrf);
            meta name="role" content=(self.visitor.session.role.word());
            @for script in ["sheet.js", "live.js"].iter().chain(page.scripts) {
                script src=(assets::address(script)) defer {}
            }
        };
        let above = html! {
            div.bench id="bench" data-generation=(self.view.generation) data-live=[page.live.then_some("")] {
                (state::line(self.view))
            }
        };
        let dress = Dress::Served { head: &head, above: &above };
        let html = match &self.view.good {
            Some(good) => {
                let workings = [];
                let input = Input {
                    air: None,
                    standing: &good.standing,
                    building: &good.project.building,
                    workings: &workings,
                    details: &good.project.details,
                    year: None,
                    moisture: None,
                    machines: None,
                    revision: good.project.inputs.text(),
                };
                let block = good.said.block(&input, reader(&good.standing));
                dressed(block, &index, current, page.name, &page.content, dress)
            }
            None => {
                let name = self.view.folder.as_ref().map_or_else(|| "new project".to_owned(), |f| f.name());
                let block = TitleBlock {
                    project: &name,
                    about: "",
                    status: "nothing worked out yet",
                    revision: "–",
                    language: "en-US",
                };
                dressed(block, &index, current, page.name, &page.content, dress)
            }
        };
        (status, Html(html)).into_response()
    }
}

/// A page outside every project: refusals, and what to do about them.
pub fn plain(status: StatusCode, title: &str, words: &str) -> Response {
    let page = html! {
        (maud::DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width,initial-scale=1";
                title { (title) }
                link rel="stylesheet" href={ "/" (assets::address("sheet.css")) };
            }
            body { div.sheet { main id="sheet" { h1 { (title) } p.lead { (words) } } } }
        }
    };
    (status, Html(page.into_string())).into_response()
}

fn missing() -> Response {
    plain(StatusCode::NOT_FOUND, "Nothing is here", "The index of sheets stands at the foot of every sheet.")
}

/// Carries work out where waiting for the disk holds nothing else up.
///
/// # Errors
/// The answer to give when the work came to no end.
pub async fn aside<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, Box<Response>> {
    tokio::task::spawn_blocking(work).await.map_err(|_| {
        let words =
            "Windtight made a mistake. Nothing you sent was half written; load the page and try again.";
        Box::new(plain(StatusCode::INTERNAL_SERVER_ERROR, "A mistake of this program", words))
    })
}

/// The hidden field that every form carries.
pub fn token(visitor: &Visitor) -> Markup {
    html! { input type="hidden" name="token" value=(visitor.session.csrf); }
}
