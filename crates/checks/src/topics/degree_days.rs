//! Degree days of three weather files, one a reader's format each.

use std::sync::OnceLock;

use super::tilted::denver;
use crate::reference::rows;
use crate::{Check, Compute, Kind, Tolerance};
use climate::Climate;
use climate::degree_days::{Counting, cooling, heating, heating_with_limit};

const TABLE: &str = include_str!("../../../../reference/building/degree_days.csv");
const NORTH_ITALY: &str = include_str!("../../../../reference/building/pvgis_45N_8E.csv");

/// A year, read once.
type Year = fn() -> Result<&'static Climate, String>;

fn greensboro() -> Result<&'static Climate, String> {
    static YEAR: OnceLock<Climate> = OnceLock::new();
    Ok(YEAR.get_or_init(climate::demo_year))
}

fn north_italy() -> Result<&'static Climate, String> {
    static YEAR: OnceLock<Result<Climate, String>> = OnceLock::new();
    let text =
        |problems: Vec<climate::WeatherProblem>| problems.iter().map(ToString::to_string).collect::<String>();
    YEAR.get_or_init(|| climate::read(NORTH_ITALY).map_err(text)).as_ref().map_err(Clone::clone)
}

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = Vec::new();
    for row in rows(TABLE) {
        let file = row.text("file");
        // Days of a file in universal time are not the days of local time: only hourly sums carry over.
        let (name, year, days): (&str, Year, bool) = match file {
            "723170TYA.CSV" => ("greensboro", greensboro, true),
            f if f.starts_with("denver") => ("denver", denver, true),
            f if f.starts_with("pvgis") => ("north-italy", north_italy, false),
            _ => continue,
        };
        let mut add = |column: &str, what: &str, unnudged: f64, compute: fn(&Climate, f64) -> f64| {
            let reference = row.number(column);
            checks.push(Check {
                id: format!(
                    "degree-days.{name}.{}.{column}",
                    row.text("base_c").to_lowercase().replace('/', "-")
                ),
                topic: "Degree days",
                quantity: format!("{what}, {name}, {}", row.text("base_c")),
                unit: "K·d",
                reference,
                tolerance: Tolerance::Absolute(0.01),
                kind: Kind::OwnConverged,
                source: "sums over the same file by another program of ours".to_owned(),
                seen: false,
                known_gap: None,
                compute: Box::new(move |nudge| Ok(compute(year()?, unnudged * nudge))) as Compute,
            });
        };
        let base = row.number("base_c");
        if base == 18.3 || (base == 12.0 && days) {
            add("hdd_hourly_kd", "heating, hourly", base, |c, b| heating(c, b, Counting::Hourly));
            add("cdd_hourly_kd", "cooling, hourly", base, |c, b| cooling(c, b, Counting::Hourly));
        }
        if base == 18.3 && days {
            add("hdd_daily_mean_kd", "heating, daily means", base, |c, b| heating(c, b, Counting::DailyMean));
            add("hdd_daily_minmax_kd", "heating, middle of the day", base, |c, b| {
                heating(c, b, Counting::DailyMiddle)
            });
            add("cdd_daily_mean_kd", "cooling, daily means", base, |c, b| cooling(c, b, Counting::DailyMean));
        }
        if row.text("base_c") == "HGT20/12" {
            add("hdd_hourly_kd", "20 °C inside below 12 °C, hourly", 20.0, |c, b| {
                heating_with_limit(c, b, 12.0, Counting::Hourly)
            });
            if days {
                add("hdd_daily_mean_kd", "20 °C inside below 12 °C, daily means", 20.0, |c, b| {
                    heating_with_limit(c, b, 12.0, Counting::DailyMean)
                });
            }
        }
    }
    checks.push(wave());
    checks
}

/// Degree days of a year that is a pure wave, below its own mean: amplitude/π a day.
fn wave() -> Check {
    const AMPLITUDE_K: f64 = 12.0;
    Check {
        id: "degree-days.wave".to_owned(),
        topic: "Degree days",
        quantity: "heating, hourly, of a cosine year of amplitude 12 K below its mean".to_owned(),
        unit: "K·d",
        reference: AMPLITUDE_K / std::f64::consts::PI * 365.0,
        // The sum over 8 760 samples of a wave with kinks differs from its integral by about 1e-7 of it.
        tolerance: Tolerance::Relative(1e-6),
        kind: Kind::ClosedForm,
        source: "integral of half a cosine".to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(|nudge| {
            let mut year = greensboro()?.clone();
            for (i, hour) in year.hours.iter_mut().enumerate() {
                let turn = 2.0 * std::f64::consts::PI * (i as f64 + 0.5) / 8_760.0;
                hour.dry_bulb_c = 10.0 - AMPLITUDE_K * nudge * numeric::scalar::cos(turn);
            }
            Ok(heating(&year, 10.0, Counting::Hourly))
        }),
    }
}
