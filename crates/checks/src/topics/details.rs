//! Details beyond the standard's own cases: a round shape by its polygon, the order of convergence, the balance, a floor on
//! the ground by cells.

use super::iso10211::{Shared, air, air_box};
use crate::{Check, Compute, Kind, Tolerance};
use fabric::detail::{Accuracy, Body, Detail, Region, Solution, solve};
use fabric::ground::{FloorPlan, RSE_GROUND, RSI_FLOOR, Slab, Soil};
use std::f64::consts::PI;

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = shell();
    checks.extend([leaning(), order(), balance(), floor()]);
    checks
}

fn check(
    id: &str,
    quantity: &str,
    unit: &'static str,
    reference: f64,
    tolerance: Tolerance,
    kind: Kind,
    source: &str,
    compute: Compute,
) -> Check {
    Check {
        id: format!("details.{id}"),
        topic: "Details by cells",
        quantity: quantity.to_owned(),
        unit,
        reference,
        tolerance,
        kind,
        source: source.to_owned(),
        seen: false,
        known_gap: None,
        compute,
    }
}

/// A quarter of a circle as a polygon of the circle's own area.
fn quarter(name: &str, radius: f64, body: Body) -> Region {
    const SIDES: u32 = 120;
    let step = 0.5 * PI / f64::from(SIDES);
    let corner = radius * (step / step.sin()).sqrt();
    let mut corners = vec![[0.0, 0.0]];
    corners.extend((0..=SIDES).map(|k| {
        let angle = step * f64::from(k);
        [corner * angle.cos(), corner * angle.sin()]
    }));
    Region::polygon(name, corners, body)
}

/// Shells of one and of two solids between films, against the logarithm.
fn shell() -> Vec<Check> {
    let (r1, r2, r3) = (0.2, 0.35, 0.5);
    let cases = [("one", 0.5, 0.5), ("two", 0.1, 1.0)];
    cases
        .into_iter()
        .map(|(name, inner, outer)| {
            let regions = vec![
                air_box([0.0, 0.0], [0.6, 0.6], 1),
                quarter("outer", r3, Body::solid(outer)),
                quarter("inner", r2, Body::solid(inner)),
                quarter("inside", r1, Body::Environment(0)),
            ];
            let environments = vec![air("inside", 20.0, 0.13), air("outside", 0.0, 0.04)];
            let accuracy = Accuracy {
                flow: 2e-4,
                surface: 1.0,
                first_cells: 2,
                most_cells: 300_000,
                ..Accuracy::default()
            };
            let shared = Shared::new(accuracy, 0, Detail { plane: true, regions, environments });
            let resistance = 0.13 / r1 + (r2 / r1).ln() / inner + (r3 / r2).ln() / outer + 0.04 / r3;
            let mut shell = check(
                &format!("shell.{name}"),
                &format!("heat through a quarter of a cylinder of {name}, drawn as a polygon"),
                "W/m",
                0.5 * PI * 20.0 / resistance,
                // A tenth of what ISO 10211 asks of a flow for one solid; slopes between solids are first order.
                Tolerance::Relative(if name == "one" { 1e-3 } else { 5e-3 }),
                Kind::ClosedForm,
                "conduction through cylinder shells in series with films",
                shared.compute(|s| s.flows_w.first().copied()),
            );
            shell.known_gap = (name == "one").then_some(
                "0.12 % off where 0.1 % is asked: films on a surface that cuts cells at changing angles; finer cells within \
                 the cap do not lower it, so the area or the mixing of cut cells is suspected, not the stopping",
            );
            shell
        })
        .collect()
}

/// A slab at 30° between two airs, cut square, conducts as an upright one.
fn leaning() -> Check {
    let (c, s) = ((PI / 6.0).cos(), (PI / 6.0).sin());
    let at = |along: f64, up: f64| [along * c - up * s, along * s + up * c];
    let band = |low: f64, high: f64| vec![at(0.0, low), at(1.0, low), at(1.0, high), at(0.0, high)];
    let regions = vec![
        Region::rectangle("cut", [-1.0, -1.0], [1.5, 1.5], Body::Cut),
        Region::polygon("below", band(-0.2, 0.0), Body::Environment(0)),
        Region::polygon("above", band(0.3, 0.5), Body::Environment(1)),
        Region::polygon("slab", band(0.0, 0.3), Body::solid(0.5)),
    ];
    let environments = vec![air("below", 20.0, 0.10), air("above", 0.0, 0.04)];
    let accuracy =
        Accuracy { flow: 1e-3, surface: 1.0, first_cells: 8, most_cells: 200_000, ..Accuracy::default() };
    let shared = Shared::new(accuracy, 0, Detail { plane: true, regions, environments });
    check(
        "leaning",
        "heat through a slab at 30°, drawn as a polygon",
        "W/m",
        20.0 / (0.14 + 0.3 / 0.5),
        Tolerance::Relative(2e-3),
        Kind::ClosedForm,
        "resistances in series",
        shared.compute(|s| s.flows_w.first().copied()),
    )
}

/// A bar with films all round, where nothing is singular.
fn bar(hot_c: f64) -> Detail {
    Detail {
        plane: true,
        regions: vec![
            Region::rectangle("bar", [0.0, 0.0], [0.3, 0.2], Body::solid(1.0)),
            air_box([0.0, 0.2], [0.3, 0.3], 0),
            air_box([0.0, -0.1], [0.3, 0.0], 1),
            air_box([-0.1, -0.1], [0.0, 0.3], 2),
        ],
        environments: vec![air("hot", hot_c, 0.2), air("cold", 0.0, 0.2), air("cool", 5.0, 0.2)],
    }
}

/// The flow on the grid of a number of halvings.
fn flow_on(detail: &Detail, halvings: u32) -> Result<Solution, String> {
    let first = Accuracy {
        flow: 0.0,
        surface: 0.0,
        first_cells: 4,
        most_cells: 0,
        residual: 1e-13,
        ..Accuracy::default()
    };
    let cells = solve(detail, &first).map_err(|e| e.to_string())?.cells;
    let most_cells = cells * 4_usize.pow(halvings);
    solve(detail, &Accuracy { most_cells, ..first }).map_err(|e| e.to_string())
}

fn order() -> Check {
    check(
        "order",
        "order of convergence of a flow on halved cells",
        "",
        2.0,
        Tolerance::Absolute(0.2),
        Kind::ClosedForm,
        "central differences on a graded grid: second order",
        Box::new(|nudge| {
            let flow = |halvings: u32, hot: f64| Ok::<f64, String>(flow_on(&bar(hot), halvings)?.flows_w[0]);
            // The nudge warms the middle grid's environment alone.
            let (a, b, c) = (flow(1, 20.0)?, flow(2, 20.0 * nudge)?, flow(3, 20.0)?);
            Ok(((a - b) / (b - c)).abs().log2())
        }),
    )
}

fn balance() -> Check {
    check(
        "balance",
        "sum of all heat flows over the largest",
        "",
        0.0,
        Tolerance::Absolute(1e-8),
        Kind::ClosedForm,
        "what goes in comes out",
        Box::new(|nudge| {
            let s = flow_on(&bar(20.0), 2)?;
            // The nudge takes the inflow of another temperature against the outflow of this one.
            let other = s.at_temperatures(&[20.0 * nudge, 0.0, 5.0]).map_err(|e| e.to_string())?;
            let largest = s.flows_w.iter().fold(0.0_f64, |m, q| m.max(q.abs()));
            Ok((other.flows_w[0] + s.flows_w[1] + s.flows_w[2]) / largest)
        }),
    )
}

/// U of a floor on the ground by ISO 13370 against the same section by cells.
fn floor() -> Check {
    let (width, wall, soil, own) = (8.0, 0.3, 2.0, 1.0);
    let plan = FloorPlan { area_m2: 0.5 * width, perimeter_m: 1.0, wall_thickness_m: wall };
    let slab = Slab { plan, soil: Soil::SAND_OR_GRAVEL, floor_m2k_w: own, edge: None };
    let reference = slab.transfer().map_or(f64::NAN, |t| t.u_w_m2k);
    let half = 0.5 * width;
    let deep = 2.5 * width;
    let regions = vec![
        Region::rectangle("ground", [-deep, -deep], [half, 0.0], Body::solid(soil)),
        air_box([-deep, 0.0], [-wall, 0.1], 1),
        Region::rectangle("wall", [-wall, 0.0], [0.0, 0.1], Body::Cut),
        air_box([0.0, 0.0], [half, 0.1], 0),
    ];
    let environments = vec![air("room", 20.0, RSI_FLOOR + own), air("outdoors", 0.0, RSE_GROUND)];
    let accuracy = Accuracy { flow: 1e-3, surface: 1.0, ..Accuracy::default() };
    let shared = Shared::new(accuracy, 0, Detail { plane: true, regions, environments });
    check(
        "floor",
        "U of a slab on the ground 8 m wide, by cells",
        "W/(m²·K)",
        reference,
        // The standard's formula is a fit to such sections; no published bound of it is known to us.
        Tolerance::Relative(0.05),
        Kind::PublishedMemory,
        "ISO 13370:2007 clause 9.1 (formula from memory)",
        shared.compute(move |s| s.flows_w.first().map(|q| q / 20.0 / half)),
    )
}
