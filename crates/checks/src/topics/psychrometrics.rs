//! Moist air against two libraries, each against its own column: one without the enhancement factor, as ours, and
//! one with it.

use crate::reference::{Data, Row, rows};
use crate::{Check, Compute, Kind, Tolerance};
use matter::moist_air;

const STATES: &str = include_str!("../../../../reference/moisture/psychrometric_states.csv");
const SATURATION: &str = include_str!("../../../../reference/moisture/saturation_pressure.csv");
const ABOUT: &str = include_str!("../../../../reference/moisture/psychrometrics.toml");

const WITHOUT_FACTOR: &str = "PsychroLib 2.5.0 (ideal gases, ASHRAE Fundamentals 2017)";
const WITH_FACTOR: &str = "CoolProp 8.0.0 (real gases, enhancement factor)";
const IAPWS: &str = "IAPWS-IF97 region 4 and IAPWS R14-08, by iapws 1.5.5";

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = saturation();
    checks.extend(states());
    checks
}

fn check(
    id: String,
    topic: &'static str,
    quantity: String,
    unit: &'static str,
    reference: f64,
    tolerance: Tolerance,
    source: &str,
    compute: impl Fn(f64) -> Result<f64, String> + Send + Sync + 'static,
) -> Check {
    Check {
        id,
        topic,
        quantity,
        unit,
        reference,
        tolerance,
        kind: Kind::IndependentLibrary,
        source: source.to_owned(),
        seen: true,
        known_gap: None,
        compute: Box::new(compute) as Compute,
    }
}

fn saturation() -> Vec<Check> {
    let about = Data::read(ABOUT);
    let apart = about.number("saturation.max_rel_difference_ashrae_vs_iapws_minus40_to_100C");
    let mut checks = Vec::new();
    for row in rows(SATURATION) {
        let t = row.number("T_C");
        let mut add = |column: &str, name: &str, source: &str, tolerance: f64| {
            let reference = row.number(column);
            if reference.is_nan() {
                return;
            }
            checks.push(check(
                format!("moist-air.saturation.{name}.{t}"),
                "Saturation pressure",
                format!("saturation pressure at {t} °C"),
                "Pa",
                reference,
                Tolerance::Relative(tolerance),
                source,
                move |nudge| Ok(moist_air::saturation_pressure(t * nudge)),
            ));
        };
        // Temperatures are chosen to cover both branches; 0 °C cannot be nudged by a factor.
        if [-40.0, -20.0, -10.0, -1.0, 1.0, 10.0, 20.0, 30.0, 50.0, 80.0].contains(&t) {
            add("ps_Pa_ashrae_2017_eq5_6_psychrolib", "ashrae", WITHOUT_FACTOR, 1e-6);
        }
        if [-30.0, -10.0].contains(&t) {
            add("psub_Pa_iapws_r14_08", "iapws", IAPWS, apart);
        }
        if [10.0, 25.0, 40.0].contains(&t) {
            add("ps_Pa_iapws_if97_region4", "iapws", IAPWS, apart);
        }
    }
    checks
}

/// What is compared of a state: column, id, words, unit, tolerance key, relative or not, and the engine's way.
struct Property {
    column: &'static str,
    words: &'static str,
    unit: &'static str,
    tolerance: &'static str,
    relative: bool,
    of: fn(f64, f64, f64) -> Option<f64>,
}

const PROPERTIES: [Property; 5] = [
    Property {
        column: "W_kg_kg",
        words: "humidity ratio",
        unit: "kg/kg",
        tolerance: "W_rel",
        relative: true,
        of: |t, rh, p| Some(moist_air::humidity_ratio_of(t, rh, p)),
    },
    Property {
        column: "Tdew_C",
        words: "dew point",
        unit: "°C",
        tolerance: "Tdew_K",
        relative: false,
        of: |t, rh, _| moist_air::dew_point(rh * moist_air::saturation_pressure(t)),
    },
    Property {
        column: "Twb_C",
        words: "wet bulb",
        unit: "°C",
        tolerance: "Twb_K",
        relative: false,
        of: |t, rh, p| moist_air::wet_bulb(t, moist_air::humidity_ratio_of(t, rh, p), p),
    },
    Property {
        column: "h_J_kg_da",
        words: "enthalpy",
        unit: "J/kg",
        tolerance: "h_J_kg",
        relative: false,
        of: |t, rh, p| Some(moist_air::enthalpy(t, moist_air::humidity_ratio_of(t, rh, p))),
    },
    Property {
        column: "v_m3_kg_da",
        words: "specific volume",
        unit: "m³/kg",
        tolerance: "v_rel",
        relative: true,
        of: |t, rh, p| Some(moist_air::specific_volume(t, moist_air::humidity_ratio_of(t, rh, p), p)),
    },
];

fn states() -> Vec<Check> {
    let about = Data::read(ABOUT);
    let all = rows(STATES);
    let find = |t: f64, rh: f64, p: f64| {
        all.iter().find(|r| r.number("T_C") == t && r.number("rh") == rh && r.number("p_Pa") == p).cloned()
    };
    let mut checks = Vec::new();
    // Deep frost, frost at altitude, an ordinary room, a summer day, a room at altitude.
    let own =
        [(-20.0, 0.6, 101_325.0), (-10.0, 0.8, 90_000.0), (20.0, 0.6, 101_325.0), (35.0, 0.6, 101_325.0)];
    for (t, rh, p) in own {
        if let Some(row) = find(t, rh, p) {
            checks.extend(PROPERTIES.iter().map(|x| state(&row, x, "psychrolib", WITHOUT_FACTOR, &about)));
        }
    }
    if let Some(row) = find(20.0, 0.6, 101_325.0) {
        checks.extend(PROPERTIES.iter().map(|x| state(&row, x, "coolprop", WITH_FACTOR, &about)));
    }
    checks
}

fn state(row: &Row, property: &'static Property, library: &str, source: &str, about: &Data) -> Check {
    let (t, rh, p) = (row.number("T_C"), row.number("rh"), row.number("p_Pa"));
    let allowed = about.number(&format!("states.tolerance_vs_{library}.{}", property.tolerance));
    let reference = row.number(&format!("{}_{library}", property.column));
    // The printed humidity ratio of cold air has four digits; half a unit of the last is the finest to ask for.
    let tolerance = if property.relative {
        Tolerance::Relative(if property.unit == "kg/kg" { allowed.max(0.5e-7 / reference) } else { allowed })
    } else {
        Tolerance::Absolute(allowed)
    };
    check(
        format!("moist-air.{library}.{t}c-{}rh-{p}pa.{}", rh * 100.0, property.words.replace(' ', "-")),
        "Moist air",
        format!("{} at {t} °C, {} % relative humidity, {p} Pa", property.words, rh * 100.0),
        property.unit,
        reference,
        tolerance,
        source,
        move |nudge| (property.of)(t * nudge, rh, p).ok_or_else(|| "no such state".to_owned()),
    )
}
