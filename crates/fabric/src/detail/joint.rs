//! From a solved detail to the numbers a joint is known by: Ψ, χ, f_Rsi (ISO 10211, ISO 14683, ISO 13788).

use super::template::Template;
use super::{Accuracy, Detail, Solution, solve};
use crate::error::FabricError;
use crate::surface::{RSI_GLAZING, RSI_OPAQUE};
use crate::working::Working;

/// A plane element that runs into a detail, as the building counts it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plane {
    /// Transmittance with the same surface resistances as the detail, W/(m²·K).
    pub u_w_m2k: f64,
    /// Length in a plane section (m), or area in a solid one (m²), by the dimensions that the building uses.
    pub extent: f64,
}

/// Extra loss of a joint.
#[derive(Clone, Debug, PartialEq)]
pub struct ExtraLoss {
    /// L2D, W/(m·K), or L3D, W/K.
    pub coupling: f64,
    /// Ψ, W/(m·K), of a plane section; χ, W/K, of a solid one without linear bridges of its own.
    pub extra: f64,
    /// The working.
    pub working: Working,
}

/// Returns `Ψ = L2D − Σ U l` between two environments (`χ = L3D − Σ U A − Σ Ψ l` with `linear` as (Ψ, length)).
///
/// A detail with three environments has one coupling for each pair; planes must be those between this pair.
///
/// # Errors
/// [`FabricError::Inconsistent`] when an environment's number is none of the detail's, or both are one.
/// # Source
/// ISO 10211:2017, 9.2 and 9.3 (from memory).
pub fn extra_loss(
    solution: &Solution,
    from: usize,
    to: usize,
    planes: &[Plane],
    linear: &[(f64, f64)],
) -> Result<ExtraLoss, FabricError> {
    let Some(&coupling) = solution.coupling.get(from).and_then(|row| row.get(to)).filter(|_| from != to)
    else {
        return Err(FabricError::Inconsistent {
            what: "joint".into(),
            detail: format!(
                "environments {} and {} are no pair; the detail has {}",
                from + 1,
                to + 1,
                solution.coupling.len()
            ),
        });
    };
    let mut w = Working::new();
    w.step("L", "coupling of the whole detail", coupling, "W/(m·K) or W/K", "ISO 10211 9");
    let mut extra = coupling;
    for plane in planes {
        extra -=
            w.step("U l", "plane element", plane.u_w_m2k * plane.extent, "W/(m·K) or W/K", "ISO 10211 9");
    }
    for (psi, length) in linear {
        extra -= w.step("Ψ l", "linear bridge", psi * length, "W/K", "ISO 10211 9.3");
    }
    w.step("Ψ", "extra loss at the joint", extra, "W/(m·K) or W/K", "ISO 10211 9");
    Ok(ExtraLoss { coupling, extra, working: w })
}

/// Returns the same detail with the surface resistances that ISO 13788 sets for mould towards one environment: 0.25 m²·K/W
/// on opaque parts, 0.13 on glass and frames. Heat flow is worked out with ISO 6946's films, coldest spots with these.
pub fn for_coldest_spot(detail: &Detail, inside: usize) -> Detail {
    let mut other = detail.clone();
    if let Some(e) = other.environments.get_mut(inside) {
        e.surface_m2k_w = RSI_OPAQUE;
    }
    for region in &mut other.regions {
        region.films.retain(|(e, _)| *e != inside);
        if region.glazed {
            region.films.push((inside, RSI_GLAZING));
        }
    }
    other
}

/// Returns f_Rsi of the coldest inside spot, with the surface resistance of ISO 13788, and the solution it is read from.
///
/// # Errors
/// As [`solve`], and as [`Solution::temperature_factor`].
pub fn coldest_spot(
    detail: &Detail,
    inside: usize,
    outside: usize,
    accuracy: &Accuracy,
) -> Result<(f64, Solution), FabricError> {
    let solution = solve(&for_coldest_spot(detail, inside), accuracy)?;
    Ok((solution.temperature_factor(inside, outside)?, solution))
}

/// A joint worked out.
#[derive(Clone, Debug, PartialEq)]
pub struct Joint {
    /// L2D of what is drawn, W/(m·K), or L3D, W/K, between inside and outside.
    pub coupling: f64,
    /// Ψ, W/(m·K), by inside dimensions; χ, W/K, of a solid detail.
    pub inside: f64,
    /// The same by outside dimensions.
    pub outside: f64,
    /// f_Rsi of the coldest inside spot.
    pub factor: f64,
    /// Where that is, m.
    pub coldest_m: [f64; 3],
    /// Estimated error of Ψ or χ.
    pub error: f64,
    /// Cells of the finest grid of the heat flow.
    pub cells: usize,
    /// Residual of the balance, recomputed at the end.
    pub residual: f64,
    /// Whether the grid was refined until flow, Ψ and f_Rsi stood still as asked.
    pub settled: bool,
}

/// Works a template out: heat flow with its own films, the coldest spot with those of ISO 13788.
///
/// Inside is environment 0 and outside 1. With more, the coupling of this pair counts alone, and the others stand at
/// their own temperatures for the coldest spot, measured between 0 and 1.
///
/// # Errors
/// As [`solve`].
pub fn work_out(template: &Template, accuracy: &Accuracy) -> Result<Joint, FabricError> {
    let flow = solve(&template.detail, accuracy)?;
    let inside = extra_loss(&flow, 0, 1, &template.internal, &[])?.extra * template.times;
    let outside = extra_loss(&flow, 0, 1, &template.external, &[])?.extra * template.times;
    let (factor, cold) = coldest_spot(&template.detail, 0, 1, accuracy)?;
    Ok(Joint {
        coupling: flow.coupling[0][1],
        inside,
        outside,
        factor,
        coldest_m: cold.coldest[0].map_or([f64::NAN; 3], |c| c.at_m),
        error: flow.coupling_error * template.times,
        cells: flow.cells,
        residual: flow.effort.residual.max(cold.effort.residual),
        settled: flow.settled && cold.settled,
    })
}
