use super::*;
use crate::drive::SideState;
use crate::material::{Description, Liquid, Storage, Vapour};
use crate::vapour::iso13788_saturation_pa;
use crate::wall::Layer;
use std::sync::Arc;

fn half_space() -> Description {
    Description {
        name: "half-space".into(),
        density_kg_m3: 1824.0,
        specific_heat_j_kgk: 1000.0,
        conductivity_w_mk: 1.5,
        conductivity_rise: 0.0158,
        storage: Storage::Retention { saturation_kg_m3: 146.0, terms: vec![[1.0, 1.25e7, 1.6]] },
        vapour: Vapour::ClosingPores { factor: 200.0, p: 0.497 },
        liquid: Liquid::LogPolynomial {
            coefficients: vec![-39.2619, 0.0704, -1.7420e-4, -2.7953e-6, -1.1566e-7, 2.5969e-9],
            offset_kg_m3: 73.0,
            scale_kg_m3: 1.0,
        },
        redistribution: 1.0,
    }
}

fn wall_of(d: &[(Description, f64)]) -> Wall {
    let layers = d
        .iter()
        .map(|(d, thickness_m)| Layer {
            name: d.name.clone(),
            thickness_m: *thickness_m,
            material: Arc::new(d.prepare().expect("valid")),
        })
        .collect();
    Wall::new(layers)
}

fn benchmark_options(water: f64) -> Options {
    Options {
        saturation: Saturation::Iso13788,
        diffusion: Diffusion::Constant(26.1e-6),
        temperature_tolerance_k: 0.02,
        water_tolerance_kg_m2: water,
        longest_step_s: 1e9,
        first_step_s: 1.0,
        ..Options::default()
    }
}

/// Water content at a depth of the benchmark half-space after some days, kg/m³.
fn half_space_water(count: usize, first_m: f64, tolerance: f64, days: f64, x: f64) -> f64 {
    let wall = wall_of(&[(half_space(), 25.0)]);
    let cells = Cells::one_sided(25.0, first_m, count);
    let mut s = Simulation::new(&wall, &cells, benchmark_options(tolerance)).expect("valid");
    s.start(20.0, &[Start::Humidity(0.5)]).expect("valid");
    let held = SideState::held(30.0, 0.95 * iso13788_saturation_pa(30.0));
    s.run(&Drive::steady(held, SideState::sealed()), days * 86_400.0, |_| {}).expect("solved");
    let e = s.effort();
    assert!(e.worst_water < 1e-9 && e.worst_heat < 1e-9, "{e:?}");
    let p = s.profile(0);
    let k = p.partition_point(|q| q[0] < x);
    let (a, b) = (p[k - 1], p[k]);
    a[3] + (x - a[0]) / (b[0] - a[0]) * (b[3] - a[3])
}

#[test]
fn a_half_space_takes_up_heat_and_water_as_its_similarity_solution() {
    // Reference data of the EN 15026 benchmark, own similarity solution; the same file feeds the published checks.
    for (days, x, w) in [(7.0, 0.005, 80.2846), (30.0, 0.01, 82.1277)] {
        let got = half_space_water(400, 2e-4, 2e-5, days, x);
        assert!((got - w).abs() < 0.3, "{days} d: {got}, reference {w}");
    }
}

/// Plain board without liquid, for closed forms.
fn board(factor: f64) -> Description {
    Description {
        name: "board".into(),
        density_kg_m3: 600.0,
        specific_heat_j_kgk: 1500.0,
        conductivity_w_mk: 0.13,
        conductivity_rise: 0.0,
        storage: Storage::Sorption { points: vec![[0.5, 40.0], [0.8, 64.0]], saturation_kg_m3: 300.0 },
        vapour: Vapour::Factor(factor),
        liquid: Liquid::None,
        redistribution: 1.0,
    }
}

fn brick() -> Description {
    Description {
        name: "brick".into(),
        density_kg_m3: 1650.0,
        specific_heat_j_kgk: 840.0,
        conductivity_w_mk: 0.7,
        conductivity_rise: 0.007,
        storage: Storage::Sorption {
            points: vec![[0.5, 2.5], [0.8, 6.0], [0.93, 12.0], [0.97, 20.0]],
            saturation_kg_m3: 230.0,
        },
        vapour: Vapour::Cups { dry: 16.0, wet: 10.0 },
        liquid: Liquid::Absorption { coefficient_kg_m2s05: 0.24 },
        redistribution: 1.0,
    }
}

fn years() -> Options {
    Options { longest_step_s: 1e8, ..Options::default() }
}

#[test]
fn steady_diffusion_through_layers_is_ohms_law() {
    let wall = wall_of(&[(board(10.0), 0.02), (board(50.0), 0.05), (board(2.0), 0.1)]);
    let cells = Cells::graded(&wall, Resolution::default());
    let options = Options { diffusion: Diffusion::Permeability(2e-10), ..years() };
    let mut s = Simulation::new(&wall, &cells, options).expect("valid");
    s.start(20.0, &[Start::Humidity(0.5); 3]).expect("valid");
    let drive =
        Drive::steady(SideState::air(20.0, 1400.0, 7.7, 2.5e-8), SideState::air(20.0, 600.0, 25.0, 7.5e-8));
    s.run(&drive, 4e9, |_| {}).expect("solved");
    let before = s.crossed().inside_vapour_kg_m2;
    s.run(&drive, 1e6, |_| {}).expect("solved");
    let flux = (s.crossed().inside_vapour_kg_m2 - before) / 1e6;
    let resistance = 1.0 / 2.5e-8 + (0.2 + 2.5 + 0.2) / 2e-10 + 1.0 / 7.5e-8;
    let expected = 800.0 / resistance;
    assert!((flux / expected - 1.0).abs() < 1e-6, "{flux} {expected}");
}

#[test]
fn water_and_heat_come_from_nowhere_but_the_bounds() {
    let mut wall = wall_of(&[(board(10.0), 0.0125), (brick(), 0.2)]);
    wall.rain = vec![
        crate::wall::RainEntry { interface: 2, share: 0.97 },
        crate::wall::RainEntry { interface: 1, share: 0.01 },
    ];
    wall.exchanges = vec![crate::wall::AirExchange { place: Place::Interface(1), from: Side::Inside }];
    let (inside, outside): (Vec<_>, Vec<_>) = (0..400)
        .map(|h| {
            let swing = numeric::scalar::sin(h as f64 * 0.26);
            let mut out = SideState::air(3.0 + 7.0 * swing, 700.0, 17.0, 1e-7);
            out.absorbed_w_m2 = 200.0 * swing.max(0.0);
            out.rain_kg_m2s = if h % 50 < 6 { 4e-4 } else { 0.0 };
            (SideState::air(20.0, 1100.0, 7.7, 2.5e-8), out)
        })
        .unzip();
    let mut drive = Drive::new(3600.0, inside, outside);
    drive.exchange_kg_m2s = vec![vec![1e-4; 400]];
    drive.through_kg_m2s = (0..400).map(|h| if h < 200 { 5e-5 } else { -5e-5 }).collect();
    for freezing in [false, true] {
        let cells = Cells::graded(&wall, Resolution::default());
        let options = Options { freezing, ..Options::default() };
        let mut s = Simulation::new(&wall, &cells, options).expect("valid");
        s.start(10.0, &[Start::Humidity(0.7), Start::Water(100.0)]).expect("valid");
        let (water, heat) = (s.water_kg_m2(), s.heat_j_m2());
        s.run(&drive, 400.0 * 3600.0, |_| {}).expect("solved");
        let e = s.effort();
        assert!(e.worst_water < 1e-9 && e.worst_heat < 1e-9, "{e:?}");
        let (gain, warmth) = (s.water_kg_m2() - water, s.heat_j_m2() - heat);
        assert!((gain - s.crossed().water_kg_m2()).abs() < 1e-7 * water, "{gain} {:?}", s.crossed());
        assert!((warmth - s.crossed().heat_j_m2()).abs() < 1e-7 * heat.abs(), "{warmth} {:?}", s.crossed());
        assert!(s.crossed().rain_kg_m2 > 1.0);
    }
}

#[test]
fn a_symmetric_wall_stays_symmetric() {
    let wall = wall_of(&[(board(10.0), 0.01), (brick(), 0.1), (board(10.0), 0.01)]);
    let cells = Cells::graded(&wall, Resolution::default());
    let mut s = Simulation::new(&wall, &cells, Options::default()).expect("valid");
    s.start(5.0, &[Start::Humidity(0.5), Start::Water(150.0), Start::Humidity(0.5)]).expect("valid");
    let side = SideState::air(20.0, 1000.0, 8.0, 3e-8);
    s.run(&Drive::steady(side, side), 30.0 * 86_400.0, |_| {}).expect("solved");
    let (left, right) = (s.interface(1), s.interface(2));
    assert!((left.temperature_c - right.temperature_c).abs() < 1e-9, "{left:?} {right:?}");
    assert!((left.humidity - right.humidity).abs() < 1e-9);
    let p = s.profile(1);
    for (a, b) in p.iter().zip(p.iter().rev()) {
        assert!((a[3] - b[3]).abs() < 1e-7, "{a:?} {b:?}");
    }
}

#[test]
fn a_dry_wall_conducts_as_heat_alone() {
    // Against the exact step response of crate `fabric`, between 20 °C inside and a step of 10 K outside.
    let mut dry = brick();
    dry.liquid = Liquid::None;
    let wall = wall_of(&[(dry, 0.2)]);
    let cells = Cells { widths_m: vec![vec![0.002; 100]] };
    let options = Options { temperature_tolerance_k: 2e-3, first_step_s: 0.1, ..Options::default() };
    let mut s = Simulation::new(&wall, &cells, options).expect("valid");
    s.start(20.0, &[Start::Humidity(1e-6)]).expect("valid");
    let drive = Drive::steady(SideState::air(20.0, 1e-9, 7.7, 0.0), SideState::air(10.0, 1e-9, 25.0, 0.0));
    let layers = [fabric::transient::ConductionLayer::solid(0.2, 0.7, 1650.0, 840.0)];
    for hours in [2.0, 10.0] {
        s.run(&drive, hours * 3600.0 - s.time_s(), |_| {}).expect("solved");
        let exact = fabric::periodic::step_response(
            &layers,
            1.0 / 7.7,
            0.04,
            fabric::periodic::Side::Outside,
            hours * 3600.0,
        )
        .expect("exact");
        let expected = 20.0 - 10.0 * exact.outside_surface;
        let got = s.interface(1).temperature_c;
        assert!((got - expected).abs() < 0.02, "{hours} h: {got} {expected}");
    }
}

/// Water taken up by dry brick in hours, its face held wet, kg/m².
fn uptake(cells: &Cells, hours: f64) -> f64 {
    let wall = wall_of(&[(brick(), 0.5)]);
    let options = Options {
        water_tolerance_kg_m2: 0.005,
        first_step_s: 0.01,
        longest_step_s: 600.0,
        ..Options::default()
    };
    let mut s = Simulation::new(&wall, cells, options).expect("valid");
    s.start(20.0, &[Start::Humidity(0.3)]).expect("valid");
    let mut rain = SideState::air(20.0, 2338.0, 10.0, 0.0);
    rain.rain_kg_m2s = 0.05;
    let before = s.water_kg_m2();
    s.run(&Drive::steady(SideState::sealed(), rain), hours * 3600.0, |_| {}).expect("solved");
    s.water_kg_m2() - before - s.interface(1).film_kg_m2
}

#[test]
fn absorption_follows_the_root_of_time_with_its_coefficient() {
    let mut widths = Cells::one_sided(0.5, 1e-3, 120);
    widths.widths_m[0].reverse();
    let (one, four) = (uptake(&widths, 1.0), uptake(&widths, 4.0));
    assert!((four / one - 2.0).abs() < 0.02, "{one} {four}");
    let expected = 0.24 * 60.0;
    assert!((one / expected - 1.0).abs() < 0.02, "{one}, by the coefficient {expected}");
}

#[test]
fn halving_cells_and_steps_shows_the_order() {
    // Space: uniform cells on a smooth problem, steps held. The difference falls four-fold a halving.
    let wall = wall_of(&[(board(10.0), 0.04)]);
    let run = |cells: usize, step_s: f64| {
        let c = Cells { widths_m: vec![vec![0.04 / cells as f64; cells]] };
        let options = Options {
            temperature_tolerance_k: 100.0,
            water_tolerance_kg_m2: 100.0,
            first_step_s: step_s,
            longest_step_s: step_s,
            ..Options::default()
        };
        let mut s = Simulation::new(&wall, &c, options).expect("valid");
        s.start(20.0, &[Start::Humidity(0.5)]).expect("valid");
        let drive =
            Drive::steady(SideState::air(20.0, 1800.0, 8.0, 3e-8), SideState::air(10.0, 900.0, 20.0, 8e-8));
        s.run(&drive, 10.0 * 86_400.0, |_| {}).expect("solved");
        s.layer_water_kg_m2(0)
    };
    let space: Vec<f64> = [8, 16, 32].map(|n| run(n, 7200.0)).to_vec();
    let order = ((space[0] - space[1]) / (space[1] - space[2])).abs();
    let order = numeric::ln(order) / numeric::ln(2.0);
    assert!((1.7..2.3).contains(&order), "order {order:.2} in space: {space:?}");
    let time: Vec<f64> = [14_400.0, 7_200.0, 3_600.0].map(|dt| run(16, dt)).to_vec();
    let order = numeric::ln(((time[0] - time[1]) / (time[1] - time[2])).abs()) / numeric::ln(2.0);
    assert!((0.85..1.15).contains(&order), "order {order:.2} in time: {time:?}");
}

#[test]
fn a_step_without_solution_says_when_and_where() {
    let wall = wall_of(&[(board(10.0), 0.02)]);
    let mut s = Simulation::new(
        &wall,
        &Cells::graded(&wall, Resolution::default()),
        Options { most_steps: 3, first_step_s: 1.0, ..Options::default() },
    )
    .expect("valid");
    let side = SideState::air(20.0, 1000.0, 8.0, 3e-8);
    let problem = s.run(&Drive::steady(side, side), 1e6, |_| {}).expect_err("too few steps");
    assert!(matches!(problem[0], MoistureError::TooManySteps { .. }), "{problem:?}");
    let mut hot = side;
    hot.air_temperature_c = f64::NAN;
    assert!(s.run(&Drive::steady(hot, side), 1e3, |_| {}).is_err());
}

#[test]
fn a_variable_sheet_lets_more_through_when_humid() {
    let through = |humid: bool| {
        let mut wall = wall_of(&[(board(5.0), 0.01), (board(5.0), 0.01)]);
        wall.contacts[0] =
            crate::wall::Contact::Sheet(crate::material::Sheet::dry_wet("variable", 10.0, 0.3));
        let mut s =
            Simulation::new(&wall, &Cells::graded(&wall, Resolution::default()), years()).expect("valid");
        let (a, b) = if humid { (2000.0, 1600.0) } else { (800.0, 400.0) };
        let drive = Drive::steady(SideState::air(20.0, a, 8.0, 3e-8), SideState::air(20.0, b, 8.0, 3e-8));
        s.run(&drive, 3e8, |_| {}).expect("solved");
        let before = s.crossed().inside_vapour_kg_m2;
        s.run(&drive, 1e6, |_| {}).expect("solved");
        s.crossed().inside_vapour_kg_m2 - before
    };
    let (dry, humid) = (through(false), through(true));
    assert!(humid > 5.0 * dry, "{dry} {humid}");
}

#[test]
fn freezing_holds_the_temperature_while_it_lasts() {
    let frozen = |freezing: bool| {
        let wall = wall_of(&[(brick(), 0.1)]);
        let options = Options { freezing, ..Options::default() };
        let mut s =
            Simulation::new(&wall, &Cells::graded(&wall, Resolution::default()), options).expect("valid");
        s.start(1.0, &[Start::Water(180.0)]).expect("valid");
        let cold = SideState::air(-10.0, 250.0, 25.0, 0.0);
        s.run(&Drive::steady(SideState::sealed(), cold), 8.0 * 3600.0, |_| {}).expect("solved");
        (s.interface(0).temperature_c, s.layer_ice_kg_m2(0))
    };
    let ((warm, ice), (cold, none)) = (frozen(true), frozen(false));
    assert!(none == 0.0 && ice > 3.0 && warm > cold + 2.0, "{warm} {cold} {ice}");
}

#[test]
fn years_run_until_they_repeat_and_the_start_is_forgotten() {
    let wall = wall_of(&[(board(30.0), 0.02), (board(3.0), 0.1), (board(60.0), 0.02)]);
    let (inside, outside): (Vec<_>, Vec<_>) = (0..73)
        .map(|k| {
            let t = 10.0 + 10.0 * numeric::scalar::sin(f64::from(k) * std::f64::consts::TAU / 73.0);
            let pv = |t: f64, h: f64| h * matter::moist_air::saturation_pressure(t);
            (SideState::air(20.0, pv(20.0, 0.5), 8.0, 3e-8), SideState::air(t, pv(t, 0.8), 20.0, 1e-7))
        })
        .unzip();
    // Five-day periods.
    let drive = Drive::new(432_000.0, inside, outside);
    let ends: Vec<f64> = [0.3, 0.95]
        .into_iter()
        .map(|humidity| {
            let cells = Cells::graded(&wall, Resolution::default());
            let options = Options { longest_step_s: 86_400.0, ..Options::default() };
            let mut s = Simulation::new(&wall, &cells, options).expect("valid");
            s.start(15.0, &[Start::Humidity(humidity); 3]).expect("valid");
            let (years, repeats) = s.run_to_repeat(&drive, 1e-3, 30).expect("solved");
            assert!(repeats, "{years:?}");
            s.water_kg_m2()
        })
        .collect();
    assert!((ends[0] / ends[1] - 1.0).abs() < 5e-3, "{ends:?}");
}

mod any_wall {
    use super::*;
    use crate::material::{LibraryOptions, from_library, sheet_from_library};
    use crate::wall::{AirExchange, Contact, RainEntry};
    use proptest::prelude::*;

    /// A wall of library rows with contacts of every kind, rain on its face and a share of it inside.
    fn build(picks: &[(usize, f64)], contacts: &[usize], sheet: usize) -> Option<Wall> {
        let rows: Vec<_> = matter::library()
            .iter()
            .filter(|r| r.sd_dry_m.is_none() && from_library(r, LibraryOptions::default()).is_ok())
            .collect();
        let sheets: Vec<_> = matter::library().iter().filter_map(sheet_from_library).collect();
        let layers: Vec<Layer> = picks
            .iter()
            .map(|&(k, thickness_m)| {
                let row = rows[k % rows.len()];
                let (d, _) = from_library(row, LibraryOptions::default()).ok()?;
                let material = Arc::new(d.prepare().ok()?);
                Some(Layer { name: row.name.clone(), thickness_m, material })
            })
            .collect::<Option<_>>()?;
        let n = layers.len();
        let mut wall = Wall::new(layers);
        for (k, contact) in wall.contacts.iter_mut().enumerate() {
            *contact = match contacts[k % contacts.len()] % 3 {
                0 => Contact::Perfect,
                1 => Contact::Gap { resistance_m2k_w: 0.1, air_layer_m: 0.01 },
                _ => Contact::Sheet(sheets[sheet % sheets.len()].clone()),
            };
        }
        wall.rain = vec![RainEntry { interface: n, share: 0.9 }, RainEntry { interface: n / 2, share: 0.02 }];
        wall.exchanges = vec![AirExchange { place: Place::Interface(n - 1), from: Side::Inside }];
        Some(wall)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(40))]
        #[test]
        fn weathers_a_storm_and_a_frost(
            picks in prop::collection::vec((0_usize..500, 0.004_f64..0.3), 1..6),
            contacts in prop::collection::vec(0_usize..3, 1..5),
            sheet in 0_usize..50,
            humidity in 0.05_f64..0.99,
            cold in -25.0_f64..25.0,
            wet in 0.0_f64..1.0,
            freezing in any::<bool>(),
        ) {
            let Some(wall) = build(&picks, &contacts, sheet) else { return Err(TestCaseError::fail("library")) };
            let options = Options { freezing, ..Options::default() };
            let cells = Cells::graded(&wall, Resolution::default());
            let mut s = Simulation::new(&wall, &cells, options).map_err(|e| TestCaseError::fail(format!("{e:?}")))?;
            let start = vec![Start::Humidity(humidity); picks.len()];
            s.start(10.0, &start).map_err(|e| TestCaseError::fail(format!("{e:?}")))?;
            s.wet(picks.len() / 2, (wet * 200.0 * wall.layers[picks.len() / 2].thickness_m).min(2.0))
                .map_err(|e| TestCaseError::fail(format!("{e:?}")))?;
            let (inside, outside): (Vec<_>, Vec<_>) = (0..240)
                .map(|h| {
                    let swing = numeric::scalar::sin(h as f64 * 0.26);
                    let t = cold + 6.0 * swing;
                    let mut out =
                        SideState::air(t, 0.85 * matter::moist_air::saturation_pressure(t), 4.0 + 10.0 * wet, 1e-7);
                    out.absorbed_w_m2 = 500.0 * swing.max(0.0);
                    (out.radiant_film_w_m2k, out.radiant_temperature_c) = (5.0, t - 8.0);
                    // A cloudburst now and then: 20 mm an hour on the face.
                    out.rain_kg_m2s = if h % 40 == 7 { 5.5e-3 } else if h % 40 < 5 { 1e-4 } else { 0.0 };
                    (SideState::air(21.0, 900.0 + 900.0 * wet, 7.7, 2.0e-8), out)
                })
                .unzip();
            let mut drive = Drive::new(3600.0, inside, outside);
            drive.exchange_kg_m2s = vec![vec![2e-4 * wet; 240]];
            drive.through_kg_m2s = vec![1e-4 * (wet - 0.5); 240];
            let (water, heat) = (s.water_kg_m2(), s.heat_j_m2());
            s.run(&drive, 240.0 * 3600.0, |s| {
                for k in 0..=picks.len() {
                    let f = s.interface(k);
                    assert!(f.temperature_c.is_finite() && (0.0..=1.0).contains(&f.humidity) && f.film_kg_m2 >= 0.0);
                }
            })
            .map_err(|e| TestCaseError::fail(format!("{e:?}")))?;
            let e = s.effort();
            prop_assert!(e.worst_water < 1e-9 && e.worst_heat < 1e-9, "{e:?}");
            let scale = water.max(s.water_kg_m2()).max(1e-3);
            prop_assert!((s.water_kg_m2() - water - s.crossed().water_kg_m2()).abs() < 1e-6 * scale);
            prop_assert!((s.heat_j_m2() - heat - s.crossed().heat_j_m2()).abs() < 1e-5 * (heat.abs() + 1e5));
        }
    }
}
