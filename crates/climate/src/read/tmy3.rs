//! TMY3: one row for the place, one of headings, then an hour a row, labelled by its end in local standard time.
//!
//! States are observations at the label; irradiance is the mean of the hour before it. The year is joined from
//! months of different years. −9900 means missing. The liquid-precipitation column is left out: its yearly sums show
//! that its unit is not the one its heading names.

use super::ReadOptions;
use super::raw::{Clock, Quantity, RawYear, split};
use crate::calendar::hour_of_year;
use crate::problem::{Problems, WeatherProblemKind as Kind};
use crate::year::Place;

/// Heading, quantity, factor to the unit of [`Quantity`].
const COLUMNS: [(&str, Quantity, f64); 12] = [
    ("GHI (W/m^2)", Quantity::Global, 1.0),
    ("DNI (W/m^2)", Quantity::Beam, 1.0),
    ("DHI (W/m^2)", Quantity::Diffuse, 1.0),
    ("TotCld (tenths)", Quantity::TotalCloud, 0.1),
    ("OpqCld (tenths)", Quantity::OpaqueCloud, 0.1),
    ("Dry-bulb (C)", Quantity::DryBulb, 1.0),
    ("Dew-point (C)", Quantity::DewPoint, 1.0),
    ("RHum (%)", Quantity::RelativeHumidity, 0.01),
    ("Pressure (mbar)", Quantity::Pressure, 100.0),
    ("Wdir (degrees)", Quantity::WindDirection, 1.0),
    ("Wspd (m/s)", Quantity::WindSpeed, 1.0),
    ("Alb (unitless)", Quantity::Albedo, 1.0),
];

pub(super) fn read(text: &str, options: &ReadOptions, problems: &mut Problems) -> Option<RawYear> {
    let mut lines = text.lines().enumerate();
    let place = place(lines.next()?.1, options, problems);
    let headings = split(lines.next()?.1, ',');
    let mut columns = Vec::new();
    for (heading, quantity, factor) in COLUMNS {
        match headings.iter().position(|h| *h == heading) {
            Some(at) => columns.push((at, quantity, factor, heading)),
            None => problems.push(
                Kind::Header,
                Some(2),
                Some(heading),
                "a TMY3 file has this column and this one has not",
                "take the file as it was published",
            ),
        }
    }
    let place = place?;
    let source = format!("TMY3 typical year, {}", place.name);
    let mut raw = RawYear::new(place, source, Clock { states_at_h: 1.0, means_from_h: 0.0 });
    for &(_, quantity, _, heading) in &columns {
        raw.headings[quantity as usize] = Some(heading.to_owned());
    }
    for (line, content) in lines {
        if content.trim().is_empty() {
            continue;
        }
        let row = line + 1;
        let fields = split(content, ',');
        let Some(hour) = label(&fields, row, problems) else { continue };
        if raw.rows[hour] != 0 {
            let what = format!("{} {} is there already, in row {}", fields[0], fields[1], raw.rows[hour]);
            problems.push(Kind::Time, Some(row), None, what, "keep one row an hour");
            continue;
        }
        raw.rows[hour] = row;
        for &(at, quantity, factor, heading) in &columns {
            let Some(cell) = fields.get(at) else { continue };
            match cell.parse::<f64>() {
                // −9900 is the format's own mark for missing.
                Ok(v) if v <= -9_899.0 => {}
                Ok(v) if v.is_finite() => raw.values[hour][quantity as usize] = v * factor,
                _ => {
                    let what = format!("\"{cell}\" is no number");
                    problems.push(
                        Kind::Value,
                        Some(row),
                        Some(heading),
                        what,
                        "write a number, or -9900 for missing",
                    );
                }
            }
        }
    }
    raw.notes.push(
        "Readings are for local standard time; irradiance is the mean of the hour, other readings stand at its end."
            .to_owned(),
    );
    raw.notes.push(
        "The months come from different years, so the joints between months may jump; wind is taken at 10 m height."
            .to_owned(),
    );
    raw.notes
        .push("The file's precipitation is left out: its unit is not the one its heading names.".to_owned());
    Some(raw)
}

/// Reads the first row: station, name, state, UTC offset, latitude, longitude, elevation.
fn place(line: &str, options: &ReadOptions, problems: &mut Problems) -> Option<Place> {
    if let Some(place) = &options.place {
        return Some(place.clone());
    }
    let fields = split(line, ',');
    let mut number = |at: usize, what: &str, low: f64, high: f64| {
        let value = fields.get(at).and_then(|f| f.parse::<f64>().ok()).filter(|v| (low..=high).contains(v));
        if value.is_none() {
            let found = fields.get(at).copied().unwrap_or("nothing");
            problems.push(
                Kind::Header,
                Some(1),
                None,
                format!("{what} should be field {}, {low} to {high}, but there is \"{found}\"", at + 1),
                "write the row as: station, name, state, UTC offset, latitude, longitude, elevation",
            );
        }
        value
    };
    let offset = number(3, "the UTC offset in hours", -12.0, 14.0);
    let latitude = number(4, "the latitude in degrees", -90.0, 90.0);
    let longitude = number(5, "the longitude in degrees", -180.0, 180.0);
    let elevation = number(6, "the elevation in metres", -450.0, 6_000.0);
    Some(Place {
        name: format!("{}, {}", fields.get(1)?, fields.get(2)?),
        latitude_deg: latitude?,
        longitude_deg: longitude?,
        elevation_m: elevation?,
        utc_offset_h: options.utc_offset_h.or(offset)?,
    })
}

/// Reads `MM/DD/YYYY` and `HH:MM`, where the hour is 01 to 24 and ends at the label.
fn label(fields: &[&str], row: usize, problems: &mut Problems) -> Option<usize> {
    let date = fields.first().copied().unwrap_or("");
    let time = fields.get(1).copied().unwrap_or("");
    let mut parts = date.split('/').map(|p| p.parse::<usize>().ok());
    let (month, day) = (parts.next().flatten(), parts.next().flatten());
    let hour = time.split(':').next().and_then(|h| h.parse::<usize>().ok()).filter(|h| (1..=24).contains(h));
    let index = match (month, day, hour) {
        (Some(m), Some(d), Some(h)) => hour_of_year(m, d, h - 1),
        _ => None,
    };
    if index.is_none() {
        problems.push(
            Kind::Time,
            Some(row),
            None,
            format!("\"{date} {time}\" is no hour of the weather year"),
            "write the date as 01/31/1988 and the hour as 01:00 to 24:00; leave 29 February out",
        );
    }
    index
}
