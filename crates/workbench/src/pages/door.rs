//! The way in: a key in the address becomes a cookie.

use super::{Desk, Page, plain};
use crate::access::{Refused, Role};
use crate::assets;
use crate::bench::Bench;
use crate::guard::Visitor;
use axum::Extension;
use axum::extract::{Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{Html, IntoResponse as _, Response};
use maud::html;
use serde::Deserialize;
use std::sync::Arc;
use std::time::Instant;

/// What the address carries.
#[derive(Debug, Deserialize)]
pub struct Start {
    #[serde(default)]
    key: String,
}

/// Takes a key.
///
/// The answer is a page that leads on, not a redirect: a browser that came from elsewhere would follow a redirect
/// without the strict cookie.
pub async fn start(State(bench): State<Arc<Bench>>, Query(start): Query<Start>) -> Response {
    match bench.access.log_in(&start.key, Instant::now()) {
        Ok(cookie) => {
            let page = html! {
                (maud::DOCTYPE)
                html lang="en" {
                    head {
                        meta charset="utf-8";
                        meta name="viewport" content="width=device-width,initial-scale=1";
                        meta http-equiv="refresh" content="0;url=/index.html";
                        title { "Windtight" }
                        link rel="stylesheet" href=(assets::address("sheet.css"));
                    }
                    body { div.sheet { main { p.lead { a href="/index.html" { "To the sheets" } } } } }
                }
            };
            ([(header::SET_COOKIE, cookie)], Html(page.into_string())).into_response()
        }
        Err(Refused::Wrong) => plain(
            StatusCode::UNAUTHORIZED,
            "Not this key",
            "The key in the address is not one of this start. Windtight makes new ones each time it starts; use the \
             address it printed last.",
        ),
        Err(Refused::TooMany) => plain(
            StatusCode::TOO_MANY_REQUESTS,
            "Too many wrong keys",
            "Too many wrong keys were tried. Wait a minute, then open the address that was printed.",
        ),
    }
}

/// Shows addresses that open the pages with fewer rights, to whoever has them all.
pub async fn share(
    State(bench): State<Arc<Bench>>,
    Extension(visitor): Extension<Visitor>,
    headers: HeaderMap,
) -> Response {
    // Looking at the keys changes nothing, so no token is asked; the role is.
    if visitor.session.role < Role::Edit {
        return plain(StatusCode::FORBIDDEN, "Refused", "This key does not let you hand out others.");
    }
    let host = headers.get(header::HOST).and_then(|h| h.to_str().ok()).unwrap_or_default().to_owned();
    let address = |role: Role| format!("http://{host}/start?key={}", bench.access.key(role));
    let view = bench.view();
    let content = html! {
        h1 { "Open it in another browser" }
        p.lead { "Each address holds a key; whoever has it has its rights until Windtight stops. They open on this machine only." }
        dl.facts.keys {
            dt { "Look" } dd { code { (address(Role::Look)) } " reads every page." }
            dt { "Log" } dd { code { (address(Role::Log)) } " also writes records and photos." }
            dt { "Edit" } dd { code { (address(Role::Edit)) } " also changes the book." }
        }
    };
    let page = Page { file: "", name: "Keys", scripts: &[], live: false, content };
    Desk { view: &view, visitor: &visitor }.page(&page)
}
