//! Set-up costs of one element, as the year and the odds pay them per assembly and sample; details by cells.

use fabric::transient::{ConductionLayer, Tolerance, plan, reduce_by};

fn main() {
    divan::main();
}

/// The demonstration building's upper wall, eight layers.
fn upper_wall() -> Vec<ConductionLayer> {
    vec![
        ConductionLayer::solid(0.0159, 0.21, 800.0, 1000.0),
        ConductionLayer::solid(0.038, 0.0455, 120.0, 1200.0),
        ConductionLayer::solid(0.0127, 0.13, 500.0, 1600.0),
        ConductionLayer::solid(0.14, 0.048, 110.0, 1650.0),
        ConductionLayer::solid(0.038, 0.039, 56.0, 1600.0),
        ConductionLayer::solid(0.010, 0.70, 1600.0, 1000.0),
        ConductionLayer::solid(0.015, 0.70, 1600.0, 1000.0),
        ConductionLayer::solid(0.203, 0.70, 1700.0, 840.0),
    ]
}

#[divan::bench]
fn plan_and_reduce_eight_layers(bencher: divan::Bencher) {
    let layers = upper_wall();
    bencher.bench(|| plan(divan::black_box(&layers), &Tolerance::default()));
}

#[divan::bench]
fn reduce_eight_layers_by_plan(bencher: divan::Bencher) {
    let layers = upper_wall();
    let Ok((plan, _)) = plan(&layers, &Tolerance::default()) else { return };
    bencher.bench(|| reduce_by(divan::black_box(&layers), &plan));
}

#[divan::bench]
fn combined_method_eight_layers(bencher: divan::Bencher) {
    use fabric::layers::film::Direction;
    use fabric::layers::{Assembly, Layer, Substance};
    let s = |conductivity_w_mk| Substance {
        conductivity_w_mk,
        density_kg_m3: 500.0,
        specific_heat_j_kgk: 1000.0,
    };
    let assembly = Assembly::new(
        vec![
            Layer::solid("gypsum", 0.0159, s(0.21)),
            Layer::bridged("service cavity", 0.038, s(0.037), s(0.12), 0.12, Some(1)),
            Layer::solid("plywood", 0.0127, s(0.13)),
            Layer::bridged("cellulose and studs", 0.14, s(0.039), s(0.12), 0.12, Some(1)),
            Layer::solid("cellulose", 0.038, s(0.039)),
            Layer::solid("lime coat", 0.010, s(0.70)),
            Layer::solid("plaster", 0.015, s(0.70)),
            Layer::solid("brick", 0.203, s(0.70)),
        ],
        Direction::Horizontal,
    );
    bencher.bench(|| divan::black_box(&assembly).transmittance());
}

#[divan::bench]
fn triple_glazing_centre(bencher: divan::Bencher) {
    use fabric::glazing::gas::Gas;
    use fabric::glazing::{Conditions, Gap, Glazing, Pane};
    let gap = |emissivities| Gap { width_m: 0.016, gas: Gas::Argon, fraction: 0.9, emissivities };
    let glazing = Glazing {
        panes: vec![Pane::float(0.004); 3],
        gaps: vec![gap((0.03, 0.837)), gap((0.837, 0.03))],
        tilt_deg: 90.0,
    };
    bencher.bench(|| divan::black_box(&glazing).centre(&Conditions::EN_673));
}

mod details {
    use fabric::detail::{Accuracy, Body, Detail, Environment, Region, solve};

    /// Stops on the first grid, whatever its error.
    fn first_grid(first_cells: u32) -> Accuracy {
        Accuracy { first_cells, most_cells: 0, ..Accuracy::default() }
    }

    fn air(name: &str, temperature_c: f64, surface_m2k_w: f64) -> Environment {
        Environment { name: name.into(), temperature_c, surface_m2k_w }
    }

    /// A metal frame with cavities in a wall: conductivities 160 to 0.08 across 2 mm walls.
    fn frame() -> Detail {
        let r = |name: &str, low, high, k| Region::rectangle(name, low, high, Body::solid(k));
        Detail {
            plane: true,
            regions: vec![
                Region::rectangle("room", [0.0, -0.02], [0.5, 0.30], Body::Environment(1)),
                Region::rectangle("outdoors", [0.0, 0.16], [0.5, 0.30], Body::Environment(0)),
                r("wall", [0.0, 0.0], [0.25, 0.25], 0.12),
                r("brick", [0.0, 0.15], [0.25, 0.25], 0.7),
                r("frame", [0.25, 0.04], [0.33, 0.12], 160.0),
                r("cavity 1", [0.252, 0.042], [0.29, 0.078], 0.08),
                r("cavity 2", [0.252, 0.082], [0.29, 0.118], 0.08),
                r("cavity 3", [0.292, 0.042], [0.328, 0.118], 0.08),
                r("glass", [0.33, 0.06], [0.5, 0.10], 0.035),
            ],
            environments: vec![air("outdoors", 0.0, 0.04), air("room", 20.0, 0.13)],
        }
    }

    /// A beam end in a brick wall with insulation inside, two environments, three dimensions.
    fn beam_end() -> Detail {
        let b = Region::cuboid;
        Detail {
            plane: false,
            regions: vec![
                b("room", [0.0, 0.0, 0.0], [1.4, 1.2, 1.2], Body::Environment(0)),
                b("outdoors", [-0.1, 0.0, 0.0], [0.0, 1.2, 1.2], Body::Environment(1)),
                b("brick", [0.0, 0.0, 0.0], [0.218, 1.2, 1.2], Body::solid(0.7)),
                b("cellulose", [0.218, 0.0, 0.0], [0.396, 1.2, 1.2], Body::solid(0.039)),
                b("plywood", [0.396, 0.0, 0.0], [0.409, 1.2, 1.2], Body::solid(0.13)),
                b("beam", [0.1, 0.5, 0.4], [1.4, 0.754, 0.756], Body::Solid([0.28, 0.13, 0.13])),
            ],
            environments: vec![air("room", 20.0, 0.13), air("outdoors", -9.0, 0.04)],
        }
    }

    fn run(bencher: divan::Bencher, detail: &Detail, first_cells: u32) {
        let accuracy = first_grid(first_cells);
        if let Ok(s) = solve(detail, &accuracy) {
            println!("{} cells, {:?}", s.cells, s.effort);
        }
        bencher.bench(|| solve(divan::black_box(detail), &accuracy));
    }

    #[divan::bench(args = [12, 40, 105], sample_count = 3)]
    fn plane(bencher: divan::Bencher, first_cells: u32) {
        run(bencher, &frame(), first_cells);
    }

    #[divan::bench(args = [3, 26], sample_count = 3)]
    fn solid(bencher: divan::Bencher, first_cells: u32) {
        run(bencher, &beam_end(), first_cells);
    }
}
