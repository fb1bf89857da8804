//! `[plant.x]`: heads, heaters, and the hot water they make.

use super::{Book, How, sections, want};
use crate::reader::{Bounds, Fields, Names, refer};
use building::plan::{HotWaterPlan, PlantKind, PlantPlan};
use building::stated::Basis;
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
        };
    }
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
    });
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
