//! What the book says, close to its text: names and stated values, nothing computed.
//!
//! Whoever reads the book fills a [`Plan`]; [`crate::Building::derive`] computes the rest. Optional fields are things
//! a builder may leave out; `derive` then states a default with its row in `data/defaults.toml`. Names are the
//! builder's own and are matched exactly.

mod air;
mod fabric;
mod joints;
mod services;
mod shape;
mod usage;

pub use air::*;
pub use fabric::*;
pub use joints::*;
pub use services::*;
pub use shape::*;
pub use usage::*;

use crate::calendar::{CalendarPlan, Date};
use crate::stated::{StatedValues, ValueKey};

/// The book, read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plan {
    /// Every number the book states.
    pub values: StatedValues,
    /// What the job is called and how it is shown.
    pub project: ProjectFacts,
    /// Where it stands.
    pub site: SitePlan,
    /// The builder's own materials; others come from the library by name.
    pub materials: Vec<MaterialPlan>,
    /// Layered assemblies.
    pub assemblies: Vec<AssemblyPlan>,
    /// Window and door units.
    pub units: Vec<UnitPlan>,
    /// Storeys, in any order.
    pub storeys: Vec<StoreyPlan>,
    /// Rooms; a storey without any is one room.
    pub spaces: Vec<SpacePlan>,
    /// Holes through a floor that join two rooms.
    pub floor_openings: Vec<FloorOpeningPlan>,
    /// Rooms and buildings outside the limits' boundary.
    pub neighbours: Vec<NeighbourPlan>,
    /// Windows and doors.
    pub openings: Vec<OpeningPlan>,
    /// Elements given as a plain list with areas, beside or instead of storeys.
    pub listed_elements: Vec<ListedElement>,
    /// Extra loss at the joint between window and wall.
    pub install: InstallPlan,
    /// Linear transmittances by kind of junction or by pair.
    pub junctions: Vec<JunctionPlan>,
    /// Who carries the control layers across where two elements meet.
    pub joints: Vec<JointPlan>,
    /// Products that join.
    pub products: Vec<ProductPlan>,
    /// How rain water leaves.
    pub drainage: DrainagePlan,
    /// What passes through.
    pub penetrations: Vec<PenetrationPlan>,
    /// Things outside that cast shade.
    pub shades: Vec<ShadePlan>,
    /// Ground under and beside the building.
    pub ground: GroundPlan,
    /// How tight the whole is expected to be.
    pub airtightness: AirtightnessPlan,
    /// Holes still to be made and leaks that will be gone before the last test.
    pub ahead: Vec<AheadPlan>,
    /// What burns, here and next door.
    pub appliances: Vec<AppliancePlan>,
    /// Colours of the outside.
    pub surfaces: SurfacePlan,
    /// Thermal zones of the limits run, by name; spaces name theirs. Empty: one zone.
    pub zones: Vec<ZonePlan>,
    /// What one person gives off.
    pub people: Vec<PersonPlan>,
    /// Everyday use.
    pub uses: Vec<UsePlan>,
    /// Scheduled crowds.
    pub gatherings: Vec<GatheringPlan>,
    /// Days of the year.
    pub calendar: CalendarPlan,
    /// Set points.
    pub set_points: SetPointPlan,
    /// Ventilation units.
    pub ventilation: Vec<VentilationPlan>,
    /// Heating, cooling and hot water.
    pub plant: Vec<PlantPlan>,
    /// Hot water drawn.
    pub hot_water: HotWaterPlan,
    /// Electricity made, kept and paid for.
    pub electricity: ElectricityPlan,
    /// Activities on site.
    pub works: Vec<WorkPlan>,
    /// Limits of this job that differ from the sets named in [`ProjectFacts::limits`].
    pub limits: Vec<LimitOverride>,
}

/// Name and manner of the job.
#[derive(Clone, Debug, PartialEq)]
pub struct ProjectFacts {
    /// What the job is called.
    pub name: String,
    /// One sentence about it.
    pub about: String,
    /// True when everything in it is made up.
    pub invented: bool,
    /// How results are shown.
    pub units: quantity::System,
    /// Which side of the Atlantic the words come from.
    pub words: Words,
    /// Limit sets, by name or by file; later ones override earlier ones.
    pub limits: Vec<String>,
    /// Present stage, by name.
    pub stage: String,
    /// Stages in their order, when they differ from the usual ones.
    pub stages: Vec<String>,
    /// Day the book speaks of; results never depend on the clock.
    pub today: Option<Date>,
}

impl Default for ProjectFacts {
    fn default() -> Self {
        Self {
            name: String::new(),
            about: String::new(),
            invented: false,
            units: quantity::System::Us,
            words: Words::Us,
            limits: Vec::new(),
            stage: "survey".to_owned(),
            stages: USUAL_STAGES.iter().map(|&stage| stage.to_owned()).collect(),
            today: None,
        }
    }
}

/// The usual stages of a job, in order. A job may rename, drop or reorder them.
pub const USUAL_STAGES: [&str; 11] = [
    "survey",
    "design",
    "order",
    "repair",
    "barrier",
    "rough-in",
    "insulate",
    "close-in",
    "test",
    "commission",
    "in use",
];

/// Whose words: rake or verge, base of wall or plinth, jamb return or reveal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Words {
    /// American trade words.
    #[default]
    Us,
    /// British trade words.
    Uk,
}

/// Where the building stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SitePlan {
    /// Degrees north.
    pub latitude: Option<ValueKey>,
    /// Degrees east.
    pub longitude: Option<ValueKey>,
    /// Metres above the sea.
    pub elevation: Option<ValueKey>,
    /// Weather: a file of the project folder, or a year that is built in.
    pub climate: String,
    /// Roughness of the surroundings.
    pub terrain: Terrain,
    /// Azimuth of plan-up, degrees clockwise from true north.
    pub north: Option<ValueKey>,
    /// Class of climate, for limits that depend on it (`warm humid`, `cool temperate`, ...).
    pub climate_class: Option<String>,
    /// Level of the ground outside, metres in the levels of the storeys; 0 when left out.
    pub ground_level: Option<ValueKey>,
    /// Rain of a year, mm; hours of rain are made up from it where the weather year carries none.
    pub rain: Option<ValueKey>,
}

/// Roughness of the surroundings, for wind.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Terrain {
    /// Open water or plain.
    Open,
    /// Fields with hedges, scattered buildings.
    Country,
    /// Suburb, village, wood.
    #[default]
    Suburb,
    /// Centre of a town.
    Town,
}

/// A limit of this job that differs from its set.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitOverride {
    /// Id of the row, such as `cooling-demand`.
    pub id: String,
    /// New value; `None` drops nothing but the words.
    pub value: Option<ValueKey>,
    /// Why it differs.
    pub source: Option<String>,
    /// True to leave the row out altogether.
    pub dropped: bool,
}

/// An activity on site.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WorkPlan {
    /// What is done.
    pub activity: String,
    /// By whom.
    pub trade: String,
    /// First day.
    pub start: Option<Date>,
    /// Working days it takes.
    pub days: u32,
    /// Plan items it touches.
    pub touches: Vec<String>,
    /// Plan items it covers for good.
    pub covers: Vec<String>,
    /// Activities that come before.
    pub after: Vec<String>,
    /// Stage it belongs to.
    pub stage: Option<String>,
}
