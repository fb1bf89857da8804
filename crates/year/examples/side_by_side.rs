//! One zone that floats freely for a year, run by the kernel, for `benches/side-by-side/network_scipy.py` to be held
//! against the same network in the hands of a general stiff solver.
//!
//! `cargo run --release -p year --example side_by_side -- FOLDER` writes the hourly air temperature
//! (`air_ours.csv`), the outdoor temperature both sides read (`outdoor.csv`), the network (`network.csv`) and the
//! times (`times_ours.csv`) into FOLDER. Sun, radiation, wind and vapour are left out: what remains is a linear
//! network that both sides can state exactly alike.
#![allow(clippy::expect_used)]

use std::fmt::Write as _;
use std::time::Instant;

use fabric::transient::{ConductionLayer, Tolerance, reduce};
use year::kernel::input::{
    Element, GivenSeries, InsideFace, NO_FILM_W_M2K, Outside, OutsideFilm, Part, Surroundings, Zone,
};
use year::kernel::{Drivers, Model, Options, run, run_many};

/// An element of the box; layers from inside to outside: thickness m, conductivity W/(m·K), density kg/m³,
/// specific heat J/(kg·K). Invented, with properties of the usual size.
struct BoxElement {
    name: &'static str,
    area_m2: f64,
    part: Part,
    layers: &'static [[f64; 4]],
    /// Film to outdoor air, W/(m²·K); none holds the outer face at the ground's temperature.
    outside_w_m2k: Option<f64>,
}

const GROUND_C: f64 = 14.0;
const INSIDE_W_M2K: f64 = 7.7;
const AIR_J_K: f64 = 1.2e6;
const LEAK_W_K: f64 = 25.0;
const RUNS: usize = 101;

const BOX: [BoxElement; 4] = [
    BoxElement {
        name: "heavy wall",
        area_m2: 108.0,
        part: Part::Walls,
        layers: &[
            [0.015, 0.70, 1400.0, 1000.0],
            [0.330, 0.77, 1800.0, 840.0],
            [0.100, 0.040, 60.0, 1000.0],
            [0.010, 0.87, 1800.0, 1000.0],
        ],
        outside_w_m2k: Some(25.0),
    },
    BoxElement {
        name: "insulated roof",
        area_m2: 100.0,
        part: Part::Roof,
        layers: &[[0.0125, 0.25, 900.0, 1050.0], [0.240, 0.040, 50.0, 1600.0], [0.022, 0.13, 500.0, 1600.0]],
        outside_w_m2k: Some(25.0),
    },
    BoxElement {
        name: "floor slab",
        area_m2: 100.0,
        part: Part::Ground,
        layers: &[[0.060, 1.40, 2000.0, 1000.0], [0.100, 0.035, 30.0, 1450.0], [0.150, 2.00, 2300.0, 1000.0]],
        outside_w_m2k: None,
    },
    BoxElement {
        name: "glass",
        area_m2: 18.0,
        part: Part::Windows,
        layers: &[[0.02, 0.028, 250.0, 800.0]],
        outside_w_m2k: Some(25.0),
    },
];

fn model() -> Model {
    let mut zone = Zone::of_air(250.0, AIR_J_K);
    zone.bridges_w_k = LEAK_W_K;
    let mut model = Model::of_zones(vec![zone]);
    for (i, e) in BOX.iter().enumerate() {
        let layers: Vec<ConductionLayer> =
            e.layers.iter().map(|[d, k, rho, c]| ConductionLayer::solid(*d, *k, *rho, *c)).collect();
        model.assemblies.push(reduce(&layers, &Tolerance::default()).expect("the layers are ordinary"));
        let outside = match e.outside_w_m2k {
            Some(still_w_m2k) => Outside::Air {
                surroundings: 0,
                absorptance: 0.0,
                film: OutsideFilm { still_w_m2k, per_m_s: 0.0, radiation_w_m2k: 0.0 },
            },
            None => Outside::Given { series: 0, film_w_m2k: NO_FILM_W_M2K },
        };
        let inside = InsideFace {
            zone: 0,
            convection_w_m2k: INSIDE_W_M2K,
            radiation_w_m2k: 0.0,
            sun_share: 0.0,
            gain_share: 0.0,
        };
        model.elements.push(Element { assembly: i, area_m2: e.area_m2, inside, outside, part: e.part });
    }
    model.initial_c = 15.0;
    model
}

/// Outdoor readings at the ends of hours, the last also standing at the year's beginning, straight between.
fn drivers(readings_c: &[f64], steps_per_hour: usize) -> Drivers {
    let hours = readings_c.len();
    let mut d = Drivers::constant(1, hours, steps_per_hour, 0.0, 0.006);
    for step in 0..d.steps() {
        let (hour, k) = (step / steps_per_hour, step % steps_per_hour);
        let before = readings_c[(hour + hours - 1) % hours];
        let share = (k as f64 + 0.5) / steps_per_hour as f64;
        d.outdoor_c[step] = before + share * (readings_c[hour] - before);
    }
    d.surroundings = vec![Surroundings { irradiance_w_m2: vec![0.0; hours], radiant_c: vec![0.0; hours] }];
    d.given = vec![GivenSeries {
        temperature_c: vec![GROUND_C; hours],
        humidity_kg_kg: Vec::new(),
        co2_ppm: 420.0,
    }];
    d
}

fn median(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

fn main() -> std::io::Result<()> {
    let folder = std::path::PathBuf::from(std::env::args().nth(1).unwrap_or_else(|| ".".into()));
    let climate = climate::demo_year();
    let readings: Vec<f64> = climate.hours.iter().map(|h| h.dry_bulb_c).collect();
    let model = model();
    let modes: Vec<usize> = model.assemblies.iter().map(|a| a.modes.len()).collect();
    println!("{} elements, modes {modes:?}, {} hours", BOX.len(), readings.len());

    let mut network = format!(
        "air J/K,{AIR_J_K}\nleak W/K,{LEAK_W_K}\nground C,{GROUND_C}\nstart C,15\ninside W/m2K,{INSIDE_W_M2K}\n"
    );
    for e in &BOX {
        let film = e.outside_w_m2k.map_or_else(|| "ground".into(), |h| h.to_string());
        let _ = write!(network, "element,{},{},{film}", e.name, e.area_m2);
        for layer in e.layers {
            let _ = write!(network, ",{}", layer.map(|v| v.to_string()).join(" "));
        }
        network.push('\n');
    }
    std::fs::write(folder.join("network.csv"), network)?;
    let lines = |values: &[f64]| values.iter().map(|v| format!("{v}\n")).collect::<String>();
    std::fs::write(folder.join("outdoor.csv"), lines(&readings))?;

    let mut times = String::from("steps an hour,lanes,seconds a lane-year (median),least\n");
    for steps_per_hour in [4, 8, 1, 2] {
        let d = drivers(&readings, steps_per_hour);
        let quiet = Options { warm_up_days: 0, vapour: false, co2: false, ..Options::default() };
        let traced = run(&d, &model, &Options { trace: true, ..quiet }).expect("the box runs");
        let trace = traced.trace.expect("asked for");
        let hourly: Vec<f64> = trace.air_c.chunks(steps_per_hour).map(|hour| hour[hour.len() - 1]).collect();
        let name = if steps_per_hour == 4 {
            "air_ours.csv".into()
        } else {
            format!("air_ours_{steps_per_hour}.csv")
        };
        std::fs::write(folder.join(name), lines(&hourly))?;
        for lanes in [1, 8] {
            let models = vec![model.clone(); lanes];
            let each: Vec<f64> = (0..RUNS)
                .map(|_| {
                    let from = Instant::now();
                    let years = run_many(&d, &models, lanes, &quiet).expect("the box runs");
                    let time = from.elapsed().as_secs_f64();
                    assert_eq!(years.len(), lanes);
                    time / lanes as f64
                })
                .collect();
            let least = each.iter().copied().fold(f64::INFINITY, f64::min);
            let _ = writeln!(times, "{steps_per_hour},{lanes},{:.6},{least:.6}", median(each));
        }
    }
    print!("{times}");
    std::fs::write(folder.join("times_ours.csv"), times)
}
