//! People, equipment, gatherings, set points.

use crate::calendar::{Rule, TimeSpan};
use crate::stated::ValueKey;

/// What one person gives off.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PersonPlan {
    /// Name, such as `adult`.
    pub name: String,
    /// W.
    pub sensible: Option<ValueKey>,
    /// W.
    pub latent: Option<ValueKey>,
    /// CO2, m³/s.
    pub co2: Option<ValueKey>,
}

/// Everyday use of some rooms.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct UsePlan {
    /// Name.
    pub name: String,
    /// Days.
    pub days: Rule,
    /// People by hours of the day.
    pub people: Vec<(TimeSpan, ValueKey)>,
    /// Most people at once; for fresh air, not for heat.
    pub peak: Option<ValueKey>,
    /// Kind of person; the first of the book when left out.
    pub person: Option<String>,
    /// Equipment and light, W/m² of the rooms' floor, by hours.
    pub power_density: Vec<(TimeSpan, ValueKey)>,
    /// Equipment and light, W, by hours.
    pub power: Vec<(TimeSpan, ValueKey)>,
    /// W/m² the rest of the time, every day.
    pub standby: Option<ValueKey>,
    /// Rooms; empty: all.
    pub spaces: Vec<String>,
    /// Days on which the use ends early.
    pub ends: Vec<UseEnd>,
}

/// A use that ends early on some days.
#[derive(Clone, Debug, PartialEq)]
pub struct UseEnd {
    /// The days.
    pub on: UseEndDays,
    /// When it ends then, minutes of the day; `None` on days of a gathering: at the gathering's start.
    pub at_minute: Option<u16>,
}

/// Which days.
#[derive(Clone, Debug, PartialEq)]
pub enum UseEndDays {
    /// Days of a gathering, by name.
    Gathering(String),
    /// Days of the calendar.
    Days(Rule),
}

/// A scheduled crowd.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GatheringPlan {
    /// Name.
    pub name: String,
    /// What it is called.
    pub label: String,
    /// Room.
    pub space: String,
    /// Days and hours.
    pub when: Rule,
    /// Interval: the crowd leaves the room.
    pub interval: Option<TimeSpan>,
    /// Heads.
    pub people: Option<ValueKey>,
    /// Kind of person.
    pub person: Option<String>,
    /// CO2 of one, m³/s, when it differs.
    pub co2: Option<ValueKey>,
    /// Light and equipment of the room while it lasts, W/m².
    pub power_density: Option<ValueKey>,
    /// Posted occupant load, by the code official.
    pub posted_load: Option<u32>,
}

/// Set points.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SetPointPlan {
    /// °C.
    pub heating: Option<ValueKey>,
    /// °C.
    pub cooling: Option<ValueKey>,
    /// Dried above this humidity ratio, kg/kg.
    pub dehumidify_above: Option<ValueKey>,
    /// Counted as too warm above, °C.
    pub warm_above: Option<ValueKey>,
}
