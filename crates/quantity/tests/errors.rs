//! Every message a writer can meet, as it reads: the text, the place marked below, the sentence.

use quantity::{Dimension as D, read};
use std::fmt::Write as _;

/// Texts that are wrong, each in its own way.
const WRONG: &[(&str, D)] = &[
    ("", D::Length),
    ("   ", D::Area),
    ("thick", D::Length),
    ("mm", D::Length),
    ("NaN mm", D::Length),
    ("inf", D::Ratio),
    ("1e999 mm", D::Length),
    ("1e-400 mm", D::Length),
    ("1e308 km", D::Length),
    ("7,5 mm", D::Length),
    ("0,035 W/(m·K)", D::Conductivity),
    ("33,722 ft³", D::Volume),
    ("1,234,567 ft³", D::Volume),
    ("1,234.5 ft³", D::Volume),
    ("1.234,5 m³", D::Volume),
    ("3 1/0 in", D::Length),
    ("190", D::Length),
    ("31", D::Resistance),
    ("0.28", D::Transmittance),
    ("70", D::Temperature),
    ("900", D::Money),
    ("2' 6", D::Length),
    ("190 mn", D::Length),
    ("85 cfn", D::VolumeFlow),
    ("5 wM", D::Power),
    ("5 kj", D::Energy),
    ("5 blorps", D::Mass),
    ("210 m³/", D::VolumeFlow),
    ("0.2 W/(m²·K", D::Transmittance),
    ("0.2 W/m²·K)", D::Transmittance),
    ("5 m^", D::Area),
    ("5 m^0.3", D::Area),
    ("5 m99", D::VolumeFlow),
    ("12 kg", D::Length),
    ("12 mm", D::Mass),
    ("12 m·kg", D::Length),
    ("2 tons", D::Mass),
    ("R-31", D::Transmittance),
    ("0.183 W/(m²·K)", D::Resistance),
    ("0.035 W/(m·K)", D::Resistance),
    ("18 F°", D::Temperature),
    ("0.1 %", D::Concentration),
    ("700 ppm", D::Ratio),
    ("50 Pa", D::SpecificFanPower),
    ("15 kWh/(m²·a)", D::PowerPerArea),
    ("sd 2 m", D::Length),
    ("sd 0 m", D::Permeance),
    ("6 in 2 ft", D::Length),
    ("2 ft 6 kg", D::Length),
    ("-300 °C", D::Temperature),
    ("-10..-400 °F", D::Temperature),
    ("60 mm ±", D::Length),
    ("60 mm ± 3", D::Length),
    ("60 mm ± 3 kg", D::Length),
    ("60 mm ± 0 mm", D::Length),
    ("60 mm ± -3 mm", D::Length),
    ("0 mm ± 5 %", D::Length),
    ("0.82 ± 3 %", D::Ratio),
    ("21 °C ± 5 %", D::Temperature),
    ("21 °C ×/÷ 2", D::Temperature),
    ("2 1/h ×/÷ 1", D::AirChange),
    ("2 1/h ×/÷ 2 h", D::AirChange),
    ("-2 Pa ×/÷ 2", D::Pressure),
    ("60 mm ± 3 mm ± 2 mm", D::Length),
    ("7..5 mm", D::Length),
    ("5..5 mm", D::Length),
    ("5..7", D::Length),
    ("5-7 mm", D::Length),
    ("5–7 mm", D::Length),
    ("5-7 1/h", D::AirChange),
    ("5 – 7 1/h", D::AirChange),
    ("5 to 7 mm", D::Length),
    ("sd 2 m ± 1 m", D::Permeance),
    ("$900 ± €50", D::Money),
    ("$5 blorps", D::Money),
    ("1:0", D::Angle),
    ("1:24 mm", D::Angle),
    ("12 mm thick", D::Length),
    ("about 12 mm", D::Length),
    ("12 °C/W", D::Resistance),
];

#[test]
fn messages() {
    let mut page = String::new();
    for (text, dimension) in WRONG {
        let error = match read(text, *dimension) {
            Ok(found) => panic!("`{text}` was read as {found:?}"),
            Err(error) => error,
        };
        assert!(text.is_char_boundary(error.span.start) && text.is_char_boundary(error.span.end), "{text}");
        let before = text[..error.span.start].chars().count();
        let marked = text[error.span.clone()].chars().count().max(1);
        writeln!(page, "{text}\n{}{}\n{error}\n", " ".repeat(before), "^".repeat(marked)).unwrap();
    }
    insta::assert_snapshot!(page);
}

#[test]
fn a_very_long_text_is_refused_by_its_length() {
    let error = read(&"9".repeat(2_000_000), D::Length).unwrap_err();
    assert_eq!(error.found(), "a text of 2000000 bytes");
}
