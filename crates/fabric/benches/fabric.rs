//! Set-up costs of one element: what the year and the odds pay per assembly and sample.

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
