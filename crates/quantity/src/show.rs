//! Value to text with sensible digits, in US or SI units.
//!
//! Three significant digits and never less than the whole number, trailing zeros dropped; thousands grouped by a
//! blank from 10 000 up. Whatever is shown can be read again by [`read`](crate::read()).

use crate::unit::unit;
use crate::{Dimension, Reading, length_text};

/// Which units a result is shown in. Input may always mix.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum System {
    /// Inches, °F, R, cfm, kBtu.
    Us,
    /// Millimetres, °C, m²·K/W, m³/h, kWh.
    Si,
}

/// What a result is besides its dimension; it goes into the unit's name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Qualifier {
    /// Nothing more.
    Plain,
    /// Taken at the 50 Pa of a pressure test: `ACH50`, `cfm50`.
    At50Pa,
    /// A sum over a year: `kWh/(m²·a)`, `kBtu/(ft²·yr)`.
    PerYear,
}

/// Returns the value, given in the dimension's canonical unit, as text in the system's usual unit.
///
/// Pressures are pascals in both systems, because envelope tests are read in pascals on both sides of the ocean;
/// for duct pressures in inches of water, electricity of a US house in kWh and the like use [`show_in`]. Money is
/// shown without its currency: use [`show_money`](crate::show_money). NaN is "not known".
///
/// ```
/// use quantity::{Dimension, System, show};
/// assert_eq!(show(0.1905, Dimension::Length, System::Us), "7 1/2 in");
/// assert_eq!(show(0.1905, Dimension::Length, System::Si), "190.5 mm");
/// assert_eq!(show(5.46, Dimension::Resistance, System::Us), "R-31");
/// ```
pub fn show(value: f64, dimension: Dimension, system: System) -> String {
    show_as(value, dimension, system, Qualifier::Plain)
}

/// Like [`show`], with the unit named after what the result is: `0.6 ACH50`, `15 kWh/(m²·a)`.
pub fn show_as(value: f64, dimension: Dimension, system: System, qualifier: Qualifier) -> String {
    if !value.is_finite() {
        return if value.is_nan() { "not known" } else { "beyond all bounds" }.into();
    }
    if let Some(text) = special(value, dimension, system) {
        return text;
    }
    let (name, digits) = form(value.abs(), dimension, system);
    let shown = match (dimension, qualifier) {
        (Dimension::AirChange, Qualifier::At50Pa) if system == System::Us => "ACH50",
        (Dimension::VolumeFlow, Qualifier::At50Pa) if system == System::Us => "cfm50",
        (Dimension::AirPermeability, Qualifier::At50Pa) if system == System::Us => "cfm50/ft²",
        (Dimension::EnergyPerArea, Qualifier::PerYear) if system == System::Us => "kBtu/(ft²·yr)",
        (Dimension::EnergyPerArea, Qualifier::PerYear) => "kWh/(m²·a)",
        (Dimension::Energy, Qualifier::PerYear) if system == System::Us => "kBtu/yr",
        (Dimension::Energy, Qualifier::PerYear) => "kWh/a",
        _ => name,
    };
    join(&figure(to_unit(value, dimension, name), digits), shown)
}

/// Returns the value in both systems, the given one first: `7 1/2 in (190.5 mm)`. Where both would read the same,
/// it is written once.
pub fn show_both(value: f64, dimension: Dimension, first: System) -> String {
    let lead = show(value, dimension, first);
    let other = show(value, dimension, first.other());
    if lead == other { lead } else { format!("{lead} ({other})") }
}

/// Returns the reading in the system asked for; its own figure follows in brackets where it was written in the
/// other system, so that a limit stays recognisable: `4.75 kBtu/(ft²·yr) (15 kWh/(m²·a))`.
pub fn show_with_original(reading: &Reading, system: System, qualifier: Qualifier) -> String {
    let text = match reading.currency {
        Some(currency) if reading.dimension == Dimension::Money => crate::show_money(reading.value, currency),
        Some(currency) if reading.dimension == Dimension::EnergyPrice => {
            format!("{}/kWh", crate::show_money(reading.value, currency))
        }
        _ => show_as(reading.value, reading.dimension, system, qualifier),
    };
    // A unit of both systems, such as 1/h, is still no figure of the US trade: ACH50 leads.
    let foreign = reading.system.map_or(system == System::Us, |written| written != system);
    let same = text == reading.written || reading.currency.is_some();
    if foreign && !same { format!("{text} ({})", reading.written) } else { text }
}

/// Returns the value in a unit of the caller's choice, or `None` if that is no unit of the dimension.
///
/// ```
/// use quantity::{Dimension, show_in};
/// assert_eq!(show_in(50.0, Dimension::Pressure, "in wc").as_deref(), Some("0.201 in wc"));
/// assert_eq!(show_in(50.0, Dimension::Pressure, "kg"), None);
/// ```
pub fn show_in(value: f64, dimension: Dimension, unit_text: &str) -> Option<String> {
    let value = value_in(value, dimension, unit_text)?;
    let digits = if dimension == Dimension::Temperature { Digits::Fixed(1) } else { Digits::Significant };
    Some(join(&figure(value, digits), unit_text))
}

/// Converts a canonical value into a unit of the caller's choice, for the axes of charts and the like; `None` if
/// that is no unit of the dimension.
pub fn value_in(value: f64, dimension: Dimension, unit_text: &str) -> Option<f64> {
    use crate::units::Scale;
    let found = unit(unit_text, dimension == Dimension::Angle).ok()?;
    if dimension == Dimension::Temperature {
        return Some(match found.scale? {
            Scale::Celsius => value,
            Scale::Fahrenheit => value * 1.8 + 32.0,
            Scale::Kelvin => value + crate::read::ABSOLUTE_ZERO_K,
        });
    }
    dimension.accepts(found.signature).then(|| value / found.size_in(dimension))
}

impl System {
    /// Returns the other one.
    pub const fn other(self) -> Self {
        match self {
            Self::Us => Self::Si,
            Self::Si => Self::Us,
        }
    }
}

/// How many digits a figure gets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Digits {
    /// Three significant ones, whole numbers kept whole.
    Significant,
    /// So many decimals.
    Fixed(usize),
}

fn special(value: f64, dimension: Dimension, system: System) -> Option<String> {
    match (dimension, system) {
        (Dimension::Length, System::Us) => Some(length_text::us(value)),
        (Dimension::Length, System::Si) => Some(length_text::si(value)),
        (Dimension::Resistance, System::Us) if value >= 0.0 => {
            let r = to_unit(value, dimension, "ft²·h·°F/Btu");
            Some(format!("R-{}", figure(r, Digits::Significant)))
        }
        _ => None,
    }
}

/// Returns the usual unit of a value's size in a system.
fn form(size: f64, dimension: Dimension, system: System) -> (&'static str, Digits) {
    use Dimension as D;
    let us = system == System::Us;
    let pick = |us_name, si_name| if us { us_name } else { si_name };
    let name = match dimension {
        D::Length => pick("ft", "m"),
        D::Area => pick("ft²", "m²"),
        D::Volume => pick("ft³", "m³"),
        D::VolumeFlow => pick("cfm", "m³/h"),
        D::MassFlow => pick("lb/h", "kg/h"),
        D::Mass => pick("lb", if size < 0.1 { "g" } else { "kg" }),
        D::Temperature => return (pick("°F", "°C"), Digits::Fixed(1)),
        D::TemperatureDifference => pick("°F", "K"),
        D::Conductivity => pick("Btu·in/(h·ft²·°F)", "W/(m·K)"),
        D::Resistance => pick("ft²·h·°F/Btu", "m²·K/W"),
        D::Transmittance => pick("Btu/(h·ft²·°F)", "W/(m²·K)"),
        D::LinearTransmittance => pick("Btu/(h·ft·°F)", "W/(m·K)"),
        D::PointTransmittance => pick("Btu/(h·°F)", "W/K"),
        D::Density => pick("lb/ft³", "kg/m³"),
        D::ArealDensity => pick("lb/ft²", if size < 1.0 { "g/m²" } else { "kg/m²" }),
        D::SpecificHeat => pick("Btu/(lb·°F)", "J/(kg·K)"),
        D::ArealHeatCapacity => pick("Btu/(ft²·°F)", "kJ/(m²·K)"),
        D::HeatCapacity => pick("Btu/°F", "kJ/K"),
        D::VolumetricHeatCapacity => pick("Btu/(ft³·°F)", "kJ/(m³·K)"),
        D::Permeance => pick("perm", "ng/(Pa·s·m²)"),
        D::Permeability => pick("perm·in", "ng/(Pa·s·m)"),
        D::AirLayer => "m",
        D::VapourFactor | D::Count => "",
        D::Power if us => {
            if size < 293.0 {
                "Btu/h"
            } else {
                "kBtu/h"
            }
        }
        D::Power => {
            if size < 1000.0 {
                "W"
            } else {
                "kW"
            }
        }
        D::PowerPerArea => pick("Btu/(h·ft²)", "W/m²"),
        D::Energy => pick("kBtu", "kWh"),
        D::EnergyPerArea => pick("kBtu/ft²", "kWh/m²"),
        D::Pressure => {
            if size < 10_000.0 {
                "Pa"
            } else {
                "kPa"
            }
        }
        D::AirChange => pick("ACH", "1/h"),
        D::Concentration => return ("ppm", Digits::Significant),
        D::Money => return ("", if size < 10.0 { Digits::Fixed(2) } else { Digits::Fixed(0) }),
        D::EnergyPrice => "$/kWh",
        D::Time => time_unit(size),
        D::Ratio => "%",
        D::Angle => "°",
        D::Speed => pick("mph", "m/s"),
        D::SpecificFanPower => pick("W/cfm", "Wh/m³"),
        D::AirPermeability => pick("cfm/ft²", "m³/(h·m²)"),
        D::FlowPerPerson => pick("cfm/person", "L/(s·person)"),
        D::FlowPerArea => pick("cfm/ft²", "L/(s·m²)"),
        D::FlowPerLength => pick("cfm/ft", "m³/(h·m)"),
        D::Precipitation => pick("in", "mm"),
        D::AbsorptionCoefficient => "kg/(m²·s^0.5)",
        D::EmissionFactor => pick("lb/kWh", "kg/kWh"),
        D::Rate => "1/h",
    };
    (name, Digits::Significant)
}

/// Returns the unit a builder most often writes for a dimension.
pub(crate) fn usual_unit(dimension: Dimension, system: System) -> &'static str {
    match (dimension, system) {
        (Dimension::Length, System::Us) => "in",
        (Dimension::Length, System::Si) => "mm",
        (Dimension::Time, _) => "min",
        _ => form(1.0, dimension, system).0,
    }
}

fn time_unit(seconds: f64) -> &'static str {
    match seconds {
        s if s < 120.0 => "s",
        s if s < 7200.0 => "min",
        s if s < 172_800.0 => "h",
        s if s < 3.0 * crate::units::YEAR_S => "d",
        _ => "years",
    }
}

/// Converts into one of the units named in this module.
fn to_unit(value: f64, dimension: Dimension, name: &str) -> f64 {
    if name.is_empty() {
        return value;
    }
    // A test converts into every unit of `form`, so the fallback is never taken.
    value_in(value, dimension, name).unwrap_or(f64::NAN)
}

fn join(figure: &str, unit: &str) -> String {
    match unit {
        "" | "°" => format!("{figure}{unit}"),
        _ => format!("{figure} {unit}"),
    }
}

/// Writes a finite figure.
pub(crate) fn figure(value: f64, digits: Digits) -> String {
    let decimals = match digits {
        Digits::Fixed(n) => n,
        Digits::Significant => {
            let power = power_of_ten(value);
            if value != 0.0 && !(-4..15).contains(&power) {
                return scientific(value);
            }
            usize::try_from(2 - power).unwrap_or(0)
        }
    };
    let text = format!("{value:.decimals$}");
    let text = if digits == Digits::Significant { trim_zeros(&text) } else { &text };
    group(text.strip_prefix('-').filter(|t| t.bytes().all(|b| matches!(b, b'0' | b'.'))).unwrap_or(text))
}

/// Returns the power of ten of the value rounded to three digits.
fn power_of_ten(value: f64) -> i32 {
    let text = format!("{value:.2e}");
    text.split_once('e').and_then(|(_, power)| power.parse().ok()).unwrap_or(0)
}

fn scientific(value: f64) -> String {
    let text = format!("{value:.2e}");
    let (mantissa, power) = text.split_once('e').unwrap_or((&text, "0"));
    let raised: String = power.chars().map(superscript).collect();
    format!("{}×10{raised}", trim_zeros(mantissa))
}

fn superscript(c: char) -> char {
    match c {
        '-' => '⁻',
        digit => "⁰¹²³⁴⁵⁶⁷⁸⁹".chars().nth(digit.to_digit(10).unwrap_or(0) as usize).unwrap_or(digit),
    }
}

fn trim_zeros(text: &str) -> &str {
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { text }
}

/// Groups thousands by blanks from five digits up.
fn group(text: &str) -> String {
    let (sign, body) = text.strip_prefix('-').map_or(("", text), |body| ("-", body));
    let whole = body.find('.').unwrap_or(body.len());
    if whole < 5 {
        return text.to_owned();
    }
    let mut out = String::from(sign);
    for (i, c) in body.char_indices() {
        if i > 0 && i < whole && (whole - i) % 3 == 0 {
            out.push(' ');
        }
        out.push(c);
    }
    out
}
