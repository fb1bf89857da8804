//! Every factor against the printed table and an independent library; the data lies in `reference/quantity`.

use quantity::{Dimension, read};

fn rows(file: &str) -> Vec<Vec<&str>> {
    file.lines().filter(|line| !line.starts_with('#')).skip(1).map(|line| line.split(',').collect()).collect()
}

fn dimension(name: &str) -> Dimension {
    Dimension::ALL
        .into_iter()
        .find(|d| format!("{d:?}") == name)
        .unwrap_or_else(|| panic!("no dimension {name}"))
}

fn value(text: &str, dimension: Dimension) -> f64 {
    read(text, dimension).unwrap_or_else(|e| panic!("{text}: {e}")).value
}

/// Half a unit of the last digit of a factor printed like `2.490889E+02`.
fn half_last_digit(printed: &str) -> f64 {
    let (mantissa, power) = printed.split_once('E').expect("printed with a power of ten");
    let decimals = i32::try_from(mantissa.split_once('.').map_or(0, |(_, d)| d.len())).unwrap();
    0.5 * 10f64.powi(power.parse::<i32>().unwrap() - decimals)
}

#[test]
fn nist_table() {
    let rows = rows(include_str!("../../../reference/quantity/nist_sp811.csv"));
    assert!(rows.len() >= 45);
    for row in rows {
        let [text, name, printed, exact, _, title] = row[..] else { panic!("{row:?}") };
        let found = value(text, dimension(name));
        let factor: f64 = printed.parse().unwrap();
        let room =
            if exact == "yes" { f64::EPSILON * factor } else { half_last_digit(printed) * (1.0 + 1e-9) };
        assert!((found - factor).abs() <= room, "{title}: {found:e} against {printed}");
    }
}

#[test]
fn independent_library() {
    let rows = rows(include_str!("../../../reference/quantity/pint_factors.csv"));
    assert!(rows.len() >= 55);
    for row in rows {
        let [text, name, other, tolerance, how] = row[..] else { panic!("{row:?}") };
        let found = value(text, dimension(name));
        let other: f64 = other.parse().unwrap();
        let room = tolerance.parse::<f64>().unwrap() * other.abs();
        assert!((found - other).abs() <= room, "{text}: {found:e} against {other:e} ({how})");
    }
}
