//! Hot water: where the heater would stand best, what it takes from its room month by month.

use maud::{Markup, html};
use quantity::Dimension;
use year::services::WaterYear;
use year::services::places::{Place, TankRoom};

use crate::draw::chart::Format;
use crate::draw::scale::MONTHS;
use crate::page::{figure, table, working};
use crate::reader::{Reader, plain};
use crate::sheet::where_we_stand::capital;
use crate::svg::{Anchor, Drawing, line, rect, text};

/// Draws the content of the sheet.
pub fn content(
    water: &WaterYear,
    places: &[Place],
    room: Option<&TankRoom>,
    cautions: &[String],
    reader: Reader,
) -> Markup {
    html! {
        h1 { (headline(places)) }
        p.lead { (lead(water, reader)) }
        @if !places.is_empty() {
            h2 { "Four places" }
            (figure(&places_sentence(places), |format| places_drawing(places, format)))
            (places_table(places, reader))
        }
        @if let Some(room) = room {
            h2 { "Its room" }
            p { (room_sentence(room, reader)) }
        }
        @if !water.months.is_empty() {
            h2 { "Month by month" }
            ol.months {
                @for (m, name) in water.months.iter().zip(MONTHS) {
                    li { p.said { (month_sentence(m, name, reader)) } }
                }
            }
            (months_table(water))
        }
        @for caution in cautions { p.soft { (caution) } }
    }
}

/// The sheet when the book draws no hot water.
pub fn without_water() -> Markup {
    html! {
        h1 { "No hot water is in the book." }
        p.lead { "A water heater under [plant.x] with volume, draw, rise and factor fills this sheet." }
    }
}

fn headline(places: &[Place]) -> String {
    let drawn = places.iter().find(|p| p.drawn);
    let best = places.iter().min_by(|a, b| a.electricity_j.total_cmp(&b.electricity_j));
    match (drawn, best) {
        (Some(drawn), Some(best)) if best.electricity_j < 0.99 * drawn.electricity_j => {
            format!("The water would be made better {}.", best.name)
        }
        (Some(drawn), Some(_)) => format!("Hot water made {} does as well as any.", drawn.name),
        _ => "Hot water over the year.".to_owned(),
    }
}

/// Kilowatt-hours, whole: hot water is metered in them on both sides of the Atlantic.
fn kwh(joules: f64) -> String {
    plain((joules / 3.6e6).round(), "kWh")
}

fn lead(water: &WaterYear, reader: Reader) -> String {
    let electricity = water.machine_j + water.element_j;
    let kept = water.lost_j + water.loop_j;
    let short = if water.short_j > 0.005 * water.drawn_j {
        let share = (1000.0 * water.short_j / water.drawn_j).round() / 10.0;
        format!(" {} of the heat wanted at the tap is missing.", plain(share, "%"))
    } else {
        String::new()
    };
    let coldest = if water.coldest_around_c.is_finite() {
        let shown = reader.show(water.coldest_around_c, Dimension::Temperature);
        format!(" The air round the tank is never under {shown} while the rooms are kept warm.")
    } else {
        String::new()
    };
    format!(
        "{} of heat is drawn and {} lost by tank and pipes; that takes {} of electricity.{short}{coldest}",
        kwh(water.drawn_j),
        kwh(kept),
        kwh(electricity)
    )
}

fn places_sentence(places: &[Place]) -> String {
    let lowest = places.iter().map(|p| p.electricity_j).fold(f64::INFINITY, f64::min);
    let rows: Vec<String> = places.iter().map(|p| format!("{} {}", p.name, kwh(p.electricity_j))).collect();
    format!(
        "Electricity of a year, the whole building: {}. Bars: water dark, heating hatched by a frame, cooling open; the \
         rest of the building is alike and left out. Least: {}.",
        rows.join(", "),
        kwh(lowest)
    )
}

/// One bar a place: water, heating, cooling.
fn places_drawing(places: &[Place], format: Format) -> Drawing {
    let width = format.width();
    let (row, top) = (64.0, 12.0);
    let height = top + row * places.len() as f64;
    let mut d = Drawing::new(
        &format!("water-places-{}", format.suffix()),
        "The water heater in four places",
        width,
        height,
    );
    d.describe(places_sentence(places));
    let of = |p: &Place| [p.water_j, p.heating_j, p.cooling_j];
    let longest = places.iter().map(|p| of(p).iter().sum::<f64>()).fold(1.0, f64::max);
    let scale = (width - 12.0) / longest;
    for (i, place) in places.iter().enumerate() {
        let y = top + row * i as f64;
        let name = format!("{}{}", capital(&place.name), if place.drawn { " (as drawn)" } else { "" });
        d.push(text(0.0, y + 14.0, &name, Anchor::Start, "tb"));
        let mut x = 0.0;
        for (joules, class, word) in of(place)
            .into_iter()
            .zip(["solid", "face", "edge"])
            .zip(["water", "heating", "cooling"])
            .map(|((j, c), w)| (j, c, w))
        {
            let length = joules * scale;
            d.push(rect(x, y + 20.0, length, 18.0, class));
            if word == "heating" {
                // Strokes along the bar tell heating from cooling without colour.
                for k in 1..4 {
                    let at = y + 20.0 + 4.5 * f64::from(k);
                    d.push(line(x, at, x + length, at, "thin"));
                }
            }
            let label = format!("{word} {}", (joules / 3.6e6).round());
            if length > 100.0 || word == "water" {
                d.push(text(x, y + 53.0, &label, Anchor::Start, "ts"));
            }
            x += length;
        }
    }
    d
}

fn places_table(places: &[Place], reader: Reader) -> Markup {
    let rows: Vec<Vec<String>> = places
        .iter()
        .map(|p| {
            let cost = p.cost.map_or_else(|| "–".to_owned(), |c| format!("{}{c:.0}", p.currency));
            vec![
                p.name.clone(),
                kwh(p.water_j),
                kwh(p.heating_j),
                kwh(p.cooling_j),
                kwh(p.electricity_j),
                cost,
                reader.show(p.coldest_c, Dimension::Temperature),
            ]
        })
        .collect();
    let head = ["place", "water", "heating", "cooling", "all electricity", "cost", "coldest round the tank"];
    table("A year in four places, as the building will be used", &head, &rows)
}

fn room_sentence(room: &TankRoom, reader: Reader) -> String {
    let kelvin = |k: f64| reader.show(k, Dimension::TemperatureDifference);
    let verdict = if room.volume_m3 < room.asked_m3 { "Too small on its own" } else { "Large enough" };
    format!(
        "{verdict}: {} holds {}, and {} is commonly asked for without ducts. Running takes {} of heat; with the door shut \
         the air falls by up to {}, with louvres to the next room by {}.",
        room.room,
        reader.show(room.volume_m3, Dimension::Volume),
        reader.show(room.asked_m3, Dimension::Volume),
        reader.show(room.taken_w, Dimension::Power),
        kelvin(room.fall_k),
        kelvin(room.fall_with_louvres_k)
    )
}

fn month_sentence(m: &year::services::WaterMonth, name: &str, reader: Reader) -> String {
    let taken = m.taken_sensible_j + m.taken_latent_j;
    let room = if taken > 0.0 {
        let water = if m.condensed_kg >= 1.0 {
            format!(", {} of water from the air with it", plain(m.condensed_kg.round(), "kg"))
        } else {
            String::new()
        };
        format!("; the room gives {} and gets {} back{water}", kwh(taken), kwh(m.given_j))
    } else {
        format!("; the room gets {}", kwh(m.given_j))
    };
    format!(
        "{name}: cold water at {}, {} drawn for {} of electricity{room}.",
        reader.show(m.cold_water_c, Dimension::Temperature),
        kwh(m.drawn_j),
        kwh(m.electricity_j)
    )
}

fn months_table(water: &WaterYear) -> Markup {
    let number = |joules: f64| plain((joules / 3.6e6).round(), "");
    let rows: Vec<Vec<String>> = water
        .months
        .iter()
        .zip(MONTHS)
        .map(|(m, name)| {
            vec![
                name.to_owned(),
                number(m.drawn_j),
                number(m.electricity_j),
                number(m.taken_sensible_j),
                number(m.taken_latent_j),
                number(m.given_j),
                plain(m.condensed_kg.round(), ""),
            ]
        })
        .collect();
    let head =
        ["month", "drawn", "electricity", "taken, warmth", "taken, moisture", "given back", "water, kg"];
    working("all twelve months in figures", &table("Hot water, kWh", &head, &rows))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(name: &str, drawn: bool, kwh: f64) -> Place {
        Place { name: name.into(), drawn, electricity_j: kwh * 3.6e6, ..Place::default() }
    }

    #[test]
    fn the_headline_names_the_better_place_only_when_it_is_clearly_better() {
        let near = [place("in the room", true, 1000.0), place("outdoors", false, 995.0)];
        assert_eq!(headline(&near), "Hot water made in the room does as well as any.");
        let far = [place("resistance", true, 1000.0), place("outdoors", false, 900.0)];
        assert_eq!(headline(&far), "The water would be made better outdoors.");
    }
}
