//! What a simulated year says: demands, peaks, balances by cause, comfort, gatherings, electricity.
//!
//! Everything is SI and serialisable: energies in J, powers in W, water in kg, temperatures in °C, times in hours of
//! the year from 0. Views convert for display. Start at [`YearResult`]; [`Balance`] is the account of heat by cause.

mod leaks;

pub use leaks::{LeakAir, NeighbourAir};

use serde::{Serialize, Serializer};

use crate::services::EnergyYear;

/// Joules of a kilowatt-hour.
pub const J_PER_KWH: f64 = 3.6e6;

/// Whose assumptions about people and machines a year is run with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Use {
    /// The limit set's standard assumption ([`crate::StandardUse`]).
    Standard,
    /// As the building will really be used: the book's people, gatherings and equipment.
    Real,
}

impl Use {
    /// Its word in findings.
    pub fn word(self) -> &'static str {
        match self {
            Self::Standard => "standard",
            Self::Real => "real",
        }
    }
}

/// How finely rooms are told apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Grain {
    /// Rooms merged into the book's zones, at most four.
    Limits,
    /// Every room by itself, at most thirty-two.
    Rooms,
}

/// Reference sizes by one counting rule.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Counted {
    /// Rule's id.
    pub rule: String,
    /// Reference floor area, m².
    pub floor_area_m2: f64,
    /// Volume, m³.
    pub volume_m3: f64,
    /// Enclosure, m².
    pub enclosure_m2: f64,
}

/// Useful heat, cold and drying over some time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Demand {
    /// Heat given by the plant, J.
    pub heating_j: f64,
    /// Sensible heat taken by the plant, J.
    pub cooling_sensible_j: f64,
    /// Heat of evaporation of the water taken by drying, J.
    pub drying_j: f64,
    /// Water taken by drying, kg.
    pub dried_kg: f64,
}

impl Demand {
    /// Returns sensible cold and drying together, J.
    pub fn cooling_j(&self) -> f64 {
        self.cooling_sensible_j + self.drying_j
    }

    /// Adds another zone's or time's demand.
    pub fn add(&mut self, other: &Self) {
        self.heating_j += other.heating_j;
        self.cooling_sensible_j += other.cooling_sensible_j;
        self.drying_j += other.drying_j;
        self.dried_kg += other.dried_kg;
    }
}

/// Declares the causes of a balance.
macro_rules! causes {
    ($($(#[$doc:meta])* $variant:ident = $word:literal),* $(,)?) => {
        /// What brings heat into a zone or takes it out.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Cause { $($(#[$doc])* $variant),* }

        impl Cause {
            /// All of them, in the order of the balance.
            pub const ALL: [Self; [$($word),*].len()] = [$(Self::$variant),*];

            /// Its plain word.
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),* }
            }
        }
    };
}

causes! {
    /// Through outer walls and opaque doors.
    Walls = "walls",
    /// Through roofs.
    Roof = "roof",
    /// Through floors and walls to the ground.
    Ground = "ground",
    /// Through floors and walls to neighbours.
    Neighbours = "neighbours",
    /// Through windows by conduction.
    Windows = "windows",
    /// Through joints: linear and point bridges, window installation included.
    Joints = "joints",
    /// Sun through windows that stayed inside.
    Sun = "sun",
    /// Sensible heat of people.
    People = "people",
    /// Lights and equipment, and what the hot water tank gives or takes.
    Equipment = "lights and equipment",
    /// Air through leaks.
    Infiltration = "infiltration",
    /// Ventilation after recovery.
    Ventilation = "ventilation",
    /// Windows opened.
    Airing = "airing",
    /// Air and heat exchanged with other zones; zero for the whole.
    OtherZones = "other zones",
    /// Heat of the plant.
    Heating = "heating",
    /// Heat taken by the plant (negative).
    Cooling = "cooling",
    /// Heat given back by the mass (negative when stored).
    Storage = "storage",
}

/// Heat by cause over some time, J; gains positive, losses negative. All causes add up to zero.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Balance(pub [f64; Cause::ALL.len()]);

impl Balance {
    /// Returns the heat of one cause, J.
    pub fn get(&self, cause: Cause) -> f64 {
        self.0[cause as usize]
    }

    /// Adds to one cause.
    pub fn add_to(&mut self, cause: Cause, heat_j: f64) {
        self.0[cause as usize] += heat_j;
    }

    /// Adds another zone or time.
    pub fn add(&mut self, other: &Self) {
        for (mine, theirs) in self.0.iter_mut().zip(&other.0) {
            *mine += theirs;
        }
    }

    /// Brings what zones exchange to ventilation, once zones are added up: conduction between zones then cancels, and
    /// what is left is the heat of air that was supplied to one zone and extracted from another.
    pub fn join_zones(&mut self) {
        let exchanged = self.get(Cause::OtherZones);
        self.add_to(Cause::OtherZones, -exchanged);
        self.add_to(Cause::Ventilation, exchanged);
    }

    /// Returns causes with their heat, J, in fixed order.
    pub fn causes(&self) -> impl Iterator<Item = (Cause, f64)> + '_ {
        Cause::ALL.into_iter().zip(self.0)
    }

    /// Returns what does not close, J: rounding.
    pub fn residual_j(&self) -> f64 {
        self.0.iter().sum()
    }

    /// Returns the sum of all flows without their signs, J.
    pub fn gross_j(&self) -> f64 {
        self.0.iter().map(|heat| heat.abs()).sum()
    }
}

impl Serialize for Balance {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.causes().map(|(cause, heat)| (cause.word(), heat)))
    }
}

/// Outdoor state of an hour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct OutdoorState {
    /// Mean temperature of the hour, °C.
    pub temperature_c: f64,
    /// Humidity ratio, kg/kg.
    pub humidity_kg_kg: f64,
    /// Wind at the station, m/s.
    pub wind_m_s: f64,
    /// Sun on the level, W/m².
    pub global_w_m2: f64,
}

/// A greatest power, when it came and what asked for it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct PeakLoad {
    /// Mean power of the hour (or day), W.
    pub power_w: f64,
    /// Hour of the year it began, from 0.
    pub hour: usize,
    /// Hours it is the mean of: 1 or 24.
    pub over_h: usize,
    /// Outdoors in that time, mean.
    pub outdoor: OutdoorState,
    /// Heat of the whole by cause in that time, J: elements by what their inside faces took, so that storage is only that
    /// of air and inside mass.
    pub balance: Balance,
}

/// Greatest loads of the simulated year.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Peaks {
    /// Greatest hourly heating.
    pub heating: PeakLoad,
    /// Greatest hourly sensible cooling.
    pub cooling: PeakLoad,
    /// Greatest daily mean of heating.
    pub heating_day: PeakLoad,
    /// Greatest daily mean of sensible cooling.
    pub cooling_day: PeakLoad,
}

/// How warm and how humid it was.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Comfort {
    /// Threshold of warm hours, °C operative.
    pub warm_above_c: f64,
    /// Hours above it.
    pub warm_hours: f64,
    /// Threshold of cool hours, °C operative: the heating set point less 1 K.
    pub cool_below_c: f64,
    /// Hours below it.
    pub cool_hours: f64,
    /// Threshold of humid hours, kg/kg.
    pub humid_above_kg_kg: f64,
    /// Hours above it.
    pub humid_hours: f64,
    /// Warmest operative temperature, °C.
    pub warmest_c: f64,
    /// Its hour.
    pub warmest_hour: usize,
    /// Coolest operative temperature, °C.
    pub coolest_c: f64,
    /// Its hour.
    pub coolest_hour: usize,
    /// Highest humidity ratio, kg/kg.
    pub dampest_kg_kg: f64,
    /// Its hour.
    pub dampest_hour: usize,
}

/// One month of a zone or of the whole.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct MonthResult {
    /// Demand.
    pub demand: Demand,
    /// Heat by cause.
    pub balance: Balance,
    /// Mean operative temperature, °C; the whole's is weighted by floor area.
    pub mean_operative_c: f64,
    /// Mean humidity ratio, kg/kg.
    pub mean_kg_kg: f64,
    /// Hours above the warm threshold; of the whole: the zones' weighted by floor area.
    pub warm_hours: f64,
    /// Hours above the humid threshold, likewise.
    pub humid_hours: f64,
}

/// A day of a zone, for charts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct DayResult {
    /// Lowest operative temperature, °C.
    pub lowest_c: f64,
    /// Mean.
    pub mean_c: f64,
    /// Highest.
    pub highest_c: f64,
    /// Mean humidity ratio, kg/kg.
    pub mean_kg_kg: f64,
    /// Highest CO2, ppm.
    pub highest_co2_ppm: f64,
    /// Mean heating power, W.
    pub heating_w: f64,
    /// Mean sensible cooling power, W.
    pub cooling_w: f64,
}

/// One zone's year.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ZoneResult {
    /// Name: of the zone, or of the room in a rooms run.
    pub name: String,
    /// Rooms in it, by name.
    pub spaces: Vec<String>,
    /// Net floor area, m².
    pub area_m2: f64,
    /// Air volume, m³.
    pub volume_m3: f64,
    /// The year's demand.
    pub demand: Demand,
    /// Months.
    pub months: Vec<MonthResult>,
    /// Greatest hourly heating power, W, and its hour.
    pub heating_peak_w: f64,
    /// Hour of it.
    pub heating_peak_hour: usize,
    /// Greatest hourly sensible cooling power, W.
    pub cooling_peak_w: f64,
    /// Hour of it.
    pub cooling_peak_hour: usize,
    /// Comfort.
    pub comfort: Comfort,
    /// 365 days.
    pub days: Vec<DayResult>,
}

/// One evening, step by step.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Trace {
    /// Day of the year, from 0.
    pub day: usize,
    /// Minute of that day at which the first value stands (may be negative: the evening before).
    pub first_minute: i32,
    /// Minutes between values.
    pub step_minutes: f64,
    /// CO2, ppm, at the ends of steps.
    pub co2_ppm: Vec<f64>,
    /// Operative temperature, °C.
    pub operative_c: Vec<f64>,
    /// Humidity ratio, kg/kg.
    pub kg_kg: Vec<f64>,
    /// Outdoor air supplied to the zone, m³/s.
    pub supply_m3_s: Vec<f64>,
    /// People in the room.
    pub people: Vec<f64>,
}

/// What a gathering did to its room.
///
/// The zone is taken as well mixed; where the zone holds more rooms than the gathering's own, the room shut off from
/// them is warmer and richer in CO2 than told here. `shut_*` is the room alone, exact for well-mixed air.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct GatheringResult {
    /// Name.
    pub name: String,
    /// What it is called.
    pub label: String,
    /// Room.
    pub space: String,
    /// Zone that holds it in this run.
    pub zone: String,
    /// Times a year.
    pub occurrences: usize,
    /// Heads.
    pub people: f64,
    /// CO2 of all, m³/s.
    pub co2_m3_s: f64,
    /// Outdoor air supplied to the room while it lasts, mean, m³/s.
    pub supply_m3_s: f64,
    /// Outdoor air that room, crowd and floor need by ASHRAE 62.1, m³/s.
    pub required_m3_s: f64,
    /// Kind of space whose rate that is.
    pub required_rate: String,
    /// Highest CO2 the room shut off would show with the air required, from 600 ppm, ppm.
    pub required_peak_ppm: f64,
    /// Highest CO2 of all occurrences in the simulated zone, ppm.
    pub co2_peak_ppm: f64,
    /// Day of it, from 0.
    pub co2_peak_day: usize,
    /// Minute of that day.
    pub co2_peak_minute: u32,
    /// Mean over occurrences of each one's highest CO2, ppm.
    pub co2_mean_peak_ppm: f64,
    /// Highest CO2 of the room shut off, from 600 ppm at the start, with the whole of its supply, ppm.
    pub shut_peak_ppm: f64,
    /// What the room shut off would tend to if people stayed, ppm.
    pub shut_steady_ppm: f64,
    /// Warmest operative temperature of all occurrences, °C.
    pub warmest_c: f64,
    /// Day of it.
    pub warmest_day: usize,
    /// Highest humidity ratio, kg/kg.
    pub dampest_kg_kg: f64,
    /// The occurrence with the highest CO2, from two hours before to two hours after.
    pub worst: Trace,
}

/// One mode of a ventilation unit over the year.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ModeResult {
    /// Name.
    pub name: String,
    /// Hours it runs.
    pub hours: f64,
    /// Supply, m³/s.
    pub supply_m3_s: f64,
    /// Extract, m³/s.
    pub extract_m3_s: f64,
    /// Recovery ratio of temperature.
    pub temperature_recovery: f64,
    /// Recovery ratio of moisture.
    pub moisture_recovery: f64,
    /// Fan energy, Wh/m³.
    pub power_wh_m3: f64,
}

/// Ventilation over the year.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct VentilationResult {
    /// Mean supply, m³/s.
    pub mean_supply_m3_s: f64,
    /// Mean flow through leaks from outdoors and neighbours, by the heat balance's rule, m³/s.
    pub mean_infiltration_m3_s: f64,
    /// Mean recovery ratio of temperature, weighted by flow, bypass not counted.
    pub mean_temperature_recovery: f64,
    /// Fan energy, Wh/m³, mean by flow.
    pub mean_power_wh_m3: f64,
    /// Modes of all units.
    pub modes: Vec<ModeResult>,
}

/// What electricity is used for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum EndUse {
    /// Heating.
    Heating,
    /// Cooling and drying.
    Cooling,
    /// Ventilation fans.
    Fans,
    /// Hot water.
    HotWater,
    /// Lights and equipment.
    Equipment,
}

impl EndUse {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Heating, Self::Cooling, Self::Fans, Self::HotWater, Self::Equipment];

    /// Its plain words.
    pub fn word(self) -> &'static str {
        match self {
            Self::Heating => "heating",
            Self::Cooling => "cooling and drying",
            Self::Fans => "ventilation fans",
            Self::HotWater => "hot water",
            Self::Equipment => "lights and plugs",
        }
    }
}

/// Delivered and primary energy of one end use in a year.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EndUseResult {
    /// End use.
    pub end_use: EndUse,
    /// What is delivered: `electricity` or `fuel`.
    pub carrier: String,
    /// Useful heat or cold, J; equal to the delivered energy where there is no conversion.
    pub useful_j: f64,
    /// Useful over delivered: the seasonal factor.
    pub factor: f64,
    /// Where the factor comes from.
    pub factor_source: String,
    /// Delivered, J.
    pub delivered_j: f64,
    /// Primary energy for a unit delivered.
    pub primary_factor: f64,
    /// Primary energy, J.
    pub primary_j: f64,
}

/// Energy delivered in a year from an ideal plant with stated seasonal factors.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct EnergyResult {
    /// By end use.
    pub end_uses: Vec<EndUseResult>,
    /// Electricity, J.
    pub electricity_j: f64,
    /// Primary energy, J.
    pub primary_j: f64,
}

/// Hot water of a year.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct HotWaterResult {
    /// Drawn, J.
    pub drawn_j: f64,
    /// Standing loss, J.
    pub standing_loss_j: f64,
    /// Heat over electricity.
    pub factor: f64,
    /// Electricity, J.
    pub electricity_j: f64,
    /// Heat taken from the room of the tank, net of the standing loss, J.
    pub from_room_j: f64,
}

/// One month by the monthly method.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct MonthlyMonth {
    /// Mean outdoors, °C.
    pub outdoor_c: f64,
    /// Losses at the heating set point, J.
    pub losses_j: f64,
    /// Sun, J.
    pub solar_j: f64,
    /// Internal gains, J.
    pub internal_j: f64,
    /// Utilisation of the gains for heating.
    pub gain_utilisation: f64,
    /// Utilisation of the losses for cooling.
    pub loss_utilisation: f64,
    /// Heating demand, J.
    pub heating_j: f64,
    /// Sensible cooling demand, J.
    pub cooling_sensible_j: f64,
}

/// The same year by the monthly method ([`crate::monthly`]).
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct MonthlyMethod {
    /// Transmission to outdoors with joints, W/K.
    pub transmission_w_k: f64,
    /// Effective heat capacity, J/K.
    pub capacity_j_k: f64,
    /// Heating demand, J.
    pub heating_j: f64,
    /// Sensible cooling demand, J; zero without cooling plant.
    pub cooling_sensible_j: f64,
    /// January to December.
    pub months: Vec<MonthlyMonth>,
}

/// The year without cooling and drying plant.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Uncooled {
    /// Hours above the warm threshold, zones weighted by floor area.
    pub warm_hours: f64,
    /// Hours above the humid threshold, likewise.
    pub humid_hours: f64,
}

/// A simulated year of a building.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct YearResult {
    /// Use.
    pub use_case: Use,
    /// Grain.
    pub grain: Grain,
    /// Weather: the place and what the file is.
    pub climate: String,
    /// Sizes by each counting rule; the certification-style rule first.
    pub counted: Vec<Counted>,
    /// The year's demand of the whole.
    pub demand: Demand,
    /// Months of the whole.
    pub months: Vec<MonthResult>,
    /// Greatest loads.
    pub peaks: Peaks,
    /// Comfort of the whole: hours are the zones' weighted by floor area, extremes those of the area-weighted mean.
    pub comfort: Comfort,
    /// Zones or rooms.
    pub zones: Vec<ZoneResult>,
    /// Gatherings, in the book's order; empty under standard use.
    pub gatherings: Vec<GatheringResult>,
    /// Ventilation.
    pub ventilation: VentilationResult,
    /// Air through leaks.
    pub leaks: LeakAir,
    /// Delivered and primary energy.
    pub energy: EnergyResult,
    /// Hot water.
    pub hot_water: HotWaterResult,
    /// The machines over the year, month by month.
    pub machines: EnergyYear,
    /// Daily mean outdoor temperature, °C, for charts.
    pub outdoor_days_c: Vec<f64>,
    /// Heating load: larger mean heating power of the design days, W.
    pub design_heating_load_w: f64,
    /// Days of the year, from 0, on which heating is sized: cold and clear, cold and overcast.
    pub design_days: Vec<usize>,
    /// The same by the monthly method.
    pub monthly: MonthlyMethod,
    /// The same without cooling and drying; absent where the book has no such plant.
    pub uncooled: Option<Uncooled>,
    /// Share of the hours with people that are warm, zones weighted by floor area.
    pub occupied_warm_share: f64,
    /// Greatest heat that does not close, over zones and periods, over their gross flow.
    pub closure: f64,
    /// What the run took for granted, one sentence each.
    pub notes: Vec<String>,
}

impl YearResult {
    /// Returns the sizes by a rule.
    pub fn counted_by(&self, rule: &str) -> Option<&Counted> {
        self.counted.iter().find(|counted| counted.rule == rule)
    }

    /// Returns the year's heat by cause of the whole.
    pub fn balance(&self) -> Balance {
        let mut sum = Balance::default();
        for month in &self.months {
            sum.add(&month.balance);
        }
        sum
    }

    /// Returns an end use.
    pub fn end_use(&self, end_use: EndUse) -> Option<&EndUseResult> {
        self.energy.end_uses.iter().find(|row| row.end_use == end_use)
    }
}
