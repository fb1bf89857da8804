//! What the kernel takes: [`Drivers`] that every sample shares, and a [`Model`] with one sample's numbers.
//!
//! Both are plain arrays. A run in lanes takes one `Drivers` and several `Model`s of the same structure: the same
//! zones, elements, windows, leaks and air modes in the same order, with other numbers in them.

use fabric::transient::ModalElement;

/// Temperature and humidity of something outside the zones: soil, or a neighbour's room; one value an hour.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GivenSeries {
    /// Temperature, °C, hour by hour.
    pub temperature_c: Vec<f64>,
    /// Humidity ratio of its air, kg/kg, hour by hour; empty where no air comes from it.
    pub humidity_kg_kg: Vec<f64>,
    /// CO2 of its air, ppm.
    pub co2_ppm: f64,
}

/// What an outside surface of one orientation sees, hour by hour.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Surroundings {
    /// Sun on the surface (beam, sky and ground, shading included), W/m².
    pub irradiance_w_m2: Vec<f64>,
    /// Mean radiant temperature of sky, ground and what stands around, °C.
    pub radiant_c: Vec<f64>,
}

/// Sun through one kind of glass in one place, per square metre of glass, hour by hour.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Aperture {
    /// Sun on the glass, W/m²; blinds act on it.
    pub incident_w_m2: Vec<f64>,
    /// Sun let through, W/m².
    pub transmitted_w_m2: Vec<f64>,
    /// Heat absorbed in the panes that flows inward, W/m².
    pub inward_w_m2: Vec<f64>,
}

/// Heat and vapour that a machine standing in a zone gives, hour by hour: a water heater that takes its heat from the room
/// gives less than nothing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MachineHeat {
    /// Zone it stands in.
    pub zone: usize,
    /// To the air, W.
    pub heat_w: Vec<f64>,
    /// Vapour, kg/s.
    pub vapour_kg_s: Vec<f64>,
}

/// What people and machines do in one zone, at one state of use.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ZoneUse {
    /// Sensible heat of people, W.
    pub people_w: f64,
    /// Vapour of people and their doings, kg/s.
    pub vapour_kg_s: f64,
    /// CO2 of people, m³/s.
    pub co2_m3_s: f64,
    /// Heat of equipment, W.
    pub equipment_w: f64,
    /// Heat of lights, W.
    pub lights_w: f64,
    /// Lowest controlled temperature, °C; `f64::NEG_INFINITY` switches heating off.
    pub heat_above_c: f64,
    /// Highest controlled temperature, °C; `f64::INFINITY` switches cooling off.
    pub cool_below_c: f64,
    /// Highest humidity ratio, kg/kg; `f64::INFINITY` switches drying off.
    pub dry_below_kg_kg: f64,
    /// Lowest humidity ratio, kg/kg; zero or less switches humidifying off.
    pub moisten_above_kg_kg: f64,
}

impl ZoneUse {
    /// Nobody, nothing, no plant.
    pub const FREE: Self = Self {
        people_w: 0.0,
        vapour_kg_s: 0.0,
        co2_m3_s: 0.0,
        equipment_w: 0.0,
        lights_w: 0.0,
        heat_above_c: f64::NEG_INFINITY,
        cool_below_c: f64::INFINITY,
        dry_below_kg_kg: f64::INFINITY,
        moisten_above_kg_kg: 0.0,
    };
}

/// One state of use of the whole building. A year has few of them; each step names one.
#[derive(Clone, Debug, PartialEq)]
pub struct UseState {
    /// One row a zone.
    pub zones: Vec<ZoneUse>,
    /// Index into [`Model::air_modes`].
    pub air_mode: usize,
    /// Whether somebody is there to open windows.
    pub airing: bool,
}

/// A stretch of steps in one zone whose CO2 and temperature peaks are wanted: a gathering.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Watch {
    /// Zone index.
    pub zone: usize,
    /// First step of the year.
    pub from_step: usize,
    /// One past the last step.
    pub to_step: usize,
}

/// CO2 of the outdoor air, ppm (about 2022's mean of the free air, rounded; towns are some tens above).
pub const OUTDOOR_CO2_PPM: f64 = 420.0;

/// Everything that samples share: weather, sun, neighbours and the calendar.
#[derive(Clone, Debug, PartialEq)]
pub struct Drivers {
    /// Steps an hour, at least one.
    pub steps_per_hour: usize,
    /// Hours simulated.
    pub hours: usize,
    /// Mean outdoor air temperature of each step, °C.
    pub outdoor_c: Vec<f64>,
    /// Mean outdoor humidity ratio of each step, kg/kg.
    pub outdoor_kg_kg: Vec<f64>,
    /// Outdoor CO2, ppm.
    pub outdoor_co2_ppm: f64,
    /// Air pressure, Pa: sets air density and the vapour pressure behind a humidity ratio.
    pub pressure_pa: f64,
    /// Wind speed at the weather station, m/s, hour by hour.
    pub wind_m_s: Vec<f64>,
    /// What outside surfaces see, by orientation.
    pub surroundings: Vec<Surroundings>,
    /// Soil and neighbours.
    pub given: Vec<GivenSeries>,
    /// Sun through glass.
    pub apertures: Vec<Aperture>,
    /// Flows for [`LeakLaw::Hourly`].
    pub hourly_flows: HourlyFlows,
    /// Machines whose heat follows the hour, counted as equipment.
    pub machines: Vec<MachineHeat>,
    /// States of use.
    pub uses: Vec<UseState>,
    /// State of use of each step.
    pub use_of_step: Vec<u16>,
    /// Gatherings to watch, in the order of their beginnings.
    pub watches: Vec<Watch>,
    /// Hour at which each balance period ends, rising; the last is `hours`.
    pub bin_ends: Vec<usize>,
}

impl Drivers {
    /// Returns drivers without sun, wind or people, with one temperature and humidity for every step; free-running.
    pub fn constant(
        zones: usize,
        hours: usize,
        steps_per_hour: usize,
        outdoor_c: f64,
        outdoor_kg_kg: f64,
    ) -> Self {
        let steps = hours * steps_per_hour;
        Self {
            steps_per_hour,
            hours,
            outdoor_c: vec![outdoor_c; steps],
            outdoor_kg_kg: vec![outdoor_kg_kg; steps],
            outdoor_co2_ppm: OUTDOOR_CO2_PPM,
            pressure_pa: 101_325.0,
            wind_m_s: vec![0.0; hours],
            surroundings: Vec::new(),
            given: Vec::new(),
            apertures: Vec::new(),
            hourly_flows: HourlyFlows::default(),
            machines: Vec::new(),
            uses: vec![UseState { zones: vec![ZoneUse::FREE; zones], air_mode: 0, airing: false }],
            use_of_step: vec![0; steps],
            watches: Vec::new(),
            bin_ends: vec![hours],
        }
    }

    /// Returns the number of steps simulated.
    pub fn steps(&self) -> usize {
        self.hours * self.steps_per_hour
    }

    /// Returns the step length, s.
    pub fn step_s(&self) -> f64 {
        3600.0 / self.steps_per_hour as f64
    }
}

/// Hours at which the months of a 365-day year end.
pub const MONTH_ENDS_H: [usize; 12] = [744, 1416, 2160, 2880, 3624, 4344, 5088, 5832, 6552, 7296, 8016, 8760];

/// One face of an element in a zone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InsideFace {
    /// Zone index.
    pub zone: usize,
    /// Convective coefficient, W/(m²·K).
    pub convection_w_m2k: f64,
    /// Coefficient to the zone's radiant node, W/(m²·K); zero joins it to the air only.
    pub radiation_w_m2k: f64,
    /// Share of the zone's transmitted sun absorbed on this face (whole face, not per area).
    pub sun_share: f64,
    /// Share of the zone's radiant gains absorbed on this face.
    pub gain_share: f64,
}

/// Film at an outside face: `h_c = still + per_m_s · v`, v the station wind rounded to [`WIND_STEP_M_S`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutsideFilm {
    /// Convection in still air, W/(m²·K).
    pub still_w_m2k: f64,
    /// Growth with station wind, W/(m²·K) per m/s; carries terrain and height.
    pub per_m_s: f64,
    /// Coefficient to the surroundings' radiant temperature, W/(m²·K).
    pub radiation_w_m2k: f64,
}

/// Films are evaluated at the wind speed rounded to this, m/s: the factored coefficients are then shared by all
/// hours of a speed. Weather files state wind to 0.1 m/s, stations measure it to about 0.5 m/s.
pub const WIND_STEP_M_S: f64 = 0.25;

/// What lies behind an element.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Outside {
    /// Outdoor air, sun and sky.
    Air {
        /// Index into [`Drivers::surroundings`].
        surroundings: usize,
        /// Solar absorptance, 0..1.
        absorptance: f64,
        /// Film.
        film: OutsideFilm,
    },
    /// A given temperature behind a fixed film.
    Given {
        /// Index into [`Drivers::given`].
        series: usize,
        /// Film, W/(m²·K); [`NO_FILM_W_M2K`] holds the face itself at the temperature.
        film_w_m2k: f64,
    },
    /// Another zone.
    Zone(InsideFace),
    /// No heat passes: the middle of something symmetric.
    Adiabatic,
}

/// A film so good that the face takes the given temperature, W/(m²·K). Adds 1e-6 m²·K/W.
pub const NO_FILM_W_M2K: f64 = 1e6;

/// Under which name an element's heat is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Part {
    /// Outer walls and doors.
    Walls,
    /// Roofs.
    Roof,
    /// Floors and walls to the ground.
    Ground,
    /// To neighbours' rooms.
    Party,
    /// Windows, by conduction.
    Windows,
    /// Between zones.
    Between,
    /// Inside mass.
    Mass,
}

impl Part {
    /// All parts, in the order of the balance.
    pub const ALL: [Self; 7] =
        [Self::Walls, Self::Roof, Self::Ground, Self::Party, Self::Windows, Self::Between, Self::Mass];
}

/// A plane element.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Element {
    /// Index into [`Model::assemblies`]; its inside is this element's inside.
    pub assembly: usize,
    /// Area, m².
    pub area_m2: f64,
    /// Its face in a zone.
    pub inside: InsideFace,
    /// What lies behind.
    pub outside: Outside,
    /// Where its heat is counted.
    pub part: Part,
}

/// A movable blind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blind {
    /// Goes down when the sun on the glass is above this, W/m², ...
    pub above_w_m2: f64,
    /// ... and the zone's operative temperature is above this, °C. Decided once an hour.
    pub above_c: f64,
    /// What is left of the sun when it is down, 0..1.
    pub factor: f64,
}

/// A window: its conduction is an [`Element`] of a massless assembly and [`Part::Windows`]; this is its sun.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Glass {
    /// Zone index.
    pub zone: usize,
    /// Index into [`Drivers::apertures`].
    pub aperture: usize,
    /// Glass area times whatever this sample's glass lets through relative to the aperture's, m².
    pub area_m2: f64,
    /// Convective share of the panes' inward heat, 0..1; the rest goes to the radiant node.
    pub inward_convective: f64,
    /// Movable blind.
    pub blind: Option<Blind>,
}

/// Where an air leak draws from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LeakFrom {
    /// Outdoors.
    Outdoors,
    /// Air of a neighbour, index into [`Drivers::given`].
    Given(usize),
}

/// How much air a leak lets in. Flows are volumes at inside conditions.
#[derive(Clone, Debug, PartialEq)]
pub enum LeakLaw {
    /// Always the same, m³/s.
    Constant(f64),
    /// Stack and wind in quadrature: `Q = c √((s |ΔT|)^(2n) + (w v²)^(2n))`, evaluated once an hour.
    StackWind {
        /// Leakage coefficient c, m³/(s·Paⁿ).
        coefficient: f64,
        /// Exponent n.
        exponent: f64,
        /// Driving pressure per kelvin between inside and outside s, Pa/K.
        stack_pa_k: f64,
        /// Driving pressure per squared station wind w, Pa/(m/s)².
        wind_pa_s2_m2: f64,
    },
    /// Flow that an air flow network found hour by hour on the nominal building; see [`HourlyFlow`].
    Hourly {
        /// Index into [`HourlyFlows::tables`].
        table: usize,
        /// This sample's leak to outdoors over the nominal one.
        factor: f64,
        /// Its leak to neighbours over the nominal one, over `factor`.
        party: f64,
    },
}

/// Temperature of the zones at which [`HourlyFlow`] holds, °C.
pub const FLOW_AT_C: f64 = 20.0;

/// Leaks to neighbours at which [`HourlyFlow`] was solved besides the nominal ones, over these.
pub const PARTY_TRIED: [f64; 2] = [0.7, 1.4];

/// Air coming in at one place, slot by slot (an hour in one air mode):
/// `Q = f (q + s (θ − 20 °C) + d(g)) + p ΔS`, never below zero, with the sample's leak to outdoors f and to neighbours g
/// of the leak, θ of its zone and ΔS of the air mode.
///
/// Leaks and fans grown alike leave the pressures alone, so `Q(f, f g, S) = f Q(1, g, S/f)`; p turns that into this line,
/// exact for small changes and where leaks or fans outweigh the other. d is a parabola
/// through the nominal leak and [`PARTY_TRIED`], straight beyond.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HourlyFlow {
    /// q, m³/s.
    pub flow_m3_s: Vec<f64>,
    /// s, m³/s per kelvin of the zone.
    pub per_k: Vec<f64>,
    /// p, m³/s per m³/s that is supplied beyond what is extracted, the whole building; not above zero. Empty where no
    /// sample asks.
    pub per_surplus: Vec<f64>,
    /// Changes of q at [`PARTY_TRIED`], m³/s. Empty where no sample asks or no neighbour exchanges air.
    pub party: [Vec<f64>; 2],
}

/// What an air flow network found, by slots: each hour has one for every air mode that runs in it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HourlyFlows {
    /// First slot of each hour, and the number of slots at the end; empty without tables.
    pub first: Vec<u32>,
    /// Air mode of each slot.
    pub mode: Vec<u16>,
    /// The tables.
    pub tables: Vec<HourlyFlow>,
}

impl HourlyFlows {
    /// Returns the slot of an hour in an air mode; `None` where it was not worked out.
    #[inline]
    pub fn slot(&self, hour: usize, mode: usize) -> Option<usize> {
        let (from, to) = (*self.first.get(hour)? as usize, *self.first.get(hour + 1)? as usize);
        (from..to).find(|slot| usize::from(self.mode[*slot]) == mode)
    }
}

/// Air let in at one zone without being asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Leak {
    /// Zone it enters.
    pub zone: usize,
    /// Where from.
    pub from: LeakFrom,
    /// How much.
    pub law: LeakLaw,
}

/// How the ventilation stands: flows and recovery. Which mode runs is part of the state of use.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AirMode {
    /// Outdoor air supplied to each zone, m³/s.
    pub supply_m3_s: Vec<f64>,
    /// Air extracted from each zone, m³/s; its mix passes the recovery.
    pub extract_m3_s: Vec<f64>,
    /// Air moved from one zone into another: (from, to, m³/s).
    pub between_m3_s: Vec<(usize, usize, f64)>,
    /// Recovery ratio of temperature, 0..1.
    pub recovery: f64,
    /// Recovery ratio of humidity ratio, 0..1.
    pub moisture_recovery: f64,
    /// Supply less extract of the whole beyond what [`HourlyFlows`] hold for, m³/s.
    pub surplus_beyond_m3_s: f64,
}

/// When the recovery is passed by: extract air above a temperature and outdoor air cooler than it. Decided once an
/// hour, and when the use changes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bypass {
    /// Extract air above this, °C.
    pub extract_above_c: f64,
    /// Outdoor air must be above this, °C, so that supply stays bearable.
    pub outdoor_above_c: f64,
}

/// Windows opened by people. Decided once an hour, and when the use changes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Airing {
    /// Flow while open, m³/s.
    pub flow_m3_s: f64,
    /// Opened when the zone's operative temperature is above this, °C, ...
    pub above_c: f64,
    /// ... and the outdoor air is cooler than the zone by this, K.
    pub cooler_by_k: f64,
}

/// Moisture taken up by inside surfaces: an effective-penetration-depth node.
///
/// Its relative humidity φ follows `capacity dφ/dt = conductance (p_zone − φ p_sat(θ_zone))`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Buffer {
    /// Moisture stored per unit of relative humidity, kg.
    pub capacity_kg: f64,
    /// Vapour conductance from the room air to the node, kg/(s·Pa).
    pub conductance_kg_s_pa: f64,
}

impl Buffer {
    /// Returns the node that answers a swing of one period as a thick material would, in size and phase.
    ///
    /// ```text
    /// d = √(δ p_sat τ / (π w'))      C = A w' d      1/G = (1/β + d/(2 δ)) / A
    /// ```
    /// | symbol | argument | unit |
    /// |---|---|---|
    /// | A | `area_m2` | m² |
    /// | w' | `slope_kg_m3`, water per unit of relative humidity | kg/m³ |
    /// | δ | `permeability_kg_mspa` | kg/(m·s·Pa) |
    /// | β | `surface_kg_m2spa` | kg/(m²·s·Pa) |
    /// | τ | `period_s` | s |
    /// | p_sat | `saturation_pa` | Pa |
    ///
    /// At that period the node equals the exact impedance `1/β + e^(−iπ/4)/√(δ w' ω / p_sat)`; at others it is a
    /// stand-in. Valid for constant temperature and material thicker than d.
    pub fn effective_penetration(
        area_m2: f64,
        slope_kg_m3: f64,
        permeability_kg_mspa: f64,
        surface_kg_m2spa: f64,
        period_s: f64,
        saturation_pa: f64,
    ) -> Self {
        let depth =
            (permeability_kg_mspa * saturation_pa * period_s / (std::f64::consts::PI * slope_kg_m3)).sqrt();
        Self {
            capacity_kg: area_m2 * slope_kg_m3 * depth,
            conductance_kg_s_pa: area_m2 / (1.0 / surface_kg_m2spa + depth / (2.0 * permeability_kg_mspa)),
        }
    }
}

/// A zone's own numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Zone {
    /// Air volume, m³.
    pub volume_m3: f64,
    /// Heat capacity on the air node: air and light furnishing, J/K.
    pub heat_capacity_j_k: f64,
    /// Linear and point bridges between this air and outdoor air, W/K.
    pub bridges_w_k: f64,
    /// Share of transmitted sun given to the air at once (light furnishing); what no face takes is lost outward.
    pub sun_to_air: f64,
    /// Where radiant gains go that no face's share takes.
    pub radiant_rest_to_air: bool,
    /// Radiant share of people's sensible heat, 0..1.
    pub people_radiant: f64,
    /// Radiant share of equipment's heat.
    pub equipment_radiant: f64,
    /// Radiant share of lights' heat.
    pub lights_radiant: f64,
    /// This sample's people over the calendar's.
    pub people_factor: f64,
    /// This sample's equipment and lights over the calendar's.
    pub equipment_factor: f64,
    /// Weight of the air temperature in the controlled temperature: 1 air, 0.5 operative.
    pub air_weight: f64,
    /// Greatest heating power, W.
    pub heating_limit_w: f64,
    /// Greatest sensible cooling power, W.
    pub cooling_limit_w: f64,
    /// Greatest drying, kg/s.
    pub drying_limit_kg_s: f64,
    /// Windows opened by people.
    pub airing: Option<Airing>,
    /// Moisture buffers: at most two (day and week).
    pub buffers: Vec<Buffer>,
    /// Vapour held by the air and things that follow it at once, over that held by the air alone; at least 1.
    pub vapour_capacity_factor: f64,
    /// Added to the use's heating set point by this sample, K.
    pub heating_shift_k: f64,
    /// Added to the use's cooling set point by this sample, K.
    pub cooling_shift_k: f64,
}

impl Zone {
    /// Returns a zone of air alone: operative control, gains half radiant, no bridges, limits, airing or buffers.
    pub fn of_air(volume_m3: f64, heat_capacity_j_k: f64) -> Self {
        Self {
            volume_m3,
            heat_capacity_j_k,
            bridges_w_k: 0.0,
            sun_to_air: 0.0,
            radiant_rest_to_air: false,
            people_radiant: 0.5,
            equipment_radiant: 0.5,
            lights_radiant: 0.5,
            people_factor: 1.0,
            equipment_factor: 1.0,
            air_weight: 0.5,
            heating_limit_w: f64::INFINITY,
            cooling_limit_w: f64::INFINITY,
            drying_limit_kg_s: f64::INFINITY,
            airing: None,
            buffers: Vec::new(),
            vapour_capacity_factor: 1.0,
            heating_shift_k: 0.0,
            cooling_shift_k: 0.0,
        }
    }
}

/// One sample's building, as the balance sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct Model {
    /// Assemblies, shared by elements.
    pub assemblies: Vec<ModalElement>,
    /// Zones.
    pub zones: Vec<Zone>,
    /// Elements.
    pub elements: Vec<Element>,
    /// Sun through windows.
    pub glass: Vec<Glass>,
    /// Leaks.
    pub leaks: Vec<Leak>,
    /// Ventilation modes; at least one.
    pub air_modes: Vec<AirMode>,
    /// When the recovery is passed by.
    pub bypass: Option<Bypass>,
    /// Heat capacity of a cubic metre of air, J/(m³·K).
    pub air_heat_j_m3k: f64,
    /// Mass of a cubic metre of (dry) air, kg/m³.
    pub air_density_kg_m3: f64,
    /// Temperature every zone and element starts with, °C, before the warm-up.
    pub initial_c: f64,
    /// Humidity ratio every zone starts with, kg/kg.
    pub initial_kg_kg: f64,
}

impl Model {
    /// Returns a model of zones without elements, leaks or ventilation, in air at sea level.
    pub fn of_zones(zones: Vec<Zone>) -> Self {
        let still = AirMode {
            supply_m3_s: vec![0.0; zones.len()],
            extract_m3_s: vec![0.0; zones.len()],
            ..AirMode::default()
        };
        Self {
            assemblies: Vec::new(),
            zones,
            elements: Vec::new(),
            glass: Vec::new(),
            leaks: Vec::new(),
            air_modes: vec![still],
            bypass: None,
            air_heat_j_m3k: 1.204 * 1006.0,
            air_density_kg_m3: 1.204,
            initial_c: 20.0,
            initial_kg_kg: 0.006,
        }
    }
}

/// What a run does beyond the demands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    /// Days run before the first hour, with the last days of the drivers.
    pub warm_up_days: usize,
    /// Follow vapour: humidity, drying, buffers.
    pub vapour: bool,
    /// Follow CO2.
    pub co2: bool,
    /// Operative temperature above which an hour counts as warm, °C.
    pub warm_above_c: f64,
    /// Humidity ratio above which an hour counts as humid, kg/kg.
    pub humid_above_kg_kg: f64,
    /// Keep every step of every zone (one lane at a time only).
    pub trace: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            warm_up_days: 21,
            vapour: true,
            co2: true,
            warm_above_c: 25.0,
            humid_above_kg_kg: 0.012,
            trace: false,
        }
    }
}
