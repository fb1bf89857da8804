//! Linear and point thermal bridges with stated values, and the transmission of a whole envelope (ISO 13789).
//!
//! Not here: working them out from a detail.

use crate::error::{FabricError, within};

/// Dimensions that areas were taken by; a linear transmittance holds for one of them only.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dimensions {
    /// Outside faces.
    External,
    /// Inside faces of each room, partitions left out.
    Internal,
    /// Inside faces overall, partitions included.
    OverallInternal,
}

/// A joint with a stated linear transmittance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Linear {
    /// Ψ, W/(m·K); below zero where outside dimensions count a corner twice.
    pub psi_w_mk: f64,
    /// Length, m.
    pub length_m: f64,
    /// Dimensions it holds for.
    pub dimensions: Dimensions,
}

/// Points with a stated transmittance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// χ, W/K.
    pub chi_w_k: f64,
    /// Number of points.
    pub count: f64,
}

/// Returns the transmission coefficient of plane elements and their bridges, W/K: `Σ A U + Σ l Ψ + Σ n χ`.
///
/// `planes` are (area m², U W/(m²·K)); all lengths must refer to the dimensions the areas were taken by.
///
/// # Errors
/// [`FabricError::Inconsistent`] when a joint's value holds for other dimensions, [`FabricError::OutOfRange`] for
/// negative areas, lengths or counts.
/// # Source
/// ISO 13789:2017, 7.2 (from memory).
pub fn transmission_w_k(
    planes: &[(f64, f64)],
    linear: &[Linear],
    points: &[Point],
    dimensions: Dimensions,
) -> Result<f64, FabricError> {
    let mut sum = 0.0;
    for (k, &(area, u)) in planes.iter().enumerate() {
        within(|| format!("plane {}", k + 1), "area, m²", area, 0.0, 1e9)?;
        within(|| format!("plane {}", k + 1), "U, W/(m²·K)", u, 0.0, 1e3)?;
        sum += area * u;
    }
    for (k, joint) in linear.iter().enumerate() {
        let what = || format!("joint {}", k + 1);
        within(what, "length, m", joint.length_m, 0.0, 1e6)?;
        within(what, "Ψ, W/(m·K)", joint.psi_w_mk, -10.0, 10.0)?;
        if joint.dimensions != dimensions {
            return Err(FabricError::Inconsistent {
                what: what(),
                detail: format!(
                    "its Ψ holds for {:?} dimensions, the areas are {dimensions:?}; a Ψ is only true with its own dimensions",
                    joint.dimensions
                ),
            });
        }
        sum += joint.length_m * joint.psi_w_mk;
    }
    for (k, point) in points.iter().enumerate() {
        within(|| format!("point {}", k + 1), "count", point.count, 0.0, 1e6)?;
        within(|| format!("point {}", k + 1), "χ, W/K", point.chi_w_k, -10.0, 10.0)?;
        sum += point.count * point.chi_w_k;
    }
    Ok(sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_add_up_and_dimensions_must_agree() {
        let joint = Linear { psi_w_mk: -0.05, length_m: 10.0, dimensions: Dimensions::External };
        let point = Point { chi_w_k: 0.1, count: 3.0 };
        let h = transmission_w_k(&[(100.0, 0.2)], &[joint], &[point], Dimensions::External).unwrap();
        assert!((h - 19.8).abs() < 1e-12);
        assert!(transmission_w_k(&[], &[joint], &[], Dimensions::Internal).is_err());
    }
}
