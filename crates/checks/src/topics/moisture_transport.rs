//! Heat and moisture in layers: benchmark problems, exact series, closed forms.
//!
//! One run feeds many checks: results are kept by nudge, and nudges too small to matter share the run as stated.

use crate::reference::Data;
use crate::{Check, Compute, Kind, Tolerance};
use matter::moist_air::saturation_pressure;
use moisture::drive::{Drive, SideState};
use moisture::material::{Description, Liquid, Storage, Vapour};
use moisture::transport::{Cells, Options, Resolution, Simulation, Start};
use moisture::vapour::{Diffusion, Saturation, iso13788_saturation_pa};
use moisture::wall::{Layer, Wall};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

const HALF_SPACE: &str = include_str!("../../../../reference/moisture/en15026_annex_a.toml");
const DRYING: &str = include_str!("../../../../reference/moisture/hamstad_2_isothermal_drying.toml");
const INSULATION: &str =
    include_str!("../../../../reference/moisture/hamstad_5_capillary_active_inside_insulation.toml");
const BASICS: &str = include_str!("../../../../reference/moisture/analytic_basics.toml");

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = half_space();
    checks.extend(drying_layer());
    checks.extend(inside_insulation());
    checks.extend(linear_step());
    checks.extend(closed_forms());
    checks
}

type Results = Result<Vec<f64>, String>;

/// A run whose results several checks share.
#[derive(Clone)]
struct Shared {
    case: Arc<dyn Fn(f64) -> Results + Send + Sync>,
    kept: Arc<Mutex<BTreeMap<u64, Results>>>,
}

impl Shared {
    fn new(case: impl Fn(f64) -> Results + Send + Sync + 'static) -> Self {
        Self { case: Arc::new(case), kept: Arc::default() }
    }

    /// Result number `index` of the run at a nudge.
    fn result(&self, index: usize) -> Compute {
        let shared = self.clone();
        Box::new(move |nudge| {
            // Below 2e-3 no check here could tell the difference from its tolerance.
            let nudge = if (nudge - 1.0).abs() < 2e-3 { 1.0 } else { nudge };
            let mut kept = shared.kept.lock().unwrap_or_else(PoisonError::into_inner);
            let results = kept.entry(nudge.to_bits()).or_insert_with(|| (shared.case)(nudge));
            let values = results.as_ref().map_err(Clone::clone)?;
            values.get(index).copied().ok_or_else(|| format!("the run has no result {index}"))
        })
    }
}

struct Row {
    id: String,
    quantity: String,
    unit: &'static str,
    reference: f64,
    tolerance: Tolerance,
    kind: Kind,
    source: &'static str,
}

/// The table a check stands in: one a case, and one a moment where a case has many.
fn table(id: &str) -> &'static str {
    const TABLES: [(&str, &str); 8] = [
        ("half-space.7d", "Wetting half-space, 7 days"),
        ("half-space.30d", "Wetting half-space, 30 days"),
        ("half-space.365d", "Wetting half-space, 365 days"),
        ("drying-layer", "Drying layer"),
        ("inside-insulation.10d", "Wet inside insulation, 10 days"),
        ("inside-insulation.30d", "Wet inside insulation, 30 days"),
        ("inside-insulation.60d", "Wet inside insulation, 60 days"),
        ("linear-step", "Linear moisture step"),
    ];
    TABLES.iter().find(|(start, _)| id.starts_with(start)).map_or("Moisture in layers", |(_, table)| table)
}

fn check(row: Row, compute: Compute) -> Check {
    Check {
        topic: table(&row.id),
        id: format!("moisture.{}", row.id),
        quantity: row.quantity,
        unit: row.unit,
        reference: row.reference,
        tolerance: row.tolerance,
        kind: row.kind,
        source: row.source.to_owned(),
        seen: false,
        known_gap: None,
        compute,
    }
}

fn text<E: std::fmt::Debug>(e: E) -> String {
    format!("{e:?}")
}

fn wall(layers: Vec<(Description, f64)>) -> Result<Wall, String> {
    let mut out = Vec::new();
    for (d, thickness_m) in layers {
        let material = Arc::new(d.prepare().map_err(text)?);
        out.push(Layer { name: d.name, thickness_m, material });
    }
    Ok(Wall::new(out))
}

/// Conventions of the benchmark files: their saturation formula and constant diffusivity of vapour in air.
fn options(temperature_tolerance_k: f64, water_tolerance_kg_m2: f64) -> Options {
    Options {
        saturation: Saturation::Iso13788,
        diffusion: Diffusion::Constant(26.1e-6),
        temperature_tolerance_k,
        water_tolerance_kg_m2,
        longest_step_s: 1e9,
        first_step_s: 1.0,
        ..Options::default()
    }
}

/// Value of a column of a profile (position, temperature, humidity, water) at a depth, straight between cells.
fn at(profile: &[[f64; 4]], x: f64, column: usize) -> f64 {
    let k = profile.partition_point(|p| p[0] < x).clamp(1, profile.len() - 1);
    let (a, b) = (profile[k - 1], profile[k]);
    a[column] + (x - a[0]) / (b[0] - a[0]) * (b[column] - a[column])
}

fn half_space() -> Vec<Check> {
    const SOURCE: &str =
        "problem of EN 15026:2007 annex A, definition from memory; similarity solution by another program";
    const DEPTHS: [f64; 5] = [0.005, 0.01, 0.02, 0.03, 0.05];
    const TEMPERATURE_DEPTHS: [f64; 3] = [0.5, 2.0, 4.0];
    let data = Data::read(HALF_SPACE);
    let days: Vec<f64> = data.list("expected").iter().map(|e| e.number("days")).collect();
    let run = days.clone();
    let shared = Shared::new(move |nudge| {
        let material = Description {
            name: "half-space".into(),
            density_kg_m3: 1824.0,
            specific_heat_j_kgk: 1000.0,
            conductivity_w_mk: 1.5,
            conductivity_rise: 0.0158,
            storage: Storage::Retention { saturation_kg_m3: 146.0, terms: vec![[1.0, 1.25e7, 1.6]] },
            vapour: Vapour::ClosingPores { factor: 200.0, p: 0.497 },
            liquid: Liquid::LogPolynomial {
                coefficients: vec![-39.2619, 0.0704, -1.7420e-4, -2.7953e-6, -1.1566e-7, 2.5969e-9],
                offset_kg_m3: 73.0,
                scale_kg_m3: 1.0,
            },
            redistribution: 1.0,
        };
        let wall = wall(vec![(material, 25.0)])?;
        let cells = Cells::one_sided(25.0, 2.5e-4, 260);
        let mut s = Simulation::new(&wall, &cells, options(0.02, 5e-5)).map_err(text)?;
        s.start(20.0 * nudge, &[Start::Humidity((0.5 * nudge).min(1.0))]).map_err(text)?;
        let t = 30.0 * nudge;
        let held = SideState::held(t, (0.95 * nudge).min(0.999) * iso13788_saturation_pa(t));
        let drive = Drive::steady(held, SideState::sealed());
        let mut out = Vec::new();
        for days in &run {
            s.run(&drive, days * 86_400.0 - s.time_s(), |_| {}).map_err(text)?;
            let p = s.profile(0);
            out.extend(DEPTHS.map(|x| at(&p, x, 3)));
            out.extend(TEMPERATURE_DEPTHS.map(|x| at(&p, x, 1)));
            out.push(s.crossed().inside_vapour_kg_m2);
        }
        Ok(out)
    });
    let mut checks = Vec::new();
    let mut index = 0;
    for (expected, days) in data.list("expected").iter().zip(&days) {
        let pick = |depths: &str, values: &str, x: f64| {
            let k = expected.numbers(depths).iter().position(|d| (d - x).abs() < 1e-9);
            k.map_or(f64::NAN, |k| expected.number(&format!("{values}.{k}")))
        };
        for x in DEPTHS {
            checks.push(check(
                Row {
                    id: format!("half-space.{days}d.water.{:.0}mm", 1000.0 * x),
                    quantity: format!("water {:.0} mm deep after {days} days", 1000.0 * x),
                    unit: "kg/m³",
                    reference: pick("moisture_depth_m", "w_kg_m3", x),
                    // The file's figure for a fine grid; 2.5 % is its figure for any.
                    tolerance: Tolerance::Absolute(0.3),
                    kind: Kind::OwnConverged,
                    source: SOURCE,
                },
                shared.result(index),
            ));
            index += 1;
        }
        for x in TEMPERATURE_DEPTHS {
            checks.push(check(
                Row {
                    id: format!("half-space.{days}d.temperature.{x}m"),
                    quantity: format!("temperature {x} m deep after {days} days"),
                    unit: "°C",
                    reference: pick("temperature_depth_m", "temperature_C", x),
                    tolerance: Tolerance::Absolute(0.1),
                    kind: Kind::OwnConverged,
                    source: SOURCE,
                },
                shared.result(index),
            ));
            index += 1;
        }
        checks.push(check(
            Row {
                id: format!("half-space.{days}d.uptake"),
                quantity: format!("water taken up in {days} days"),
                unit: "kg/m²",
                reference: expected.number("cumulative_moisture_uptake_kg_m2"),
                tolerance: Tolerance::Relative(0.01),
                kind: Kind::OwnConverged,
                source: SOURCE,
            },
            shared.result(index),
        ));
        index += 1;
    }
    checks
}

fn drying_layer() -> Vec<Check> {
    const SOURCE: &str = "drying-layer benchmark of 2002, definition from memory; exact Fourier series";
    const POINTS: [usize; 4] = [1, 3, 10, 18];
    let data = Data::read(DRYING);
    let hours: Vec<f64> = data.list("expected").iter().map(|e| e.number("hours")).collect();
    let run = hours.clone();
    let shared = Shared::new(move |nudge| {
        let material = Description {
            name: "layer".into(),
            density_kg_m3: 525.0,
            specific_heat_j_kgk: 800.0,
            conductivity_w_mk: 0.15,
            conductivity_rise: 0.0,
            storage: Storage::LogPower { saturation_kg_m3: 116.0, b: 0.118, c: 0.869 },
            vapour: Vapour::Factor(1e7),
            liquid: Liquid::Diffusivity(6e-10 * nudge),
            redistribution: 1.0,
        };
        let wall = wall(vec![(material, 0.2)])?;
        let cells = Cells { widths_m: vec![vec![0.002; 100]] };
        let mut s = Simulation::new(&wall, &cells, options(0.1, 1e-4)).map_err(text)?;
        s.start(20.0, &[Start::Humidity(0.95)]).map_err(text)?;
        let side = |h: f64| SideState::held(20.0, h * iso13788_saturation_pa(20.0));
        let drive = Drive::steady(side(0.45), side(0.65));
        let mut out = Vec::new();
        for h in &run {
            s.run(&drive, h * 3600.0 - s.time_s(), |_| {}).map_err(text)?;
            let p = s.profile(0);
            out.extend(POINTS.map(|k| at(&p, 0.01 * k as f64, 3)));
            out.push(s.layer_water_kg_m2(0));
        }
        Ok(out)
    });
    let mut checks = Vec::new();
    let mut index = 0;
    for (expected, h) in data.list("expected").iter().zip(&hours) {
        for k in POINTS {
            checks.push(check(
                Row {
                    id: format!("drying-layer.{h}h.{k}0mm"),
                    quantity: format!("water {k}0 mm deep after {h} h"),
                    unit: "kg/m³",
                    reference: expected.number(&format!("w_kg_m3.{k}")),
                    // A tenth of the file's figure for any program; steps of first order cost about this much.
                    tolerance: Tolerance::Absolute(0.1),
                    kind: Kind::ClosedForm,
                    source: SOURCE,
                },
                shared.result(index),
            ));
            index += 1;
        }
        checks.push(check(
            Row {
                id: format!("drying-layer.{h}h.total"),
                quantity: format!("water in the layer after {h} h"),
                unit: "kg/m²",
                reference: expected.number("total_moisture_kg_m2"),
                tolerance: Tolerance::Relative(0.002),
                kind: Kind::ClosedForm,
                source: SOURCE,
            },
            shared.result(index),
        ));
        index += 1;
    }
    checks
}

/// The materials of the inside-insulation problem, outside to inside, as the file has them.
fn insulation_layers(data: &Data) -> Vec<(Description, f64)> {
    data.list("layer")
        .iter()
        .map(|l| {
            let terms = (0..2)
                .map(|k| {
                    let number = |name: &str| l.number(&format!("{name}.{k}"));
                    [number("weights"), 9810.0 / number("a_per_m"), number("n")]
                })
                .collect();
            let material = Description {
                name: l.text("name"),
                density_kg_m3: l.number("rho"),
                specific_heat_j_kgk: l.number("c"),
                conductivity_w_mk: l.number("lambda0"),
                conductivity_rise: l.number("lambda_slope_per_w"),
                storage: Storage::Retention { saturation_kg_m3: l.number("w_sat"), terms },
                vapour: Vapour::ClosingPores { factor: l.number("mu_dry"), p: l.number("p") },
                liquid: Liquid::LogPolynomial {
                    coefficients: l.numbers("lnK_poly_in_w_over_1000"),
                    offset_kg_m3: 0.0,
                    scale_kg_m3: 1000.0,
                },
                redistribution: 1.0,
            };
            (material, l.number("thickness_m"))
        })
        .collect()
}

fn inside_insulation() -> Vec<Check> {
    const SOURCE: &str =
        "inside-insulation benchmark of 2002, definition from memory; converged by another program";
    /// Points of the file's list: brick middle, brick inside, mortar, insulation outside, middle, inside.
    const POINTS: [usize; 6] = [2, 8, 11, 13, 17, 21];
    const LAYERS: [&str; 3] = ["brick", "mortar", "insulation"];
    let data = Data::read(INSULATION);
    let days: Vec<f64> = data.list("expected").iter().map(|e| e.number("days")).collect();
    let (file, run) = (data.clone(), days.clone());
    let shared = Shared::new(move |nudge| {
        let mut layers = insulation_layers(&file);
        layers.reverse();
        let total: f64 = layers.iter().map(|l| l.1).sum();
        let edges = [0.0, layers[0].1, layers[0].1 + layers[1].1];
        let wall = wall(layers)?;
        let fine =
            Resolution { first_rain_m: 4e-4, first_m: 4e-4, first_dry_m: 4e-4, growth: 1.3, widest_m: 0.02 };
        let cells = Cells::graded(&wall, fine);
        let mut s = Simulation::new(&wall, &cells, options(0.2, 1e-3)).map_err(text)?;
        s.start(25.0, &[Start::Humidity((0.6 * nudge).min(1.0)); 3]).map_err(text)?;
        let p = |name: &str| file.number(&format!("problem.{name}"));
        let side = |which: &str, t: f64| {
            let h = p(&format!("{which}_rh")) * nudge;
            let films = (p(&format!("{which}_h_W_m2K")), p(&format!("{which}_beta_s_m")));
            SideState::air(t, h.min(1.0) * iso13788_saturation_pa(t), films.0, films.1)
        };
        let drive = Drive::steady(side("int", 20.0 * nudge), side("ext", 0.0));
        let mut out = Vec::new();
        for (d, expected) in run.iter().zip(file.list("expected")) {
            s.run(&drive, d * 86_400.0 - s.time_s(), |_| {}).map_err(text)?;
            let profiles: Vec<_> = (0..3).map(|k| s.profile(k)).collect();
            for k in POINTS {
                let x = total - expected.number(&format!("x_m.{k}"));
                let layer = edges.partition_point(|e| *e <= x) - 1;
                out.push(at(&profiles[layer], x - edges[layer], 2));
                out.push(at(&profiles[layer], x - edges[layer], 1));
            }
            out.extend((0..3).rev().map(|k| s.layer_water_kg_m2(k)));
        }
        Ok(out)
    });
    let mut checks = Vec::new();
    let mut index = 0;
    for (expected, d) in data.list("expected").iter().zip(&days) {
        for k in POINTS {
            let x = expected.number(&format!("x_m.{k}"));
            for (what, key, unit, tolerance) in [
                ("relative humidity", "rh", "1", data.number("tolerance.abs_rh")),
                ("temperature", "temperature_C", "°C", data.number("tolerance.abs_T_K")),
            ] {
                checks.push(check(
                    Row {
                        id: format!("inside-insulation.{d}d.{key}.{x}m"),
                        quantity: format!("{what} {:.1} mm from outside after {d} days", 1000.0 * x),
                        unit,
                        reference: expected.number(&format!("{key}.{k}")),
                        tolerance: Tolerance::Absolute(tolerance),
                        kind: Kind::OwnConverged,
                        source: SOURCE,
                    },
                    shared.result(index),
                ));
                index += 1;
            }
        }
        for (k, name) in LAYERS.iter().enumerate() {
            checks.push(check(
                Row {
                    id: format!("inside-insulation.{d}d.{name}"),
                    quantity: format!("water in the {name} after {d} days"),
                    unit: "kg/m²",
                    reference: expected.number(&format!("layer_moisture_kg_m2.{k}")),
                    tolerance: Tolerance::Relative(data.number("tolerance.rel_layer_moisture")),
                    kind: Kind::OwnConverged,
                    source: SOURCE,
                },
                shared.result(index),
            ));
            index += 1;
        }
    }
    checks
}

/// A material whose storage is straight in humidity, for closed forms.
fn linear(factor: f64) -> Description {
    let points = (1..=99).map(|k| [0.01 * f64::from(k), 0.8 * f64::from(k)]).collect();
    Description {
        name: "linear".into(),
        density_kg_m3: 1000.0,
        specific_heat_j_kgk: 5000.0,
        conductivity_w_mk: 100.0,
        conductivity_rise: 0.0,
        storage: Storage::Sorption { points, saturation_kg_m3: 80.0 },
        vapour: Vapour::Factor(factor),
        liquid: Liquid::None,
        redistribution: 1.0,
    }
}

fn linear_step() -> Vec<Check> {
    const SOURCE: &str = "erfc solution of linear diffusion, evaluated exactly";
    let data = Data::read(BASICS);
    let cases = data.list("semi_infinite_step.case");
    let x = data.numbers("semi_infinite_step.x_m");
    let (hours, depths) = (cases.iter().map(|c| c.number("hours")).collect::<Vec<_>>(), x.clone());
    let shared = Shared::new(move |nudge| {
        let wall = wall(vec![(linear(10.0), 0.6)])?;
        let cells = Cells::one_sided(0.6, 3e-4, 140);
        let o = Options { diffusion: Diffusion::Permeability(2e-10 * nudge), ..options(1.0, 5e-5) };
        let mut s = Simulation::new(&wall, &cells, o).map_err(text)?;
        s.start(20.0, &[Start::Humidity(0.5)]).map_err(text)?;
        let held = SideState::held(20.0, 0.9 * iso13788_saturation_pa(20.0));
        let drive = Drive::steady(held, SideState::sealed());
        let mut out = Vec::new();
        for h in &hours {
            s.run(&drive, h * 3600.0 - s.time_s(), |_| {}).map_err(text)?;
            let p = s.profile(0);
            out.extend(depths.iter().map(|x| at(&p, *x, 2)));
            out.push(s.crossed().inside_vapour_kg_m2);
        }
        Ok(out)
    });
    let mut checks = Vec::new();
    for (c, case) in cases.iter().enumerate() {
        let h = case.number("hours");
        for (k, depth) in x.iter().enumerate() {
            let reference = case.number(&format!("rh.{k}"));
            // Where the step has not arrived no input can move the result.
            if reference < 0.52 {
                continue;
            }
            checks.push(check(
                Row {
                    id: format!("linear-step.{h}h.{:.0}mm", 1000.0 * depth),
                    quantity: format!("relative humidity {:.0} mm deep after {h} h", 1000.0 * depth),
                    unit: "1",
                    reference,
                    tolerance: Tolerance::Absolute(data.number("tolerance.abs_rh")),
                    kind: Kind::ClosedForm,
                    source: SOURCE,
                },
                shared.result(c * (x.len() + 1) + k),
            ));
        }
        checks.push(check(
            Row {
                id: format!("linear-step.{h}h.uptake"),
                quantity: format!("water taken up in {h} h"),
                unit: "kg/m²",
                reference: case.number("uptake_kg_m2"),
                tolerance: Tolerance::Relative(data.number("tolerance.rel_uptake")),
                kind: Kind::ClosedForm,
                source: SOURCE,
            },
            shared.result(c * (x.len() + 1) + x.len()),
        ));
    }
    checks
}

/// Steady diffusion through layers, absorption by the root of time, heat alone in a dry wall.
fn closed_forms() -> Vec<Check> {
    let steady: Compute = Box::new(|nudge| {
        let wall = wall(vec![(linear(10.0), 0.02), (linear(50.0 * nudge), 0.05), (linear(2.0), 0.1)])?;
        let o = Options { diffusion: Diffusion::Permeability(2e-10), ..options(1.0, 0.02) };
        let mut s = Simulation::new(&wall, &Cells::graded(&wall, Resolution::default()), o).map_err(text)?;
        s.start(20.0, &[Start::Humidity(0.45); 3]).map_err(text)?;
        let side = |pv: f64, film: f64| SideState::air(20.0, pv, 10.0, film);
        let drive = Drive::steady(side(1400.0, 2.5e-8), side(600.0, 7.5e-8));
        s.run(&drive, 4e9, |_| {}).map_err(text)?;
        let before = s.crossed().inside_vapour_kg_m2;
        s.run(&drive, 1e6, |_| {}).map_err(text)?;
        Ok((s.crossed().inside_vapour_kg_m2 - before) * 1000.0)
    });
    let resistance = 1.0 / 2.5e-8 + (0.2 + 2.5 + 0.2) / 2e-10 + 1.0 / 7.5e-8;
    let soak: Compute = Box::new(|nudge| absorbed(0.1 * nudge));
    let dry: Compute = Box::new(dry_step);
    let layers = [fabric::transient::ConductionLayer::solid(0.2, 0.7, 1650.0, 840.0)];
    let exact =
        fabric::periodic::step_response(&layers, 1.0 / 7.7, 0.04, fabric::periodic::Side::Outside, 7200.0);
    let row = |id: &str, quantity: &str, unit, reference, tolerance, source| Row {
        id: id.to_owned(),
        quantity: quantity.to_owned(),
        unit,
        reference,
        tolerance,
        kind: Kind::ClosedForm,
        source,
    };
    vec![
        check(
            row(
                "steady.three-layers",
                "steady vapour through three layers and two films in 1e6 s",
                "g/m²",
                800.0 / resistance * 1e9,
                Tolerance::Relative(1e-5),
                "resistances in series",
            ),
            steady,
        ),
        check(
            row(
                "absorption.one-hour",
                "water soaked up by dry brick in an hour, coefficient 0.1 kg/(m²·s^0.5)",
                "kg/m²",
                6.0,
                Tolerance::Relative(0.02),
                "A √t, the law by which the coefficient is defined (ISO 15148)",
            ),
            soak,
        ),
        check(
            row(
                "dry-limit.two-hours",
                "outside face of a dry wall two hours after a step of 10 K",
                "°C",
                exact.map_or(f64::NAN, |r| 20.0 - 10.0 * r.outside_surface),
                Tolerance::Absolute(0.02),
                "exact response to heat alone, from layer matrices",
            ),
            dry,
        ),
    ]
}

fn brick(coefficient: f64) -> Description {
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
        liquid: if coefficient > 0.0 {
            Liquid::Absorption { coefficient_kg_m2s05: coefficient }
        } else {
            Liquid::None
        },
        redistribution: 1.0,
    }
}

fn absorbed(coefficient: f64) -> Result<f64, String> {
    let wall = wall(vec![(brick(coefficient), 0.3)])?;
    let mut cells = Cells::one_sided(0.3, 5e-4, 80);
    cells.widths_m[0].reverse();
    let o = Options { first_step_s: 0.01, ..options(5.0, 0.005) };
    let mut s = Simulation::new(&wall, &cells, o).map_err(text)?;
    s.start(20.0, &[Start::Humidity(0.3)]).map_err(text)?;
    let mut rain = SideState::air(20.0, saturation_pressure(20.0), 10.0, 0.0);
    rain.rain_kg_m2s = 0.05;
    let before = s.layer_water_kg_m2(0);
    s.run(&Drive::steady(SideState::sealed(), rain), 3600.0, |_| {}).map_err(text)?;
    Ok(s.layer_water_kg_m2(0) - before)
}

fn dry_step(nudge: f64) -> Result<f64, String> {
    let mut material = brick(0.0);
    material.conductivity_w_mk *= nudge;
    let wall = wall(vec![(material, 0.2)])?;
    let cells = Cells { widths_m: vec![vec![0.0025; 80]] };
    let o = Options { first_step_s: 0.1, ..options(2e-3, 1.0) };
    let mut s = Simulation::new(&wall, &cells, o).map_err(text)?;
    s.start(20.0, &[Start::Humidity(1e-6)]).map_err(text)?;
    let drive = Drive::steady(SideState::air(20.0, 1e-9, 7.7, 0.0), SideState::air(10.0, 1e-9, 25.0, 0.0));
    s.run(&drive, 7200.0, |_| {}).map_err(text)?;
    Ok(s.interface(1).temperature_c)
}
