//! Commissioning and guarded tests of the demonstration building, and the density of raw flows.

use crate::reference::Data;
use crate::{Check, Kind, Tolerance};
use air::commissioning::{Meter, duct_leak_share, imbalance};
use air::guarded::{GuardedTest, Setup, separate};
use air::leakage::PowerLaw;
use air::test_budget::Estimate;

const READINGS: &str = include_str!("../../../../reference/air/demonstration_commissioning.toml");

pub(crate) fn checks() -> Vec<Check> {
    let data = Data::read(READINGS);
    let mut checks = Vec::new();
    for case in data.list("imbalance") {
        let c = case.clone();
        let id = format!("imbalance.{}", case.text("name"));
        checks.push(check(
            &id,
            "imbalance of outdoor and exhaust air",
            "%",
            case.number("per_cent"),
            0.05,
            move |nudge| {
                let meter = Meter { share: 0.03, least_m3_h: 3.0 };
                let found = imbalance(c.number("outdoor") * nudge, c.number("exhaust"), meter);
                found.map(|i| 100.0 * i.share_of_larger).ok_or_else(|| "no flow".to_owned())
            },
        ));
    }
    for case in data.list("duct_leak") {
        let c = case.clone();
        let id = format!("duct-leak.{}", case.text("name"));
        let half = case.number("half_digit");
        checks.push(check(
            &id,
            "air lost between unit and terminals",
            "%",
            case.number("per_cent"),
            half,
            move |nudge| Ok(100.0 * duct_leak_share(c.number("at_unit"), c.number("terminals") * nudge)),
        ));
    }
    checks.extend(party(&data));
    checks.extend(density());
    checks
}

fn party(data: &Data) -> Vec<Check> {
    let of = |unguarded: &'static str, guarded: &'static str, key: &'static str, id: &str| {
        let d = data.at("party");
        check(
            id,
            "leak through the party boundary at 50 Pa, by two tests",
            "m³/h",
            data.number(&format!("party.{key}")),
            0.5,
            move |nudge| {
                let test =
                    |setup, flow: f64| GuardedTest { setup, flow: Estimate::stated(flow, 0.02 * flow) };
                let leaks = separate(
                    &[
                        test(Setup::EqualPressure { residual_pa: 0.4 }, d.number(guarded)),
                        test(Setup::Opened, d.number(unguarded) * nudge),
                    ],
                    50.0,
                    0.66,
                    0.02,
                );
                leaks.map(|l| l.party.value).map_err(|e| e.to_string())
            },
        )
    };
    let d = data.at("party");
    vec![
        of("unguarded", "guarded", "party", "party-leak.final"),
        of("t1_unguarded", "t1_guarded", "t1_party", "party-leak.first"),
        check(
            "party-leak.at-6-pa",
            "the same leak driven by the pottery's hoods, 6 Pa",
            "m³/h",
            data.number("party.at_6_pa"),
            0.5,
            move |nudge| Ok(PowerLaw::through(d.number("party"), 50.0, 0.66 * nudge).flow_m3_h(6.0)),
        ),
    ]
}

/// A test whose flows are marked raw: the result moves by the densities, in closed form.
fn density() -> Vec<Check> {
    let (n, inside, outside, barometer) = (0.65, 21.0, 4.0, 98_800.0);
    let rho = |t: f64| barometer / (287.055 * (t + 273.15));
    let reference_density: f64 = 101_325.0 / (287.055 * 293.15);
    let factor = rho(inside) / rho(outside) * numeric::pow(rho(outside) / reference_density, 1.0 - n);
    let q50 = 42.0 * numeric::pow(50.0, n);
    vec![Check {
        id: "pressure-test.raw-flows.q50".to_owned(),
        topic: "Pressure test",
        quantity:
            "leak at 50 Pa from a reading file marked raw, depressurised at 21 °C inside and 4 °C outside"
                .to_owned(),
        unit: "m³/h",
        reference: q50 * factor,
        tolerance: Tolerance::Relative(1e-9),
        kind: Kind::ClosedForm,
        source: "density ratios of ISO 9972:2015 (from memory) on readings without noise".to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(move |nudge| {
            let rows: String = (2..=7)
                .map(|i| {
                    let p = 10.0 * f64::from(i);
                    format!("depressurisation, {}, {}\n", -p, 42.0 * nudge * numeric::pow(p, n))
                })
                .collect();
            let text = format!(
                "flows, raw\ninside temperature, 21 °C\noutside temperature, 4 °C\nbarometer, 98800 Pa\n\
                 direction, pressure [Pa], flow [m³/h]\n{rows}"
            );
            let file = air::readings::parse(&text)
                .map_err(|p| p.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))?;
            let series = file.series.first().ok_or("no series")?;
            let fit = air::fan_test::Fit::Unweighted;
            let e = air::fan_test::evaluate(series, file.conditions, fit, air::fan_test::Standard::Iso9972)
                .map_err(|e| e.to_string())?;
            Ok(e.leak().flow_m3_h(50.0))
        }),
    }]
}

fn check(
    id: &str,
    quantity: &str,
    unit: &'static str,
    reference: f64,
    half_digit: f64,
    compute: impl Fn(f64) -> Result<f64, String> + Send + Sync + 'static,
) -> Check {
    Check {
        id: format!("commissioning.{id}"),
        topic: "Commissioning, demonstration",
        quantity: format!("{quantity}: {id}"),
        unit,
        reference,
        // Half of the last printed digit, and a rounding's room.
        tolerance: Tolerance::Absolute(half_digit * (1.0 + 1e-9)),
        kind: Kind::OwnConverged,
        source: "hand arithmetic on invented readings".to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(compute),
    }
}
