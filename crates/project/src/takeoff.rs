//! Quantities by trade, each traced to the elements it was measured on.
//!
//! Layers are measured halfway between their element's inside and outside faces, in proportion to their depth; openings
//! are taken out. Joints are measured along their junctions, penetrations and windows are counted. What was there before
//! the works is left out. Waste is common practice, no source: a share by what the thing is, shown beside the net figure.

use building::model::{Beyond, Building, Element, LayerKind};
use matter::Family;
use serde::Serialize;
use std::collections::BTreeMap;

/// Name and version of the JSON form.
pub const SCHEMA: &str = "windtight/takeoff/1";

/// One line of the take-off.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Quantity {
    /// Who does it: stated in the book, or by what the material is.
    pub trade: String,
    /// The trade follows from the material, as the book names none.
    pub trade_by_material: bool,
    /// What.
    pub item: String,
    /// Unit of the figures: `m²`, `m³`, `m`, `pieces`.
    pub unit: &'static str,
    /// Measured.
    pub net: f64,
    /// Share added for waste.
    pub waste: f64,
    /// To order: net with waste; pieces are whole.
    pub with_waste: f64,
    /// Element, junction or opening, and its part of the net figure.
    pub from: Vec<(String, f64)>,
}

/// What of it is not in the book and so not measured.
pub const NOT_MEASURED: &str = "Not measured: fixings, scaffolds, finishes and services the book does not describe, and what was there before.";

/// Returns the quantities of a building, by trade and item.
pub fn takeoff(building: &Building) -> Vec<Quantity> {
    let mut all = Lines::default();
    layers(building, &mut all);
    openings(building, &mut all);
    joints(building, &mut all);
    for p in &building.penetrations {
        // Beam ends and the like were there before; sealing them is a joint's business.
        let trade = p.plan.trade.clone();
        let item = if p.plan.embedded_timber { "ends to seal: " } else { "penetration: " };
        let through = &building.assemblies[p.through.0].name;
        let from = format!("penetration.{}, through {through}", p.plan.name);
        all.add(
            trade,
            "nobody named",
            &format!("{item}{}", p.plan.name),
            "pieces",
            0.0,
            from,
            f64::from(p.plan.count),
        );
    }
    all.finish()
}

/// Trade, whether it follows from the material, item, unit: in this order lines are listed.
type Key = (String, bool, String, &'static str);

/// Waste, and what each element gives.
type Parts = (f64, Vec<(String, f64)>);

#[derive(Default)]
struct Lines {
    all: BTreeMap<Key, Parts>,
}

impl Lines {
    fn add(
        &mut self,
        trade: Option<String>,
        by: &str,
        item: &str,
        unit: &'static str,
        waste: f64,
        from: String,
        n: f64,
    ) {
        if n <= 0.0 {
            return;
        }
        let by_material = trade.is_none();
        let trade = trade.unwrap_or_else(|| by.to_owned());
        let line = self.all.entry((trade, by_material, item.to_owned(), unit)).or_insert((waste, Vec::new()));
        match line.1.iter_mut().find(|(name, _)| *name == from) {
            Some((_, there)) => *there += n,
            None => line.1.push((from, n)),
        }
    }

    fn finish(self) -> Vec<Quantity> {
        let line = |((trade, trade_by_material, item, unit), (waste, from)): (Key, Parts)| {
            let net = from.iter().map(|(_, n)| n).sum::<f64>();
            let with_waste =
                if unit == "pieces" { (net * (1.0 + waste)).ceil() } else { net * (1.0 + waste) };
            Quantity { trade, trade_by_material, item, unit, net, waste, with_waste, from }
        };
        self.all.into_iter().map(line).collect()
    }
}

/// Waste by family, common practice, no source: cut sheets and laid blocks a tenth, what is blown or poured less, as
/// little is cut.
fn waste(family: Option<Family>) -> f64 {
    match family {
        Some(Family::LooseFill | Family::Concrete) => 0.05,
        Some(Family::FibreInsulation | Family::Foam | Family::Plaster) => 0.07,
        _ => 0.10,
    }
}

fn trade(family: Option<Family>) -> &'static str {
    match family {
        Some(Family::Masonry | Family::Stone | Family::Concrete) => "masonry",
        Some(Family::Timber | Family::Board) => "carpentry",
        Some(Family::Plaster) => "plastering",
        Some(Family::FibreInsulation | Family::Foam | Family::LooseFill) => "insulation",
        Some(Family::Membrane | Family::Plastic) => "sealing",
        Some(Family::Metal) => "sheet metal",
        Some(Family::Glass) => "glazing",
        Some(Family::Tile | Family::FloorFinish) => "finishes",
        _ => "nobody named",
    }
}

fn layers(building: &Building, all: &mut Lines) {
    for element in &building.elements {
        let assembly = &building.assemblies[element.assembly.0];
        let part = share(building, element);
        let mut depth = 0.0;
        for layer in &assembly.layers {
            let thickness = building.values.nominal_of(layer.thickness);
            let middle = depth + 0.5 * thickness;
            depth += thickness;
            if layer.existing {
                continue;
            }
            let outward = if assembly.thickness_m > 0.0 { 1.0 - middle / assembly.thickness_m } else { 0.5 };
            let area = part * (element.net_m2 + outward * (element.net_outside_m2 - element.net_m2));
            let from = format!("{} ({}.{})", element.name, assembly.name, layer.name);
            let share = layer.bridge.as_ref().map_or(0.0, |b| building.values.nominal_of(b.share));
            if let LayerKind::Solid(id) = layer.kind {
                let material = &building.materials[id.0];
                let item = format!("{}, {:.0} mm", material.name.replace('-', " "), 1e3 * thickness);
                let net = area * (1.0 - share);
                let (trade, waste) = (trade(material.family), waste(material.family));
                all.add(None, trade, &item, "m²", waste, from.clone(), net);
                if matches!(material.family, Some(Family::FibreInsulation | Family::LooseFill | Family::Foam))
                {
                    all.add(None, trade, &item, "m³", waste, from.clone(), net * thickness);
                }
            }
            if let Some(bridge) = &layer.bridge {
                let material = &building.materials[bridge.material.0];
                let item =
                    format!("{} in layers of {:.0} mm", material.name.replace('-', " "), 1e3 * thickness);
                let (trade, waste) = (trade(material.family), waste(material.family));
                all.add(None, trade, &item, "m³", waste, from, area * share * thickness);
            }
        }
    }
}

/// An element between two rooms is listed from both: each side has half of it.
fn share(building: &Building, element: &Element) -> f64 {
    let Beyond::Space(other) = element.beyond else { return 1.0 };
    let twin = building.elements.iter().any(|e| {
        e.assembly == element.assembly && e.space == other && e.beyond == Beyond::Space(element.space)
    });
    if twin { 0.5 } else { 1.0 }
}

fn openings(building: &Building, all: &mut Lines) {
    for opening in &building.openings {
        let unit = building.units[opening.unit.0].name.replace('-', " ");
        let item = format!("{unit}, {:.0} × {:.0} mm", 1e3 * opening.width_m, 1e3 * opening.height_m);
        all.add(None, "windows", &item, "pieces", 0.0, format!("opening.{}", opening.name), 1.0);
    }
}

/// Lengths of what carries the control layers across, by product where the book names one.
fn joints(building: &Building, all: &mut Lines) {
    for junction in &building.junctions {
        let Some(joint) = junction.joint.and_then(|at| building.joints.get(at)) else { continue };
        for carrier in &joint.carries {
            let Some(what) =
                carrier.product.as_ref().or_else(|| Some(&carrier.how).filter(|h| !h.trim().is_empty()))
            else {
                continue;
            };
            let item =
                format!("{} for {}, joint {}", what.replace('-', " "), carrier.control.word(), joint.pair());
            let trade = carrier.trade.clone().or_else(|| joint.trade.clone());
            all.add(trade, "nobody named", &item, "m", 0.10, junction.name.clone(), junction.length_m);
        }
    }
}

/// Writes the quantities as CSV, one line an item, its elements in the last column.
///
/// # Errors
/// What the writer said; writing into memory gives none in practice.
pub fn csv(quantities: &[Quantity]) -> Result<String, String> {
    let mut out = csv::Writer::from_writer(Vec::new());
    let fail = |e: csv::Error| e.to_string();
    out.write_record(["trade", "item", "unit", "net", "waste", "to order", "measured on"]).map_err(fail)?;
    for q in quantities {
        let from: Vec<String> =
            q.from.iter().map(|(name, n)| format!("{name}: {}", figure(*n, q.unit))).collect();
        let waste = format!("{:.0} %", 100.0 * q.waste);
        let row = [
            &q.trade,
            &q.item,
            q.unit,
            &figure(q.net, q.unit),
            &waste,
            &figure(q.with_waste, q.unit),
            &from.join("; "),
        ];
        out.write_record(row).map_err(fail)?;
    }
    let bytes = out.into_inner().map_err(|e| e.to_string())?;
    String::from_utf8(bytes).map_err(|e| e.to_string())
}

/// Returns a figure with as many places as its unit is worth on site.
pub fn figure(n: f64, unit: &str) -> String {
    match unit {
        "pieces" => format!("{n:.0}"),
        "m³" => format!("{n:.2}"),
        _ => format!("{n:.1}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of_demo() -> (crate::Project, Vec<Quantity>) {
        let path = std::path::Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/demo/alder-ford"));
        let (project, _) = crate::open(path).expect("the demonstration");
        let all = takeoff(&project.building);
        (project, all)
    }

    #[test]
    fn every_figure_is_the_sum_of_its_elements() {
        let (_, all) = of_demo();
        assert!(all.len() > 15, "{}", all.len());
        for q in &all {
            let sum: f64 = q.from.iter().map(|(_, n)| n).sum();
            assert!((sum - q.net).abs() <= 1e-9 * q.net, "{}", q.item);
            assert!(q.with_waste >= q.net && !q.from.is_empty());
        }
    }

    #[test]
    fn windows_and_new_layers_are_all_there_once() {
        let (project, all) = of_demo();
        let building = &project.building;
        let windows: f64 = all.iter().filter(|q| q.trade == "windows").map(|q| q.net).sum();
        assert!((windows - building.openings.len() as f64).abs() < 1e-9);
        // The inner plywood of the upper wall, by hand: between inside and outside faces of its walls.
        let named = |e: &&Element| building.assemblies[e.assembly.0].name == "upper-wall";
        let walls: Vec<&Element> = building.elements.iter().filter(named).collect();
        let (inside, outside): (f64, f64) =
            (walls.iter().map(|e| e.net_m2).sum(), walls.iter().map(|e| e.net_outside_m2).sum());
        let of_wall =
            |q: &&Quantity| q.unit == "m²" && q.from.iter().any(|(name, _)| name.contains("(upper-wall."));
        assert!(all.iter().filter(of_wall).count() > 0);
        for q in all.iter().filter(of_wall) {
            let mut by_layer: BTreeMap<&str, f64> = BTreeMap::new();
            for (name, n) in q.from.iter().filter(|(name, _)| name.contains("(upper-wall.")) {
                *by_layer.entry(name.split('(').nth(1).unwrap_or("")).or_default() += n;
            }
            for (layer, area) in by_layer {
                // A bridged layer is less by its timber, never more than the outside face.
                assert!(
                    area > 0.7 * inside.min(outside) && area <= outside.max(inside) + 1e-6,
                    "{layer}: {area} of {inside}..{outside}"
                );
            }
        }
    }

    #[test]
    fn csv_has_a_line_an_item() {
        let (_, all) = of_demo();
        assert_eq!(csv(&all).expect("text").lines().count(), all.len() + 1);
    }
}
