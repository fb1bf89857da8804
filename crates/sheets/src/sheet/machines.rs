//! What the machines do in the year: end uses by month, heads, rooms left cold or hot. Stands under Warm & cool.

use maud::{Markup, html};
use quantity::Dimension;
use year::services::EnergyYear;
use year::services::layout::Layout;
use year::services::size::Sizing;

use crate::draw::scale::MONTHS;
use crate::page::{table, working};
use crate::reader::{Reader, plain};
use crate::sheet::where_we_stand::capital;

/// Rooms that miss for less than this many hours are not listed.
const FEW_HOURS: f64 = 100.0;

/// Draws the part of the sheet.
pub fn content(energy: &EnergyYear, layouts: &[Layout], sizing: Option<&Sizing>, reader: Reader) -> Markup {
    html! {
        @if let Some(s) = sizing {
            h2 { "What the heads must be able to do" }
            p { (size_sentence("heating", &s.heating_range, reader)) }
            p { (size_sentence("cooling", &s.cooling_range, reader)) }
            (working("design days", &loads_table(s, reader)))
        }
        @if !layouts.is_empty() {
            h2 { "Who is left cold or hot" }
            @for layout in layouts { p { (layout_sentence(layout, reader)) } }
            @for layout in layouts { (working(&layout_name(layout), &layout_table(layout, reader))) }
        }
        @if !energy.months.is_empty() {
            h2 { "Where the electricity goes" }
            p { (energy_sentence(energy)) }
            @for head in &energy.heads { p.soft { (head_sentence(head)) } }
            (working("end uses by month", &energy_table(energy)))
        }
    }
}

fn kwh(joules: f64) -> String {
    plain((joules / 3.6e6).round(), "kWh")
}

fn size_sentence(what: &str, range: &year::services::size::Range, reader: Reader) -> String {
    let power = |w: f64| reader.show(w, Dimension::Power);
    if range.from_w <= 0.0 {
        return format!("{}: nothing is asked on the design days.", capital(what));
    }
    format!(
        "{}: choose {} to {} ({}). Nine chances in ten that the first lies within {} to {}. Drawn: {}.",
        capital(what),
        power(range.from_w),
        power(range.to_w),
        range.reason,
        power(range.spread_w.0),
        power(range.spread_w.1),
        power(range.drawn_w)
    )
}

fn loads_table(s: &Sizing, reader: Reader) -> Markup {
    let rows: Vec<Vec<String>> = s
        .heating
        .iter()
        .chain(&s.cooling)
        .map(|l| {
            let whole = l.power_w + l.drying_w;
            vec![
                l.name.clone(),
                reader.show(whole, Dimension::Power),
                reader.show(whole / s.floor_m2, Dimension::PowerPerArea),
                l.words.clone(),
            ]
        })
        .collect();
    table("Loads, drying included", &["day", "power", "by floor", "assumed"], &rows)
}

fn layout_name(layout: &Layout) -> String {
    format!("{}, doors {}", capital(&layout.name), if layout.doors_open { "open" } else { "shut" })
}

fn misses(layout: &Layout) -> Vec<&year::services::layout::RoomMiss> {
    let mut rooms: Vec<_> = layout.rooms.iter().filter(|r| r.cold_h + r.hot_h > FEW_HOURS).collect();
    rooms.sort_by(|a, b| (b.cold_h + b.hot_h).total_cmp(&(a.cold_h + a.hot_h)));
    rooms
}

fn layout_sentence(layout: &Layout, reader: Reader) -> String {
    let rooms = misses(layout);
    let Some(first) = rooms.first() else {
        return format!(
            "{}: no room misses its set point for more than {FEW_HOURS:.0} hours.",
            layout_name(layout)
        );
    };
    let kelvin = |k: f64| reader.show(k, Dimension::TemperatureDifference);
    format!(
        "{}: {} of {} rooms miss their set point. Worst is {}: {:.0} hours too cold by up to {}, {:.0} too hot by up to {}.",
        layout_name(layout),
        rooms.len(),
        layout.rooms.len(),
        first.label,
        first.cold_h,
        kelvin(first.coldest_k.max(0.0)),
        first.hot_h,
        kelvin(first.hottest_k.max(0.0))
    )
}

fn layout_table(layout: &Layout, reader: Reader) -> Markup {
    let flow = |q: f64| if q > 0.0 { reader.show(q, Dimension::VolumeFlow) } else { "–".to_owned() };
    let rows: Vec<Vec<String>> = misses(layout)
        .into_iter()
        .map(|r| {
            vec![
                r.label.clone(),
                format!("{:.0}", r.cold_h),
                reader.show(r.coldest_k.max(0.0), Dimension::TemperatureDifference),
                format!("{:.0}", r.hot_h),
                reader.show(r.hottest_k.max(0.0), Dimension::TemperatureDifference),
                flow(r.warm_supply_m3_s),
                flow(r.cool_supply_m3_s),
                flow(r.transfer_m3_s),
            ]
        })
        .collect();
    let head =
        ["room", "cold, h", "by", "hot, h", "by", "warm supply", "cool supply", "from a room 2 K better"];
    table("Rooms that miss, and the air that would mend it", &head, &rows)
}

fn energy_sentence(energy: &EnergyYear) -> String {
    let y = energy.year();
    let mut uses = [
        ("lights and plugs", y.equipment_j),
        ("heating", y.heating_j),
        ("cooling and drying", y.cooling_j),
        ("ventilation fans", y.fans_j),
        ("hot water", y.hot_water_j),
    ];
    uses.sort_by(|a, b| b.1.total_cmp(&a.1));
    let list: Vec<String> = uses.iter().map(|(name, j)| format!("{name} {}", kwh(*j))).collect();
    let solar = if y.solar_j > 0.0 {
        format!(" The sun makes {}; {} of it is sold.", kwh(y.solar_j), kwh(y.sold_j))
    } else {
        String::new()
    };
    let cost = energy
        .cost
        .as_ref()
        .map_or_else(String::new, |c| format!(" At the stated tariff: {}{:.0} a year.", c.currency, c.year));
    format!(
        "{} a year: {}.{solar}{cost} Frost protection takes {} of the heating.",
        kwh(y.used_j()),
        list.join(", "),
        kwh(energy.frost.preheat_j)
    )
}

fn head_sentence(head: &year::services::HeadYear) -> String {
    format!(
        "{}: {} of heat for {}, {} of cold for {} ({}). It runs {:.0} hours and cycles in {:.0}; in {:.0} hours it could \
         not give what was asked, and {} of resistance heat stood in.",
        capital(&head.name.replace('-', " ")),
        kwh(head.heat_j),
        kwh(head.heating_j),
        kwh(head.cold_j),
        kwh(head.cooling_j),
        head.figures,
        head.running_h,
        head.cycling_h,
        head.short_h,
        kwh(head.backup_j)
    )
}

fn energy_table(energy: &EnergyYear) -> Markup {
    let number = |joules: f64| plain((joules / 3.6e6).round(), "");
    let row = |name: &str, m: &year::services::EnergyMonth| {
        vec![
            name.to_owned(),
            number(m.heating_j),
            number(m.cooling_j),
            number(m.fans_j),
            number(m.hot_water_j),
            number(m.equipment_j),
            number(m.used_j()),
            number(m.solar_j),
            number(m.bought_j),
        ]
    };
    let mut rows: Vec<Vec<String>> = energy.months.iter().zip(MONTHS).map(|(m, name)| row(name, m)).collect();
    rows.push(row("year", &energy.year()));
    let head = ["month", "heating", "cooling", "fans", "hot water", "lights, plugs", "all", "sun", "bought"];
    table("Energy at the meter, kWh", &head, &rows)
}
