//! Straight lines through the readings of a pressure test in logarithms: the regressions alone, not the
//! test's law.

use crate::reference::Data;
use crate::{Check, Kind, Tolerance};
use numeric::regression::{Line, ordinary, organic_correlation, weighted, york};
use numeric::{beta, exp, ln};

const TEST: &str = include_str!("../../../../reference/air/pressure_tests/pt04_noisy_tight.toml");

/// The readings of one direction: ln Δp, ln q, and the stated uncertainties.
struct Points {
    x: Vec<f64>,
    y: Vec<f64>,
    u_x: Vec<f64>,
    u_y: Vec<f64>,
}

/// Reads a direction; the first flow is scaled.
fn points(data: &Data, direction: &str, nudge: f64) -> Points {
    let results = data.at(&format!("results.{direction}"));
    let pressure = results.numbers("dp_Pa");
    let mut flow = results.numbers("q_env_m3h");
    if let Some(first) = flow.first_mut() {
        *first *= nudge;
    }
    let u_pressure = data.number("meta.u_dp_Pa");
    Points {
        x: pressure.iter().map(|p| ln(*p)).collect(),
        y: flow.iter().map(|q| ln(*q)).collect(),
        u_x: pressure.iter().map(|p| u_pressure / p).collect(),
        u_y: vec![data.number("meta.u_q_rel"); flow.len()],
    }
}

/// A flow of the line at 50 Pa, at one end of its 95 % interval.
fn flow_at_50(line: &Line, sign: f64) -> Result<f64, String> {
    let x = ln(50.0);
    let half = line.confidence_half_width(x, 0.95).map_err(|e| e.to_string())?;
    Ok(exp(line.at(x) + sign * half))
}

type Fit = fn(&Points) -> Result<f64, String>;

fn text<T>(result: Result<T, numeric::NumericError>) -> Result<T, String> {
    result.map_err(|e| e.to_string())
}

fn square_weights(p: &Points) -> Result<Line, String> {
    let w: Vec<f64> = p.y.iter().map(|y| exp(2.0 * y)).collect();
    text(weighted(&p.x, &p.y, &w))
}

fn both_uncertain(p: &Points) -> Result<numeric::regression::YorkLine, String> {
    text(york(&p.x, &p.y, &p.u_x, &p.u_y))
}

pub(crate) fn checks() -> Vec<Check> {
    let least: [(&str, Fit); 7] = [
        ("n", |p| Ok(text(ordinary(&p.x, &p.y))?.slope)),
        ("lnC", |p| Ok(text(ordinary(&p.x, &p.y))?.intercept)),
        ("S_n", |p| Ok(text(ordinary(&p.x, &p.y))?.slope_variance.sqrt())),
        ("S_lnC", |p| Ok(text(ordinary(&p.x, &p.y))?.intercept_variance.sqrt())),
        ("r2", |p| Ok(text(ordinary(&p.x, &p.y))?.r2)),
        ("q50_low_m3h", |p| flow_at_50(&text(ordinary(&p.x, &p.y))?, -1.0)),
        ("q50_high_m3h", |p| flow_at_50(&text(ordinary(&p.x, &p.y))?, 1.0)),
    ];
    let others: [(&str, Fit); 9] = [
        ("I_n", |p| {
            let line = text(ordinary(&p.x, &p.y))?;
            let t = text(beta::student_t_two_sided(0.95, line.degrees_of_freedom()))?;
            Ok(t * line.slope_variance.sqrt())
        }),
        ("loc_n", |p| Ok(text(organic_correlation(&p.x, &p.y))?.1)),
        ("loc_C_env", |p| Ok(exp(text(organic_correlation(&p.x, &p.y))?.0))),
        ("wls_qsq_n", |p| Ok(square_weights(p)?.slope)),
        ("wls_qsq_C_env", |p| Ok(exp(square_weights(p)?.intercept))),
        ("york_n", |p| Ok(both_uncertain(p)?.line.slope)),
        ("york_S_n", |p| Ok(both_uncertain(p)?.line.slope_variance.sqrt())),
        ("york_S_lnC", |p| Ok(both_uncertain(p)?.line.intercept_variance.sqrt())),
        ("york_reduced_chi2", |p| Ok(both_uncertain(p)?.reduced_chi2)),
    ];
    let both = least.into_iter().chain(others);
    let down = both.map(|(key, fit)| one("depressurisation", key, fit));
    let up = others.into_iter().skip(1).map(|(key, fit)| one("pressurisation", key, fit));
    down.chain(up).collect()
}

/// The table's number; its flows are at standard density, ours at the test's own, so the ratio of
/// coefficients between.
fn reference(results: &Data, key: &str) -> f64 {
    let per = if key.starts_with("q50") { results.number("C_env") / results.number("C_L") } else { 1.0 };
    results.number(key) * per
}

fn one(direction: &'static str, key: &str, fit: Fit) -> Check {
    let data = Data::read(TEST);
    Check {
        id: format!("line.{direction}.{key}"),
        topic: "Line fits",
        quantity: format!("{key}, eleven noisy readings, {direction}"),
        unit: if key.starts_with("q50") { "m³/h" } else { "-" },
        reference: reference(&data.at(&format!("results.{direction}")), key),
        // The same arithmetic on the same rounded readings: only rounding differs.
        tolerance: Tolerance::Relative(1e-9),
        kind: Kind::IndependentLibrary,
        source: "numpy and scipy; errors in both directions by orthogonal distance regression".to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(move |nudge| fit(&points(&data, direction, nudge))),
    }
}
