//! Storeys, rooms, neighbours, openings, joints.

use crate::stated::ValueKey;

/// A point of a plan, m, measured from the plan's origin (x to plan-right, y to plan-up).
pub type PointPlan = [ValueKey; 2];

/// An outline as the book gives it.
#[derive(Clone, Debug, PartialEq)]
pub enum Outline {
    /// A rectangle, sides along the plan's axes.
    Rectangle {
        /// Along x, m.
        width: ValueKey,
        /// Along y, m.
        depth: ValueKey,
        /// Where it lies.
        at: Placement,
    },
    /// Corners in order, either way round.
    Corners(Vec<PointPlan>),
}

/// Where a rectangle lies in what holds it.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Placement {
    /// South-west corner at the origin of what holds it.
    #[default]
    Origin,
    /// South-west corner at a point measured from the south-west corner of what holds it.
    Point(PointPlan),
    /// Against a side or in a corner of what holds it: `N`, `east`, `NW`; along a side it lies at the middle.
    Side(Compass),
}

/// Sides and corners of a plan; plan-up is N whatever true north does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "the eight names say all")]
pub enum Compass {
    N,
    NE,
    E,
    SE,
    S,
    SW,
    W,
    NW,
}

impl Compass {
    /// All eight, clockwise from N.
    pub const ALL: [Self; 8] = [Self::N, Self::NE, Self::E, Self::SE, Self::S, Self::SW, Self::W, Self::NW];

    /// Short name.
    pub fn name(self) -> &'static str {
        match self {
            Self::N => "N",
            Self::NE => "NE",
            Self::E => "E",
            Self::SE => "SE",
            Self::S => "S",
            Self::SW => "SW",
            Self::W => "W",
            Self::NW => "NW",
        }
    }

    /// Reads `N`, `nw`, `east`, `north-west`.
    pub fn read(text: &str) -> Option<Self> {
        let plain = text.trim().to_lowercase().replace(['-', ' '], "");
        let short =
            plain.replace("north", "n").replace("south", "s").replace("east", "e").replace("west", "w");
        Self::ALL.into_iter().find(|c| c.name().to_lowercase() == short)
    }

    /// Plan azimuth, degrees clockwise from plan-up.
    pub fn azimuth_deg(self) -> f64 {
        45.0 * f64::from(self as u8)
    }
}

/// A storey.
#[derive(Clone, Debug, PartialEq)]
pub struct StoreyPlan {
    /// Name.
    pub name: String,
    /// Finished floor level, m, in the levels of the job.
    pub floor_level: ValueKey,
    /// Clear height, floor to the underside of what closes it (mean under a flat roof, at the eaves under a slope), m.
    pub height: ValueKey,
    /// Outside faces. Needed unless [`Self::inside`] is given.
    pub footprint: Option<Outline>,
    /// Inside faces as surveyed; left out, they follow from the footprint and the walls' thickness.
    pub inside: Option<Outline>,
    /// Names of the footprint's sides, in the order of its corners; empty: compass names.
    pub side_names: Vec<String>,
    /// Walls.
    pub walls: WallsPlan,
    /// Neighbour that fills what lies inside the footprint but in no room of ours.
    pub rest: Option<String>,
    /// Assembly between our rooms and the rest.
    pub inner_walls: Option<String>,
    /// Assembly between rooms of this storey.
    pub partitions: Option<String>,
    /// What closes it above, where no storey of ours stands on it.
    pub roof: Option<RoofPlan>,
    /// What it stands on, where no storey of ours lies under it.
    pub floor: Option<FloorPlan>,
    /// Beams and posts that stand free in the rooms.
    pub obstructions: Vec<ObstructionPlan>,
}

/// Walls of a storey.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WallsPlan {
    /// Assembly of every side that is not named below.
    pub assembly: Option<String>,
    /// Sides that differ.
    pub sides: Vec<WallSidePlan>,
}

/// One side that differs.
#[derive(Clone, Debug, PartialEq)]
pub struct WallSidePlan {
    /// Side.
    pub side: String,
    /// Its assembly; the storey's when left out.
    pub assembly: Option<String>,
    /// What lies beyond.
    pub beyond: BeyondPlan,
}

/// What lies on the other side of an element.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum BeyondPlan {
    /// The open.
    #[default]
    Outside,
    /// Ground.
    Ground,
    /// A neighbour, by name.
    Neighbour(String),
}

/// Form of a roof.
#[derive(Clone, Debug, PartialEq)]
pub enum RoofForm {
    /// Flat: the fall only drains.
    Flat,
    /// One slope, rising from the side named.
    Shed {
        /// Side of the low edge.
        low_side: String,
    },
    /// Two slopes; the ridge runs along the plan axis given, in the middle.
    Gable {
        /// True when the ridge runs along x (plan east-west).
        ridge_along_x: bool,
    },
}

/// What closes a storey above.
#[derive(Clone, Debug, PartialEq)]
pub struct RoofPlan {
    /// Form.
    pub form: RoofForm,
    /// Slope, degrees; needed for shed and gable.
    pub slope: Option<ValueKey>,
    /// Assembly.
    pub assembly: String,
    /// Height of the parapet above the roof, m.
    pub parapet: Option<ValueKey>,
    /// What lies above: the open, or a loft or flat as neighbour.
    pub beyond: BeyondPlan,
}

/// What a storey stands on.
#[derive(Clone, Debug, PartialEq)]
pub struct FloorPlan {
    /// Assembly.
    pub assembly: String,
    /// What lies below: the open, the ground, a neighbour.
    pub beyond: BeyondPlan,
    /// Exposed perimeter of a ground floor, m; left out, it follows from the outer walls above it.
    pub exposed_perimeter: Option<ValueKey>,
    /// Area of a ground floor, m²; left out, it follows from the rooms.
    pub area: Option<ValueKey>,
    /// Depth below outside ground, m, of a cellar floor.
    pub depth: Option<ValueKey>,
    /// Edge insulation.
    pub edge: Option<EdgeInsulationPlan>,
}

/// Insulation along the edge of a slab.
#[derive(Clone, Debug, PartialEq)]
pub struct EdgeInsulationPlan {
    /// True for a vertical skirt, false for a horizontal strip.
    pub vertical: bool,
    /// Width or depth, m.
    pub width: ValueKey,
    /// Thickness, m.
    pub thickness: ValueKey,
    /// W/(m·K).
    pub conductivity: ValueKey,
}

/// A beam, post or shaft that takes room.
#[derive(Clone, Debug, PartialEq)]
pub struct ObstructionPlan {
    /// What it is.
    pub name: String,
    /// Room it stands in; `None`: somewhere in the storey.
    pub space: Option<String>,
    /// Cross-section, m².
    pub section: ValueKey,
    /// Volume of all of them, m³.
    pub volume: ValueKey,
    /// Floor area taken, m²; posts and shafts.
    pub floor_area: Option<ValueKey>,
}

/// What a room is for, as far as counting rules care.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum SpaceKind {
    /// Living, teaching, work.
    #[default]
    Main,
    /// Corridors, lobbies.
    Circulation,
    /// Stairs.
    Stair,
    /// Sanitary rooms, kitchens.
    Wet,
    /// Stores.
    Store,
    /// Plant rooms.
    Plant,
}

impl SpaceKind {
    /// Every kind with its word in the book.
    pub const ALL: [(Self, &'static str); 6] = [
        (Self::Main, "main"),
        (Self::Circulation, "circulation"),
        (Self::Stair, "stair"),
        (Self::Wet, "wet"),
        (Self::Store, "store"),
        (Self::Plant, "plant"),
    ];

    /// Its word in the book.
    pub fn word(self) -> &'static str {
        Self::ALL.iter().find(|(kind, _)| *kind == self).map_or("main", |(_, word)| word)
    }
}

/// A room.
#[derive(Clone, Debug, PartialEq)]
pub struct SpacePlan {
    /// Name.
    pub name: String,
    /// What it is called on sheets.
    pub label: String,
    /// Storey.
    pub storey: String,
    /// Net outline; `None`: not drawn, only its area is known.
    pub plan: Option<Outline>,
    /// Net area, m², for a room that is not drawn.
    pub area: Option<ValueKey>,
    /// Height of the dropped ceiling, m; left out, the room reaches the storey's clear height.
    pub ceiling: Option<ValueKey>,
    /// Kind.
    pub kind: SpaceKind,
    /// Zone of the limits run.
    pub zone: Option<String>,
    /// Source of the room when it came from a table.
    pub from_table: bool,
}

/// A hole through a floor.
#[derive(Clone, Debug, PartialEq)]
pub struct FloorOpeningPlan {
    /// Name.
    pub name: String,
    /// Room above.
    pub upper: String,
    /// Room below.
    pub lower: String,
    /// Along x, m.
    pub width: ValueKey,
    /// Along y, m.
    pub depth: ValueKey,
    /// Thickness of the floor there, m; left out, it follows from the levels.
    pub thickness: Option<ValueKey>,
}

/// A thermal zone of the limits run.
#[derive(Clone, Debug, PartialEq)]
pub struct ZonePlan {
    /// Name.
    pub name: String,
    /// Spaces that the zone names itself; spaces may also name their zone.
    pub spaces: Vec<String>,
}

/// A room or building outside the limits' boundary.
#[derive(Clone, Debug, PartialEq)]
pub struct NeighbourPlan {
    /// Name.
    pub name: String,
    /// What it is.
    pub about: String,
    /// Temperature.
    pub temperature: NeighbourTemperature,
    /// Pressure against outdoors, Pa; left out: 0 always.
    pub pressure: Option<Scheduled>,
    /// When its second state holds, in the calendar's words.
    pub when: Vec<WhenPlan>,
}

/// A number with a usual state and others by the calendar.
#[derive(Clone, Debug, PartialEq)]
pub struct Scheduled {
    /// Otherwise.
    pub usual: ValueKey,
    /// Named states, such as `firing`; each is set by a [`WhenPlan`] of the same name.
    pub states: Vec<(String, ValueKey)>,
}

/// Temperature of a neighbour.
#[derive(Clone, Debug, PartialEq)]
pub enum NeighbourTemperature {
    /// Stated, °C.
    Stated {
        /// Its states.
        temperature: Scheduled,
        /// True when it is at least the day's mean outdoors.
        floats_up_with_outdoors: bool,
        /// Time constant after a state ends, s.
        decay: Option<ValueKey>,
    },
    /// Unheated: share of the difference to outdoors, 0 as indoors, 1 as outdoors (EN ISO 13789 b factor).
    Floating {
        /// The b factor.
        factor: ValueKey,
    },
}

/// When a named state holds.
#[derive(Clone, Debug, PartialEq)]
pub struct WhenPlan {
    /// State's name.
    pub state: String,
    /// Days and hours.
    pub rule: crate::calendar::Rule,
}

/// Kind of an opening.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum OpeningKind {
    /// Window.
    #[default]
    Window,
    /// Glazed door.
    GlazedDoor,
    /// Opaque door.
    Door,
    /// Rooflight.
    Rooflight,
}

/// One or several openings alike.
#[derive(Clone, Debug, PartialEq)]
pub struct OpeningPlan {
    /// Pattern as written: `S1..S4`, or one name.
    pub pattern: String,
    /// The names it stands for.
    pub names: Vec<String>,
    /// Kind.
    pub kind: OpeningKind,
    /// Storey; left out when only one storey has the side.
    pub storey: Option<String>,
    /// Side.
    pub side: String,
    /// Frame width, m.
    pub width: ValueKey,
    /// Frame height, m.
    pub height: ValueKey,
    /// Height of the frame's underside over the floor, m.
    pub sill: ValueKey,
    /// Middle of each opening along its side, m, from the left end seen from outside; empty: spread evenly.
    pub at: Vec<ValueKey>,
    /// Unit.
    pub unit: String,
    /// Where in the wall's depth it sits.
    pub set_in: SetIn,
    /// Movable shade outside.
    pub blind: Option<BlindPlan>,
    /// Overhang above.
    pub overhang: Option<ProjectionPlan>,
    /// Fin to the left, seen from outside.
    pub fin_left: Option<ProjectionPlan>,
    /// Fin to the right.
    pub fin_right: Option<ProjectionPlan>,
    /// Can be opened for airing.
    pub opens: bool,
}

/// Where in the wall's depth a unit sits.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum SetIn {
    /// Not said: the frame's middle lies in the middle of the thickest insulation, else of the wall.
    #[default]
    Unstated,
    /// Outside face of the frame behind the outside face of the wall, m.
    Depth(ValueKey),
    /// Frame's middle in the middle of the layer named.
    MiddleOf(String),
}

/// A movable shade.
#[derive(Clone, Debug, PartialEq)]
pub struct BlindPlan {
    /// Share of the sun that still comes in.
    pub factor: ValueKey,
    /// Lowered above this irradiance on the side, W/m².
    pub above: Option<ValueKey>,
    /// And when the room is warmer than this, °C.
    pub when_warmer_than: Option<ValueKey>,
}

/// An overhang or fin: a plate at right angles to the wall.
#[derive(Clone, Debug, PartialEq)]
pub struct ProjectionPlan {
    /// How far it stands out, m.
    pub depth: ValueKey,
    /// Gap between the opening's edge and the plate, m.
    pub gap: Option<ValueKey>,
    /// How far it runs past the opening on each side (overhang), m.
    pub extends: Option<ValueKey>,
}

/// A neighbouring building or wall that casts shade: a block on the ground.
#[derive(Clone, Debug, PartialEq)]
pub struct ShadePlan {
    /// What it is.
    pub name: String,
    /// Outline on the plan, m.
    pub outline: Outline,
    /// Top, m, in the levels of the job.
    pub top: ValueKey,
    /// Share of light it lets through (a tree); 0 when left out.
    pub transmits: Option<ValueKey>,
}

/// An element of the plain list.
#[derive(Clone, Debug, PartialEq)]
pub struct ListedElement {
    /// Name.
    pub name: String,
    /// Assembly.
    pub assembly: String,
    /// Net area, inside faces, m².
    pub area: ValueKey,
    /// Room it belongs to; `None`: the only one.
    pub space: Option<String>,
    /// What lies beyond.
    pub beyond: BeyondPlan,
    /// Plan azimuth it faces, degrees from plan-up.
    pub azimuth: Option<ValueKey>,
    /// Tilt, degrees from horizontal.
    pub tilt: Option<ValueKey>,
}

/// Linear transmittance of junctions.
#[derive(Clone, Debug, PartialEq)]
pub struct JunctionPlan {
    /// `corner`, `eaves`, or a pair `upper-wall / deck-roof`.
    pub what: String,
    /// W/(m·K).
    pub psi: Option<ValueKey>,
    /// Length in place of the derived one, m.
    pub length: Option<ValueKey>,
}
