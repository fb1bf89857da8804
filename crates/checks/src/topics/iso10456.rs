//! Conductivity at other temperature and moisture; surfaces that stay dry.

use crate::reference::Data;
use crate::{Check, Kind, Tolerance};
use fabric::conversion::{MoistureRule, State, convert};
use fabric::surface;

const DATA: &str = include_str!("../../../../reference/fabric/conversions.toml");

pub(crate) fn checks() -> Vec<Check> {
    let data = Data::read(DATA);
    let mut checks = conversions(&data);
    checks.extend(surfaces(&data));
    checks
}

fn conversions(data: &Data) -> Vec<Check> {
    data.list("case")
        .into_iter()
        .map(|case| {
            let c = case.clone();
            Check {
                id: format!("iso10456.{}", case.text("id")),
                topic: "ISO 10456",
                quantity: format!("conductivity at other conditions: {}", case.text("id")),
                unit: "W/(m·K)",
                reference: case.number("result"),
                tolerance: Tolerance::Absolute(data.number("tolerance")),
                kind: Kind::ClosedForm,
                source: data.text("source"),
                seen: false,
                known_gap: None,
                compute: Box::new(move |nudge| {
                    let factor = c.number("f_m");
                    let rule = match c.text("rule").as_str() {
                        "mass" => MoistureRule::ByMass { factor },
                        _ => MoistureRule::ByVolume { factor },
                    };
                    let state =
                        |t: &str, m: &str| State { temperature_c: c.number(t), moisture: c.number(m) };
                    convert(
                        c.number("conductivity") * nudge,
                        state("T1", "m1"),
                        state("T2", "m2"),
                        c.number("f_T"),
                        rule,
                        c.number("ageing"),
                    )
                    .map(|r| r.conductivity_w_mk)
                    .map_err(|e| e.to_string())
                }),
            }
        })
        .collect()
}

fn surfaces(data: &Data) -> Vec<Check> {
    let mut checks = Vec::new();
    for case in data.list("surface.case") {
        let (humidity, limit) = (case.number("humidity"), case.number("limit"));
        for (key, unit) in [("surface", "°C"), ("factor", "")] {
            checks.push(Check {
                id: format!("iso13788.{key}.{humidity}-{limit}"),
                topic: "ISO 13788 surfaces",
                quantity: format!("lowest safe surface {key} at {humidity} inside, {limit} at the surface"),
                unit,
                reference: case.number(key),
                // Nine printed decimals.
                tolerance: Tolerance::Absolute(2e-9),
                kind: Kind::ClosedForm,
                source: "saturation formula of ISO 13788:2012 (memory) inverted, another program".to_owned(),
                seen: false,
                known_gap: None,
                compute: Box::new(move |nudge| {
                    surface::limit(20.0, humidity * nudge, -5.0, limit)
                        .map(|l| if key == "surface" { l.surface_c } else { l.factor })
                        .map_err(|e| e.to_string())
                }),
            });
        }
    }
    checks
}
