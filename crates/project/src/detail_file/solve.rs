//! A drawn detail worked out, in the shape that scripts read.

use super::Drawn;
use fabric::FabricError;
use fabric::detail::joint::{Plane, extra_loss, for_coldest_spot};
use fabric::detail::{Accuracy, Detail, Solution, cavity, solve as solved};
use serde::Serialize;
use std::collections::BTreeMap;

/// Wire format of [`Answer`].
pub const SCHEMA: &str = "windtight.detail/1";

/// Everything that came of a detail; SI units.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Answer {
    /// Wire format.
    pub schema: &'static str,
    /// Name of the detail.
    pub name: String,
    /// Plane section: coupling inside to outside, W/(m·K).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub l2d: Option<f64>,
    /// Solid detail: the same, W/K.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub l3d: Option<f64>,
    /// Ψ by outside dimensions, W/(m·K).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub psi_outside: Option<f64>,
    /// Ψ by inside dimensions, W/(m·K): the one that the building uses.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub psi_inside: Option<f64>,
    /// χ of a solid detail, W/K.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub chi: Option<f64>,
    /// Temperature factor of the coldest inside spot, with the films of ISO 13788.
    pub f_rsi: f64,
    /// That spot.
    pub coldest: Coldest,
    /// Heat from each environment into the detail, W/m (W in a solid one).
    pub flows: BTreeMap<String, f64>,
    /// Films of both solutions, temperatures.
    pub environments: Vec<Environments>,
    /// Coupling of each pair, W/(m·K) or W/K.
    pub couplings: Vec<Between>,
    /// Share of each environment in the temperature of the coldest spot; they sum to one.
    pub weights: BTreeMap<String, f64>,
    /// Conductivity found for each cavity, W/(m·K).
    pub cavities: BTreeMap<String, f64>,
    /// Estimated relative error of the whole flow, by the last halving of the cells.
    pub error_estimate: f64,
    /// Estimated error of Ψ or χ, W/(m·K) or W/K.
    pub error_of_extra: f64,
    /// Sum of all flows over the largest: what the balance leaves.
    pub balance: f64,
    /// Cells of the finest grid.
    pub cells: usize,
    /// ‖b − A x‖ / ‖b‖, recomputed at the end.
    pub residual: f64,
    /// Whether flow (1 %), Ψ (0.002) or χ (0.001), f_Rsi (0.005) stood still at the last halving.
    pub settled: bool,
}

/// The coldest inside spot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Coldest {
    /// Place, m.
    pub x: f64,
    /// Place, m.
    pub y: f64,
    /// Place, m.
    pub z: f64,
    /// Temperature, °C, at the environments' own.
    pub temperature: f64,
}

/// One environment.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Environments {
    /// Name.
    pub name: String,
    /// Temperature, °C.
    pub temperature: f64,
    /// Film of the heat flow, m²·K/W.
    pub film: f64,
    /// Film of the coldest spot, m²·K/W, on opaque parts.
    pub film_coldest: f64,
}

/// One pair.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Between {
    /// One.
    pub a: String,
    /// The other.
    pub b: String,
    /// Coupling, W/(m·K) or W/K.
    pub coupling: f64,
}

/// What comes of a detail: the answer, and the solution with the films of the coldest spot for heat lines.
pub struct Solved {
    /// The answer.
    pub answer: Answer,
    /// Temperatures.
    pub coldest: Solution,
}

/// Works a detail out: cavities first, then heat flow with the films as written, then the coldest spot with those of ISO
/// 13788.
///
/// # Errors
/// [`FabricError`], in a detail that reads well only for numbers too extreme to balance.
pub fn solve(drawn: &Drawn) -> Result<Solved, FabricError> {
    let accuracy = Accuracy {
        most_cells: 1_600_000,
        first_cells: if drawn.detail.plane { 3 } else { 1 },
        spot: Some(drawn.inside),
        ..Accuracy::of_joint(drawn.detail.plane)
    };
    let (detail, cavities) = cavity::settled(&drawn.detail, &drawn.cavities, &accuracy)?;
    let flow = solved(&detail, &accuracy)?;
    let cold_detail = for_coldest_spot(&detail, drawn.inside);
    let cold = solved(&cold_detail, &accuracy)?;
    let (i, o) = (drawn.inside, drawn.outside);
    let planes = |pick: fn(&super::NamedPlane) -> Option<Plane>| -> Option<Vec<Plane>> {
        if drawn.planes.is_empty() { None } else { drawn.planes.iter().map(pick).collect() }
    };
    let linear: Vec<(f64, f64)> = drawn.linear.iter().map(|(_, psi, length)| (*psi, *length)).collect();
    let extra = |planes: Option<Vec<Plane>>| -> Result<Option<f64>, FabricError> {
        planes.map(|p| extra_loss(&flow, i, o, &p, &linear).map(|e| e.extra)).transpose()
    };
    let (inside, outside) = (extra(planes(|p| p.inside))?, extra(planes(|p| p.outside))?);
    let plane = detail.plane;
    let spot = cold.coldest[i];
    let largest = flow.flows_w.iter().fold(0.0_f64, |m, q| m.max(q.abs()));
    let sum: f64 = flow.flows_w.iter().sum();
    let name = |e: usize| detail.environments[e].name.clone();
    let answer = Answer {
        schema: SCHEMA,
        name: drawn.name.clone(),
        l2d: plane.then_some(flow.coupling[i][o]),
        l3d: (!plane).then_some(flow.coupling[i][o]),
        psi_outside: outside.filter(|_| plane),
        psi_inside: inside.filter(|_| plane),
        chi: inside.or(outside).filter(|_| !plane),
        f_rsi: cold.temperature_factor(i, o)?,
        coldest: spot.map_or(Coldest { x: f64::NAN, y: f64::NAN, z: f64::NAN, temperature: f64::NAN }, |s| {
            Coldest { x: s.at_m[0], y: s.at_m[1], z: s.at_m[2], temperature: s.temperature_c }
        }),
        flows: flow.flows_w.iter().enumerate().map(|(e, q)| (name(e), *q)).collect(),
        environments: environments(&detail, &cold_detail),
        couplings: couplings(&detail, &flow),
        weights: weights(&detail, &cold, spot.map(|s| s.at_m))?,
        cavities: cavities.iter().map(|(n, k)| (detail.regions[*n].name.clone(), *k)).collect(),
        error_estimate: finite(flow.flow_error),
        error_of_extra: finite(flow.coupling_error),
        balance: if largest > 0.0 { sum.abs() / largest } else { 0.0 },
        cells: flow.cells,
        residual: flow.effort.residual.max(cold.effort.residual),
        settled: flow.settled && cold.settled,
    };
    Ok(Solved { answer, coldest: cold })
}

/// One grid alone leaves no estimate: the whole may be wrong.
fn finite(error: f64) -> f64 {
    if error.is_finite() { error } else { 1.0 }
}

fn environments(detail: &Detail, cold: &Detail) -> Vec<Environments> {
    let both = detail.environments.iter().zip(&cold.environments);
    both.map(|(e, c)| Environments {
        name: e.name.clone(),
        temperature: e.temperature_c,
        film: e.surface_m2k_w,
        film_coldest: c.surface_m2k_w,
    })
    .collect()
}

fn couplings(detail: &Detail, flow: &Solution) -> Vec<Between> {
    let mut all = Vec::new();
    for (a, first) in detail.environments.iter().enumerate() {
        for (b, second) in detail.environments.iter().enumerate().skip(a + 1) {
            let coupling = flow.coupling[a][b];
            all.push(Between { a: first.name.clone(), b: second.name.clone(), coupling });
        }
    }
    all
}

/// Temperature of the coldest spot with one environment at 1 and the others at 0 (ISO 10211, temperature weighting
/// factors), scaled to sum to one.
fn weights(
    detail: &Detail,
    cold: &Solution,
    at_m: Option<[f64; 3]>,
) -> Result<BTreeMap<String, f64>, FabricError> {
    let mut all = BTreeMap::new();
    let Some(at_m) = at_m else { return Ok(all) };
    let count = detail.environments.len();
    for (n, e) in detail.environments.iter().enumerate() {
        let unit: Vec<f64> = (0..count).map(|k| f64::from(u8::from(k == n))).collect();
        if let Some(t) = cold.at_temperatures(&unit)?.temperature_at(at_m) {
            all.insert(e.name.clone(), t);
        }
    }
    let sum: f64 = all.values().sum();
    for weight in all.values_mut().filter(|_| sum > 0.0) {
        *weight /= sum;
    }
    Ok(all)
}
