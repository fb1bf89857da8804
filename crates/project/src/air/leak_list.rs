//! The leaks of the book before anything is read: joints, openings, penetrations and panels, each by its stated figure or by a
//! row of the published table and the class of work.

use super::REFERENCE_PA;
use crate::check::Project;
use ::air::components::{self, Component, Work};
use ::air::forecast::Leak;
use ::air::guarded::LeakKind;
use building::Building;
use building::control::ControlKind;
use building::model::{Beyond, Junction, JunctionKind, LayerKind, Opening};
use building::plan::{OpeningKind, WorkClass};
use building::stated::ValueKey;
use numeric::distribution::Distribution;

/// Place of a leak in the model: kind, name, plan item.
pub type Item = (&'static str, String, String);

/// A leak of the book before it is sampled.
pub(super) struct Stated {
    pub(super) leak: Leak,
    pub(super) item: Item,
    pub(super) unit: &'static str,
    pub(super) basis: String,
    pub(super) minutes: f64,
}

/// The leaks of the book: stated ones by their figure, others by a row of the table and the class of work.
pub(super) struct Book<'a> {
    building: &'a Building,
    pub(super) exponent: f64,
    pub(super) leaks: Vec<Stated>,
    pub(super) left_out: Vec<String>,
}

impl Book<'_> {
    fn add(
        &mut self,
        id: String,
        item: Item,
        kind: LeakKind,
        (quantity, unit): (f64, &'static str),
        row: Row<'_>,
    ) {
        if quantity <= 0.0 {
            return;
        }
        let (per_unit, basis) = match row {
            Row::Stated(key) => {
                // Flows are canonical in m³/s (per metre, per piece); the forecast counts m³/h.
                let value = self.building.values.get(key);
                (scaled(&value.distribution, 3600.0), "stated in the book".to_owned())
            }
            Row::Table(name, work) => {
                let Some(row) = components::find(name) else { return };
                let words = match work {
                    Work::Careful => "careful",
                    Work::Ordinary => "ordinary",
                    Work::Unknown => "unknown",
                };
                (self.of(&row, work), format!("table \"{name}\", {words} work"))
            }
        };
        if self.leaks.iter().any(|l| l.leak.id == id) {
            return;
        }
        let leak = Leak { id, kind, quantity, per_unit, group: None };
        // Half a minute a metre or piece to tape, and ten to set up and read (judgement).
        let minutes = 10.0 + 0.5 * quantity.min(120.0);
        self.leaks.push(Stated { leak, item, unit, basis, minutes });
    }

    fn of(&self, row: &Component, work: Work) -> Distribution {
        row.flow_m3_h(work, REFERENCE_PA, self.exponent)
    }
}

/// Where a leak's figure comes from.
enum Row<'a> {
    Stated(ValueKey),
    Table(&'a str, Work),
}

/// Multiplies a distribution's scale.
pub(super) fn scaled(d: &Distribution, by: f64) -> Distribution {
    let (low, high) = d.interval95();
    let median = d.median();
    if low > 0.0 && high > low && median > 0.0 {
        let factor95 = (high / low).sqrt();
        return Distribution::LogNormal { median: by * median, factor95: factor95.max(1.01) };
    }
    // A figure without a spread is still no gauge: half as much again either way (judgement).
    Distribution::LogNormal { median: by * median.max(1e-9), factor95: 1.5 }
}

fn work_of(class: WorkClass) -> Work {
    match class {
        WorkClass::Careful => Work::Careful,
        WorkClass::Ordinary => Work::Ordinary,
        WorkClass::Unknown => Work::Unknown,
    }
}

fn kind_of(beyond: Beyond) -> Option<LeakKind> {
    match beyond {
        Beyond::Outside | Beyond::Ground => Some(LeakKind::ToOutside),
        Beyond::Neighbour(_) => Some(LeakKind::Party),
        Beyond::Space(_) => None,
    }
}

/// Row of the table for a kind of edge, sealed or not.
fn edge_row(kind: JunctionKind, sealed: bool) -> Option<&'static str> {
    use JunctionKind as K;
    match kind {
        K::Plinth | K::PartyFloorEdge | K::FloorEdge => Some(if sealed {
            "joint, sole plate / floor-wall, caulked"
        } else {
            "joint, sole plate / floor-wall, uncaulked"
        }),
        K::Eaves | K::Verge | K::HighEaves | K::RoofEdge | K::RoofStep => {
            Some(if sealed { "joint, top plate, band joist" } else { "joint, ceiling-wall" })
        }
        K::Corner | K::InnerCorner | K::PartyLine => Some("joint, top plate, band joist"),
        _ => None,
    }
}

/// Reads every leak out of a book.
pub(super) fn book(project: &Project) -> Book<'_> {
    let building = &project.building;
    let exponent = building.values.nominal_of(building.airtightness.exponent);
    let mut all = Book { building, exponent, leaks: Vec::new(), left_out: Vec::new() };
    edges(&mut all);
    openings(&mut all);
    penetrations(&mut all);
    panels(&mut all);
    all
}

/// Edges of elements, all of one joint and way out as one leak: a crew does a joint the same way all along.
fn edges(all: &mut Book<'_>) {
    let building = all.building;
    let mut done: Vec<(String, LeakKind)> = Vec::new();
    for junction in building.junctions.iter().filter(|j| j.opening.is_none()) {
        let Some(kind) = kind_of(junction.beyond) else { continue };
        let name = edge_name(building, junction);
        if done.contains(&(name.clone(), kind)) {
            continue;
        }
        let same = |j: &&Junction| {
            j.opening.is_none() && kind_of(j.beyond) == Some(kind) && edge_name(building, j) == name
        };
        let length: f64 = building.junctions.iter().filter(same).map(|j| j.length_m).sum();
        let joint = junction.joint.map(|at| &building.joints[at]);
        let sealed = joint.is_some_and(|j| j.carrier(ControlKind::Air).is_some());
        let work = joint.map_or(Work::Unknown, |j| work_of(j.work));
        let row = match joint.and_then(|j| j.leak) {
            Some(key) => Some(Row::Stated(key)),
            None => edge_row(junction.kind, sealed).map(|name| Row::Table(name, work)),
        };
        done.push((name.clone(), kind));
        match row {
            Some(row) => {
                let pair = joint.map_or_else(|| name.clone(), |j| j.pair());
                let item = ("joint", pair.clone(), format!("joint.\"{pair}\""));
                all.add(name, item, kind, (length, "m"), row);
            }
            None => all.left_out.push(format!("{name} ({length:.0} m)")),
        }
    }
}

fn edge_name(building: &Building, junction: &Junction) -> String {
    let plain = |name: &str| name.replace('-', " ");
    let place = junction.joint.and_then(|at| building.joints[at].at.clone());
    let pair = match junction.second {
        Some(second) => format!(
            "{} / {}",
            plain(&building.assemblies[junction.first.0].name),
            plain(&building.assemblies[second.0].name)
        ),
        None => plain(&building.assemblies[junction.first.0].name),
    };
    let place = place.map_or_else(String::new, |at| format!(", {at}"));
    format!("{} {pair}{place}", junction.kind.word())
}

fn openings(all: &mut Book<'_>) {
    let building = all.building;
    let mut seen: Vec<&str> = Vec::new();
    for opening in &building.openings {
        let unit = building.units[opening.unit.0].name.as_str();
        if seen.contains(&unit) {
            continue;
        }
        seen.push(unit);
        let of = |o: &&Opening| building.units[o.unit.0].name == unit;
        let door = |o: &Opening| matches!(o.kind, OpeningKind::GlazedDoor | OpeningKind::Door);
        let windows: Vec<&Opening> = building.openings.iter().filter(of).filter(|o| !door(o)).collect();
        let crack: f64 = windows.iter().filter(|o| o.opens).map(|o| 2.0 * (o.width_m + o.height_m)).sum();
        let frame: f64 = building.openings.iter().filter(of).map(|o| o.area_m2).sum();
        let doors = building.openings.iter().filter(of).filter(|o| door(o)).count();
        let plain = unit.replace('-', " ");
        let joint = building
            .junctions
            .iter()
            .find(|j| j.opening.is_some_and(|o| building.units[building.openings[o.0].unit.0].name == unit))
            .and_then(|j| j.joint)
            .map(|at| &building.joints[at]);
        let work = joint.map_or(Work::Unknown, |j| work_of(j.work));
        let sealed = joint.is_some_and(|j| j.carrier(ControlKind::Air).is_some());
        let row = if sealed { "window framing, wood caulked" } else { "window framing, wood uncaulked" };
        let out = LeakKind::ToOutside;
        let item = || ("opening", opening.name.clone(), format!("unit.{unit}"));
        all.add(format!("round the frames of {plain}"), item(), out, (frame, "m²"), Row::Table(row, work));
        let sash = Row::Table("window, casement, weatherstripped", Work::Careful);
        all.add(format!("seals of {plain}, windows"), item(), out, (crack, "m"), sash);
        let leaf = Row::Table("door, single, weatherstripped", Work::Ordinary);
        all.add(format!("seals of {plain}, doors"), item(), out, (doors as f64, "pieces"), leaf);
    }
}

fn penetrations(all: &mut Book<'_>) {
    let building = all.building;
    for p in &building.penetrations {
        let element = building.elements.iter().find(|e| e.assembly == p.through && e.in_enclosure);
        let Some(kind) = element.and_then(|e| kind_of(e.beyond)) else { continue };
        let sealed = p.plan.seal.is_some() || p.plan.product.is_some();
        let hatch = p.plan.name.contains("hatch");
        let row = match (p.plan.leak, hatch, sealed) {
            (Some(key), ..) => Row::Stated(key),
            (None, true, true) => Row::Table("attic hatch, weatherstripped", Work::Careful),
            (None, true, false) => Row::Table("attic hatch, not weatherstripped", Work::Unknown),
            (None, false, true) => Row::Table("piping/plumbing/wiring penetration, caulked", Work::Ordinary),
            (None, false, false) => {
                Row::Table("piping/plumbing/wiring penetration, uncaulked", Work::Unknown)
            }
        };
        let name = p.plan.name.clone();
        let item = ("penetration", name.clone(), format!("penetration.{name}"));
        all.add(name, item, kind, (f64::from(p.plan.count), "pieces"), row);
    }
}

/// Panels with a stated air permeability of their barrier layer; others are taken as tight and said so.
fn panels(all: &mut Book<'_>) {
    let building = all.building;
    for (place, assembly) in building.assemblies.iter().enumerate() {
        let of = || building.elements.iter().filter(|e| e.assembly.0 == place && e.in_enclosure);
        let Some(kind) = of().next().and_then(|e| kind_of(e.beyond)) else { continue };
        let area: f64 = of().map(|e| e.net_m2).sum();
        let layer = assembly.control_layers(ControlKind::Air).next().map(|at| &assembly.layers[at]);
        let stated = layer.and_then(|l| match l.kind {
            LayerKind::Solid(material) => building.materials[material.0].air_permeability,
            _ => None,
        });
        let name = format!("panels of {}", assembly.name.replace('-', " "));
        match stated {
            // Air permeability is canonical in m³/(h·m²) already.
            Some(key) => {
                let value = building.values.get(key);
                let per_unit = scaled(&value.distribution, 1.0);
                let leak = Leak { id: name, kind, quantity: area, per_unit, group: None };
                let basis = "stated in the book".to_owned();
                let item = ("assembly", assembly.name.clone(), format!("assembly.{}", assembly.name));
                all.leaks.push(Stated { leak, item, unit: "m²", basis, minutes: 60.0 });
            }
            None if area > 0.0 => {
                all.left_out.push(format!("{name} ({area:.0} m²): no air permeability is stated"));
            }
            None => {}
        }
    }
}
