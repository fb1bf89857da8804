//! The limits a moisture verdict is held against, as data: value, meaning, and how each is known.

/// One limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Threshold {
    /// Stable key.
    pub id: &'static str,
    /// Value, in `unit`.
    pub value: f64,
    /// Unit.
    pub unit: &'static str,
    /// What it means, in words.
    pub meaning: &'static str,
    /// Where it comes from.
    pub source: &'static str,
    /// True when it was read there; false when recalled from memory.
    pub seen: bool,
}

const fn row(
    id: &'static str,
    value: f64,
    unit: &'static str,
    meaning: &'static str,
    source: &'static str,
) -> Threshold {
    Threshold { id, value, unit, meaning, source, seen: false }
}

/// Mould index on a surface people see.
pub const MOULD_VISIBLE: Threshold =
    row("mould.visible", 1.0, "index", "no growth on a surface in view", "common practice, no source");
/// Mould index on a surface inside the construction.
pub const MOULD_HIDDEN: Threshold = row(
    "mould.hidden",
    3.0,
    "index",
    "no visible growth inside the construction",
    "ASHRAE 160-2016 clause 6.1",
);
/// Wood moisture to watch.
pub const WOOD_WATCH: Threshold = row(
    "wood.watch",
    0.20,
    "kg/kg",
    "wood stays below the range where trouble begins",
    "common practice, no source",
);
/// Wood moisture of decay.
pub const WOOD_DECAY: Threshold =
    row("wood.decay", 0.26, "kg/kg", "decay fungi can grow when warm enough", "common practice, no source");
/// Days a year above the watch line that are let pass.
pub const WOOD_WATCH_DAYS: Threshold =
    row("wood.watch.days", 60.0, "days", "short damp spells dry again", "judgement");
/// Drying reserve of walls.
pub const RESERVE_WALL: Threshold = row(
    "reserve.wall",
    0.100,
    "kg/m²",
    "a wall can dry this much more than it condenses",
    "DIN 4108-3:2018 clause 5.3",
);
/// Drying reserve of roofs.
pub const RESERVE_ROOF: Threshold = row(
    "reserve.roof",
    0.250,
    "kg/m²",
    "a roof can dry this much more than it condenses",
    "DIN 4108-3:2018 clause 5.3",
);
/// Liquid that stands at an interface.
pub const FILM: Threshold = row(
    "liquid.film",
    0.010,
    "kg/m²",
    "no water runs or pools at an interface",
    "judgement: about a dew film",
);
/// Growth of water content from year to year.
pub const ACCUMULATION: Threshold =
    row("water.yearly", 0.01, "kg/kg", "the water in the wall does not grow from year to year", "judgement");
/// Temperature at which pore water of masonry counts as frozen.
pub const FROST: Threshold = row(
    "frost.temperature",
    -2.0,
    "°C",
    "pore water freezes a little below 0 °C",
    "common practice, no source",
);

/// Returns every limit.
pub fn all() -> [Threshold; 10] {
    [
        MOULD_VISIBLE,
        MOULD_HIDDEN,
        WOOD_WATCH,
        WOOD_DECAY,
        WOOD_WATCH_DAYS,
        RESERVE_WALL,
        RESERVE_ROOF,
        FILM,
        ACCUMULATION,
        FROST,
    ]
}
