//! A plain table: `#` lines for the place, one row of headings that name quantity and unit, then an hour a row.
//!
//! ```text
//! # place: Example town
//! # latitude: 36.1
//! # longitude: -79.9
//! # elevation: 273
//! # utc offset: -5
//! month, day, hour ending, dry bulb (°C), dew point (°F), global horizontal (W/m²), ...
//! ```
//! The hour column is `hour ending` (1 to 24) or `hour starting` (0 to 23): readings that are means belong to the
//! hour named, states stand at the label. Fields may be parted by commas, semicolons or tabs; decimal commas are
//! understood in the latter two.

use super::ReadOptions;
use super::raw::{Clock, Quantity, RawYear, split};
use crate::calendar::{HOURS, hour_of_year};
use crate::problem::{Problems, WeatherProblemKind as Kind};
use crate::year::Place;

/// Names a heading may use, folded to lower case and single spaces.
const NAMES: [(&str, Quantity); 33] = [
    ("dry bulb", Quantity::DryBulb),
    ("temperature", Quantity::DryBulb),
    ("air temperature", Quantity::DryBulb),
    ("outdoor temperature", Quantity::DryBulb),
    ("dew point", Quantity::DewPoint),
    ("relative humidity", Quantity::RelativeHumidity),
    ("rh", Quantity::RelativeHumidity),
    ("humidity", Quantity::RelativeHumidity),
    ("pressure", Quantity::Pressure),
    ("air pressure", Quantity::Pressure),
    ("station pressure", Quantity::Pressure),
    ("wind speed", Quantity::WindSpeed),
    ("wind direction", Quantity::WindDirection),
    ("global", Quantity::Global),
    ("global horizontal", Quantity::Global),
    ("ghi", Quantity::Global),
    ("beam", Quantity::Beam),
    ("beam normal", Quantity::Beam),
    ("direct normal", Quantity::Beam),
    ("dni", Quantity::Beam),
    ("diffuse", Quantity::Diffuse),
    ("diffuse horizontal", Quantity::Diffuse),
    ("dhi", Quantity::Diffuse),
    ("total cloud", Quantity::TotalCloud),
    ("cloud", Quantity::TotalCloud),
    ("opaque cloud", Quantity::OpaqueCloud),
    ("longwave", Quantity::Longwave),
    ("longwave down", Quantity::Longwave),
    ("long wave down", Quantity::Longwave),
    ("albedo", Quantity::Albedo),
    ("rain", Quantity::Rain),
    ("rainfall", Quantity::Rain),
    ("precipitation", Quantity::Rain),
];

/// Units: text folded to lower case, then value in our unit = (value + shift)·factor.
fn unit(quantity: Quantity, text: &str) -> Option<(f64, f64)> {
    use Quantity::{
        Albedo, Beam, DewPoint, Diffuse, DryBulb, Global, Longwave, OpaqueCloud, Pressure, Rain,
        RelativeHumidity, TotalCloud, WindDirection, WindSpeed,
    };
    let plain = |factor| Some((0.0, factor));
    match (quantity, text) {
        (DryBulb | DewPoint, "°c" | "c" | "degc" | "deg c" | "ºc") => plain(1.0),
        (DryBulb | DewPoint, "°f" | "f" | "degf" | "deg f" | "ºf") => Some((-32.0, 5.0 / 9.0)),
        (DryBulb | DewPoint, "k") => Some((-273.15, 1.0)),
        (RelativeHumidity | TotalCloud | OpaqueCloud | Albedo, "%") => plain(0.01),
        (RelativeHumidity | TotalCloud | OpaqueCloud | Albedo, "-" | "1" | "fraction" | "0-1" | "0..1") => {
            plain(1.0)
        }
        (TotalCloud | OpaqueCloud, "tenths") => plain(0.1),
        (TotalCloud | OpaqueCloud, "oktas" | "eighths") => plain(0.125),
        (Albedo, "") => plain(1.0),
        (Pressure, "pa") => plain(1.0),
        (Pressure, "hpa" | "mbar" | "mb") => plain(100.0),
        (Pressure, "kpa") => plain(1_000.0),
        // Inch of mercury at 0 °C and foot, mile, knot: NIST SP 811, appendix B; recalled.
        (Pressure, "inhg" | "in. hg" | "in hg") => plain(3_386.38),
        (WindSpeed, "m/s") => plain(1.0),
        (WindSpeed, "km/h") => plain(1.0 / 3.6),
        (WindSpeed, "mph" | "mile/h" | "mi/h") => plain(0.447_04),
        (WindSpeed, "kn" | "kt" | "knots") => plain(1_852.0 / 3_600.0),
        (WindDirection, "°" | "deg" | "degrees") => plain(1.0),
        (Global | Beam | Diffuse | Longwave, "w/m²" | "w/m2" | "w/m^2" | "wh/m²" | "wh/m2" | "wh/m^2") => {
            plain(1.0)
        }
        (Global | Beam | Diffuse | Longwave, "kj/m²" | "kj/m2" | "kj/m^2" | "kj/(m²·h)") => {
            plain(1.0 / 3.6)
        }
        (Global | Beam | Diffuse | Longwave, "btu/(h·ft²)" | "btu/(h*ft2)" | "btu/h-ft2" | "btu/h/ft2") => {
            plain(3.154_591)
        }
        (Rain, "mm" | "l/m²" | "kg/m²" | "mm/h") => plain(1.0),
        (Rain, "in" | "inch" | "in/h") => plain(25.4),
        _ => None,
    }
}

/// A heading taken apart: folded name, folded unit, and the text as written.
pub(super) struct Heading<'a> {
    name: String,
    unit: Option<String>,
    written: &'a str,
}

pub(super) fn split_heading(line: &str) -> Vec<Heading<'_>> {
    split(line, delimiter(line)).into_iter().map(heading).collect()
}

fn heading(written: &str) -> Heading<'_> {
    let folded = written.to_lowercase();
    let (name, unit) = match folded.find(['(', '[']) {
        // The last closing bracket ends the unit: units such as W/(m²·K) hold brackets themselves.
        Some(open) => {
            let end = folded.rfind([')', ']']).filter(|&e| e > open).unwrap_or(folded.len());
            (&folded[..open], Some(folded[open + 1..end].trim().to_owned()))
        }
        None => (folded.as_str(), None),
    };
    let name = name.replace(['_', '-'], " ").split_whitespace().collect::<Vec<_>>().join(" ");
    Heading { name, unit, written }
}

pub(super) fn quantity_of(heading: &Heading<'_>) -> Option<Quantity> {
    NAMES.iter().find(|(name, _)| *name == heading.name).map(|&(_, quantity)| quantity)
}

fn delimiter(line: &str) -> char {
    if line.contains(';') {
        ';'
    } else if line.contains('\t') {
        '\t'
    } else {
        ','
    }
}

/// Which label the rows carry.
#[derive(Clone, Copy, PartialEq)]
enum Label {
    Ending,
    Starting,
}

struct Layout {
    delimiter: char,
    /// Field, quantity, shift, factor, heading.
    columns: Vec<(usize, Quantity, f64, f64, String)>,
    month: usize,
    day: usize,
    hour: usize,
    label: Label,
}

pub(super) fn read(text: &str, options: &ReadOptions, problems: &mut Problems) -> Option<RawYear> {
    let meta: Vec<(usize, &str)> = text
        .lines()
        .enumerate()
        .filter_map(|(i, line)| Some((i + 1, line.trim_start().strip_prefix('#')?.trim())))
        .collect();
    let place = place(&meta, options, problems);
    let mut lines = text
        .lines()
        .enumerate()
        .filter(|(_, line)| !line.trim_start().starts_with('#') && !line.trim().is_empty());
    let (heading_row, heading_line) = lines.next()?;
    let (layout, unused) = layout(heading_line, heading_row + 1, problems);
    let (place, layout) = (place?, layout?);
    let clock = match layout.label {
        Label::Ending => Clock { states_at_h: 1.0, means_from_h: 0.0 },
        Label::Starting => Clock { states_at_h: 0.0, means_from_h: 0.0 },
    };
    let source =
        value(&meta, "source").map_or_else(|| format!("table, {}", place.name), |(_, s)| s.to_owned());
    let mut raw = RawYear::new(place, source, clock);
    if let Some((row, text)) = value(&meta, "wind height") {
        match text.trim_end_matches('m').trim().parse::<f64>() {
            Ok(v) if (1.0..=200.0).contains(&v) => raw.wind_height_m = v,
            _ => problems.push(
                Kind::Header,
                Some(row),
                None,
                format!("wind height \"{text}\" is not 1 to 200 m"),
                "write the height of the wind readings in metres, such as 10",
            ),
        }
    }
    for (_, quantity, _, _, heading) in &layout.columns {
        raw.headings[*quantity as usize] = Some(heading.clone());
    }
    let mut leap = 0;
    for (line, content) in lines {
        leap += usize::from(!fill_row(content, line + 1, &layout, &mut raw, problems));
    }
    raw.notes.push(match layout.label {
        Label::Ending => "Irradiance and rain belong to the hour that ends at the label, other readings stand at its end.",
        Label::Starting => "Irradiance and rain belong to the hour that starts at the label, other readings stand at its start.",
    }
    .to_owned());
    if leap > 0 {
        raw.notes.push(format!("{leap} rows of 29 February were left out: the weather year has 365 days."));
    }
    if !unused.is_empty() {
        raw.notes.push(format!("Columns not used: {}.", unused.join(", ")));
    }
    Some(raw)
}

fn layout(line: &str, row: usize, problems: &mut Problems) -> (Option<Layout>, Vec<String>) {
    let headings = split_heading(line);
    let mut columns: Vec<(usize, Quantity, f64, f64, String)> = Vec::new();
    let mut unused = Vec::new();
    let find = |name: &str| headings.iter().position(|h| h.name == name);
    let (month, day, ending, starting) =
        (find("month"), find("day"), find("hour ending"), find("hour starting"));
    let of_time = |at: usize| [month, day, ending, starting].contains(&Some(at));
    let before = problems.count();
    for (at, heading) in headings.iter().enumerate() {
        let Some(quantity) = quantity_of(heading) else {
            if !of_time(at) {
                unused.push(heading.written.to_owned());
            }
            continue;
        };
        let Some((shift, factor)) = unit(quantity, heading.unit.as_deref().unwrap_or("")) else {
            let what = match &heading.unit {
                Some(unit) => format!("{} in \"{unit}\" is not understood", quantity.name()),
                None => format!("{} has no unit", quantity.name()),
            };
            let help = format!("write the heading as \"{} ({})\"", quantity.name(), example_unit(quantity));
            problems.push(Kind::Header, Some(row), Some(heading.written), what, help);
            continue;
        };
        if let Some((_, _, _, _, first)) = columns.iter().find(|c| c.1 == quantity) {
            let what = format!("{} is there already as \"{first}\"", quantity.name());
            problems.push(
                Kind::Header,
                Some(row),
                Some(heading.written),
                what,
                "keep one of the two columns",
            );
            continue;
        }
        columns.push((at, quantity, shift, factor, heading.written.to_owned()));
    }
    let (hour, label) = match (ending, starting) {
        (Some(at), None) => (Some(at), Label::Ending),
        (None, Some(at)) => (Some(at), Label::Starting),
        _ => (None, Label::Ending),
    };
    for (there, name) in [(month, "month"), (day, "day"), (hour, "hour ending\" or \"hour starting")] {
        if there.is_none() {
            let help = "name the columns month, day, and hour ending (1 to 24) or hour starting (0 to 23)";
            problems.push(Kind::Header, Some(row), None, format!("there is no one column \"{name}\""), help);
        }
    }
    let layout = (|| {
        Some(Layout { delimiter: delimiter(line), columns, month: month?, day: day?, hour: hour?, label })
    })();
    // A column whose unit is not understood would come back as "there is none": one message is enough.
    let sound = problems.count() == before;
    (layout.filter(|_| sound), unused)
}

fn example_unit(quantity: Quantity) -> &'static str {
    match quantity.unit() {
        "as a fraction" => "%",
        unit => unit,
    }
}

/// Returns false for a row of 29 February, which is passed over.
fn fill_row(content: &str, row: usize, layout: &Layout, raw: &mut RawYear, problems: &mut Problems) -> bool {
    let fields = split(content, layout.delimiter);
    let number = |at: usize| fields.get(at).and_then(|f| f.parse::<usize>().ok());
    let (month, day, hour) = (number(layout.month), number(layout.day), number(layout.hour));
    if (month, day) == (Some(2), Some(29)) {
        return false;
    }
    let index = match (month, day, hour, layout.label) {
        (Some(m), Some(d), Some(h @ 1..=24), Label::Ending) => hour_of_year(m, d, h - 1),
        (Some(m), Some(d), Some(h @ 0..=23), Label::Starting) => hour_of_year(m, d, h),
        _ => None,
    }
    .filter(|&index| index < HOURS);
    let Some(index) = index else {
        let found: Vec<&str> = [layout.month, layout.day, layout.hour]
            .iter()
            .map(|&at| fields.get(at).copied().unwrap_or(""))
            .collect();
        let range = if layout.label == Label::Ending { "1 to 24" } else { "0 to 23" };
        problems.push(
            Kind::Time,
            Some(row),
            None,
            format!("month {}, day {}, hour {} is no hour of the weather year", found[0], found[1], found[2]),
            format!("months run from 1 to 12, days from 1, hours {range}"),
        );
        return true;
    };
    if raw.rows[index] != 0 {
        let what = format!("this hour is there already, in row {}", raw.rows[index]);
        problems.push(Kind::Time, Some(row), None, what, "keep one row an hour");
        return true;
    }
    raw.rows[index] = row;
    for &(at, quantity, shift, factor, ref heading) in &layout.columns {
        let cell = fields.get(at).copied().unwrap_or("");
        if matches!(cell, "" | "-" | "NA" | "NaN" | "nan") {
            continue;
        }
        let parsed =
            if layout.delimiter == ',' { cell.parse::<f64>() } else { cell.replace(',', ".").parse() };
        match parsed {
            Ok(v) if v.is_finite() => raw.values[index][quantity as usize] = (v + shift) * factor,
            _ => {
                let help = "write a number, or leave the field empty for a missing reading";
                problems.push(
                    Kind::Value,
                    Some(row),
                    Some(heading),
                    format!("\"{cell}\" is no number"),
                    help,
                );
            }
        }
    }
    true
}

/// Returns the row and text after `key:` in the `#` lines.
fn value<'a>(meta: &[(usize, &'a str)], key: &str) -> Option<(usize, &'a str)> {
    meta.iter().find_map(|&(row, line)| {
        let (name, value) = line.split_once(':')?;
        (name.trim().eq_ignore_ascii_case(key)).then_some((row, value.trim()))
    })
}

fn place(meta: &[(usize, &str)], options: &ReadOptions, problems: &mut Problems) -> Option<Place> {
    if let Some(place) = &options.place {
        return Some(place.clone());
    }
    let mut number = |key: &str, units: &[char], low: f64, high: f64, example: &str| {
        let found = value(meta, key);
        let parsed = found.and_then(|(_, t)| t.trim_end_matches(units).trim().parse::<f64>().ok());
        let parsed = parsed.filter(|v| (low..=high).contains(v));
        if parsed.is_none() {
            let what = match found {
                Some((_, text)) => format!("{key} \"{text}\" is no number from {low} to {high}"),
                None => format!("there is no line \"# {key}: ...\""),
            };
            let help = format!("put \"# {key}: {example}\" above the headings");
            problems.push(Kind::Header, found.map(|(row, _)| row), None, what, help);
        }
        parsed
    };
    let latitude = number("latitude", &['°', 'N'], -90.0, 90.0, "36.1");
    let longitude = number("longitude", &['°', 'E'], -180.0, 180.0, "-79.9");
    let elevation = number("elevation", &['m'], -450.0, 6_000.0, "273");
    let offset = match options.utc_offset_h {
        Some(offset) => Some(offset),
        None => number("utc offset", &['h'], -12.0, 14.0, "-5"),
    };
    Some(Place {
        name: value(meta, "place").map_or_else(|| "unnamed place".to_owned(), |(_, name)| name.to_owned()),
        latitude_deg: latitude?,
        longitude_deg: longitude?,
        elevation_m: elevation?,
        utc_offset_h: offset?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_come_apart() {
        for (text, quantity, value, expected) in [
            ("Dry bulb (°F)", Quantity::DryBulb, 212.0, 100.0),
            ("dew_point [K]", Quantity::DewPoint, 273.15, 0.0),
            ("RH (%)", Quantity::RelativeHumidity, 40.0, 0.4),
            ("Global (Btu/(h·ft²))", Quantity::Global, 1.0, 3.154_591),
            ("wind speed (km/h)", Quantity::WindSpeed, 36.0, 10.0),
        ] {
            let h = heading(text);
            assert_eq!(quantity_of(&h), Some(quantity), "{text}");
            let (shift, factor) = unit(quantity, h.unit.as_deref().expect("a unit")).expect("known");
            assert!(((value + shift) * factor - expected).abs() < 1e-9, "{text}");
        }
        assert!(unit(Quantity::DryBulb, "m/s").is_none());
    }
}
