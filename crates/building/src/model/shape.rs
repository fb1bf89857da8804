//! Site, storeys, sides, roofs, rooms, zones, neighbours.

use super::{AssemblyId, NeighbourId, SpaceId, StoreyId, ZoneId};
use crate::calendar::Profile;
use crate::geometry::Polygon;
use crate::plan;
use crate::stated::ValueKey;

/// Where the building stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Site {
    /// Degrees north.
    pub latitude: ValueKey,
    /// Degrees east.
    pub longitude: ValueKey,
    /// m above the sea.
    pub elevation: ValueKey,
    /// Weather by name or file.
    pub climate: String,
    /// Roughness of the surroundings.
    pub terrain: plan::Terrain,
    /// Azimuth of plan-up, degrees clockwise from true north.
    pub north_deg: f64,
    /// Class of climate.
    pub climate_class: Option<String>,
    /// Ground outside, m.
    pub ground_level_m: f64,
    /// Rain of a year, mm, when the book states it.
    pub rain: Option<ValueKey>,
}

/// A storey.
#[derive(Clone, Debug, PartialEq)]
pub struct Storey {
    /// Name.
    pub name: String,
    /// Finished floor, m.
    pub floor_level_m: f64,
    /// Clear height, m (mean under a flat roof, at the eaves under a slope).
    pub height_m: f64,
    /// Outside faces, m, counter-clockwise, on the plan's axes.
    pub outside: Polygon,
    /// Inside faces, m, corner by corner as [`Self::outside`].
    pub inside: Polygon,
    /// Sides, edge by edge of [`Self::outside`].
    pub sides: Vec<Side>,
    /// Roof form, where it has one.
    pub roof: Option<Roof>,
    /// Rooms.
    pub spaces: Vec<SpaceId>,
}

/// One side of a storey.
#[derive(Clone, Debug, PartialEq)]
pub struct Side {
    /// Name.
    pub name: String,
    /// Azimuth its outward normal points to, degrees from true north.
    pub azimuth_deg: f64,
    /// Assembly.
    pub assembly: AssemblyId,
    /// What lies beyond.
    pub beyond: Beyond,
}

/// Shape of a roof over its storey.
#[derive(Clone, Debug, PartialEq)]
pub struct Roof {
    /// Form.
    pub form: RoofShape,
    /// Assembly.
    pub assembly: AssemblyId,
    /// What lies above.
    pub beyond: Beyond,
    /// Height of the parapet, m.
    pub parapet_m: f64,
    /// Highest point of the inside, m above the floor.
    pub top_m: f64,
}

/// Form of a roof with its numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RoofShape {
    /// Flat.
    Flat,
    /// Height over the eaves = `slope` × distance from the low side.
    Shed {
        /// Rise over run.
        slope: f64,
        /// Unit vector uphill on the plan.
        uphill: [f64; 2],
    },
    /// Two slopes from a ridge in the middle.
    Gable {
        /// Rise over run.
        slope: f64,
        /// Unit vector across the ridge.
        across: [f64; 2],
        /// Coordinate of the ridge along `across`, m.
        ridge_at_m: f64,
        /// Half the span, m.
        half_span_m: f64,
    },
}

/// What lies on the other side of something.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Beyond {
    /// The open.
    Outside,
    /// Ground.
    Ground,
    /// A neighbour outside the limits' boundary.
    Neighbour(NeighbourId),
    /// Another room of ours.
    Space(SpaceId),
}

/// A room.
#[derive(Clone, Debug, PartialEq)]
pub struct Space {
    /// Name.
    pub name: String,
    /// What it is called on sheets.
    pub label: String,
    /// Storey.
    pub storey: StoreyId,
    /// Zone.
    pub zone: ZoneId,
    /// Kind.
    pub kind: plan::SpaceKind,
    /// Net outline; `None` when only its area is known.
    pub outline: Option<Polygon>,
    /// Net floor area, m².
    pub area_m2: f64,
    /// Height of the dropped ceiling, or of the room, m.
    pub ceiling_m: f64,
    /// Height of the storey over it, m (mean).
    pub clear_m: f64,
    /// Air volume, m³: with the void above the dropped ceiling and its share of floor openings.
    pub volume_m3: f64,
    /// Volume of the void above the dropped ceiling, m³.
    pub void_m3: f64,
}

/// A zone of the limits run.
#[derive(Clone, Debug, PartialEq)]
pub struct Zone {
    /// Name.
    pub name: String,
    /// Rooms.
    pub spaces: Vec<SpaceId>,
    /// m².
    pub area_m2: f64,
    /// m³, voids included.
    pub volume_m3: f64,
}

/// A neighbour outside the boundary.
#[derive(Clone, Debug, PartialEq)]
pub struct Neighbour {
    /// Name.
    pub name: String,
    /// What it is.
    pub about: String,
    /// Temperature.
    pub temperature: NeighbourTemperature,
    /// Pressure against outdoors, Pa, by quarter-hour.
    pub pressure: Option<Profile<ValueKey>>,
}

/// Temperature of a neighbour over the year.
#[derive(Clone, Debug, PartialEq)]
pub enum NeighbourTemperature {
    /// Stated, °C, by quarter-hour.
    Stated {
        /// The level of each quarter-hour; always one.
        profile: Profile<ValueKey>,
        /// The usual level.
        usual: ValueKey,
        /// At least the day's mean outdoors.
        floats_up_with_outdoors: bool,
        /// Time constant of the way back to the usual level, s; `None`: at once.
        decay: Option<ValueKey>,
    },
    /// Share of the way from indoors to outdoors.
    Floating {
        /// The b factor.
        factor: ValueKey,
    },
}

/// A hole through a floor.
#[derive(Clone, Debug, PartialEq)]
pub struct FloorOpening {
    /// Name.
    pub name: String,
    /// Room above.
    pub upper: SpaceId,
    /// Room below.
    pub lower: SpaceId,
    /// m².
    pub area_m2: f64,
    /// m.
    pub thickness_m: f64,
}

impl FloorOpening {
    /// Volume of the hole, m³.
    pub fn volume_m3(&self) -> f64 {
        self.area_m2 * self.thickness_m
    }
}

/// A block outside that casts shade.
#[derive(Clone, Debug, PartialEq)]
pub struct Shade {
    /// What it is.
    pub name: String,
    /// Outline on the plan, m.
    pub outline: Polygon,
    /// Top, m.
    pub top_m: f64,
    /// Share of light let through.
    pub transmits: Option<ValueKey>,
}

/// A beam or post in a room.
#[derive(Clone, Debug, PartialEq)]
pub struct Obstruction {
    /// What it is.
    pub name: String,
    /// Room, when it stands in one.
    pub space: Option<SpaceId>,
    /// Storey.
    pub storey: StoreyId,
    /// Cross-section of one, m².
    pub section_m2: f64,
    /// Volume of all, m³.
    pub volume_m3: f64,
    /// Floor area taken, m².
    pub floor_area_m2: f64,
}
