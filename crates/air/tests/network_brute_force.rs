//! The network's solver against another that shares nothing with it: room after room balanced by bisection, over and
//! over, with flows by the platform's own functions.

use air::network::{Law, Link, Network, Node};
use proptest::prelude::*;

fn flow(link: &Link, nodes: &[Node], p: &[f64]) -> f64 {
    let (a, b) = (link.from, link.to);
    let dp = p[a] - p[b] + (nodes[b].density_kg_m3 - nodes[a].density_kg_m3) * 9.806_65 * link.height_m;
    let density = 0.5 * (nodes[a].density_kg_m3 + nodes[b].density_kg_m3);
    let (c, n) = match link.law {
        Law::Leak { coefficient, exponent } => (density * coefficient, exponent),
        Law::Opening { area_m2, discharge } => (discharge * area_m2 * (2.0 * density).sqrt(), 0.5),
        Law::Fan { flow_kg_s } => return flow_kg_s,
    };
    // The documented law: a straight line below 1e-4 Pa.
    if dp.abs() < 1e-4 { c * 1e-4_f64.powf(n - 1.0) * dp } else { (c * dp.abs().powf(n)).copysign(dp) }
}

fn entering(node: usize, links: &[Link], nodes: &[Node], p: &[f64]) -> f64 {
    links
        .iter()
        .map(|l| {
            let f = flow(l, nodes, p);
            if l.to == node {
                f
            } else if l.from == node {
                -f
            } else {
                0.0
            }
        })
        .sum()
}

/// Balances each free node in turn by bisection until nothing moves.
fn brute(nodes: &[Node], links: &[Link]) -> Vec<f64> {
    let mut p: Vec<f64> = nodes.iter().map(|n| n.pressure_pa.unwrap_or(0.0)).collect();
    for _ in 0..200_000 {
        let mut moved = 0.0_f64;
        for i in 0..nodes.len() {
            if nodes[i].pressure_pa.is_some() {
                continue;
            }
            let (mut low, mut high) = (-5e4, 5e4);
            let before = p[i];
            for _ in 0..80 {
                p[i] = 0.5 * (low + high);
                if entering(i, links, nodes, &p) > 0.0 {
                    low = p[i];
                } else {
                    high = p[i];
                }
            }
            moved = moved.max((p[i] - before).abs());
        }
        if moved < 1e-11 {
            break;
        }
    }
    p
}

fn networks() -> impl Strategy<Value = (Vec<Node>, Vec<Link>)> {
    (2usize..7).prop_flat_map(|rooms| {
        let temperature = prop::collection::vec(10.0..28.0f64, rooms);
        // Every room has a leak to one of two façades, so that room-by-room balancing settles quickly.
        let own = prop::collection::vec((0usize..2, 0.002..0.02f64, 0.5..1.0f64, 0.0..7.0f64), rooms);
        let extra = prop::collection::vec(
            (2..rooms + 2, 2..rooms + 2, 0u8..3, 0.0005..0.01f64, 0.5..1.0f64, 0.0..7.0f64),
            0..10,
        );
        (temperature, own, extra, 0.0..8.0f64, -5.0..0.0f64).prop_map(
            |(temperature, own, extra, up, down)| {
                let density = |t: f64| 101_325.0 / (287.055 * (t + 273.15));
                let mut nodes = vec![
                    Node { pressure_pa: Some(up), density_kg_m3: density(2.0) },
                    Node { pressure_pa: Some(down), density_kg_m3: density(2.0) },
                ];
                nodes.extend(
                    temperature.iter().map(|&t| Node { pressure_pa: None, density_kg_m3: density(t) }),
                );
                let leak = |coefficient, exponent| Law::Leak { coefficient, exponent };
                let mut links: Vec<Link> = own
                    .iter()
                    .enumerate()
                    .map(|(i, &(side, c, n, height_m))| Link {
                        from: side,
                        to: i + 2,
                        height_m,
                        law: leak(c, n),
                    })
                    .collect();
                for (from, to, kind, c, n, height_m) in extra {
                    if from == to {
                        continue;
                    }
                    let law = match kind {
                        0 => leak(c, n),
                        1 => Law::Opening { area_m2: c, discharge: 0.6 },
                        _ => Law::Fan { flow_kg_s: c },
                    };
                    links.push(Link { from, to, height_m, law });
                }
                (nodes, links)
            },
        )
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    #[test]
    fn the_same_flows_by_brute_force((nodes, links) in networks()) {
        let ours = Network::new(&nodes, links.clone()).unwrap().solve(&nodes, &vec![0.0; nodes.len()]).unwrap();
        let p = brute(&nodes, &links);
        for (link, ours) in links.iter().zip(&ours.flows_kg_s) {
            let theirs = flow(link, &nodes, &p);
            // The solver closes mass to 1e-9 kg/s; the sweeps stop at 1e-11 Pa.
            prop_assert!((ours - theirs).abs() < 5e-7, "{} {}", ours, theirs);
        }
    }
}
