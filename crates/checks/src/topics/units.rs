//! Unit factors through the reader: the printed table, an independent library, one closed form.

use crate::reference::{Row, rows};
use crate::{Check, Kind, Tolerance};
use quantity::{Dimension, read};

const TOPIC: &str = "Units";
const TABLE: &str = include_str!("../../../../reference/quantity/nist_sp811.csv");
const LIBRARY: &str = include_str!("../../../../reference/quantity/pint_factors.csv");

/// Rows of the printed table that show every kind of combined unit once; the crate's own tests take them all.
const FROM_TABLE: [&str; 13] = [
    "1 gal",
    "1 cfm",
    "1 lb/ft³",
    "1 Btu",
    "1 therm",
    "1 ton of refrigeration",
    "1 Btu·in/(h·ft²·°F)",
    "1 Btu/(h·ft²·°F)",
    "R-1",
    "1 perm",
    "1 perm·in",
    "1 in. w.g.",
    "1 psf",
];

/// Rows of the library's file.
const FROM_LIBRARY: [&str; 6] =
    ["0.25 Btu·in/(h·ft²·°F)", "4.75 kBtu/ft²", "0.7 W/cfm", "0.25 cfm50/ft²", "3 kg/(m²·h^0.5)", "70 °F"];

pub(crate) fn checks() -> Vec<Check> {
    let picked = |file, texts: &[&str]| -> Vec<Row> {
        rows(file).into_iter().filter(|row| texts.contains(&row.text("text"))).collect()
    };
    let mut checks: Vec<Check> = picked(TABLE, &FROM_TABLE).into_iter().map(table_check).collect();
    checks.extend(picked(LIBRARY, &FROM_LIBRARY).into_iter().map(library_check));
    checks.push(crossing());
    checks
}

/// Returns the dimension named in a data row; a wrong name is a mistake of ours and reads as a plain number, so
/// that the check on it comes out.
fn dimension(row: &Row) -> Dimension {
    let name = row.text("dimension");
    Dimension::ALL.into_iter().find(|d| format!("{d:?}") == name).unwrap_or(Dimension::Count)
}

/// Reads a row's text with its figure scaled; `R-1` carries it behind its prefix.
fn scaled(text: &str, dimension: Dimension, factor: f64) -> Result<f64, String> {
    let (prefix, rest) = text.strip_prefix("R-").map_or(("", text), |rest| ("R-", rest));
    let (figure, unit) = rest.split_once(' ').unwrap_or((rest, ""));
    let figure: f64 = figure.parse().map_err(|e| format!("{text}: {e}"))?;
    let nudged = format!("{prefix}{} {unit}", figure * factor);
    read(&nudged, dimension).map(|reading| reading.value).map_err(|e| e.to_string())
}

/// Half a unit of the last digit of a factor printed like `2.490889E+02`; NaN, which no check passes, otherwise.
fn half_last_digit(printed: &str) -> f64 {
    let Some((mantissa, power)) = printed.split_once('E') else { return f64::NAN };
    let decimals = mantissa.split_once('.').map_or(0, |(_, digits)| digits.len());
    let power =
        power.parse::<i32>().unwrap_or(i32::MAX).saturating_sub(i32::try_from(decimals).unwrap_or(i32::MAX));
    format!("0.5e{power}").parse().unwrap_or(f64::NAN)
}

fn table_check(row: Row) -> Check {
    let dimension = dimension(&row);
    let (text, printed) = (row.text("text").to_owned(), row.text("factor").to_owned());
    let seen = row.text("seen") == "yes";
    let tolerance = if row.text("exact") == "yes" {
        Tolerance::Relative(f64::EPSILON)
    } else {
        Tolerance::Absolute(half_last_digit(&printed))
    };
    let copy = if seen { "; read in a word-for-word copy of the table" } else { "" };
    Check {
        id: format!("units.table.{}", slug(&text)),
        topic: TOPIC,
        quantity: format!("{text}, {}", dimension.with_article()),
        unit: dimension.canonical_unit(),
        reference: row.number("factor"),
        tolerance,
        kind: if seen { Kind::PublishedSeen } else { Kind::PublishedMemory },
        source: format!("NIST SP 811 (2008), Appendix B, row {}{copy}", row.text("row")),
        seen,
        known_gap: None,
        compute: Box::new(move |factor| scaled(&text, dimension, factor)),
    }
}

fn library_check(row: Row) -> Check {
    let dimension = dimension(&row);
    let text = row.text("text").to_owned();
    Check {
        id: format!("units.library.{}", slug(&text)),
        topic: TOPIC,
        quantity: format!("{text}, {}", dimension.with_article()),
        unit: dimension.canonical_unit(),
        reference: row.number("value"),
        tolerance: Tolerance::Relative(row.number("tolerance")),
        kind: Kind::IndependentLibrary,
        source: format!("pint 0.25.3: {}", row.text("pint")),
        seen: true,
        known_gap: None,
        compute: Box::new(move |factor| scaled(&text, dimension, factor)),
    }
}

/// Both scales show the same figure at −40.
fn crossing() -> Check {
    Check {
        id: "units.closed.minus-40".into(),
        topic: TOPIC,
        quantity: "-40 °F, a temperature".into(),
        unit: Dimension::Temperature.canonical_unit(),
        reference: -40.0,
        tolerance: Tolerance::Absolute(1e-12),
        kind: Kind::ClosedForm,
        source: "t = (t_F - 32)/1.8".into(),
        seen: true,
        known_gap: None,
        compute: Box::new(|factor| scaled("-40 °F", Dimension::Temperature, factor)),
    }
}

/// Turns a text such as `1 Btu/(h·ft²·°F)` into a path such as `1-btu-h-ft2-f`.
fn slug(text: &str) -> String {
    let plain: String = text
        .chars()
        .map(|c| match c {
            '²' => '2',
            '³' => '3',
            c if c.is_ascii_alphanumeric() => c.to_ascii_lowercase(),
            _ => '-',
        })
        .collect();
    plain.split('-').filter(|part| !part.is_empty()).collect::<Vec<_>>().join("-")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Status;

    #[test]
    fn twenty_checks_hold_and_would_notice() {
        let checks = checks();
        assert_eq!(checks.len(), 20, "a row was renamed in its file");
        for check in &checks {
            let outcome = check.run();
            assert_eq!(outcome.status, Status::Ok, "{}: {outcome:?}", check.id);
            assert!(check.self_test().is_ok(), "{}", check.id);
        }
    }
}
