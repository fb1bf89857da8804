//! One year of the demonstration's shape: set-up and stepping apart, one building and lanes of many.
//!
//! `cargo bench -p year`. Counts are printed first; a time without them says nothing. Lane benches report the time of
//! the whole batch: divide by the lanes for a lane-year.

use building::Building;
use climate::Climate;
use year::kernel::input::{AirMode, Bypass};
use year::kernel::{Drivers, Model, Options, run_many};
use year::{Frame, Grain, Use, YearOptions};

/// Everything a bench needs, made once.
struct Case {
    drivers: Drivers,
    options: Options,
    models: Vec<Model>,
}

fn school() -> Building {
    Building::derive(building::sample::school()).0
}

/// The sample plan has no ventilation; three modes like the demonstration's stand in for it.
fn ventilate(model: &mut Model, frame_modes: usize) {
    let n = model.zones.len();
    let mode = |m3_h: f64, recovery: f64| AirMode {
        supply_m3_s: vec![m3_h / 3600.0 / n as f64; n],
        extract_m3_s: (0..n).map(|z| if z == n - 1 { m3_h / 3600.0 } else { 0.0 }).collect(),
        between_m3_s: (0..n - 1).map(|z| (z, n - 1, m3_h / 3600.0 / n as f64)).collect(),
        recovery,
        surplus_beyond_m3_s: 0.0,
        moisture_recovery: 0.62,
    };
    model.air_modes = (0..frame_modes).map(|i| mode(if i == 0 { 560.0 } else { 900.0 }, 0.82)).collect();
    model.bypass = Some(Bypass { extract_above_c: 22.0, outdoor_above_c: 12.0 });
}

fn case(grain: Grain, use_case: Use, lanes: usize) -> Case {
    let building = school();
    let climate: Climate = climate::demo_year();
    let frame =
        Frame::new(&building, &climate, use_case, grain, &YearOptions::default()).expect("the sample runs");
    let mut resolved = building.values.nominal();
    let models = (0..lanes)
        .map(|lane| {
            for value in &mut resolved.0 {
                *value *= 1.0 + 1e-3 * lane as f64;
            }
            let mut model = frame.model(&resolved).expect("the sample runs");
            ventilate(&mut model, frame.airflow_modes());
            model
        })
        .collect();
    Case { drivers: frame.drivers, options: frame.options, models }
}

fn main() {
    for (name, grain) in [("limits", Grain::Limits), ("rooms", Grain::Rooms)] {
        let c = case(grain, Use::Real, 1);
        let m = &c.models[0];
        let states: usize = m.elements.iter().map(|e| m.assemblies[e.assembly].modes.len()).sum();
        let year = run_many(&c.drivers, &c.models, 1, &c.options).expect("the sample runs");
        println!(
            "{name}: {} zones, {} elements, {states} mode states, {} leaks, {} panes of glass, {} uses, {} steps, {} systems factored",
            m.zones.len(),
            m.elements.len(),
            m.leaks.len(),
            m.glass.len(),
            c.drivers.uses.len(),
            c.drivers.steps(),
            year[0].factored,
        );
    }
    divan::main();
}

#[divan::bench(args = [(1, Use::Standard), (8, Use::Standard), (16, Use::Standard), (1, Use::Real), (8, Use::Real), (16, Use::Real)])]
fn limits_run(bencher: divan::Bencher, (lanes, use_case): (usize, Use)) {
    let c = case(Grain::Limits, use_case, lanes);
    bencher.bench(|| run_many(&c.drivers, &c.models, lanes, &c.options));
}

#[divan::bench]
fn rooms_run(bencher: divan::Bencher) {
    let c = case(Grain::Rooms, Use::Real, 1);
    bencher.bench(|| run_many(&c.drivers, &c.models, 1, &c.options));
}

/// One day only: set-up of the kernel's tables and little else.
#[divan::bench(args = [1, 8, 16])]
fn tables(bencher: divan::Bencher, lanes: usize) {
    let mut c = case(Grain::Limits, Use::Real, lanes);
    let (hours, steps) = (24, 24 * c.drivers.steps_per_hour);
    let d = &mut c.drivers;
    d.hours = hours;
    d.outdoor_c.truncate(steps);
    d.outdoor_kg_kg.truncate(steps);
    d.use_of_step.truncate(steps);
    // All the year's wind speeds, so that the tables are as large as the year's.
    d.wind_m_s = (0..hours).map(|h| h as f64 * 0.5).collect();
    for s in &mut d.surroundings {
        s.irradiance_w_m2.truncate(hours);
        s.radiant_c.truncate(hours);
    }
    for g in &mut d.given {
        g.temperature_c.truncate(hours);
        g.humidity_kg_kg.truncate(hours);
    }
    for a in &mut d.apertures {
        a.incident_w_m2.truncate(hours);
        a.transmitted_w_m2.truncate(hours);
        a.inward_w_m2.truncate(hours);
    }
    d.watches.clear();
    d.bin_ends = vec![hours];
    c.options.warm_up_days = 0;
    bencher.bench(|| run_many(&c.drivers, &c.models, lanes, &c.options));
}

/// From one sample's numbers to a kernel model.
#[divan::bench]
fn model_of_a_sample(bencher: divan::Bencher) {
    let building = school();
    let climate = climate::demo_year();
    let frame = Frame::new(&building, &climate, Use::Real, Grain::Limits, &YearOptions::default())
        .expect("the sample runs");
    let resolved = building.values.nominal();
    bencher.bench(|| frame.model(&resolved));
}

/// What all samples share: sun, calendar, geometry.
#[divan::bench]
fn frame_of_a_building(bencher: divan::Bencher) {
    let building = school();
    let climate = climate::demo_year();
    bencher.bench(|| {
        Frame::new(&building, &climate, Use::Real, Grain::Limits, &YearOptions::default())
            .map(|f| f.watched.len())
    });
}
