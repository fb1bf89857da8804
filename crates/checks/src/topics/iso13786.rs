//! Periodic heat flow through layers: admittance, transmittance, lag, areal heat capacity.

use crate::reference::Data;
use crate::{Check, Kind, Tolerance};
use fabric::periodic::{PeriodicResponse, response};
use fabric::transient::ConductionLayer;

const DATA: &str = include_str!("../../../../reference/fabric/transient.toml");

type Pick = fn(&PeriodicResponse) -> f64;

/// What each wall is checked for; walls are many, so that each shows other sides of the result.
const PICKS: [(&str, &str, &str, Pick); 8] = [
    ("u", "U", "W/(m²·K)", |r| r.u_w_m2k),
    ("y11", "Y11", "W/(m²·K)", |r| r.admittance_inside.abs()),
    ("y22", "Y22", "W/(m²·K)", |r| r.admittance_outside.abs()),
    ("y12", "Y12", "W/(m²·K)", |r| r.transmittance.abs()),
    ("decrement", "decrement_factor", "", PeriodicResponse::decrement_factor),
    ("lag", "transmittance_lag_h", "h", |r| r.transmittance_lag_h),
    ("lead", "Y11_lead_h", "h", PeriodicResponse::inside_lead_h),
    ("kappa1", "kappa_1", "J/(m²·K)", |r| r.capacity_inside_j_m2k),
];

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = Vec::new();
    for (wall, case) in Data::read(DATA).list("periodic").into_iter().enumerate() {
        for (what, key, unit, pick) in PICKS.into_iter().skip(wall % 2).step_by(2) {
            let c = case.clone();
            checks.push(Check {
                id: format!("iso13786.{}.{what}", case.text("id").replace('@', "-")),
                topic: "ISO 13786",
                quantity: format!("{}: {key}", case.text("title")),
                unit,
                reference: case.number(key),
                // The case's own tolerance, but not finer than its seventh printed decimal (fifth for lags).
                tolerance: Tolerance::Absolute(
                    (case.number("tolerance_relative") * case.number(key).abs()).max(if unit == "h" {
                        1e-5
                    } else {
                        6e-8
                    }),
                ),
                kind: Kind::ClosedForm,
                source: "complex transfer matrices by ISO 13786:2017 (memory), another program".to_owned(),
                seen: false,
                known_gap: None,
                compute: Box::new(move |nudge| {
                    let r =
                        response(&layers(&c, nudge), c.number("Rsi"), c.number("Rse"), c.number("period_s"));
                    r.map(|r| pick(&r)).map_err(|e| e.to_string())
                }),
            });
        }
    }
    checks
}

/// Layers of a case, inside → outside; the nudge scales their conductivities.
pub(super) fn layers(case: &Data, nudge: f64) -> Vec<ConductionLayer> {
    case.list("layers_inside_to_outside")
        .iter()
        .map(|l| {
            ConductionLayer::solid(
                l.number("thickness"),
                l.number("conductivity") * nudge,
                l.number("rho"),
                l.number("cp"),
            )
        })
        .collect()
}
