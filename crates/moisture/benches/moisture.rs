//! One wall of eight layers through a year with rain.
//!
//! Every name ends in what was run: cells and steps are printed once before the timings, with the largest deviation
//! from a run on cells a quarter as wide with tolerances a hundredth as large.

use moisture::invented;
use moisture::material::{LibraryOptions, from_library};
use moisture::surfaces::OutsideFace;
use moisture::transport::{Cells, Options, Resolution, Simulation, Start, Trace};
use moisture::wall::{Layer, Wall};
use std::sync::Arc;

const YEAR_S: f64 = 8_760.0 * 3600.0;

/// The demonstration building's upper wall, inside to outside.
fn wall() -> Wall {
    let layers = [
        ("gypsum board", 0.0159),
        ("mineral wool", 0.038),
        ("plywood", 0.0127),
        ("dense-cellulose", 0.140),
        ("dense-cellulose", 0.038),
        ("lime plaster", 0.010),
        ("lime plaster", 0.015),
        ("soft brick", 0.203),
    ];
    let layers = layers
        .iter()
        .map(|&(name, thickness_m)| {
            let row = matter::find(name).unwrap_or_else(|| panic!("{name} is in the library"));
            let (description, _) = from_library(row, LibraryOptions::default()).expect("estimates cover it");
            Layer { name: name.into(), thickness_m, material: Arc::new(description.prepare().expect("valid")) }
        })
        .collect();
    Wall::new(layers)
}

fn run(cells: &Cells, options: Options) -> Trace {
    let wall = wall();
    let drive = invented::drive(&OutsideFace::default()).expect("whole");
    let mut s = Simulation::new(&wall, cells, options).expect("valid");
    s.record(12.0, &[Start::Humidity(0.7); 8], &drive, YEAR_S).expect("solved")
}

/// Largest deviation of yearly means: water of each layer relative to its mean, humidity of each interface in
/// hundredths.
fn deviation(a: &Trace, b: &Trace) -> (f64, f64) {
    let mean = |x: &[f64]| x.iter().sum::<f64>() / x.len() as f64;
    let mut water = 0.0_f64;
    for (x, y) in a.layer_water_kg_m2.iter().zip(&b.layer_water_kg_m2) {
        let worst = x.iter().zip(y).map(|(x, y)| (x - y).abs()).sum::<f64>() / x.len() as f64;
        water = water.max(worst / mean(y));
    }
    let mut humidity = 0.0_f64;
    for (x, y) in a.interfaces.iter().zip(&b.interfaces) {
        let worst =
            x.iter().zip(y).map(|(x, y)| (x.humidity - y.humidity).abs()).sum::<f64>() / x.len() as f64;
        humidity = humidity.max(worst);
    }
    (water, humidity)
}

fn report() {
    let wall = wall();
    let fine = Cells::graded(&wall, Resolution { first_m: 0.0004, first_dry_m: 0.001, growth: 1.25 });
    let tight = Options {
        temperature_tolerance_k: 0.05,
        water_tolerance_kg_m2: 0.0004,
        longest_step_s: 900.0,
        ..Options::default()
    };
    let reference = run(&fine, tight);
    println!("reference: {} cells, {:?}", fine.count(), reference.effort);
    let mut water = 0.0;
    for layer in &reference.layer_water_kg_m2 {
        water += layer.iter().sum::<f64>() / layer.len() as f64;
    }
    println!("mean water {water:.2} kg/m², rain taken in {:.0} kg/m²", reference.crossed.rain_kg_m2);
    let usual = Cells::graded(&wall, Resolution::default());
    let coarse = Cells::graded(&wall, Resolution { first_m: 0.003, first_dry_m: 0.008, growth: 2.2 });
    let drive = invented::drive(&OutsideFace::default()).expect("whole");
    let placed = usual
        .placed(&wall, Options::default(), (12.0, &[Start::Humidity(0.7); 8]), &drive, YEAR_S / 12.0, 40)
        .expect("trial");
    for (name, cells) in [("usual", &usual), ("coarse", &coarse), ("placed", &placed)] {
        for tolerance in [0.005, 0.02, 0.08] {
            let options = Options { water_tolerance_kg_m2: tolerance, ..Options::default() };
            let begin = std::time::Instant::now();
            let trace = run(cells, options);
            let took = begin.elapsed();
            let (w, h) = deviation(&trace, &reference);
            println!(
                "{name}: {} cells, tolerance {tolerance}: {:.0} ms, water {:.2} %, humidity {:.2} points, {} steps, {} rejected, {} iterations, closure {:.1e} {:.1e}",
                cells.count(), took.as_secs_f64() * 1e3, 100.0 * w, 100.0 * h, trace.effort.steps, trace.effort.rejected,
                trace.effort.iterations, trace.effort.worst_water, trace.effort.worst_heat
            );
        }
    }
}

fn main() {
    report();
    divan::main();
}

#[divan::bench(sample_count = 5)]
fn eight_layers_one_year_with_rain(bencher: divan::Bencher) {
    let cells = Cells::graded(&wall(), Resolution::default());
    bencher.bench(|| run(divan::black_box(&cells), Options::default()));
}
