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
    /// How ice is kept out of the exchanger.
    pub frost: Option<FrostPlan>,
}

/// Frost protection of a unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FrostPlan {
    /// What is done.
    pub kind: FrostKind,
    /// Below this outdoor temperature, °C.
    pub below: ValueKey,
}

/// What keeps ice out of the exchanger.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FrostKind {
    /// Outdoor air is warmed by resistance.
    Preheat,
    /// Supply is throttled.
    ReduceSupply,
    /// Extract air is mixed in.
    Recirculate,
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
#[derive(Clone, Debug, Default, PartialEq)]
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
    /// Rated points; with them the seasonal factors give way to hour-by-hour figures.
    pub points: Vec<RatedPointPlan>,
    /// Least share of its capacity at which it runs without cycling.
    pub least_share: Option<ValueKey>,
    /// Outdoor temperature below which it does not heat, °C.
    pub cut_out: Option<ValueKey>,
    /// Resistance backup, W.
    pub backup: Option<ValueKey>,
    /// Another layout that it belongs to; `None` is the drawn one.
    pub option: Option<String>,
}

/// A rated point of a heat pump.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RatedPointPlan {
    /// Heating, else cooling.
    pub heating: bool,
    /// Outdoor air, °C.
    pub outdoor: ValueKey,
    /// Room air, °C.
    pub indoor: Option<ValueKey>,
    /// Heat or cold, W.
    pub capacity: ValueKey,
    /// Electric power, W.
    pub power: ValueKey,
}

/// What a piece of plant is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PlantKind {
    /// Heat-pump head that heats and cools the room air.
    #[default]
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
    /// Where a heat pump takes its heat from.
    pub source: WaterSource,
    /// Water wanted in the tank, °C.
    pub set_point: Option<ValueKey>,
    /// Against legionella: the whole tank at this, °C, and how often, s.
    pub disinfection: Option<(ValueKey, ValueKey)>,
    /// Loss of a circulation loop and of pipes, W.
    pub loop_loss: Option<ValueKey>,
}

/// Where a water heater's heat pump takes its heat from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum WaterSource {
    /// The room it stands in.
    #[default]
    Room,
    /// Outdoor air through a duct, thrown out again.
    Duct,
    /// A machine outdoors.
    Outdoors,
}

/// Electricity made, kept and paid for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ElectricityPlan {
    /// Solar arrays.
    pub solar: Vec<SolarPlan>,
    /// Battery.
    pub battery: Option<BatteryPlan>,
    /// What it costs.
    pub tariff: Option<TariffPlan>,
    /// Set of primary energy factors, by the beginning of its name.
    pub factors: Option<String>,
}

/// A solar array.
#[derive(Clone, Debug, PartialEq)]
pub struct SolarPlan {
    /// Name.
    pub name: String,
    /// Peak power, W.
    pub peak: ValueKey,
    /// Slope, degrees.
    pub tilt: ValueKey,
    /// Direction it faces, degrees clockwise from true north.
    pub azimuth: ValueKey,
}

/// A battery.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BatteryPlan {
    /// J.
    pub capacity: ValueKey,
    /// W.
    pub power: ValueKey,
    /// There and back.
    pub efficiency: Option<ValueKey>,
}

/// A tariff.
#[derive(Clone, Debug, PartialEq)]
pub struct TariffPlan {
    /// Currency as written.
    pub currency: String,
    /// Price of a kWh, whenever no band holds.
    pub price: ValueKey,
    /// Paid for a kWh sold.
    pub sold: Option<ValueKey>,
    /// Standing charge of a month.
    pub standing: Option<ValueKey>,
    /// Bands; the last that holds counts.
    pub bands: Vec<PriceBandPlan>,
}

/// A price that holds at times.
#[derive(Clone, Debug, PartialEq)]
pub struct PriceBandPlan {
    /// Name.
    pub name: String,
    /// Price of a kWh.
    pub price: ValueKey,
    /// When it holds.
    pub when: Rule,
}
