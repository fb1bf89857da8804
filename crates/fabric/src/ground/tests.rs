use super::hourly::floor_element;
use super::monthly::{YearlyTemperature, flow};
use super::*;
use crate::transient::{ConductionLayer, Tolerance, reduce};

fn slab() -> Slab {
    Slab {
        plan: FloorPlan { area_m2: 80.0, perimeter_m: 36.0, wall_thickness_m: 0.3 },
        soil: Soil::CLAY_OR_SILT,
        floor_m2k_w: 2.5,
        edge: None,
    }
}

fn outside() -> YearlyTemperature {
    YearlyTemperature { mean_c: 15.0, swing_k: 11.0, coldest_month: 1.2 }
}

#[test]
fn months_average_to_the_year() {
    let t = slab().transfer().unwrap();
    let f = flow(&t, &YearlyTemperature::constant(20.0), &outside()).unwrap();
    let mean = f.months_w.iter().sum::<f64>() / 12.0;
    assert!((mean - f.mean_w).abs() < 1e-9);
    assert!((f.mean_w - 5.0 * t.steady_w_k).abs() < 1e-9);
    let peak = f.months_w.iter().cloned().fold(f64::MIN, f64::max);
    assert!(peak > f.mean_w + 0.9 * t.outside_swing_w_k * 11.0);
}

#[test]
fn harmonic_fit_returns_its_wave() {
    let wave = outside();
    let months = std::array::from_fn(|k| wave.at_month(k as f64 + 1.0));
    let fit = YearlyTemperature::of_months(&months);
    assert!((fit.mean_c - 15.0).abs() < 1e-12);
    assert!((fit.swing_k - 11.0).abs() < 1e-12);
    assert!((fit.coldest_month - 1.2).abs() < 1e-12);
}

/// Steps the stand-in through ten years at hourly steps and returns the last year's heat, kWh/m².
fn yearly_heat_kwh_m2(inside_c: f64) -> (f64, [f64; 12]) {
    let slab = slab();
    let t = slab.transfer().unwrap();
    let floor = [ConductionLayer::solid(0.1, 0.04, 30.0, 1450.0)];
    let e = floor_element(&t, &floor, &slab.soil, &YearlyTemperature::constant(20.0), &outside()).unwrap();
    let modal = reduce(&e.layers, &Tolerance::default()).unwrap();
    let steps: Vec<_> = modal.modes.iter().map(|m| m.implicit_step(3600.0)).collect();
    let gain: f64 = modal.modes.iter().zip(&steps).map(|(m, s)| m.inside * m.inside * s.gain).sum();
    let mut z = vec![0.0; modal.modes.len()];
    let (mut surface, mut ground) = (inside_c, e.ground.at_hour(0.0));
    let mut months = [0.0; 12];
    for hour in 1..=87_600_u32 {
        let next = e.ground.at_hour(f64::from(hour));
        // The surface follows from the film: (Ta − Ts)/Rsi = q(Ts).
        let known: f64 = modal
            .modes
            .iter()
            .zip(&steps)
            .zip(&z)
            .map(|((m, s), z)| m.inside * (s.decay * z + s.gain * m.outside * (next - ground)))
            .sum();
        let k = modal.conductance_w_m2k;
        let r = modal.inside_residual / 3600.0;
        let x = modal.cross_residual * (next - ground) / 3600.0;
        let new = (inside_c / e.rsi_m2k_w + k * next + (gain + r) * surface - known - x)
            / (1.0 / e.rsi_m2k_w + k + gain + r);
        let q = (inside_c - new) / e.rsi_m2k_w;
        for (j, m) in modal.modes.iter().enumerate() {
            z[j] = steps[j].decay * z[j]
                + steps[j].gain * (m.inside * (new - surface) + m.outside * (next - ground));
        }
        (surface, ground) = (new, next);
        if hour > 9 * 8760 {
            months[((hour - 1) % 8760 / 730) as usize] += q / 730.0;
        }
    }
    (months.iter().sum::<f64>() * 0.73, months)
}

#[test]
fn stand_in_gives_the_yearly_heat_for_any_inside_temperature() {
    let t = slab().transfer().unwrap();
    for inside in [20.0, 23.0] {
        let f = flow(&t, &YearlyTemperature::constant(inside), &outside()).unwrap();
        let (heat, months) = yearly_heat_kwh_m2(inside);
        let expected = f.yearly_kwh() / t.area_m2;
        assert!((heat / expected - 1.0).abs() < 1e-3, "{heat} {expected}");
        // Months of 730 h stand for the month's middle; the mean of a wave over a month is 1.1 % below its top.
        for (m, w) in months.iter().zip(&f.months_w) {
            assert!((m - w / t.area_m2).abs() < 0.03, "{months:?} {:?}", f.months_w);
        }
    }
}

#[test]
fn more_insulation_loses_less() {
    let u = |r| Slab { floor_m2k_w: r, ..slab() }.transfer().unwrap().u_w_m2k;
    let mut last = f64::INFINITY;
    for r in [0.0, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0] {
        assert!(u(r) < last);
        last = u(r);
    }
}

#[test]
fn layers_of_another_floor_are_refused() {
    let t = slab().transfer().unwrap();
    let wrong = [ConductionLayer::resistance(9.0)];
    let inside = YearlyTemperature::constant(20.0);
    let error = floor_element(&t, &wrong, &Soil::CLAY_OR_SILT, &inside, &outside()).unwrap_err();
    assert!(error.to_string().contains("give the layers that U was worked out with"), "{error}");
}
