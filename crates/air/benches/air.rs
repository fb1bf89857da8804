//! Times of the flow network and of a gathering. Run with `cargo bench -p air`.
//!
//! The network is a grid of rooms: each leaks to its neighbours, the rim to outside.

use air::contaminant::Ramp;
use air::gathering::{Adjoining, Control, Gathering, Outdoors, Person, Recovery, Room, Sensor, Span};
use air::network::{Law, Link, Network, Node};
use air::simulated_test::{Days, coverage};
use divan::{Bencher, black_box};
use numeric::counter::Stream;

fn main() {
    divan::main();
}

/// Rooms on a grid of `across` by `along`, with random leaks and fans.
fn building(across: usize, along: usize) -> (Vec<Node>, Vec<Link>) {
    let random = Stream::new(1, "bench");
    let rooms = across * along;
    let mut nodes = vec![Node { pressure_pa: Some(0.0), density_kg_m3: 1.28 }];
    let mut links = Vec::new();
    let mut k = 0;
    let mut draw = || {
        k += 1;
        random.uniform(k)
    };
    for i in 0..rooms {
        nodes.push(Node { pressure_pa: None, density_kg_m3: 1.17 + 0.05 * draw() });
        let (x, y) = (i % across, i / across);
        let law = |c: f64| Law::Leak { coefficient: c, exponent: 0.65 };
        if x == 0 || y == 0 || x + 1 == across || y + 1 == along {
            links.push(Link { from: 0, to: i + 1, height_m: 9.0 * draw(), law: law(1e-4 + 2e-3 * draw()) });
        }
        if x + 1 < across {
            links.push(Link { from: i + 1, to: i + 2, height_m: 1.0, law: law(1e-3 + 1e-2 * draw()) });
        }
        if y + 1 < along {
            links.push(Link {
                from: i + 1,
                to: i + 1 + across,
                height_m: 2.0,
                law: law(1e-3 + 1e-2 * draw()),
            });
        }
        let fan = Law::Fan { flow_kg_s: 0.01 * (draw() - 0.5) };
        links.push(Link { from: 0, to: i + 1, height_m: 0.0, law: fan });
    }
    (nodes, links)
}

/// Rooms: 15, 100 and 1 000.
#[divan::bench(args = [(5, 3), (10, 10), (40, 25)])]
fn network_solve(bencher: Bencher, (across, along): (usize, usize)) {
    let (nodes, links) = building(across, along);
    let mut network = Network::new(&nodes, links).expect("the grid reaches outside");
    let start = vec![0.0; nodes.len()];
    bencher.bench_local(|| network.solve(black_box(&nodes), &start).expect("solvable"));
}

/// Two and a half hours with interval, demand control and an adjoining space: 900 steps.
#[divan::bench]
fn gathering() {
    let span = |minutes, people| Span {
        minutes,
        people,
        other_w: 600.0,
        set_flow_m3_h: None,
        airing_m3_h: 0.0,
        doors_m3_h: 300.0,
    };
    let evening = Gathering {
        room: Room {
            volume_m3: 377.0,
            heat_capacity_j_k: 8e6,
            loss_w_k: 60.0,
            cooling_w: 3500.0,
            cool_above_c: 24.0,
        },
        adjoining: Some(Adjoining { volume_m3: 578.0, flow_m3_h: 80.0, temperature_c: 21.0 }),
        outdoors: Outdoors {
            co2_ppm: 420.0,
            temperature_c: 8.0,
            humidity_ratio: 0.004,
            pressure_pa: 98_800.0,
        },
        person: Person { co2_l_s: 0.0045, sensible_w: 70.0, vapour_kg_s: 1.8e-5 },
        spans: vec![span(45, 90.0), span(15, 20.0), span(45, 90.0), span(45, 0.0)],
        control: Control::Demand {
            ramp: Ramp { from_ppm: 700.0, to_ppm: 1100.0, least_m3_h: 150.0, most_m3_h: 900.0 },
            sensor: Sensor { lag_min: 3.0, error_ppm: 0.0, drift_ppm_year: 0.0, age_years: 0.0 },
            fastest_m3_h_min: 300.0,
        },
        recovery: Recovery { heat: 0.77, vapour: 0.62, carried_over: 0.02 },
        start_ppm: 600.0,
        start_c: 21.0,
        start_humidity_ratio: 0.006,
    };
    black_box(black_box(&evening).run().expect("a sound gathering"));
}

/// A hundred simulated tests with their full budgets.
#[divan::bench]
fn hundred_budgets() {
    let days = Days::default();
    black_box(coverage(1, 100, 0.9, 50.0, &days, days.instruments).expect("sound tests"));
}
