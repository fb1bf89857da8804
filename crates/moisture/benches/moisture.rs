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
            Layer {
                name: name.into(),
                thickness_m,
                material: Arc::new(description.prepare().expect("valid")),
            }
        })
        .collect();
    Wall::new(layers)
}

/// Cells by the error estimate, as walls of buildings are run.
fn placed(count: usize) -> Cells {
    let wall = wall();
    let drive = invented::drive(&OutsideFace::default()).expect("whole");
    let start = [Start::Humidity(0.7); 8];
    Cells::graded(&wall, Resolution::default())
        .placed(&wall, Options::default(), (12.0, &start), &drive, YEAR_S / 12.0, count)
        .expect("trial")
}

fn run(cells: &Cells, options: Options) -> Trace {
    let wall = wall();
    let drive = invented::drive(&OutsideFace::default()).expect("whole");
    let mut s = Simulation::new(&wall, cells, options).expect("valid");
    s.record(12.0, &[Start::Humidity(0.7); 8], &drive, YEAR_S).expect("solved")
}

/// Mean deviation over the year: water of the whole wall and of the worst layer, relative to their means; humidity of
/// the worst interface.
fn deviation(a: &Trace, b: &Trace) -> [f64; 3] {
    let hours = b.periods();
    let mean = |x: &[f64]| x.iter().sum::<f64>() / hours as f64;
    let total = |t: &Trace| -> Vec<f64> {
        (0..hours).map(|h| t.layer_water_kg_m2.iter().map(|l| l[h]).sum()).collect()
    };
    let apart =
        |x: &[f64], y: &[f64]| x.iter().zip(y).map(|(x, y)| (x - y).abs()).sum::<f64>() / hours as f64;
    let (x, y) = (total(a), total(b));
    let mut out = [apart(&x, &y) / mean(&y), 0.0, 0.0];
    for (x, y) in a.layer_water_kg_m2.iter().zip(&b.layer_water_kg_m2) {
        out[1] = out[1].max(apart(x, y) / mean(y));
    }
    for (x, y) in a.interfaces.iter().zip(&b.interfaces) {
        let humidity =
            |f: &[moisture::transport::FaceState]| f.iter().map(|f| f.humidity).collect::<Vec<_>>();
        out[2] = out[2].max(apart(&humidity(x), &humidity(y)));
    }
    out
}

fn report() {
    let wall = wall();
    let fine = Cells::graded(
        &wall,
        Resolution { first_rain_m: 1e-4, first_m: 0.0005, first_dry_m: 0.002, growth: 1.3, widest_m: 0.004 },
    );
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
    let mut list = vec![("usual".to_owned(), usual.clone())];
    list.extend([48, 56, 64].map(|count| (format!("placed {count}"), placed(count))));
    for (name, cells) in &list {
        for tolerance in [0.01, 0.02] {
            let options = Options { water_tolerance_kg_m2: tolerance, ..Options::default() };
            let begin = std::time::Instant::now();
            let trace = run(cells, options);
            let took = begin.elapsed();
            let [wall, layer, face] = deviation(&trace, &reference).map(|d| 100.0 * d);
            let e = trace.effort;
            println!(
                "{name}: {} cells, tolerance {tolerance}: {:.0} ms; off by {wall:.2} % (wall), {layer:.2} % (worst \
                 layer), {face:.2} points of humidity (worst face); {} steps, {} given up, {} iterations, closure \
                 {:.0e}",
                cells.count(),
                took.as_secs_f64() * 1e3,
                e.steps,
                e.rejected,
                e.iterations,
                e.worst_water.max(e.worst_heat),
            );
        }
    }
}

fn main() {
    if std::env::var_os("ONCE").is_some() {
        let wall = wall();
        let t = run(&Cells::graded(&wall, Resolution::default()), Options::default());
        println!("{} cells, {:?}", t.layer_water_kg_m2.len(), t.effort);
        return;
    }
    if std::env::var_os("DEVIATION").is_some() {
        report();
    }
    divan::main();
}

#[divan::bench(sample_count = 5)]
fn eight_layers_one_year_with_rain(bencher: divan::Bencher) {
    let cells = placed(56);
    bencher.bench(|| run(divan::black_box(&cells), Options::default()));
}
