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
