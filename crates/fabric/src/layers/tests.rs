use super::*;
use proptest::prelude::*;

const fn s(conductivity_w_mk: f64, density_kg_m3: f64, specific_heat_j_kgk: f64) -> Substance {
    Substance { conductivity_w_mk, density_kg_m3, specific_heat_j_kgk }
}

const BRICK: Substance = s(0.70, 1700.0, 840.0);
const LIME: Substance = s(0.70, 1600.0, 1000.0);
const CELLULOSE: Substance = s(0.039, 56.0, 1600.0);
const MINERAL: Substance = s(0.037, 30.0, 1030.0);
const WOOD: Substance = s(0.12, 450.0, 1600.0);
const PLY: Substance = s(0.13, 500.0, 1600.0);
const GYPSUM: Substance = s(0.21, 800.0, 1000.0);
const FIBRE: Substance = s(0.040, 160.0, 2100.0);

fn upper_wall() -> Assembly {
    Assembly::new(
        vec![
            Layer::solid("gypsum", 0.0159, GYPSUM),
            Layer::bridged("service cavity", 0.038, MINERAL, WOOD, 0.12, Some(1)),
            Layer::solid("plywood", 0.0127, PLY),
            Layer::bridged("cellulose between studs", 0.140, CELLULOSE, WOOD, 0.12, Some(1)),
            Layer::solid("cellulose", 0.038, CELLULOSE),
            Layer::solid("lime coat", 0.010, LIME),
            Layer::solid("lime plaster", 0.015, LIME),
            Layer::solid("brick", 0.203, BRICK),
        ],
        Direction::Horizontal,
    )
}

/// Assemblies of the invented demonstration building with the transmittance its author worked out by hand.
fn demo() -> Vec<(&'static str, Assembly, f64, f64)> {
    let up = |layers| Assembly::new(layers, Direction::Upwards);
    let wall = |layers| Assembly::new(layers, Direction::Horizontal);
    vec![
        ("upper wall", upper_wall(), 0.183, 0.0005),
        (
            "existing upper wall",
            wall(vec![Layer::solid("plaster", 0.015, LIME), Layer::solid("brick", 0.203, BRICK)]),
            2.08,
            0.005,
        ),
        (
            "roof",
            up(vec![
                Layer::solid("plank", 0.057, WOOD),
                Layer::solid("plywood", 0.0159, PLY),
                Layer::solid("wood fibre", 0.240, FIBRE),
                Layer::solid("cover board", 0.0127, GYPSUM),
            ]),
            0.147,
            0.0005,
        ),
        (
            "floor over pottery",
            Assembly::between_rooms(
                vec![
                    Layer::solid("oak", 0.022, s(0.17, 700.0, 1600.0)),
                    Layer::solid("impact board", 0.020, s(0.048, 250.0, 2100.0)),
                    Layer::solid("plywood", 0.019, PLY),
                    Layer::solid("plank", 0.070, WOOD),
                    Layer::bridged("mineral wool", 0.140, MINERAL, WOOD, 0.104, None),
                    Layer::solid("gypsum", 0.0318, GYPSUM),
                ],
                Direction::Downwards,
            ),
            0.202,
            0.0005,
        ),
        (
            "lobby outer wall",
            wall(vec![
                Layer::solid("gypsum", 0.0159, GYPSUM),
                Layer::solid("plywood", 0.0127, PLY),
                Layer::bridged("cellulose", 0.178, CELLULOSE, WOOD, 0.12, None),
                Layer::solid("lime coat", 0.010, LIME),
                Layer::solid("brick", 0.203 + 0.115, BRICK),
            ]),
            0.22,
            0.005,
        ),
        (
            "lobby wall to pottery",
            Assembly::between_rooms(
                vec![
                    Layer::solid("gypsum", 0.0159, GYPSUM),
                    Layer::solid("plywood", 0.0127, PLY),
                    Layer::solid("wood fibre", 0.050, FIBRE),
                    Layer::solid("brick", 0.203, BRICK),
                ],
                Direction::Horizontal,
            ),
            0.5,
            0.05,
        ),
    ]
}

#[test]
fn demo_assemblies_round_to_the_hand_calculation() {
    for (name, assembly, expected, half) in demo() {
        let t = assembly.transmittance().unwrap();
        assert!((t.u_w_m2k - expected).abs() <= half, "{name}: {} for {expected}", t.u_w_m2k);
        assert!(t.notes.is_empty(), "{name}: {:?}", t.notes);
        assert_eq!(t.working.value("U"), Some(t.u_w_m2k));
    }
}

#[test]
fn stack_in_time_has_the_same_u_and_the_whole_mass() {
    for (name, assembly, _, _) in demo() {
        let stack = assembly.transient_stack().unwrap();
        let r: f64 = stack.layers.iter().map(|l| l.resistance_m2k_w()).sum();
        let u = assembly.transmittance().unwrap().u_w_m2k;
        assert!((u * (r + stack.rsi_m2k_w + stack.rse_m2k_w) - 1.0).abs() < 1e-12, "{name}");
    }
    let stack = upper_wall().transient_stack().unwrap();
    let c: f64 = stack.layers.iter().map(|l| l.capacity_j_m2k()).sum();
    let studs = 0.88 * 56.0 * 1600.0 + 0.12 * 450.0 * 1600.0;
    let battens = 0.88 * 30.0 * 1030.0 + 0.12 * 450.0 * 1600.0;
    let expected = 0.0159 * 800_000.0
        + 0.038 * battens
        + 0.0127 * 800_000.0
        + 0.14 * studs
        + 0.038 * 56.0 * 1600.0
        + 0.025 * 1_600_000.0
        + 0.203 * 1700.0 * 840.0;
    assert!((c / expected - 1.0).abs() < 1e-12, "{c} {expected}");
}

#[test]
fn aligned_bridges_conduct_more_than_crossing_ones() {
    let aligned = upper_wall();
    let mut crossing = upper_wall();
    for layer in &mut crossing.layers {
        if let Body::Filled { bridge: Some(b), .. } = &mut layer.body {
            b.line = None;
        }
    }
    let (a, c) = (aligned.transmittance().unwrap(), crossing.transmittance().unwrap());
    assert!(a.upper_m2k_w < c.upper_m2k_w);
    assert_eq!(a.lower_m2k_w, c.lower_m2k_w);
}

#[test]
fn narrow_bridge_lies_within_wide_one() {
    let parts = [
        Parts { main: 4.0, bridge: Some((1.0, 0.1, Some(1))) },
        Parts { main: 2.0, bridge: Some((0.5, 0.2, Some(1))) },
    ];
    assert_eq!(sections_of_line(&parts, 1), vec![(0.1, 1.5), (0.1, 4.5), (0.8, 6.0)]);
}

#[test]
fn ventilated_spaces_count_in_proportion() {
    let with = |openings_mm2: f64| {
        let space = AirSpace { openings_mm2, ..AirSpace::still(0.05) };
        Assembly::new(
            vec![
                Layer::solid("wool", 0.1, MINERAL),
                Layer::air("cavity", space),
                Layer::solid("brick", 0.102, BRICK),
            ],
            Direction::Horizontal,
        )
    };
    let total = |openings| with(openings).transmittance().unwrap().total_m2k_w;
    let (shut, open) = (total(0.0), total(1500.0));
    assert_eq!(total(500.0), shut);
    assert!((open - (0.13 + 0.1 / 0.037 + 0.13)).abs() < 1e-12);
    assert!((total(1000.0) - 0.5 * (shut + open)).abs() < 1e-12);
    let stack = with(1500.0).transient_stack().unwrap();
    assert_eq!((stack.layers.len(), stack.rse_m2k_w), (1, 0.13));
    let half = with(1000.0);
    let stack = half.transient_stack().unwrap();
    let r: f64 = stack.layers.iter().map(|l| l.resistance_m2k_w()).sum();
    assert!(((r + 0.17) * half.transmittance().unwrap().u_w_m2k - 1.0).abs() < 1e-12);
}

#[test]
fn small_corrections_are_left_out_and_said() {
    let mut wall = upper_wall();
    wall.corrections.gaps.push((3, Gaps::Bridging));
    let t = wall.transmittance().unwrap();
    assert_eq!(t.u_w_m2k, t.uncorrected_u_w_m2k);
    assert!(t.notes[0].contains("under 3 %"), "{:?}", t.notes);
    wall.corrections.gaps[0].1 = Gaps::Circulating;
    let t = wall.transmittance().unwrap();
    assert!(t.u_w_m2k > 1.03 * t.uncorrected_u_w_m2k);
}

#[test]
fn mistakes_name_the_layer() {
    let mut wall = upper_wall();
    wall.layers[2] = Layer::solid("plywood", -0.0127, PLY);
    let text = wall.transmittance().unwrap_err().to_string();
    assert_eq!(text, "layer 3 (plywood): thickness, m is -0.0127, but must be above zero and finite");
    wall = upper_wall();
    wall.corrections.gaps.push((12, Gaps::Bridging));
    assert!(wall.transmittance().unwrap_err().to_string().contains("layer 13 is named"));
}

#[test]
fn metal_bridge_is_noted() {
    let steel = s(50.0, 7800.0, 450.0);
    let wall = Assembly::new(
        vec![Layer::bridged("wool and steel", 0.1, MINERAL, steel, 0.005, None)],
        Direction::Horizontal,
    );
    let notes = wall.transmittance().unwrap().notes;
    assert!(notes.iter().any(|n| n.contains("bridged by metal")), "{notes:?}");
}

prop_compose! {
    fn any_layer()(
        d in 0.005_f64..0.3,
        main in 0.02_f64..2.0,
        other in 0.02_f64..2.0,
        fraction in 0.0_f64..0.4,
        kind in 0..4,
    ) -> Layer {
        let substance = |c| s(c, 500.0, 1000.0);
        match kind {
            0 => Layer::air("air", AirSpace::still(d.min(0.3))),
            1 => Layer::bridged("bridged", d, substance(main), substance(other), fraction, None),
            2 => Layer::bridged("on line", d, substance(main), substance(other), fraction, Some(1)),
            _ => Layer::solid("solid", d, substance(main)),
        }
    }
}

proptest! {
    #[test]
    fn reversal_keeps_u(layers in prop::collection::vec(any_layer(), 1..8)) {
        let there = Assembly::between_rooms(layers.clone(), Direction::Horizontal).transmittance().unwrap();
        let back: Vec<Layer> = layers.into_iter().rev().collect();
        let back = Assembly::between_rooms(back, Direction::Horizontal).transmittance().unwrap();
        prop_assert!((there.u_w_m2k / back.u_w_m2k - 1.0).abs() < 1e-12);
    }

    #[test]
    fn upper_limit_is_above_lower(layers in prop::collection::vec(any_layer(), 1..8)) {
        let t = Assembly::new(layers, Direction::Horizontal).transmittance().unwrap();
        prop_assert!(t.upper_m2k_w >= t.lower_m2k_w * (1.0 - 1e-12));
        prop_assert!(t.u_w_m2k > 0.0 && t.u_w_m2k <= 1.0 / 0.17 + 1e-9);
    }

    #[test]
    fn thicker_means_less(layers in prop::collection::vec(any_layer(), 1..6), pick in 0_usize..6, more in 1.01_f64..3.0) {
        let assembly = Assembly::new(layers, Direction::Horizontal);
        let before = assembly.transmittance().unwrap().u_w_m2k;
        let mut thicker = assembly.clone();
        let index = pick % thicker.layers.len();
        if let Body::Filled { thickness_m, main: Filling::Solid(_), .. } = &mut thicker.layers[index].body {
            *thickness_m *= more;
            prop_assert!(thicker.transmittance().unwrap().u_w_m2k < before);
        }
    }
}
