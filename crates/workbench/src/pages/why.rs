//! How a number came about.

use super::{Desk, Page, aside};
use crate::bench::{Bench, Good};
use crate::guard::Visitor;
use axum::Extension;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::Response;
use maud::{Markup, html};
use project::working::{Working, explain, names};
use serde::Deserialize;
use sheets::sheet::where_we_stand::capital;
use std::sync::Arc;

/// What is asked.
#[derive(Debug, Deserialize)]
pub struct Asked {
    #[serde(default)]
    of: String,
}

/// Shows the working of a number, and every other that can be asked for.
pub async fn page(
    State(bench): State<Arc<Bench>>,
    Extension(visitor): Extension<Visitor>,
    Query(asked): Query<Asked>,
) -> Response {
    let view = bench.view();
    let desk = Desk { view: &view, visitor: &visitor };
    let Some(good) = view.good.clone() else {
        let content =
            html! { h1 { "Nothing was worked out yet" } p.lead { "Workings come with the first results." } };
        return desk.page(&Page { file: "", name: "Why", scripts: &[], live: true, content });
    };
    let worked = aside(move || {
        let found = (!asked.of.trim().is_empty())
            .then(|| explain(&good.project, &good.years, &good.standing, &asked.of));
        let (found, missing) = match found {
            Some(Ok(working)) => (Some(working), None),
            Some(Err(hint)) => (None, Some(hint)),
            None => (None, None),
        };
        let status = if missing.is_some() { StatusCode::NOT_FOUND } else { StatusCode::OK };
        (status, content(&good, &asked.of, found.as_ref(), missing.as_deref()))
    });
    match worked.await {
        Ok((status, content)) => {
            desk.page_with(status, &Page { file: "", name: "Why", scripts: &[], live: true, content })
        }
        Err(answer) => *answer,
    }
}

fn content(good: &Good, asked: &str, working: Option<&Working>, missing: Option<&str>) -> Markup {
    let all = names(&good.project, &good.standing);
    html! {
        @match (working, missing) {
            (Some(working), _) => (steps(working)),
            (None, Some(hint)) => {
                h1 { "Nothing here is called “" (asked) "”" }
                p.lead { (hint) }
            }
            (None, None) => {
                h1 { "How did a number come about?" }
                p.lead { "Every limit, size, U-value, result and stated value can be asked." }
            }
        }
        form.ask method="get" action="why" {
            label for="of" { "Another number" }
            input id="of" name="of" list="names" autocomplete="off" value=(asked);
            datalist id="names" { @for name in &all { option value=(name) {} } }
            button { "Show its working" }
        }
        details {
            summary { "All " (all.len()) " names" }
            ul.names { @for name in &all { li { a href={ "why?of=" (encoded(name)) } { (name) } } } }
        }
    }
}

fn steps(working: &Working) -> Markup {
    html! {
        h1 { (capital(&working.title)) }
        div.wide {
            table.steps {
                thead { tr { th scope="col" { "symbol" } th.n scope="col" { "value" } th scope="col" { "what it is" } th scope="col" { "from" } } }
                tbody {
                    @for line in &working.lines {
                        tr { th scope="row" { (line.symbol) } td.n { (line.value) } td { (line.words) } td.soft { (line.source) } }
                    }
                }
            }
        }
        @for note in &working.notes { p { (note) } }
    }
}

/// A name as part of an address.
pub fn encoded(name: &str) -> String {
    name.bytes().fold(String::new(), |mut out, byte| {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
        out
    })
}

#[cfg(test)]
mod tests {
    use super::encoded;

    #[test]
    fn names_survive_an_address() {
        assert_eq!(
            encoded("assembly.wall.layer[soft-brick].λ"),
            "assembly.wall.layer%5Bsoft-brick%5D.%CE%BB"
        );
        assert_eq!(encoded("a&b c"), "a%26b%20c");
    }
}
