//! The sheet of joints: is the air barrier one unbroken line, who closes what in which order, and a page for the crew
//! of each kind of joint.

use maud::{Markup, html};

use crate::draw::barrier::{Barrier, barrier};
use crate::draw::joint::{JointDrawing, joint};
use crate::page::{figure, figure_to_pan, fractions};
use crate::sheet::crew_words::spanish;
use crate::sheet::where_we_stand::capital;

/// Everything on the sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct JointsSheet {
    /// The barrier from above; `None` when nothing is drawn in the book.
    pub barrier: Option<Barrier>,
    /// What is open, numbered as on the first sheet.
    pub gaps: Vec<GapLine>,
    /// How many gaps of the book the site log has closed.
    pub closed_on_site: usize,
    /// Who does what.
    pub trades: Vec<TradeRows>,
    /// A page for each kind of joint.
    pub crew: Vec<CrewPage>,
}

/// A gap.
#[derive(Clone, Debug, PartialEq)]
pub struct GapLine {
    /// Number.
    pub number: usize,
    /// Anchor.
    pub id: String,
    /// What is open.
    pub sentence: String,
    /// What closes it.
    pub close: String,
    /// Which layer.
    pub layer: &'static str,
    /// Whether the air barrier's line is broken there.
    pub breaks_air: bool,
    /// Whether nobody has said, as against known to be wrong.
    pub question: bool,
    /// Whether it waits for a tested system.
    pub rated: bool,
}

/// What one trade does.
#[derive(Clone, Debug, PartialEq)]
pub struct TradeRows {
    /// Trade; empty: nobody's yet.
    pub trade: String,
    /// In the order of the stages.
    pub rows: Vec<TradeRow>,
}

/// What one trade carries across at one kind of joint.
#[derive(Clone, Debug, PartialEq)]
pub struct TradeRow {
    /// Stage.
    pub stage: String,
    /// What meets.
    pub joint: String,
    /// Kind of edge.
    pub kind: String,
    /// Layers, air first.
    pub lines: Vec<RowLine>,
    /// How much of it.
    pub length: String,
    /// Proof wanted.
    pub proof: String,
    /// Its crew page.
    pub href: String,
}

/// One layer of a row.
#[derive(Clone, Debug, PartialEq)]
pub struct RowLine {
    /// Layer.
    pub layer: &'static str,
    /// How it is carried across; `None`: nobody has said.
    pub how: Option<String>,
    /// With what.
    pub product: String,
}

/// The page of a kind of joint.
#[derive(Clone, Debug, PartialEq)]
pub struct CrewPage {
    /// Anchor.
    pub id: String,
    /// What meets.
    pub title: String,
    /// Kind of edge.
    pub kind: String,
    /// Length of all of them.
    pub length: String,
    /// Where.
    pub places: Vec<String>,
    /// Trade.
    pub trade: String,
    /// Stage.
    pub stage: String,
    /// Activity that covers it, when known.
    pub covered: String,
    /// Class of work.
    pub work: &'static str,
    /// Layers to carry across.
    pub layers: Vec<LayerLine>,
    /// What each product asks for.
    pub cards: Vec<Card>,
    /// Sill or threshold.
    pub sill: Vec<SillLine>,
    /// What to photograph, in the builder's words; empty: the usual.
    pub photograph: Vec<String>,
    /// Proof wanted.
    pub proof: Vec<String>,
    /// Whether it joins a fire- or sound-rated element.
    pub rated: bool,
    /// Tested system the book means to use.
    pub tested_system: String,
    /// Places that differ, with what differs.
    pub exceptions: Vec<(String, String)>,
    /// The drawing.
    pub drawing: Option<JointDrawing>,
    /// Layers of the drawing.
    pub legend: Vec<Legend>,
    /// What is open there.
    pub open: Vec<String>,
}

/// How a layer goes across.
#[derive(Clone, Debug, PartialEq)]
pub struct LayerLine {
    /// Layer.
    pub layer: &'static str,
    /// Its state.
    pub state: LayerState,
}

/// State of a layer at a joint.
#[derive(Clone, Debug, PartialEq)]
pub enum LayerState {
    /// Said.
    Said {
        /// How.
        how: String,
        /// With what.
        product: String,
        /// By another trade than the joint's.
        trade: String,
        /// Lap, in fixed words.
        lap: Option<&'static str>,
    },
    /// Vapour: one sheet does both.
    WithAir,
    /// Heat: counted, not closed.
    Counted,
    /// Nobody has said.
    Open,
}

/// What a product asks for; empty: not stated.
#[derive(Clone, Debug, PartialEq)]
pub struct Card {
    /// Name.
    pub name: String,
    /// What it is.
    pub about: String,
    /// Kind.
    pub kind: &'static str,
    /// Whether it holds by sticking.
    pub bonds: bool,
    /// Surface.
    pub surface: String,
    /// Primer.
    pub primer: String,
    /// Lowest temperature.
    pub lowest: String,
    /// Dryness.
    pub dryness: String,
    /// Time before covering.
    pub cure: String,
    /// What it sticks to.
    pub sticks_to: String,
    /// What it does not stick to.
    pub not_on: String,
    /// Permeance.
    pub vapour: String,
    /// Where that is written.
    pub source: String,
}

/// A sill or threshold; `None`: not stated, `Some(None)`: missing.
#[derive(Clone, Debug, PartialEq)]
pub struct SillLine {
    /// Opening that differs; empty: all others.
    pub at: String,
    /// Pan.
    pub pan: Option<Option<String>>,
    /// End dams.
    pub end_dams: Option<bool>,
    /// Slope.
    pub slope: Option<String>,
    /// Way out.
    pub out: Option<Option<String>>,
}

/// Layers of one assembly of a drawing: mark, name, thickness, whether it is the air barrier.
#[derive(Clone, Debug, PartialEq)]
pub struct Legend {
    /// Name of the assembly.
    pub title: String,
    /// Its layers.
    pub layers: Vec<(String, String, String, bool)>,
}

/// Draws the content of the sheet. `project` and `revision` are repeated on each crew page, which travels alone.
pub fn content(sheet: &JointsSheet, project: &str, revision: &str) -> Markup {
    html! {
        h1 { (headline(sheet)) }
        p.lead { (lead(sheet)) }
        div.two {
            div {
                @if let Some(line) = &sheet.barrier {
                    (figure_to_pan("barrier", "", |format| barrier(line, format)))
                    p.kicker { "The accent line is the air barrier; the finer one runs round the frames. Breaks are dashed and numbered." }
                }
            }
            div.right { (gaps(sheet)) }
        }
        h2 id="who" { "Who does what, in order" }
        @for trade in &sheet.trades { (trade_table(trade)) }
        h2 id="crew-pages" { "A page for each crew" }
        p { "One page a kind of joint, to print and take along. Fixed words stand in English and Spanish; what the book says \
             stays as it was written." }
        ol.pages {
            @for page in &sheet.crew {
                li { a href={ "#" (page.id) } { (capital(&page.title)) ", " (page.kind) } " " span.soft { (page.length) } }
            }
        }
        p.soft { "Not checked here: strength and durability of joints, fire and smoke separation, sound. Makers, licensed \
                  designers and the code official decide those." }
        @for (n, page) in sheet.crew.iter().enumerate() {
            (crew_page(page, n + 1, sheet.crew.len(), project, revision))
        }
    }
}

fn breaks(sheet: &JointsSheet) -> usize {
    sheet.gaps.iter().filter(|g| g.breaks_air).count()
}

fn headline(sheet: &JointsSheet) -> String {
    if sheet.crew.is_empty() && sheet.barrier.is_none() {
        return "No edges are drawn, so no line can be followed".to_owned();
    }
    match breaks(sheet) {
        0 => "The air barrier is one unbroken line on paper".to_owned(),
        1 => "The air barrier is broken at one place".to_owned(),
        n => format!("The air barrier is broken at {n} places"),
    }
}

fn lead(sheet: &JointsSheet) -> String {
    let rated = sheet.gaps.iter().filter(|g| g.rated).count();
    let questions = sheet.gaps.iter().filter(|g| g.question).count();
    let others = sheet.gaps.len() - rated - questions - breaks(sheet);
    let count = |n: usize, one: &str, many: &str| match n {
        0 => None,
        1 => Some(format!("one {one}")),
        n => Some(format!("{n} {many}")),
    };
    let parts: Vec<String> = [
        count(others, "other gap in rain, vapour or heat", "other gaps in rain, vapour or heat"),
        count(rated, "rated joint waits for its tested system", "rated joints wait for their tested systems"),
        count(questions, "question nobody has answered", "questions nobody has answered"),
        count(sheet.closed_on_site, "gap closed by the site log", "gaps closed by the site log"),
    ]
    .into_iter()
    .flatten()
    .collect();
    let kinds = match sheet.crew.len() {
        1 => "One kind of joint".to_owned(),
        n => format!("{n} kinds of joint"),
    };
    if parts.is_empty() {
        format!("{kinds}, nothing open.")
    } else {
        format!("{kinds}; {}.", parts.join(", "))
    }
}

/// Gaps as in the drawing; those of the air barrier first.
fn gaps(sheet: &JointsSheet) -> Markup {
    let mut order: Vec<&GapLine> = sheet.gaps.iter().collect();
    order.sort_by_key(|g| (!g.breaks_air, g.rated, g.question));
    html! {
        @if order.is_empty() {
            p { "Nothing is open: every edge has its joint, every rated element its record." }
        } @else {
            h2.flush { "What is open, and what closes it" }
            ol.gaps.wide-gaps {
                @for gap in order {
                    li id=(gap.id) {
                        span class=(if gap.breaks_air { "mark" } else { "mark quiet" }) { (gap.number) }
                        span { (gap.sentence) br; span.soft { (gap.close) } }
                    }
                }
            }
        }
    }
}

fn trade_table(trade: &TradeRows) -> Markup {
    html! {
        h3.trade { @if trade.trade.is_empty() { "Nobody yet" } @else { (capital(&trade.trade)) } }
        table.rows {
            thead { tr {
                @for head in ["when", "joint", "layers", "length", "proof"] { th scope="col" { (head) } }
            } }
            tbody {
                @for row in &trade.rows {
                    tr {
                        td data-head="when" { (row.stage) }
                        th scope="row" {
                            @if row.href.is_empty() { (row.joint) } @else { a href=(row.href) { (row.joint) } }
                            ", " (row.kind)
                        }
                        td { ul { @for line in &row.lines { (row_line(line)) } } }
                        td.num data-head="length" { (fractions(&row.length)) }
                        td data-head="proof" { (row.proof) }
                    }
                }
            }
        }
    }
}

fn row_line(line: &RowLine) -> Markup {
    html! {
        li {
            span.soft { (line.layer) }
            span {
                @match &line.how {
                    Some(how) => { (how) @if !line.product.is_empty() && line.product != *how { " · " b { (line.product) } } }
                    None => { span.act { "nobody has said" } }
                }
            }
        }
    }
}

/// A fixed word in both languages.
fn both(english: &str) -> Markup {
    html! {
        (english)
        @if let Some(other) = spanish(english) { " " span.es lang="es" { (other) } }
    }
}

/// A line of the page: fixed word, then what the book says or that it does not.
fn fact(word: &str, said: &str) -> Markup {
    html! {
        dt { (both(word)) }
        dd { @if said.is_empty() { span.soft { (both("not stated")) } } @else { (fractions(said)) } }
    }
}

fn crew_page(page: &CrewPage, number: usize, count: usize, project: &str, revision: &str) -> Markup {
    html! {
        section.crew id=(page.id) aria-label={ "Crew page: " (page.title) ", " (page.kind) } {
            header {
                p.kicker { (both("Crew page")) " " (number) " / " (count) " · " (project) @if !revision.is_empty() { " · " (revision) } }
                h2.flush { (capital(&page.title)) }
                p.es-line { (both(&page.kind)) }
            }
            div.code aria-label="place for the code" { (both("place for the code")) }
            div.drawn {
                @if let Some(drawing) = &page.drawing { (figure("", |format| joint(drawing, format))) }
                (legends(&page.legend))
            }
            div.told {
                dl.facts {
                    (fact("Where", &page.places.join(", ")))
                    (fact("Length", &page.length))
                    dt { (both("Who")) }
                    dd { (word_or_not(&page.trade)) }
                    dt { (both("When")) }
                    dd { (word_or_not(&page.stage)) @if !page.covered.is_empty() { " · " (both("joint about to be covered")) ": " (page.covered) } }
                    dt { (both("Work")) }
                    dd { (both(page.work)) }
                }
                h3 { (both("Layers to carry across")) }
                dl.facts.layers-across { @for layer in &page.layers { (layer_line(layer)) } }
                (sill(&page.sill))
                @if !page.exceptions.is_empty() {
                    h3 { (both("Exceptions")) }
                    dl.facts { @for (at, what) in &page.exceptions { dt { (at) } dd { (what) } } }
                }
            }
            @if page.rated { (rated(page)) }
            @if !page.open.is_empty() {
                div.stop {
                    h3 { (both("Open")) }
                    ul { @for line in &page.open { li { (line) } } }
                    p { (both("Nobody has said yet. Ask before you build it.")) }
                }
            }
            @if !page.cards.is_empty() { div.cards-of { h3 { (both("Before you start")) } div.products { @for card in &page.cards { (product(card)) } } } }
            div.photos {
                h3 { (both("Photograph")) }
                ol { @for line in photographs(page) { li { span.box {} (both(&line)) } } }
                @if !page.proof.is_empty() {
                    p { (both("Proof")) ": " @for (n, proof) in page.proof.iter().enumerate() { @if n > 0 { ", " } (both(proof)) } }
                }
            }
            dl.signed {
                @for word in ["Done", "Date", "Initials", "Temperature"] { div { dt { (both(word)) } dd {} } }
            }
        }
    }
}

fn word_or_not(word: &str) -> Markup {
    html! { @if word.is_empty() { span.soft { (both("not stated")) } } @else { (both(word)) } }
}

fn rated(page: &CrewPage) -> Markup {
    html! {
        div.stop {
            p { (both("Fire- or sound-rated: foam and tape do not close it. Only the tested system, on record, does.")) }
            @if !page.tested_system.is_empty() { p { b { (page.tested_system) } } }
            p.soft { (both("The tested system is chosen by a licensed designer and the code official, not by this page.")) }
        }
    }
}

fn legends(legends: &[Legend]) -> Markup {
    html! {
        div.legends {
            @for legend in legends {
                div {
                    p.kicker { (legend.title) }
                    ol.marks {
                        @for (mark, name, thickness, barrier) in &legend.layers {
                            li { b { (mark) } span class=[barrier.then_some("act")] { (name) } span.num { (fractions(thickness)) } }
                        }
                    }
                }
            }
        }
    }
}

fn layer_line(line: &LayerLine) -> Markup {
    html! {
        dt { (both(line.layer)) }
        dd {
            @match &line.state {
                LayerState::Said { how, product, trade, lap } => {
                    (how)
                    @if !product.is_empty() && product != how { " · " b { (product) } }
                    @if !trade.is_empty() { " · " (both(trade)) }
                    @if let Some(lap) = lap { br; (both("Lap")) ": " (both(lap)) }
                }
                LayerState::WithAir => { (both("with the air barrier")) }
                LayerState::Counted => { (both("the extra loss is counted")) }
                LayerState::Open => { span.act { (both("not stated")) } }
            }
        }
    }
}

fn sill(lines: &[SillLine]) -> Markup {
    let way = |way: &Option<Option<String>>| {
        html! {
            @match way {
                None => { span.soft { (both("not stated")) } }
                Some(None) => { span.act { (both("missing")) } }
                Some(Some(words)) if words.is_empty() => { (both("yes")) }
                Some(Some(words)) => { (words) }
            }
        }
    };
    html! {
        @for line in lines {
            h3 { (both("Sill")) @if !line.at.is_empty() { " " (line.at) } }
            dl.facts {
                dt { (both("Pan")) } dd { (way(&line.pan)) }
                dt { (both("End dams")) }
                dd { @match line.end_dams {
                    None => { span.soft { (both("not stated")) } }
                    Some(true) => { (both("yes")) }
                    Some(false) => { span.act { (both("missing")) } }
                } }
                (fact("Slope", line.slope.as_deref().unwrap_or_default()))
                dt { (both("Way out")) } dd { (way(&line.out)) }
            }
        }
    }
}

fn product(card: &Card) -> Markup {
    html! {
        div.product {
            p { b { (capital(&card.name)) } ", " (both(card.kind)) @if !card.about.is_empty() { " · " (card.about) } }
            dl.facts {
                @if card.bonds {
                    (fact("Surface", &card.surface))
                    (fact("Primer", &card.primer))
                    (fact("Lowest temperature", &card.lowest))
                    (fact("Dryness", &card.dryness))
                    (fact("Wait before covering", &card.cure))
                    (fact("Sticks to", &card.sticks_to))
                    @if !card.not_on.is_empty() { (fact("Does not stick to", &card.not_on)) }
                    (fact("Vapour", &card.vapour))
                }
                @if !card.source.is_empty() { dt {} dd.soft { (card.source) } }
            }
        }
    }
}

/// What to photograph: the builder's list, else what is always worth a picture.
fn photographs(page: &CrewPage) -> Vec<String> {
    if !page.photograph.is_empty() {
        return page.photograph.clone();
    }
    let mut usual = vec!["surface ready, before the joint", "joint finished, with a ruler"];
    if !page.cards.is_empty() {
        usual.push("label of the product");
    }
    usual.into_iter().map(str::to_owned).collect()
}
