//! Joints worked out, on the Fabric sheet: coldest spot first, length, worth, then the figures behind them.

use maud::{Markup, html};
use quantity::Dimension;

use crate::draw::detail::{DetailDrawing, detail};
use crate::page::{figure, table, working};
use crate::reader::{Reader, plain};
use crate::sheet::where_we_stand::capital;

/// One detail on the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct JointDetail {
    /// Anchor.
    pub id: String,
    /// Title.
    pub title: String,
    /// Picture.
    pub drawing: Option<DetailDrawing>,
    /// Why it was not worked out.
    pub left: Option<String>,
    /// Points, not a line.
    pub point: bool,
    /// Length, m, or number.
    pub extent: f64,
    /// Ψ or χ worked out, W/(m·K) or W/K.
    pub worked: Option<f64>,
    /// What the year counts.
    pub counted: Option<f64>,
    /// The book's own value stands.
    pub stated: bool,
    /// f_Rsi.
    pub factor: Option<f64>,
    /// Temperature of the coldest spot in the reader's units.
    pub coldest: Option<String>,
    /// Temperatures inside and outside that it is told at.
    pub told: [String; 2],
    /// Worth a heating season, kWh, about.
    pub worth_kwh: Option<f64>,
    /// Estimated error of Ψ or χ.
    pub error: f64,
    /// Cells.
    pub cells: usize,
    /// Whether the grid was fine enough by the criteria.
    pub settled: bool,
    /// What stands in for what is not drawn.
    pub notes: Vec<String>,
}

/// Pictures shown; the rest is in the table.
const SHOWN: usize = 16;

/// Draws the part of the sheet.
pub fn content(all: &[JointDetail], reader: Reader) -> Markup {
    if all.is_empty() {
        return html! {};
    }
    let drawn: Vec<&JointDetail> = all.iter().filter(|d| d.drawing.is_some()).take(SHOWN).collect();
    html! {
        h2 id="joints-worked-out" { "Joints, worked out" }
        p { (lead(all)) }
        (table("", &["joint", "coldest inside spot", "length", "extra loss", "worth a year, about"],
            &all.iter().map(|d| row(d, reader)).collect::<Vec<_>>()))
        p.soft { "Coldest spots with the surface films of ISO 13788; extra losses by inside dimensions, with those of ISO 6946. \
            The worth is the loss times the heating season's degree hours. A surface above the limit does not promise \
            freedom from mould: furniture, leaks and damp rooms were not looked at. What the book does not draw follows the \
            rules named at each picture." }
        div.joints {
            @for joint in drawn { (one(joint, reader)) }
        }
    }
}

fn lead(all: &[JointDetail]) -> String {
    let coldest = all
        .iter()
        .filter(|d| d.factor.is_some())
        .min_by(|a, b| a.factor.unwrap_or(1.0).total_cmp(&b.factor.unwrap_or(1.0)));
    let most = all.first().filter(|d| d.worth_kwh.is_some());
    match (coldest, most) {
        (Some(cold), Some(most)) => format!(
            "The coldest inside spot is at the {}: {} when it is {} inside and {} outside (f_Rsi {:.2}). Most heat goes by the {}.",
            cold.title,
            cold.coldest.as_deref().unwrap_or("not known"),
            cold.told[0],
            cold.told[1],
            cold.factor.unwrap_or(f64::NAN),
            most.title
        ),
        _ => "No joint could be worked out.".to_owned(),
    }
}

fn extent(d: &JointDetail, reader: Reader) -> String {
    if d.point { format!("{:.0} pieces", d.extent) } else { reader.show(d.extent, Dimension::Length) }
}

fn each(value: f64, d: &JointDetail, reader: Reader) -> String {
    let dimension = if d.point { Dimension::PointTransmittance } else { Dimension::LinearTransmittance };
    reader.show(value, dimension)
}

fn row(d: &JointDetail, reader: Reader) -> Vec<String> {
    let cold = match (&d.coldest, d.factor) {
        (Some(t), Some(f)) => format!("{t} (f_Rsi {f:.2})"),
        _ => "not worked out".to_owned(),
    };
    let loss = d.counted.map_or_else(
        || "not known".to_owned(),
        |c| format!("{}{}", each(c, d, reader), if d.stated { ", as the book states" } else { "" }),
    );
    let worth = d.worth_kwh.map_or_else(String::new, |k| plain(k.round(), "kWh"));
    vec![d.title.clone(), cold, extent(d, reader), loss, worth]
}

fn one(d: &JointDetail, reader: Reader) -> Markup {
    let Some(drawing) = &d.drawing else { return html! {} };
    let symbol = if d.point { "χ" } else { "Ψ" };
    html! {
        section.assembly id=(d.id) aria-label=(d.title) {
            header {
                h3.flush { (capital(&d.title)) }
                p.kicker { (extent(d, reader)) @if let Some(k) = d.worth_kwh { ", about " (plain(k.round(), "kWh")) " a year" } }
            }
            div { (figure("", |format| detail(drawing, format))) }
            div.beside {
                @if let Some(worked) = d.worked {
                    p { "Extra loss " (symbol) " " (each(worked, d, reader)) " worked out"
                        @if let (true, Some(counted)) = (d.stated, d.counted) { "; the year counts " (each(counted, d, reader)) ", as the book states" }
                        @else if let Some(counted) = d.counted.filter(|c| (c - worked).abs() > 1e-9) { "; the year counts " (each(counted, d, reader)) ", beyond what runs on under it" }
                        "." }
                }
                @if let (Some(t), Some(f)) = (&d.coldest, d.factor) {
                    p { "Coldest inside spot " (t) " at " (d.told[0]) " inside and " (d.told[1]) " outside (f_Rsi " (format!("{f:.2}")) ")." }
                }
                @for note in &d.notes { p.soft { (capital(note)) "." } }
                (working("how it was worked out", &html! {
                    p { (d.cells) " cells; estimated error " (format!("{:.4}", d.error)) @if d.point { " W/K" } @else { " W/(m·K)" }
                        @if !d.settled { "; the last halving still changed more than asked" } "." }
                }))
            }
        }
    }
}
