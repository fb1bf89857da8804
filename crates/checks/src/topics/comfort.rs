//! Comfort: predicted mean vote, standard effective temperature and adaptive bands.

use crate::reference::{Row, rows};
use crate::{Check, Compute, Kind, Tolerance};
use matter::comfort::{self, Category, Exposure};

const ANNEX_D: &str = include_str!("../../../../reference/building/comfort_iso7730_annex_d.csv");
const MORE: &str = include_str!("../../../../reference/building/comfort_pmv_25.csv");
const ASHRAE: &str = include_str!("../../../../reference/building/comfort_pmv_ashrae55.csv");
const SET: &str = include_str!("../../../../reference/building/comfort_set_ashrae55.csv");
const EN_ADAPTIVE: &str = include_str!("../../../../reference/building/comfort_en16798_adaptive.csv");
const ASHRAE_ADAPTIVE: &str = include_str!("../../../../reference/building/comfort_ashrae55_adaptive.csv");

const TOPIC: &str = "Comfort";

pub(crate) fn checks() -> Vec<Check> {
    let mut checks: Vec<Check> = Vec::new();
    // Printed to two decimals; the library and the standard's own equation lie within 0.02 of the print, except in
    // row 7, where the print contradicts the equation: the equation's value is taken for all rows.
    for row in rows(ANNEX_D) {
        checks.push(vote(
            &row,
            format!("comfort.iso7730.case-{}", row.text("case")),
            "air_speed_ms",
            "pmv_library",
            0.02,
            Kind::IndependentLibrary,
            "pythermalcomfort on the inputs of ISO 7730:2005 annex D",
            true,
        ));
    }
    for (i, row) in rows(MORE).into_iter().enumerate().filter(|(i, _)| i % 6 == 2) {
        let id = format!("comfort.pmv.point-{i}");
        let source = "pythermalcomfort, ISO 7730 model";
        checks.push(vote(
            &row,
            id,
            "air_speed_ms",
            "pmv_library",
            0.005,
            Kind::IndependentLibrary,
            source,
            true,
        ));
    }
    for (i, row) in rows(ASHRAE).into_iter().enumerate().take(4) {
        let id = format!("comfort.ashrae55.row-{i}");
        let source = "open validation data set (MIT) of ASHRAE 55-2017, one decimal";
        checks.push(vote(
            &row,
            id,
            "relative_air_speed_ms",
            "pmv_seen",
            0.1,
            Kind::IndependentLibrary,
            source,
            true,
        ));
    }
    checks.extend(adaptive());
    checks.extend(effective_temperatures());
    checks
}

/// Every third of the validation rows, among them cold air, strong radiation, fast air and heavy clothes.
fn effective_temperatures() -> Vec<Check> {
    rows(SET)
        .into_iter()
        .enumerate()
        .filter(|(i, _)| i % 3 == 0)
        .map(|(i, row)| {
            let n = |column: &str| row.number(column);
            let (air_c, radiant_c, air_speed_m_s, rh) =
                (n("air_temp_c"), n("mean_radiant_c"), n("air_speed_ms"), n("rh_pct") / 100.0);
            let (metabolic_met, clothing_clo) = (n("met"), n("clo"));
            Check {
                id: format!("comfort.set.row-{i}"),
                topic: "Standard effective temperature",
                quantity: format!(
                    "{air_c} °C air, {radiant_c} °C radiant, {air_speed_m_s} m/s, {} %, {metabolic_met} met, {clothing_clo} clo",
                    rh * 100.0
                ),
                unit: "°C",
                reference: n("set_seen_c"),
                // Printed to one decimal; the model's own minute step leaves as much again.
                tolerance: Tolerance::Absolute(0.1),
                kind: Kind::IndependentLibrary,
                source: "open validation data set (MIT) of ASHRAE 55-2017, one decimal".to_owned(),
                seen: true,
                known_gap: None,
                compute: Box::new(move |nudge| {
                    let exposure = Exposure {
                        air_c,
                        radiant_c: radiant_c * nudge,
                        air_speed_m_s,
                        vapour_pressure_pa: comfort::iso7730_vapour_pressure(air_c, rh),
                        metabolic_met,
                        clothing_clo,
                    };
                    comfort::standard_effective_temperature(&exposure).map_err(|e| e.to_string())
                }) as Compute,
            }
        })
        .collect()
}

fn vote(
    row: &Row,
    id: String,
    speed: &str,
    column: &str,
    tolerance: f64,
    kind: Kind,
    source: &str,
    seen: bool,
) -> Check {
    let n = |column: &str| row.number(column);
    let (air_c, radiant_c, air_speed_m_s, rh) =
        (n("air_temp_c"), n("mean_radiant_c"), n(speed), n("rh_pct") / 100.0);
    let (metabolic_met, clothing_clo) = (n("met"), n("clo"));
    Check {
        id,
        topic: TOPIC,
        quantity: format!(
            "mean vote at {air_c} °C air, {radiant_c} °C radiant, {air_speed_m_s} m/s, {metabolic_met} met, {clothing_clo} clo"
        ),
        unit: "-",
        reference: n(column),
        tolerance: Tolerance::Absolute(tolerance),
        kind,
        source: source.to_owned(),
        seen,
        known_gap: None,
        compute: Box::new(move |nudge| {
            let air_c = air_c * nudge;
            let vapour_pressure_pa = comfort::iso7730_vapour_pressure(air_c, rh);
            let exposure =
                Exposure { air_c, radiant_c, air_speed_m_s, vapour_pressure_pa, metabolic_met, clothing_clo };
            comfort::predicted_mean_vote(&exposure).map(|v| v.pmv).map_err(|e| e.to_string())
        }) as Compute,
    }
}

fn adaptive() -> Vec<Check> {
    let mut checks = Vec::new();
    let mut add = |id: &str, quantity: &str, reference: f64, source: &str, compute: Compute| {
        checks.push(Check {
            id: format!("comfort.adaptive.{id}"),
            topic: TOPIC,
            quantity: quantity.to_owned(),
            unit: "°C",
            reference,
            // The tables print what the straight line gives; only rounding of binary numbers is left.
            tolerance: Tolerance::Absolute(1e-9),
            kind: Kind::ClosedForm,
            source: source.to_owned(),
            seen: false,
            known_gap: None,
            compute,
        });
    };
    let en = "EN 16798-1:2019, annex B.2.2";
    let us = "ASHRAE 55-2017, clause 5.4.2.2";
    for row in rows(EN_ADAPTIVE).into_iter().filter(|r| r.number("running_mean_c") == 22.5) {
        let t = row.number("running_mean_c");
        add(
            "en16798.upper-2",
            "upper edge, category II, running mean 22.5 °C",
            row.number("cat2_up"),
            en,
            Box::new(move |nudge| {
                comfort::en16798_adaptive(t * nudge, Category::Two)
                    .map(|b| b.high_c)
                    .map_err(|e| e.to_string())
            }),
        );
    }
    for row in rows(ASHRAE_ADAPTIVE).into_iter().filter(|r| r.number("prevailing_mean_outdoor_c") == 28.0) {
        let t = row.number("prevailing_mean_outdoor_c");
        add(
            "ashrae55.lower-90",
            "lower edge for 90 %, prevailing mean 28 °C",
            row.number("low_90"),
            us,
            Box::new(move |nudge| {
                comfort::ashrae55_adaptive(t * nudge, true).map(|b| b.low_c).map_err(|e| e.to_string())
            }),
        );
        add(
            "ashrae55.upper-80",
            "upper edge for 80 %, prevailing mean 28 °C",
            row.number("up_80"),
            us,
            Box::new(move |nudge| {
                comfort::ashrae55_adaptive(t * nudge, false).map(|b| b.high_c).map_err(|e| e.to_string())
            }),
        );
    }
    checks
}
