//! The first book, from about a dozen facts, as one open form.

use super::{Desk, Page, aside, book, token};
use crate::access::Role;
use crate::bench::Bench;
use crate::guard::Visitor;
use crate::save;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::{Extension, Form};
use maud::{Markup, html};
use project::diagnostic::Report;
use project::starter::{self, Below, Facts, Roof, Walls};
use serde::Deserialize;
use std::sync::Arc;

/// The form as it comes back. Every field may be missing; what is missing keeps its default.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct Filled {
    token: String,
    name: String,
    footprint: String,
    storeys: String,
    height: String,
    walls: String,
    wall_thickness: String,
    roof: String,
    below: String,
    side_s: String,
    side_e: String,
    side_n: String,
    side_w: String,
    windows: String,
    window_size: String,
    panes: String,
    north: String,
    people: String,
    climate: String,
    units: String,
}

const WALLS: [(&str, &str, Walls); 5] = [
    ("brick", "solid brick", Walls::SolidBrick),
    ("cavity-brick", "two leaves of brick with an air space", Walls::CavityBrick),
    ("timber-frame", "light timber frame with boards", Walls::TimberFrame),
    ("stone", "natural stone", Walls::Stone),
    ("block", "concrete block, rendered", Walls::Block),
];
const ROOFS: [(&str, &str, Roof); 3] = [
    ("gable", "two slopes with rooms under them", Roof::Gable),
    ("flat", "flat", Roof::Flat),
    ("cold-loft", "a cold loft above the top ceiling", Roof::ColdLoft),
];
const BELOW: [(&str, &str, Below); 3] = [
    ("ground", "a slab on the ground", Below::Ground),
    ("cellar", "an unheated cellar", Below::Cellar),
    ("crawl-space", "a ventilated crawl space", Below::CrawlSpace),
];

fn pick<T: Copy>(from: &[(&str, &str, T)], word: &str) -> T {
    from.iter().find(|(w, _, _)| *w == word).map_or(from[0].2, |(_, _, value)| *value)
}

impl Filled {
    fn defaults(name: &str) -> Self {
        let facts = Facts::default();
        Self {
            name: name.to_owned(),
            storeys: facts.storeys.to_string(),
            height: facts.height,
            wall_thickness: facts.wall_thickness,
            windows: facts.windows.to_string(),
            window_size: facts.window_size,
            panes: facts.panes.to_string(),
            north: facts.north,
            people: facts.people.to_string(),
            climate: facts.climate,
            units: facts.units,
            ..Self::default()
        }
    }

    /// Reads the whole numbers; says which is none.
    fn facts(&self) -> Result<Facts, Vec<String>> {
        let mut wrong = Vec::new();
        let mut whole = |what: &str, text: &str, low: u32, high: u32| {
            text.trim().parse::<u32>().ok().filter(|n| (low..=high).contains(n)).unwrap_or_else(|| {
                wrong.push(format!("{what}: a whole number from {low} to {high}, not “{text}”"));
                low
            })
        };
        let facts = Facts {
            name: if self.name.trim().is_empty() { "Unnamed building".to_owned() } else { self.name.clone() },
            footprint: self.footprint.clone(),
            storeys: whole("storeys", &self.storeys, 1, 20),
            height: self.height.clone(),
            walls: pick(&WALLS, &self.walls),
            wall_thickness: self.wall_thickness.clone(),
            roof: pick(&ROOFS, &self.roof),
            below: pick(&BELOW, &self.below),
            attached: [("S", &self.side_s), ("E", &self.side_e), ("N", &self.side_n), ("W", &self.side_w)]
                .iter()
                .filter(|(_, on)| !on.is_empty())
                .map(|(side, _)| (*side).to_owned())
                .collect(),
            windows: whole("windows", &self.windows, 0, 20),
            window_size: self.window_size.clone(),
            panes: whole("panes", &self.panes, 1, 4),
            north: self.north.clone(),
            people: whole("people", &self.people, 1, 5000),
            climate: self.climate.clone(),
            units: if self.units == "si" { "si".to_owned() } else { "us".to_owned() },
        };
        if self.footprint.trim().is_empty() {
            wrong.push("size on plan: the one fact without a default, such as “30 ft × 24 ft”".to_owned());
        }
        if wrong.is_empty() { Ok(facts) } else { Err(wrong) }
    }
}

/// Shows the open form.
pub async fn form(State(bench): State<Arc<Bench>>, Extension(visitor): Extension<Visitor>) -> Response {
    if bench.view().folder.is_some() {
        return Redirect::to("/book").into_response();
    }
    let name = bench.root.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    show(&bench, &visitor, StatusCode::OK, &Filled::defaults(&name), &html! {})
}

fn show(bench: &Bench, visitor: &Visitor, status: StatusCode, filled: &Filled, wrong: &Markup) -> Response {
    let view = bench.view();
    let content = open_form(visitor, filled, wrong);
    let page = Page { file: "", name: "New project", scripts: &[], live: false, content };
    Desk { view: &view, visitor }.page_with(status, &page)
}

fn open_form(visitor: &Visitor, filled: &Filled, wrong: &Markup) -> Markup {
    let words = |id: &str, label: &str, value: &str, hint: &str| {
        html! {
            div.field {
                label for=(id) { (label) }
                input id=(id) name=(id) value=(value) autocomplete="off" aria-describedby=[(!hint.is_empty()).then(|| format!("{id}-hint"))];
                @if !hint.is_empty() { small id={ (id) "-hint" } { (hint) } }
            }
        }
    };
    fn choice<T>(id: &str, label: &str, from: &[(&str, &str, T)], chosen: &str) -> Markup {
        html! {
            div.field {
                label for=(id) { (label) }
                select id=(id) name=(id) {
                    @for (word, says, _) in from { option value=(word) selected[*word == chosen] { (says) } }
                }
            }
        }
    }
    let side = |id: &str, label: &str, on: &str| {
        html! { label.tick { input type="checkbox" name=(id) value="yes" checked[!on.is_empty()]; " " (label) } }
    };
    html! {
        h1 { "A first book, from what one visit tells" }
        p.lead {
            "Only the size on plan must be said. Everything else stands on a wide default that the book marks “assumed”: \
             the first answer shows how much is still unknown."
        }
        (wrong)
        form.facts-form method="post" action="new" {
            (token(visitor))
            (words("name", "Name of the job", &filled.name, ""))
            (words("footprint", "Size on plan, outside", &filled.footprint, "south side first: 30 ft × 24 ft, or 10 m × 8 m"))
            (words("storeys", "Storeys with rooms", &filled.storeys, ""))
            (words("height", "Clear height of a storey", &filled.height, ""))
            (choice("walls", "Outer walls", &WALLS, &filled.walls))
            (words("wall_thickness", "Their thickness", &filled.wall_thickness, ""))
            (choice("roof", "Roof", &ROOFS, &filled.roof))
            (choice("below", "Under the ground floor", &BELOW, &filled.below))
            fieldset.field {
                legend { "Sides shared with a heated neighbour" }
                (side("side_s", "south", &filled.side_s))
                (side("side_e", "east", &filled.side_e))
                (side("side_n", "north", &filled.side_n))
                (side("side_w", "west", &filled.side_w))
            }
            (words("windows", "Windows on each free side and storey", &filled.windows, ""))
            (words("window_size", "A usual window's frame", &filled.window_size, ""))
            (words("panes", "Panes of the present glazing", &filled.panes, ""))
            (words("north", "Turn of plan-up from true north", &filled.north, ""))
            (words("people", "People there on an ordinary day", &filled.people, ""))
            (words("climate", "Weather", &filled.climate, "a weather file in the folder, or the built-in year"))
            div.field {
                label for="units" { "Figures in" }
                select id="units" name="units" {
                    option value="us" selected[filled.units != "si"] { "US units" }
                    option value="si" selected[filled.units == "si"] { "SI" }
                }
            }
            div.send { button { "Write the book" } }
        }
    }
}

/// Writes the first book, or says what is wrong with the facts.
pub async fn make(
    State(bench): State<Arc<Bench>>,
    Extension(visitor): Extension<Visitor>,
    Form(filled): Form<Filled>,
) -> Response {
    if let Err(answer) = visitor.may(Role::Edit, Some(&filled.token)) {
        return *answer;
    }
    let refused = |wrong: Markup| show(&bench, &visitor, StatusCode::UNPROCESSABLE_ENTITY, &filled, &wrong);
    let list = |wrong: &[String]| html! { ul.wrong role="alert" { @for w in wrong { li { (w) } } } };
    let facts = match filled.facts() {
        Ok(facts) => facts,
        Err(wrong) => return refused(list(&wrong)),
    };
    let text = starter::book(&facts);
    let (sources, problems, _) = project::book::read_text(&text).problems.into_parts();
    let report = Report::new(sources, problems);
    if report.errors() > 0 {
        return refused(html! {
            p.act role="alert" { "These facts do not make a book yet. This is what it would say:" }
            (book::problems(&report))
        });
    }
    let root = bench.root.clone();
    match aside(move || save::first(&root, &text)).await {
        Ok(Ok(())) => {
            bench.poke();
            Redirect::to("/index.html").into_response()
        }
        Ok(Err(error)) => refused(list(&[error.to_string()])),
        Err(answer) => *answer,
    }
}
