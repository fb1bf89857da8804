//! Moisture buffering of inside surfaces by effective penetration depth, against the exact periodic uptake of a
//! semi-infinite material behind a surface resistance.

use crate::{Check, Compute, Kind, Tolerance};
use numeric::scalar::{atan2, cos, sin};
use std::f64::consts::TAU;
use year::kernel;
use year::kernel::input::{AirMode, Buffer, Drivers, Model, Options, Zone};

/// A material as vapour sees it: permeability kg/(m·s·Pa), sorption slope kg/m³ per unit of relative humidity.
const MATERIALS: [(&str, f64, f64); 3] =
    [("gypsum board", 2.5e-11, 8.0), ("softwood", 4.0e-12, 70.0), ("clay plaster", 2.0e-11, 40.0)];
/// Vapour transfer coefficient of the surface, kg/(m²·s·Pa).
const SURFACE: f64 = 2.5e-8;
const AREA_M2: f64 = 60.0;
const AIR_C: f64 = 20.0;
const DAY_H: f64 = 24.0;

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = Vec::new();
    for (name, permeability, slope) in MATERIALS {
        let exact = exact(permeability, slope);
        let mut add = |what: &str, unit, reference, tolerance, pick: fn((f64, f64)) -> f64| {
            checks.push(Check {
                id: format!("buffering.{}.{what}", name.replace(' ', "-")),
                topic: "Moisture buffering",
                quantity: format!("daily vapour uptake of {name}: {what}"),
                unit,
                reference,
                tolerance,
                kind: Kind::ClosedForm,
                source: "periodic diffusion into a semi-infinite solid behind a surface resistance"
                    .to_owned(),
                seen: false,
                known_gap: None,
                compute: Box::new(move |nudge| {
                    let at = |steps| simulated(permeability * nudge, slope, steps);
                    // The step's error falls at first order: two steps, extrapolated.
                    let ((a, p), (b, q)) = (at(8)?, at(16)?);
                    Ok(pick((2.0 * b - a, 2.0 * q - p)))
                }) as Compute,
            });
        };
        add("size", "kg/(h·kPa)", exact.0, Tolerance::Relative(2e-3), |y| y.0);
        add("lead", "h", exact.1, Tolerance::Absolute(0.02), |y| y.1);
    }
    checks
}

/// Saturation pressure the kernel uses at 20 °C, Pa.
fn saturation() -> f64 {
    611.2 * numeric::exp(17.62 * AIR_C / (243.12 + AIR_C))
}

/// Uptake per vapour pressure of the room: size in kg/(h·kPa) and lead in hours.
///
/// `1/Y = 1/β + e^(−iπ/4) / (b √ω)`, b = √(δ w' / p_sat).
fn exact(permeability: f64, slope: f64) -> (f64, f64) {
    let omega = TAU / (DAY_H * 3600.0);
    let effusivity = (permeability * slope / saturation()).sqrt();
    let solid = 1.0 / (effusivity * omega.sqrt());
    let half = std::f64::consts::FRAC_1_SQRT_2;
    let (re, im) = (1.0 / SURFACE + half * solid, -half * solid);
    let size = AREA_M2 / (re * re + im * im).sqrt();
    (size * 3600.0 * 1000.0, atan2(-im, re) / TAU * DAY_H)
}

/// The same from a simulated room whose supply air swings by the day: what the air brings less what it takes is what
/// the surfaces take up.
fn simulated(permeability: f64, slope: f64, steps_per_hour: usize) -> Result<(f64, f64), String> {
    let hours = 24 * 30;
    let mut d = Drivers::constant(1, hours, steps_per_hour, AIR_C, 0.0);
    let step_h = 1.0 / steps_per_hour as f64;
    let turn = |step: usize| TAU * (step as f64 + 0.5) * step_h / DAY_H;
    for step in 0..d.steps() {
        d.outdoor_kg_kg[step] = 0.007 + 0.001 * sin(turn(step));
    }
    let buffer =
        Buffer::effective_penetration(AREA_M2, slope, permeability, SURFACE, DAY_H * 3600.0, saturation());
    let mut model = Model::of_zones(vec![Zone { buffers: vec![buffer], ..Zone::of_air(50.0, 60e3) }]);
    let flow = 50.0 / 3600.0;
    model.air_modes[0] = AirMode { supply_m3_s: vec![flow], extract_m3_s: vec![flow], ..AirMode::default() };
    model.initial_c = AIR_C;
    model.initial_kg_kg = 0.007;
    let options = Options { warm_up_days: 0, co2: false, trace: true, ..Options::default() };
    let trace = kernel::run(&d, &model, &options).map_err(|e| e.to_string())?.trace.ok_or("no trace")?;
    let count = 24 * steps_per_hour;
    let from = trace.kg_kg.len() - count;
    // Uptake of a step: supply less extract less what the air stored.
    let density = model.air_density_kg_m3;
    let uptake = |step: usize| {
        let stored = 50.0 * (trace.kg_kg[step] - trace.kg_kg[step - 1]) / d.step_s();
        density * (flow * (d.outdoor_kg_kg[step] - trace.kg_kg[step]) - stored)
    };
    let phasor = |of: &dyn Fn(usize) -> f64| {
        let (mut re, mut im) = (0.0, 0.0);
        for step in from..from + count {
            re += of(step) * sin(turn(step));
            im += of(step) * cos(turn(step));
        }
        (re, im)
    };
    let factor_pa = d.pressure_pa / 0.63;
    let (ur, ui) = phasor(&uptake);
    let (pr, pi) = phasor(&|step| trace.kg_kg[step] * factor_pa);
    let norm = pr * pr + pi * pi;
    let (re, im) = ((ur * pr + ui * pi) / norm, (ui * pr - ur * pi) / norm);
    Ok(((re * re + im * im).sqrt() * 3600.0 * 1000.0, atan2(im, re) / TAU * DAY_H))
}
