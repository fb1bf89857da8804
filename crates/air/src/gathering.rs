//! A room full of people, minute by minute: CO2, vapour, temperature and flow, with demand control.
//!
//! The room is well mixed and may exchange air with one adjoining space through its doors. Start at [`Gathering::run`]; the
//! questions a builder asks (what fails first, how much air is needed, how many people) are in [`answers`]. Derivation
//! and limits: `docs/method/gathering.md`. Not here: the occupant load for egress, which is the code official's.

pub mod answers;

use crate::contaminant::{Network, Ramp};
use matter::moist_air;
use std::fmt;

/// Heat capacity of air, J/(kg·K), at the humidity of rooms.
const AIR_HEAT_J_KGK: f64 = 1006.0;
/// Density of room air, kg/m³, for heat and vapour carried by volume flows.
const AIR_DENSITY_KG_M3: f64 = 1.2;
/// Length of a step, s. Flow is constant within a step, the balances are exact within it.
const STEP_S: f64 = 10.0;
const STEPS_PER_MINUTE: usize = 6;

/// The room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Room {
    /// Air volume, m³.
    pub volume_m3: f64,
    /// Heat stored per kelvin by air, furniture and the first centimetres of surfaces, J/K.
    pub heat_capacity_j_k: f64,
    /// Heat lost to outside through the fabric, W/K.
    pub loss_w_k: f64,
    /// Cooling at hand above `cool_above_c`, W (sensible).
    pub cooling_w: f64,
    /// Cooling set point, °C.
    pub cool_above_c: f64,
}

/// The space beyond the doors, well mixed; its temperature is taken as steady.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Adjoining {
    /// Air volume, m³.
    pub volume_m3: f64,
    /// Outdoor air of its own, m³/h.
    pub flow_m3_h: f64,
    /// Temperature, °C.
    pub temperature_c: f64,
}

/// Returns the air a doorway exchanges each way between two rooms of unequal temperature, m³/h.
///
/// ```text
/// Q = C_d/3 · W·H · √(g·H·ΔT/T)
/// ```
/// with C_d = 0.6 and T about 295 K. Source: Brown and Solvason 1962, from memory; people walking through add to it.
/// # Example
/// ```
/// let pair = air::gathering::door_exchange_m3_h(1.8, 2.1, 2.0);
/// assert!((pair - 1017.0).abs() < 5.0);
/// ```
pub fn door_exchange_m3_h(width_m: f64, height_m: f64, difference_k: f64) -> f64 {
    const MEAN_K: f64 = 295.0;
    let speed = (crate::network::GRAVITY_M_S2 * height_m * difference_k.abs() / MEAN_K).sqrt();
    3600.0 * crate::leakage::SHARP_EDGE_DISCHARGE / 3.0 * width_m * height_m * speed
}

/// The air outside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outdoors {
    /// CO2, ppm.
    pub co2_ppm: f64,
    /// Temperature, °C.
    pub temperature_c: f64,
    /// Humidity ratio, kg/kg.
    pub humidity_ratio: f64,
    /// Barometric pressure, Pa.
    pub pressure_pa: f64,
}

/// What one person gives off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Person {
    /// CO2, L/s.
    pub co2_l_s: f64,
    /// Sensible heat, W.
    pub sensible_w: f64,
    /// Vapour, kg/s.
    pub vapour_kg_s: f64,
}

/// A span of the gathering.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// Length, min; whole minutes.
    pub minutes: usize,
    /// People in the room.
    pub people: f64,
    /// Lights and instruments, W.
    pub other_w: f64,
    /// Flow set by hand, m³/h, in place of the control's.
    pub set_flow_m3_h: Option<f64>,
    /// Outdoor air through windows, m³/h: no recovery.
    pub airing_m3_h: f64,
    /// Air exchanged with the adjoining space through open doors, m³/h each way.
    pub doors_m3_h: f64,
}

/// How the flow follows the room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Control {
    /// A fixed flow, m³/h.
    Fixed(f64),
    /// Between two set points, by a CO2 sensor.
    Demand {
        /// Set points and flows.
        ramp: Ramp,
        /// The sensor.
        sensor: Sensor,
        /// Fastest change of flow, m³/h per minute.
        fastest_m3_h_min: f64,
    },
}

/// A CO2 sensor in the room or its return air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sensor {
    /// Time constant of its answer, min.
    pub lag_min: f64,
    /// Reading less truth when last calibrated, ppm.
    pub error_ppm: f64,
    /// Drift, ppm a year.
    pub drift_ppm_year: f64,
    /// Years since calibration.
    pub age_years: f64,
}

impl Sensor {
    /// Returns reading less truth today, ppm.
    pub fn offset_ppm(&self) -> f64 {
        self.error_ppm + self.drift_ppm_year * self.age_years
    }
}

/// The recovery unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recovery {
    /// Share of heat recovered; zero in bypass.
    pub heat: f64,
    /// Share of vapour recovered.
    pub vapour: f64,
    /// Share of the supply that is extract air carried over.
    pub carried_over: f64,
}

/// A gathering.
#[derive(Clone, Debug, PartialEq)]
pub struct Gathering {
    /// The room.
    pub room: Room,
    /// What lies beyond its doors.
    pub adjoining: Option<Adjoining>,
    /// The air outside.
    pub outdoors: Outdoors,
    /// What one person gives off.
    pub person: Person,
    /// The evening, span by span; pre-purge and interval included.
    pub spans: Vec<Span>,
    /// How the flow follows.
    pub control: Control,
    /// The recovery unit.
    pub recovery: Recovery,
    /// CO2 in room and adjoining space at the start, ppm.
    pub start_ppm: f64,
    /// Room temperature at the start, °C.
    pub start_c: f64,
    /// Humidity ratio in room and adjoining space at the start, kg/kg.
    pub start_humidity_ratio: f64,
}

/// The room at the end of a minute.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Minute {
    /// CO2 in the room, ppm.
    pub co2_ppm: f64,
    /// CO2 the sensor shows, ppm; that of the room without a sensor.
    pub sensor_ppm: f64,
    /// CO2 in the adjoining space, ppm; that of the room without one.
    pub adjoining_ppm: f64,
    /// Temperature, °C.
    pub temperature_c: f64,
    /// Humidity ratio, kg/kg.
    pub humidity_ratio: f64,
    /// Relative humidity, 0..1.
    pub relative_humidity: f64,
    /// Flow of the ventilation, m³/h.
    pub flow_m3_h: f64,
    /// People in the room.
    pub people: f64,
}

/// Why a gathering cannot be run.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum GatheringError {
    /// A number lies outside its range or is not one.
    BadValue {
        /// What it is.
        what: &'static str,
        /// Its value.
        value: f64,
        /// What it should be.
        needed: &'static str,
    },
    /// Doors are open onto nothing.
    NoAdjoining,
    /// No span has any minute.
    Empty,
}

impl fmt::Display for GatheringError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::BadValue { what, value, needed } => write!(f, "{what} is {value}: it must be {needed}"),
            Self::NoAdjoining => write!(f, "doors stand open, but no adjoining space is given"),
            Self::Empty => write!(f, "the gathering has no minute"),
        }
    }
}

impl std::error::Error for GatheringError {}

/// What moves from step to step.
struct State {
    co2: [f64; 2],
    humidity: [f64; 2],
    temperature: f64,
    sensor: f64,
    flow: f64,
}

impl Gathering {
    /// Runs the gathering; returns the room at the end of every minute.
    ///
    /// # Errors
    /// Any [`GatheringError`].
    pub fn run(&self) -> Result<Vec<Minute>, GatheringError> {
        self.check()?;
        let mut state = State {
            co2: [self.start_ppm; 2],
            humidity: [self.start_humidity_ratio; 2],
            temperature: self.start_c,
            sensor: self.start_ppm,
            flow: self.wanted_flow(self.start_ppm),
        };
        let mut minutes = Vec::new();
        for span in &self.spans {
            for _ in 0..span.minutes {
                for _ in 0..STEPS_PER_MINUTE {
                    self.step(&mut state, span);
                }
                minutes.push(self.minute(&state, span));
            }
        }
        Ok(minutes)
    }

    fn minute(&self, state: &State, span: &Span) -> Minute {
        let (t, w) = (state.temperature, state.humidity[0]);
        let sensor_ppm = match self.control {
            Control::Fixed(_) => state.co2[0],
            Control::Demand { sensor, .. } => state.sensor + sensor.offset_ppm(),
        };
        Minute {
            co2_ppm: state.co2[0],
            sensor_ppm,
            adjoining_ppm: if self.adjoining.is_some() { state.co2[1] } else { state.co2[0] },
            temperature_c: t,
            humidity_ratio: w,
            relative_humidity: moist_air::relative_humidity(t, w, self.outdoors.pressure_pa),
            flow_m3_h: state.flow,
            people: span.people,
        }
    }

    /// Flow the control asks for at a sensor's true input.
    fn wanted_flow(&self, ppm: f64) -> f64 {
        match self.control {
            Control::Fixed(flow) => flow,
            Control::Demand { ramp, sensor, .. } => ramp.flow_m3_h(ppm + sensor.offset_ppm()),
        }
    }

    fn step(&self, state: &mut State, span: &Span) {
        state.flow = match (span.set_flow_m3_h, self.control) {
            (Some(flow), _) => flow,
            (None, Control::Fixed(flow)) => flow,
            (None, Control::Demand { fastest_m3_h_min, .. }) => {
                let most = fastest_m3_h_min * STEP_S / 60.0;
                state.flow + (self.wanted_flow(state.sensor) - state.flow).clamp(-most, most)
            }
        };
        let before = state.co2[0];
        let fresh = state.flow * (1.0 - self.recovery.carried_over) + span.airing_m3_h;
        let gas = span.people * self.person.co2_l_s;
        state.co2 = self.mixed(state.co2, fresh, span.doors_m3_h, gas, self.outdoors.co2_ppm);
        let dry = state.flow * (1.0 - self.recovery.vapour) + span.airing_m3_h;
        // Vapour goes by the same balance: a kilogram of it in a kilogram of air instead of a litre in a cubic metre.
        let vapour = span.people * self.person.vapour_kg_s / AIR_DENSITY_KG_M3 * 1000.0;
        let scaled = state.humidity.map(|w| w * 1e6);
        let after = self.mixed(scaled, dry, span.doors_m3_h, vapour, self.outdoors.humidity_ratio * 1e6);
        state.humidity = after.map(|w| w * 1e-6);
        state.temperature = self.warmed(state.temperature, state.flow, span);
        if let Control::Demand { sensor, .. } = self.control {
            // The room's CO2 is nearly straight over ten seconds: the lag answers to its mean.
            let input = 0.5 * (before + state.co2[0]);
            let left = if sensor.lag_min > 0.0 { numeric::exp(-STEP_S / 60.0 / sensor.lag_min) } else { 0.0 };
            state.sensor = input + (state.sensor - input) * left;
        }
    }

    /// Advances two mixed spaces by a step.
    fn mixed(&self, start: [f64; 2], fresh: f64, doors: f64, source_l_s: f64, outdoors: f64) -> [f64; 2] {
        let hours = STEP_S / 3600.0;
        match self.adjoining {
            None => {
                let space =
                    crate::contaminant::Space { volume_m3: self.room.volume_m3, outdoor_ppm: outdoors };
                let segment = crate::contaminant::Segment {
                    duration_h: hours,
                    generation_l_s: source_l_s,
                    flow_m3_h: fresh,
                };
                [space.after(start[0], segment); 2]
            }
            Some(next) => {
                let network = Network {
                    volumes_m3: vec![self.room.volume_m3, next.volume_m3],
                    flows_m3_h: vec![vec![0.0, doors], vec![doors, 0.0]],
                    outdoor_m3_h: vec![fresh, next.flow_m3_h],
                    outdoor_ppm: outdoors,
                };
                let end = network.after(&start, &[source_l_s, 0.0], hours);
                [end[0], end[1]]
            }
        }
    }

    /// Advances the room's temperature by a step: one store, exact for constant gains.
    fn warmed(&self, start_c: f64, flow_m3_h: f64, span: &Span) -> f64 {
        let carry = |m3_h: f64| m3_h / 3600.0 * AIR_DENSITY_KG_M3 * AIR_HEAT_J_KGK;
        let outside = self.room.loss_w_k + carry(flow_m3_h * (1.0 - self.recovery.heat) + span.airing_m3_h);
        let (doors, next_c) = match self.adjoining {
            Some(next) => (carry(span.doors_m3_h), next.temperature_c),
            None => (0.0, start_c),
        };
        // Over half a kelvin above the set point the cooling comes fully on.
        let cooling = self.room.cooling_w * ((start_c - self.room.cool_above_c) / 0.5).clamp(0.0, 1.0);
        let gains = span.people * self.person.sensible_w + span.other_w - cooling;
        let conductance = outside + doors;
        let drive = gains + outside * self.outdoors.temperature_c + doors * next_c;
        let capacity = self.room.heat_capacity_j_k;
        if conductance * STEP_S < 1e-9 * capacity {
            return start_c + gains * STEP_S / capacity;
        }
        let steady = drive / conductance;
        steady + (start_c - steady) * numeric::exp(-conductance * STEP_S / capacity)
    }

    fn check(&self) -> Result<(), GatheringError> {
        let above = |what, value: f64| {
            let good = value > 0.0 && value.is_finite();
            if good { Ok(()) } else { Err(GatheringError::BadValue { what, value, needed: "above zero" }) }
        };
        let least = |what, value: f64| {
            let good = value >= 0.0 && value.is_finite();
            if good { Ok(()) } else { Err(GatheringError::BadValue { what, value, needed: "zero or more" }) }
        };
        above("the room's volume", self.room.volume_m3)?;
        above("the room's heat capacity", self.room.heat_capacity_j_k)?;
        above("the barometric pressure", self.outdoors.pressure_pa)?;
        least("the room's heat loss", self.room.loss_w_k)?;
        least("the cooling", self.room.cooling_w)?;
        least("CO2 outdoors", self.outdoors.co2_ppm)?;
        least("humidity outdoors", self.outdoors.humidity_ratio)?;
        least("CO2 at the start", self.start_ppm)?;
        least("humidity at the start", self.start_humidity_ratio)?;
        for (what, share) in [
            ("the heat recovered", self.recovery.heat),
            ("the vapour recovered", self.recovery.vapour),
            ("the air carried over", self.recovery.carried_over),
        ] {
            if !(0.0..1.0).contains(&share) {
                return Err(GatheringError::BadValue {
                    what,
                    value: share,
                    needed: "a share from 0 to below 1",
                });
            }
        }
        for value in [self.start_c, self.outdoors.temperature_c, self.room.cool_above_c] {
            if !value.is_finite() {
                return Err(GatheringError::BadValue { what: "a temperature", value, needed: "a number" });
            }
        }
        if let Some(next) = self.adjoining {
            above("the adjoining volume", next.volume_m3)?;
            least("the adjoining flow", next.flow_m3_h)?;
        }
        match self.control {
            Control::Fixed(flow) => least("the flow", flow)?,
            Control::Demand { ramp, sensor, fastest_m3_h_min } => {
                least("the lowest flow", ramp.least_m3_h)?;
                least("the highest flow", ramp.most_m3_h)?;
                least("the sensor's lag", sensor.lag_min)?;
                above("the fastest change of flow", fastest_m3_h_min)?;
                above("the width between set points", ramp.to_ppm - ramp.from_ppm)?;
                if !sensor.offset_ppm().is_finite() {
                    let value = sensor.offset_ppm();
                    return Err(GatheringError::BadValue {
                        what: "the sensor's error",
                        value,
                        needed: "a number",
                    });
                }
            }
        }
        self.check_spans(least)
    }

    fn check_spans(
        &self,
        least: impl Fn(&'static str, f64) -> Result<(), GatheringError>,
    ) -> Result<(), GatheringError> {
        if self.spans.iter().all(|s| s.minutes == 0) {
            return Err(GatheringError::Empty);
        }
        for span in &self.spans {
            least("the number of people", span.people)?;
            least("the flow set by hand", span.set_flow_m3_h.unwrap_or(0.0))?;
            least("the airing", span.airing_m3_h)?;
            least("the exchange through doors", span.doors_m3_h)?;
            least("other heat", span.other_w)?;
            if span.doors_m3_h > 0.0 && self.adjoining.is_none() {
                return Err(GatheringError::NoAdjoining);
            }
        }
        for (what, value) in [
            ("CO2 of a person", self.person.co2_l_s),
            ("heat of a person", self.person.sensible_w),
            ("vapour of a person", self.person.vapour_kg_s),
        ] {
            least(what, value)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests;
