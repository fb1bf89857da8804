//! `[plant.x]`: heads, heaters, and the hot water they make.

use super::{Book, How, sections, want};
use crate::reader::{Bounds, Fields, Kind, Names, refer};
use building::plan::{HotWaterPlan, PlantKind, PlantPlan, RatedPointPlan, WaterSource};
use building::stated::{Basis, ValueKey};
use quantity::Dimension;

const KINDS: [(&str, PlantKind); 6] = [
    ("heat pump head", PlantKind::HeatPumpHead),
    ("electric heater", PlantKind::ElectricHeater),
    ("boiler", PlantKind::Boiler),
    ("heat-pump water heater", PlantKind::HeatPumpWaterHeater),
    ("water heater", PlantKind::WaterHeater),
    ("dehumidifier", PlantKind::Dehumidifier),
];

const FACTOR: Bounds = Bounds::above(0.0, 20.0, "is more than zero and at most 20");
const WEATHER: Bounds = Bounds::within(-60.0, 70.0, "lies between -60 °C and 70 °C");
const HOT: Bounds = Bounds::within(30.0, 95.0, "lies between 30 °C and 95 °C");
const RISE: Bounds = Bounds::above(0.0, 95.0, "is more than zero and at most 95 K");

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>) {
    if !top.has("plant") {
        return;
    }
    for (name, f) in sections(book, top, "plant") {
        piece(book, name, f);
    }
}

fn piece(book: &mut Book<'_>, name: String, mut f: Fields<'_>) {
    let how = How::read(&mut book.cx, &mut f, Basis::Assumed);
    if !f.has("kind") {
        f.missing(&mut book.cx, "kind", "kind = \"heat pump head\"");
    }
    let kind = f.choice(&mut book.cx, "kind", &KINDS);
    let place = place(book, &mut f);
    let mut get = |key, dimension, bounds, kind| book.value(&mut f, key, want(dimension, bounds, kind), &how);
    let heating = get("heating", Dimension::Power, Bounds::NOT_NEGATIVE, "capacity");
    let cooling = get("cooling", Dimension::Power, Bounds::NOT_NEGATIVE, "capacity");
    let sensible_share = get("sensible-share", Dimension::Ratio, Bounds::SHARE, "share of area");
    let seasonal_heating = get("seasonal-heating", Dimension::Ratio, FACTOR, "efficiency");
    let seasonal_cooling = get("seasonal-cooling", Dimension::Ratio, FACTOR, "efficiency");
    let primary_factor = get("primary-factor", Dimension::Ratio, FACTOR, "fixed");
    let least_share = get("least-share", Dimension::Ratio, Bounds::SHARE, "efficiency");
    let cut_out = get("cut-out", Dimension::Temperature, WEATHER, "fixed");
    let backup = get("backup", Dimension::Power, Bounds::NOT_NEGATIVE, "fixed");
    let water = matches!(kind, Some(PlantKind::HeatPumpWaterHeater | PlantKind::WaterHeater));
    if water {
        book.plan.hot_water = HotWaterPlan {
            tank_volume: get("volume", Dimension::Volume, Bounds::POSITIVE, "volume"),
            draw_per_day: get("draw", Dimension::Volume, Bounds::NOT_NEGATIVE, "hot water"),
            rise: get("rise", Dimension::TemperatureDifference, RISE, "temperature"),
            standing_loss_per_day: get("standing-loss", Dimension::Energy, Bounds::NOT_NEGATIVE, "hot water"),
            factor: get("factor", Dimension::Ratio, FACTOR, "efficiency"),
            space: place.clone(),
            plant: Some(name.clone()),
            set_point: get("set-point", Dimension::Temperature, HOT, "set point"),
            loop_loss: get("loop-loss", Dimension::Power, Bounds::NOT_NEGATIVE, "hot water"),
            source: WaterSource::Room,
            disinfection: None,
        };
        let sources =
            [("room", WaterSource::Room), ("duct", WaterSource::Duct), ("outdoors", WaterSource::Outdoors)];
        let source = f.choice(&mut book.cx, "takes-from", &sources).unwrap_or_default();
        let disinfection = disinfection(book, &mut f, &how);
        book.plan.hot_water.source = source;
        book.plan.hot_water.disinfection = disinfection;
    }
    let mut points = rated_points(book, &mut f, true, &how);
    points.extend(rated_points(book, &mut f, false, &how));
    let option = f.text(&mut book.cx, "option").map(|w| w.text);
    if kind.is_none() {
        // Which keys belong to a kind that cannot be read, nobody can say.
        f.entries();
    }
    f.finish(&mut book.cx);
    let Some(kind) = kind else { return };
    book.plan.plant.push(PlantPlan {
        name,
        kind,
        place,
        heating,
        cooling,
        sensible_share,
        seasonal_heating,
        seasonal_cooling,
        primary_factor,
        points,
        least_share,
        cut_out,
        backup,
        option,
    });
}

/// Reads `disinfection = { at = "60 °C", every = "7 d" }`.
fn disinfection(book: &mut Book<'_>, f: &mut Fields<'_>, how: &How) -> Option<(ValueKey, ValueKey)> {
    let mut d = f.table(&mut book.cx, "disinfection")?;
    let at = book.need(&mut d, "at", want(Dimension::Temperature, HOT, "set point"), how);
    let every = book.need(&mut d, "every", want(Dimension::Time, Bounds::POSITIVE, "fixed"), how);
    d.finish(&mut book.cx);
    Some((at, every))
}

/// Reads `heating-points = [{ outdoor = "7 °C", heat = "3.2 kW", power = "0.74 kW" }]`, and `cooling-points` with `cold`.
fn rated_points(book: &mut Book<'_>, f: &mut Fields<'_>, heating: bool, how: &How) -> Vec<RatedPointPlan> {
    let (key, what) = if heating { ("heating-points", "heat") } else { ("cooling-points", "cold") };
    let Some(items) = f.list(&mut book.cx, key) else { return Vec::new() };
    let path = f.path().to_owned();
    let mut points = Vec::new();
    for (i, item) in items.iter().enumerate() {
        let Kind::Table(table) = &item.kind else {
            let message = format!("a rated point is a table, this is {}", item.kind.words());
            let help = format!("write {{ outdoor = \"7 °C\", {what} = \"3.2 kW\", power = \"0.74 kW\" }}");
            book.cx.error("type", &item.place, message, help);
            continue;
        };
        let noun = format!("rated point {}", i + 1);
        let mut p = Fields::new(table, noun, item.place.clone(), format!("{path}.{key}.{}", i + 1));
        let air = want(Dimension::Temperature, WEATHER, "fixed");
        let power = |kind| want(Dimension::Power, Bounds::POSITIVE, kind);
        points.push(RatedPointPlan {
            heating,
            outdoor: book.need(&mut p, "outdoor", air, how),
            indoor: book.value(&mut p, "indoor", air, how),
            capacity: book.need(&mut p, what, power("capacity"), how),
            power: book.need(&mut p, "power", power("capacity"), how),
        });
        p.finish(&mut book.cx);
    }
    points
}

/// Reads the room or zone it serves or stands in.
fn place(book: &mut Book<'_>, f: &mut Fields<'_>) -> Option<String> {
    let word = f.text(&mut book.cx, "where")?;
    let mut names: Names = book.names.spaces.clone();
    for zone in
        book.plan.spaces.iter().filter_map(|s| s.zone.as_ref()).chain(book.plan.zones.iter().map(|z| &z.name))
    {
        let _ = names.add(zone, &word.place);
    }
    refer(&mut book.cx, &word, &names, "space or zone").then_some(word.text)
}
