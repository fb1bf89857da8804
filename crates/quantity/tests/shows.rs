//! Values as they are shown, in both systems, and back.

use proptest::prelude::*;
use quantity::{
    Dimension as D, Qualifier, System, read, show, show_as, show_both, show_in, show_money,
    show_with_original,
};
use std::fmt::Write as _;

/// One text a dimension; shown in US and SI units.
const TEXTS: &[(&str, D)] = &[
    ("0.15 mm", D::Length),
    ("6 mil", D::Length),
    ("12.7 mm", D::Length),
    ("38 mm", D::Length),
    ("7 1/2 in", D::Length),
    ("203 mm", D::Length),
    ("2 ft 10 in", D::Length),
    ("3.6 m", D::Length),
    ("24.384 m", D::Length),
    ("-2 ft 6 1/2 in", D::Length),
    ("215 m", D::Length),
    ("36.1 m²", D::Area),
    ("0 m²", D::Area),
    ("33722 ft³", D::Volume),
    ("85 cfm", D::VolumeFlow),
    ("210 m³/h", D::VolumeFlow),
    ("0.2 kg/s", D::MassFlow),
    ("12 kg", D::Mass),
    ("3 g", D::Mass),
    ("70 °F", D::Temperature),
    ("20 °C", D::Temperature),
    ("-0.01 °C", D::Temperature),
    ("18 °F", D::TemperatureDifference),
    ("0.035 W/(m·K)", D::Conductivity),
    ("R-31", D::Resistance),
    ("5.4 m²K/W", D::Resistance),
    ("0.183 W/(m²·K)", D::Transmittance),
    ("0.045 W/(m·K)", D::LinearTransmittance),
    ("0.005 W/K", D::PointTransmittance),
    ("56 kg/m³", D::Density),
    ("350 g/m²", D::ArealDensity),
    ("12 kg/m²", D::ArealDensity),
    ("1600 J/(kg·K)", D::SpecificHeat),
    ("60 Wh/(m²·K)", D::ArealHeatCapacity),
    ("12 MJ/K", D::HeatCapacity),
    ("2.0 MJ/(m³·K)", D::VolumetricHeatCapacity),
    ("1 perm", D::Permeance),
    ("57 ng/(Pa·s·m²)", D::Permeance),
    ("2 perm·in", D::Permeability),
    ("sd 2 m", D::AirLayer),
    ("10", D::VapourFactor),
    ("40 W", D::Power),
    ("3 kW", D::Power),
    ("1 ton of cooling", D::Power),
    ("10 W/m²", D::PowerPerArea),
    ("3 kWh", D::Energy),
    ("15 kWh/(m²·a)", D::EnergyPerArea),
    ("50 Pa", D::Pressure),
    ("1013.25 hPa", D::Pressure),
    ("0.6 1/h", D::AirChange),
    ("700 ppm", D::Concentration),
    ("12000 ppm", D::Concentration),
    ("$12500", D::Money),
    ("$4.50", D::Money),
    ("0.18 $/kWh", D::EnergyPrice),
    ("90 s", D::Time),
    ("90 min", D::Time),
    ("36 h", D::Time),
    ("50 years", D::Time),
    ("12 %", D::Ratio),
    ("0.0005", D::Ratio),
    ("36.51°", D::Angle),
    ("4 m/s", D::Speed),
    ("0.4 Wh/m³", D::SpecificFanPower),
    ("0.6 m³/(h·m²)", D::AirPermeability),
    ("20 cfm/person", D::FlowPerPerson),
    ("0.06 cfm/ft²", D::FlowPerArea),
    ("0.5 m³/(h·m)", D::FlowPerLength),
    ("12 mm", D::Precipitation),
    ("0.05 kg/(m²·s^0.5)", D::AbsorptionCoefficient),
    ("0.35 kg/kWh", D::EmissionFactor),
    ("2 1/h", D::Rate),
    ("90", D::Count),
];

#[test]
fn both_systems() {
    let mut page = String::new();
    for (text, dimension) in TEXTS {
        let value = read(text, *dimension).unwrap_or_else(|e| panic!("{text}: {e}")).value;
        let [us, si] = [System::Us, System::Si].map(|system| show(value, *dimension, system));
        writeln!(page, "{text} -> {us} | {si}").unwrap();
    }
    insta::assert_snapshot!(page);
    for dimension in D::ALL {
        assert!(TEXTS.iter().any(|(_, d)| *d == dimension), "{dimension:?} is not shown");
    }
}

#[test]
fn a_limit_keeps_its_own_figure() {
    let limit = read("15 kWh/(m²·a)", D::EnergyPerArea).unwrap();
    assert_eq!(
        show_with_original(&limit, System::Us, Qualifier::PerYear),
        "4.75 kBtu/(ft²·yr) (15 kWh/(m²·a))"
    );
    assert_eq!(show_with_original(&limit, System::Si, Qualifier::PerYear), "15 kWh/(m²·a)");
    let tight = read("0.6 1/h", D::AirChange).unwrap();
    assert_eq!(show_with_original(&tight, System::Us, Qualifier::At50Pa), "0.6 ACH50 (0.6 1/h)");
    assert_eq!(show_with_original(&tight, System::Si, Qualifier::At50Pa), "0.6 1/h");
    let sum = read("€ 900", D::Money).unwrap();
    assert_eq!(show_with_original(&sum, System::Us, Qualifier::Plain), "€900");
    let price = read("0.18 €/kWh", D::EnergyPrice).unwrap();
    assert_eq!(show_with_original(&price, System::Us, Qualifier::Plain), "€0.18/kWh");
}

#[test]
fn odd_values_are_words() {
    assert_eq!(show(f64::NAN, D::Length, System::Si), "not known");
    assert_eq!(show(f64::INFINITY, D::Time, System::Si), "beyond all bounds");
    assert_eq!(show(-0.0, D::Power, System::Si), "0 W");
    assert_eq!(show(-0.04, D::Temperature, System::Si), "0.0 °C");
    assert_eq!(show(3e-9, D::Conductivity, System::Si), "3×10⁻⁹ W/(m·K)");
}

#[test]
fn other_ways_to_show() {
    assert_eq!(show_both(0.1905, D::Length, System::Us), "7 1/2 in (190.5 mm)");
    assert_eq!(show_both(50.0, D::Pressure, System::Us), "50 Pa");
    assert_eq!(show_as(0.0401, D::VolumeFlow, System::Us, Qualifier::At50Pa), "85 cfm50");
    assert_eq!(show_in(3.6e6, D::Energy, "kWh").as_deref(), Some("1 kWh"));
    assert_eq!(show_in(20.0, D::Temperature, "°F").as_deref(), Some("68.0 °F"));
    assert_eq!(show_in(20.0, D::Temperature, "kg"), None);
    assert_eq!(show_money(-12_500.0, quantity::Currency::Eur), "-€12 500");
    assert_eq!(show_money(0.001, quantity::Currency::Chf), "0.00 CHF");
}

proptest! {
    /// What is shown can be read again and is the same value to the digits shown.
    #[test]
    fn shown_is_readable(index in 0..D::ALL.len(), mantissa in -9.999f64..9.999, power in -6i32..7, us: bool) {
        let dimension = D::ALL[index];
        let value = mantissa * 10f64.powi(power);
        prop_assume!(dimension != D::Temperature || value > -250.0);
        let system = if us { System::Us } else { System::Si };
        let text = show(value, dimension, system);
        let again = if dimension == D::Money { format!("{text} USD") } else { text.clone() };
        let found = read(&again, dimension);
        prop_assert!(found.is_ok(), "{text}: {:?}", found);
        // Three digits are half a per cent; temperatures and money are cut at 0.05 and 0.5; the nearest 1/8 of an
        // inch is up to 1/16 in on a foot, half an inch up to 1/4 in on ten feet.
        let room = match dimension {
            D::Temperature => 0.051,
            D::Money => 0.51,
            D::Length => 0.006 * value.abs() + if us { 0.25 * 0.0254 } else { 0.005 },
            _ => 0.0051 * value.abs(),
        };
        let back = found.map_or(f64::NAN, |r| r.value);
        prop_assert!((back - value).abs() <= room, "{value} was shown as {text}, which reads as {back}");
    }
}
