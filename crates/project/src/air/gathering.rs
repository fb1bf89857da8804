//! A gathering of the book minute by minute, with the answers a builder asks for.

use super::fresh::supply_m3_h;
use crate::check::Project;
use ::air::contaminant::Ramp;
use ::air::gathering::answers::{
    self, CodeRate, Failing, HeadCount, Limits, flow_needed_m3_h, head_count, infection_ratio,
    minutes_to_recover, sensor_band_ppm, worth_of_open_doors_ppm, worth_of_pre_purge_ppm,
};
use ::air::gathering::{
    Adjoining, Control, Gathering, GatheringError, Minute, Outdoors, Person, Recovery, Room, Sensor, Span,
    door_exchange_m3_h,
};
use building::Building;
use building::model::{self, AssemblyId, Beyond, LayerKind, SpaceId};
use building::plan::PlantKind;
use matter::moist_air;
use serde::Serialize;

/// Name and version of the JSON form.
pub const SCHEMA: &str = "windtight/gathering/1";
/// CO2 at the start, ppm: a room used in the afternoon (the account of the year's sheet takes the same).
const START_PPM: f64 = 600.0;
/// Warmest that is asked for, °C (EN 16798-1 category II in summer, from memory).
const WARMEST_C: f64 = 26.0;
/// Highest relative humidity asked for (EN 16798-1 category III, from memory).
const HIGHEST_HUMIDITY: f64 = 0.7;
/// 95 % half-width of a room CO2 sensor, ppm (common practice: ± 50 ppm and 3 %).
pub const SENSOR_HALF_WIDTH_PPM: f64 = 75.0;
/// Time constant of such a sensor and fastest change of a unit's flow (common practice).
const SENSOR_LAG_MIN: f64 = 3.0;
const FASTEST_M3_H_MIN: f64 = 100.0;
/// Depth of surfaces that takes part within an hour or two, m, and heat of furniture, J/(K·m² of floor) (judgement).
const ACTIVE_DEPTH_M: f64 = 0.012;
const FURNITURE_J_K_M2: f64 = 10_000.0;
/// Heat of evaporation at body temperature, J/kg.
const EVAPORATION_J_KG: f64 = 2.43e6;
/// A pair of doors with rooms about two kelvins apart: width, height, m, and the difference, K.
const DOORS: (f64, f64, f64) = (1.8, 2.1, 2.0);
/// Quanta a sick person gives off, 1/h, for ratios only: known to a factor of a hundred.
const QUANTA_PER_H: f64 = 10.0;
/// Back to this much above outdoors counts as recovered, ppm.
const RECOVERED_PPM: f64 = 380.0;

/// What is asked of a gathering.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct GatheringAsk {
    /// Exchange through the doors, m³/h each way; zero: shut.
    pub doors_m3_h: f64,
    /// Minutes of pre-purge at the highest speed.
    pub purge_minutes: usize,
    /// Outdoor air through windows while people are in, m³/h.
    pub airing_m3_h: f64,
    /// CO2 limit, ppm; what code air would show where left out.
    pub co2_ppm: Option<f64>,
    /// Warmest, °C.
    pub warmest_c: Option<f64>,
    /// Other number of people.
    pub people: Option<f64>,
}

/// Flow through a usual pair of open doors, m³/h each way.
pub fn open_doors_m3_h() -> f64 {
    door_exchange_m3_h(DOORS.0, DOORS.1, DOORS.2)
}

/// One minute.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MinuteLine {
    /// Minutes of the day, at its end.
    pub minute_of_day: usize,
    /// People.
    pub people: f64,
    /// CO2, ppm.
    pub co2_ppm: f64,
    /// Temperature, °C.
    pub temperature_c: f64,
    /// Relative humidity, 0..1.
    pub relative_humidity: f64,
    /// Flow of the ventilation to the room, m³/h.
    pub flow_m3_h: f64,
}

/// Something that passes its limit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FailureLine {
    /// `CO2`, `heat` or `humidity`.
    pub what: &'static str,
    /// Minutes after people come in.
    pub after_minutes: usize,
}

/// How many people the air serves. Never above the posted load.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Heads {
    /// By CO2.
    pub co2: u32,
    /// By heat.
    pub heat: u32,
    /// By the code's outdoor-air rate.
    pub code: u32,
    /// The least of them, for air only.
    pub air_only: u32,
    /// Posted occupant load; absent: ask the code official.
    pub posted: Option<u32>,
    /// The sentence to print beside any head count.
    pub sentence: String,
}

/// A sound level by speed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SoundLine {
    /// Speed.
    pub mode: String,
    /// dB(A), by the maker; absent: not checked.
    pub level_db: Option<f64>,
}

/// A gathering with its answers.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GatheringReport {
    /// Always [`SCHEMA`].
    pub schema: &'static str,
    /// Name in the book.
    pub name: String,
    /// What it is called.
    pub label: String,
    /// Room.
    pub room: String,
    /// Day of the model year whose weather is taken, from 0.
    pub day: usize,
    /// Outdoor temperature, °C, mean of the hours.
    pub outdoors_c: f64,
    /// People.
    pub people: f64,
    /// Speed of the ventilation, and its flow to the room, m³/h.
    pub mode: String,
    /// Highest flow the unit can give the room, m³/h.
    pub most_m3_h: f64,
    /// Exchange through doors, m³/h each way.
    pub doors_m3_h: f64,
    /// Minutes of pre-purge.
    pub purge_minutes: usize,
    /// Limits: CO2 ppm, warmest °C, highest relative humidity.
    pub limits: [f64; 3],
    /// Where the CO2 limit comes from.
    pub co2_limit_from: String,
    /// Minute by minute.
    pub minutes: Vec<MinuteLine>,
    /// Highest CO2, ppm, and highest temperature, °C.
    pub peaks: [f64; 2],
    /// What fails, first first; empty: nothing.
    pub failures: Vec<FailureLine>,
    /// Fixed flow that keeps CO2 at its limit, m³/h; absent where none would.
    pub flow_needed_m3_h: Option<f64>,
    /// Outdoor air the code asks, m³/h.
    pub code_m3_h: f64,
    /// Fall of the CO2 peak by half an hour of pre-purge at the highest flow, ppm.
    pub purge_worth_ppm: f64,
    /// Fall of the CO2 peak by open doors, ppm; absent without a space beyond them.
    pub doors_worth_ppm: Option<f64>,
    /// Minutes until the empty room has recovered; absent: not within a day.
    pub recovery_minutes: Option<usize>,
    /// CO2 that counts as recovered, ppm.
    pub recovered_ppm: f64,
    /// CO2 peak with the sensor reading low and high, ppm; absent where the flow follows a timetable.
    pub sensor_band_ppm: Option<[f64; 2]>,
    /// Infection risk against the same evening at the code's outdoor air: a ratio, a labelled estimate.
    pub infection_ratio: Option<f64>,
    /// Head counts.
    pub heads: Heads,
    /// Sound in the room by speed.
    pub sound: Vec<SoundLine>,
    /// What was assumed.
    pub assumed: Vec<String>,
    /// What was not checked.
    pub not_checked: Vec<String>,
}

/// Names of the book's gatherings.
pub fn gathering_names(project: &Project) -> Vec<String> {
    project.building.gatherings.iter().map(|g| g.name.clone()).collect()
}

/// Runs a gathering of the book by its name; `None` when there is none of that name.
///
/// # Errors
/// Any [`GatheringError`].
pub fn gathering(
    project: &Project,
    name: &str,
    ask: GatheringAsk,
) -> Option<Result<GatheringReport, GatheringError>> {
    let g = project.building.gatherings.iter().find(|g| g.name == name)?;
    Some(Evening::new(project, g, ask).report())
}

/// One evening put together.
struct Evening<'a> {
    project: &'a Project,
    g: &'a model::Gathering,
    ask: GatheringAsk,
    day: usize,
    law: Gathering,
    mode: String,
    most_m3_h: f64,
    people: f64,
}

impl<'a> Evening<'a> {
    fn new(project: &'a Project, g: &'a model::Gathering, ask: GatheringAsk) -> Self {
        let building = &project.building;
        let values = &building.values;
        let (day, outdoors_c, humidity) = warmest_day(project, g);
        let people = ask.people.unwrap_or_else(|| values.nominal_of(g.people));
        let quarter = g.days.first().map_or(0, |&d| g.quarters_of_day(d).start);
        let (mut flow, mut most, mut mode) = (0.0, 0.0, String::new());
        let mut recovery = Recovery { heat: 0.0, vapour: 0.0, carried_over: 0.0 };
        for unit in &building.ventilation {
            let at = usize::from(unit.running.get(quarter).copied().unwrap_or(0));
            let here = supply_m3_h(building, unit, at, g.space);
            let best = (0..unit.modes.len()).map(|m| supply_m3_h(building, unit, m, g.space));
            most += best.fold(0.0, f64::max);
            if here > 0.0 || mode.is_empty() {
                mode.clone_from(&unit.modes[at].name);
                recovery = Recovery {
                    heat: values.nominal_of(unit.modes[at].temperature_recovery).min(0.99),
                    vapour: values.nominal_of(unit.modes[at].moisture_recovery).min(0.99),
                    carried_over: 0.0,
                };
                let bypass = unit.bypass.as_ref().map(|b| values.nominal_of(b.extract_above));
                let cool = values.nominal_of(building.set_points.cooling);
                if bypass.is_some_and(|above| cool > above && outdoors_c < cool) {
                    recovery.heat = 0.0;
                }
            }
            flow += here;
        }
        let heating = values.nominal_of(building.set_points.heating);
        let cooling = values.nominal_of(building.set_points.cooling);
        let pressure_pa = moist_air::altitude_pressure(values.nominal_of(building.site.elevation));
        let dry = values.nominal_of(building.set_points.dehumidify_above);
        let law = Gathering {
            room: room(building, g.space),
            adjoining: adjoining(building, g.space, quarter, heating.max(outdoors_c.min(cooling))),
            outdoors: Outdoors {
                co2_ppm: year::kernel::input::OUTDOOR_CO2_PPM,
                temperature_c: outdoors_c,
                humidity_ratio: humidity,
                pressure_pa,
            },
            person: Person {
                co2_l_s: 1000.0 * values.nominal_of(g.person.co2),
                sensible_w: values.nominal_of(g.person.sensible),
                vapour_kg_s: values.nominal_of(g.person.latent) / EVAPORATION_J_KG,
            },
            spans: spans(building, g, people, ask),
            control: control(building, g.space, flow, most),
            recovery,
            start_ppm: START_PPM,
            start_c: outdoors_c.clamp(heating, cooling),
            start_humidity_ratio: humidity.min(dry),
        };
        let mut one = Self { project, g, ask, day, law, mode, most_m3_h: most, people };
        one.purge();
        one
    }

    fn purge(&mut self) {
        if self.ask.purge_minutes > 0 {
            let span = Span {
                minutes: self.ask.purge_minutes,
                people: 0.0,
                other_w: 0.0,
                set_flow_m3_h: Some(self.most_m3_h),
                airing_m3_h: 0.0,
                doors_m3_h: 0.0,
            };
            self.law.spans.insert(0, span);
        }
    }

    fn code(&self) -> (CodeRate, f64) {
        let room = &self.project.building.spaces[self.g.space.0];
        let (needed_m3_s, rate) = year::required_outdoor_air(room.kind, true, self.people, room.area_m2);
        let rate = ::air::outdoor_air::rate_for(rate).map_or((5.0, 0.3), |r| (r.person_l_s, r.area_l_s_m2));
        let code = CodeRate {
            person_l_s: rate.0,
            area_l_s_m2: rate.1,
            floor_m2: room.area_m2,
            delivered_l_s: self.most_m3_h / 3.6,
        };
        (code, 3600.0 * needed_m3_s)
    }

    fn at_fixed(&self, flow_m3_h: f64) -> Result<Vec<Minute>, GatheringError> {
        Gathering { control: Control::Fixed(flow_m3_h), ..self.law.clone() }.run()
    }

    fn report(self) -> Result<GatheringReport, GatheringError> {
        let building = &self.project.building;
        let course = self.law.run()?;
        let (code, code_m3_h) = self.code();
        let as_code = self.at_fixed(code_m3_h)?;
        let limits = Limits {
            co2_ppm: self.ask.co2_ppm.unwrap_or_else(|| answers::peak_ppm(&as_code)),
            temperature_c: self.ask.warmest_c.unwrap_or(WARMEST_C),
            relative_humidity: HIGHEST_HUMIDITY,
        };
        let recovered_ppm = self.law.outdoors.co2_ppm + RECOVERED_PPM;
        let purged_law = Gathering { spans: self.without_purge(), ..self.law.clone() };
        let demand = matches!(self.law.control, Control::Demand { .. });
        let sensor = if demand {
            let (low, high) = sensor_band_ppm(&self.law, SENSOR_HALF_WIDTH_PPM)?;
            Some([low, high])
        } else {
            None
        };
        let doors = match self.law.adjoining {
            Some(_) => {
                let exchange =
                    if self.ask.doors_m3_h > 0.0 { self.ask.doors_m3_h } else { open_doors_m3_h() };
                Some(worth_of_open_doors_ppm(&self.law, exchange)?)
            }
            None => None,
        };
        let heads = head_count(&self.law, limits, code, self.g.posted_load)?;
        let purge = self.ask.purge_minutes;
        let from = usize::from(self.g.span.from_minute).saturating_sub(purge);
        Ok(GatheringReport {
            schema: SCHEMA,
            name: self.g.name.clone(),
            label: self.g.label.clone(),
            room: building.spaces[self.g.space.0].label.clone(),
            day: self.day,
            outdoors_c: self.law.outdoors.temperature_c,
            people: self.people,
            mode: self.mode.clone(),
            most_m3_h: self.most_m3_h,
            doors_m3_h: self.ask.doors_m3_h,
            purge_minutes: purge,
            limits: [limits.co2_ppm, limits.temperature_c, limits.relative_humidity],
            co2_limit_from: match self.ask.co2_ppm {
                Some(_) => "as asked".to_owned(),
                None => format!("what {code_m3_h:.0} m³/h of code air would show that evening"),
            },
            minutes: course.iter().enumerate().map(|(k, m)| line(from + k + 1, m)).collect(),
            peaks: [answers::peak_ppm(&course), answers::peak_c(&course)],
            failures: answers::failures(&course[purge.min(course.len())..], limits)
                .into_iter()
                .map(|(what, after_minutes)| FailureLine { what: failing(what), after_minutes })
                .collect(),
            flow_needed_m3_h: flow_needed_m3_h(&purged_law, limits.co2_ppm)?,
            code_m3_h,
            purge_worth_ppm: worth_of_pre_purge_ppm(&purged_law, 30, self.most_m3_h)?,
            doors_worth_ppm: doors,
            recovery_minutes: minutes_to_recover(&self.law, recovered_ppm)?,
            recovered_ppm,
            sensor_band_ppm: sensor,
            infection_ratio: infection_ratio(&course, &as_code, self.law.outdoors.co2_ppm, QUANTA_PER_H),
            heads: heads_line(heads),
            sound: self.sound(),
            assumed: self.assumed(demand),
            not_checked: vec![
                "Means of escape, smoke, and how many people a room may hold: the posted occupant load is the code official's; the head \
                 counts here are for air only."
                    .to_owned(),
                "Air that is not well mixed, people close together, and illness: the infection ratio compares two ways of airing and says \
                 nothing about safety."
                    .to_owned(),
            ],
        })
    }

    fn without_purge(&self) -> Vec<Span> {
        self.law.spans[usize::from(self.ask.purge_minutes > 0)..].to_vec()
    }

    fn sound(&self) -> Vec<SoundLine> {
        let building = &self.project.building;
        let room = &building.spaces[self.g.space.0].name;
        building
            .ventilation
            .iter()
            .flat_map(|unit| {
                unit.modes.iter().map(|mode| SoundLine {
                    mode: mode.name.clone(),
                    level_db: unit
                        .sound
                        .iter()
                        .find(|s| s.mode == mode.name && s.room == *room)
                        .map(|s| s.level_db),
                })
            })
            .collect()
    }

    fn assumed(&self, demand: bool) -> Vec<String> {
        let mut all = vec![
            format!(
                "Start {START_PPM:.0} ppm; outdoors as on the warmest of its days; room at {:.1} °C.",
                self.law.start_c
            ),
            format!(
                "Room {:.0} m³, {:.0} W/K to outdoors, {:.1} MJ/K of air, furniture and the first {:.0} mm of surfaces, {:.1} kW of \
                 sensible cooling.",
                self.law.room.volume_m3,
                self.law.room.loss_w_k,
                self.law.room.heat_capacity_j_k / 1e6,
                1000.0 * ACTIVE_DEPTH_M,
                self.law.room.cooling_w / 1000.0
            ),
        ];
        if demand {
            all.push(format!(
                "Sensor: ± {SENSOR_HALF_WIDTH_PPM:.0} ppm (95 %), {SENSOR_LAG_MIN:.0} min behind (common practice, no source)."
            ));
        } else {
            all.push("The flow follows the timetable: a sensor's error changes nothing.".to_owned());
        }
        if self.law.room.cooling_w > 0.0 {
            all.push("Drying by the cooling is not counted: humidity comes out on the damp side.".to_owned());
        }
        if self.ask.doors_m3_h > 0.0 {
            all.push(format!(
                "Doors exchange {:.0} m³/h each way with the rest of the building, well mixed.",
                self.ask.doors_m3_h
            ));
        }
        all
    }
}

fn line(minute_of_day: usize, m: &Minute) -> MinuteLine {
    MinuteLine {
        minute_of_day,
        people: m.people,
        co2_ppm: m.co2_ppm,
        temperature_c: m.temperature_c,
        relative_humidity: m.relative_humidity,
        flow_m3_h: m.flow_m3_h,
    }
}

fn failing(what: Failing) -> &'static str {
    match what {
        Failing::Co2 => "CO2",
        Failing::Heat => "heat",
        Failing::Humidity => "humidity",
    }
}

fn heads_line(heads: HeadCount) -> Heads {
    Heads {
        co2: heads.co2,
        heat: heads.heat,
        code: heads.code,
        air_only: heads.air_only,
        posted: heads.posted,
        sentence: heads.sentence(),
    }
}

/// The warmest of a gathering's days at its hours: day, mean temperature, mean humidity ratio.
fn warmest_day(project: &Project, g: &model::Gathering) -> (usize, f64, f64) {
    let climate = &project.weather.climate;
    let hours = usize::from(g.span.from_minute / 60)..usize::from(g.span.to_minute.div_ceil(60)).max(1);
    let mean = |day: usize| {
        let of: Vec<_> = hours.clone().filter_map(|h| climate.hours.get(24 * day + h)).collect();
        let n = of.len().max(1) as f64;
        let temperature = of.iter().map(|h| h.dry_bulb_c).sum::<f64>() / n;
        let humidity = of.iter().map(|h| h.humidity_ratio).sum::<f64>() / n;
        (day, temperature, humidity)
    };
    let days: &[usize] = if g.days.is_empty() { &[0] } else { &g.days };
    days.iter()
        .map(|&d| mean(d))
        .fold((days[0], f64::NEG_INFINITY, 0.0), |best, one| if one.1 > best.1 { one } else { best })
}

fn room(building: &Building, space: SpaceId) -> Room {
    let values = &building.values;
    let resolved = values.nominal();
    let room = &building.spaces[space.0];
    let of = || building.elements.iter().filter(move |e| e.space == space);
    let u = |id: AssemblyId| year::transmittance(building, id, &resolved).map_or(0.0, |t| t.u_w_m2k);
    let opaque: f64 = of().filter(|e| e.beyond == Beyond::Outside).map(|e| e.net_m2 * u(e.assembly)).sum();
    let glass: f64 = building
        .openings
        .iter()
        .filter(|o| o.space == space)
        .map(|o| o.area_m2 * year::window_u_w_m2k(building, o, &resolved))
        .sum();
    let surfaces: f64 = of().map(|e| e.net_m2 * innermost_j_m2k(building, e.assembly)).sum();
    let head = |p: &&building::plan::PlantPlan| {
        let zone = &building.zones[room.zone.0].name;
        p.kind == PlantKind::HeatPumpHead && p.place.as_ref().is_some_and(|at| *at == room.name || at == zone)
    };
    let cooling: f64 = building
        .plant
        .iter()
        .filter(head)
        .filter_map(|p| {
            let share = p.sensible_share.map_or(1.0, |key| values.nominal_of(key));
            Some(values.nominal_of(p.cooling?) * share)
        })
        .sum();
    Room {
        volume_m3: room.volume_m3,
        heat_capacity_j_k: 1210.0 * room.volume_m3 + FURNITURE_J_K_M2 * room.area_m2 + surfaces,
        loss_w_k: opaque + glass,
        cooling_w: cooling,
        cool_above_c: values.nominal_of(building.set_points.cooling),
    }
}

/// Heat of the innermost millimetres of an assembly, J/(m²·K).
fn innermost_j_m2k(building: &Building, id: AssemblyId) -> f64 {
    let values = &building.values;
    let mut left = ACTIVE_DEPTH_M;
    let mut heat = 0.0;
    for layer in building.assemblies[id.0].layers.iter().rev() {
        let LayerKind::Solid(material) = layer.kind else { break };
        let material = &building.materials[material.0];
        let depth = values.nominal_of(layer.thickness).min(left);
        heat += depth * values.nominal_of(material.density) * values.nominal_of(material.specific_heat);
        left -= depth;
        if left <= 0.0 {
            break;
        }
    }
    heat
}

/// The rest of our rooms as one space beyond the doors; `None` for a building of one room.
fn adjoining(building: &Building, space: SpaceId, quarter: usize, temperature_c: f64) -> Option<Adjoining> {
    let volume_m3: f64 =
        building.spaces.iter().enumerate().filter(|(i, _)| *i != space.0).map(|(_, s)| s.volume_m3).sum();
    if volume_m3 <= 0.0 {
        return None;
    }
    let flow_m3_h = building
        .ventilation
        .iter()
        .map(|unit| {
            let mode = usize::from(unit.running.get(quarter).copied().unwrap_or(0));
            let all: f64 = (0..building.spaces.len())
                .filter(|i| *i != space.0)
                .map(|i| supply_m3_h(building, unit, mode, SpaceId(i)))
                .sum();
            all
        })
        .sum();
    Some(Adjoining { volume_m3, flow_m3_h, temperature_c })
}

/// The evening span by span: people in, the interval, people in again.
fn spans(building: &Building, g: &model::Gathering, people: f64, ask: GatheringAsk) -> Vec<Span> {
    let lights = g.power_density.map_or(0.0, |key| building.values.nominal_of(key))
        * building.spaces[g.space.0].area_m2;
    let span = |from: u16, to: u16, people: f64| Span {
        minutes: usize::from(to.saturating_sub(from)),
        people,
        other_w: lights,
        set_flow_m3_h: None,
        airing_m3_h: if people > 0.0 { ask.airing_m3_h } else { 0.0 },
        doors_m3_h: ask.doors_m3_h,
    };
    let (from, to) = (g.span.from_minute, g.span.to_minute);
    match g.interval {
        Some(pause) => vec![
            span(from, pause.from_minute, people),
            span(pause.from_minute, pause.to_minute, 0.0),
            span(pause.to_minute, to, people),
        ],
        None => vec![span(from, to, people)],
    }
}

fn control(building: &Building, space: SpaceId, flow: f64, most: f64) -> Control {
    let values = &building.values;
    let room = &building.spaces[space.0].name;
    for unit in &building.ventilation {
        let Some(demand) = unit.demand.as_ref().filter(|d| d.sensor == *room) else { continue };
        let least = (0..unit.modes.len())
            .map(|m| supply_m3_h(building, unit, m, space))
            .fold(f64::INFINITY, f64::min);
        let ramp = Ramp {
            from_ppm: values.nominal_of(demand.from),
            to_ppm: values.nominal_of(demand.to),
            least_m3_h: least.min(most),
            most_m3_h: most,
        };
        let sensor = Sensor { lag_min: SENSOR_LAG_MIN, error_ppm: 0.0, drift_ppm_year: 0.0, age_years: 0.0 };
        return Control::Demand { ramp, sensor, fastest_m3_h_min: FASTEST_M3_H_MIN };
    }
    Control::Fixed(flow)
}
