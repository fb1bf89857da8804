//! Ventilation, heating, cooling, hot water.

use crate::calendar::Rule;
use crate::stated::{Rating, ValueKey};

/// A ventilation unit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct VentilationPlan {
    /// Name.
    pub name: String,
    /// Room it stands in.
    pub space: Option<String>,
    /// Modes, the one that holds otherwise first.
    pub modes: Vec<VentilationMode>,
    /// Recovery ratio of moisture, for every mode that has none of its own.
    pub moisture_recovery: Option<ValueKey>,
    /// Fan energy, Wh/m³, for every mode that has none of its own.
    pub power: Option<ValueKey>,
    /// Procedure behind the recovery ratios.
    pub rating: Option<Rating>,
    /// Bypass of the heat exchanger.
    pub bypass: Option<BypassPlan>,
    /// Demand control.
    pub demand: Option<DemandPlan>,
    /// Rooms with a CO2 sensor.
    pub sensors: Vec<String>,
    /// Air terminals by mode.
    pub terminals: Vec<TerminalPlan>,
    /// Share of the supply air that comes over from the extract side, by the maker's test.
    pub exhaust_transfer: Option<ValueKey>,
    /// Sound by room and speed.
    pub sound: Vec<super::SoundPlan>,
}

/// One speed of a unit.
#[derive(Clone, Debug, PartialEq)]
pub struct VentilationMode {
    /// Name, such as `lessons`.
    pub name: String,
    /// Supply flow, m³/s.
    pub supply: ValueKey,
    /// Extract flow, m³/s; as supply when left out.
    pub extract: Option<ValueKey>,
    /// Recovery ratio of temperature at this flow.
    pub temperature_recovery: Option<ValueKey>,
    /// Recovery ratio of moisture at this flow.
    pub moisture_recovery: Option<ValueKey>,
    /// Fan energy at this flow, Wh/m³.
    pub power: Option<ValueKey>,
    /// When it runs; the first mode needs none. Later modes win.
    pub when: Vec<ModeWhen>,
}

/// When a mode runs.
#[derive(Clone, Debug, PartialEq)]
pub enum ModeWhen {
    /// By the calendar.
    Calendar(Rule),
    /// While a gathering lasts, by name.
    Gathering(String),
}

/// When the heat exchanger is bypassed.
#[derive(Clone, Debug, PartialEq)]
pub struct BypassPlan {
    /// Extract air above this, °C.
    pub extract_above: ValueKey,
    /// Only while the outdoor air is cooler than the extract air.
    pub only_when_outdoors_cooler: bool,
}

/// Demand control by CO2.
#[derive(Clone, Debug, PartialEq)]
pub struct DemandPlan {
    /// Room of the sensor.
    pub sensor: String,
    /// Ramp starts, ppm.
    pub from: ValueKey,
    /// Ramp ends at the highest mode's flow, ppm.
    pub to: ValueKey,
}

/// Air of one room in one mode.
#[derive(Clone, Debug, PartialEq)]
pub struct TerminalPlan {
    /// Mode.
    pub mode: String,
    /// True for supply.
    pub supply: bool,
    /// Room; `None`: what the others leave is spread over the remaining rooms.
    pub space: Option<String>,
    /// m³/s.
    pub flow: ValueKey,
}

/// A piece of plant.
#[derive(Clone, Debug, PartialEq)]
pub struct PlantPlan {
    /// Name.
    pub name: String,
    /// What it is.
    pub kind: PlantKind,
    /// Room or zone it serves or stands in.
    pub place: Option<String>,
    /// Heating capacity, W.
    pub heating: Option<ValueKey>,
    /// Cooling capacity, sensible and latent together, W.
    pub cooling: Option<ValueKey>,
    /// Sensible share of the cooling capacity.
    pub sensible_share: Option<ValueKey>,
    /// Heat over electricity, mean of the year.
    pub seasonal_heating: Option<ValueKey>,
    /// Cold over electricity, mean of the year.
    pub seasonal_cooling: Option<ValueKey>,
    /// Primary energy for one unit of delivered energy.
    pub primary_factor: Option<ValueKey>,
}

/// What a piece of plant is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PlantKind {
    /// Heat-pump head that heats and cools the room air.
    HeatPumpHead,
    /// Electric resistance.
    ElectricHeater,
    /// Boiler or stove.
    Boiler,
    /// Heat-pump water heater.
    HeatPumpWaterHeater,
    /// Other water heater.
    WaterHeater,
    /// Dehumidifier.
    Dehumidifier,
}

/// Hot water drawn and kept.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HotWaterPlan {
    /// Tank volume, m³.
    pub tank_volume: Option<ValueKey>,
    /// Drawn each open day, m³.
    pub draw_per_day: Option<ValueKey>,
    /// Rise, K.
    pub rise: Option<ValueKey>,
    /// Standing loss of a day, J.
    pub standing_loss_per_day: Option<ValueKey>,
    /// Heat over electricity.
    pub factor: Option<ValueKey>,
    /// Room of the tank.
    pub space: Option<String>,
    /// Plant that heats it, by name.
    pub plant: Option<String>,
}
