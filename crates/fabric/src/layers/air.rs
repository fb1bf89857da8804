//! Air spaces in an element (ISO 6946).

use super::film::{Direction, black_radiative_w_m2k};
use crate::error::{FabricError, positive, within};
use numeric::pow;

/// An air space between two faces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AirSpace {
    /// Thickness along the heat flow, m; 0 < d ≤ 0.3.
    pub thickness_m: f64,
    /// Width across the heat flow, m, when the space is a small void (less than ten times its thickness).
    pub width_m: Option<f64>,
    /// Emissivities of both faces (0.9 for ordinary building surfaces).
    pub emissivities: (f64, f64),
    /// Openings to outdoors, mm² per metre of length for a vertical space, per m² for a horizontal one.
    pub openings_mm2: f64,
}

/// How much outdoor air an air space takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ventilation {
    /// Up to 500 mm²: counts in full.
    Unventilated,
    /// 500 to 1500 mm²: between both; the share of the unventilated resistance that counts.
    Slightly(f64),
    /// 1500 mm² and more: the space and all outside it do not count.
    Well,
}

impl AirSpace {
    /// Returns an unventilated space between ordinary surfaces.
    pub const fn still(thickness_m: f64) -> Self {
        Self { thickness_m, width_m: None, emissivities: (0.9, 0.9), openings_mm2: 0.0 }
    }

    /// Returns how the space is ventilated (ISO 6946:2017, 6.9, from memory).
    pub fn ventilation(&self) -> Ventilation {
        if self.openings_mm2 <= 500.0 {
            Ventilation::Unventilated
        } else if self.openings_mm2 < 1500.0 {
            Ventilation::Slightly((1500.0 - self.openings_mm2) / 1000.0)
        } else {
            Ventilation::Well
        }
    }

    /// Returns the resistance of the unventilated space at 10 °C mean temperature, m²·K/W.
    ///
    /// ```text
    /// R = 1 / (ha + hr),  ha = max(h₀, 0.025 / d),  hr = 4 σ T³ / (1/ε₁ + 1/ε₂ − 1)
    /// ```
    /// with h₀ = 1.95 up, 1.25 sideways, 0.12 d^−0.44 down. A small void of width b exchanges radiation with its
    /// sides too: its last denominator is `1/ε₁ + 1/ε₂ − 2 + 2 / (1 + √(1 + d²/b²) − d/b)`.
    ///
    /// # Errors
    /// [`FabricError`] when the thickness is outside 0..0.3 m, a width is not above zero or an emissivity is
    /// outside 0..1 (open at 0).
    /// # Source
    /// ISO 6946:2007 Annex B, 2017 Annex D (from memory; reproduces the standard's table of air layers).
    pub fn resistance_m2k_w(&self, direction: Direction) -> Result<f64, FabricError> {
        let what = || "air space".to_string();
        let d = positive(what, "thickness, m", self.thickness_m)?;
        within(what, "thickness, m (a deeper space is a room)", d, 0.0, 0.3)?;
        let (e1, e2) = self.emissivities;
        for e in [e1, e2] {
            positive(what, "emissivity", e)?;
            within(what, "emissivity", e, 0.0, 1.0)?;
        }
        let conduction = 0.025 / d;
        let convection = match direction {
            Direction::Upwards => conduction.max(1.95),
            Direction::Horizontal => conduction.max(1.25),
            Direction::Downwards => conduction.max(0.12 * pow(d, -0.44)),
        };
        let black = black_radiative_w_m2k(10.0);
        let exchange = match self.width_m {
            Some(b) if b < 10.0 * d => {
                let slim = d / positive(what, "width, m", b)?;
                1.0 / e1 + 1.0 / e2 - 2.0 + 2.0 / (1.0 + (1.0 + slim * slim).sqrt() - slim)
            }
            _ => 1.0 / e1 + 1.0 / e2 - 1.0,
        };
        Ok(1.0 / (convection + black / exchange))
    }
}

/// Thickness (m) and resistances (m²·K/W) upwards, horizontal, downwards of ISO 6946's table of unventilated air
/// layers between high-emissivity surfaces (2007 Table 2, 2017 Table 8; from memory, agrees with the formula).
const TABLE: [(f64, [f64; 3]); 9] = [
    (0.0, [0.00, 0.00, 0.00]),
    (0.005, [0.11, 0.11, 0.11]),
    (0.007, [0.13, 0.13, 0.13]),
    (0.010, [0.15, 0.15, 0.15]),
    (0.015, [0.16, 0.17, 0.17]),
    (0.025, [0.16, 0.18, 0.19]),
    (0.050, [0.16, 0.18, 0.21]),
    (0.100, [0.16, 0.18, 0.22]),
    (0.300, [0.16, 0.18, 0.23]),
];

/// Returns the tabulated resistance of an unventilated air layer, linear between rows, m²·K/W.
///
/// # Errors
/// [`FabricError::OutOfRange`] for a thickness outside 0..0.3 m.
pub fn tabulated_resistance_m2k_w(thickness_m: f64, direction: Direction) -> Result<f64, FabricError> {
    within(|| "air space".into(), "thickness, m", thickness_m, 0.0, 0.3)?;
    let column = direction as usize;
    for pair in TABLE.windows(2) {
        let ((d0, r0), (d1, r1)) = (pair[0], pair[1]);
        if thickness_m <= d1 {
            let share = (thickness_m - d0) / (d1 - d0);
            return Ok(r0[column] + share * (r1[column] - r0[column]));
        }
    }
    Ok(TABLE[8].1[column])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formula_rounds_to_the_table() {
        for (d, row) in &TABLE[1..] {
            for (direction, expected) in
                [Direction::Upwards, Direction::Horizontal, Direction::Downwards].into_iter().zip(row)
            {
                let r = AirSpace::still(*d).resistance_m2k_w(direction).unwrap();
                assert!((r - expected).abs() <= 0.005, "{d} {direction:?}: {r} for {expected}");
            }
        }
    }

    #[test]
    fn shiny_face_insulates_and_narrow_void_gains() {
        let plain = AirSpace::still(0.05);
        let shiny = AirSpace { emissivities: (0.05, 0.9), ..plain };
        let narrow = AirSpace { width_m: Some(0.05), ..plain };
        let r = |a: AirSpace| a.resistance_m2k_w(Direction::Horizontal).unwrap();
        assert!(r(shiny) > 2.0 * r(plain));
        assert!(r(narrow) > r(plain));
    }

    #[test]
    fn wide_void_meets_plain_space() {
        let plain = AirSpace::still(0.02).resistance_m2k_w(Direction::Horizontal).unwrap();
        let wide = AirSpace { width_m: Some(0.1999), ..AirSpace::still(0.02) };
        let wide = wide.resistance_m2k_w(Direction::Horizontal).unwrap();
        assert!((wide / plain - 1.0).abs() < 0.04, "{wide} {plain}");
    }
}
