//! Findings about heads and hot water: loads, rooms left cold or hot, the cheaper layout, the tank's room.

use super::site::place;
use super::types::{Finding, FindingKind, Outcome};
use super::words::{Words, capital, plain};
use super::years::Years;
use crate::check::Project;
use building::Building;
use building::plan::PlantKind;
use climate::Climate;
use quantity::Dimension;
use year::YearError;
use year::services::layout::{Layout, RoomMiss, layouts};
use year::services::places::{Place, TankRoom, compare, tank_room};
use year::services::size::{Sizing, size};

/// A room that misses its set point for less than this many hours of the year is not told.
const FEW_HOURS: f64 = 100.0;
/// Electricity that another place of the water heater must save before it is told, share of the building's.
const WORTH_MOVING: f64 = 0.01;
/// Standard pressure at sea level, Pa, less what the place's height takes off is of no weight here.
const PRESSURE_PA: f64 = 100_000.0;

/// What was worked out about machines beside the years.
#[derive(Clone, Debug, Default)]
pub struct Machines {
    /// Loads of design days; absent where the book has no heads.
    pub sizing: Option<Sizing>,
    /// Each layout with doors shut and open.
    pub layouts: Vec<Layout>,
    /// The water heater four ways.
    pub places: Vec<Place>,
    /// Room of a heat-pump water heater.
    pub tank_room: Option<TankRoom>,
}

impl Machines {
    /// Works them out at the building's nominal values.
    ///
    /// # Errors
    /// [`YearError`] of the first run that fails.
    pub fn run(building: &Building, climate: &Climate) -> Result<Self, YearError> {
        let r = building.values.nominal();
        let heads = building.plant.iter().any(|p| p.kind == PlantKind::HeatPumpHead);
        let ((sizing, layouts), places) = rayon::join(
            || {
                rayon::join(
                    || heads.then(|| size(building, climate, &r)).transpose(),
                    || if heads { layouts(building, climate, &r) } else { Ok(Vec::new()) },
                )
            },
            || compare(building, climate, &r),
        );
        Ok(Self {
            sizing: sizing?,
            layouts: layouts?,
            places: places?,
            tank_room: tank_room(building, &r, PRESSURE_PA),
        })
    }
}

/// Returns what the machines ask of the builder.
pub(super) fn findings(project: &Project, years: &Years) -> Vec<Finding> {
    let mut all = Vec::new();
    let words = Words::of(&project.building);
    if let Some(machines) = &years.machines {
        all.extend(rooms(project, machines, words));
        all.extend(option(project, machines));
        all.extend(sizes(machines, words));
        all.extend(tank(project, machines, words));
        all.extend(elsewhere(project, machines, words));
    }
    all.extend(frost(project, years, words));
    all
}

fn gap(id: &str, subject: &str, sentence: String, status: Outcome) -> Finding {
    let mut f = Finding::new(format!("gap.machines.{id}"), FindingKind::Gap, subject);
    f.sentence = sentence;
    f.status = status;
    f.stage = "design".to_owned();
    f
}

fn hours(h: f64) -> String {
    format!("{h:.0} hours")
}

fn name_of(room: &RoomMiss) -> String {
    if room.label.is_empty() { plain(&room.room) } else { room.label.clone() }
}

/// Names of the worst rooms, most hours first.
fn worst(layout: &Layout, of: impl Fn(&RoomMiss) -> f64) -> Vec<&RoomMiss> {
    let mut rooms: Vec<&RoomMiss> = layout.rooms.iter().filter(|r| of(r) > FEW_HOURS).collect();
    rooms.sort_by(|a, b| of(b).total_cmp(&of(a)));
    rooms
}

/// Rooms that the drawn heads leave cold or hot.
fn rooms(project: &Project, machines: &Machines, words: Words) -> Vec<Finding> {
    let drawn = |open: bool| machines.layouts.iter().find(|l| l.name == "as drawn" && l.doors_open == open);
    let (Some(shut), Some(open)) = (drawn(false), drawn(true)) else { return Vec::new() };
    type Pick = fn(&RoomMiss) -> f64;
    let sides: [(&str, &str, Pick, Pick, Pick, Pick); 2] = [
        ("cold", "colder", |r| r.cold_h, |r| r.coldest_k, |r| r.heat_short_w, |r| r.warm_supply_m3_s),
        ("hot", "warmer", |r| r.hot_h, |r| r.hottest_k, |r| r.cold_short_w, |r| r.cool_supply_m3_s),
    ];
    let mut all = Vec::new();
    for (side, than, time, most, short, supply) in sides {
        let found = worst(shut, time);
        let Some(first) = found.first() else { continue };
        let after = open.rooms.iter().find(|r| r.room == first.room).map_or(0.0, time);
        let others: Vec<String> = found.iter().skip(1).take(3).map(|r| name_of(r)).collect();
        let more = if others.is_empty() { String::new() } else { format!("; then {}", others.join(", ")) };
        let reached = if first.served { "its head is too small for it" } else { "no head reaches it" };
        let mend = if supply(first) > 0.0 {
            format!(
                " To mend it: {} more, which is {} of supply air at its limit, or {} exchanged with a room 2 K better.",
                words.show(short(first), Dimension::Power),
                words.show(supply(first), Dimension::VolumeFlow),
                words.show(first.transfer_m3_s, Dimension::VolumeFlow)
            )
        } else {
            String::new()
        };
        let sentence = format!(
            "{} stays {than} than its set point for {} of a year, by up to {} ({reached}){more}. With doors open: {}.{mend}",
            name_of(first),
            hours(time(first)),
            words.show(most(first), Dimension::TemperatureDifference),
            hours(after),
        );
        let mut f = gap(&format!("rooms-{side}"), &format!("rooms left {side}"), sentence, Outcome::NotMet);
        f.place = Some(place(project, "room", &first.room, &format!("space.{}", first.room)));
        all.push(f);
    }
    all
}

/// The owner's cheaper layouts against the drawn one.
fn option(project: &Project, machines: &Machines) -> Vec<Finding> {
    let building = &project.building;
    let with =
        |name: &str, open: bool| machines.layouts.iter().find(|l| l.name == name && l.doors_open == open);
    let Some(drawn) = with("as drawn", true) else { return Vec::new() };
    let mut all = Vec::new();
    for other in machines.layouts.iter().filter(|l| l.name != "as drawn" && l.doors_open) {
        let ((cold, hot), (own_cold, own_hot)) = (other.hours(building), drawn.hours(building));
        let lost: Vec<String> = other
            .rooms
            .iter()
            .zip(&drawn.rooms)
            .filter(|(o, d)| o.cold_h + o.hot_h > d.cold_h + d.hot_h + 2.0 * FEW_HOURS)
            .map(|(o, _)| name_of(o))
            .collect();
        let worse = cold + hot > own_cold + own_hot + FEW_HOURS;
        let verdict = if worse {
            format!(
                "It leaves {} worse off than drawn",
                if lost.is_empty() { "rooms".to_owned() } else { lost.join(", ") }
            )
        } else {
            "It does as well as drawn".to_owned()
        };
        let sentence = format!(
            "\"{}\" with doors open: {:.0} hours too cold and {:.0} too hot a year, rooms by floor area; as drawn {:.0} and {:.0}. {verdict}.",
            capital(&other.name),
            cold,
            hot,
            own_cold,
            own_hot
        );
        let status = if worse { Outcome::NotMet } else { Outcome::Met };
        all.push(gap(
            &format!("option.{}", other.name),
            &format!("layout \"{}\"", other.name),
            sentence,
            status,
        ));
    }
    all
}

/// Heads too small for the design days.
fn sizes(machines: &Machines, words: Words) -> Vec<Finding> {
    let Some(s) = &machines.sizing else { return Vec::new() };
    let mut all = Vec::new();
    for (id, what, range) in
        [("heating-size", "heating", &s.heating_range), ("cooling-size", "cooling", &s.cooling_range)]
    {
        if range.from_w <= 0.0 || range.drawn_w <= 0.0 {
            continue;
        }
        let power = |w: f64| words.show(w, Dimension::Power);
        let status = if range.drawn_w < range.from_w { Outcome::NotMet } else { Outcome::Met };
        let sentence = format!(
            "The heads can give {} of {what} on the design day; it asks for {} to {} ({}).",
            power(range.drawn_w),
            power(range.from_w),
            power(range.to_w),
            range.reason
        );
        all.push(gap(id, &format!("{what} capacity"), sentence, status));
    }
    all
}

/// A heat-pump water heater in a room too small for it.
fn tank(project: &Project, machines: &Machines, words: Words) -> Option<Finding> {
    let room = machines.tank_room.as_ref()?;
    let difference = |k: f64| words.show(k, Dimension::TemperatureDifference);
    let small = room.volume_m3 < room.asked_m3;
    let sentence = format!(
        "{} holds {}; a heat-pump water heater without ducts commonly asks for {}. While it runs it takes {} of heat: with \
         the door shut the air falls by up to {}, with louvres to the next room by {}.",
        room.room,
        words.show(room.volume_m3, Dimension::Volume),
        words.show(room.asked_m3, Dimension::Volume),
        words.show(room.taken_w, Dimension::Power),
        difference(room.fall_k),
        difference(room.fall_with_louvres_k),
    );
    let mut f = gap(
        "tank-room",
        "room of the water heater",
        sentence,
        if small { Outcome::NotMet } else { Outcome::Met },
    );
    let name = project.building.hot_water.plant.clone().unwrap_or_default();
    f.place = Some(place(project, "plant", &name, &format!("plant.{name}")));
    Some(f)
}

/// Another place for the water heater that takes clearly less electricity in all.
fn elsewhere(project: &Project, machines: &Machines, words: Words) -> Option<Finding> {
    let drawn = machines.places.iter().find(|p| p.drawn)?;
    let best = machines.places.iter().min_by(|a, b| a.electricity_j.total_cmp(&b.electricity_j))?;
    let saved = drawn.electricity_j - best.electricity_j;
    let status = if saved > WORTH_MOVING * drawn.electricity_j { Outcome::NotMet } else { Outcome::Met };
    let sentence = if status == Outcome::Met {
        format!("Hot water made {} takes as little electricity in all as any other way.", drawn.name)
    } else {
        format!(
            "Hot water made {} would save {} a year of the whole building's electricity against {}.",
            best.name,
            words.show(saved, Dimension::Energy),
            drawn.name
        )
    };
    let mut f = gap("tank-place", "place of the water heater", sentence, status);
    let name = project.building.hot_water.plant.clone().unwrap_or_default();
    f.place = Some(place(project, "plant", &name, &format!("plant.{name}")));
    Some(f)
}

/// Frost in the exchanger that nothing is stated against.
fn frost(project: &Project, years: &Years, words: Words) -> Option<Finding> {
    let frost = &years.real.as_ref().or(years.standard.as_ref())?.machines.frost;
    let unit = project.building.ventilation.first()?;
    if frost.stated || frost.hours < 1.0 {
        return None;
    }
    let below = words.show(year::services::hours::FROST_BELOW_C, Dimension::Temperature);
    let sentence = format!(
        "Outdoor air is below {below} for {} a year while the ventilation unit runs, and nothing is stated that keeps ice \
         out of its exchanger: write frost = {{ protection = \"preheat\", below = \"-4 °C\" }} and what it takes is \
         counted.",
        hours(frost.hours)
    );
    let mut f = gap("frost", "frost in the ventilation unit", sentence, Outcome::NotKnown);
    f.place = Some(place(project, "ventilation", &unit.name, &format!("ventilation.{}", unit.name)));
    Some(f)
}
