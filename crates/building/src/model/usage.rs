//! People, gatherings, set points, ventilation, laid out over the year.

use std::ops::Range;

use super::SpaceId;
use crate::calendar::{Profile, Rule, TimeSpan};
use crate::plan;
use crate::stated::{Rating, ValueKey};

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
    /// Share of the supply air that comes over from the extract side.
    pub exhaust_transfer: Option<ValueKey>,
    /// Sound by room and speed, from the maker's data.
    pub sound: Vec<plan::SoundPlan>,
    /// How ice is kept out of the exchanger.
    pub frost: Option<plan::FrostPlan>,
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
