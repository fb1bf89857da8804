//! Tests of the kernel as a whole: closed forms, closure, and the same bits however it is run.

use fabric::transient::{ConductionLayer, ModalElement, Mode};
use numeric::dispatch::Path;

use super::input::*;
use super::{KernelYear, run, run_many, run_many_on};

fn quiet() -> Options {
    Options { warm_up_days: 0, co2: false, vapour: false, ..Options::default() }
}

/// A one-mode element good enough to store heat: a slab lumped in its middle.
fn slab(conductance: f64, capacity: f64) -> ModalElement {
    // Half resistances either side of one capacity: λ = 4 K / C, couplings √K each, no residual.
    let rate = 4.0 * conductance / capacity;
    let coupling = conductance.sqrt();
    ModalElement {
        modes: vec![Mode { rate_per_s: rate, inside: coupling, outside: coupling }],
        ..ModalElement::massless(conductance)
    }
}

fn wall(zone: usize, area_m2: f64, surroundings: usize) -> Element {
    Element {
        assembly: 0,
        area_m2,
        inside: InsideFace {
            zone,
            convection_w_m2k: 2.5,
            radiation_w_m2k: 5.13,
            sun_share: 0.0,
            gain_share: 0.0,
        },
        outside: Outside::Air {
            surroundings,
            absorptance: 0.6,
            film: OutsideFilm { still_w_m2k: 4.0, per_m_s: 4.0, radiation_w_m2k: 4.6 },
        },
        part: Part::Walls,
    }
}

/// Two zones with everything in them, a year of made-up weather.
fn busy(seed: f64) -> (Drivers, Model) {
    let hours = 24 * 60;
    let mut d = Drivers::constant(2, hours, 4, 0.0, 0.004);
    for step in 0..d.steps() {
        let h = step as f64 / 4.0;
        let day = numeric::scalar::sin(h * std::f64::consts::TAU / 24.0);
        d.outdoor_c[step] = 8.0 + 9.0 * day + 6.0 * numeric::scalar::sin(h / 90.0);
        d.outdoor_kg_kg[step] = 0.006 + 0.003 * numeric::scalar::sin(h / 70.0);
    }
    let sun: Vec<f64> = (0..hours)
        .map(|h| if (7..18).contains(&(h % 24)) { 350.0 + (h % 7) as f64 * 40.0 } else { 0.0 })
        .collect();
    d.wind_m_s = (0..hours).map(|h| (h % 13) as f64 * 0.4).collect();
    d.surroundings = vec![Surroundings {
        irradiance_w_m2: sun.clone(),
        radiant_c: d.outdoor_c.iter().step_by(4).map(|t| t - 6.0).collect(),
    }];
    d.apertures = vec![Aperture {
        incident_w_m2: sun.clone(),
        transmitted_w_m2: sun.iter().map(|s| 0.5 * s).collect(),
        inward_w_m2: sun.iter().map(|s| 0.06 * s).collect(),
    }];
    d.given = vec![GivenSeries {
        temperature_c: (0..hours).map(|h| 12.0 + (h % 24) as f64 * 0.3).collect(),
        humidity_kg_kg: vec![0.007; hours],
        co2_ppm: 600.0,
    }];
    let occupied = ZoneUse {
        people_w: 800.0,
        vapour_kg_s: 4e-4,
        co2_m3_s: 6e-5,
        equipment_w: 200.0,
        lights_w: 150.0,
        heat_above_c: 20.0,
        cool_below_c: 25.0,
        dry_below_kg_kg: 0.009,
        moisten_above_kg_kg: 0.004,
    };
    let empty = ZoneUse { people_w: 0.0, vapour_kg_s: 0.0, co2_m3_s: 0.0, lights_w: 0.0, ..occupied };
    d.uses = vec![
        UseState { zones: vec![empty; 2], air_mode: 0, airing: false },
        UseState { zones: vec![occupied, empty], air_mode: 1, airing: true },
    ];
    d.use_of_step = (0..d.steps()).map(|s| u16::from((40..70).contains(&(s % 96)))).collect();
    d.watches = vec![Watch { zone: 0, from_step: 40, to_step: 70 }];
    d.bin_ends = vec![24 * 31, hours];

    let zone = Zone {
        bridges_w_k: 2.0,
        sun_to_air: 0.05,
        airing: Some(Airing { flow_m3_s: 0.2, above_c: 24.0, cooler_by_k: 2.0 }),
        buffers: vec![Buffer { capacity_kg: 6.0, conductance_kg_s_pa: 2e-7 }],
        vapour_capacity_factor: 1.5,
        ..Zone::of_air(200.0, 400e3)
    };
    let mut m = Model::of_zones(vec![zone.clone(), Zone { heating_limit_w: 900.0, ..zone }]);
    m.assemblies =
        vec![slab(0.3 + 0.02 * seed, 120e3), slab(1.2, 200e3), slab(2.0, 60e3), ModalElement::massless(1.1)];
    let mut party = wall(1, 40.0, 0);
    party.assembly = 1;
    party.outside = Outside::Given { series: 0, film_w_m2k: 7.7 };
    party.part = Part::Party;
    let mut between = wall(0, 30.0, 0);
    between.assembly = 2;
    between.outside = Outside::Zone(InsideFace { zone: 1, ..between.inside });
    between.part = Part::Between;
    let mut floor = wall(0, 50.0, 0);
    floor.assembly = 1;
    floor.outside = Outside::Adiabatic;
    floor.inside.sun_share = 0.7;
    floor.inside.gain_share = 0.4;
    floor.part = Part::Mass;
    let mut window = wall(0, 12.0, 0);
    window.assembly = 3;
    window.part = Part::Windows;
    m.elements = vec![wall(0, 80.0, 0), party, between, floor, wall(1, 90.0, 0), window];
    m.glass = vec![
        Glass {
            zone: 0,
            aperture: 0,
            area_m2: 9.0 + seed,
            inward_convective: 0.4,
            blind: Some(Blind { above_w_m2: 400.0, above_c: 23.0, factor: 0.2 }),
        },
        Glass { zone: 1, aperture: 0, area_m2: 2.0, inward_convective: 0.4, blind: None },
    ];
    m.leaks = vec![
        Leak {
            zone: 0,
            from: LeakFrom::Outdoors,
            law: LeakLaw::StackWind {
                coefficient: 0.004 * (1.0 + 0.1 * seed),
                exponent: 0.65,
                stack_pa_k: 0.04,
                wind_pa_s2_m2: 0.1,
            },
        },
        Leak { zone: 1, from: LeakFrom::Given(0), law: LeakLaw::Constant(0.003) },
    ];
    m.air_modes = vec![
        AirMode {
            supply_m3_s: vec![0.02, 0.01],
            extract_m3_s: vec![0.01, 0.02],
            between_m3_s: vec![(0, 1, 0.01)],
            recovery: 0.84,
            moisture_recovery: 0.6,
            surplus_beyond_m3_s: 0.0,
        },
        AirMode {
            supply_m3_s: vec![0.1, 0.02],
            extract_m3_s: vec![0.06, 0.06],
            between_m3_s: vec![(0, 1, 0.3), (1, 0, 0.26)],
            recovery: 0.78,
            moisture_recovery: 0.5,
            surplus_beyond_m3_s: 0.0,
        },
    ];
    m.bypass = Some(Bypass { extract_above_c: 22.0, outdoor_above_c: 12.0 });
    (d, m)
}

fn bytes(year: &KernelYear) -> String {
    format!("{:?}", year.balances) + &format!("{:?}{:?}", year.heating_peak_w, year.watched)
}

#[test]
fn heat_and_vapour_close_in_every_period_and_zone() {
    let (d, m) = busy(0.0);
    let year = run(&d, &m, &Options { warm_up_days: 10, ..Options::default() }).unwrap();
    assert_eq!(year.balances.len(), 4);
    for b in &year.balances {
        let (heat, vapour) =
            (b.heat_residual_j() / b.gross_heat_j(), b.vapour_residual_kg() / b.gross_vapour_kg());
        assert!(heat.abs() < 1e-9, "heat residual {heat:e}");
        assert!(vapour.abs() < 1e-9, "vapour residual {vapour:e}");
        assert!(b.people_j > 0.0 || b.equipment_j > 0.0);
    }
    // The case is busy: everything that can happen does.
    let whole = year.zone(0);
    assert!(whole.heating_j > 0.0 && whole.cooling_j > 0.0 && whole.dried_kg > 0.0 && whole.airing_j < 0.0);
    assert!(year.watched[0].co2_ppm > 500.0);
}

#[test]
fn outer_heat_follows_from_storage_and_from_the_outer_face_alike() {
    // One wall, no radiation outside: heat out of the outer face summed step by step from the traced faces.
    let mut d = Drivers::constant(1, 240, 4, 0.0, 0.004);
    for (s, t) in d.outdoor_c.iter_mut().enumerate() {
        *t = (s % 96) as f64 * 0.1;
    }
    d.surroundings = vec![Surroundings { irradiance_w_m2: vec![0.0; 240], radiant_c: vec![0.0; 240] }];
    d.uses[0].zones[0].heat_above_c = 20.0;
    let mut m = Model::of_zones(vec![Zone::of_air(100.0, 200e3)]);
    m.assemblies = vec![slab(0.5, 150e3)];
    let film = OutsideFilm { still_w_m2k: 20.0, per_m_s: 0.0, radiation_w_m2k: 0.0 };
    m.elements = vec![Element {
        outside: Outside::Air { surroundings: 0, absorptance: 0.0, film },
        ..wall(0, 10.0, 0)
    }];
    let year = run(&d, &m, &Options { trace: true, ..quiet() }).unwrap();
    let balance = year.zone(0);
    // Heat through the wall is what the plant gave, less what air and wall kept.
    let direct = balance.heating_j - balance.air_stored_j - balance.part(Part::Walls).stored_j;
    let through = balance.part(Part::Walls).through_j;
    assert!((direct - through).abs() < 1e-9 * through.abs());
    // A steady last day would lose U A ΔT; this one swings about it.
    let u = 1.0 / (1.0 / 7.63 + 2.0 + 1.0 / 20.0);
    let mean_outdoor: f64 = d.outdoor_c.iter().sum::<f64>() / d.outdoor_c.len() as f64;
    let steady = u * 10.0 * (20.0 - mean_outdoor) * 240.0 * 3600.0;
    assert!((through / steady - 1.0).abs() < 0.1);
}

#[test]
fn same_bits_for_any_width_and_path() {
    let (d, _) = busy(0.0);
    let models: Vec<Model> = (0..11).map(|i| busy(f64::from(i) * 0.3).1).collect();
    let options = Options { warm_up_days: 2, ..Options::default() };
    let one: Vec<String> = run_many(&d, &models, 1, &options).unwrap().iter().map(bytes).collect();
    for width in [3, 8, 16] {
        for path in [Path::Baseline, Path::Wide, Path::Widest] {
            let many = run_many_on(path, &d, &models, width, &options).unwrap();
            let many: Vec<String> = many.iter().map(bytes).collect();
            for (sample, (a, b)) in one.iter().zip(&many).enumerate() {
                assert!(a == b, "sample {sample}, width {width}, {path:?}");
            }
        }
    }
}

#[test]
fn steady_state_is_exact() {
    let mut d = Drivers::constant(1, 24 * 200, 4, -10.0, 0.002);
    d.uses[0].zones[0].heat_above_c = 20.0;
    d.uses[0].zones[0].equipment_w = 180.0;
    let mut m = Model::of_zones(vec![Zone { bridges_w_k: 3.6, ..Zone::of_air(130.0, 160e3) }]);
    m.assemblies = vec![slab(0.25, 200e3)];
    d.surroundings =
        vec![Surroundings { irradiance_w_m2: vec![0.0; d.hours], radiant_c: vec![-10.0; d.hours] }];
    m.elements = vec![wall(0, 60.0, 0)];
    m.leaks = vec![Leak { zone: 0, from: LeakFrom::Outdoors, law: LeakLaw::Constant(130.0 * 0.35 / 3600.0) }];
    let year = run(&d, &m, &Options { trace: true, ..quiet() }).unwrap();
    // The radiant node lets air and radiant temperature differ; the wall sees a mixture with 180 W half radiant.
    // Delta-star algebra in closed form: unknown air and radiant temperature with (air + radiant) / 2 = 20.
    let (hc, hr, a) = (2.5, 5.13, 60.0);
    let g = 1.0 / (1.0 / 0.25 + 1.0 / (4.0 + 4.6)); // inside face to outdoors
    let h_air = 3.6 + m.air_heat_j_m3k * 130.0 * 0.35 / 3600.0;
    // Face: hc (Ta−Ts) + hr (Tr−Ts) = g (Ts−To); star: a hr (Tr−Ts) = 90.
    let solve = |ts: f64| {
        let tr = ts + 90.0 / (a * hr);
        let ta = ts + (g * (ts + 10.0) - 90.0 / a) / hc;
        (ta, tr)
    };
    let (mut low, mut high) = (-10.0, 40.0);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        let (ta, tr) = solve(middle);
        if ta + tr > 40.0 { high = middle } else { low = middle }
    }
    let (ta, _) = solve(low);
    let power = a * hc * (ta - low) + h_air * (ta + 10.0) - 90.0;
    let trace = year.trace.unwrap();
    let last = trace.power_w[trace.power_w.len() - 1];
    assert!((last / power - 1.0).abs() < 1e-9, "{last} {power}");
}

#[test]
fn recovery_lowers_the_load_by_its_ratio() {
    let mut d = Drivers::constant(1, 24, 4, -10.0, 0.002);
    d.uses[0].zones[0].heat_above_c = 20.0;
    let q = 130.0 * 0.4 / 3600.0;
    let mut m = Model::of_zones(vec![Zone { air_weight: 1.0, ..Zone::of_air(130.0, 0.0) }]);
    m.air_modes[0] =
        AirMode { supply_m3_s: vec![q], extract_m3_s: vec![q], recovery: 0.82, ..AirMode::default() };
    m.leaks = vec![Leak { zone: 0, from: LeakFrom::Outdoors, law: LeakLaw::Constant(130.0 * 0.05 / 3600.0) }];
    let year = run(&d, &m, &quiet()).unwrap();
    // 160.083439 W: supply temperature 14.6 °C through 17.5 W/K, 2.19 W/K of leaks.
    assert!((year.heating_peak_w.value / 160.083_439 - 1.0).abs() < 1e-8);
}

#[test]
fn cooling_down_converges_at_first_order() {
    let error = |steps_per_hour: usize| {
        let d = Drivers::constant(1, 24, steps_per_hour, -5.0, 0.002);
        let mut m = Model::of_zones(vec![Zone { bridges_w_k: 150.0, ..Zone::of_air(100.0, 12e6) }]);
        m.initial_c = 21.0;
        let trace = run(&d, &m, &Options { trace: true, ..quiet() }).unwrap().trace.unwrap();
        let exact = -5.0 + 26.0 * numeric::exp(-24.0 * 3600.0 * 150.0 / 12e6);
        (trace.air_c[trace.air_c.len() - 1] - exact).abs()
    };
    let errors = [4, 8, 16].map(error);
    for pair in errors.windows(2) {
        let order = numeric::ln(pair[0] / pair[1]) / numeric::ln(2.0);
        assert!((0.97..1.03).contains(&order), "order {order}, errors {errors:?}");
    }
}

#[test]
fn a_wrong_model_is_refused_by_name() {
    let (d, mut m) = busy(0.0);
    m.elements[2].area_m2 = -1.0;
    let message = run(&d, &m, &quiet()).unwrap_err().to_string();
    assert_eq!(message, "area of element 2 is -1, which is not a number above zero");
    let (_, mut m) = busy(0.0);
    m.glass[0].aperture = 7;
    assert_eq!(run(&d, &m, &quiet()).unwrap_err().to_string(), "aperture of glass 0 points to number 7 of 1");
}

#[test]
fn layers_reach_the_kernel_through_their_modes() {
    // Guards the sign conventions between this crate and `fabric::transient`: capacity by layers and by modes.
    let layer = ConductionLayer::solid(0.2, 1.0, 2000.0, 900.0);
    let lumped = slab(5.0, layer.capacity_j_m2k());
    let (ci, co) = lumped.face_capacities_j_m2k();
    assert!(((ci + co) / layer.capacity_j_m2k() - 1.0).abs() < 1e-12);
}
