//! Layers of falling thickness: insulation cut to a fall (ISO 6946).

use crate::error::{FabricError, positive};
use numeric::ln;

/// Plan shape of a piece of tapered layer. Slopes above 5 % are outside the method.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Taper {
    /// A rectangle, zero thickness along one edge.
    Rectangle,
    /// A triangle, thickest at its apex.
    TriangleThickestAtApex,
    /// A triangle, thinnest at its apex.
    TriangleThinnestAtApex,
    /// A triangle with three unlike corners; the value is R1, the middle one, m²·K/W.
    TriangleOfThree(f64),
}

/// Returns the mean transmittance of a tapered piece, W/(m²·K).
///
/// `r0_m2k_w` is the resistance of all else, surfaces included; `r2_m2k_w` the largest resistance of the taper.
///
/// ```text
/// rectangle          U = ln(1 + R2/R0) / R2
/// thickest at apex   U = (2/R2) ((1 + R0/R2) ln(1 + R2/R0) − 1)
/// thinnest at apex   U = (2/R2) (1 − (R0/R2) ln(1 + R2/R0))
/// three unlike       U = 2 (R0 R1 ln(1 + R2/R0) − R0 R2 ln(1 + R1/R0) + R1 R2 ln((R0 + R2)/(R0 + R1)))
///                        / (R1 R2 (R2 − R1))
/// ```
///
/// # Errors
/// [`FabricError`] when a resistance is not above zero, or R1 is not below R2.
/// # Source
/// ISO 6946:2007 Annex C, 2017 Annex E (from memory; each agrees with numerical integration).
pub fn tapered_u_w_m2k(shape: Taper, r0_m2k_w: f64, r2_m2k_w: f64) -> Result<f64, FabricError> {
    let what = || "tapered layer".to_string();
    let r0 = positive(what, "R0, m²·K/W", r0_m2k_w)?;
    let r2 = positive(what, "R2, m²·K/W", r2_m2k_w)?;
    let log = ln(1.0 + r2 / r0);
    Ok(match shape {
        Taper::Rectangle => log / r2,
        Taper::TriangleThickestAtApex => 2.0 / r2 * ((1.0 + r0 / r2) * log - 1.0),
        Taper::TriangleThinnestAtApex => 2.0 / r2 * (1.0 - r0 / r2 * log),
        Taper::TriangleOfThree(r1) => {
            let r1 = positive(what, "R1, m²·K/W", r1)?;
            if r1 >= r2 {
                return Err(FabricError::Inconsistent {
                    what: what(),
                    detail: format!("R1 ({r1}) must be below R2 ({r2}), the largest resistance of the taper"),
                });
            }
            2.0 * (r0 * r1 * log - r0 * r2 * ln(1.0 + r1 / r0) + r1 * r2 * ln((r0 + r2) / (r0 + r1)))
                / (r1 * r2 * (r2 - r1))
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mean of 1/(R0 + r) over a triangle whose corners have the given r, by midpoints of a fine split.
    fn mean_over_triangle(r0: f64, corners: [f64; 3]) -> f64 {
        let n = 400;
        let (mut sum, mut count) = (0.0, 0.0);
        for i in 0..n {
            for j in 0..n - i {
                for (shift, inside) in [(1.0 / 3.0, true), (2.0 / 3.0, i + j + 1 < n)] {
                    if inside {
                        let a = (i as f64 + shift) / n as f64;
                        let b = (j as f64 + shift) / n as f64;
                        let r = corners[0] + a * (corners[1] - corners[0]) + b * (corners[2] - corners[0]);
                        sum += 1.0 / (r0 + r);
                        count += 1.0;
                    }
                }
            }
        }
        sum / count
    }

    #[test]
    fn formulas_are_means() {
        for (shape, corners) in [
            (Taper::TriangleThickestAtApex, [0.0, 0.0, 2.0]),
            (Taper::TriangleThinnestAtApex, [2.0, 2.0, 0.0]),
            (Taper::TriangleOfThree(0.7), [0.0, 0.7, 2.0]),
        ] {
            let u = tapered_u_w_m2k(shape, 0.6, 2.0).unwrap();
            let mean = mean_over_triangle(0.6, corners);
            assert!((u - mean).abs() < 2e-5, "{shape:?}: {u} for {mean}");
        }
    }
}
