//! One wall that dries by day and night, for the comparison with a general stiff solver (`benches/side-by-side`).
//!
//! Usage: `cargo run --release -p moisture --example side_by_side > FOLDER/moisture_ours.csv`. Each line: tolerance of water
//! kg/m², seconds (least of nine runs), steps, then the wall's water at the end of each half-day, kg/m².

use moisture::drive::{Drive, SideState};
use moisture::material::{Description, Liquid, Storage, Vapour};
use moisture::transport::{Cells, Options, Simulation, Start};
use moisture::vapour::{Diffusion, Saturation};
use moisture::wall::{Layer, Wall};
use std::sync::Arc;
use std::time::Instant;

const CELLS: usize = 40;
const PERIODS: usize = 60;
const PERIOD_S: f64 = 43_200.0;

fn main() {
    let description = Description {
        name: "one material".into(),
        density_kg_m3: 1600.0,
        specific_heat_j_kgk: 850.0,
        conductivity_w_mk: 0.6,
        conductivity_rise: 0.0,
        storage: Storage::Retention { saturation_kg_m3: 200.0, terms: vec![[1.0, 2e5, 1.6]] },
        vapour: Vapour::Factor(12.0),
        liquid: Liquid::Diffusivity(2e-9),
        redistribution: 1.0,
    };
    let material = Arc::new(description.prepare().expect("valid"));
    let wall = Wall::new(vec![Layer { name: "one material".into(), thickness_m: 0.1, material }]);
    let cells = Cells { widths_m: vec![vec![0.1 / CELLS as f64; CELLS]] };
    let day = |k: usize| k.is_multiple_of(2);
    let inside = SideState::air(20.0, 1100.0, 8.0, 2.5e-8);
    let outside = |k: usize| {
        let mut side = SideState::air(if day(k) { 12.0 } else { 4.0 }, 700.0, 18.0, 1e-7);
        side.absorbed_w_m2 = if day(k) { 150.0 } else { 0.0 };
        side
    };
    let drive = Drive::new(PERIOD_S, vec![inside; PERIODS], (0..PERIODS).map(outside).collect());
    for tolerance in [0.3, 0.1, 0.03, 0.01, 0.003, 0.001, 0.000_1] {
        let options = Options {
            saturation: Saturation::Iso13788,
            diffusion: Diffusion::Constant(26.1e-6),
            water_tolerance_kg_m2: tolerance,
            temperature_tolerance_k: 100.0 * tolerance,
            longest_step_s: PERIOD_S,
            ..Options::default()
        };
        let (mut least, mut steps, mut ends) = (f64::INFINITY, 0, Vec::new());
        for _ in 0..9 {
            let begin = Instant::now();
            let mut s = Simulation::new(&wall, &cells, options).expect("valid");
            s.start(10.0, &[Start::Water(120.0)]).expect("valid");
            ends.clear();
            s.run(&drive, PERIODS as f64 * PERIOD_S, |s| ends.push(s.water_kg_m2())).expect("solved");
            least = least.min(begin.elapsed().as_secs_f64());
            steps = s.effort().steps;
        }
        let list: Vec<String> = ends.iter().map(|w| format!("{w:.9}")).collect();
        println!("{tolerance},{least},{steps},{}", list.join(","));
    }
}
