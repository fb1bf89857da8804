//! Component leakage data: what a joint, opening or penetration of a kind usually leaks, by class of work.
//!
//! The rows are effective leakage areas at 4 Pa with their source (`reference/air/leakage_components.csv`, from memory
//! of a published table). A class of work makes a lognormal of a row's best, least and greatest figure. What is measured
//! replaces a row; what sits in no row is stated by the user.

use crate::leakage::REFERENCE_DENSITY_KG_M3;
use numeric::distribution::Distribution;
use numeric::pow;

const TABLE: &str = include_str!("../../../reference/air/leakage_components.csv");

/// Pressure the table's areas refer to, Pa.
pub const TABLE_PRESSURE_PA: f64 = 4.0;
/// Where a row has no least or greatest figure, they lie this factor away (judgement).
const MISSING_FACTOR: f64 = 3.0;

/// What a row counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Per {
    /// Each piece.
    Each,
    /// Metre of joint or crack.
    Metre,
    /// Square metre of surface or frame.
    SquareMetre,
}

/// One row of the table.
#[derive(Clone, Debug, PartialEq)]
pub struct Component {
    /// Name in the table.
    pub name: String,
    /// What it counts.
    pub per: Per,
    /// Best, least and greatest effective leakage area at 4 Pa, cm².
    pub best_cm2: f64,
    /// Least.
    pub least_cm2: f64,
    /// Greatest.
    pub most_cm2: f64,
    /// Where the row comes from.
    pub source: String,
}

/// How carefully the work is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Work {
    /// Detailed, trained crew, inspected before it is covered.
    Careful,
    /// Usual work.
    Ordinary,
    /// Not known: existing or unseen.
    Unknown,
}

/// Returns the rows of the table.
pub fn table() -> Vec<Component> {
    TABLE.lines().skip(1).filter_map(row).collect()
}

/// Returns a row by its name.
pub fn find(name: &str) -> Option<Component> {
    table().into_iter().find(|c| c.name == name)
}

fn row(line: &str) -> Option<Component> {
    let cells = cells(line);
    let number = |i: usize| cells.get(i)?.parse::<f64>().ok();
    let best = number(2)?;
    let per = match *cells.get(1)? {
        "cm2/each" => Per::Each,
        "cm2/m" | "cm2/m crack" => Per::Metre,
        "cm2/m2" => Per::SquareMetre,
        _ => return None,
    };
    Some(Component {
        name: (*cells.first()?).to_owned(),
        per,
        best_cm2: best,
        least_cm2: number(3).unwrap_or(best / MISSING_FACTOR),
        most_cm2: number(4).unwrap_or(best * MISSING_FACTOR),
        source: format!("{}; {}", cells.get(5)?, cells.get(4)?),
    })
}

/// Splits a line at commas outside quotes.
fn cells(line: &str) -> Vec<&str> {
    let mut quoted = false;
    line.split(|c: char| {
        quoted ^= c == '"';
        c == ',' && !quoted
    })
    .map(|cell| cell.trim().trim_matches('"'))
    .collect()
}

impl Component {
    /// Returns the effective leakage area of one unit at 4 Pa by class of work, cm².
    ///
    /// Careful work lies between the least and the best figure, ordinary work around the best with the table's whole
    /// width, unknown work around the geometric middle of best and greatest with twice that width in logarithms. This
    /// reading of the table is judgement.
    pub fn area_cm2(&self, work: Work) -> Distribution {
        let (least, best, most) = (self.least_cm2, self.best_cm2, self.most_cm2);
        let width = (most / least).sqrt();
        let (median, factor95) = match work {
            Work::Careful => ((least * best).sqrt(), (best / least).sqrt().max(LEAST_FACTOR)),
            Work::Ordinary => (best, width.max(LEAST_FACTOR)),
            Work::Unknown => ((best * most).sqrt(), (width * width).max(MISSING_FACTOR)),
        };
        Distribution::LogNormal { median, factor95 }
    }

    /// Returns the flow of one unit at a pressure by class of work, m³/h.
    pub fn flow_m3_h(&self, work: Work, pressure_pa: f64, exponent: f64) -> Distribution {
        match self.area_cm2(work) {
            Distribution::LogNormal { median, factor95 } => Distribution::LogNormal {
                median: flow_of_area_m3_h(median, TABLE_PRESSURE_PA, pressure_pa, exponent),
                factor95,
            },
            other => other,
        }
    }
}

/// No class of work is known better than this factor (judgement).
const LEAST_FACTOR: f64 = 1.5;

/// Returns the flow at a pressure of an effective leakage area given at another, m³/h.
///
/// ```text
/// q = ELA·sqrt(2·Δp_r/ρ)·(Δp/Δp_r)ⁿ
/// ```
pub fn flow_of_area_m3_h(area_cm2: f64, area_pressure_pa: f64, pressure_pa: f64, exponent: f64) -> f64 {
    let at_reference = area_cm2 * 1e-4 * (2.0 * area_pressure_pa / REFERENCE_DENSITY_KG_M3).sqrt() * 3600.0;
    at_reference * pow(pressure_pa / area_pressure_pa, exponent)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::leakage::PowerLaw;

    #[test]
    fn every_line_of_the_table_is_read() {
        let rows = table();
        assert_eq!(rows.len(), TABLE.lines().count() - 1);
        for row in &rows {
            assert!(row.least_cm2 <= row.best_cm2 && row.best_cm2 <= row.most_cm2, "{row:?}");
        }
        let sole = find("joint, sole plate / floor-wall, caulked").unwrap();
        assert_eq!((sole.per, sole.best_cm2, sole.least_cm2), (Per::Metre, 0.8, 0.075));
    }

    #[test]
    fn careful_work_leaks_less() {
        for row in table() {
            let [a, b, c] = [Work::Careful, Work::Ordinary, Work::Unknown].map(|w| row.area_cm2(w).median());
            assert!(a <= b && b <= c, "{}", row.name);
        }
    }

    #[test]
    fn an_area_and_its_flow_agree_with_the_power_law() {
        let leak = PowerLaw::through(flow_of_area_m3_h(100.0, 4.0, 50.0, 0.65), 50.0, 0.65);
        assert!((leak.effective_leakage_area_m2(4.0) * 1e4 - 100.0).abs() < 1e-9);
    }
}
