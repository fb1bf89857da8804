//! PVGIS typical year: place lines, the year each month comes from, then an hour a row labelled in universal time.
//!
//! States hold at the label. Irradiance comes from satellite pictures taken some minutes after it, by the "irradiance
//! time offset" the file states; each figure is taken as the mean of the hour around its picture and moved to whole
//! local hours by overlap, which keeps the year's sum.

use super::ReadOptions;
use super::raw::{Clock, Quantity, RawYear, split};
use crate::calendar::hour_of_year;
use crate::problem::{Problems, WeatherProblemKind as Kind};
use crate::year::Place;

/// Heading, quantity, factor to the unit of [`Quantity`].
const COLUMNS: [(&str, Quantity, f64); 9] = [
    ("T2m", Quantity::DryBulb, 1.0),
    ("RH", Quantity::RelativeHumidity, 0.01),
    ("G(h)", Quantity::Global, 1.0),
    ("Gb(n)", Quantity::Beam, 1.0),
    ("Gd(h)", Quantity::Diffuse, 1.0),
    ("IR(h)", Quantity::Longwave, 1.0),
    ("WS10m", Quantity::WindSpeed, 1.0),
    ("WD10m", Quantity::WindDirection, 1.0),
    ("SP", Quantity::Pressure, 1.0),
];

pub(super) fn read(text: &str, options: &ReadOptions, problems: &mut Problems) -> Option<RawYear> {
    let lines: Vec<&str> = text.lines().collect();
    let Some(heading_at) = lines.iter().position(|l| l.starts_with("time(UTC)")) else {
        problems.push(
            Kind::Header,
            None,
            None,
            "there is no row of headings that starts with \"time(UTC)\"",
            "take the file as it was downloaded, as comma-separated text",
        );
        return None;
    };
    let before = &lines[..heading_at];
    let place = place(before, options, problems);
    let offset_h = field(before, "Irradiance Time Offset (h)").and_then(|v| v.parse::<f64>().ok());
    let offset_h = offset_h.filter(|o| (-1.0..=1.0).contains(o));

    let headings = split(lines[heading_at], ',');
    let mut columns = Vec::new();
    for (heading, quantity, factor) in COLUMNS {
        match headings.iter().position(|h| *h == heading) {
            Some(at) => columns.push((at, quantity, factor, heading)),
            None => problems.push(
                Kind::Header,
                Some(heading_at + 1),
                Some(heading),
                "a PVGIS typical year has this column and this one has not",
                "take the file as it was downloaded",
            ),
        }
    }
    let place = place?;
    let shift = place.utc_offset_h;
    let centre = offset_h.unwrap_or(0.5);
    let source = format!("PVGIS typical year, {}", place.name);
    let mut raw =
        RawYear::new(place, source, Clock { states_at_h: shift, means_from_h: shift + centre - 0.5 });
    for &(_, quantity, _, heading) in &columns {
        raw.headings[quantity as usize] = Some(heading.to_owned());
    }
    for (at, content) in lines.iter().enumerate().skip(heading_at + 1) {
        // An empty line ends the hours; explanations follow.
        if content.trim().is_empty() {
            break;
        }
        row(&split(content, ','), at + 1, &columns, &mut raw, problems);
    }
    raw.notes.push(format!(
        "Rows in universal time were moved to local standard time, UTC{shift:+}; hours pushed over the end of the \
         year come back at its start."
    ));
    raw.notes.push(match offset_h {
        Some(o) => format!(
            "Irradiance stands {o} h after the label; it was moved to whole local hours by overlap, which keeps its sum."
        ),
        None => "The file states no irradiance time offset: irradiance is taken as the mean of the hour after the label."
            .to_owned(),
    });
    raw.notes.push("The months come from different years; wind is taken at 10 m height.".to_owned());
    Some(raw)
}

fn row(
    fields: &[&str],
    row: usize,
    columns: &[(usize, Quantity, f64, &'static str)],
    raw: &mut RawYear,
    problems: &mut Problems,
) {
    let stamp = fields[0];
    let number = |from: usize, to: usize| stamp.get(from..to).and_then(|s| s.parse::<usize>().ok());
    let hour = match (number(4, 6), number(6, 8), number(9, 11)) {
        (Some(2), Some(29), Some(_)) => return,
        (Some(m), Some(d), Some(h)) if h < 24 => hour_of_year(m, d, h),
        _ => None,
    };
    let Some(hour) = hour else {
        let help = "write the time as 20180131:2300";
        problems.push(
            Kind::Time,
            Some(row),
            None,
            format!("\"{stamp}\" is no hour of the weather year"),
            help,
        );
        return;
    };
    if raw.rows[hour] != 0 {
        let what = format!("month, day and hour of {stamp} are there already, in row {}", raw.rows[hour]);
        problems.push(Kind::Time, Some(row), None, what, "keep one row an hour");
        return;
    }
    raw.rows[hour] = row;
    for &(at, quantity, factor, heading) in columns {
        let cell = fields.get(at).copied().unwrap_or("");
        match cell.parse::<f64>() {
            Ok(v) if v.is_finite() => raw.values[hour][quantity as usize] = v * factor,
            _ if cell.is_empty() => {}
            _ => {
                let what = format!("\"{cell}\" is no number");
                problems.push(
                    Kind::Value,
                    Some(row),
                    Some(heading),
                    what,
                    "write a number, or nothing for missing",
                );
            }
        }
    }
}

fn field<'a>(lines: &[&'a str], key: &str) -> Option<&'a str> {
    lines.iter().find_map(|l| l.strip_prefix(key)?.trim().strip_prefix(':')).map(str::trim)
}

fn place(lines: &[&str], options: &ReadOptions, problems: &mut Problems) -> Option<Place> {
    if let Some(place) = &options.place {
        return Some(place.clone());
    }
    let mut number = |key: &str, low: f64, high: f64| {
        let found = field(lines, key);
        let value = found.and_then(|v| v.parse::<f64>().ok()).filter(|v| (low..=high).contains(v));
        if value.is_none() {
            let found = found.unwrap_or("nothing");
            let what = format!("\"{key}\" should be {low} to {high}, but there is \"{found}\"");
            problems.push(Kind::Header, None, None, what, "take the file as it was downloaded");
        }
        value
    };
    let latitude = number("Latitude (decimal degrees)", -90.0, 90.0);
    let longitude = number("Longitude (decimal degrees)", -180.0, 180.0);
    let elevation = number("Elevation (m)", -450.0, 6_000.0);
    let (latitude_deg, longitude_deg) = (latitude?, longitude?);
    Some(Place {
        name: format!("{latitude_deg:.3}° N, {longitude_deg:.3}° E"),
        latitude_deg,
        longitude_deg,
        elevation_m: elevation?,
        // The file does not name its time zone; the sun's own is within half an hour and nothing depends on it but
        // the hour that schedules are read by.
        utc_offset_h: options.utc_offset_h.unwrap_or((longitude_deg / 15.0).round()),
    })
}
