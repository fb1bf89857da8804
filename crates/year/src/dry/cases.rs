//! Which walls are run: every exterior assembly by what it faces, what lies beyond, and the rooms behind it.
//!
//! Rooms whose air hardly differs share one run, with the dampest one's air; each case says which rooms it stands for.

use building::Building;
use building::model::{AssemblyId, Beyond, Element, SpaceId};

use super::rooms::RoomAir;

/// Rooms share a run while their winter vapour pressures differ by no more than this, Pa (judgement: a little over half of
/// what lies between two humidity classes of ISO 13788); the dampest one's air is used.
const SAME_VAPOUR_PA: f64 = 150.0;
/// And their mean temperatures by no more than this, K.
const SAME_TEMPERATURE_K: f64 = 1.5;
/// Hours of December to February, the year beginning in January.
const WINTER: [std::ops::Range<usize>; 2] = [0..59 * 24, 334 * 24..365 * 24];

/// Direction of a face, in hundredths of a degree, so that equal planes are found again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Facing {
    azimuth: i64,
    tilt: i64,
}

impl Facing {
    pub fn of(element: &Element) -> Self {
        let tilt = (element.tilt_deg * 100.0).round() as i64;
        // A level plane has no azimuth.
        let level = !(1..18_000).contains(&tilt);
        let azimuth = if level { 0 } else { (element.azimuth_deg.rem_euclid(360.0) * 100.0).round() as i64 };
        Self { azimuth, tilt }
    }

    pub fn azimuth_deg(self) -> f64 {
        self.azimuth as f64 / 100.0
    }

    pub fn tilt_deg(self) -> f64 {
        self.tilt as f64 / 100.0
    }

    /// Upright enough for driving rain.
    pub fn is_wall(self) -> bool {
        (6_000..=12_000).contains(&self.tilt)
    }

    /// Faces down.
    pub fn is_below(self) -> bool {
        self.tilt > 12_000
    }
}

/// One wall to run.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Case {
    pub assembly: AssemblyId,
    pub facing: Facing,
    pub beyond: Beyond,
    /// Rooms it stands for.
    pub spaces: Vec<SpaceId>,
    /// The one whose air is used.
    pub air_of: SpaceId,
    /// Area, m².
    pub area_m2: f64,
    /// Name of the side of the plan it lies on, where all its elements share one.
    pub side: Option<String>,
}

/// Returns the cases of a building, in the order of its assemblies.
pub(crate) fn cases(building: &Building, air: &[RoomAir], outdoor_pa: &[f64]) -> Vec<Case> {
    let mut groups: Vec<(AssemblyId, Facing, Beyond, Vec<&Element>)> = Vec::new();
    for element in &building.elements {
        let runs = match element.beyond {
            Beyond::Outside | Beyond::Neighbour(_) => true,
            // The ground is no one-dimensional matter, and rooms on both sides are alike.
            Beyond::Ground | Beyond::Space(_) => false,
        };
        if !runs || element.net_m2 <= 0.0 {
            continue;
        }
        let facing = Facing::of(element);
        // Beyond a neighbour there is neither sun nor rain: the direction does not matter, only up, down or sideways.
        let facing = if element.beyond == Beyond::Outside { facing } else { Facing { azimuth: 0, ..facing } };
        let found =
            groups.iter_mut().find(|g| g.0 == element.assembly && g.1 == facing && g.2 == element.beyond);
        match found {
            Some(group) => group.3.push(element),
            None => groups.push((element.assembly, facing, element.beyond, vec![element])),
        }
    }
    groups.sort_by_key(|g| (g.0, g.1, g.2));
    let excess: Vec<f64> =
        air.iter().map(|a| winter_mean(&a.vapour_pressure_pa) - winter_mean(outdoor_pa)).collect();
    let warmth: Vec<f64> = air.iter().map(|a| numeric::sum::mean(&a.temperature_c)).collect();
    groups.into_iter().flat_map(|g| shared(building, g, &excess, &warmth)).collect()
}

/// Splits a group by its rooms' air.
fn shared(
    building: &Building,
    (assembly, facing, beyond, elements): (AssemblyId, Facing, Beyond, Vec<&Element>),
    excess: &[f64],
    warmth: &[f64],
) -> Vec<Case> {
    let mut rooms: Vec<SpaceId> = elements.iter().map(|e| e.space).collect();
    rooms.sort_unstable();
    rooms.dedup();
    rooms.sort_by(|a, b| excess[b.0].total_cmp(&excess[a.0]).then(a.cmp(b)));
    let mut out: Vec<Case> = Vec::new();
    for room in rooms {
        let area: f64 = elements.iter().filter(|e| e.space == room).map(|e| e.net_m2).sum();
        let like = out.iter_mut().find(|c| {
            let lead = c.air_of.0;
            excess[lead] - excess[room.0] <= SAME_VAPOUR_PA
                && (warmth[lead] - warmth[room.0]).abs() <= SAME_TEMPERATURE_K
        });
        match like {
            Some(case) => {
                case.spaces.push(room);
                case.area_m2 += area;
            }
            None => out.push(Case {
                assembly,
                facing,
                beyond,
                spaces: vec![room],
                air_of: room,
                area_m2: area,
                side: side(building, &elements),
            }),
        }
    }
    for case in &mut out {
        case.spaces.sort_unstable();
    }
    out
}

fn side(building: &Building, elements: &[&Element]) -> Option<String> {
    let name = |e: &&Element| {
        let storey = &building.storeys[e.storey?.0];
        Some(storey.sides.get(e.side?)?.name.clone())
    };
    let first = elements.first().and_then(name)?;
    elements.iter().all(|e| name(e).as_ref() == Some(&first)).then_some(first)
}

pub(crate) fn winter_mean(hourly: &[f64]) -> f64 {
    let picked: Vec<f64> =
        WINTER.into_iter().flat_map(|range| hourly.get(range).unwrap_or_default().iter().copied()).collect();
    numeric::sum::mean(&picked)
}
