use super::*;
use crate::periodic::{self, Side, Transfer};
use proptest::prelude::*;
use std::f64::consts::PI;

/// The assemblies of the invented demonstration building, inside → outside, bridged layers as their mean.
pub(crate) fn demo() -> Vec<(&'static str, Vec<ConductionLayer>)> {
    let l = ConductionLayer::solid;
    vec![
        (
            "upper wall",
            vec![
                l(0.0159, 0.21, 800.0, 1000.0),
                l(0.038, 0.0455, 120.0, 1200.0),
                l(0.0127, 0.13, 500.0, 1600.0),
                l(0.14, 0.048, 110.0, 1650.0),
                l(0.038, 0.039, 56.0, 1600.0),
                l(0.010, 0.70, 1600.0, 1000.0),
                l(0.015, 0.70, 1600.0, 1000.0),
                l(0.203, 0.70, 1700.0, 840.0),
            ],
        ),
        ("existing wall", vec![l(0.015, 0.70, 1600.0, 1000.0), l(0.203, 0.70, 1700.0, 840.0)]),
        (
            "roof",
            vec![
                l(0.057, 0.12, 480.0, 1600.0),
                l(0.0159, 0.13, 500.0, 1600.0),
                l(0.24, 0.040, 160.0, 2100.0),
                l(0.0127, 0.21, 800.0, 1000.0),
            ],
        ),
        (
            "floor over pottery",
            vec![
                l(0.022, 0.17, 700.0, 1600.0),
                l(0.020, 0.048, 250.0, 2100.0),
                l(0.019, 0.13, 500.0, 1600.0),
                l(0.070, 0.12, 480.0, 1600.0),
                l(0.140, 0.037, 30.0, 1030.0),
                l(0.0318, 0.21, 800.0, 1000.0),
            ],
        ),
        (
            "lobby wall",
            vec![
                l(0.0159, 0.21, 800.0, 1000.0),
                l(0.0127, 0.13, 500.0, 1600.0),
                l(0.178, 0.048, 110.0, 1650.0),
                l(0.010, 0.70, 1600.0, 1000.0),
                l(0.203 + 0.115, 0.70, 1700.0, 840.0),
            ],
        ),
        (
            "lobby wall to pottery",
            vec![
                l(0.0159, 0.21, 800.0, 1000.0),
                l(0.0127, 0.13, 500.0, 1600.0),
                l(0.05, 0.040, 160.0, 2100.0),
                l(0.203, 0.70, 1700.0, 840.0),
            ],
        ),
        (
            "lobby slab",
            vec![l(0.010, 1.3, 2300.0, 840.0), l(0.120, 0.035, 30.0, 1450.0), l(0.100, 2.0, 2400.0, 1000.0)],
        ),
        ("gypsum partition half", vec![l(0.0125, 0.25, 900.0, 1000.0), ConductionLayer::resistance(0.18)]),
    ]
}

const RSI: f64 = 0.13;
const RSE: f64 = 0.04;

/// Transfer matrix between air and air of a reduced element, in the order (Y11, Y22, Y12).
fn air_to_air(y: Admittance) -> [Complex; 3] {
    // Written as a transfer matrix here, so that the check does not share the reduction's own algebra.
    let z12 = y.cross.recip();
    let z11 = -(y.inside * z12);
    let z22 = -(y.outside * z12);
    let z21 = (z11 * z22 - Complex::ONE) / z12;
    let z = Transfer::resistance(RSI).then(Transfer { z11, z12, z21, z22 }).then(Transfer::resistance(RSE));
    let y = z.admittance();
    [y.inside, y.outside, -y.cross]
}

/// Periodic response of every demo assembly: size, and phase in minutes, within what is allowed; the outside face
/// `outside` times that, the transmittance but for `unfelt` of the steady one.
fn holds_periodically(tolerance: &Tolerance) {
    for (name, layers) in demo() {
        let element = reduce(&layers, tolerance).unwrap();
        let steady = 1.0 / (RSI + RSE + 1.0 / element.conductance_w_m2k);
        for (hours, size, minutes) in [(24.0, 0.01, 5.0), (2.0, 0.05, f64::INFINITY)] {
            let period = hours * 3600.0;
            let exact = periodic::response(&layers, RSI, RSE, period).unwrap();
            let reduced = air_to_air(element.admittance(Complex::new(0.0, 2.0 * PI / period)));
            let rows = [
                ("inside", exact.admittance_inside, 1.0, 0.0),
                ("outside", exact.admittance_outside, tolerance.outside, 0.0),
                ("through", exact.transmittance, 1.0, tolerance.unfelt * steady),
            ];
            for (r, (what, e, times, unfelt)) in reduced.iter().zip(rows) {
                if (*r - e).abs() <= unfelt {
                    continue;
                }
                let ratio = *r / e;
                let shift_min = periodic::argument(ratio).abs() * period / (2.0 * PI) / 60.0;
                let off = (ratio.abs() - 1.0).abs();
                assert!(off < times * size, "{name} {what} {hours} h: size {}", ratio.abs());
                assert!(shift_min < times * minutes, "{name} {what} {hours} h: {shift_min} min");
            }
        }
    }
}

/// Surfaces of every demo assembly within 0.05 K of the exact step response, 10 K, from 15 minutes on.
fn holds_after_a_step(tolerance: &Tolerance) {
    for (name, layers) in demo() {
        let element = reduce(&layers, tolerance).unwrap();
        for side in [Side::Inside, Side::Outside] {
            for minutes in [15.0, 20.0, 30.0, 45.0, 60.0, 120.0, 300.0, 600.0, 1440.0, 4320.0] {
                let t = minutes * 60.0;
                let exact = periodic::step_response(&layers, RSI, RSE, side, t).unwrap();
                let (qi, qo) = periodic::talbot(
                    |s| {
                        let [ii, oo, io] = air_to_air(element.admittance(s));
                        let over = s.recip();
                        match side {
                            Side::Inside => (ii * over, -(io * over)),
                            Side::Outside => (-(io * over), oo * over),
                        }
                    },
                    t,
                );
                let (ai, ao) = if side == Side::Inside { (1.0, 0.0) } else { (0.0, 1.0) };
                let inside = 10.0 * (ai - RSI * qi - exact.inside_surface);
                let outside = 10.0 * (ao - RSE * qo - exact.outside_surface);
                assert!(inside.abs() < 0.05, "{name} {side:?} {minutes} min: inside {inside} K");
                assert!(
                    outside.abs() < 0.05 * tolerance.outside,
                    "{name} {side:?} {minutes} min: outside {outside} K"
                );
            }
        }
    }
}

#[test]
fn periodic_response_of_every_demo_assembly() {
    holds_periodically(&Tolerance::default());
    holds_periodically(&Tolerance::inside());
}

#[test]
fn surface_temperature_after_a_step_of_ten_kelvin() {
    holds_after_a_step(&Tolerance::default());
    holds_after_a_step(&Tolerance::inside());
}

#[test]
fn few_modes_do() {
    let counts = |tolerance: &Tolerance| -> Vec<usize> {
        demo().iter().map(|(_, l)| reduce(l, tolerance).unwrap().modes.len()).collect()
    };
    assert_eq!(counts(&Tolerance::default()), [10, 7, 10, 8, 10, 8, 6, 2]);
    assert_eq!(counts(&Tolerance::inside()), [8, 6, 8, 6, 8, 6, 5, 2]);
}

#[test]
fn plan_of_the_nominal_serves_its_variations() {
    for (name, layers) in demo() {
        let (nominal, _) = plan(&layers, &Tolerance::default()).unwrap();
        for factor in [0.7, 0.85, 1.15, 1.4] {
            let varied: Vec<ConductionLayer> = layers
                .iter()
                .enumerate()
                .map(|(k, l)| match *l {
                    ConductionLayer::Solid {
                        thickness_m,
                        conductivity_w_mk,
                        density_kg_m3,
                        specific_heat_j_kgk,
                    } => {
                        let f = if k % 2 == 0 { factor } else { 1.0 / factor };
                        ConductionLayer::solid(
                            thickness_m,
                            conductivity_w_mk * f,
                            density_kg_m3,
                            specific_heat_j_kgk,
                        )
                    }
                    other => other,
                })
                .collect();
            let element = reduce_by(&varied, &nominal).unwrap();
            assert_eq!(element.modes.len(), nominal.modes());
            let day = 2.0 * PI / 86_400.0;
            let exact = periodic::response(&varied, RSI, RSE, 86_400.0).unwrap();
            let [ii, _, io] = air_to_air(element.admittance(Complex::new(0.0, day)));
            assert!(((ii / exact.admittance_inside) - Complex::ONE).abs() < 0.01, "{name} {factor}");
            assert!(((io / exact.transmittance) - Complex::ONE).abs() < 0.01, "{name} {factor}");
        }
    }
}

#[test]
fn steps_agree_with_the_continuous_modes() {
    let mode = Mode { rate_per_s: 1e-4, inside: 1.0, outside: 0.0 };
    for (step, gap) in [(900.0, 3e-3), (90.0, 3e-5)] {
        let (i, r) = (mode.implicit_step(step), mode.ramp_step(step));
        assert!((i.decay - r.decay).abs() < 1.5 * gap, "{i:?} {r:?}");
    }
    let slow = Mode { rate_per_s: 1.0e-6, ..mode };
    let (just_below, just_above) = (slow.ramp_step(999.9), slow.ramp_step(1000.1));
    assert!((just_below.gain - just_above.gain - 1e-7).abs() < 1e-10);
}

/// Steps an element with backward Euler over a repeating day and returns (heat in over the day, gross heat).
fn day_of_heat(element: &ModalElement, days: usize) -> (f64, f64, f64) {
    let dt = 900.0;
    let temperatures = |k: usize| {
        let a = 2.0 * PI * (k % 96) as f64 / 96.0;
        (20.0 + 2.0 * numeric::scalar::sin(a), 5.0 + 8.0 * numeric::scalar::cos(a))
    };
    let steps: Vec<ModeStep> = element.modes.iter().map(|m| m.implicit_step(dt)).collect();
    let mut z = vec![0.0; element.modes.len()];
    let (mut net, mut gross) = (0.0, 0.0);
    let mut stored = element.stored_j_m2(temperatures(0).0, temperatures(0).1, &z);
    let mut drift = 0.0_f64;
    for k in 1..=days * 96 {
        let (ti0, to0) = temperatures(k - 1);
        let (ti, to) = temperatures(k);
        let (di, dout) = (ti - ti0, to - to0);
        let mut qi = element.conductance_w_m2k * (ti - to)
            + (element.inside_residual * di + element.cross_residual * dout) / dt;
        let mut qo = -element.conductance_w_m2k * (ti - to)
            + (element.outside_residual * dout + element.cross_residual * di) / dt;
        for (j, mode) in element.modes.iter().enumerate() {
            z[j] = steps[j].decay * z[j] + steps[j].gain * (mode.inside * di + mode.outside * dout);
            qi += mode.inside * z[j];
            qo += mode.outside * z[j];
        }
        let now = element.stored_j_m2(ti, to, &z);
        drift = drift.max((now - stored - (qi + qo) * dt).abs());
        stored = now;
        if k > (days - 1) * 96 {
            net += (qi + qo) * dt;
            gross += (qi.abs() + qo.abs()) * dt;
        }
    }
    (net, gross, drift)
}

prop_compose! {
    fn any_layer()(
        thickness in 0.002_f64..0.4,
        conductivity in 0.02_f64..3.0,
        density in 20.0_f64..2500.0,
        heat in 700.0_f64..2200.0,
        kind in 0..6,
    ) -> ConductionLayer {
        if kind == 0 {
            ConductionLayer::resistance(thickness)
        } else {
            ConductionLayer::solid(thickness, conductivity, density, heat)
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_stack_reduces_passively(layers in prop::collection::vec(any_layer(), 1..9)) {
        let element = reduce(&layers, &Tolerance::default()).unwrap();
        let capacity: f64 = layers.iter().map(|l| l.capacity_j_m2k()).sum();
        let resistance: f64 = layers.iter().map(|l| l.resistance_m2k_w()).sum();
        prop_assert!((element.conductance_w_m2k * resistance - 1.0).abs() < 1e-12);
        let (inside, outside) = element.face_capacities_j_m2k();
        prop_assert!((inside + outside - capacity).abs() <= 1e-6 * capacity + 1e-9, "{} {}", inside + outside, capacity);
        prop_assert!(element.inside_residual >= 0.0 && element.outside_residual >= 0.0);
        let product = element.inside_residual * element.outside_residual;
        prop_assert!(element.cross_residual * element.cross_residual <= product * (1.0 + 1e-9));
        prop_assert!(element.modes.iter().all(|m| m.rate_per_s > 0.0));
        prop_assert!(element.modes.len() <= 16);
    }

    #[test]
    fn reversing_the_layers_swaps_the_faces(layers in prop::collection::vec(any_layer(), 1..7)) {
        let forward = Transfer::of_layers(&layers, Complex::new(0.0, 7e-5)).admittance();
        let back: Vec<ConductionLayer> = layers.iter().rev().copied().collect();
        let backward = Transfer::of_layers(&back, Complex::new(0.0, 7e-5)).admittance();
        prop_assert!((forward.inside - backward.outside).abs() <= 1e-9 * forward.inside.abs());
        prop_assert!((forward.cross - backward.cross).abs() <= 1e-9 * forward.cross.abs());
    }

    #[test]
    fn a_repeated_day_closes(layers in prop::collection::vec(any_layer(), 1..6)) {
        let element = reduce(&layers, &Tolerance::default()).unwrap();
        let slowest = element.modes.first().map_or(1.0, |m| m.rate_per_s);
        let days = (30.0 / slowest / 86_400.0).ceil().clamp(2.0, 4000.0) as usize;
        let (net, gross, drift) = day_of_heat(&element, days);
        prop_assert!(net.abs() <= 1e-7 * gross + 1e-6, "net {net} of {gross} J");
        prop_assert!(drift <= 1e-8 * gross + 1e-6, "stored heat drifts by {drift} J of {gross} J");
    }
}

#[test]
fn nothing_stored_needs_no_modes() {
    let element = reduce(&[ConductionLayer::resistance(0.5)], &Tolerance::default()).unwrap();
    assert_eq!(element, ModalElement::massless(2.0));
}

#[test]
fn bad_layers_are_named() {
    let thin = [ConductionLayer::resistance(0.1), ConductionLayer::solid(0.0, 1.0, 1000.0, 1000.0)];
    let error = reduce(&thin, &Tolerance::default()).unwrap_err();
    assert_eq!(error.to_string(), "layer 2: thickness, m is 0, but must be above zero and finite");
    assert!(matches!(reduce(&[], &Tolerance::default()), Err(crate::FabricError::NoResistance { .. })));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn a_plan_serves_other_conductivities(
        layers in prop::collection::vec(any_layer(), 1..10),
        factors in prop::collection::vec(0.4_f64..2.5, 10),
    ) {
        let (plan, nominal) = plan(&layers, &Tolerance::default()).unwrap();
        prop_assert!(nominal.modes.len() <= 14);
        let varied: Vec<ConductionLayer> = layers
            .iter()
            .zip(&factors)
            .map(|(layer, f)| match *layer {
                ConductionLayer::Solid { thickness_m, conductivity_w_mk, density_kg_m3, specific_heat_j_kgk } => {
                    let conductivity = conductivity_w_mk * f;
                    ConductionLayer::solid(thickness_m, conductivity, density_kg_m3, specific_heat_j_kgk)
                }
                other => other,
            })
            .collect();
        let element = reduce_by(&varied, &plan).unwrap();
        prop_assert_eq!(element.modes.len(), plan.modes());
        let exact = periodic::response(&varied, RSI, RSE, 86_400.0).unwrap();
        let [inside, _, _] = air_to_air(element.admittance(Complex::new(0.0, 2.0 * PI / 86_400.0)));
        let gap = (inside / exact.admittance_inside - Complex::ONE).abs();
        prop_assert!(gap < 0.05, "{}", gap);
    }
}

#[test]
fn layers_without_end_keep_their_surface() {
    // Sixty metres of earth: far beyond what a transfer matrix can hold, yet a plain half-space at its faces.
    let earth = [ConductionLayer::solid(60.0, 2.0, 2000.0, 1000.0)];
    let element = reduce(&earth, &Tolerance::default()).unwrap();
    let exact = periodic::step_response(&earth, RSI, RSE, Side::Inside, 86_400.0).unwrap();
    let y = periodic::admittance(&earth, Complex::real(1.0 / 900.0));
    // Half-space: √(s λ ρ c).
    assert!((y.inside.re - (2.0 * 2.0e6 / 900.0_f64).sqrt()).abs() < 1e-9 * y.inside.re);
    assert!(y.cross.abs() < 1e-300);
    assert!(exact.inside_surface > 0.5 && exact.outside_surface.abs() < 1e-6);
    let (inside, outside) = element.face_capacities_j_m2k();
    assert!(((inside + outside) / (60.0 * 2.0e6) - 1.0).abs() < 1e-6);
}
