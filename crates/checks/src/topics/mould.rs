//! The mould index: trajectories at constant state, critical humidity, decline.

use crate::reference::Data;
use crate::{Check, Compute, Kind, Tolerance};
use moisture::mould::{MouldIndex, Sensitivity, critical_humidity_pct};

const DATA: &str = include_str!("../../../../reference/moisture/mould_index.toml");

pub(crate) fn checks() -> Vec<Check> {
    let data = Data::read(DATA);
    let mut checks = Vec::new();
    for (k, t) in data.list("trajectory").iter().enumerate() {
        for (i, days) in t.numbers("days").into_iter().enumerate() {
            let reference = t.number(&format!("M_hourly_euler.{i}"));
            // The short ones of slow classes lie below what three tolerances could show.
            if reference < 0.05 {
                continue;
            }
            let state = (t.number("T_C"), t.number("rh_pct"), class(&t.text("cls")));
            checks.push(check(
                format!("trajectory.{k}.{days}d"),
                format!("index after {days} days at {} °C, {} %, {}", state.0, state.1, t.text("cls")),
                reference,
                data.number("tolerance.abs_M"),
                Box::new(move |nudge| {
                    let (temperature, humidity, class) = state;
                    let mut m = MouldIndex::default();
                    for _ in 0..(24.0 * days) as usize {
                        m.advance(class, 1.0, temperature, (humidity * nudge).min(100.0), 1.0);
                    }
                    Ok(m.index)
                }),
            ));
        }
    }
    for (i, temperature) in data.numbers("point_checks.rhcrit_T_C").into_iter().enumerate() {
        for (name, sensitivity) in [("80", Sensitivity::Very), ("85", Sensitivity::Medium)] {
            let reference = data.number(&format!("point_checks.rhcrit_class_{name}.{i}"));
            // Where the floor or the frost end holds, temperature has no say and a nudge cannot move the result.
            if temperature == 0.0 || reference == 80.0 || reference == 85.0 {
                continue;
            }
            checks.push(check(
                format!("critical.{name}.{temperature}C"),
                format!("critical humidity at {temperature} °C, floor {name} %"),
                reference,
                1e-3,
                Box::new(move |nudge| Ok(critical_humidity_pct(sensitivity, temperature * nudge))),
            ));
        }
    }
    checks
}

fn class(name: &str) -> Sensitivity {
    match name {
        "very_sensitive" => Sensitivity::Very,
        "sensitive" => Sensitivity::Sensitive,
        "medium_resistant" => Sensitivity::Medium,
        _ => Sensitivity::Resistant,
    }
}

fn check(id: String, quantity: String, reference: f64, tolerance: f64, compute: Compute) -> Check {
    Check {
        topic: match id.split('.').nth(1) {
            _ if id.starts_with("critical") => "Critical humidity for mould",
            Some("0" | "1") => "Mould index, early trajectories",
            _ => "Mould index",
        },
        id: format!("mould.{id}"),
        quantity,
        unit: "1",
        reference,
        tolerance: Tolerance::Absolute(tolerance),
        kind: Kind::OwnConverged,
        source: "Hukka and Viitanen 1999, Ojanen et al. 2010, from memory; integrated by another program"
            .to_owned(),
        seen: false,
        known_gap: None,
        compute,
    }
}
