use super::*;
use proptest::prelude::*;

const HEAD: &str =
    "test, T3 before boards\nflows, corrected\nvolume, 954.9 m³ ± 1 %\nwind near ground, 1.5 m/s\n";
const POINTS: [(f64, f64); 8] = [
    (19.5, 292.0),
    (27.3, 363.0),
    (33.9, 422.0),
    (41.4, 468.0),
    (47.9, 525.0),
    (55.5, 575.0),
    (62.4, 623.0),
    (69.4, 662.0),
];

fn table(points: &[(f64, f64)]) -> String {
    let rows: String = points.iter().map(|(p, q)| format!("depress, -{p}, {q}\n")).collect();
    format!("{HEAD}direction, pressure [Pa], flow [m³/h]\ndepress, -1.4,\n{rows}depress, -1.1,\n")
}

fn messages(text: &str) -> String {
    match parse(text) {
        Ok(file) => panic!("read without complaint: {file:?}"),
        Err(problems) => problems.iter().map(|p| format!("{p}\n")).collect(),
    }
}

#[test]
fn a_plain_file() {
    let file = parse(&table(&POINTS)).unwrap();
    let s = &file.series[0];
    assert_eq!(
        (s.readings.len(), s.zero_before_pa.as_slice(), s.zero_after_pa.as_slice()),
        (8, &[-1.4][..], &[-1.1][..])
    );
    assert_eq!(file.title, "T3 before boards");
    let volume = file.volume.unwrap();
    assert!((volume.value - 954.9).abs() < 1e-9 && (volume.share - 0.005).abs() < 1e-12);
    assert_eq!(file.kind, TestKind::Full);
}

#[test]
fn swapped_columns() {
    let swapped: Vec<(f64, f64)> = POINTS.iter().map(|&(p, q)| (q, p)).collect();
    let text = messages(&table(&swapped));
    assert!(text.contains("swapped") && text.starts_with("line 7"), "{text}");
    // Small building: no pressure is absurd by itself.
    let small: Vec<(f64, f64)> = POINTS.iter().map(|&(p, q)| (q / 3.0, p)).collect();
    let text = messages(&table(&small));
    assert!(text.contains("swapped"), "{text}");
}

#[test]
fn inches_of_water_for_pascals() {
    let inches: Vec<(f64, f64)> = POINTS.iter().map(|&(p, q)| (p / 249.1, q)).collect();
    let rows: String = inches.iter().map(|(p, q)| format!("depress, -{p:.3}, {q}\n")).collect();
    let text = format!("{HEAD}direction, pressure [Pa], flow [m³/h]\n{rows}");
    assert!(messages(&text).contains("inches of water"), "{}", messages(&text));
    let right = text.replace("pressure [Pa]", "pressure [inH2O]");
    let file = parse(&right).unwrap();
    assert!((file.series[0].readings[0].pressure_pa + 19.5).abs() < 0.2);
}

#[test]
fn flow_that_falls_while_pressure_rises() {
    let mut points = POINTS;
    for (i, q) in [662.0, 623.0, 575.0, 525.0, 468.0, 422.0, 363.0, 292.0].into_iter().enumerate() {
        points[i].1 = q;
    }
    let text = messages(&table(&points));
    assert!(text.contains("falls") && text.contains("order"), "{text}");
}

#[test]
fn one_absurd_point() {
    let mut points = POINTS;
    points[4].1 = 5250.0;
    let text = messages(&table(&points));
    assert!(text.starts_with("line 11") && text.contains("decimal point"), "{text}");
    points[4].1 = 425.0;
    let text = messages(&table(&points));
    assert!(text.starts_with("line 11") && text.contains("digit"), "{text}");
}

#[test]
fn too_few_points() {
    let text = messages(&table(&POINTS[..2]));
    assert!(text.contains("too few") && text.contains("single point"), "{text}");
    let quick = table(&POINTS[..1]).replace("flows,", "kind, single point\nflows,");
    assert_eq!(parse(&quick).unwrap().kind, TestKind::OneOrTwoPoints);
}

#[test]
fn decimal_commas() {
    let comma = table(&POINTS).replace("19.5", "19,5");
    let text = messages(&comma);
    assert!(text.contains("decimal commas") && text.starts_with("line 7"), "{text}");
    // Semicolons make them unambiguous.
    let semicolons = table(&POINTS).replace(", ", "; ").replace(",\n", ";\n").replace('.', ",");
    let file = parse(&semicolons).unwrap_or_else(|p| panic!("{p:?}"));
    assert!((file.series[0].readings[0].pressure_pa + 19.5).abs() < 1e-12);
    assert!((file.volume.unwrap().value - 954.9).abs() < 1e-9);
}

#[test]
fn us_units_and_two_fans() {
    let text = "kind, full\nflows, raw\ninside temperature, 70 °F\noutside temperature, 40 °F\nelevation, 705 ft\n\
        fan A, 12\nfan B calibrated, 2025-06-01\nvolume, 33722 ft³\n\
        pressure (Pa), flow A (cfm), flow B (cfm)\n-20, 100, 72\n-30, 130, 95\n-40, 155, 114\n-50, 180, 132\n-60, 202, 149\n";
    let file = parse(text).unwrap_or_else(|p| panic!("{p:?}"));
    assert_eq!(file.series[0].direction, Direction::Depressurisation);
    assert!((file.series[0].readings[0].flow_m3_h - 172.0 * 1.699_010_8).abs() < 1e-3);
    assert!((file.conditions.inside_c - 21.11).abs() < 0.01);
    assert!(file.conditions.barometer_pa < 99_500.0);
    assert_eq!(file.fans.len(), 2);
}

#[test]
fn fan_pressures_through_a_calibration() {
    let text = "flows, corrected\nfan coefficient, 50 m³/h\nfan exponent, 0.5\n\
        direction, pressure [Pa], fan pressure [Pa]\npress, 20, 36\npress, 30, 60\npress, 40, 88\npress, 50, 118\npress, 60, 149\n";
    let file = parse(text).unwrap_or_else(|p| panic!("{p:?}"));
    assert!((file.series[0].readings[0].flow_m3_h - 300.0).abs() < 1e-9);
    let missing = messages(&text.replace("fan coefficient, 50 m³/h\n", ""));
    assert!(missing.contains("calibration"), "{missing}");
}

#[test]
fn toml_says_the_same() {
    let rows: String = POINTS.iter().map(|(p, q)| format!("  [-{p}, {q}],\n")).collect();
    let text = format!(
        "test = \"T3\"\nflows = \"corrected\"\nvolume = \"954.9 m³ ± 1 %\"\ncolumns = [\"pressure [Pa]\", \"flow [m³/h]\"]\n\
         [gauge]\nid = \"G7\"\ncalibrated = 2025-03-01\n[fan.A]\nid = \"F1\"\naccuracy = \"3 %\"\n\
         [depressurisation]\nrows = [\n  [-1.4],\n{rows}  [-1.1],\n]\n"
    );
    let file = parse(&text).unwrap_or_else(|p| panic!("{p:?}"));
    let csv = parse(&table(&POINTS)).unwrap();
    assert_eq!(file.series, csv.series);
    assert_eq!((file.gauge.id.as_str(), file.gauge.calibrated.as_str()), ("G7", "2025-03-01"));
    assert_eq!(file.fans[0].name, "a");
    let broken = messages(&text.replace("[-41.4, 468]", "[-41.4, 4680]"));
    assert!(broken.starts_with("line 17") && broken.contains("decimal point"), "{broken}");
}

#[test]
fn every_problem_at_once() {
    let text = "flows, perhaps\nvolume, 955\ncolour, red\ndirection, pressure, flow [m³/h]\nup, x, 3\n";
    let problems = parse(text).unwrap_err();
    let lines: Vec<Option<usize>> = problems.iter().map(|p| p.line).collect();
    for line in 1..=5 {
        assert!(lines.contains(&Some(line)), "line {line}: {problems:?}");
    }
}

#[test]
fn positive_depressurisation_with_zero_flow_pressures_is_asked_about() {
    let text = table(&POINTS).replace("depress, -", "depress, ").replace("depress, 1.", "depress, -1.");
    assert!(messages(&text).contains("minus"), "{}", messages(&text));
    let without = format!(
        "{HEAD}direction, pressure [Pa], flow [m³/h]\n{}",
        POINTS.iter().map(|(p, q)| format!("depress, {p}, {q}\n")).collect::<String>()
    );
    let file = parse(&without).unwrap();
    assert!(file.series[0].readings[0].pressure_pa < 0.0 && !file.notes.is_empty());
}

proptest! {
    #[test]
    fn any_sound_test_is_taken(c in 5.0..500.0f64, n in 0.52..0.98f64, press in prop::bool::ANY) {
        let sign = if press { 1.0 } else { -1.0 };
        let word = if press { "press" } else { "depress" };
        let rows: String = (1..=6)
            .map(|i| { let p = 11.0 * f64::from(i); format!("{word}, {}, {}\n", sign * p, c * numeric::pow(p, n)) })
            .collect();
        let text = format!("flows, corrected\ndirection, pressure [Pa], flow [m³/h]\n{rows}");
        let file = parse(&text).map_err(|p| TestCaseError::fail(format!("{p:?}")))?;
        prop_assert_eq!(file.series[0].readings.len(), 6);
    }
}
