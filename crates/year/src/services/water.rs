//! The hot-water tank over a year, and what it takes from the room it stands in.
//!
//! The book states a day's draw, a rise, a standing loss and one factor of heat over electricity. The factor is taken as
//! that at [`RATED_SOURCE_C`] and [`RATED_WATER_C`]; from there the second law carries it to other air and water. The
//! draw of a day follows the people who are there; its heat varies with the season's cold water, since people mix to one
//! temperature.

use building::calendar::QUARTERS;
use building::model::SpaceId;
use building::plan::{PlantKind, WaterSource};
use building::{Building, Resolved};
use climate::{Climate, HOURS};
use plant::draws::{shares_of_people, tank_share};
use plant::heat_pump::{Figures, HeatPump, Limits, Mode, RatedPoint, SecondLaw};
use plant::mains::Mains;
use plant::tank::{Tank, loss_from_standing};
use plant::water_heater::{Disinfection, HeaterInput, SourceAir, WaterHeater};

use super::results::{WaterMonth, WaterYear};
use crate::error::YearError;
use crate::kernel::input::MONTH_ENDS_H;

/// Source air and water at which the stated factor holds, °C. Judgement: the middle of a tank's warming in a room.
pub const RATED_SOURCE_C: f64 = 20.0;
/// See [`RATED_SOURCE_C`].
pub const RATED_WATER_C: f64 = 45.0;
/// Set point, °C, heat pump's output, W, and element, W, where the book states none. Common sizes, no source.
const SET_C: f64 = 55.0;
pub(super) const MACHINE_W: f64 = 1500.0;
const ELEMENT_W: f64 = 2000.0;
/// Around the tank less in its declared standing loss, K.
const STANDING_DIFFERENCE_K: f64 = 45.0;
/// People mix to this at the tap, °C.
const USE_C: f64 = 40.0;
const NODES: usize = 8;
/// Air drawn through a duct from outdoors warms by this share of the difference on its way. Judgement.
const DUCT_WARMING: f64 = 0.1;
/// Days run before the year so that the tank begins as it ends.
const BEFORE_DAYS: usize = 10;

/// Hourly air of a room.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RoomAir {
    /// °C.
    pub temperature_c: Vec<f64>,
    /// kg/kg.
    pub kg_kg: Vec<f64>,
}

/// What the tank does in its room and at the meter, hour by hour.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WaterHours {
    /// Electricity, W.
    pub electricity_w: Vec<f64>,
    /// Sensible heat to the room, W; below zero where it takes.
    pub room_w: Vec<f64>,
    /// Vapour to the room, kg/s; below zero where it dries.
    pub room_kg_s: Vec<f64>,
    /// Sums.
    pub year: WaterYear,
}

/// How the water is made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Way {
    /// Where the heat pump's air comes from; `None` heats by resistance.
    pub source: Option<WaterSource>,
}

impl Way {
    /// As the book says; `None` without hot water.
    pub fn of(building: &Building) -> Option<Self> {
        let plan = &building.hot_water;
        plan.draw_per_day?;
        let name = plan.plant.as_deref()?;
        let pump = building.plant.iter().any(|p| p.name == name && p.kind == PlantKind::HeatPumpWaterHeater);
        Some(Self { source: pump.then_some(plan.source) })
    }
}

/// Room of the tank.
pub fn room_of(building: &Building) -> Option<SpaceId> {
    let name = building.hot_water.space.as_deref()?;
    building.spaces.iter().position(|s| s.name == name).map(SpaceId)
}

/// Follows the tank through the year. `None` when the book draws no hot water.
///
/// # Errors
/// [`YearError::Missing`] when the stated figures make no heater.
pub fn follow(
    building: &Building,
    climate: &Climate,
    r: &Resolved,
    way: Way,
    air: &RoomAir,
) -> Result<Option<WaterHours>, YearError> {
    let plan = &building.hot_water;
    let (Some(draw), Some(rise)) = (plan.draw_per_day, plan.rise) else { return Ok(None) };
    let refuse = |why: plant::PlantError| YearError::Missing {
        item: format!("plant.{}", plan.plant.as_deref().unwrap_or("water")),
        why: why.to_string(),
    };
    let mut heater = heater(building, r, way).map_err(refuse)?;
    let mains = mains(climate);
    let mean_cold = (1..=365).map(|day| mains.on_day_c(f64::from(day))).sum::<f64>() / 365.0;
    // The stated draw's heat, as water mixed at the tap.
    let mixed = r[draw] * r[rise] / (USE_C - mean_cold).max(1.0);
    let shares = day_shares(building, r);
    let mut out = WaterHours {
        electricity_w: vec![0.0; HOURS],
        room_w: vec![0.0; HOURS],
        room_kg_s: vec![0.0; HOURS],
        year: WaterYear { months: vec![WaterMonth::default(); 12], ..WaterYear::default() },
    };
    let year = &mut out.year;
    year.room = plan.space.clone().unwrap_or_default();
    year.coldest_around_c = air.temperature_c.iter().copied().fold(f64::INFINITY, f64::min);
    let (start, mut month) = (HOURS - 24 * BEFORE_DAYS, 0);
    for count in start..HOURS + HOURS {
        let (hour, told) = (count % HOURS, count >= HOURS);
        let (day, of_day) = (hour / 24, hour % 24);
        if told && hour >= MONTH_ENDS_H[month] {
            month += 1;
        }
        let cold_c = mains.on_day_c(day as f64 + 1.0);
        let open = building.calendar.days.get(day).is_none_or(|d| !d.closed);
        let wanted = if open { mixed * shares[day * 24 + of_day] } else { 0.0 };
        let step = heater
            .step(&HeaterInput {
                step_s: 3600.0,
                draw_m3: wanted * tank_share(USE_C, heater.tank.top_c(), cold_c),
                cold_c,
                use_c: USE_C,
                around_c: air.temperature_c[hour],
                source: source(way, climate, air, hour),
            })
            .map_err(refuse)?;
        if !told {
            continue;
        }
        let inside = way.source == Some(WaterSource::Room);
        let electricity_j = step.machine_j + step.element_j;
        let given_j = step.lost_j + step.loop_j;
        let (sensible_j, latent_j, condensed_kg) = if inside {
            (step.taken_sensible_j, step.taken_latent_j, step.condensed_kg)
        } else {
            (0.0, 0.0, 0.0)
        };
        out.electricity_w[hour] = electricity_j / 3600.0;
        out.room_w[hour] = (given_j - sensible_j) / 3600.0;
        out.room_kg_s[hour] = -condensed_kg / 3600.0;
        let m = &mut year.months[month];
        m.drawn_j += step.drawn_j;
        m.electricity_j += electricity_j;
        m.taken_sensible_j += sensible_j;
        m.taken_latent_j += latent_j;
        m.given_j += given_j;
        m.condensed_kg += condensed_kg;
        let hours = MONTH_ENDS_H[month] - if month == 0 { 0 } else { MONTH_ENDS_H[month - 1] };
        m.cold_water_c += cold_c / hours as f64;
        year.drawn_j += step.drawn_j;
        year.lost_j += step.lost_j;
        year.loop_j += step.loop_j;
        year.machine_j += step.machine_j;
        year.element_j += step.element_j;
        year.short_j += step.short_j;
        year.taken_j += step.taken_sensible_j + step.taken_latent_j;
        year.residual_j = year.residual_j.max(step.residual_j.abs());
    }
    Ok(Some(out))
}

/// Cold water of a climate.
fn mains(climate: &Climate) -> Mains {
    let mut sums = [0.0; 12];
    let (mut month, mut first) = (0, 0);
    for (hour, h) in climate.hours.iter().enumerate() {
        if hour >= MONTH_ENDS_H[month] {
            first = MONTH_ENDS_H[month];
            month += 1;
        }
        sums[month] += h.dry_bulb_c / (MONTH_ENDS_H[month] - first) as f64;
    }
    let mean = climate.hours.iter().map(|h| h.dry_bulb_c).sum::<f64>() / HOURS as f64;
    let (low, high) =
        sums.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), m| (l.min(*m), h.max(*m)));
    Mains::new(mean, high - low)
}

fn heater(building: &Building, r: &Resolved, way: Way) -> Result<WaterHeater, plant::PlantError> {
    let plan = &building.hot_water;
    let volume = plan.tank_volume.map_or(0.15, |key| r[key]);
    let set_c = plan.set_point.map_or(SET_C, |key| r[key]);
    let loss =
        plan.standing_loss_per_day.map_or(0.0, |key| loss_from_standing(r[key], STANDING_DIFFERENCE_K));
    // Twice as tall as wide, roughly.
    let height = numeric::pow(16.0 * volume / std::f64::consts::PI, 1.0 / 3.0);
    let tank = Tank::new(volume, height, loss, NODES, set_c)?;
    let named = plan.plant.as_deref().and_then(|name| building.plant.iter().find(|p| p.name == name));
    let output = named.and_then(|p| p.heating).map_or(MACHINE_W, |key| r[key]);
    let machine = match way.source {
        Some(_) => {
            let ratio = plan.factor.map_or(2.5, |key| r[key]).max(1.01);
            let point = RatedPoint {
                outdoor_c: RATED_SOURCE_C,
                indoor_c: RATED_WATER_C,
                capacity_w: output,
                power_w: output / ratio,
            };
            let law = SecondLaw::fit(Mode::Heating, &[point])?;
            let limits = Limits { standby_w: 0.0, ..Limits::default() };
            Some(HeatPump { mode: Mode::Heating, figures: Figures::Law(law), limits })
        }
        None => None,
    };
    let mut heater = WaterHeater::new(tank, machine, ELEMENT_W, set_c);
    // Outdoor machines are made for the cold.
    heater.source_least_c = if way.source == Some(WaterSource::Room) { 5.0 } else { -7.0 };
    heater.loop_w = plan.loop_loss.map_or(0.0, |key| r[key]);
    heater.disinfection =
        plan.disinfection.map(|(at, every)| Disinfection { at_c: r[at], every_days: r[every] / 86_400.0 });
    Ok(heater)
}

fn source(way: Way, climate: &Climate, air: &RoomAir, hour: usize) -> SourceAir {
    let out = climate.state_at(hour as f64 + 0.5);
    let room = air.temperature_c[hour];
    let (temperature_c, kg_kg) = match way.source {
        None | Some(WaterSource::Room) => (room, air.kg_kg[hour]),
        Some(WaterSource::Outdoors) => (out.dry_bulb_c, out.humidity_ratio),
        Some(WaterSource::Duct) => {
            (out.dry_bulb_c + DUCT_WARMING * (room - out.dry_bulb_c), out.humidity_ratio)
        }
    };
    SourceAir { temperature_c, kg_kg: kg_kg.max(0.0), pressure_pa: out.pressure_pa }
}

/// Share of a day's draw in each hour of the year: by the people who are there that day.
fn day_shares(building: &Building, r: &Resolved) -> Vec<f64> {
    let mut people = vec![0.0; HOURS];
    for u in &building.uses {
        for q in 0..QUARTERS {
            let level = u.people.index.get(q).copied().unwrap_or(0);
            if let Some(key) = usize::from(level).checked_sub(1).and_then(|i| u.people.levels.get(i)) {
                people[q / 4] += 0.25 * r[*key];
            }
        }
    }
    for g in &building.gatherings {
        for day in &g.days {
            for q in g.quarters_of_day(*day) {
                people[(q / 4).min(HOURS - 1)] += 0.25 * r[g.people];
            }
        }
    }
    people
        .chunks_exact(24)
        .flat_map(|day| {
            let mut hours = [0.0; 24];
            hours.copy_from_slice(day);
            shares_of_people(&hours)
        })
        .collect()
}
