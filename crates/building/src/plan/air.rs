//! What is still to be holed or closed before the last test, and what burns.

use crate::stated::ValueKey;

/// A hole still to be made, or a leak that will be gone, between today's reading and the last test.
#[derive(Clone, Debug, PartialEq)]
pub struct AheadPlan {
    /// What it is, in the builder's words.
    pub what: String,
    /// Flow at the reference pressure, m³/s.
    pub flow: ValueKey,
    /// True for a leak of today that will be gone by then.
    pub goes: bool,
    /// Stage in which it is made or closed; it counts until that stage is past.
    pub stage: Option<String>,
}

/// Something that burns.
#[derive(Clone, Debug, PartialEq)]
pub struct AppliancePlan {
    /// Name.
    pub name: String,
    /// What it is.
    pub kind: ApplianceKind,
    /// Room or neighbour it stands in, by name.
    pub place: String,
    /// True when it takes its air by a duct of its own, closed to the room.
    pub own_air: bool,
    /// What is blown out of the place while it burns (hood, draught fan), m³/s.
    pub exhaust: Option<ValueKey>,
}

/// What burns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ApplianceKind {
    /// Kiln fired with gas, oil or wood, or electric with a hood.
    Kiln,
    /// Open fireplace.
    Fireplace,
    /// Closed stove.
    Stove,
    /// Boiler.
    Boiler,
    /// Water heater with a flue.
    WaterHeater,
    /// Cooking with gas.
    Range,
}

impl ApplianceKind {
    /// All with their words in the book.
    pub const ALL: [(&'static str, Self); 6] = [
        ("kiln", Self::Kiln),
        ("fireplace", Self::Fireplace),
        ("stove", Self::Stove),
        ("boiler", Self::Boiler),
        ("water heater", Self::WaterHeater),
        ("range", Self::Range),
    ];

    /// Its word.
    pub fn word(self) -> &'static str {
        Self::ALL.iter().find(|(_, kind)| *kind == self).map_or("kiln", |(word, _)| word)
    }
}

/// Sound of a unit in a room at one speed, from its maker's data.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundPlan {
    /// Mode.
    pub mode: String,
    /// Room.
    pub room: String,
    /// Sound pressure level, dB(A).
    pub level_db: f64,
}
