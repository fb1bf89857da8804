//! The model: what follows from the plan. Immutable; every uncertain number is a [`ValueKey`], every number that
//! geometry computes is a plain `f64` (shape is taken at its nominal size; its spread is carried by the counting rules).

use std::ops::Range;

use crate::calendar::{Calendar, Profile, Rule, TimeSpan};
use crate::control::{ControlKind, Gap};
use crate::geometry::Polygon;
use crate::plan;
use crate::stated::{Rating, StatedValues, ValueKey};

/// Index newtypes: which list of [`Building`] a number points into.
macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub usize);
    )*};
}

ids!(
    /// Place in [`Building::materials`].
    MaterialId,
    /// Place in [`Building::assemblies`].
    AssemblyId,
    /// Place in [`Building::units`].
    UnitId,
    /// Place in [`Building::storeys`].
    StoreyId,
    /// Place in [`Building::spaces`].
    SpaceId,
    /// Place in [`Building::zones`].
    ZoneId,
    /// Place in [`Building::neighbours`].
    NeighbourId,
    /// Place in [`Building::elements`].
    ElementId,
    /// Place in [`Building::openings`].
    OpeningId,
    /// Place in [`Building::junctions`].
    JunctionId,
    /// Place in [`Building::penetrations`].
    PenetrationId,
    /// Place in [`Building::gatherings`].
    GatheringId
);

/// A building, derived from its plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Building {
    /// Name and manner of the job.
    pub project: plan::ProjectFacts,
    /// Where it stands.
    pub site: Site,
    /// Every number.
    pub values: StatedValues,
    /// Materials in use.
    pub materials: Vec<Material>,
    /// Assemblies in use.
    pub assemblies: Vec<Assembly>,
    /// Window and door units in use.
    pub units: Vec<Unit>,
    /// Storeys, lowest first.
    pub storeys: Vec<Storey>,
    /// Rooms.
    pub spaces: Vec<Space>,
    /// Zones of the limits run, at least one, at most four.
    pub zones: Vec<Zone>,
    /// Neighbours outside the limits' boundary.
    pub neighbours: Vec<Neighbour>,
    /// Opaque elements, split by room and side.
    pub elements: Vec<Element>,
    /// Windows and doors, one by one.
    pub openings: Vec<Opening>,
    /// Where elements meet.
    pub junctions: Vec<Junction>,
    /// What passes through.
    pub penetrations: Vec<Penetration>,
    /// Holes through floors that join rooms.
    pub floor_openings: Vec<FloorOpening>,
    /// Things outside that cast shade.
    pub shades: Vec<Shade>,
    /// Free-standing beams and posts.
    pub obstructions: Vec<Obstruction>,
    /// Ground.
    pub ground: Ground,
    /// Airtightness of the whole.
    pub airtightness: Airtightness,
    /// Outside surfaces.
    pub surfaces: Surfaces,
    /// The year.
    pub calendar: Calendar,
    /// Everyday use.
    pub uses: Vec<Use>,
    /// Scheduled crowds.
    pub gatherings: Vec<Gathering>,
    /// Set points.
    pub set_points: SetPoints,
    /// Ventilation units.
    pub ventilation: Vec<Ventilation>,
    /// Heating, cooling, hot water plant as the book says.
    pub plant: Vec<plan::PlantPlan>,
    /// Hot water.
    pub hot_water: plan::HotWaterPlan,
    /// Joints as stated.
    pub joints: Vec<plan::JointPlan>,
    /// Where a control layer is not closed.
    pub gaps: Vec<Gap>,
    /// Limits of this job that differ from their sets.
    pub limits: Vec<plan::LimitOverride>,
    /// Activities on site.
    pub works: Vec<plan::WorkPlan>,
}

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
}

/// A material in use, every property stated.
#[derive(Clone, Debug, PartialEq)]
pub struct Material {
    /// Name as the book uses it.
    pub name: String,
    /// Library row it comes from or starts from.
    pub library: Option<String>,
    /// Family, for hatches.
    pub family: Option<matter::Family>,
    /// W/(m·K).
    pub conductivity: ValueKey,
    /// kg/m³.
    pub density: ValueKey,
    /// J/(kg·K).
    pub specific_heat: ValueKey,
    /// Vapour resistance factor, dry cup; `None`: vapour-tight, or without meaning.
    pub vapour_factor_dry: Option<ValueKey>,
    /// Vapour resistance factor, wet cup; `None` likewise.
    pub vapour_factor_wet: Option<ValueKey>,
    /// Water absorption coefficient, kg/(m²·s^0.5).
    pub absorption: Option<ValueKey>,
    /// Panel air permeability, m³/(h·m²) at the reference pressure.
    pub air_permeability: Option<ValueKey>,
}

/// An assembly in use.
#[derive(Clone, Debug, PartialEq)]
pub struct Assembly {
    /// Name.
    pub name: String,
    /// What it is for.
    pub place: plan::AssemblyPlace,
    /// Layers, outside to inside.
    pub layers: Vec<Layer>,
    /// Sum of the layers, m, at nominal size.
    pub thickness_m: f64,
    /// Separates fires.
    pub fire_rated: bool,
    /// Separates sound.
    pub sound_rated: bool,
    /// U as given, W/(m²·K), when no layers are known.
    pub transmittance: Option<ValueKey>,
    /// Correction, W/(m²·K).
    pub correction: Option<ValueKey>,
}

impl Assembly {
    /// Returns the places of the layers that keep something out.
    pub fn control_layers(&self, kind: ControlKind) -> impl Iterator<Item = usize> {
        self.layers
            .iter()
            .enumerate()
            .filter(move |(_, layer)| layer.controls.contains(&kind))
            .map(|(i, _)| i)
    }
}

/// One layer.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// Name inside the assembly.
    pub name: String,
    /// What it is.
    pub kind: LayerKind,
    /// m.
    pub thickness: ValueKey,
    /// Timber, steel or mortar through it.
    pub bridge: Option<Bridge>,
    /// What it keeps out.
    pub controls: Vec<ControlKind>,
    /// Was there before.
    pub existing: bool,
    /// Pipes and wires may run here.
    pub service_cavity: bool,
}

/// Solid or air.
#[derive(Clone, Debug, PartialEq)]
pub enum LayerKind {
    /// A material.
    Solid(MaterialId),
    /// An air space.
    Air {
        /// How the outside air gets in.
        ventilation: plan::AirSpace,
        /// Emissivity of the reflective face.
        low_emissivity: Option<ValueKey>,
    },
}

/// Something through a layer.
#[derive(Clone, Debug, PartialEq)]
pub struct Bridge {
    /// Material.
    pub material: MaterialId,
    /// Share of area.
    pub share: ValueKey,
    /// Grid: layers of an assembly with the same number are bridged by the same path, others independently.
    pub grid: usize,
}

/// A window or door unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Unit {
    /// Name.
    pub name: String,
    /// What it is.
    pub about: String,
    /// How its heat loss is known.
    pub thermal: UnitThermal,
    /// Solar gain at normal incidence.
    pub solar: UnitSolar,
    /// Panes.
    pub panes: u8,
    /// Width of the frame's face, m.
    pub frame_face: ValueKey,
    /// Depth of the frame across the wall, m.
    pub frame_depth: ValueKey,
    /// Opaque share of the area inside the frame (doors).
    pub opaque_share: Option<ValueKey>,
    /// Procedure behind the figures.
    pub rating: Option<Rating>,
    /// m³/(h·m²) at the reference pressure.
    pub air_leakage: Option<ValueKey>,
}

/// How a unit's heat loss is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum UnitThermal {
    /// Glazing, frame and edge apart: U follows for each size (ISO 10077-1).
    Parts {
        /// W/(m²·K).
        glazing: ValueKey,
        /// W/(m²·K).
        frame: ValueKey,
        /// W/(m·K).
        edge: ValueKey,
    },
    /// The whole as rated, at the rating's size.
    Whole(ValueKey),
}

/// How a unit's solar gain is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum UnitSolar {
    /// Of the glass alone.
    Glazing(ValueKey),
    /// Of the whole, frame included.
    Whole(ValueKey),
    /// None: an opaque door.
    None,
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

/// What an element is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ElementKind {
    /// Wall.
    Wall,
    /// Edge of a floor between two storeys, seen as wall.
    FloorBand,
    /// Roof or ceiling.
    Roof,
    /// Floor over something that is not ground.
    Floor,
    /// Floor on the ground.
    GroundFloor,
    /// Wall between two rooms.
    Partition,
    /// Floor between two rooms.
    InnerFloor,
}

/// An opaque element: one face of one room, to one thing beyond.
#[derive(Clone, Debug, PartialEq)]
pub struct Element {
    /// Name made of storey, side and room: `upper.S.studio-a`.
    pub name: String,
    /// Kind.
    pub kind: ElementKind,
    /// Assembly.
    pub assembly: AssemblyId,
    /// Room on its inner side.
    pub space: SpaceId,
    /// What lies beyond.
    pub beyond: Beyond,
    /// Storey, for the drawn ones.
    pub storey: Option<StoreyId>,
    /// Place of the side in [`Storey::sides`], for walls on a side.
    pub side: Option<usize>,
    /// Inside faces, m², openings included.
    pub gross_m2: f64,
    /// Inside faces, m², openings taken out.
    pub net_m2: f64,
    /// Outside faces, m², openings taken out (edges of floors and corners included).
    pub net_outside_m2: f64,
    /// Azimuth of the outward normal, degrees from true north; 0 for level ones.
    pub azimuth_deg: f64,
    /// Tilt of the outward normal: 0 up, 90 sideways, 180 down.
    pub tilt_deg: f64,
    /// Openings in it.
    pub openings: Vec<OpeningId>,
    /// Exposed perimeter of a ground floor, m.
    pub exposed_perimeter_m: f64,
    /// Depth below ground, m: of a ground floor, or mean of a wall against ground.
    pub depth_below_ground_m: f64,
    /// Height of its middle over the ground outside, m.
    pub mid_height_m: f64,
    /// Corners in space (x, y on plan, z up), m, for drawing; empty for listed elements.
    pub outline_m: Vec<[f64; 3]>,
    /// Part of the enclosure that a pressure test sees (its air barrier).
    pub in_enclosure: bool,
}

/// One window or door.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// Name.
    pub name: String,
    /// Kind.
    pub kind: plan::OpeningKind,
    /// Element it sits in.
    pub element: ElementId,
    /// Room.
    pub space: SpaceId,
    /// Unit.
    pub unit: UnitId,
    /// Frame width, m.
    pub width_m: f64,
    /// Frame height, m.
    pub height_m: f64,
    /// Underside of the frame over the floor, m.
    pub sill_m: f64,
    /// Middle along the side, m, from its left end seen from outside (outside faces).
    pub at_m: f64,
    /// Azimuth, degrees from true north.
    pub azimuth_deg: f64,
    /// Tilt, degrees.
    pub tilt_deg: f64,
    /// Frame area, m².
    pub area_m2: f64,
    /// Area of the glass (or panel) inside the frame, m².
    pub glass_m2: f64,
    /// Its edge, m.
    pub glass_edge_m: f64,
    /// Wall face outside to frame's outer face, m.
    pub reveal_outside_m: f64,
    /// Frame's inner face to wall face inside, m.
    pub reveal_inside_m: f64,
    /// Fixed shading around it.
    pub shading: Shading,
    /// Movable shade.
    pub blind: Option<plan::BlindPlan>,
    /// Can be opened for airing.
    pub opens: bool,
    /// Height of its middle over the ground outside, m.
    pub mid_height_m: f64,
    /// Middle of the frame in space, m.
    pub centre_m: [f64; 3],
}

/// Fixed shading around an opening, m; 0 where there is none.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shading {
    /// How far the head (reveal or overhang) stands before the glass.
    pub overhang_depth_m: f64,
    /// From the top of the glass to the overhang.
    pub overhang_gap_m: f64,
    /// How far the left jamb or fin stands before the glass.
    pub left_depth_m: f64,
    /// From the glass to it.
    pub left_gap_m: f64,
    /// How far the right jamb or fin stands before the glass.
    pub right_depth_m: f64,
    /// From the glass to it.
    pub right_gap_m: f64,
}

/// Kind of junction (words of ISO 14683, and ours for parties).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum JunctionKind {
    /// Two walls, corner standing out.
    Corner,
    /// Two walls, corner standing in.
    InnerCorner,
    /// Floor between storeys at an outside wall.
    FloorEdge,
    /// Floor over a neighbour or the open at an outside wall.
    PartyFloorEdge,
    /// Ground floor at a wall: plinth, base of wall.
    Plinth,
    /// Eaves: sloped roof at its low edge.
    Eaves,
    /// Verge, rake.
    Verge,
    /// Ridge.
    Ridge,
    /// High edge of a shed roof.
    HighEaves,
    /// Flat roof at a wall, with or without parapet.
    RoofEdge,
    /// Party wall at outside wall, floor or roof.
    PartyLine,
    /// Wall of an upper storey on the roof of a lower one.
    RoofStep,
    /// Edge of a floor hole or of an inner floor at a party boundary.
    InnerFloorEdge,
    /// Inside wall at the roof.
    PartitionRoof,
    /// Inside wall at a floor over ground, neighbour or the open.
    PartitionFloor,
    /// Inside wall at an outside wall.
    PartitionWall,
    /// Head of an opening.
    Head,
    /// Jamb, reveal.
    Jamb,
    /// Sill.
    Sill,
    /// Threshold of a door.
    Threshold,
}

impl JunctionKind {
    /// Its word in ids and in the book.
    pub fn word(self) -> &'static str {
        match self {
            Self::Corner => "corner",
            Self::InnerCorner => "inner corner",
            Self::FloorEdge => "floor edge",
            Self::PartyFloorEdge => "party floor edge",
            Self::Plinth => "plinth",
            Self::Eaves => "eaves",
            Self::Verge => "verge",
            Self::Ridge => "ridge",
            Self::HighEaves => "high eaves",
            Self::RoofEdge => "roof edge",
            Self::PartyLine => "party line",
            Self::RoofStep => "roof step",
            Self::InnerFloorEdge => "inner floor edge",
            Self::PartitionRoof => "partition at roof",
            Self::PartitionFloor => "partition at floor",
            Self::PartitionWall => "partition at wall",
            Self::Head => "head",
            Self::Jamb => "jamb",
            Self::Sill => "sill",
            Self::Threshold => "threshold",
        }
    }
}

/// A line where two elements meet.
#[derive(Clone, Debug, PartialEq)]
pub struct Junction {
    /// Stable name: `upper.roof edge.S`.
    pub name: String,
    /// Kind.
    pub kind: JunctionKind,
    /// First assembly (or the wall of an opening).
    pub first: AssemblyId,
    /// Second; `None` for openings.
    pub second: Option<AssemblyId>,
    /// Opening, for its four edges.
    pub opening: Option<OpeningId>,
    /// Room that feels it; the largest share when several.
    pub space: SpaceId,
    /// What lies beyond.
    pub beyond: Beyond,
    /// Length along inside faces, m.
    pub length_m: f64,
    /// Linear transmittance, W/(m·K), for lengths and areas by inside faces.
    pub psi: Option<ValueKey>,
    /// Place of the joint in [`Building::joints`] that carries the control layers across.
    pub joint: Option<usize>,
    /// Ends of its line in space, m, for drawing.
    pub line_m: Vec<[f64; 3]>,
}

/// What passes through an element.
#[derive(Clone, Debug, PartialEq)]
pub struct Penetration {
    /// As the plan says.
    pub plan: plan::PenetrationPlan,
    /// Assembly.
    pub through: AssemblyId,
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

/// Ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ground {
    /// W/(m·K).
    pub conductivity: ValueKey,
    /// J/(m³·K).
    pub volumetric_heat: ValueKey,
}

/// Airtightness of the whole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Airtightness {
    /// 1/h at the reference pressure, on the certification-style volume.
    pub expected: ValueKey,
    /// Exponent.
    pub exponent: ValueKey,
    /// m³/s to neighbours at the reference pressure; `None` when it has no party boundary or nobody said.
    pub party: Option<ValueKey>,
    /// Pa.
    pub reference_pressure: ValueKey,
}

/// Outside surfaces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surfaces {
    /// Solar absorptance of walls.
    pub wall_absorptance: ValueKey,
    /// Solar absorptance of roofs.
    pub roof_absorptance: ValueKey,
    /// Long-wave emissivity of walls.
    pub wall_emissivity: ValueKey,
    /// Long-wave emissivity of roofs.
    pub roof_emissivity: ValueKey,
    /// Albedo of the ground in front.
    pub ground_reflectance: ValueKey,
}

/// What one person gives off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Person {
    /// W.
    pub sensible: ValueKey,
    /// W.
    pub latent: ValueKey,
    /// m³/s of CO2.
    pub co2: ValueKey,
}

/// Everyday use, laid out over the year.
#[derive(Clone, Debug, PartialEq)]
pub struct Use {
    /// Name.
    pub name: String,
    /// Rooms.
    pub spaces: Vec<SpaceId>,
    /// Share of each room by floor area, in the order of [`Self::spaces`]; sums to 1.
    pub shares: Vec<f64>,
    /// Heads in all rooms together.
    pub people: Profile<ValueKey>,
    /// What each gives off.
    pub person: Person,
    /// Most people at once.
    pub peak: Option<ValueKey>,
    /// Equipment and light, W/m² of those rooms.
    pub power_density: Profile<ValueKey>,
    /// Equipment and light, W in all rooms together.
    pub power: Profile<ValueKey>,
    /// W/m² whenever [`Self::power_density`] has none, closed days included.
    pub standby: Option<ValueKey>,
}

/// A scheduled crowd, laid out over the year.
#[derive(Clone, Debug, PartialEq)]
pub struct Gathering {
    /// Name.
    pub name: String,
    /// What it is called.
    pub label: String,
    /// Room.
    pub space: SpaceId,
    /// As written.
    pub rule: Rule,
    /// Days of the year it happens, from 0; closed days left out.
    pub days: Vec<usize>,
    /// Hours.
    pub span: TimeSpan,
    /// Interval, when the room empties.
    pub interval: Option<TimeSpan>,
    /// Heads.
    pub people: ValueKey,
    /// What each gives off.
    pub person: Person,
    /// Light and equipment, W/m² of the room.
    pub power_density: Option<ValueKey>,
    /// Posted occupant load.
    pub posted_load: Option<u32>,
}

impl Gathering {
    /// Returns the quarter-hours of one day of it, as a range of quarter-hours of the year.
    pub fn quarters_of_day(&self, day: usize) -> Range<usize> {
        let start = day * crate::calendar::QUARTERS_A_DAY;
        start + usize::from(self.span.from_minute / 15)..start + usize::from(self.span.to_minute / 15)
    }
}

/// Set points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SetPoints {
    /// °C.
    pub heating: ValueKey,
    /// °C.
    pub cooling: ValueKey,
    /// kg/kg.
    pub dehumidify_above: ValueKey,
    /// °C, for counting warm hours.
    pub warm_above: ValueKey,
}

/// A ventilation unit, laid out over the year.
#[derive(Clone, Debug, PartialEq)]
pub struct Ventilation {
    /// Name.
    pub name: String,
    /// Room it stands in.
    pub space: Option<SpaceId>,
    /// Modes, the one that holds otherwise first.
    pub modes: Vec<Mode>,
    /// Place in [`Self::modes`] for each quarter-hour of the year.
    pub running: Vec<u8>,
    /// Procedure behind the recovery ratios.
    pub rating: Option<Rating>,
    /// Bypass.
    pub bypass: Option<plan::BypassPlan>,
    /// Demand control.
    pub demand: Option<plan::DemandPlan>,
    /// Rooms with a CO2 sensor.
    pub sensors: Vec<SpaceId>,
}

/// One speed of a unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Mode {
    /// Name.
    pub name: String,
    /// m³/s.
    pub supply: ValueKey,
    /// m³/s.
    pub extract: ValueKey,
    /// Ratio.
    pub temperature_recovery: ValueKey,
    /// Ratio.
    pub moisture_recovery: ValueKey,
    /// Wh/m³.
    pub power: ValueKey,
    /// Share of the supply flow by room; sums to 1.
    pub supply_shares: Vec<(SpaceId, f64)>,
    /// Share of the extract flow by room; sums to 1.
    pub extract_shares: Vec<(SpaceId, f64)>,
}
