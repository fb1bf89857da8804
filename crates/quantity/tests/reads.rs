//! Texts as people write them, and the values they mean.

use quantity::{Currency, Dimension as D, Spread, System, read};

#[track_caller]
fn close(text: &str, dimension: D, expected: f64) {
    let found = read(text, dimension).unwrap_or_else(|e| panic!("{text}: {e}"));
    // Factors of several units may each be rounded; 4 ulp is room for all of them.
    let room = 4.0 * f64::EPSILON * expected.abs();
    assert!((found.value - expected).abs() <= room, "{text}: {} is not {expected}", found.value);
    assert_eq!(found.spread, None, "{text}");
}

const BTU: f64 = 1055.05585262;
const FT: f64 = 0.3048;

#[test]
fn lengths() {
    for text in
        ["7 1/2 in", "7.5 in", "7-1/2\"", "7½ in.", "7½″", "7 1/2 inches", "7.5in", "190.5 mm", "0.1905 m"]
    {
        close(text, D::Length, 0.1905);
    }
    for text in [
        "2 ft 6 in",
        "2'-6\"",
        "2' 6\"",
        "2’ 6”",
        "2 ft. 6 in.",
        "2 feet 6 inches",
        "30 in",
        "2ft 6in",
        "2ft6in",
        "2 ft, 6 in",
        "2 ft and 6 in",
        "2′ 6″",
        "2'6''",
    ] {
        close(text, D::Length, 0.762);
    }
    close("3 1/4 in", D::Length, 0.08255);
    close("-2 ft 6 in", D::Length, -0.762);
    close("2 ft 6 1/2 in", D::Length, 0.7747);
    close("6 mil", D::Length, 6.0 * 2.54e-5);
    close("250 µm", D::Length, 250e-6);
    close("250 μm", D::Length, 250e-6);
    close("12 km", D::Length, 12_000.0);
}

#[test]
fn areas_volumes_flows() {
    for text in [
        "120 ft²",
        "120 ft2",
        "120 ft^2",
        "120 sq ft",
        "120 sq. ft.",
        "120 SF".to_lowercase().as_str(),
        "120 square feet",
    ] {
        close(text, D::Area, 120.0 * FT * FT);
    }
    close("36.1 m2", D::Area, 36.1);
    for text in ["33 722 ft³", "33722 cu ft", "33_722 ft^3", "33722 cubic feet"] {
        close(text, D::Volume, 33_722.0 * FT * FT * FT);
    }
    close("190 L", D::Volume, 0.19);
    for text in [
        "85 cfm",
        "85 CFM",
        "85 cfm50",
        "85 ft³/min",
        "85 ft3/min",
        "85 cu ft per min",
        "85 cubic feet per minute",
    ] {
        close(text, D::VolumeFlow, 85.0 * FT * FT * FT / 60.0);
    }
    for text in ["210 m³/h", "210 m3/h", "210 m^3/hr", "210 m³·h⁻¹", "210 m3 h-1", "210 cmh"] {
        close(text, D::VolumeFlow, 210.0 / 3600.0);
    }
    close("35 L/s", D::VolumeFlow, 0.035);
    close("35 l/s", D::VolumeFlow, 0.035);
    close("90 L/d", D::VolumeFlow, 0.09 / 86_400.0);
    close("20 cfm/person", D::FlowPerPerson, 20.0 * FT * FT * FT / 60.0);
    close("10 L/s per person", D::FlowPerPerson, 0.01);
    close("0.06 cfm/ft²", D::FlowPerArea, 0.06 * FT / 60.0);
    close("0.6 m³/(h·m²)", D::AirPermeability, 0.6);
    close("0.6 m3/hm2", D::AirPermeability, 0.6);
    close("0.25 cfm50/ft²", D::AirPermeability, 0.25 * FT * 60.0);
    close("0.5 m³/(h·m)", D::FlowPerLength, 0.5 / 3600.0);
    close("12 L/m²", D::Precipitation, 12.0);
    close("4 in", D::Precipitation, 101.6);
}

#[test]
fn temperatures_and_differences_stay_apart() {
    for text in ["70 °F", "70 F", "70 ºF", "70℉", "70 degF", "70 deg F", "70 deg. F", "70°F"] {
        close(text, D::Temperature, 38.0 / 1.8);
    }
    close("21 °C", D::Temperature, 21.0);
    close("21 C", D::Temperature, 21.0);
    close("294.15 K", D::Temperature, 294.15 - 273.15);
    close("-40 °F", D::Temperature, -40.0);
    for text in ["18 °F", "18 F°", "18 F", "10 K", "10 °C", "10 C°"] {
        close(text, D::TemperatureDifference, 10.0);
    }
    assert!(read("18 F°", D::Temperature).is_err());
    assert!(read("18", D::Temperature).is_err());
    assert!(read("-500 °F", D::Temperature).is_err());
}

#[test]
fn heat() {
    for text in [
        "0.035 W/(m·K)",
        "0.035 W/mK",
        "0.035 W/m.K",
        "0.035 W/(m K)",
        "0.035 W/m·K",
        "0.035 W m⁻¹ K⁻¹",
        "0.035 W/m/K",
        "0.035 W/(m*K)",
        "0.035 W/(m-K)",
        "0.035 W/(m·°C)",
    ] {
        close(text, D::Conductivity, 0.035);
    }
    let k = BTU / 3600.0 / (FT * FT) * 0.0254 * 1.8;
    for text in
        ["0.25 Btu·in/(h·ft²·°F)", "0.25 Btu-in/h-ft2-F", "0.25 BTU in/hr ft^2 F", "0.25 Btu·in/h·ft²·°F"]
    {
        close(text, D::Conductivity, 0.25 * k);
    }
    close("0.02 Btu/(h·ft·°F)", D::Conductivity, 0.02 * BTU / 3600.0 / FT * 1.8);
    let r = FT * FT * 3600.0 / BTU / 1.8;
    for text in
        ["R-31", "R 31", "R31", "R=31", "R-value 31", "31 ft²·h·°F/Btu", "31 h·ft²·°F/Btu", "31 hr ft2 F/BTU"]
    {
        close(text, D::Resistance, 31.0 * r);
    }
    close("R-3 1/2", D::Resistance, 3.5 * r);
    for text in ["5.4 m²K/W", "5.4 m²·K/W", "5.4 m2 K/W", "RSI 5.4", "RSI-5.4"] {
        close(text, D::Resistance, 5.4);
    }
    for text in ["0.183 W/(m²·K)", "0.183 W/m²K", "0.183 W/m2K", "0.183 W/(m^2 K)"] {
        close(text, D::Transmittance, 0.183);
    }
    close("0.03 Btu/(h·ft²·°F)", D::Transmittance, 0.03 / r);
    close("0.03 W/(m·K)", D::LinearTransmittance, 0.03);
    close("5 mW/K".replace('m', "").as_str(), D::PointTransmittance, 5.0);
    close("1600 J/(kg·K)", D::SpecificHeat, 1600.0);
    close("1.6 kJ/kgK", D::SpecificHeat, 1600.0);
    close("0.2 Btu/(lb·°F)", D::SpecificHeat, 0.2 * 4186.8);
    close("60 Wh/(m²K)", D::ArealHeatCapacity, 216_000.0);
}

#[test]
fn vapour() {
    let perm = 6.479_891e-5 / (3600.0 * FT * FT * 25.4 * 133.322387415);
    for text in ["1 perm", "1 US perm", "1 perms"] {
        close(text, D::Permeance, perm);
    }
    for text in [
        "57 ng/(Pa·s·m²)",
        "57 ng/(s·m²·Pa)",
        "57 ng/Pa.s.m2",
        "57 ng/(Pa s m^2)",
        "57 ng/Pasm2".replace("Pasm2", "Pa/s/m2").as_str(),
    ] {
        close(text, D::Permeance, 57e-12);
    }
    for text in ["2 perm·in", "2 perm-in", "2 perm in", "2 perm inch"] {
        close(text, D::Permeability, 2.0 * perm * 0.0254);
    }
    for text in ["sd 2 m", "2 m sd", "sd = 2 m", "s_d 2 m"] {
        close(text, D::AirLayer, 2.0);
        close(text, D::Permeance, 1e-10);
    }
    close("0.1 mm".replace("0.1 mm", "200 mm").as_str(), D::AirLayer, 0.2);
    close("1e-10 kg/(m²·s·Pa)", D::AirLayer, 2.0);
    close("10", D::VapourFactor, 10.0);
    for text in [
        "0.05 kg/(m²·s^0.5)",
        "0.05 kg/(m²·√s)",
        "0.05 kg/m2s0.5",
        "0.05 kg/(m²·s½)",
        "0.05 kg/(m²·s^(1/2))",
        "3 kg/(m²·h^0.5)",
    ] {
        close(text, D::AbsorptionCoefficient, 0.05);
    }
}

#[test]
fn power_energy_pressure() {
    close("1.2 kW", D::Power, 1200.0);
    close("12000 Btu/h", D::Power, 12_000.0 * BTU / 3600.0);
    for text in [
        "1 ton",
        "1 ton of cooling",
        "1 tons of refrigeration",
        "12 kBtu/h",
        "12 MBH",
        "12 kBtuh",
        "12000 Btuh",
    ] {
        close(text, D::Power, 12_000.0 * BTU / 3600.0);
    }
    close("3 kWh", D::Energy, 1.08e7);
    close("3 KWH", D::Energy, 1.08e7);
    close("3 MJ", D::Energy, 3e6);
    close("3 kBtu", D::Energy, 3000.0 * BTU);
    close("1 therm", D::Energy, 1.054804e8);
    close("3000 kWh/a", D::Energy, 1.08e10);
    for text in ["15 kWh/(m²·a)", "15 kWh/m²a", "15 kWh/(m2 yr)", "15 kWh/m²", "15 kWh/(m²a)"] {
        close(text, D::EnergyPerArea, 15.0 * 3.6e6);
    }
    close("4.75 kBtu/(ft²·yr)", D::EnergyPerArea, 4750.0 * BTU / (FT * FT));
    close("10 W/m²", D::PowerPerArea, 10.0);
    close("1.2 met", D::PowerPerArea, 1.2 * 58.2);
    close("50 Pa", D::Pressure, 50.0);
    for text in [
        "0.2 in. w.g.",
        "0.2 in wc",
        "0.2 in. w.c.",
        "0.2 inH2O",
        "0.2 in. H₂O",
        "0.2 in H2O",
        "0.2 inches of water",
        "0.2 iwc",
        "0.2 in w.g.",
    ] {
        close(text, D::Pressure, 0.2 * 25.4 * 9.80665);
    }
    close("1013.25 hPa", D::Pressure, 101_325.0);
    close("1013.25 mbar", D::Pressure, 101_325.0);
    close("20 psf", D::Pressure, 20.0 * 4.4482216152605 / (FT * FT));
    close("0.40 Wh/m³", D::SpecificFanPower, 0.4);
    close("0.40 W/(m³/h)", D::SpecificFanPower, 0.4);
    close("1.44 W/(L/s)", D::SpecificFanPower, 0.4);
    close("0.7 W/cfm", D::SpecificFanPower, 0.7 / (FT * FT * FT * 60.0));
    assert!(read("50 Pa", D::SpecificFanPower).is_err());
}

#[test]
fn the_rest() {
    for text in
        ["0.6 1/h", "0.6 ACH50", "0.6 /h", "0.6 ach", "0.6 h-1", "0.6 h⁻¹", "0.6 per hour", "0.6 ACH 50"]
    {
        close(text, D::AirChange, 0.6);
    }
    close("700 ppm", D::Concentration, 700.0);
    close("10 000 ppm", D::Concentration, 10_000.0);
    close("2 h", D::Time, 7200.0);
    close("15 min", D::Time, 900.0);
    close("3 d", D::Time, 259_200.0);
    close("1 h 30 min", D::Time, 5400.0);
    close("2h30min", D::Time, 9000.0);
    close("50 years", D::Time, 50.0 * 8760.0 * 3600.0);
    close("12 %", D::Ratio, 0.12);
    close("0.55", D::Ratio, 0.55);
    close("1:24", D::Ratio, 1.0 / 24.0);
    close("8 g/kg", D::Ratio, 0.008);
    close("36.0 deg", D::Angle, 36.0);
    close("-79.4°", D::Angle, -79.4);
    close("36° 30' 36\"", D::Angle, 36.51);
    close("1:1", D::Angle, 45.0);
    close("5 mph", D::Speed, 5.0 * 0.44704);
    close("18 km/h", D::Speed, 5.0);
    close("56 kg/m³", D::Density, 56.0);
    close("3.5 lb/ft³", D::Density, 3.5 * 0.45359237 / (FT * FT * FT));
    close("350 g/m²", D::ArealDensity, 0.35);
    close("5 lb 8 oz", D::Mass, 5.5 * 0.45359237);
    close("90", D::Count, 90.0);
    close("90 people", D::Count, 90.0);
    close("2 1/h", D::Rate, 2.0 / 3600.0);
    close("0.18 $/kWh", D::EnergyPrice, 0.18);
    close("$0.18/kWh", D::EnergyPrice, 0.18);
    close("$0.18 per kWh", D::EnergyPrice, 0.18);
    close("0.35 kg/kWh", D::EmissionFactor, 0.35);
}

#[test]
fn money_keeps_its_currency() {
    for (text, currency) in [
        ("$900", Currency::Usd),
        ("900 USD", Currency::Usd),
        ("USD 900", Currency::Usd),
        ("€ 900", Currency::Eur),
        ("900 €", Currency::Eur),
        ("900 CHF", Currency::Chf),
        ("£900", Currency::Gbp),
    ] {
        let found = read(text, D::Money).unwrap_or_else(|e| panic!("{text}: {e}"));
        assert_eq!((found.value, found.currency), (900.0, Some(currency)), "{text}");
    }
    assert_eq!(read("-$900", D::Money).ok().map(|r| r.value), None, "a minus goes behind the sign");
    assert_eq!(read("$-900", D::Money).unwrap().value, -900.0);
    assert!(read("$900 ± €50", D::Money).is_err());
    assert!(read("$900..€1000", D::Money).is_err());
}

#[track_caller]
fn spread(text: &str, dimension: D, value: f64, expected: Spread) {
    let found = read(text, dimension).unwrap_or_else(|e| panic!("{text}: {e}"));
    let same = |a: f64, b: f64| (a - b).abs() <= 4.0 * f64::EPSILON * b.abs();
    let right = match (found.spread.unwrap(), expected) {
        (Spread::HalfWidth95(a), Spread::HalfWidth95(b))
        | (Spread::Tolerance(a), Spread::Tolerance(b))
        | (Spread::Factor95(a), Spread::Factor95(b)) => same(a, b),
        (Spread::Range { low: a, high: c }, Spread::Range { low: b, high: d }) => same(a, b) && same(c, d),
        _ => false,
    };
    assert!(same(found.value, value) && right, "{text}: {found:?}");
}

#[test]
fn spreads() {
    for text in ["60 mm ± 3 mm", "60 mm +/- 3 mm", "60 mm ± 5 %", "60mm±3mm", "60 mm ±5%", "60 mm +- 0.3 cm"]
    {
        spread(text, D::Length, 0.06, Spread::HalfWidth95(0.003));
    }
    spread("0.035 W/(m·K) ± 5 %", D::Conductivity, 0.035, Spread::HalfWidth95(0.00175));
    for text in ["5..7 mm", "5 mm..7 mm", "5 .. 7 mm", "5…7 mm", "5 mm..7"] {
        spread(text, D::Length, 0.006, Spread::Range { low: 0.005, high: 0.007 });
    }
    spread("0.5..0.7 1/h", D::AirChange, 0.6, Spread::Range { low: 0.5, high: 0.7 });
    spread(
        "0.2 in. w.g..0.4 in. w.g.",
        D::Pressure,
        0.3 * 249.08891,
        Spread::Range { low: 0.2 * 249.08891, high: 0.4 * 249.08891 },
    );
    for text in ["2 1/h ×/÷ 1.5", "2 1/h x/ 1.5", "2 1/h x/÷ 1.5", "2 1/h */ 1.5", "2 1/h ×/ 1.5"] {
        spread(text, D::AirChange, 2.0, Spread::Factor95(1.5));
    }
    for text in
        ["60 mm tolerance ± 3 mm", "60 mm, tolerance +/- 3 mm", "60 mm tol. ± 3 mm", "60 mm tolerance ± 5 %"]
    {
        spread(text, D::Length, 0.06, Spread::Tolerance(0.003));
    }
    spread("12 % ± 2 %", D::Ratio, 0.12, Spread::HalfWidth95(0.02));
    spread("0.82 ± 0.03", D::Ratio, 0.82, Spread::HalfWidth95(0.03));
    spread("90 ± 10", D::Count, 90.0, Spread::HalfWidth95(10.0));
    spread("21 °C ± 1 K", D::Temperature, 21.0, Spread::HalfWidth95(1.0));
    spread("50 °F ± 1.8 °F", D::Temperature, 10.0, Spread::HalfWidth95(1.0));
    spread("20..24 °C", D::Temperature, 22.0, Spread::Range { low: 20.0, high: 24.0 });
    spread("-6 Pa ± 2 Pa", D::Pressure, -6.0, Spread::HalfWidth95(2.0));
    spread("-6..-2 Pa", D::Pressure, -4.0, Spread::Range { low: -6.0, high: -2.0 });
    spread("-6 Pa ± 50 %", D::Pressure, -6.0, Spread::HalfWidth95(3.0));
    spread("sd 2..4 m", D::AirLayer, 3.0, Spread::Range { low: 2.0, high: 4.0 });
    spread("sd 2..4 m", D::Permeance, 7.5e-11, Spread::Range { low: 5e-11, high: 1e-10 });
    spread("sd 2 m ×/÷ 2", D::Permeance, 1e-10, Spread::Factor95(2.0));
    spread("$900 ± $100", D::Money, 900.0, Spread::HalfWidth95(100.0));
    spread("$900..1100", D::Money, 1000.0, Spread::Range { low: 900.0, high: 1100.0 });
}

#[test]
fn the_system_and_the_text_are_kept() {
    let found = read(" 7 1/2 in ± 5 % ", D::Length).unwrap();
    assert_eq!((found.system, found.written.as_str()), (Some(System::Us), "7 1/2 in"));
    assert_eq!(read("R-31", D::Resistance).unwrap().system, Some(System::Us));
    assert_eq!(read("0.6 1/h", D::AirChange).unwrap().system, None);
    assert_eq!(read("5.4 m²K/W", D::Resistance).unwrap().system, Some(System::Si));
    assert_eq!(read("5..7 mm", D::Length).unwrap().written, "5..7 mm");
}

#[test]
fn a_unit_to_the_power_of_nothing_is_refused() {
    // Found by fuzzing: such a unit vanished but left its currency behind.
    for text in ["3 m·USD^0", "3 m·$^0", "3 m·kg⁰", "3 m·s^0"] {
        let error = read(text, D::Length).expect_err(text);
        assert!(error.to_string().contains("zero"), "{text}: {error}");
    }
}
