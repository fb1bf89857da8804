//! Chances that mould stays below its limits: a case run for many draws of what is uncertain about it.
//!
//! Drawn are the stated values of the case's layers (thickness, conductivity, density, heat, vapour, absorption), the
//! outside colours, and the driving rain with its own spread. Not drawn: the air of the rooms, workmanship, what rows of the
//! library do not state, the mould model itself; so the chance speaks of materials and rain alone.
//!
//! Draws run on the spin-up's grid, [`YEARS`] years from the nominal wall's repeating state; how far the nominal index on that
//! grid is from the fine one is told.

use building::model::{Assembly, LayerKind};
use building::{Building, Resolved, ValueKey};
use climate::Climate;
use moisture::judge::Rain;
use moisture::transport::Simulation;
use moisture::{MoistureError, thresholds};
use numeric::beta::proportion_interval;
use numeric::sobol::Stream;
use rayon::prelude::*;

use super::cases::Case;
use super::report::{Chance, YearVerdict};
use super::run::{self, YEAR_S};
use super::{RainLaw, Scene, tell};
use crate::error::YearError;

/// Cases whose chances are run: the worst.
pub const CHANCE_CASES: usize = 3;
/// Draws of each.
const SAMPLES: usize = 96;
/// Years of each draw; the last is judged.
const YEARS: usize = 3;
const SEED: u64 = 5;
/// Width of the interval told.
const LEVEL: f64 = 0.90;

/// Runs the chances of the cases named; a case that cannot be run is left out.
///
/// # Errors
/// [`YearError`] when the building's own year cannot be run.
pub fn chances(
    building: &Building,
    climate: &Climate,
    ids: &[String],
) -> Result<Vec<(String, Chance)>, YearError> {
    let nominal = building.values.nominal();
    let scene = Scene::new(building, climate, &nominal)?;
    let found: Vec<Option<(String, Chance)>> = scene
        .cases
        .par_iter()
        .map(|case| {
            let id = scene.id(case);
            if !ids.contains(&id) {
                return None;
            }
            one(&scene, case).ok().flatten().map(|chance| (id, chance))
        })
        .collect();
    Ok(found.into_iter().flatten().collect())
}

/// `None` for a case without rain that needs it: there is nothing to give a chance of.
fn one(scene: &Scene<'_>, case: &Case) -> Result<Option<Chance>, Vec<MoistureError>> {
    let Ok(built) = scene.built(case) else { return Ok(None) };
    let (rain, sums) = scene.rain(case);
    if rain == Rain::Unknown && !built.masonry.is_empty() {
        return Ok(None);
    }
    let law = sums.map_or(RainLaw::Ashrae160, |s| s.wetter());
    let spread = sums.map_or(0.0, |s| s.spread);
    let drive = scene.faces().drive(case, &built, law, false).map_err(|e| vec![e])?;
    let (settled, ..) = run::spin_up(&built.wall, &drive)?;
    let assembly = &scene.building.assemblies[case.assembly.0];
    let keys = keys(scene.building, assembly);
    let stream = Stream::new(SEED);
    let indices: Vec<Option<(f64, bool)>> = (0..=SAMPLES)
        .into_par_iter()
        .map(|draw| {
            // The last one is the nominal wall on this grid.
            let point = (draw < SAMPLES).then_some(draw as u64);
            sample(scene, case, &settled, &keys, (&stream, point), (law, spread, rain))
        })
        .collect();
    let drawn: Vec<(f64, bool)> = indices[..SAMPLES].iter().flatten().copied().collect();
    let met = drawn.iter().filter(|(_, met)| *met).count();
    let n = drawn.len();
    if n == 0 {
        return Ok(None);
    }
    let (low, high) = proportion_interval(met as u64, n as u64, LEVEL).unwrap_or((0.0, 1.0));
    let coarse = indices[SAMPLES]
        .map_or_else(String::new, |(index, _)| format!(" (stated values on this grid: {index:.1})"));
    let lost = if n < SAMPLES { format!(" {} draws found no solution.", SAMPLES - n) } else { String::new() };
    let p = met as f64 / n as f64;
    Ok(Some(Chance {
        samples: n,
        met,
        p,
        interval: [low, high],
        sentence: format!(
            "Mould stays below its limits in {met} of {n} draws of materials and rain: {:.0} in 100, 90 % interval {:.0} to \
             {:.0}{coarse}.{lost}",
            100.0 * p,
            100.0 * low,
            100.0 * high
        ),
    }))
}

/// Highest mould index anywhere in it, and whether every surface stays below its limit.
fn sample(
    scene: &Scene<'_>,
    case: &Case,
    settled: &Simulation,
    keys: &[ValueKey],
    (stream, point): (&Stream, Option<u64>),
    (law, spread, rain): (RainLaw, f64, Rain),
) -> Option<(f64, bool)> {
    let mut r: Resolved = scene.r.clone();
    let mut wetter = 1.0;
    if let Some(index) = point {
        for (dimension, key) in keys.iter().enumerate() {
            let u = stream.at(index, dimension as u32 + 1).clamp(1e-6, 1.0 - 1e-6);
            let drawn = scene.building.values.get(*key).distribution.quantile(u);
            if drawn.is_finite() && drawn > 0.0 {
                r.0[key.0 as usize] = drawn;
            }
        }
        // Half-widths of 95 % as a lognormal factor.
        let z = numeric::normal::quantile(stream.at(index, 0).clamp(1e-6, 1.0 - 1e-6));
        wetter = numeric::exp(z * numeric::ln(1.0 + spread) / 1.96);
    }
    let drawn = Scene { r: &r, ..scene.shallow() };
    let built = drawn.built(case).ok()?;
    let mut drive = drawn.faces().drive(case, &built, law, false).ok()?;
    drive.outside.iter_mut().for_each(|s| s.rain_kg_m2s *= wetter);
    let mut s = run::coarse(&built.wall).ok()?;
    s.continue_from(settled).ok()?;
    s.run(&run::averaged(&drive, 3), (YEARS - 1) as f64 * YEAR_S, |_| {}).ok()?;
    let trace = s.record_on(&drive, YEAR_S).ok()?;
    let verdict = tell::verdict(&built, &trace, None, rain, false);
    Some(mould(&verdict))
}

fn mould(verdict: &YearVerdict) -> (f64, bool) {
    let limits = [thresholds::MOULD_VISIBLE.id, thresholds::MOULD_HIDDEN.id];
    let of_mould = verdict.points.iter().filter(|p| limits.contains(&p.limit.as_str()));
    of_mould.fold((0.0, true), |(worst, met), p| {
        let index = p.value.unwrap_or(0.0);
        (f64::max(worst, index), met && index <= p.threshold)
    })
}

/// Stated values that a case's wall depends on, each once, in the order of its layers.
fn keys(building: &Building, assembly: &Assembly) -> Vec<ValueKey> {
    let mut out: Vec<ValueKey> = Vec::new();
    let mut add = |key: Option<ValueKey>| {
        if let Some(key) = key.filter(|k| !out.contains(k)) {
            out.push(key);
        }
    };
    for layer in &assembly.layers {
        add(Some(layer.thickness));
        if let LayerKind::Solid(id) = layer.kind {
            let m = &building.materials[id.0];
            for key in [Some(m.conductivity), Some(m.density), Some(m.specific_heat)] {
                add(key);
            }
            for key in [m.vapour_factor_dry, m.vapour_factor_wet, m.absorption] {
                add(key);
            }
        }
    }
    let s = &building.surfaces;
    for key in [s.wall_absorptance, s.roof_absorptance, s.wall_emissivity, s.roof_emissivity] {
        add(Some(key));
    }
    out
}
