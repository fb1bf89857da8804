//! What a reader hands on: readings by the file's own labels, NaN where there is none.

use crate::calendar::HOURS;
use crate::year::Place;

/// What a column holds, in the unit named.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Quantity {
    /// °C.
    DryBulb,
    /// °C.
    DewPoint,
    /// Fraction.
    RelativeHumidity,
    /// Pa.
    Pressure,
    /// m/s.
    WindSpeed,
    /// Degrees.
    WindDirection,
    /// W/m².
    Global,
    /// W/m².
    Beam,
    /// W/m².
    Diffuse,
    /// Fraction.
    TotalCloud,
    /// Fraction.
    OpaqueCloud,
    /// W/m².
    Longwave,
    /// Fraction.
    Albedo,
    /// mm.
    Rain,
}

/// Number of quantities.
pub(crate) const QUANTITIES: usize = 14;

impl Quantity {
    pub(crate) const ALL: [Self; QUANTITIES] = [
        Self::DryBulb,
        Self::DewPoint,
        Self::RelativeHumidity,
        Self::Pressure,
        Self::WindSpeed,
        Self::WindDirection,
        Self::Global,
        Self::Beam,
        Self::Diffuse,
        Self::TotalCloud,
        Self::OpaqueCloud,
        Self::Longwave,
        Self::Albedo,
        Self::Rain,
    ];

    /// Name in words.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::DryBulb => "dry bulb",
            Self::DewPoint => "dew point",
            Self::RelativeHumidity => "relative humidity",
            Self::Pressure => "pressure",
            Self::WindSpeed => "wind speed",
            Self::WindDirection => "wind direction",
            Self::Global => "global horizontal",
            Self::Beam => "beam normal",
            Self::Diffuse => "diffuse horizontal",
            Self::TotalCloud => "total cloud",
            Self::OpaqueCloud => "opaque cloud",
            Self::Longwave => "longwave down",
            Self::Albedo => "albedo",
            Self::Rain => "rain",
        }
    }

    /// Unit the readers deliver.
    pub(crate) fn unit(self) -> &'static str {
        match self {
            Self::DryBulb | Self::DewPoint => "°C",
            Self::Pressure => "Pa",
            Self::WindSpeed => "m/s",
            Self::WindDirection => "°",
            Self::Global | Self::Beam | Self::Diffuse | Self::Longwave => "W/m²",
            Self::RelativeHumidity | Self::TotalCloud | Self::OpaqueCloud | Self::Albedo => "as a fraction",
            Self::Rain => "mm",
        }
    }

    /// Range outside which a reading is no weather on this Earth: records, with a margin.
    pub(crate) fn range(self) -> (f64, f64) {
        match self {
            Self::DryBulb => (-90.0, 60.0),
            Self::DewPoint => (-100.0, 36.0),
            Self::RelativeHumidity => (0.0, 1.1),
            Self::Pressure => (45_000.0, 109_000.0),
            Self::WindSpeed => (0.0, 115.0),
            Self::WindDirection => (0.0, 360.0),
            Self::Global | Self::Diffuse => (0.0, 1_600.0),
            Self::Beam => (0.0, 1_420.0),
            Self::TotalCloud | Self::OpaqueCloud | Self::Albedo => (0.0, 1.0),
            Self::Longwave => (50.0, 600.0),
            Self::Rain => (0.0, 320.0),
        }
    }

    /// True for the means over an hour, which move to the clock by overlap and are never drawn straight across.
    pub(crate) fn is_hour_mean(self) -> bool {
        matches!(self, Self::Global | Self::Beam | Self::Diffuse | Self::Rain)
    }
}

/// When the file's readings hold, for the row labelled 0, in local standard hours of the year.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Clock {
    /// Instant of its states.
    pub(crate) states_at_h: f64,
    /// Start of the hour its means stand for.
    pub(crate) means_from_h: f64,
}

/// A file as read.
pub(crate) struct RawYear {
    pub(crate) place: Place,
    pub(crate) source: String,
    pub(crate) clock: Clock,
    pub(crate) wind_height_m: f64,
    /// The file's heading of each quantity it has.
    pub(crate) headings: [Option<String>; QUANTITIES],
    /// Readings by label; NaN for none.
    pub(crate) values: Vec<[f64; QUANTITIES]>,
    /// Row of each label in the text, from 1; 0 when there is none.
    pub(crate) rows: Vec<usize>,
    pub(crate) notes: Vec<String>,
}

impl RawYear {
    pub(crate) fn new(place: Place, source: String, clock: Clock) -> Self {
        Self {
            place,
            source,
            clock,
            wind_height_m: 10.0,
            headings: std::array::from_fn(|_| None),
            values: vec![[f64::NAN; QUANTITIES]; HOURS],
            rows: vec![0; HOURS],
            notes: Vec::new(),
        }
    }

    pub(crate) fn has(&self, quantity: Quantity) -> bool {
        self.headings[quantity as usize].is_some()
    }
}

/// Splits a line of a table; quotes hold a delimiter together and are taken off.
pub(crate) fn split(line: &str, delimiter: char) -> Vec<&str> {
    if !line.contains('"') {
        return line.split(delimiter).map(str::trim).collect();
    }
    let mut fields = Vec::new();
    let (mut start, mut quoted) = (0, false);
    for (at, c) in line.char_indices() {
        match c {
            '"' => quoted = !quoted,
            c if c == delimiter && !quoted => {
                fields.push(clean(&line[start..at]));
                start = at + c.len_utf8();
            }
            _ => {}
        }
    }
    fields.push(clean(&line[start..]));
    fields
}

fn clean(field: &str) -> &str {
    field.trim().trim_matches('"').trim()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quotes_hold_commas() {
        assert_eq!(split("1,\"A, B\", c", ','), ["1", "A, B", "c"]);
        assert_eq!(split("", ','), [""]);
        assert_eq!(split("\"open, to the end", ','), ["open, to the end"]);
    }
}
