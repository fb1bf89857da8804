//! The simple hourly methods that stand beside the balance: five resistances and one capacity, five-node element.

use crate::reference::{Data, rows};
use crate::{Check, Compute, Kind, Tolerance};
use year::simple::{FiveNodes, FiveResistances, HourOfZone, MassClass, ZoneTemperatures};

const ZONE: &str = include_str!("../../../../reference/building/iso13790_5r1c.toml");
const ZONE_HOURS: &str = include_str!("../../../../reference/building/iso13790_5r1c_48h.csv");
const WALL: &str = include_str!("../../../../reference/building/iso52016_element.toml");
const WALL_HOURS: &str = include_str!("../../../../reference/building/iso52016_wall_24h.csv");

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = single_step();
    checks.extend(two_days());
    checks.extend(element());
    checks
}

fn check(
    id: String,
    quantity: String,
    unit: &'static str,
    reference: f64,
    tolerance: Tolerance,
    standard: &str,
    compute: impl Fn(f64) -> Result<f64, String> + Send + Sync + 'static,
) -> Check {
    Check {
        id: format!("simple-hourly.{id}"),
        topic: "Simple hourly methods",
        quantity,
        unit,
        reference,
        tolerance,
        kind: Kind::OwnConverged,
        source: format!("{standard}, equations from memory; numbers by another program of ours"),
        seen: false,
        known_gap: None,
        compute: Box::new(compute) as Compute,
    }
}

fn zone(data: &Data, nudge: f64) -> FiveResistances {
    let n = |key: &str| data.number(&format!("input.{key}"));
    FiveResistances {
        windows_w_k: n("h_tr_w"),
        opaque_w_k: n("h_tr_op") * nudge,
        air_w_k: n("h_ve"),
        mass_area_m2: n("a_m"),
        capacity_j_k: n("c_m_j_k"),
        faces_m2: n("a_t"),
    }
}

fn single_step() -> Vec<Check> {
    let data = Data::read(ZONE);
    type Output = (&'static str, fn(&ZoneTemperatures) -> f64);
    let outputs: [Output; 5] = [
        ("theta_mt", |t| t.mass_end_c),
        ("theta_m", |t| t.mass_c),
        ("theta_s", |t| t.faces_c),
        ("theta_air", |t| t.air_c),
        ("theta_op", |t| t.operative_c),
    ];
    outputs
        .into_iter()
        .map(|(key, read)| {
            let reference = data.number(&format!("expected_single_step.{key}"));
            let data = data.clone();
            check(
                format!("one-hour.{}", key.replace('_', "-")),
                format!("one hour of five resistances, {key}"),
                "°C",
                reference,
                Tolerance::Relative(1e-6),
                "ISO 13790:2008 Annex C",
                move |nudge| {
                    let n = |key: &str| data.number(&format!("input.{key}"));
                    let hour = HourOfZone {
                        outdoor_c: n("theta_e"),
                        supply_c: n("theta_sup"),
                        internal_w: n("phi_int"),
                        sun_w: n("phi_sol"),
                        plant_w: n("phi_hc"),
                    };
                    Ok(read(&zone(&data, nudge).hour(n("theta_m_prev"), &hour)))
                },
            )
        })
        .collect()
}

/// Heating and cooling of a two-day run, kWh.
fn run(data: &Data, season: &str, nudge: f64) -> (f64, f64) {
    let zone = zone(data, nudge);
    let n = |key: &str| data.number(&format!("run_48h_{season}.{key}"));
    let mut mass = n("theta_m_start");
    let (mut heating, mut cooling) = (0.0, 0.0);
    for row in rows(ZONE_HOURS).iter().filter(|r| r.text("run") == season) {
        let outdoor = row.number("theta_e");
        let hour = HourOfZone {
            outdoor_c: outdoor,
            supply_c: outdoor,
            internal_w: row.number("phi_int"),
            sun_w: row.number("phi_sol"),
            plant_w: 0.0,
        };
        let (power, t) = zone.controlled(mass, &hour, 20.0, 26.0, n("power_limit_w"));
        mass = t.mass_end_c;
        heating += power.max(0.0) / 1e3;
        cooling += (-power).max(0.0) / 1e3;
    }
    (heating, cooling)
}

fn two_days() -> Vec<Check> {
    let data = Data::read(ZONE);
    [("winter", "heating_kwh"), ("summer", "cooling_kwh")]
        .into_iter()
        .map(|(season, key)| {
            let reference = data.number(&format!("run_48h_{season}.{key}"));
            let data = data.clone();
            check(
                format!("two-days.{season}"),
                format!("48 hours in {season}, {}", key.replace("_kwh", "")),
                "kWh",
                reference,
                Tolerance::Relative(1e-5),
                "ISO 13790:2008 Annex C",
                move |nudge| {
                    let (heating, cooling) = run(&data, season, nudge);
                    Ok(if key == "heating_kwh" { heating } else { cooling })
                },
            )
        })
        .collect()
}

fn element() -> Vec<Check> {
    let classes = [
        ("I", MassClass::Inside),
        ("E", MassClass::Outside),
        ("IE", MassClass::Both),
        ("D", MassClass::Even),
        ("M", MassClass::Middle),
    ];
    let mut checks = Vec::new();
    for (name, class) in classes {
        let Some(row) =
            rows(WALL_HOURS).into_iter().rfind(|r| r.text("class") == name && r.number("step_h") == 24.0)
        else {
            continue;
        };
        for (node, column) in [(0, "n1"), (4, "n5")] {
            let reference = row.number(column);
            checks.push(check(
                format!("element.{}.{column}", name.to_lowercase()),
                format!("five-node wall of class {name} after a day, node {}", node + 1),
                "°C",
                reference,
                Tolerance::Absolute(1e-5),
                "ISO 52016-1:2017, 6.5.7",
                move |nudge| {
                    let data = Data::read(WALL);
                    let n = |key: &str| data.number(&format!("worked_step.{key}"));
                    let wall = FiveNodes {
                        resistance_m2k_w: n("rc_m2k_w") * nudge,
                        capacity_j_m2k: n("kappa_j_m2k"),
                        class,
                        outside_w_m2k: n("h_se_total"),
                        inside_w_m2k: n("h_si_total"),
                    };
                    let mut nodes = [n("node_start_c"); 5];
                    for h in 1..=24 {
                        let turn = std::f64::consts::TAU * (f64::from(h) - 9.0) / 24.0;
                        let outdoor = 5.0 * numeric::scalar::sin(turn);
                        nodes = wall.step(&nodes, outdoor, n("theta_int"), 3600.0);
                    }
                    Ok(nodes[node])
                },
            ));
        }
    }
    checks
}
