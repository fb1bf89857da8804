//! Air cavities in frame sections as solids of equivalent conductivity (ISO 10077-2).

use super::{Accuracy, Body, Detail, Solution, solve};
use crate::error::{FabricError, positive, within};
use crate::layers::film::STEFAN_BOLTZMANN_ISO;
use numeric::pow;

/// Conductivity of still air times one metre per metre, W/(m·K).
const C1: f64 = 0.025;
/// Convection when the faces' temperatures are not known, W/(m²·K).
const C3: f64 = 1.57;
/// Radiation between faces of emissivity 0.9 at 10 °C, W/(m²·K).
const C4: f64 = 2.11;

/// How a cavity meets outdoors.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Opening {
    /// Closed, or open by a slot of at most 2 mm.
    Closed,
    /// Open by a slot of 2 to 10 mm: twice the closed conductivity. Wider ones are not cavities but surfaces.
    Slot,
}

/// Returns the equivalent conductivity of a rectangular cavity, W/(m·K).
///
/// ```text
/// λ = d / R,  R = 1 / (ha + hr)
/// ha = C1/d for b < 5 mm, else max(C1/d, C3);   hr = C4 (1 + √(1 + (d/b)²) − d/b)
/// ```
/// | symbol | argument   | unit | meaning                           |
/// |--------|------------|------|-----------------------------------|
/// | d      | `depth_m`  | m    | along the heat flow, above zero   |
/// | b      | `width_m`  | m    | across the heat flow, above zero  |
///
/// # Errors
/// [`FabricError`] when a dimension is not above zero.
/// # Source
/// ISO 10077-2:2012, clause 6 (C1, C3, C4 seen in a journal paper's nomenclature, Acta Polytechnica Hungarica 11(8)
/// 2014; the form from memory). Faces of emissivity 0.9 at 10 °C mean; the 2017 edition's radiosity is not covered.
pub fn conductivity_w_mk(depth_m: f64, width_m: f64, opening: Opening) -> Result<f64, FabricError> {
    let what = || "cavity".to_string();
    let d = positive(what, "depth along the heat flow, m", depth_m)?;
    let b = positive(what, "width across the heat flow, m", width_m)?;
    let still = C1 / d;
    let convection = if b < 0.005 { still } else { still.max(C3) };
    let slim = d / b;
    let radiation = C4 * (1.0 + (1.0 + slim * slim).sqrt() - slim);
    let closed = d * (convection + radiation);
    Ok(match opening {
        Opening::Closed => closed,
        Opening::Slot => 2.0 * closed,
    })
}

/// A region of a detail that is an air cavity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cavity {
    /// Place in [`Detail::regions`].
    pub region: usize,
    /// How it meets outdoors.
    pub opening: Opening,
    /// Emissivity of its faces.
    pub emissivity: f64,
}

/// Convection by the difference of the faces' temperatures, W/(m²·K^(4/3)).
const C2: f64 = 0.73;
/// Iterations; each changes the conductivities less than half as much as the one before in what was tried.
const MOST: u32 = 12;

/// Returns the equivalent conductivity of a rectangular cavity at its own temperatures, W/(m·K).
///
/// ```text
/// ha = C1/d for b < 5 mm, else max(C1/d, C2 ΔT^(1/3));   hr = 4 σ Tm³ / (1/ε + 1/ε − 2 + 2 / (1 + √(1 + (d/b)²) − d/b))
/// ```
///
/// # Errors
/// [`FabricError`] for dimensions or emissivity out of range.
/// # Source
/// ISO 10077-2:2012, clause 6.3 (from memory).
pub fn conductivity_at_w_mk(
    depth_m: f64,
    width_m: f64,
    opening: Opening,
    emissivity: f64,
    difference_k: f64,
    mean_c: f64,
) -> Result<f64, FabricError> {
    let what = || "cavity".to_string();
    let d = positive(what, "depth along the heat flow, m", depth_m)?;
    let b = positive(what, "width across the heat flow, m", width_m)?;
    within(what, "emissivity", emissivity, 0.01, 1.0)?;
    let still = C1 / d;
    let third = pow(difference_k.abs().max(1e-6), 1.0 / 3.0);
    let convection = if b < 0.005 { still } else { still.max(C2 * third) };
    let slim = d / b;
    let view = 2.0 / (1.0 + (1.0 + slim * slim).sqrt() - slim);
    let t = mean_c + 273.15;
    let black = 4.0 * STEFAN_BOLTZMANN_ISO * t * t * t;
    let radiation = black / (2.0 / emissivity - 2.0 + view);
    let closed = d * (convection + radiation);
    Ok(if opening == Opening::Slot { 2.0 * closed } else { closed })
}

/// Returns the detail with the conductivities that its cavities have at their own temperatures, and these by region.
///
/// Each cavity conducts along the axis with the larger heat flux through it, alike in all directions. Solved on the first
/// grid again and again until no conductivity changes by more than half a per cent.
///
/// # Errors
/// As [`solve`](super::solve); [`FabricError::NoConvergence`] when the conductivities do not settle.
/// # Source
/// ISO 10077-2:2012, clause 6.3, ISO 6946 for wide ones (from memory); cavities of other than rectangular form are to be
/// drawn as the rectangle of the same area and aspect.
pub fn settled(
    detail: &Detail,
    cavities: &[Cavity],
    accuracy: &Accuracy,
) -> Result<(Detail, Vec<(usize, f64)>), FabricError> {
    let mut detail = detail.clone();
    let mut found: Vec<(usize, f64)> = Vec::new();
    if cavities.is_empty() {
        return Ok((detail, found));
    }
    let coarse = Accuracy { most_cells: 0, ..*accuracy };
    let mut change = f64::INFINITY;
    for _ in 0..MOST {
        let solution = solve(&detail, &coarse)?;
        let next: Vec<(usize, f64)> = cavities
            .iter()
            .map(|c| at_temperatures(&detail, c, &solution).map(|k| (c.region, k)))
            .collect::<Result<_, _>>()?;
        change = found.iter().zip(&next).map(|(a, b)| (b.1 / a.1 - 1.0).abs()).fold(0.0, f64::max);
        let first = found.is_empty();
        found = next;
        for (region, k) in &found {
            detail.regions[*region].body = Body::solid(*k);
        }
        if !first && change < 5e-3 {
            return Ok((detail, found));
        }
    }
    Err(FabricError::NoConvergence { what: "air cavities".into(), iterations: MOST, change })
}

/// Mean temperature of a face of a cavity, from a few places just inside it.
fn face(solution: &Solution, low: [f64; 3], high: [f64; 3], axis: usize, upper: bool) -> f64 {
    const PLACES: u32 = 5;
    let other = 1 - axis;
    let mut at = [0, 1, 2].map(|d| 0.5 * (low[d] + high[d]));
    at[axis] = if upper {
        high[axis] - 1e-3 * (high[axis] - low[axis])
    } else {
        low[axis] + 1e-3 * (high[axis] - low[axis])
    };
    let mut sum = 0.0;
    let mut count = 0.0;
    for k in 0..PLACES {
        at[other] = low[other] + (high[other] - low[other]) * (f64::from(k) + 0.5) / f64::from(PLACES);
        if let Some(t) = solution.temperature_at(at) {
            sum += t;
            count += 1.0;
        }
    }
    if count > 0.0 { sum / count } else { 10.0 }
}

fn at_temperatures(detail: &Detail, cavity: &Cavity, solution: &Solution) -> Result<f64, FabricError> {
    let region = &detail.regions[cavity.region];
    let (low, high) = (region.low_m, region.high_m);
    let size = [high[0] - low[0], high[1] - low[1]];
    let faces = [0, 1].map(|d| (face(solution, low, high, d, false), face(solution, low, high, d, true)));
    let differences = faces.map(|(a, b)| b - a);
    let axis = usize::from((differences[1] / size[1]).abs() > (differences[0] / size[0]).abs());
    let (a, b) = faces[axis];
    conductivity_at_w_mk(
        size[axis],
        size[1 - axis],
        cavity.opening,
        cavity.emissivity,
        differences[axis],
        0.5 * (a + b),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reference_cavity() {
        let c = conductivity_w_mk(0.020, 0.040, Opening::Closed).unwrap();
        assert!((c - 0.099_681).abs() < 5e-7, "{c}");
        assert_eq!(conductivity_w_mk(0.020, 0.040, Opening::Slot).unwrap(), 2.0 * c);
        assert!(conductivity_w_mk(0.0, 0.04, Opening::Closed).is_err());
    }

    #[test]
    fn narrow_gap_conducts_as_still_air_and_radiation() {
        let c = conductivity_w_mk(0.003, 0.003, Opening::Closed).unwrap();
        assert!(c > 0.025 && c < 0.035, "{c}");
    }

    #[test]
    fn at_ten_kelvin_and_ten_degrees_it_is_the_fixed_formula() {
        let fixed = conductivity_w_mk(0.020, 0.040, Opening::Closed).unwrap();
        let own = conductivity_at_w_mk(0.020, 0.040, Opening::Closed, 0.9, 10.0, 10.0).unwrap();
        // The fixed formula takes the radiation between narrow faces a little otherwise.
        assert!((own / fixed - 1.0).abs() < 0.03, "{own} {fixed}");
        let colder = conductivity_at_w_mk(0.020, 0.040, Opening::Closed, 0.9, 10.0, 0.0).unwrap();
        assert!(colder < own);
    }

    #[test]
    fn cavities_settle_at_their_own_temperatures() {
        use super::super::{Environment, Region};
        let air = |name: &str, temperature_c, surface_m2k_w| Environment {
            name: name.into(),
            temperature_c,
            surface_m2k_w,
        };
        let detail = Detail {
            plane: true,
            regions: vec![
                Region::rectangle("plastic", [0.0, 0.0], [0.06, 0.06], Body::solid(0.17)),
                Region::rectangle("cavity", [0.01, 0.01], [0.05, 0.05], Body::solid(0.1)),
                Region::rectangle("in", [-0.1, 0.0], [0.0, 0.06], Body::Environment(0)),
                Region::rectangle("out", [0.06, 0.0], [0.1, 0.06], Body::Environment(1)),
            ],
            environments: vec![air("in", 20.0, 0.13), air("out", 0.0, 0.04)],
        };
        let cavity = Cavity { region: 1, opening: Opening::Closed, emissivity: 0.9 };
        let (with, found) = settled(&detail, &[cavity], &Accuracy::default()).unwrap();
        let solution = solve(&with, &Accuracy { most_cells: 0, ..Accuracy::default() }).unwrap();
        let again = at_temperatures(&with, &cavity, &solution).unwrap();
        assert!((again / found[0].1 - 1.0).abs() < 0.01 && (0.05..0.4).contains(&again), "{again} {found:?}");
    }
}
