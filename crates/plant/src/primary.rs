//! Primary energy and emissions of delivered energy: the weighting of ISO 52000-1, with the factors as data.
//!
//! ```text
//! E_P = Σ E_del · f_P,del − k_exp · E_exp · f_P,exp
//! ```
//! Solar electricity used on site is delivered on site with its own factor; what is exported counts by k_exp, 0 or 1.

use std::sync::OnceLock;

use crate::PlantError;

const FACTORS: &str = include_str!("../data/primary_energy_factors.csv");
const RENEWABLE_SUPPLY: &str = include_str!("../data/renewable_supply_factors.csv");

/// Factors of one carrier. A factor that a set does not name is `None`.
#[derive(Clone, Debug, PartialEq)]
pub struct Factors {
    /// Document.
    pub source: String,
    /// Carrier.
    pub carrier: String,
    /// Not renewable.
    pub not_renewable: Option<f64>,
    /// Renewable.
    pub renewable: Option<f64>,
    /// Both.
    pub total: Option<f64>,
    /// g a kWh.
    pub co2_g_kwh: Option<f64>,
    /// How it is known.
    pub status: String,
}

/// Reads rows `source,carrier,f_nonren,f_ren,f_tot,CO2_g_per_kWh,status`; lines with `#` are notes, empty cells unknown.
///
/// # Errors
/// [`PlantError::Row`] for a row that does not read.
pub fn read(text: &str) -> Result<Vec<Factors>, PlantError> {
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(text.as_bytes());
    let mut out = Vec::new();
    for (i, record) in reader.records().enumerate() {
        let fail = |why: String| PlantError::Row { row: i + 2, why };
        let record = record.map_err(|e| fail(e.to_string()))?;
        let text = |k: usize| record.get(k).unwrap_or_default().trim().to_owned();
        let number = |k: usize| -> Result<Option<f64>, PlantError> {
            let cell = text(k);
            if cell.is_empty() {
                return Ok(None);
            }
            let value = cell.parse::<f64>().ok().filter(|x| x.is_finite() && *x >= 0.0);
            value.map(Some).ok_or_else(|| fail(format!("\"{cell}\" is no factor")))
        };
        out.push(Factors {
            source: text(0),
            carrier: text(1),
            not_renewable: number(2)?,
            renewable: number(3)?,
            total: number(4)?,
            co2_g_kwh: number(5)?,
            status: text(6),
        });
    }
    Ok(out)
}

/// Returns the built-in rows.
pub fn rows() -> &'static [Factors] {
    static ROWS: OnceLock<Vec<Factors>> = OnceLock::new();
    // A test reads the table; should it ever fail to read, no factor is known rather than a wrong one.
    ROWS.get_or_init(|| read(FACTORS).unwrap_or_default())
}

/// Returns a built-in row by the beginning of its source and its carrier.
pub fn find(source: &str, carrier: &str) -> Option<&'static Factors> {
    rows().iter().find(|r| r.source.starts_with(source) && r.carrier == carrier)
}

/// Returns the factor of a wholly renewable supply for an end use.
pub fn renewable_supply(end_use: &str) -> Option<f64> {
    static ROWS: OnceLock<Vec<(String, f64)>> = OnceLock::new();
    let rows = ROWS.get_or_init(|| {
        let mut reader =
            csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(RENEWABLE_SUPPLY.as_bytes());
        let row = |r: csv::StringRecord| Some((r.get(0)?.to_owned(), r.get(1)?.parse().ok()?));
        reader.records().filter_map(|r| row(r.ok()?)).collect()
    });
    rows.iter().find(|r| r.0 == end_use).map(|r| r.1)
}

/// One carrier's energy over a year.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flow {
    /// Energy, any unit.
    pub energy: f64,
    /// Not renewable.
    pub not_renewable: f64,
    /// Renewable.
    pub renewable: f64,
    /// g a kWh.
    pub co2_g_kwh: f64,
}

/// Weighted energy; in the unit of the flows, CO2 in that unit times g/kWh.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Weighted {
    /// Not renewable.
    pub not_renewable: f64,
    /// Renewable.
    pub renewable: f64,
    /// CO2.
    pub co2: f64,
}

impl Weighted {
    /// Returns both together.
    pub fn total(&self) -> f64 {
        self.not_renewable + self.renewable
    }
}

/// Returns the weighted energy of what is delivered less `k_exp` of what is exported.
pub fn weigh(delivered: &[Flow], exported: &[Flow], k_exp: f64) -> Weighted {
    let mut out = Weighted::default();
    let signed = delivered.iter().map(|f| (f, 1.0)).chain(exported.iter().map(|f| (f, -k_exp)));
    for (flow, sign) in signed {
        out.not_renewable += sign * flow.energy * flow.not_renewable;
        out.renewable += sign * flow.energy * flow.renewable;
        out.co2 += sign * flow.energy * flow.co2_g_kwh;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_tables_read() {
        let rows = read(FACTORS).unwrap();
        assert!(rows.len() > 20);
        let grid = find("ISO 52000-1", "electricity grid").unwrap();
        assert_eq!((grid.not_renewable, grid.renewable), (Some(2.3), Some(0.2)));
        for row in rows {
            if let (Some(n), Some(r), Some(t)) = (row.not_renewable, row.renewable, row.total) {
                assert!((n + r - t).abs() < 1e-9, "{row:?}");
            }
        }
        assert_eq!(renewable_supply("heating"), Some(1.75));
        assert!(renewable_supply("nothing").is_none());
    }

    #[test]
    fn a_bad_factor_is_refused_with_its_row() {
        let text = "source,carrier,f_nonren,f_ren,f_tot,CO2_g_per_kWh,status\na,b,1,x,1,1,s\n";
        assert!(matches!(read(text), Err(PlantError::Row { row: 2, .. })));
    }
}
