//! Style and scripts, served as files under names that change with their content.

use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse as _, Response};
use sha2::{Digest, Sha256};
use std::sync::OnceLock;

/// One file.
struct Asset {
    name: &'static str,
    kind: &'static str,
    text: String,
}

const SCRIPT: &str = "text/javascript; charset=utf-8";
const STYLE: &str = "text/css; charset=utf-8";

fn all() -> &'static [Asset] {
    static ALL: OnceLock<Vec<Asset>> = OnceLock::new();
    ALL.get_or_init(|| {
        let file = |name, kind, text: String| Asset { name, kind, text };
        vec![
            file("sheet.css", STYLE, sheets::page::style()),
            file("bench.css", STYLE, inked(include_str!("../assets/bench.css"))),
            file("sheet.js", SCRIPT, sheets::page::SCRIPT.to_owned()),
            file("live.js", SCRIPT, include_str!("../assets/live.js").to_owned()),
            file("book.js", SCRIPT, include_str!("../assets/book.js").to_owned()),
            file("queue.js", SCRIPT, include_str!("../assets/queue.js").to_owned()),
            file("log.js", SCRIPT, include_str!("../assets/log.js").to_owned()),
            file("test-day.js", SCRIPT, include_str!("../assets/test-day.js").to_owned()),
            file("talk.js", SCRIPT, include_str!("../assets/talk.js").to_owned()),
        ]
    })
}

/// Puts the sheets' own colours into a style.
fn inked(css: &str) -> String {
    use sheets::svg::{ACCENT, FAINT, INK, PAPER, RULE, SOFT};
    [("ACCENT", ACCENT), ("PAPER", PAPER), ("FAINT", FAINT), ("SOFT", SOFT), ("RULE", RULE), ("INK", INK)]
        .iter()
        .fold(css.to_owned(), |css, (name, value)| css.replace(name, value))
}

/// Names this version of all files together.
pub fn version() -> &'static str {
    static VERSION: OnceLock<String> = OnceLock::new();
    VERSION.get_or_init(|| {
        let mut hash = Sha256::new();
        for asset in all() {
            hash.update(asset.text.as_bytes());
        }
        hash.update(include_bytes!("../assets/sw.js"));
        hash.finalize().iter().take(6).map(|byte| format!("{byte:02x}")).collect()
    })
}

/// Returns the address of a file.
pub fn address(name: &str) -> String {
    format!("assets/{name}?v={}", version())
}

/// Answers with a file.
pub async fn serve(Path(name): Path<String>) -> Response {
    match all().iter().find(|asset| asset.name == name) {
        Some(asset) => {
            let headers =
                [(header::CONTENT_TYPE, asset.kind), (header::CACHE_CONTROL, "max-age=31536000, immutable")];
            (headers, asset.text.as_str()).into_response()
        }
        None => (StatusCode::NOT_FOUND, "no such file").into_response(),
    }
}

/// The service worker; at the root, so that it may answer for the pages there.
pub async fn worker() -> Response {
    let list = |all: Vec<String>| all.iter().map(|one| format!("'{one}'")).collect::<Vec<_>>().join(",");
    let kinds = crate::log::kinds::KINDS.iter().map(|k| (*k).to_owned()).collect();
    let files = all().iter().map(|asset| address(asset.name)).collect();
    let text = include_str!("../assets/sw.js")
        .replace("VERSION", version())
        .replace("/*KINDS*/", &list(kinds))
        .replace("/*FILES*/", &list(files));
    ([(header::CONTENT_TYPE, SCRIPT), (header::CACHE_CONTROL, "no-cache")], text).into_response()
}

/// What a phone needs to put the site log on its first screen.
pub async fn manifest() -> Response {
    use sheets::svg::PAPER;
    let text = format!(
        "{{\"name\":\"Windtight site log\",\"short_name\":\"Site log\",\"start_url\":\"/log\",\"scope\":\"/\",\
         \"display\":\"standalone\",\"background_color\":\"{PAPER}\",\"theme_color\":\"{PAPER}\"}}"
    );
    ([(header::CONTENT_TYPE, "application/manifest+json")], text).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scripts_and_styles_name_nothing_outside() {
        for asset in all().iter().filter(|a| a.name != "sheet.css") {
            for outside in ["http://", "https://", "@import", "url(//", "eval(", "innerHTML"] {
                assert!(!asset.text.contains(outside), "{} holds {outside}", asset.name);
            }
        }
        assert_eq!(version().len(), 12);
    }

    #[test]
    fn every_colour_name_is_replaced() {
        let css = inked(include_str!("../assets/bench.css"));
        for name in ["ACCENT", "PAPER", "FAINT", "SOFT", "RULE", "INK"] {
            assert!(!css.contains(name), "{name}");
        }
    }
}
