//! Closed forms of whole zones: steady loads, recovery, decays, a sinusoid through massive walls, night setback, degree
//! days.
//!
//! Steady states are exact and held to 1e-6. Changing states carry the error of the step, which falls at first order
//! (a check of its own): two step lengths, extrapolated, give the value the closed form must meet.

use super::tilted::denver;
use crate::reference::Data;
use crate::{Check, Compute, Kind, Tolerance};
use fabric::transient::{ConductionLayer, ModalElement, Tolerance as Reduction, reduce};
use numeric::scalar::{atan2, cos, sin};
use std::f64::consts::TAU;
use year::kernel::input::{
    AirMode, Drivers, Element, InsideFace, Leak, LeakFrom, LeakLaw, Model, NO_FILM_W_M2K, Options, Outside,
    OutsideFilm, Part, Surroundings, Zone,
};
use year::kernel::{self, KernelYear};

const CASES: &str = include_str!("../../../../reference/building/analytic_zone.toml");

pub(crate) fn checks() -> Vec<Check> {
    let data = Data::read(CASES);
    let find = |id: &str| {
        let found = data.list("case").into_iter().find(|c| c.text("id") == id);
        found.unwrap_or_else(|| Data::read(""))
    };
    let mut checks = vec![
        check(&find("a1"), "a1", "heating_load_w", "W", Tolerance::Relative(1e-6), |c, n| steady(c, n, true)),
        check(&find("a1"), "a1", "free_running_c", "°C", Tolerance::Absolute(1e-5), |c, n| {
            steady(c, n, false)
        }),
        check(&find("a2"), "a2", "load_w", "W", Tolerance::Relative(1e-6), recovery),
    ];
    for (key, hours) in [("t_1h", 1), ("t_8h", 8), ("t_24h", 24), ("t_72h", 72)] {
        checks.push(check(&find("b1"), "b1", key, "°C", Tolerance::Absolute(1e-4), move |c, n| {
            extrapolated(|steps| decay(c, n, steps, hours))
        }));
    }
    checks.push(order(find("b1")));
    for (key, hours, zone) in
        [("t_air_6h", 6, 0), ("t_mass_6h", 6, 1), ("t_air_48h", 48, 0), ("t_mass_48h", 48, 1)]
    {
        checks.push(check(&find("b2"), "b2", key, "°C", Tolerance::Absolute(1e-3), move |c, n| {
            extrapolated(|steps| two_capacities(c, n, steps, hours, zone))
        }));
    }
    for id in ["c1", "c2", "c3"] {
        checks.push(check(&find(id), id, "amplitude_ratio", "–", Tolerance::Relative(5e-4), |c, n| {
            extrapolated(|steps| Ok(swing(c, n, steps)?.0))
        }));
        checks.push(check(&find(id), id, "lag_h", "h", Tolerance::Absolute(0.005), |c, n| {
            extrapolated(|steps| Ok(swing(c, n, steps)?.1))
        }));
    }
    // The year's wave is slow against a quarter-hour: no extrapolation.
    checks.push(check(&find("c4"), "c4", "amplitude_ratio", "–", Tolerance::Relative(1e-6), |c, n| {
        Ok(swing(c, n, 4)?.0)
    }));
    checks.push(check(&find("c4"), "c4", "lag_h", "h", Tolerance::Absolute(0.01), |c, n| {
        Ok(swing(c, n, 4)?.1)
    }));
    checks.push(check(&find("d1"), "d1", "temp_after_off_c", "°C", Tolerance::Absolute(1e-4), |c, n| {
        extrapolated(|steps| after_off(c, n, steps))
    }));
    checks.push(check(&find("d2"), "d2", "holding_power_w", "W", Tolerance::Relative(1e-6), holding));
    checks.push(check(&find("e1"), "e1", "need_kwh", "kWh", Tolerance::Relative(1e-6), degree_days));
    checks
}

fn check(
    case: &Data,
    id: &str,
    key: &str,
    unit: &'static str,
    tolerance: Tolerance,
    compute: impl Fn(&Data, f64) -> Result<f64, String> + Send + Sync + 'static,
) -> Check {
    let case = case.clone();
    Check {
        id: format!("analytic-zone.{id}.{}", key.replace('_', "-")),
        topic: "Analytic zone",
        quantity: format!("{}: {}", case.text("description"), key.replace('_', " ")),
        unit,
        reference: case.number(&format!("expected.{key}")),
        tolerance,
        kind: Kind::ClosedForm,
        source: "closed form, worked two ways".to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(move |nudge| compute(&case, nudge)) as Compute,
    }
}

/// Observed order of the step's error.
fn order(case: Data) -> Check {
    let exact = case.number("expected.t_24h");
    Check {
        id: "analytic-zone.b1.order".to_owned(),
        topic: "Analytic zone",
        quantity: "order at which the error of the step falls (air's own heat, implicit Euler)".to_owned(),
        unit: "–",
        reference: 1.0,
        tolerance: Tolerance::Absolute(0.03),
        kind: Kind::ClosedForm,
        source: "order of the implicit Euler method".to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(move |nudge| {
            let error = |steps: usize| decay(&case, nudge, steps, 24).map(|t| (t - exact).abs());
            Ok(numeric::ln(error(4)? / error(8)?) / numeric::ln(2.0))
        }) as Compute,
    }
}

/// First-order extrapolation, twice: steps of 1/16, 1/32 and 1/64 h.
fn extrapolated(at: impl Fn(usize) -> Result<f64, String>) -> Result<f64, String> {
    let [a, b, c] = [at(16)?, at(32)?, at(64)?];
    let (first, second) = (2.0 * b - a, 2.0 * c - b);
    Ok((4.0 * second - first) / 3.0)
}

fn run(drivers: &Drivers, model: &Model) -> Result<KernelYear, String> {
    let options = Options { warm_up_days: 0, vapour: false, co2: false, trace: true, ..Options::default() };
    kernel::run(drivers, model, &options).map_err(|e| e.to_string())
}

fn last(year: &KernelYear, of: fn(&kernel::result::Trace) -> &Vec<f64>) -> f64 {
    year.trace.as_ref().and_then(|t| of(t).last().copied()).unwrap_or(f64::NAN)
}

/// A zone controlled by its air, joined to faces by convection alone.
fn plain_zone(volume_m3: f64, capacity_j_k: f64) -> Zone {
    Zone { air_weight: 1.0, radiant_rest_to_air: true, ..Zone::of_air(volume_m3, capacity_j_k) }
}

const INSIDE_FILM: f64 = 1.0 / 0.13;
const OUTSIDE_FILM: f64 = 1.0 / 0.04;

fn face() -> InsideFace {
    InsideFace {
        zone: 0,
        convection_w_m2k: INSIDE_FILM,
        radiation_w_m2k: 0.0,
        sun_share: 0.0,
        gain_share: 0.0,
    }
}

fn outdoors() -> Outside {
    let film = OutsideFilm { still_w_m2k: OUTSIDE_FILM, per_m_s: 0.0, radiation_w_m2k: 0.0 };
    Outside::Air { surroundings: 0, absorptance: 0.0, film }
}

fn dark(hours: usize) -> Surroundings {
    Surroundings { irradiance_w_m2: vec![0.0; hours], radiant_c: vec![0.0; hours] }
}

fn leak(model: &mut Model, volume_m3: f64, per_h: f64) {
    let law = LeakLaw::Constant(volume_m3 * per_h / 3600.0);
    model.leaks.push(Leak { zone: 0, from: LeakFrom::Outdoors, law });
}

fn steady(case: &Data, nudge: f64, heated: bool) -> Result<f64, String> {
    let n = |key: &str| case.number(&format!("input.{key}"));
    let mut d = Drivers::constant(1, 24, 1, n("theta_e"), 0.0);
    d.surroundings = vec![dark(24)];
    d.given =
        vec![kernel::input::GivenSeries { temperature_c: vec![n("theta_g"); 24], ..Default::default() }];
    let use_state = &mut d.uses[0].zones[0];
    use_state.equipment_w = n("internal_w") + n("solar_w");
    if heated {
        use_state.heat_above_c = n("theta_i");
    }
    let mut model = Model::of_zones(vec![Zone {
        bridges_w_k: n("psi_w_mk") * n("bridge_l_m") * nudge,
        ..plain_zone(n("volume_m3"), 0.0)
    }]);
    model.air_heat_j_m3k = n("rho") * n("cp");
    leak(&mut model, n("volume_m3"), n("ach"));
    let parts =
        [("wall", Part::Walls), ("roof", Part::Roof), ("floor", Part::Ground), ("window", Part::Windows)];
    for (i, (name, part)) in parts.into_iter().enumerate() {
        let ground = part == Part::Ground;
        let outside_m2k_w = if ground { 1.0 / NO_FILM_W_M2K } else { 1.0 / OUTSIDE_FILM };
        let rest = 1.0 / n(&format!("{name}_u")) - 1.0 / INSIDE_FILM - outside_m2k_w;
        model.assemblies.push(ModalElement::massless(1.0 / rest));
        model.elements.push(Element {
            assembly: i,
            area_m2: n(&format!("{name}_a")),
            inside: face(),
            outside: if ground {
                Outside::Given { series: 0, film_w_m2k: NO_FILM_W_M2K }
            } else {
                outdoors()
            },
            part,
        });
    }
    let year = run(&d, &model)?;
    Ok(if heated { year.heating_peak_w.value } else { last(&year, |t| &t.air_c) })
}

fn recovery(case: &Data, nudge: f64) -> Result<f64, String> {
    let n = |key: &str| case.number(&format!("input.{key}"));
    let mut d = Drivers::constant(1, 24, 1, n("theta_e"), 0.0);
    d.uses[0].zones[0].heat_above_c = n("theta_i");
    let volume = n("volume_m3");
    let mut model = Model::of_zones(vec![plain_zone(volume, 0.0)]);
    model.air_heat_j_m3k = n("rho") * n("cp");
    leak(&mut model, volume, n("ach_inf") * nudge);
    let flow = volume * n("ach_mech") / 3600.0;
    model.air_modes[0] = AirMode {
        supply_m3_s: vec![flow],
        extract_m3_s: vec![flow],
        recovery: n("recovery"),
        ..AirMode::default()
    };
    Ok(run(&d, &model)?.heating_peak_w.value)
}

fn decay(case: &Data, nudge: f64, steps_per_hour: usize, hours: usize) -> Result<f64, String> {
    let n = |key: &str| case.number(&format!("input.{key}"));
    let mut d = Drivers::constant(1, 72, steps_per_hour, n("te_c"), 0.0);
    d.uses[0].zones[0].equipment_w = n("gain_w");
    let mut model = Model::of_zones(vec![Zone {
        bridges_w_k: n("h_w_k") * nudge,
        equipment_radiant: 0.0,
        ..plain_zone(100.0, n("c_j_k"))
    }]);
    model.initial_c = n("t0_c");
    let trace = run(&d, &model)?.trace.ok_or("no trace")?;
    trace.air_c.get(hours * steps_per_hour - 1).copied().ok_or_else(|| "too short".to_owned())
}

fn two_capacities(
    case: &Data,
    nudge: f64,
    steps_per_hour: usize,
    hours: usize,
    zone: usize,
) -> Result<f64, String> {
    let n = |key: &str| case.number(&format!("input.{key}"));
    let mut d = Drivers::constant(2, 48, steps_per_hour, n("te_c"), 0.0);
    d.uses[0].zones[0].equipment_w = n("gain_air_w");
    let node = |capacity: f64, bridges_w_k: f64| Zone {
        bridges_w_k,
        equipment_radiant: 0.0,
        ..plain_zone(100.0, capacity)
    };
    let mut model = Model::of_zones(vec![
        node(n("c_air"), n("h_i") * nudge),
        // The mass is a second zone; air passed to and fro stands for the conductance between.
        node(n("c_mass"), n("h_me")),
    ]);
    let flow = n("h_im") / model.air_heat_j_m3k;
    model.air_modes[0].between_m3_s = vec![(0, 1, flow), (1, 0, flow)];
    model.initial_c = n("t_air0");
    let trace = run(&d, &model)?.trace.ok_or("no trace")?;
    trace.air_c.get((hours * steps_per_hour - 1) * 2 + zone).copied().ok_or_else(|| "too short".to_owned())
}

/// Amplitude of the zone's air over outdoors', and its lag in hours, behind one massive wall.
fn swing(case: &Data, nudge: f64, steps_per_hour: usize) -> Result<(f64, f64), String> {
    let n = |key: &str| case.number(&format!("input.{key}"));
    let period_h = n("period_h");
    // Periods until the swing repeats itself.
    let hours = if period_h > 100.0 { 2 * 8760 } else { 24 * 40 };
    let mut d = Drivers::constant(1, hours, steps_per_hour, 0.0, 0.0);
    let step_h = 1.0 / steps_per_hour as f64;
    let turn = |step: usize| TAU * (step as f64 + 0.5) * step_h / period_h;
    for step in 0..d.steps() {
        d.outdoor_c[step] = sin(turn(step));
    }
    d.surroundings = vec![dark(hours)];
    let mut model = Model::of_zones(vec![Zone {
        bridges_w_k: n("h_inf_w_k"),
        ..plain_zone(100.0, n("air_capacity_j_k"))
    }]);
    model.initial_c = 0.0;
    // The file runs outside to inside.
    let mut layers: Vec<ConductionLayer> = case
        .list("input.layers_k_rho_c_d")
        .iter()
        .map(|l| {
            let [k, rho, c, d] = ["0", "1", "2", "3"].map(|i| l.number(i));
            ConductionLayer::solid(d * nudge, k, rho, c)
        })
        .collect();
    layers.reverse();
    let fine = Reduction { daily: 2e-5, two_hours: 2e-3, step: 1e-3, most_modes: 60, ..Reduction::default() };
    model.assemblies = vec![reduce(&layers, &fine).map_err(|e| e.to_string())?];
    model.elements = vec![Element {
        assembly: 0,
        area_m2: n("wall_area"),
        inside: face(),
        outside: outdoors(),
        part: Part::Walls,
    }];
    let trace = run(&d, &model)?.trace.ok_or("no trace")?;
    // Fourier sum over the last whole period, states read as those of the steps' middles, where the outdoor air is.
    let count = (period_h / step_h).round() as usize;
    let from = trace.air_c.len() - count;
    let (mut re, mut im) = (0.0, 0.0);
    for step in from..trace.air_c.len() {
        re += trace.air_c[step] * sin(turn(step)) * 2.0 / count as f64;
        im += trace.air_c[step] * cos(turn(step)) * 2.0 / count as f64;
    }
    let lag = (-atan2(im, re) / TAU * period_h).rem_euclid(period_h);
    Ok(((re * re + im * im).sqrt(), lag))
}

fn after_off(case: &Data, nudge: f64, steps_per_hour: usize) -> Result<f64, String> {
    let n = |key: &str| case.number(&format!("input.{key}"));
    let mut d = Drivers::constant(1, 24, steps_per_hour, n("te_c"), 0.0);
    d.uses[0].zones[0].heat_above_c = n("setback_c");
    let mut model =
        Model::of_zones(vec![Zone { bridges_w_k: n("h_w_k") * nudge, ..plain_zone(100.0, n("c_j_k")) }]);
    model.initial_c = n("day_c");
    let trace = run(&d, &model)?.trace.ok_or("no trace")?;
    let off = n("off_h") as usize * steps_per_hour;
    trace.air_c.get(off - 1).copied().ok_or_else(|| "too short".to_owned())
}

fn holding(case: &Data, nudge: f64) -> Result<f64, String> {
    let n = |key: &str| case.number(&format!("input.{key}"));
    let mut d = Drivers::constant(1, 24, 4, n("te_c"), 0.0);
    d.uses[0].zones[0].heat_above_c = n("setback_c");
    let mut model =
        Model::of_zones(vec![Zone { bridges_w_k: n("h_w_k") * nudge, ..plain_zone(100.0, n("c_j_k")) }]);
    model.initial_c = n("day_c");
    Ok(last(&run(&d, &model)?, |t| &t.power_w))
}

fn degree_days(case: &Data, nudge: f64) -> Result<f64, String> {
    let n = |key: &str| case.number(&format!("input.{key}"));
    let climate = denver()?;
    let mut d = Drivers::constant(1, climate.hours.len(), 1, 0.0, 0.0);
    d.outdoor_c = climate.hours.iter().map(|h| h.dry_bulb_c).collect();
    d.uses[0].zones[0].equipment_w = n("gain_w");
    d.uses[0].zones[0].heat_above_c = n("set_c");
    let model = Model::of_zones(vec![Zone { bridges_w_k: n("h_w_k") * nudge, ..plain_zone(100.0, 0.0) }]);
    Ok(run(&d, &model)?.heating_j() / 3.6e6)
}
