//! The flow network: cases with a closed form, and small networks solved densely by an independent library.

use crate::reference::Data;
use crate::{Check, Compute, Kind, Tolerance};
use air::network::{GRAVITY_M_S2, Law, Link, Node, Solution, solve};
use numeric::pow;

const NETWORKS: &str = include_str!("../../../../reference/air/flow_networks.toml");
const DENSITY: f64 = 1.2;

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = closed_forms();
    for network in Data::read(NETWORKS).list("network") {
        let rooms = network.numbers("pressures_pa");
        for (room, &pressure) in rooms.iter().enumerate() {
            let n = network.clone();
            checks.push(dense(
                &network,
                &format!("room-{room}"),
                "pressure of a room",
                "Pa",
                pressure,
                1e-7,
                move |nudge| Ok(solved(&n, nudge)?.pressures_pa[2 + room]),
            ));
        }
        let n = network.clone();
        let gross: f64 = network.numbers("flows_kg_s").iter().map(|f| f.abs()).sum();
        checks.push(dense(
            &network,
            "flows",
            "sum of all flows without their sign",
            "kg/s",
            gross,
            1e-9,
            move |nudge| Ok(solved(&n, nudge)?.flows_kg_s.iter().map(|f| f.abs()).sum()),
        ));
    }
    checks
}

/// Solves a listed network; the nudge scales the wind.
fn solved(network: &Data, nudge: f64) -> Result<Solution, String> {
    let known = network.numbers("known_pa");
    let nodes: Vec<Node> = network
        .numbers("density_kg_m3")
        .into_iter()
        .enumerate()
        .map(|(i, density_kg_m3)| Node { pressure_pa: known.get(i).map(|p| p * nudge), density_kg_m3 })
        .collect();
    let links = network
        .list("links")
        .iter()
        .map(|row| {
            let x = |i: usize| row.number(&i.to_string());
            let law = match x(3) as i64 {
                0 => Law::Leak { coefficient: x(4), exponent: x(5) },
                1 => Law::Opening { area_m2: x(4), discharge: x(5) },
                _ => Law::Fan { flow_kg_s: x(4) },
            };
            Link { from: x(0) as usize, to: x(1) as usize, height_m: x(2), law }
        })
        .collect();
    solve(&nodes, links).map_err(|e| e.to_string())
}

fn dense(
    network: &Data,
    what: &str,
    quantity: &str,
    unit: &'static str,
    reference: f64,
    tolerance: f64,
    compute: impl Fn(f64) -> Result<f64, String> + Send + Sync + 'static,
) -> Check {
    let name = network.text("name");
    Check {
        id: format!("flow-network.{name}.{what}"),
        topic: "Flow network",
        quantity: format!("{quantity}, random network of {name}"),
        unit,
        reference,
        // Mass closes to 1e-9 kg/s here; the tightest room turns that into some 1e-8 Pa.
        tolerance: Tolerance::Absolute(tolerance),
        kind: Kind::IndependentLibrary,
        source: "dense nonlinear solution by scipy.optimize.root".to_owned(),
        seen: true,
        known_gap: None,
        compute: Box::new(compute) as Compute,
    }
}

fn outside(pressure: f64) -> Node {
    Node { pressure_pa: Some(pressure), density_kg_m3: DENSITY }
}

fn room(density_kg_m3: f64) -> Node {
    Node { pressure_pa: None, density_kg_m3 }
}

fn leak(from: usize, to: usize, height_m: f64, coefficient: f64, exponent: f64) -> Link {
    Link { from, to, height_m, law: Law::Leak { coefficient, exponent } }
}

fn closed_forms() -> Vec<Check> {
    let closed = |id: &str, quantity: &str, unit, reference: f64, share: f64, compute: Compute| Check {
        id: format!("flow-network.closed-form.{id}"),
        topic: "Flow network, closed forms",
        quantity: quantity.to_owned(),
        unit,
        reference,
        tolerance: Tolerance::Relative(share),
        kind: Kind::ClosedForm,
        source: "one equation, solved by hand".to_owned(),
        seen: false,
        known_gap: None,
        compute,
    };
    let n = 0.65;
    // 4 Pa to windward, −2 Pa to leeward, leaks of 0.002 and 0.004 in series over one room.
    let ratio = pow(0.002_f64 / 0.004, 1.0 / n);
    let through = DENSITY * 0.002 * pow(6.0 / (1.0 + ratio), n);
    let warm = 1.16;
    let stack_pa = (DENSITY - warm) * GRAVITY_M_S2 * 3.0;
    let stack = 0.5 * (DENSITY + warm) * 0.001 * pow(stack_pa, n);
    let fan = pow(0.05 / (DENSITY * 0.01), 1.0 / n);
    vec![
        closed(
            "cross-flow",
            "air through a room with two unlike leaks in series",
            "kg/s",
            through,
            1e-6,
            Box::new(move |nudge| {
                let nodes = [outside(4.0), outside(-2.0), room(DENSITY)];
                let links = vec![leak(0, 2, 0.0, 0.002 * nudge, n), leak(2, 1, 0.0, 0.004, n)];
                Ok(solve(&nodes, links).map_err(|e| e.to_string())?.flows_kg_s[0])
            }),
        ),
        closed(
            "stack",
            "air through a warm room with equal leaks 6 m apart",
            "kg/s",
            stack,
            1e-6,
            Box::new(move |nudge| {
                let nodes = [outside(0.0), room(warm)];
                let links = vec![leak(0, 1, 0.0, 0.001, n), leak(0, 1, 6.0 * nudge, 0.001, n)];
                Ok(solve(&nodes, links).map_err(|e| e.to_string())?.flows_kg_s[0])
            }),
        ),
        closed(
            "exhaust",
            "pressure a fan of 0.05 kg/s draws in a room with one leak",
            "Pa",
            -fan,
            1e-6,
            Box::new(move |nudge| {
                let nodes = [outside(0.0), room(DENSITY)];
                let links = vec![
                    leak(0, 1, 0.0, 0.01, n),
                    Link { from: 1, to: 0, height_m: 0.0, law: Law::Fan { flow_kg_s: 0.05 * nudge } },
                ];
                Ok(solve(&nodes, links).map_err(|e| e.to_string())?.pressures_pa[1])
            }),
        ),
    ]
}
