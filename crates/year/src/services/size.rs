//! What heads should be able to do: loads of design days, what the supply air can bring, and the price of too much.
//!
//! Heating: the cold of the weather year that 99.6 in 100 hours exceed, held for two weeks without sun, people or
//! machines; then with neighbours at the mean of inside and outdoors (their heating off, in substance EN 12831-1); then
//! the power that brings the rooms back in two hours after a night 3 K cooler. Cooling: the hot design day repeated as an
//! ordinary day, with the largest crowd, and the humid design day with it. Loads are means of an hour.
//!
//! The spread is that of [`SAMPLES`] draws of every uncertain number of the book.

use building::{Building, Resolved};
use climate::{Climate, design_days};
use numeric::counter::Stream;
use plant::air_path::{SupplyLimits, supply_reach};
use plant::heat_pump::{Figures, HeatPump};
use serde::Serialize;

use super::hours::Account;
use super::machines::{Head, heads};
use crate::assemble::{Frame, YearOptions};
use crate::error::YearError;
use crate::kernel::input::{HourlyFlow, HourlyFlows};
use crate::kernel::input::{UseState, ZoneUse};
use crate::kernel::{self, Drivers, Model, Options};
use crate::result::{Grain, Use};

/// Share of hours colder than the design temperature.
const COLD_SHARE: f64 = 0.004;
/// Days that a design day is repeated.
const DAYS: usize = 14;
/// A night's set-back, K, and the hours to come back from it.
const SET_BACK_K: f64 = 3.0;
const BACK_H: usize = 2;
/// Draws for the spread.
pub const SAMPLES: usize = 24;
/// Largest mean share by which a heating machine is oversized before its cycling is told.
const SIZES: [f64; 4] = [1.0, 1.5, 2.0, 3.0];

/// One load.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Load {
    /// Short name.
    pub name: String,
    /// What was assumed.
    pub words: String,
    /// Sensible power of the whole, W.
    pub power_w: f64,
    /// Heat of drying in the same hour, W; zero for heating.
    pub drying_w: f64,
    /// By zone, W.
    pub zones: Vec<(String, f64)>,
}

/// Reach of the supply air of a mode.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Reach {
    /// Mode.
    pub mode: String,
    /// Supply, m³/s.
    pub flow_m3_s: f64,
    /// Heat, W.
    pub heat_w: f64,
    /// Sensible cold, W.
    pub cold_w: f64,
    /// Heat of drying, W.
    pub drying_w: f64,
}

/// A recommended range.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Range {
    /// W.
    pub from_w: f64,
    /// W.
    pub to_w: f64,
    /// Why it begins and ends there.
    pub reason: String,
    /// Fifth and ninety-fifth of a hundred of the load it begins with, W.
    pub spread_w: (f64, f64),
    /// What the drawn heads can do then, W.
    pub drawn_w: f64,
}

/// The price of size: heads all scaled alike.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Oversize {
    /// Over the drawn heads.
    pub scale: f64,
    /// Electricity of heating and cooling in a year, J.
    pub electricity_j: f64,
    /// Hours of cycling, all heads.
    pub cycling_h: f64,
    /// Resistance heat, J.
    pub backup_j: f64,
}

/// Answer of a sizing.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Sizing {
    /// Cold design temperature, °C.
    pub cold_c: f64,
    /// Highest temperature of the hot design day, °C.
    pub hot_c: f64,
    /// Net floor, m².
    pub floor_m2: f64,
    /// Heating loads.
    pub heating: Vec<Load>,
    /// Cooling loads.
    pub cooling: Vec<Load>,
    /// Supply air.
    pub supply: Vec<Reach>,
    /// Heating range.
    pub heating_range: Range,
    /// Cooling range, drying included.
    pub cooling_range: Range,
    /// Price of size; empty without heads that have rated points.
    pub oversize: Vec<Oversize>,
}

/// Sizes a building's heads.
///
/// # Errors
/// [`YearError`] of a run.
pub fn size(building: &Building, climate: &Climate, r: &Resolved) -> Result<Sizing, YearError> {
    let frame = Frame::new(building, climate, Use::Real, Grain::Limits, &YearOptions::default())?;
    let model = frame.checked(r)?;
    let heads = heads(building, &building.plant, r)?;
    let cold = Cold::of(&frame, climate);
    let base = load(&frame, &cold.drivers, &model, true)?;
    let mut heating = vec![Load {
        name: "cold, no sun, nobody".to_owned(),
        words: "design cold for two weeks, ventilation as on an ordinary day".to_owned(),
        ..base
    }];
    if !building.neighbours.is_empty() {
        let mut alone = cold.drivers.clone();
        for given in alone.given.iter_mut().take(building.neighbours.len()) {
            given.temperature_c.fill(0.5 * (cold.outdoor_c + r[building.set_points.heating]));
        }
        heating.push(Load {
            name: "and the neighbour unheated".to_owned(),
            words: "neighbours at the mean of inside and outdoors".to_owned(),
            ..load(&frame, &alone, &model, true)?
        });
    }
    let back_w = after_set_back(&frame, &cold, &model, &heating[0])?;
    heating.push(Load {
        name: "back after a cool night".to_owned(),
        words: format!("{SET_BACK_K} K lower from 22:00 to 6:00, back by {}:00", 6 + BACK_H),
        power_w: back_w,
        zones: heating[0]
            .zones
            .iter()
            .map(|(n, w)| (n.clone(), w * back_w / heating[0].power_w.max(1.0)))
            .collect(),
        ..Load::default()
    });
    let days = design_days::design_days(climate);
    let crowd = crowd_day(building, r);
    let ordinary = ordinary_day(building, days.hot.first_day);
    let mut cooling = Vec::new();
    for (name, words, weather, used) in [
        ("hot, an ordinary day", "hot design day, everyday use", days.hot.first_day, Some(ordinary)),
        ("hot, with the crowd", "hot design day, the largest gathering", days.hot.first_day, crowd),
        ("humid, with the crowd", "most humid hot day, the largest gathering", days.humid.first_day, crowd),
    ] {
        let Some(used) = used else { continue };
        let drivers = repeated(&frame.drivers, weather, used);
        cooling.push(Load {
            name: name.to_owned(),
            words: words.to_owned(),
            ..load(&frame, &drivers, &model, false)?
        });
    }
    let mut out = Sizing {
        cold_c: cold.outdoor_c,
        hot_c: days.hot.highest_c,
        floor_m2: frame.net_floor_m2(),
        supply: reaches(building, r, frame.drivers.pressure_pa),
        oversize: oversizes(&frame, r, &model, &heads)?,
        heating_range: Range::default(),
        cooling_range: Range::default(),
        heating,
        cooling,
    };
    let hot = repeated(&frame.drivers, days.hot.first_day, ordinary);
    let (warm_spread, cold_spread) = spreads(&frame, &cold.drivers, &hot)?;
    out.heating_range = heating_range(&out, &heads, warm_spread);
    out.cooling_range = cooling_range(&out, &heads, cold_spread);
    Ok(out)
}

fn total(l: &Load) -> f64 {
    l.power_w + l.drying_w
}

fn heating_range(s: &Sizing, heads: &[Head], spread_w: (f64, f64)) -> Range {
    let from_w = s.heating[0].power_w;
    // Coming back from a cool night is told and not sized for: the night is better left warm.
    let steady = &s.heating[..s.heating.len() - 1];
    let to = steady.iter().max_by(|a, b| a.power_w.total_cmp(&b.power_w)).unwrap_or(&s.heating[0]);
    Range {
        from_w,
        to_w: to.power_w.max(from_w),
        reason: format!("from \"{}\" to \"{}\"", s.heating[0].name, to.name),
        spread_w,
        drawn_w: heads
            .iter()
            .filter_map(|h| h.heating.as_ref())
            .map(|m| m.capacity_w(s.cold_c, 20.0, 1.0) + m.limits.backup_w)
            .sum(),
    }
}

fn cooling_range(s: &Sizing, heads: &[Head], spread_w: (f64, f64)) -> Range {
    let Some(first) = s.cooling.first() else { return Range::default() };
    let to = s.cooling.iter().max_by(|a, b| total(a).total_cmp(&total(b))).unwrap_or(first);
    Range {
        from_w: total(first),
        to_w: total(to).max(total(first)),
        reason: format!(
            "from \"{}\" to \"{}\"; a crowd's hours may also be met by cooling the rooms before it comes",
            first.name, to.name
        ),
        spread_w,
        drawn_w: heads
            .iter()
            .filter_map(|h| Some((h.cooling.as_ref()?, h.sensible_share)))
            .map(|(m, share)| m.capacity_w(s.hot_c, 25.0, share))
            .sum(),
    }
}

/// The cold design state.
struct Cold {
    outdoor_c: f64,
    drivers: Drivers,
}

impl Cold {
    fn of(frame: &Frame<'_>, climate: &Climate) -> Self {
        let outdoor_c = design_days::hourly_c(climate, design_days::End::Cold, COLD_SHARE);
        let d = &frame.drivers;
        let day = design_days::design_days(climate).overcast_cold.first_day;
        let mut drivers = repeated(d, day, ordinary_day(frame.building, day));
        drivers.outdoor_c.fill(outdoor_c);
        let humidity = matter::moist_air::humidity_ratio_of(outdoor_c, 0.8, d.pressure_pa);
        drivers.outdoor_kg_kg.fill(humidity);
        for s in &mut drivers.surroundings {
            s.irradiance_w_m2.fill(0.0);
            // A cloudy sky: as cold as the air.
            s.radiant_c.fill(outdoor_c);
        }
        for a in &mut drivers.apertures {
            a.incident_w_m2.fill(0.0);
            a.transmitted_w_m2.fill(0.0);
            a.inward_w_m2.fill(0.0);
        }
        let empty = |z: &ZoneUse| ZoneUse {
            people_w: 0.0,
            vapour_kg_s: 0.0,
            co2_m3_s: 0.0,
            equipment_w: 0.0,
            lights_w: 0.0,
            cool_below_c: f64::INFINITY,
            dry_below_kg_kg: f64::INFINITY,
            ..*z
        };
        // Ventilation as in the busiest hour of that ordinary day, all day.
        let busiest = drivers.use_of_step[DAYS / 2 * 24 * d.steps_per_hour + 16 * d.steps_per_hour];
        let state = &drivers.uses[usize::from(busiest)];
        let state =
            UseState { zones: state.zones.iter().map(empty).collect(), airing: false, ..state.clone() };
        drivers.uses = vec![state];
        drivers.use_of_step.fill(0);
        Self { outdoor_c, drivers }
    }
}

/// One day's weather and another day's use, again and again.
fn repeated(d: &Drivers, weather: usize, used: usize) -> Drivers {
    let n = d.steps_per_hour;
    let steps = |values: &[f64]| -> Vec<f64> {
        let day = &values[weather * 24 * n..(weather + 1) * 24 * n];
        day.iter().copied().cycle().take(DAYS * 24 * n).collect()
    };
    let hours = |values: &[f64]| -> Vec<f64> {
        if values.is_empty() {
            return Vec::new();
        }
        values[weather * 24..(weather + 1) * 24].iter().copied().cycle().take(DAYS * 24).collect()
    };
    let mut out = d.clone();
    out.hours = DAYS * 24;
    out.outdoor_c = steps(&d.outdoor_c);
    out.outdoor_kg_kg = steps(&d.outdoor_kg_kg);
    out.wind_m_s = hours(&d.wind_m_s);
    for s in &mut out.surroundings {
        s.irradiance_w_m2 = hours(&s.irradiance_w_m2);
        s.radiant_c = hours(&s.radiant_c);
    }
    for g in &mut out.given {
        g.temperature_c = hours(&g.temperature_c);
        g.humidity_kg_kg = hours(&g.humidity_kg_kg);
    }
    for a in &mut out.apertures {
        a.incident_w_m2 = hours(&a.incident_w_m2);
        a.transmitted_w_m2 = hours(&a.transmitted_w_m2);
        a.inward_w_m2 = hours(&a.inward_w_m2);
    }
    out.hourly_flows = flows_of_day(d, weather);
    out.machines.clear();
    let day = &d.use_of_step[used * 24 * n..(used + 1) * 24 * n];
    out.use_of_step = day.iter().copied().cycle().take(DAYS * 24 * n).collect();
    out.watches.clear();
    out.bin_ends = vec![DAYS * 24];
    out
}

/// Flows through leaks in a day's weather, again and again, for every air mode.
///
/// The network was solved for the modes that run in that weather. For another mode the nearest day's flows at that hour
/// of the day stand in; a mode that runs nowhere in the year takes those of the first mode of the hour.
fn flows_of_day(d: &Drivers, weather: usize) -> HourlyFlows {
    let flows = &d.hourly_flows;
    if flows.tables.is_empty() {
        return HourlyFlows::default();
    }
    let days = d.hours / 24;
    let modes = d.uses.iter().map(|u| u.air_mode + 1).max().unwrap_or(0);
    let slot = |hour_of_day: usize, mode: usize| {
        let near = |off: usize| [weather.checked_sub(off), Some(weather + off).filter(|day| *day < days)];
        let found =
            (0..days).flat_map(near).flatten().find_map(|day| flows.slot(day * 24 + hour_of_day, mode));
        found.unwrap_or(flows.first[weather * 24 + hour_of_day] as usize)
    };
    let day: Vec<usize> =
        (0..24).flat_map(|h| (0..modes).map(move |m| (h, m))).map(|(h, m)| slot(h, m)).collect();
    let again = |column: &[f64]| -> Vec<f64> {
        if column.is_empty() {
            return Vec::new();
        }
        day.iter().map(|slot| column[*slot]).cycle().take(DAYS * day.len()).collect()
    };
    HourlyFlows {
        first: (0..=DAYS * 24).map(|hour| (hour * modes) as u32).collect(),
        mode: (0..DAYS * 24).flat_map(|_| (0..modes).map(|m| m as u16)).collect(),
        tables: flows
            .tables
            .iter()
            .map(|t| HourlyFlow {
                flow_m3_s: again(&t.flow_m3_s),
                per_k: again(&t.per_k),
                per_surplus: again(&t.per_surplus),
                party: [again(&t.party[0]), again(&t.party[1])],
            })
            .collect(),
    }
}

/// An open day without a gathering, the nearest to a wanted one.
fn ordinary_day(building: &Building, wanted: usize) -> usize {
    let busy: Vec<usize> = building.gatherings.iter().flat_map(|g| g.days.iter().copied()).collect();
    let weekday =
        |day: usize| building.calendar.days.get(day).is_some_and(|d| !d.closed && (d.weekday as usize) < 5);
    (0..365)
        .filter(|day| weekday(*day) && !busy.contains(day))
        .min_by_key(|day| day.abs_diff(wanted))
        .unwrap_or(wanted)
}

/// A day with the gathering of most people.
fn crowd_day(building: &Building, r: &Resolved) -> Option<usize> {
    let most = building
        .gatherings
        .iter()
        .filter(|g| !g.days.is_empty())
        .max_by(|a, b| r[a.people].total_cmp(&r[b.people]))?;
    most.days.first().copied()
}

/// Greatest hour of the last day.
fn load(frame: &Frame<'_>, drivers: &Drivers, model: &Model, heats: bool) -> Result<Load, YearError> {
    let options = Options { trace: true, co2: false, ..frame.options };
    let year = kernel::run(drivers, model, &options)?;
    let mut best = Load::default();
    let Some(trace) = &year.trace else { return Ok(best) };
    let (zones, n) = (year.zones, drivers.steps_per_hour);
    let evaporation = matter::moist_air::evaporation_heat(12.0);
    for hour in (DAYS - 1) * 24..DAYS * 24 {
        let mean = |values: &[f64], z: usize| {
            (0..n).map(|k| values[(hour * n + k) * zones + z]).sum::<f64>() / n as f64
        };
        let powers: Vec<f64> = (0..zones)
            .map(|z| mean(&trace.power_w, z))
            .map(|p| if heats { p.max(0.0) } else { (-p).max(0.0) })
            .collect();
        let power_w: f64 = powers.iter().sum();
        let drying_w = if heats || trace.drying_kg_s.is_empty() {
            0.0
        } else {
            (0..zones).map(|z| mean(&trace.drying_kg_s, z).max(0.0) * evaporation).sum()
        };
        if power_w + drying_w > total(&best) || best.zones.is_empty() {
            let zones = frame.zones.names.iter().cloned().zip(powers).collect();
            best = Load { power_w, drying_w, zones, ..Load::default() };
        }
    }
    Ok(best)
}

/// Least power, shared as the steady load is, that has every zone back in time, W.
fn after_set_back(frame: &Frame<'_>, cold: &Cold, model: &Model, steady: &Load) -> Result<f64, YearError> {
    let n = cold.drivers.steps_per_hour;
    let mut drivers = cold.drivers.clone();
    let day = drivers.uses[0].clone();
    let mut night = day.clone();
    for z in &mut night.zones {
        z.heat_above_c -= SET_BACK_K;
    }
    drivers.uses = vec![day, night];
    for (step, state) in drivers.use_of_step.iter_mut().enumerate() {
        let hour = step / n % 24;
        *state = u16::from(!(6..22).contains(&hour));
    }
    let options = Options { trace: true, co2: false, vapour: false, ..frame.options };
    let at = ((DAYS - 1) * 24 + 6 + BACK_H) * n - 1;
    let back = |scale: f64| -> Result<bool, YearError> {
        let mut bounded = model.clone();
        for (zone, (_, load)) in bounded.zones.iter_mut().zip(&steady.zones) {
            zone.heating_limit_w = scale * load.max(1.0);
        }
        let year = kernel::run(&drivers, &bounded, &options)?;
        let Some(trace) = &year.trace else { return Ok(true) };
        let wanted = drivers.uses[0].zones.iter().map(|z| z.heat_above_c);
        Ok(wanted.enumerate().all(|(z, set)| {
            let k = at * year.zones + z;
            trace.operative_c[k] > set - 0.3
        }))
    };
    let (mut low, mut high) = (1.0, 8.0);
    if back(low)? {
        return Ok(steady.power_w);
    }
    if !back(high)? {
        return Ok(high * steady.power_w);
    }
    for _ in 0..6 {
        let middle = 0.5 * (low + high);
        if back(middle)? {
            high = middle;
        } else {
            low = middle;
        }
    }
    Ok(high * steady.power_w)
}

fn reaches(building: &Building, r: &Resolved, pressure_pa: f64) -> Vec<Reach> {
    let points = &building.set_points;
    let (warm, cool, dry) = (r[points.heating], r[points.cooling], r[points.dehumidify_above]);
    let modes = building.ventilation.iter().flat_map(|unit| &unit.modes);
    modes
        .map(|mode| {
            let flow = r[mode.supply];
            let reach = supply_reach(flow, warm, cool, dry, pressure_pa, &SupplyLimits::USUAL);
            Reach {
                mode: mode.name.clone(),
                flow_m3_s: flow,
                heat_w: reach.heat_w,
                cold_w: reach.cold_w,
                drying_w: reach.water_kg_s * matter::moist_air::evaporation_heat(12.0),
            }
        })
        .collect()
}

/// The same machine, larger.
fn scaled(pump: &HeatPump, scale: f64) -> HeatPump {
    let mut out = pump.clone();
    if let Figures::Law(law) = &mut out.figures {
        law.capacity_w *= scale;
        law.room_w_k *= scale;
    }
    out
}

fn oversizes(
    frame: &Frame<'_>,
    r: &Resolved,
    model: &Model,
    drawn: &[Head],
) -> Result<Vec<Oversize>, YearError> {
    let has_law =
        |pump: &Option<HeatPump>| pump.as_ref().is_some_and(|m| matches!(m.figures, Figures::Law(_)));
    if !drawn.iter().any(|h| has_law(&h.heating) || has_law(&h.cooling)) {
        return Ok(Vec::new());
    }
    let options = Options { trace: true, co2: false, ..frame.options };
    let year = kernel::run(&frame.drivers, model, &options)?;
    let Some(trace) = &year.trace else { return Ok(Vec::new()) };
    SIZES
        .into_iter()
        .map(|scale| {
            let heads: Vec<Head> = drawn
                .iter()
                .map(|h| Head {
                    heating: h.heating.as_ref().map(|m| scaled(m, scale)),
                    cooling: h.cooling.as_ref().map(|m| scaled(m, scale)),
                    ..h.clone()
                })
                .collect();
            let machines = Account { frame, trace, r, heads: &heads, water: None }.year()?;
            let m = machines.year();
            Ok(Oversize {
                scale,
                electricity_j: m.heating_j + m.cooling_j,
                cycling_h: machines.heads.iter().map(|h| h.cycling_h).sum(),
                backup_j: machines.heads.iter().map(|h| h.backup_j).sum(),
            })
        })
        .collect()
}

/// Low and high end of a figure.
type Span = (f64, f64);

/// Fifth and ninety-fifth of a hundred of the base loads over draws of the book's numbers.
fn spreads(frame: &Frame<'_>, cold: &Drivers, hot: &Drivers) -> Result<(Span, Span), YearError> {
    let (mut warm, mut cool) = (Vec::new(), Vec::new());
    for draw in 0..SAMPLES as u64 {
        let mut r = frame.building.values.nominal();
        for ((_, stated), value) in frame.building.values.iter().zip(&mut r.0) {
            // Values of one group move together.
            let id = stated.group.as_deref().unwrap_or(&stated.id);
            *value = stated.distribution.quantile(Stream::new(1, id).uniform(draw).clamp(0.01, 0.99));
        }
        let model = frame.checked(&r)?;
        warm.push(total(&load(frame, cold, &model, true)?));
        cool.push(total(&load(frame, hot, &model, false)?));
    }
    let ends = |mut values: Vec<f64>| {
        values.sort_by(f64::total_cmp);
        let at = |share: f64| values[((share * (values.len() - 1) as f64).round()) as usize];
        (at(0.05), at(0.95))
    };
    Ok((ends(warm), ends(cool)))
}
