//! The second sheet: every assembly in section, its figure and its working, and the enclosure from above.

use maud::{Markup, html};
use quantity::Dimension;

use crate::draw::axonometric::{Axonometric, axonometric};
use crate::draw::chart::Format;
use crate::draw::hatch::legend;
use crate::draw::section::{Level, Section, hatches, section};
use crate::page::{figure, figure_to_pan, fractions, table, working};
use crate::reader::{Reader, plain};
use crate::sheet::joint_details::{self, JointDetail};
use crate::sheet::where_we_stand::capital;

/// One line of a working, as the laws give it.
#[derive(Clone, Debug, PartialEq)]
pub struct WorkingLine {
    /// Symbol.
    pub symbol: String,
    /// Words.
    pub words: String,
    /// Value in `unit`.
    pub value: f64,
    /// Unit.
    pub unit: String,
    /// Clause it follows.
    pub clause: String,
}

/// An assembly on the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct AssemblySheet {
    /// Its section; its id is the anchor other drawings link to.
    pub section: Section,
    /// Transmittance, W/(m²·K); `None` when it was not computed.
    pub u_w_m2k: Option<f64>,
    /// How the transmittance follows.
    pub working: Vec<WorkingLine>,
    /// Area of all elements made of it, m².
    pub area_m2: f64,
    /// Of these, area that parts our rooms from outdoors, ground or neighbours, m².
    pub enclosure_m2: f64,
    /// Where it is used: "to outdoors", "to the pottery".
    pub where_used: String,
    /// What it cannot show: a fire or sound rating that stays open.
    pub cautions: Vec<String>,
    /// Whether it stays dry; nothing for what parts rooms of ours.
    pub moisture: Option<super::moisture::Part>,
}

/// A face of the axonometric in its list.
#[derive(Clone, Debug, PartialEq)]
pub struct FaceLine {
    /// Number in the drawing.
    pub number: usize,
    /// What it is.
    pub words: String,
    /// Anchor of its assembly.
    pub href: String,
}

/// Draws the content of the sheet.
pub fn content(
    assemblies: &[AssemblySheet],
    joints: &[JointDetail],
    above: Option<(&Axonometric, &[FaceLine])>,
    reader: Reader,
) -> Markup {
    let sections: Vec<Section> = assemblies.iter().map(|a| a.section.clone()).collect();
    let mut used = hatches(&sections);
    let drawn: Vec<_> = joints.iter().filter_map(|j| j.drawing.clone()).collect();
    used.extend(crate::draw::detail::hatches(&drawn));
    used.sort_unstable();
    used.dedup();
    html! {
        h1 { "What the building is made of" }
        p.lead { (lead(assemblies, reader)) }
        @for sheet in assemblies { (assembly(sheet, reader)) }
        (joint_details::content(joints, reader))
        @if !used.is_empty() {
            h2 { "Hatches" }
            (figure("", |format: Format| legend(&format!("legend-{}", format.suffix()), &used, format.width())))
        }
        @if let Some((drawing, faces)) = above {
            h2 id="from-above" { "The enclosure from above" }
            p { "Storey lifted off storey, seen from two opposite corners. Dotted faces are party surfaces; thin \
                lines are the neighbour's. A face leads to its section." }
            @let other = drawing.turned("from-behind", "The enclosure from above, from the opposite corner");
            div.pair {
                (figure_to_pan("axonometric", "", |format| axonometric(drawing, format)))
                (figure_to_pan("behind", "", |format| axonometric(&other, format)))
            }
            ol.faces.tall {
                @for face in faces {
                    li { span.mark { (face.number) } a href=(face.href) { (face.words) } }
                }
            }
        }
    }
}

/// The sentence under the headline: which assembly lets most heat through, by U times area.
fn lead(assemblies: &[AssemblySheet], reader: Reader) -> String {
    let flow = |a: &AssemblySheet| a.u_w_m2k.map_or(0.0, |u| u * a.enclosure_m2);
    let total: f64 = assemblies.iter().map(flow).sum();
    let Some(most) = assemblies.iter().max_by(|a, b| flow(a).total_cmp(&flow(b))) else {
        return "The book names no assembly yet.".to_owned();
    };
    let count = assemblies.len();
    match most.u_w_m2k {
        Some(u) if total > 0.0 => format!(
            "{count} {}; for each degree of difference the {} carries most heat of the opaque enclosure, {} of it, at {}.",
            if count == 1 { "assembly" } else { "assemblies" },
            most.section.title,
            plain((flow(most) / total * 100.0).round(), "%"),
            in_words(u, reader),
        ),
        _ => format!("{count} assemblies, drawn from their layers. Their transmittance was not computed."),
    }
}

/// U and R in the reader's order.
fn in_words(u_w_m2k: f64, reader: Reader) -> String {
    let r = reader.show(1.0 / u_w_m2k, Dimension::Resistance);
    let u = reader.show(u_w_m2k, Dimension::Transmittance);
    match reader.system {
        quantity::System::Us => format!("{r} ({u})"),
        quantity::System::Si => format!("U {u}"),
    }
}

fn assembly(sheet: &AssemblySheet, reader: Reader) -> Markup {
    let drawn = &sheet.section;
    html! {
        section.assembly id=(drawn.id) aria-label=(drawn.title) {
            header {
                h2.flush { (capital(&drawn.title)) }
                p.kicker { (reader.show(sheet.area_m2, Dimension::Area)) @if !sheet.where_used.is_empty() { ", " (sheet.where_used) } }
            }
            div {
                (figure("", |format| section(drawn, format)))
                (layer_list(drawn))
            }
            div.beside {
                @if let Some(u) = sheet.u_w_m2k {
                    @match reader.system {
                        quantity::System::Us => {
                            p.big { (reader.show(1.0 / u, Dimension::Resistance)) " "
                                small { "U " (reader.show(u, Dimension::Transmittance)) " (" (plain(u, "W/(m²·K)")) ")" } }
                        }
                        quantity::System::Si => {
                            p.big { "U " (reader.show(u, Dimension::Transmittance)) " "
                                small { "R " (reader.show(1.0 / u, Dimension::Resistance)) } }
                        }
                    }
                }
                @for caution in &sheet.cautions { p.soft { (caution) } }
                @if !sheet.working.is_empty() { (working("working", &steps(&sheet.working))) }
                (levels(drawn))
            }
            @if let Some(part) = &sheet.moisture { (super::moisture::content(drawn, part)) }
        }
    }
}

/// Layers with the numbers of the phone's drawing.
fn layer_list(drawn: &Section) -> Markup {
    html! {
        ol.layers {
            @for layer in &drawn.layers {
                li {
                    span { (layer.name) }
                    span.num { (fractions(&layer.thickness)) }
                    @if layer.air_barrier { span.more.act { "the air barrier" } }
                    @if let Some(bridge) = &layer.bridge { span.more { (bridge.words) } }
                    @if layer.existing { span.more { "existing" } }
                }
            }
        }
    }
}

/// The steps of a working as a table.
pub fn steps(lines: &[WorkingLine]) -> Markup {
    html! {
        div.wide { table {
            thead { tr { th scope="col" { "symbol" } th scope="col" { "what" } th.n scope="col" { "value" } th scope="col" { "after" } } }
            tbody {
                @for line in lines {
                    tr {
                        th scope="row" { (line.symbol) }
                        td { (line.words) }
                        td.n { (plain(line.value, &line.unit)) }
                        td { (line.clause) }
                    }
                }
            }
        } }
    }
}

/// Figures at the interfaces as a table, for a phone and for one who does not see the drawing.
fn levels(drawn: &Section) -> Markup {
    let rows: Vec<Vec<String>> = drawn
        .levels
        .iter()
        .enumerate()
        .filter_map(|(place, level)| level.as_ref().map(|level| level_row(drawn, place, level)))
        .collect();
    html! {
        @if !rows.is_empty() {
            (working("figures at the interfaces", &table("", &["interface", "coldest", "usual", "wettest"], &rows)))
        }
    }
}

fn level_row(drawn: &Section, place: usize, level: &Level) -> Vec<String> {
    let name = |k: usize| drawn.layers.get(k).map_or("", |l| l.name.as_str());
    let between = match place {
        0 => format!("{} / {}", drawn.outside, name(0)),
        k if k == drawn.layers.len() => format!("{} / inside", name(k - 1)),
        k => format!("{} / {}", name(k - 1), name(k)),
    };
    vec![between, level.coldest.clone(), level.usual.clone(), level.wettest.clone()]
}
