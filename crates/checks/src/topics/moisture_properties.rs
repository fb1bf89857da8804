//! Properties that moisture in layers must have whatever its materials: water from nowhere, symmetry, order.

use crate::{Check, Compute, Kind, Tolerance};
use moisture::drive::{Drive, SideState};
use moisture::material::{Description, Liquid, Storage, Vapour};
use moisture::transport::{Cells, Options, Resolution, Simulation, Start};
use moisture::wall::{Layer, Wall};
use std::sync::Arc;

const DAY_S: f64 = 86_400.0;

pub(crate) fn checks() -> Vec<Check> {
    // The water a wet brick holds before anything happens; the check begins with a nudged amount of it.
    let start = brick_start(1.0).map_or(f64::NAN, |s| s.water_kg_m2());
    vec![
        check(
            "water-from-nowhere",
            "water in a drying brick after ten days of rain and sun, less what crossed its faces",
            "kg/m²",
            (start, Tolerance::Relative(1e-8)),
            Box::new(balance),
        ),
        check(
            "symmetry",
            "difference of relative humidity between the faces of a symmetric wall between equal airs",
            "",
            (0.0, Tolerance::Absolute(1e-8)),
            Box::new(asymmetry),
        ),
        check(
            "order-in-space",
            "order of convergence when cells are halved",
            "",
            (2.0, Tolerance::Absolute(0.3)),
            Box::new(|nudge| order(nudge, Refined::Space)),
        ),
        check(
            "order-in-time",
            "order of convergence when steps are halved",
            "",
            (1.0, Tolerance::Absolute(0.15)),
            Box::new(|nudge| order(nudge, Refined::Time)),
        ),
    ]
}

fn check(
    id: &str,
    quantity: &str,
    unit: &'static str,
    (reference, tolerance): (f64, Tolerance),
    compute: Compute,
) -> Check {
    Check {
        id: format!("moisture.{id}"),
        topic: "Moisture in layers: properties",
        quantity: quantity.to_owned(),
        unit,
        reference,
        tolerance,
        kind: Kind::ClosedForm,
        source: "conservation, symmetry, and the order of the scheme (finite volumes: 2; backward Euler: 1)"
            .to_owned(),
        seen: false,
        known_gap: None,
        compute,
    }
}

fn text<E: std::fmt::Debug>(e: E) -> String {
    format!("{e:?}")
}

fn brick() -> Description {
    Description {
        name: "brick".into(),
        density_kg_m3: 1650.0,
        specific_heat_j_kgk: 840.0,
        conductivity_w_mk: 0.7,
        conductivity_rise: 0.007,
        storage: Storage::Sorption {
            points: vec![[0.5, 2.5], [0.8, 6.0], [0.93, 12.0], [0.97, 20.0]],
            saturation_kg_m3: 230.0,
        },
        vapour: Vapour::Factor(16.0),
        liquid: Liquid::Absorption { coefficient_kg_m2s05: 0.1 },
        redistribution: 0.3,
    }
}

fn board() -> Description {
    Description {
        name: "board".into(),
        density_kg_m3: 500.0,
        specific_heat_j_kgk: 1600.0,
        conductivity_w_mk: 0.13,
        conductivity_rise: 0.0,
        storage: Storage::LogPower { saturation_kg_m3: 300.0, b: 0.2, c: 0.9 },
        vapour: Vapour::Factor(10.0),
        liquid: Liquid::None,
        redistribution: 1.0,
    }
}

fn wall(layers: &[(Description, f64)]) -> Result<Wall, String> {
    let mut out = Vec::new();
    for (d, thickness_m) in layers {
        let material = Arc::new(d.prepare().map_err(text)?);
        out.push(Layer { name: d.name.clone(), thickness_m: *thickness_m, material });
    }
    Ok(Wall::new(out))
}

fn brick_start(nudge: f64) -> Result<Simulation, String> {
    let wall = wall(&[(brick(), 0.1)])?;
    let mut s = Simulation::new(&wall, &Cells::graded(&wall, Resolution::default()), Options::default())
        .map_err(text)?;
    s.start(10.0, &[Start::Water(100.0 * nudge)]).map_err(text)?;
    Ok(s)
}

/// Ten days, rain on the first two; what is in the wall less what came in.
fn balance(nudge: f64) -> Result<f64, String> {
    let mut s = brick_start(nudge)?;
    let inside = SideState::air(20.0, 1000.0, 8.0, 2e-8);
    let outside = |day: usize| {
        let mut side = SideState::air(8.0, 800.0, 20.0, 1e-7);
        side.absorbed_w_m2 = if day >= 2 { 120.0 } else { 0.0 };
        side.rain_kg_m2s = if day < 2 { 5e-5 } else { 0.0 };
        side
    };
    let drive = Drive::new(DAY_S, vec![inside; 10], (0..10).map(outside).collect());
    s.run(&drive, 10.0 * DAY_S, |_| {}).map_err(text)?;
    Ok(s.water_kg_m2() - s.crossed().water_kg_m2())
}

fn asymmetry(nudge: f64) -> Result<f64, String> {
    let wall = wall(&[(board(), 0.01), (brick(), 0.1), (board(), 0.01)])?;
    let mut s = Simulation::new(&wall, &Cells::graded(&wall, Resolution::default()), Options::default())
        .map_err(text)?;
    s.start(5.0, &[Start::Humidity(0.5), Start::Water(150.0), Start::Humidity(0.5)]).map_err(text)?;
    let side = |pa: f64| SideState::air(20.0, pa, 8.0, 3e-8);
    s.run(&Drive::steady(side(1000.0 * nudge), side(1000.0)), 5.0 * DAY_S, |_| {}).map_err(text)?;
    Ok(s.interface(0).humidity - s.interface(3).humidity)
}

#[derive(Clone, Copy)]
enum Refined {
    Space,
    Time,
}

/// Order read from three runs, each twice as fine as the one before; the nudge stretches the middle one's wall.
fn order(nudge: f64, refined: Refined) -> Result<f64, String> {
    let run = |cells: usize, step_s: f64, thickness_m: f64| -> Result<f64, String> {
        let wall = wall(&[(board(), thickness_m)])?;
        let widths = Cells { widths_m: vec![vec![thickness_m / cells as f64; cells]] };
        let options = Options {
            temperature_tolerance_k: 100.0,
            water_tolerance_kg_m2: 100.0,
            first_step_s: step_s,
            longest_step_s: step_s,
            ..Options::default()
        };
        let mut s = Simulation::new(&wall, &widths, options).map_err(text)?;
        s.start(20.0, &[Start::Humidity(0.5)]).map_err(text)?;
        let drive =
            Drive::steady(SideState::air(20.0, 1800.0, 8.0, 3e-8), SideState::air(10.0, 900.0, 20.0, 8e-8));
        s.run(&drive, 10.0 * DAY_S, |_| {}).map_err(text)?;
        Ok(s.layer_water_kg_m2(0))
    };
    let d = 0.04;
    let [a, b, c] = match refined {
        Refined::Space => [run(8, 7200.0, d)?, run(16, 7200.0, d * nudge)?, run(32, 7200.0, d)?],
        Refined::Time => [run(16, 14_400.0, d)?, run(16, 7_200.0, d * nudge)?, run(16, 3_600.0, d)?],
    };
    Ok(numeric::ln(((a - b) / (b - c)).abs()) / numeric::ln(2.0))
}
