//! The model's joints as details: which template, which layers, and what stands in for what the book does not draw.
//!
//! Start at [`planned`]: each entry is one detail with all the joints and points it stands for; joints with equal numbers
//! share one. [`work_out`] solves one. Who calls keeps the results and states Ψ and χ in the model (`project`).
//!
//! What the book does not draw follows rules that the notes of each detail say (common practice, no source):
//! * old layers on the outside of a wall run on past floors and roofs; a wall's new layers stop there;
//! * an old floor or deck bears 100 mm into the old wall, at most half of it; a new one stops at the old wall;
//! * a new partition stops at the wall's inside face, an old one runs up to the old wall;
//! * frames sit as drawn, with a 12 mm gap filled with wool all round; head, jamb and sill are alike.

mod layers;
mod openings;
mod points;

use building::model::{
    Beyond, Building, Element, ElementKind, Junction, JunctionKind, NeighbourTemperature, RoofShape, Storey,
};
use building::{Resolved, plan};
use fabric::FabricError;
use fabric::detail::Accuracy;
use fabric::detail::joint::{self, Joint};
use fabric::detail::template::meeting::{Beside, meeting};
use fabric::detail::template::{Template, ground, inner_corner, outer_corner, roof};
use layers::Wall;

/// How far an old floor bears into an old wall, m (common practice, no source).
pub(crate) const BEARING_M: f64 = 0.1;
/// How far an old wall runs down below the floor on the ground, m (common practice, no source).
const FOOTING_M: f64 = 0.6;

/// One detail of the model.
#[derive(Clone, Debug, PartialEq)]
pub struct Planned {
    /// What it is: `roof edge of upper-wall and deck-roof`.
    pub title: String,
    /// Kind.
    pub kind: PlannedKind,
    /// Places in `Building::junctions` of the joints it stands for.
    pub junctions: Vec<usize>,
    /// Places in `Building::penetrations`, of a detail in three dimensions.
    pub penetrations: Vec<usize>,
    /// The detail, or why there is none.
    pub template: Result<Template, String>,
    /// A detail that runs along the same line and is counted there already: this one adds the difference.
    pub beyond: Option<usize>,
    /// What stands in for what is not drawn.
    pub notes: Vec<&'static str>,
}

/// Kind of a detail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PlannedKind {
    /// A line.
    Line(JunctionKind),
    /// Points: what passes through.
    Point,
}

/// Why a joint is not worked out.
type Left = String;

/// Plans the details of a building, with one set of numbers. Joints that part us from a neighbour or another room only are
/// left out: nothing of theirs goes outdoors.
pub fn planned(building: &Building, r: &Resolved) -> Vec<Planned> {
    let mut all: Vec<Planned> = Vec::new();
    for (n, junction) in building.junctions.iter().enumerate() {
        if !matches!(junction.beyond, Beyond::Outside | Beyond::Ground)
            || junction.kind == JunctionKind::InnerFloorEdge
        {
            continue;
        }
        let mut notes = Vec::new();
        let template = drawn(building, junction, r, &mut notes);
        let kind = PlannedKind::Line(junction.kind);
        let opening = junction.opening.is_some();
        let like = |p: &&mut Planned| {
            let alike = match (p.kind, kind) {
                (PlannedKind::Line(a), PlannedKind::Line(b)) => a == b || opening && edge(a) && edge(b),
                _ => false,
            };
            alike && p.template == template
        };
        match all.iter_mut().find(like) {
            Some(known) => known.junctions.push(n),
            None => all.push(Planned {
                title: title(building, junction),
                kind,
                junctions: vec![n],
                penetrations: Vec::new(),
                template,
                beyond: None,
                notes,
            }),
        }
    }
    openings::link_thresholds(building, &mut all);
    all.extend(points::planned(building, r));
    all
}

/// Solves one detail to what a joint needs.
///
/// # Errors
/// As [`joint::work_out`].
pub fn work_out(template: &Template) -> Result<Joint, FabricError> {
    joint::work_out(template, &Accuracy::of_joint(template.detail.plane))
}

fn edge(kind: JunctionKind) -> bool {
    matches!(kind, JunctionKind::Head | JunctionKind::Jamb | JunctionKind::Sill)
}

fn title(building: &Building, junction: &Junction) -> String {
    let first = &building.assemblies[junction.first.0].name;
    match (junction.opening, junction.second) {
        (Some(_), _) if edge(junction.kind) => format!("head, jamb and sill in {first}"),
        (Some(_), _) => format!("{} in {first}", junction.kind.word()),
        (None, Some(second)) if second != junction.first => {
            format!("{} of {first} and {}", junction.kind.word(), building.assemblies[second.0].name)
        }
        _ => format!("{} of {first}", junction.kind.word()),
    }
}

fn refused(e: FabricError) -> Left {
    e.to_string()
}

/// Lays a joint out.
fn drawn(
    building: &Building,
    junction: &Junction,
    r: &Resolved,
    notes: &mut Vec<&'static str>,
) -> Result<Template, Left> {
    if junction.opening.is_some() {
        return openings::drawn(building, junction, r, notes);
    }
    let Some(second) = junction.second else { return Err("nothing meets there".into()) };
    let first = layers::wall(building, junction.first, r)?;
    let other = layers::wall(building, second, r)?;
    match junction.kind {
        JunctionKind::Corner | JunctionKind::Verge => {
            outer_corner(&first.stack, &other.stack).map_err(refused)
        }
        JunctionKind::InnerCorner => inner_corner(&first.stack, &other.stack).map_err(refused),
        JunctionKind::Eaves | JunctionKind::HighEaves => {
            let slope = slope_deg(building, junction)?;
            let slope = if junction.kind == JunctionKind::HighEaves { -slope } else { slope };
            notes.push("overhanging eaves and what lies in them are not drawn");
            roof::eaves(&first.stack, &other.stack, slope).map_err(refused)
        }
        JunctionKind::Ridge => roof::ridge(&other.stack, slope_deg(building, junction)?).map_err(refused),
        JunctionKind::RoofEdge => roof_edge(building, junction, &first, &other, notes),
        JunctionKind::FloorEdge => {
            notes.push("the old floor bears into the old wall, a new one stops at its inner face");
            let beside = Beside::Inside { band_counted: true };
            meeting(&first.stack, &other.stack, &first.starts(&other), &beside).map_err(refused)
        }
        JunctionKind::PartyFloorEdge | JunctionKind::PartyLine => {
            notes.push("the old wall runs past, new layers of the wall stop at what meets it");
            let beside = party_side(building, junction, &first, r);
            meeting(&first.stack, &other.stack, &first.starts(&other), &beside).map_err(refused)
        }
        JunctionKind::PartitionRoof | JunctionKind::PartitionFloor | JunctionKind::PartitionWall => {
            notes.push("a new partition stops at the inside face, an old one at the old wall");
            // Areas by inside faces run on over the end of a partition.
            let beside = Beside::Inside { band_counted: true };
            meeting(&other.stack, &first.stack, &other.stops(&first), &beside).map_err(refused)
        }
        JunctionKind::Plinth => {
            notes.push("the old wall runs 0.6 m down, new layers of the wall stand on the floor");
            let floor = ground_floor(building, junction, &other, r)?;
            ground::foot(&first.stack, &floor, first.shell_m(), &first.starts(&other), &ground::Upright::Wall)
                .map_err(refused)
        }
        _ => Err(format!("no template for a {}", junction.kind.word())),
    }
}

fn roof_edge(
    building: &Building,
    junction: &Junction,
    wall: &Wall,
    over: &Wall,
    notes: &mut Vec<&'static str>,
) -> Result<Template, Left> {
    let parapet = storey_of(building, junction).and_then(|s| s.roof.as_ref()).map_or(0.0, |r| r.parapet_m);
    if wall.shell_m() > 0.0 {
        notes.push("the old wall runs up as the parapet, the roof's new layers reach up to it");
        let (shell, starts) = (wall.shell_m(), wall.starts(over));
        return roof::parapet(&wall.stack, &over.stack, shell, parapet, &starts).map_err(refused);
    }
    if parapet > 0.0 {
        notes.push("the parapet is not drawn: no layer of the wall is an old one that could run up");
    }
    outer_corner(&wall.stack, &over.stack).map_err(refused)
}

/// The storey that a joint belongs to, by its name.
pub(crate) fn storey_of<'a>(building: &'a Building, junction: &Junction) -> Option<&'a Storey> {
    building
        .storeys
        .iter()
        .find(|s| junction.name.strip_prefix(s.name.as_str()).is_some_and(|rest| rest.starts_with('.')))
}

fn slope_deg(building: &Building, junction: &Junction) -> Result<f64, Left> {
    let form = storey_of(building, junction).and_then(|s| s.roof.as_ref()).map(|r| r.form);
    match form {
        Some(RoofShape::Shed { slope, .. } | RoofShape::Gable { slope, .. }) => {
            Ok(numeric::scalar::atan(slope).to_degrees())
        }
        _ => Err("the roof's slope is not known there".into()),
    }
}

/// What lies under a party floor, or beside a party wall.
fn party_side(building: &Building, junction: &Junction, wall: &Wall, r: &Resolved) -> Beside {
    let storey = storey_of(building, junction);
    let of_pair = |e: &&Element| {
        Some(e.assembly) == junction.second
            && matches!(e.kind, ElementKind::Floor | ElementKind::Wall)
            && (e.storey.is_none()
                || storey.is_none_or(|s| e.storey.is_some_and(|id| building.storeys[id.0].name == s.name)))
    };
    let beyond = building.elements.iter().find(of_pair).map_or(Beyond::Outside, |e| e.beyond);
    let Beyond::Neighbour(id) = beyond else { return Beside::Outside };
    let temperature = match &building.neighbours[id.0].temperature {
        NeighbourTemperature::Floating { factor } => 1.0 - r[*factor],
        // Heated: as warm as we are, as far as a detail cares.
        NeighbourTemperature::Stated { .. } => 1.0,
    };
    let shell = wall.shell_m();
    let wall = if shell > 0.0 { wall.stack.outer(shell) } else { wall.stack.clone() };
    Beside::Neighbour { wall, temperature }
}

/// The floor on the ground of a joint's storey.
pub(crate) fn ground_floor(
    building: &Building,
    junction: &Junction,
    floor: &Wall,
    r: &Resolved,
) -> Result<ground::GroundFloor, Left> {
    let storey = storey_of(building, junction).ok_or("its storey is not known")?;
    let (mut area_m2, mut perimeter_m) = (0.0, 0.0);
    for e in building.elements.iter().filter(|e| {
        e.kind == ElementKind::GroundFloor
            && e.storey.is_some_and(|id| building.storeys[id.0].name == storey.name)
    }) {
        area_m2 += e.net_m2;
        perimeter_m += e.exposed_perimeter_m;
    }
    if perimeter_m <= 0.0 {
        return Err("the floor has no exposed edge".into());
    }
    let level = building.site.ground_level_m - storey.floor_level_m;
    Ok(ground::GroundFloor {
        floor: floor.stack.clone(),
        characteristic_m: area_m2 / (0.5 * perimeter_m),
        ground_w_mk: r[building.ground.conductivity],
        ground_level_m: level.clamp(-1.0, 0.3),
        footing_m: FOOTING_M,
    })
}

/// Direction of heat through an assembly by what it is for.
pub(crate) fn direction(place: plan::AssemblyPlace) -> fabric::layers::film::Direction {
    use fabric::layers::film::Direction;
    match place {
        plan::AssemblyPlace::Wall | plan::AssemblyPlace::Partition => Direction::Horizontal,
        plan::AssemblyPlace::Roof => Direction::Upwards,
        plan::AssemblyPlace::Floor | plan::AssemblyPlace::GroundFloor => Direction::Downwards,
    }
}
