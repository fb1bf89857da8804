//! For visitors and crew: large type, one drawing and one sentence at a time.

use super::{Desk, Page};
use crate::bench::{Bench, Good, reader};
use crate::guard::Visitor;
use axum::Extension;
use axum::extract::{Query, State};
use axum::response::{IntoResponse as _, Redirect, Response};
use maud::{Markup, PreEscaped, html};
use project::standing::{Finding, Outcome};
use serde::Deserialize;
use sheets::draw::chart::Format;
use sheets::draw::long_section::long_section;
use sheets::draw::tally::{Chances, tally};
use sheets::sheet::where_we_stand::{capital, gap_findings};
use std::sync::Arc;

/// Which one.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Asked {
    at: usize,
}

/// One thing to say.
struct Slide {
    words: String,
    more: String,
    drawing: Option<String>,
}

/// Shows one of them.
pub async fn page(
    State(bench): State<Arc<Bench>>,
    Extension(visitor): Extension<Visitor>,
    Query(asked): Query<Asked>,
) -> Response {
    let view = bench.view();
    let Some(good) = view.good.clone() else { return Redirect::to("/index.html").into_response() };
    let slides = slides(&good, bench.fan().as_deref());
    let at = asked.at.min(slides.len().saturating_sub(1));
    let content = html! {
        @if let Some(slide) = slides.get(at) { (shown(slide)) }
        nav.turn aria-label="One after the other" {
            @if at > 0 { a.button.second rel="prev" href={ "talk?at=" (at - 1) } { "Before" } }
            span.soft { (at + 1) " of " (slides.len()) }
            @if at + 1 < slides.len() { a.button rel="next" href={ "talk?at=" (at + 1) } { "Next" } }
        }
    };
    let page = Page { file: "talk", name: "", scripts: &["talk.js"], live: true, content };
    Desk { view: &view, visitor: &visitor }.page(&page)
}

fn shown(slide: &Slide) -> Markup {
    html! {
        section.talk {
            h1 { (slide.words) }
            @if !slide.more.is_empty() { p.more { (slide.more) } }
            @if let Some(drawing) = &slide.drawing { div.picture { (PreEscaped(drawing)) } }
        }
    }
}

fn slides(good: &Good, fan: Option<&str>) -> Vec<Slide> {
    let standing = &good.standing;
    let plain =
        |words: &str, more: &str| Slide { words: words.to_owned(), more: more.to_owned(), drawing: None };
    let mut all = vec![plain(&standing.headline.decision, &standing.headline.because)];
    if let Some(fan) = fan {
        all.push(plain(fan, "The fan, as it was last read."));
    }
    let numbered: Vec<&Finding> = gap_findings(standing).collect();
    let number = |gap: &str| numbered.iter().position(|f| f.id.ends_with(gap)).map(|place| place + 1);
    if let Some(section) = sheets::adapt::long_section(&good.project.building, reader(standing), number) {
        let words = match numbered.len() {
            0 => "The line that keeps the air in is closed all round.".to_owned(),
            1 => "The line that keeps the air in is open at one place.".to_owned(),
            n => format!("The control layers are open at {n} kinds of place."),
        };
        let drawing = long_section(&section, Format::Desk).drawing.inline();
        all.push(Slide { words, more: String::new(), drawing: Some(drawing) });
    }
    for finding in standing.limits().filter(|f| f.value.is_some()).take(8) {
        let said = finding.odds.and_then(|o| Some((o.words(), Chances::said(o.in_hundred()?))));
        let id = format!("talk-{}", sheets::svg::slug(&finding.id));
        let verdict = match (&said, finding.status) {
            (Some((words, _)), _) => format!("{words} on paper"),
            (None, Outcome::Met) => "kept".to_owned(),
            (None, Outcome::NotMet) => "not kept yet".to_owned(),
            (None, Outcome::NotKnown) => "not known yet".to_owned(),
        };
        all.push(Slide {
            words: finding.sentence.clone(),
            more: format!("{}: {verdict}.", capital(&finding.subject)),
            drawing: said.map(|(_, chances)| tally(&id, chances).inline()),
        });
    }
    for step in standing.next.iter().take(3) {
        all.push(plain(&step.what, &step.why));
    }
    all
}
