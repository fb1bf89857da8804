//! The model: what follows from the plan. Immutable; every uncertain number is a [`ValueKey`](crate::ValueKey),
//! every number that geometry computes is a plain `f64` (shape is taken at its nominal size; its spread is carried by
//! the counting rules).

mod fabric;
mod parts;
mod shape;
mod usage;

pub use fabric::*;
pub use parts::*;
pub use shape::*;
pub use usage::*;

use crate::calendar::Calendar;
use crate::control::Gap;
use crate::plan;
use crate::stated::StatedValues;

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
    /// Holes still to be made and leaks that will be gone before the last test.
    pub ahead: Vec<plan::AheadPlan>,
    /// What burns, here and next door.
    pub appliances: Vec<plan::AppliancePlan>,
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
    /// Plant of other layouts that the owner weighs against the drawn one; no run uses it unasked.
    pub plant_options: Vec<plan::PlantPlan>,
    /// Hot water.
    pub hot_water: plan::HotWaterPlan,
    /// Electricity made, kept and paid for.
    pub electricity: plan::ElectricityPlan,
    /// Joints as stated.
    pub joints: Vec<plan::JointPlan>,
    /// Products that join, as stated.
    pub products: Vec<plan::ProductPlan>,
    /// How rain water leaves, as stated.
    pub drainage: plan::DrainagePlan,
    /// Where a control layer is not closed.
    pub gaps: Vec<Gap>,
    /// Limits of this job that differ from their sets.
    pub limits: Vec<plan::LimitOverride>,
    /// Activities on site.
    pub works: Vec<plan::WorkPlan>,
}
